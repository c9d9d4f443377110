"""Wishes that can't be kept, from the command line: told everywhere, or refused before writing."""

import json
import re
from dataclasses import replace

import pytest
from tests.motifs.tops import grid, sizes_of

from seamwalk.cli import run
from seamwalk.files.top_file import write_top


@pytest.fixture
def quilt(tmp_path):
    top = grid(2, 2, 4.0)
    write_top(tmp_path / "top.json", top, sizes_of(top), photo=None, rectification=None)
    return tmp_path


def plan(quilt, wish, *more):
    out = str(quilt / "plan")
    return run(["plan", str(quilt / "top.json"), "--out", out, "--motif", wish, *more])


def test_what_is_drawn_instead_is_told_in_terminal_guide_and_json(quilt, capsys):
    assert plan(quilt, "squares=arches 100 in") == 0
    terminal = " ".join(capsys.readouterr().out.split())
    guide = " ".join((quilt / "plan" / "guide.txt").read_text(encoding="utf-8").split())
    assert plan(quilt, "squares=arches 100 in", "--json") == 0
    (said,) = json.loads(capsys.readouterr().out)["warnings"]
    assert said.startswith("Arches rise by ")
    assert "instead of 100 in" in said
    assert f"! {said}" in terminal
    assert guide.startswith(f"KNOW THIS FIRST ! {said} ")


def test_a_plan_with_all_that_was_asked_for_says_nothing_of_it(quilt, capsys):
    assert plan(quilt, "squares=arches", "--json") == 0
    assert json.loads(capsys.readouterr().out)["warnings"] == []
    assert "NOT QUITE" not in (quilt / "plan" / "guide.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ("all=clamshells 50", "“clamshells spacing=50 in” leaves nothing to stitch in 4 patches"),
        ("all=fans 40 in", "“fans spacing=40 in” leaves nothing to stitch in 4 patches"),
        ("all=none", "Nothing would be stitched in the whole top."),
        ("all=spiral 0.001 in", "“0.001 in” is closer than can be sewn."),
        ("squares=crosshatch 0.01 in", "“0.01 in” is closer than can be sewn."),
        ("all=lines spacing=0.02", "“0.02” is closer than can be sewn."),
        ("all=waves 1000 in", "“1000 in” is larger than any top."),
    ],
)
def test_what_cannot_be_sewn_is_refused_and_nothing_written(quilt, wish, says, capsys):
    assert plan(quilt, wish) == 2
    assert says in " ".join(capsys.readouterr().err.split())
    assert not (quilt / "plan").exists()


@pytest.fixture
def metric(tmp_path):
    top = grid(2, 2, 8 / 2.54)
    file = tmp_path / "top.json"
    # A pattern in centimetres goes in steps of 5 mm (seamwalk.trade).
    sizes = replace(sizes_of(top), grain_in=0.5 / 2.54)
    write_top(file, top, sizes, photo=None, rectification=None, units="cm")
    return tmp_path


INCHES = re.compile(r"\d in\b|inch")


@pytest.mark.parametrize("wish", ["all=arches 25", "all=waves 40", "all=outline 12", "all=ditch"])
def test_a_metric_top_is_told_in_centimetres_alone(metric, wish, capsys):
    assert plan(metric, wish) == 0
    terminal = capsys.readouterr().out
    guide = (metric / "plan" / "guide.txt").read_text(encoding="utf-8")
    drawing = (metric / "plan" / "path.svg").read_text(encoding="utf-8").split("</desc>")[0]
    for text in (terminal, guide, drawing):
        # What a machine's foot asks for is given in both.
        left = " ".join(text.split()).replace("about 1 in (2.5 cm)", "")
        assert INCHES.findall(left) == []
        assert " cm" in left


def test_bare_numbers_are_in_the_units_of_the_top(metric, capsys):
    # The results are: other units for what is typed would be a trap.
    assert plan(metric, "all=lines 300 at 30°", "--throat", "20") == 0
    assert "“lines spacing=300 cm angle=30” is larger" in " ".join(capsys.readouterr().out.split())
    assert plan(metric, "all=lines 300 at 30°", "--units", "in") == 2
    assert "“300” is larger than any top." in capsys.readouterr().err
    settings = json.loads((metric / "plan" / "plan.json").read_text(encoding="utf-8"))["settings"]
    assert settings["machine"]["throat_in"] == pytest.approx(20 / 2.54)


def test_motifs_in_the_settings_are_in_the_settings_units(metric, quilt, capsys):
    # As all bare numbers of that file, whatever the top or the command line says.
    file = metric / "own.toml"
    file.write_text('units = "in"\nmotifs = ["squares=outline 3 1/2"]\n', encoding="utf-8")
    more = ["--settings", str(file), "--units", "cm"]
    out = str(metric / "plan")
    assert run(["plan", str(metric / "top.json"), "--out", out, *more]) == 0
    assert "“outline depth=3 1/2 in”" in " ".join(capsys.readouterr().out.split())


def test_advice_of_a_top_in_other_units_is_told_to_be_so(metric, capsys):
    document = json.loads((metric / "top.json").read_text(encoding="utf-8"))
    document["advice"] = ["Cut side strips by the height through the middle, 16.0 cm."]
    (metric / "top.json").write_text(json.dumps(document), encoding="utf-8")
    said = "What to do was written when the top was measured: it stays in centimetres."
    assert plan(metric, "all=ditch") == 0
    assert said not in " ".join(capsys.readouterr().out.split())
    assert plan(metric, "all=ditch", "--units", "in") == 0
    assert said in " ".join(capsys.readouterr().out.split())
