"""The register of motifs."""

import sys
from importlib.metadata import EntryPoint

import pytest
from tests.motifs.tops import grid, sizes_of

from seamwalk.errors import MotifError
from seamwalk.geometry.curve import Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.motifs import motif as register_of
from seamwalk.motifs.motif import StrokePlan, find, known, register
from seamwalk.motifs.plan import make_strokes


def one_diagonal(region, choice):
    shape = region.outlines[0]
    a, b = shape.sides[0].start, shape.sides[2].start
    curve = Curve.through([a, b])
    return StrokePlan((Stroke(StrokeId("diagonal"), curve, "motif", True, choice.motif),))


@pytest.fixture
def clean(monkeypatch):
    monkeypatch.setattr(register_of, "_added", {})


@pytest.mark.parametrize("name", known())
def test_every_known_motif_can_be_found_and_called(name):
    assert callable(find(name))


@pytest.mark.parametrize("name", ["Leaf Lines", "leaf_lines", " leaf-lines "])
def test_names_are_read_leniently(name):
    assert find(name) is find("leaf-lines")


def test_an_unknown_name_lists_the_known_ones_and_the_closest():
    with pytest.raises(MotifError) as caught:
        find("leaflines")
    assert "Did you mean leaf-lines?" in caught.value.advice
    for name in known():
        assert name in caught.value.advice


@pytest.mark.usefixtures("clean")
def test_a_registered_motif_is_used():
    register("diagonal", one_diagonal)
    register("diagonal", one_diagonal)
    top = grid(2, 2)
    plan = make_strokes(top, sizes_of(top), [MotifChoice((top.patches[0].id,), "diagonal")])
    assert [s.id for s in plan.strokes if s.required] == ["diagonal"]
    assert "diagonal" in known()
    with pytest.raises(ValueError, match="already"):
        register("diagonal", lambda r, c: StrokePlan(()))
    with pytest.raises(ValueError, match="already"):
        register("arches", one_diagonal)


@pytest.mark.usefixtures("clean")
def test_an_installed_package_adds_a_motif(monkeypatch):
    monkeypatch.setitem(sys.modules, "their_motifs", sys.modules[__name__])
    entry = EntryPoint("diagonal", "their_motifs:one_diagonal", "seamwalk.motifs")
    asked = []

    def entry_points(group):
        asked.append(group)
        return [entry]

    monkeypatch.setattr(register_of, "entry_points", entry_points)
    assert find("diagonal") is one_diagonal
    assert set(asked) == {"seamwalk.motifs"}
    assert "diagonal" in known()


def test_region_knows_its_shape_and_seams():
    from seamwalk.model.machine import MachineProfile
    from seamwalk.motifs.area import lay_out
    from seamwalk.motifs.motif import Region

    top = grid(3, 3)
    region = Region(lay_out(top), (top.patches[0].id, top.patches[1].id), MachineProfile())
    assert region.polygon.area == pytest.approx(2 * 9)
    assert len(region.seams) == 4  # one between them, one to the right, two below
