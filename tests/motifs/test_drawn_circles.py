"""Arcs drawn round chosen circles: exactly these, inside their patches, and alike after a move."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point
from tests.motifs.asserts import assert_stitchable
from tests.motifs.tops import DESIGNS, grid, moved, sewn, sizes_of

from seamwalk.geometry.curve import Arc
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.plan import choose, make_strokes

OWNED = (2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 9, 10, 11, 12, 14, 16, 20, 24)
WISHES = ["all=arches", "all=leaf-lines", "all=leaf-diagonals", "all=arches depth=3/4"]


def planned(top, *wishes, circles=OWNED, radius=1.0):
    sizes = sizes_of(top)
    machine = MachineProfile(smallest_radius_in=radius)
    return make_strokes(top, sizes, choose(top, sizes, wishes), machine, circles_in=circles)


def arcs_of(plan, marking):
    return [s for s in plan.strokes if s.marking == marking]


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(sorted(DESIGNS)), st.sampled_from(WISHES), st.integers(0, 10**6))
def test_every_arc_has_exactly_a_circle_s_radius(design, wish, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    plan = planned(top, wish)
    chosen = plan.circles.diameters_in
    assert set(chosen) <= set(OWNED)
    used = set()
    for stroke in arcs_of(plan, "circle"):
        (arc,) = stroke.curve.pieces
        assert isinstance(arc, Arc)
        diameter = min(chosen, key=lambda d: abs(d - 2 * arc.radius))
        assert 2 * arc.radius == pytest.approx(diameter, abs=1e-6)
        assert arc.radius >= 1.0 - 1e-9
        used.add(diameter)
    assert used == set(chosen)


@settings(max_examples=15, deadline=None)
@given(st.sampled_from(sorted(DESIGNS)), st.sampled_from(WISHES), st.integers(0, 10**6))
def test_a_plan_with_circles_can_be_stitched(design, wish, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    assert_stitchable(planned(top, wish).strokes, top)


@settings(max_examples=15, deadline=None)
@given(st.sampled_from(sorted(DESIGNS)), st.integers(0, 10**6), st.floats(0.2, 4.0))
def test_no_circle_passes_half_way(design, seed, depth):
    # An arch never reaches half way to the centre (common practice, no source).
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    edge = {q for s in top.seams if s.kind == "edge" for q in (s.left, s.right)}
    shapes = {p.id: p.polygon for p in top.patches}
    for stroke in arcs_of(planned(top, f"all=arches depth={depth:.3f}"), "circle"):
        (arc,) = stroke.curve.pieces
        if stroke.patch not in edge:
            middle = [(a + b) / 2 for a, b in zip(arc.start, arc.end, strict=True)]
            assert arc.rise < shapes[stroke.patch].centroid.distance(Point(middle))


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from(sorted(DESIGNS)),
    st.sampled_from(WISHES),
    st.floats(-3.1, 3.1),
    st.floats(-50, 50),
    st.booleans(),
)
def test_a_moved_turned_or_mirrored_top_takes_the_same_circles(design, wish, angle, d, mirror):
    top = DESIGNS[design]()
    c, s = math.cos(angle), math.sin(angle)

    def place(p):
        x, y = (-p[0], p[1]) if mirror else p
        return (c * x - s * y + d, s * x + c * y - d / 2)

    sizes = sizes_of(top)
    choices = choose(top, sizes, [wish])
    before = make_strokes(top, sizes, choices, circles_in=OWNED).circles
    after = make_strokes(moved(top, place), sizes, choices, circles_in=OWNED).circles
    assert after.diameters_in == before.diameters_in
    assert [k.arcs.count for k in after.classes] == [k.arcs.count for k in before.classes]
    assert after.deviation == pytest.approx(before.deviation, abs=1e-6)


@pytest.mark.parametrize("design", sorted(DESIGNS))
@pytest.mark.parametrize("seed", [1, 2])
def test_arches_along_the_edge_of_part_shapes(design, seed):
    # The cut of a half square runs through the whole's centre: half way to it is nothing.
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    assert_stitchable(planned(top, "all=arches edge=arch").strokes, top)


def test_a_class_without_a_circle_keeps_its_look_and_needs_a_template():
    top = grid(3, 3, 3.0)
    plain = {s.id: s.curve for s in planned(top, "all=arches", circles=None).strokes}
    plan = planned(top, "all=arches", circles=(2, 30))
    assert plan.circles.diameters_in == ()
    templates = arcs_of(plan, "template")
    assert len(templates) == sum(k.count for k in plan.classes) == 24
    for stroke in templates:
        assert stroke.curve == plain[stroke.id]


def test_without_circles_nothing_is_chosen():
    plan = planned(grid(3, 3, 3.0), "all=arches", circles=None)
    assert plan.circles is None
    assert plan.classes


@pytest.mark.parametrize("motif", ["arches", "leaf-lines", "leaf-diagonals"])
def test_classes_count_all_arcs(motif):
    plan = planned(grid(4, 4, 4.0), f"all={motif}")
    assert sum(k.count for k in plan.classes) == len(arcs_of(plan, "circle"))


def test_one_circle_for_two_motifs():
    # Over 3 in an arch rising 0.54 in wishes for a circle of 4.7 in, a leaf rising 0.30 in for one
    # of 7.8 in (D = c²/(4h) + h): one between them serves both.
    top = grid(4, 4, 3.0)
    wishes = [f"patch {p.id}=leaf-lines" for p in top.patches[:8]]
    plan = planned(top, "all=arches", *wishes, circles=(4.5, 6.1, 8.0))
    motifs = {c.arcs.motif for c in plan.circles.classes}
    assert motifs == {"arches", "leaf-lines"}
    assert plan.circles.diameters_in == (6.1,)


def test_the_foot_runs_through_junctions_of_equal_seams_without_a_turn():
    plan = planned(grid(5, 5, 4.0), "all=leaf-lines")
    lines = {}
    for s in arcs_of(plan, "circle"):
        lines.setdefault((s.line, s.pass_no), []).append(s.curve)
    assert lines
    for run in lines.values():
        for one, other in pairwise(run):
            turn = math.remainder(other.start_heading_rad - one.end_heading_rad, 2 * math.pi)
            assert abs(turn) < 1e-6


def test_between_seams_of_other_lengths_the_foot_steers_without_a_pivot():
    # Up to 30° are steered through (common practice, no source).
    plan = planned(DESIGNS["uneven"](), "all=leaf-lines")
    lines = {}
    for s in plan.strokes:
        if s.motif == "leaf-lines":
            lines.setdefault((s.line, s.pass_no), []).append(s.curve)
    for run in lines.values():
        for one, other in pairwise(run):
            turn = math.remainder(other.start_heading_rad - one.end_heading_rad, 2 * math.pi)
            assert abs(math.degrees(turn)) < 30


def test_a_stiff_foot_takes_larger_circles():
    top = grid(3, 3, 3.0)
    assert planned(top, "all=arches").circles.diameters_in == (4.5,)
    assert min(planned(top, "all=arches", radius=3.0).circles.diameters_in) >= 6
