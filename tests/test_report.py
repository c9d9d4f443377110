"""What the terminal says about sizes: short enough to read, complete for programs."""

import json
from dataclasses import replace

import pytest
from tests.sheets.sampler import flat_picture, full_sizes, grid_top, sampler_sizes

from seamwalk import report, report_json
from seamwalk.folder import Folder
from seamwalk.pipeline import MeasuredTop, plan_top

TOP = grid_top(6, 5)
FLAT = flat_picture(1, 1)


@pytest.fixture
def shown(capsys, monkeypatch, tmp_path):
    """Return the lines printed for a top, 80 columns wide."""

    def lines(sizes, units="in", top=TOP, flat=FLAT):
        monkeypatch.setenv("COLUMNS", "80")
        report.print_measured(MeasuredTop(top, sizes, units, flat=flat), Folder(tmp_path))
        return capsys.readouterr().out.splitlines()

    return lines


def test_the_whole_top_is_told_with_its_doubt(shown):
    text = "\n".join(shown(full_sizes(sampler_sizes(TOP, off=(2,), unsure=(3, 4)), chance=0.8)))
    for words in (
        "24 ± 1/8 in",
        "upper edge 24 ± 1/8",
        "right edge 20 ± 1/8",
        "90.6° ± 0.2°",
        "Not square",
        "leans: the lower edge lies about 1/2 in too far left (1.5° ± 0.3°)",
        "8 × 8 in? 90%, 2 across, 1 down",
        "4 × 4? 80%",
        "1. Cut both side borders 12 in long.",
    ):
        assert words in text
    row = next(line for line in text.splitlines() if "squares" in line)
    assert row.split()[-4:] == ["30", "27", "1", "2"]


def test_what_is_not_known_is_not_said(shown):
    text = "\n".join(shown(sampler_sizes(TOP)))
    for word in ("square?", "block", "What to do", "Check first", "%"):
        assert word not in text


def test_many_kinds_still_fit_a_screen(shown):
    sizes = sampler_sizes(TOP)
    many = tuple(replace(p, class_name=f"square {k}") for k, p in enumerate(sizes.patches))
    lines = shown(replace(sizes, patches=many))
    assert len([line for line in lines if line.startswith(("square", "other"))]) == 12
    assert any("other shapes" in line and " 19 " in line for line in lines)
    assert max(len(line.rstrip()) for line in lines[:-1]) <= 80


def test_brackets_in_advice_are_words_not_markup(shown):
    sizes = replace(sampler_sizes(TOP), advice=("Measure [bold] and [/] again.",))
    assert any("Measure [bold] and [/] again." in line for line in shown(sizes))


@pytest.mark.parametrize("units", ["in", "cm"])
def test_json_keeps_its_keys_and_gains_new_ones(tmp_path, units):
    sizes = full_sizes(sampler_sizes(TOP, off=(2,)), chance=0.8)
    found = report_json.measured_json(MeasuredTop(TOP, sizes, units), Folder(tmp_path))
    assert json.loads(json.dumps(found)) == found
    old = ["units", "patches", "width", "height", "verdicts", "warnings", "files"]
    assert list(found)[: len(old)] == old
    k = 2.54 if units == "cm" else 1.0
    assert found["edges"]["upper"]["value"] == pytest.approx(24 * k)
    assert found["block"]["finished"] == pytest.approx([8 * k, 8 * k])
    assert found["straightness"]["bows"][1]["value"] == pytest.approx(-0.4 * k)
    assert found["straightness"]["verdict"] == "not square"
    assert found["kinds"][0]["off"] == 1
    assert found["advice"] == list(sizes.advice)


def test_json_of_what_is_not_known_is_null(tmp_path):
    found = report_json.measured_json(MeasuredTop(TOP, sampler_sizes(TOP), "in"), Folder(tmp_path))
    assert (found["straightness"], found["block"], found["advice"]) == (None, None, [])


def test_terminal_and_json_tell_the_same_checks(shown, tmp_path):
    doubted = next(s.id for s in TOP.seams if s.kind == "seam")
    seams = (replace(s, confidence=0.42) if s.id == doubted else s for s in TOP.seams)
    top, sizes = replace(TOP, seams=tuple(seams)), sampler_sizes(TOP)
    (check,) = report_json.measured_json(MeasuredTop(top, sizes, "cm"), Folder(tmp_path))["checks"]
    seam = next(s for s in top.seams if s.id in check["seams"])
    assert check["number"] == 1
    assert check["on_picture"]
    assert (check["sure"], check["how_sure"]) == (0.42, "about 4 in 10 sure")
    middle = [2.54 * (a + b) / 2 for a, b in zip(*seam.points, strict=True)]
    assert check["at"] == pytest.approx(middle)
    assert sorted(check["patches"]) == sorted([seam.left, seam.right])
    text = " ".join(" ".join(shown(sizes, "cm", top)).split())
    assert f"{check['what']}, {check['how_sure']}: {check['where']}." in text
    assert "Check first" in text


def test_the_terminal_tells_the_worst_five_and_counts_the_rest(shown, tmp_path):
    # Nine seam lines and the four sides of the outer edge.
    top = replace(TOP, seams=tuple(replace(s, confidence=0.42) for s in TOP.seams))
    sizes = sampler_sizes(TOP)
    told = report_json.measured_json(MeasuredTop(top, sizes, "in"), Folder(tmp_path))["checks"]
    assert [c["number"] for c in told] == list(range(1, len(told) + 1))
    assert [c["on_picture"] for c in told] == [k < 9 for k in range(len(told))]
    assert len(told) == 13
    lines = shown(sizes, top=top)
    text = " ".join(" ".join(lines).split())
    places = [text.index(f"{c['what']}, {c['how_sure']}: {c['where']}.") for c in told[:5]]
    assert places == sorted(places)
    assert text.count("in 10 sure") == 5
    # 13 in all, of which nine stand on the picture: four more there, the others in --json.
    assert "And 8 more: the next 4 on measured.png, all in --json." in text
    assert max(len(line.rstrip()) for line in lines[:-1]) <= 80


def test_a_rest_that_the_picture_shows_is_not_looked_for_elsewhere(shown):
    # Seven doubtful seams: two more than the terminal has room for, all of them on the picture.
    inner = [s.id for s in TOP.seams if s.kind == "seam"]
    some = set(inner[:: len(inner) // 7][:7])
    seams = tuple(replace(s, confidence=0.42 if s.id in some else 0.99) for s in TOP.seams)
    text = " ".join(" ".join(shown(sampler_sizes(TOP), top=replace(TOP, seams=seams))).split())
    assert "And 2 more on measured.png." in text


def test_without_the_photo_no_picture_is_pointed_at(shown):
    # A top.json without its photo: write_measured draws no measured.png.
    top = replace(TOP, seams=tuple(replace(s, confidence=0.42) for s in TOP.seams))
    text = " ".join(" ".join(shown(sampler_sizes(TOP), top=top, flat=None)).split())
    assert "Check first, the worst first:" in text
    assert "And 8 more: --json lists all." in text
    assert "measured.png" not in text


def test_sizes_that_were_told_are_told_in_short(capsys, monkeypatch, tmp_path):
    # Known sizes, on measured.png: the outer ones alone; without the picture all of them again.
    monkeypatch.setenv("COLUMNS", "80")
    sizes = full_sizes(sampler_sizes(TOP))
    for flat, known, short in (
        (FLAT, True, True),
        (FLAT, False, False),
        (None, True, False),
    ):
        measured = MeasuredTop(TOP, sizes, "in", flat=flat)
        planned = plan_top(measured, ("all=ditch",), time_limit_s=1.0)
        report.print_planned(planned, Folder(tmp_path), sizes_known=known)
        text = capsys.readouterr().out
        assert "24 ± 1/8 in" in text
        assert ("squares" not in text.split("threads")[0]) is short
        assert ("what to do: measured.png" in text) is short


def test_what_to_mark_does_not_push_the_rest_out_of_sight():
    # 14 lines at most (report.MARKS_SHOWN); a step of two lines is told to its end or not at all.
    rows = [f"{k:>2}. template" if k % 2 else "    of a circle" for k in range(1, 41)]
    few = report._few(rows)
    assert few[:-1] == rows[: len(few) - 1]
    assert len(few) <= report.MARKS_SHOWN
    assert few[-1] == f"    and {40 - (len(few) - 1)} more lines in guide.txt"
    assert rows[len(few) - 1].endswith("template")
    assert report._few(rows[:14]) == rows[:14]


def test_json_has_no_checks_of_a_top_without_doubt(tmp_path):
    found = report_json.measured_json(MeasuredTop(TOP, sampler_sizes(TOP), "in"), Folder(tmp_path))
    assert found["checks"] == []


@pytest.mark.parametrize(("encoding", "first"), [("utf-8", "①"), ("cp1252", "(1)")])
def test_numbers_are_shown_as_the_terminal_can(encoding, first):
    class Terminal:
        def __init__(self, encoding):
            self.encoding = encoding

    assert report._circled(1, Terminal(encoding)) == first
    report._circled(9, Terminal(encoding)).encode(encoding)
