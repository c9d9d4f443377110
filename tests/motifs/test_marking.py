"""The marking guide: every required stroke once, lengths by hand."""

import math
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.motifs.tops import DESIGNS, bordered, grid, sizes_of

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.stitching import Marking, Stroke, StrokeId
from seamwalk.motifs.marking import ORDER, marking_guide
from seamwalk.motifs.plan import choose, make_strokes

CIRCLES = (3, 4, 5, 6, 8, 10, 12, 16)


def guide_of(top, *wishes, circles=CIRCLES):
    sizes = sizes_of(top)
    plan = make_strokes(top, sizes, choose(top, sizes, wishes), circles_in=circles)
    return marking_guide(plan.strokes), plan


def arc(name, rise, chord=3.0, marking="circle", required=True):
    curve = Curve((Arc.by_rise((0.0, 0.0), (chord, 0.0), rise),))
    return Stroke(StrokeId(name), curve, "motif", required, "arches", marking=marking)


def test_every_way_of_marking_has_its_place():
    assert set(ORDER) == set(get_args(Marking))


@settings(max_examples=12, deadline=None)
@given(st.sampled_from(sorted(DESIGNS)), st.sampled_from(["arches", "leaf-lines", "outline"]))
def test_all_that_is_required_is_there_once(design, motif):
    guide, plan = guide_of(DESIGNS[design](), f"all={motif}")
    required = [s for s in plan.strokes if s.required]
    assert math.fsum(s.length_in for s in guide.steps) == pytest.approx(
        math.fsum(s.curve.length for s in required)
    )
    chosen = {s.diameter_in for s in guide.steps if s.tool == "circle"}
    assert len(chosen) == len(plan.circles.diameters_in)


def test_arches_of_a_grid_by_hand():
    # 3 × 3 squares of 3 in have 24 sides that are not on the edge of the top.  D 5 over 3 in:
    # h = (5 − 4)/2 = 0.5 (3-4-5 triangle), arc = D · asin(c/D) = 5 · asin(0.6) = 3.2175.
    guide, _ = guide_of(grid(3, 3, 3.0), "all=arches", circles=(5,))
    (step,) = guide.to_mark
    assert (step.tool, step.motif, step.count) == ("circle", "arches", 24)
    assert step.diameter_in == pytest.approx(5)
    assert step.length_in == pytest.approx(24 * 5 * math.asin(0.6))
    assert guide.marked_in == pytest.approx(step.length_in)
    assert step.patches == tuple(range(9))


def test_rulers_first_then_circles_from_large_to_small_then_no_mark():
    top = bordered(4, 4, 3.0)
    guide, _ = guide_of(
        top, "square=arches", "border=lines", "patch 0=leaf-lines", "patch 1=ditch"
    )
    tools = [s.tool for s in guide.steps]
    assert tools == sorted(tools, key=ORDER.index)
    assert tools[0] == "ruler"
    assert tools[-1] == "none"
    sizes = [s.diameter_in for s in guide.steps if s.tool == "circle"]
    assert len(sizes) > 1
    assert sizes == sorted(sizes, reverse=True)


def test_a_line_over_several_patches_is_ruled_once():
    # Crosshatch over 4 × 4 squares of 3 in, 2 in apart: by geometry at most
    # 2 · (12 · sqrt 2 / 2 + 1) lines, whatever the number of patches they cross.
    guide, plan = guide_of(grid(4, 4, 3.0), "all=crosshatch")
    (step,) = guide.to_mark
    assert step.count <= 2 * (12 * math.sqrt(2) / 2 + 1)
    assert step.count < sum(s.marking == "ruler" for s in plan.strokes)


def test_a_scale_over_several_patches_is_drawn_once():
    # The same scales lie over one piece of cloth and over sixteen squares of it.
    whole, _ = guide_of(grid(1, 1, 12.0), "all=clamshells", circles=(4,))
    pieced, plan = guide_of(grid(4, 4, 3.0), "all=clamshells", circles=(4,))
    (one,), (many,) = whole.to_mark, pieced.to_mark
    assert many.count == one.count
    assert many.count < sum(s.marking == "circle" for s in plan.strokes)


def test_circles_told_apart_by_a_sixty_fourth():
    same = [arc("a", 0.5), arc("b", 0.5 + 1e-6)]
    assert len(marking_guide(same).steps) == 1
    # Over 3 in, rises of 0.5 and 0.45 are circles of 5 and 5.45 in.
    assert [
        round(s.diameter_in, 2) for s in marking_guide([arc("a", 0.5), arc("b", 0.45)]).steps
    ] == [
        5.45,
        5.0,
    ]


def test_a_curve_of_two_circles_needs_a_template():
    one = Arc.by_rise((0.0, 0.0), (3.0, 0.0), 0.5)
    other = Arc.by_rise((3.0, 0.0), (8.0, 0.0), 0.5)
    stroke = Stroke(StrokeId("s"), Curve((one, other)), "motif", True, "waves", marking="circle")
    (step,) = marking_guide([stroke]).steps
    assert (step.tool, step.diameter_in) == ("template", None)


def test_what_is_only_for_travel_needs_no_mark():
    assert marking_guide([arc("a", 0.5, required=False)]).steps == ()
