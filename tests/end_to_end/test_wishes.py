"""Wishes that can't be kept, from the command line: told everywhere, or refused before writing."""

import json

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
