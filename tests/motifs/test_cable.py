"""Cable: whole arcs along each side, smooth strands, corners turned inside the border."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.motifs.asserts import assert_stitchable, line
from tests.motifs.framed import framed, region_of, run
from tests.motifs.tops import box, grid, moved, sewn, sizes_of, top_from

from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.borders import borders
from seamwalk.motifs.cable import cable, three_strand_cable
from seamwalk.motifs.plan import make_strokes
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route

CORNERS = ["mitred", "butted", "log cabin", "corner square"]
MOTIFS = {2: cable, 3: three_strand_cable}
STRIP = top_from([box(0, 0, 30.5, 4.5)])  # finished 30 × 4, its middle line at y = 2.25


def bends(curve):
    return [
        abs(math.remainder(b.heading_rad(0) - a.heading_rad(1), math.tau))
        for a, b in pairwise(curve.pieces)
    ]


def test_arcs_of_chord_6_and_rise_1_have_radius_5():
    # c 6, h 1, R 5: R = c²/(8h) + h/2, Machinery's Handbook, 31st ed., p. 50.
    plan = run(cable, STRIP, depth_in=1.0, spacing_in=6.0)
    assert len(plan.strokes) == 2
    for s in plan.strokes:
        assert len(s.curve.pieces) == 5  # five whole arcs in 30 in
        assert [p.radius for p in s.curve] == pytest.approx([5.0] * 5)
        assert [p.rise for p in s.curve] == pytest.approx([1.0] * 5)
        assert [p.start[0] for p in s.curve] == pytest.approx([0.25, 6.25, 12.25, 18.25, 24.25])
        assert {round(p.start[1], 9) for p in s.curve} == {2.25}
    one, two = (line(s.curve) for s in plan.strokes)
    meet = sorted(p.x for p in shapely.get_parts(one.intersection(two)))
    assert meet == pytest.approx([0.25, 6.25, 12.25, 18.25, 24.25, 30.25], abs=1e-6)


def test_three_strands_are_a_third_of_two_arcs_apart():
    plan = run(three_strand_cable, STRIP, depth_in=1.0, spacing_in=6.0)
    # Where each strand crosses the middle line, modulo 6 in: 0, 4 and 8 − 6 = 2.
    middle = shapely.LineString([(0.3, 2.25), (30.2, 2.25)])
    found = set()
    for s in plan.strokes:
        xs = [p.x for p in shapely.get_parts(line(s.curve).intersection(middle))]
        (phase,) = {round((x - 0.25) % 6, 3) % 6 for x in xs}
        found.add(phase)
    assert found == {0.0, 2.0, 4.0}


@pytest.mark.parametrize("strands", [2, 3])
@pytest.mark.parametrize("corner", CORNERS)
def test_strands_run_smoothly_round_the_border_and_stay_inside(corner, strands):
    top, (patches,) = framed(33, 42, [(4, corner)])
    plan = run(MOTIFS[strands], top, patches)
    region = region_of(top, patches)
    (border,) = borders(region)
    outer = shapely.LinearRing([s.outer[0] for s in border.sides])
    inner = shapely.LinearRing([s.inner[0] for s in border.sides])
    assert not plan.left_out
    for s in plan.strokes:
        assert max(bends(s.curve), default=0.0) < 1e-6
        assert s.curve.smallest_radius >= 1 - 1e-9
        # Half of 4 in less the rise of 4/3 in and what fitting whole arcs costs, and 1/8 in in
        # the corners.
        assert line(s.curve).distance(outer) > 1 / 8 - 1e-3
        assert line(s.curve).distance(inner) > 1 / 8 - 1e-3
    # Strands go on across seams: every end but the strands' own beginnings meets another smoothly.
    ends: dict[tuple[float, float], list[float]] = {}
    for s in plan.strokes:
        for q, h in (
            (s.curve.start, s.curve.start_heading_rad),
            (s.curve.end, s.curve.end_heading_rad + math.pi),
        ):
            ends.setdefault(tuple(np.round(q, 5) + 0.0), []).append(h)
    for ways in ends.values():
        assert len(ways) % 2 == 0
        for h in ways:
            assert min(abs(math.remainder(g - h - math.pi, math.tau)) for g in ways) < 1e-5


@pytest.mark.parametrize("strands", [2, 3])
@given(st.integers(34, 60), st.integers(34, 60), st.sampled_from([2.5, 3.0, 4.0, 5.5]))
@settings(max_examples=15, deadline=None)
def test_every_side_has_whole_arcs(strands, w, h, width):
    top, (patches,) = framed(w, h, [(width, "mitred")])
    plan = run(MOTIFS[strands], top, patches)
    assert not plan.left_out
    # On a side all arcs have one circle; those that turn its corners lie nearer to its ends.
    for y, low in ((0.25, True), (h + 0.25 - width, False)):
        level = [
            p.radius
            for s in plan.strokes
            for p in s.curve
            if all(y <= q[1] <= y + width and 9 < q[0] < w - 8.5 for q in (p.start, p.end))
        ]
        assert level or not low
        assert np.ptp(level) < 1e-6
    # All in all strands cross the middle line of the upper side at equal distances.
    middle = shapely.LineString([(width + 1, 0.25 + width / 2), (w - width - 1, 0.25 + width / 2)])
    xs = sorted(
        p.x
        for s in plan.strokes
        for p in shapely.get_parts(line(s.curve).intersection(middle))
        if isinstance(p, shapely.Point)
    )
    steps = np.diff(xs)
    steps = steps[steps > 1e-3]
    assert np.ptp(steps) < 2e-3


def test_the_outer_strand_of_a_corner_is_drawn_round_the_same_circle():
    # Sides as long as whole arcs and two corners: then one circle marks all outer arcs.  A strand
    # that leaves at 65° where the border turns by 90° turns by 90° + 2 · 65° (by hand).
    rise, theta = 1.0, math.radians(65)
    radius = rise / (1 - math.cos(theta))
    side = 8 * 2 * radius * math.sin(theta) + 2 * radius * (math.sin(theta) + math.cos(theta))
    top, (patches,) = framed(side + 4, side + 4, [(4, "mitred")])
    machine = MachineProfile()
    chord = 2 * radius * math.sin(theta)
    plan = run(cable, top, patches, machine, depth_in=rise, spacing_in=chord)
    arcs = [p for s in plan.strokes for p in s.curve]
    assert {round(p.radius, 6) for p in arcs if abs(p.sweep_rad) > 1} == {round(radius, 6)}
    turning = sum(abs(p.sweep_rad) for p in arcs if abs(p.radius - radius) < 1e-6)
    assert math.degrees(turning) == pytest.approx(4 * 8 * 2 * 130 + 4 * 220, abs=1e-3)


def test_open_ends_lie_in_the_middle_of_the_end_seam():
    top, (patches,) = framed(30, 40, [(4, "corner square")])
    plan = run(cable, top, patches[:1])  # the upper side, from x = 4.25 to 26.25
    ends = {tuple(np.round(q, 6)) for s in plan.strokes for q in (s.curve.start, s.curve.end)}
    assert ends == {(4.25, 2.25), (26.25, 2.25)}


@pytest.mark.parametrize("strands", [2, 3])
@pytest.mark.parametrize("mirror", [False, True])
def test_turning_and_mirroring_the_top_does_the_same_to_its_cable(strands, mirror):
    top, (patches,) = framed(28, 33, [(3.5, "mitred")])
    cos, sin = math.cos(0.6), math.sin(0.6)

    def place(p):
        x = -p[0] if mirror else p[0]
        return (cos * x - sin * p[1] + 3.0, sin * x + cos * p[1] - 7.0)

    before = run(MOTIFS[strands], top, patches).strokes
    after = run(MOTIFS[strands], moved(top, place), patches).strokes
    found = shapely.union_all([line(s.curve) for s in after])
    spots = [
        place(s.curve.part(0, s.curve.length * t).end) for s in before for t in (0.1, 0.37, 0.81)
    ]
    assert max(shapely.distance(found, shapely.points(spots))) < 2e-4
    total = sum(s.curve.length for s in before)
    assert sum(s.curve.length for s in after) == pytest.approx(total)


def test_twice_the_size_doubles_the_cable():
    small, (patches,) = framed(20, 26, [(3, "mitred")])
    large, _ = framed(40, 52, [(6, "mitred")])
    wide = MachineProfile(smallest_radius_in=0.5)
    one = run(cable, small, patches, machine=wide, depth_in=0.9).strokes
    two = run(cable, large, patches, machine=MachineProfile(), depth_in=1.8).strokes
    assert len(one) == len(two)
    total = sum(s.curve.length for s in one)
    assert sum(s.curve.length for s in two) == pytest.approx(2 * total)


def test_what_the_foot_cannot_follow_is_flattened_and_said():
    top, (patches,) = framed(30, 36, [(4, "mitred")])
    machine = MachineProfile(smallest_radius_in=2.5)
    plan = run(cable, top, patches, machine=machine)
    assert min(s.curve.smallest_radius for s in plan.strokes) >= 2.5 - 1e-6
    assert "flatter" in plan.warnings[0]
    assert run(cable, top, patches).warnings == ()


def test_narrow_strips_and_squares_are_left_out():
    assert run(cable, top_from([box(0, 0, 20.5, 1.4)])).left_out == (0,)
    top = grid(3, 3)
    assert run(cable, top).left_out == tuple(p.id for p in top.patches)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("corner", CORNERS)
def test_it_can_be_stitched_on_a_top_with_piecing_errors(corner, seed):
    top, (patches,) = framed(24, 30, [(3, corner)])
    top = sewn(top, np.random.default_rng(seed))
    for name in ("cable", "three-strand-cable"):
        plan = make_strokes(top, sizes_of(top), [MotifChoice(tuple(patches), name)])
        assert_stitchable(plan.strokes, top)
        assert not any("does not suit" in w or "do not suit" in w for w in plan.warnings)


@pytest.mark.parametrize("name", ["cable", "three-strand-cable"])
def test_one_thread_goes_round_without_a_buried_end(name):
    top, (patches,) = framed(30, 36, [(4, "mitred")])
    plan = make_strokes(top, sizes_of(top), [MotifChoice(tuple(patches), name)])
    route = plan_route(network(plan.strokes), MachineProfile())
    assert route.totals.threads == 1
    assert route.totals.buried_ends == 0
