"""Files that lie together belong together: what an earlier run drew goes if it would mislead."""

import json
from dataclasses import replace

import pytest
from tests.motifs.tops import grid, sizes_of

from seamwalk.folder import Folder
from seamwalk.model.settings import Batting
from seamwalk.pipeline import MeasuredTop, plan_top
from seamwalk.results import LOOKS, write_measured, write_planned


def measured(columns: int) -> MeasuredTop:
    top = grid(columns, 2, 4.0)
    return MeasuredTop(top, sizes_of(top), "in")


@pytest.mark.parametrize("again", [True, False])
def test_pictures_of_another_top_go_and_those_of_the_same_stay(tmp_path, again):
    first = measured(2)
    write_measured(Folder(tmp_path), first)
    old = ("measured.png", *LOOKS)
    for name in old:
        (tmp_path / name).write_text("drawn with the photo")
    # Planned from its top.json, whose photo lies elsewhere: measured.png is not drawn again.
    write_measured(Folder(tmp_path), first if again else measured(3))
    assert [(tmp_path / n).exists() for n in old] == [again] * len(old)
    assert (tmp_path / "top-1.json").exists() is not again


def test_a_plan_without_arcs_or_density_leaves_no_picture_of_them(tmp_path):
    top = measured(2)
    write_measured(Folder(tmp_path), top)
    arcs = plan_top(top, ("all=arches",), circles_in=(4.0, 6.0, 8.0), batting=Batting())
    write_planned(Folder(tmp_path), arcs)
    pictures = ("circles.png", "density.png")
    assert all((tmp_path / n).exists() for n in pictures)
    straight = replace(plan_top(top, ("all=lines",)), gaps=None, density=None)
    write_planned(Folder(tmp_path), straight)
    assert not any((tmp_path / n).exists() for n in pictures)
    assert json.loads((tmp_path / "plan.json").read_text())["settings"]["motifs"] == ["all=lines"]
