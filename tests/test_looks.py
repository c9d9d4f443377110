"""Three looks of a top, planned for real and drawn side by side; choosing one gives it again."""

import json
import shlex

import numpy as np
import pytest
from PIL import Image
from tests.motifs.tops import bordered, sizes_of

from seamwalk.cli import run
from seamwalk.folder import Folder
from seamwalk.looks import named, propose
from seamwalk.model.settings import Batting, OwnSettings
from seamwalk.motifs.area import lay_out
from seamwalk.pipeline import MeasuredTop, plan_top
from seamwalk.results import write_measured
from seamwalk.routing.audit import audit
from seamwalk.sheets.looks_page import looks_page
from seamwalk.sheets.looks_text import Typed, facts, looks_text


@pytest.fixture(scope="module")
def measured():
    top = bordered(4, 3, 3.0, 3.0)
    return MeasuredTop(top, sizes_of(top), "in")


@pytest.fixture(scope="module")
def looks(measured):
    return propose(measured, OwnSettings())


def test_they_are_what_they_are_called(looks):
    assert [x.name for x in looks] == ["quickest", "in between", "most work"]
    assert looks[0].minutes < looks[1].minutes < looks[2].minutes
    assert looks[0].in_per_sqft == min(x.in_per_sqft for x in looks)
    assert len({x.wishes for x in looks}) == 3


def test_every_route_passes_the_audit(looks):
    for look in looks:
        assert audit(look.route, OwnSettings().machine).valid


def test_the_quickest_keeps_what_an_unknown_batting_needs(looks):
    # 2 in where nothing is known (trade.BATTING_GAP_IN), and 1/16 in for the hand.
    assert looks[0].widest.across_in <= 2 + 1 / 16
    assert looks[0].kept


def test_all_keep_the_gap_of_a_batting_that_is_known(measured):
    batting = Batting("cotton", package_in=2.5)
    for look in propose(measured, OwnSettings(batting=batting)):
        assert look.kept
        assert look.widest.across_in <= 2.5 + 1 / 16


def test_choosing_one_gives_the_same_path_again(measured, looks):
    own = OwnSettings()
    for look in looks:
        again = plan_top(measured, look.wishes, own.machine, circles_in=own.circles_in)
        assert again.route == look.route
        assert again.guide == look.guide


def test_density_is_path_over_cloth(measured, looks):
    cloth = lay_out(measured.top).binding.area
    for look in looks:
        # What runs in the margin lies outside the cloth that counts: a few inches.
        mine = look.in_per_sqft / 144 * cloth
        assert mine == pytest.approx(look.route.totals.stitched_in, rel=0.1)
        assert mine <= look.route.totals.stitched_in * 1.001


def test_names_follow_what_is_planned(looks):
    assert named(looks[::-1]) == looks


def test_the_page_holds_all_three_and_fits_a_sheet(measured, looks):
    page = looks_page(measured.top, looks, Batting())
    assert (page.width_in, page.height_in) == (11.0, 8.5)
    assert looks_page(measured.top, looks, Batting(), paper="a4").width_in == 11.69
    texts = [label.text for label in page.labels]
    for look in looks:
        for fact in facts(look, Batting(), "in"):
            assert fact.text in texts
        for wish in look.wishes:
            assert f"--motif “{wish}”" in texts
    for item in page.items:
        if hasattr(item, "curve"):
            x0, y0, x1, y1 = item.curve.bounds()
            assert min(x0, y0) >= 0
            assert x1 <= 11.0
            assert y1 <= 8.5
    assert {line.layer for line in page.strokes} >= {"motif"}


def test_seams_are_dashed_so_that_no_colour_is_needed(measured, looks):
    page = looks_page(measured.top, looks, Batting())
    for line in page.strokes:
        if line.layer in ("motif", "ditch"):
            assert bool(line.pen.dash_in) == (line.layer == "ditch")


def test_words_say_whether_the_batting_stands_the_gap(looks):
    said = {f.name: f.text for f in facts(looks[0], Batting(), "in")}
    assert said["widest gap"].endswith("holds")
    wide = next((x for x in looks if not x.kept), None)
    if wide is not None:
        assert facts(wide, Batting(), "in")[-1].text.endswith("check the bag")
    assert "cm" in facts(looks[0], Batting(), "cm")[-1].text


def test_the_command_writes_pictures_and_what_to_type(measured, looks, tmp_path, capsys):
    folder = Folder(tmp_path / "my quilt")
    write_measured(folder, measured)
    source = str(folder.path)
    assert run(["looks", source, "--out", source, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert [x["motifs"] for x in document["looks"]] == [list(x.wishes) for x in looks]
    picture = np.asarray(Image.open(folder.path / "looks.png"))
    assert picture.shape == (1700, 2200, 3)
    thirds = np.array_split(picture[300:900], 3, axis=1)
    assert len({t.tobytes() for t in thirds}) == 3
    assert (folder.path / "looks.pdf").read_bytes().startswith(b"%PDF")
    typed = document["looks"][1]["command"]
    assert typed in (folder.path / "looks.txt").read_text(encoding="utf-8")
    assert run([*shlex.split(typed)[1:], "--json"]) == 0
    planned = json.loads(capsys.readouterr().out)
    assert sum(planned["totals"]["minutes"].values()) == pytest.approx(looks[1].minutes)


def test_a_folder_without_a_top_is_told(tmp_path, capsys):
    assert run(["looks", str(tmp_path), "--out", str(tmp_path)]) == 2
    assert "There is no top.json" in capsys.readouterr().err


def test_text_has_every_look_and_its_command(looks):
    text = looks_text(looks, Batting(), "in", Typed("q/top.json", units="in"))
    assert text.count("seamwalk plan q/top.json --out q --units in --motif") == 3
