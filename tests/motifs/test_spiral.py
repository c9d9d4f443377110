"""Spirals: evenly spaced turns off a circle, over all of the region and nowhere else."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from tests.motifs.asserts import (
    assert_in_patch,
    assert_inside,
    assert_stitchable,
    assert_whole,
    line,
)
from tests.motifs.tops import DESIGNS, bordered, grid, moved, on_point, sewn, sizes_of, top_from

from seamwalk.geometry.biarc import fitted
from seamwalk.geometry.curve import Arc
from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.motif import Region
from seamwalk.motifs.plan import choose, make_strokes
from seamwalk.motifs.spiral import Spiral, SpiralSettings, spiral
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.tops import make_top

SHAPE = Spiral((3.0, -2.0), 1.25, 1.5, 0.4)


def run(top, patches=None, machine=None, **measures):
    chosen = tuple(p.id for p in top.patches) if patches is None else tuple(patches)
    region = Region(lay_out(top), chosen, machine or MachineProfile())
    return spiral(region, MotifChoice(chosen, "spiral", **measures))


def distances(curve, centre, tolerance=1e-3):
    return np.hypot(*(curve.sampled(tolerance) - np.array(centre)).T)


def test_turns_are_as_far_apart_as_asked():
    # Archimedes: along any ray from the middle, one turn after another by the same distance.
    turn = np.linspace(math.pi, 40, 200)
    r, _ = SHAPE.radius_at(turn)
    outer, _ = SHAPE.radius_at(turn + 2 * math.pi)
    assert outer - r == pytest.approx([1.5] * 200)
    assert [SHAPE.turn_at(x) for x in r] == pytest.approx(turn)


def test_it_leaves_its_circle_smoothly():
    curve = fitted(SHAPE.trace, [0.0, math.pi, 2 * math.pi])
    circle = SHAPE.circle
    assert circle.start == circle.end == pytest.approx(curve.start, abs=1e-12)
    assert circle.length == pytest.approx(2 * math.pi * 1.25)
    assert math.remainder(
        circle.end_heading_rad - curve.start_heading_rad, 2 * math.pi
    ) == pytest.approx(0, abs=1e-9)
    for a, b in pairwise(curve.pieces):
        assert math.remainder(b.heading_rad(0) - a.heading_rad(1), 2 * math.pi) == pytest.approx(
            0, abs=1e-6
        )
    # Once round it is three quarters of a turn's distance off the circle, by its formula.
    assert math.dist(curve.end, SHAPE.centre) == pytest.approx(1.25 + 0.75 * 1.5)


@pytest.mark.parametrize("spacing", [0.5, 2.0, 6.0])
@pytest.mark.parametrize("radius", [0.5, 1.25, 4.0])
def test_nowhere_is_it_tighter_than_its_circle(radius, spacing):
    shape = Spiral((0.0, 0.0), radius, spacing, 0.0)
    turn = np.linspace(0, 30, 3001)
    r, first = shape.radius_at(turn)
    b = spacing / (2 * math.pi)
    second = np.where(turn < math.pi, b * np.sin(turn) / 2, 0)
    # Curvature in polar coordinates: any textbook of calculus.
    bend = (r * r + 2 * first**2 - r * second) / (r * r + first**2) ** 1.5
    assert bend.max() == pytest.approx(1 / radius, rel=0.01)
    curve = fitted(shape.trace, [0.0, math.pi, 30.0])
    assert curve.smallest_radius >= 0.97 * radius


def test_arcs_are_within_tolerance_of_the_spiral_and_as_long():
    curve = fitted(SHAPE.trace, [0.0, math.pi, 60.0])
    assert all(isinstance(p, Arc) for p in curve)
    true, _ = SHAPE.trace(np.linspace(0, 60, 6001))
    drawn = shapely.LineString(curve.sampled(1e-4))
    assert shapely.distance(drawn, shapely.points(true[::10])).max() < 0.005 + 2e-4
    # Length by quadrature of √(r² + r′²), scipy.
    length, _ = quad(
        lambda t: math.hypot(*(float(v[0]) for v in SHAPE.radius_at(np.array([t])))),
        0, 60, points=[math.pi], limit=200,
    )  # fmt: skip
    assert curve.length == pytest.approx(length, rel=1e-4)


@pytest.mark.parametrize("spacing", [1.0, 2.5])
def test_the_whole_region_is_covered(spacing):
    top = grid(5, 4, 4.0)
    plan = run(top, spacing_in=spacing)
    inside = lay_out(top).binding
    drawn = shapely.union_all([line(s.curve) for s in plan.strokes])
    spots = np.random.default_rng(1).uniform(0, 1, (400, 2)) * [20, 16] + 0.25
    far = shapely.distance(drawn, shapely.points(spots))
    # Between two turns nothing is further off than half their distance, nor than the middle from
    # the circle; at the edge the next turn may lie outside.
    deep = shapely.distance(inside.exterior, shapely.points(spots)) > spacing
    assert far[deep].max() < max(1.25, spacing / 2) + 0.01
    assert far.max() < spacing + 0.01
    centre = inside.centroid
    reach = max(math.dist(q, (centre.x, centre.y)) for q in inside.exterior.coords)
    outermost = max(distances(s.curve, (centre.x, centre.y)).max() for s in plan.strokes)
    assert outermost > reach - spacing


def test_it_starts_in_the_middle_and_follows_itself():
    top = grid(5, 4, 4.0)
    plan = run(top, angle_deg=20.0)  # at 0° it would start in a seam
    assert len({s.line for s in plan.strokes}) == 1
    assert {s.marking for s in plan.strokes} == {"circle", "template", "eye"}
    ends = [q for s in plan.strokes for q in (s.curve.start, s.curve.end)]
    inside = lay_out(top).binding.buffer(-0.01)
    seams = shapely.union_all([shapely.LineString(s.points) for s in top.seams])
    free = []
    for q in set(ends):
        near = sum(math.dist(q, p) < 1e-9 for p in ends)
        if shapely.Point(q).within(inside):
            assert near > 1
            if shapely.Point(q).distance(seams) > 1e-6:
                free.append(near)
    # Off the seams there are two ends: where it leaves its circle, and where the first turn,
    # marked by a template, goes on into those that the guide bar follows.
    assert sorted(free) == [2, 3]


def test_separate_medallions_get_one_each():
    top = on_point(3, 3)
    squares = []  # that touch one another at most in a corner
    for p in top.patches:
        apart = all(p.polygon.intersection(top.patches[q].polygon).length < 1e-9 for q in squares)
        if p.polygon.area > 30 and apart:
            squares.append(p.id)
    assert len(squares) > 4
    plan = run(top, squares, spacing_in=1.0)
    assert {s.line for s in plan.strokes} == {f"spiral-{p}" for p in squares}
    for patch in squares:
        mine = [s for s in plan.strokes if s.line == f"spiral-{patch}"]
        assert {s.patch for s in mine} == {patch}
        middle = next(p.polygon.centroid for p in top.patches if p.id == patch)
        circle = next(s for s in mine if s.marking == "circle")
        assert circle.curve.start == circle.curve.end
        assert circle.curve.pieces[0].centre == pytest.approx((middle.x, middle.y))


def test_a_patch_too_small_for_the_circle_is_left_out():
    top = grid(3, 3, 2.0)
    assert run(top, [4]).left_out == (4,)
    assert run(top, [4], MachineProfile(smallest_radius_in=0.4), spacing_in=0.5).strokes
    assert run(top, machine=MachineProfile(smallest_radius_in=9.0)).left_out == tuple(range(9))


def test_a_border_gets_its_part_of_the_turns():
    top = bordered(6, 6, 3.0, 4.0)
    border = [p.id for p in top.patches if p.polygon.area > 10]
    plan = run(top, border, spacing_in=1.0)
    assert {s.patch for s in plan.strokes} == set(border)
    inner = shapely.box(4.25, 4.25, 22.25, 22.25).buffer(-1e-6)
    assert not any(inner.intersects(line(s.curve)) for s in plan.strokes)


@pytest.mark.parametrize("wish", ["spiral", "waves", "waves angle=30", "spiral spacing=1"])
def test_curved_seams_are_crossed_exactly(wish):
    top = make_top("drunkards path", Layout(2, 3, 8.0), border_in=2.0, seed=4)
    sizes = sizes_of(top)
    plan = make_strokes(top, sizes, choose(top, sizes, [f"all={wish}"]))
    assert_stitchable(plan.strokes, top)


@settings(max_examples=25, deadline=None, phases=[Phase.generate])
@given(st.sampled_from(sorted(DESIGNS)), st.floats(0.8, 4), st.integers(0, 10**6))
def test_nothing_leaves_its_patch_or_passes_the_binding_line(design, spacing, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    plan = run(top, spacing_in=spacing)
    assert plan.strokes
    assert_whole(plan.strokes)
    assert_inside(plan.strokes, top)
    assert_in_patch(plan.strokes, top)
    assert min(s.curve.smallest_radius for s in plan.strokes) >= 1.0


@settings(max_examples=15, deadline=None, phases=[Phase.generate])
@given(
    st.sampled_from(sorted(DESIGNS)),
    st.floats(-3.1, 3.1),
    st.floats(0.5, 3),
    st.floats(-50, 50),
)
def test_moving_turning_and_scaling_the_top_does_it_to_its_spiral(design, turn, scale, d):
    top = DESIGNS[design]()
    c, s = scale * math.cos(turn), scale * math.sin(turn)

    def place(p):
        return (c * p[0] - s * p[1] + d, s * p[0] + c * p[1] - d / 2)

    patches = tuple(p.id for p in top.patches)
    there = moved(top, place)
    before = Region(lay_out(top), patches, MachineProfile(smallest_radius_in=1.0))
    area = lay_out(there, binding_in=0.25 * scale)
    after = Region(area, patches, MachineProfile(smallest_radius_in=scale))
    one = spiral(before, MotifChoice((), "spiral", None, 1.75, 10.0))
    angle = math.degrees(turn) + 10.0
    two = spiral(after, MotifChoice((), "spiral", None, 1.75 * scale, angle), SpiralSettings())
    # The arcs' tolerance is a length that stays as it is; a turn that grazes a seam is cut
    # elsewhere for it.
    drawn = shapely.union_all([line(q.curve) for q in two.strokes])
    for q in one.strokes:
        spots = shapely.points([place((x, y)) for x, y in q.curve.sampled()[1:-1]])
        off = shapely.distance(drawn, spots)
        clear = shapely.distance(area.binding.exterior, spots) > 0.3 * scale
        assert (off[clear] < 0.005 * (1 + scale) + 2e-4).all()
    length = sum(x.curve.length for x in one.strokes)
    assert sum(x.curve.length for x in two.strokes) == pytest.approx(scale * length, rel=2e-3)


def test_a_mirrored_top_gets_the_mirrored_turns_the_other_way_round():
    # A spiral has a hand: the mirror image of the top gets the same radii at the same turns.
    top = top_from([[(0, 0), (9, 0), (7, 11), (1, 8)]])
    mirrored = moved(top, lambda p: (-p[0], p[1]))
    for one, flip in ((run(top), 1), (run(mirrored), -1)):
        centre = lay_out(top).binding.centroid
        first = next(s for s in one.strokes if s.marking == "circle")
        assert first.curve.start == pytest.approx((flip * centre.x + 1.25, centre.y), abs=1e-6)
        assert all(p.sweep_rad > 0 for s in one.strokes for p in s.curve)


@pytest.mark.parametrize("spacing", [1 / 16, 1 / 4, 1 / 2])
def test_however_many_turns_there_are_they_are_fitted(spacing):
    # Over an area A turns of spacing s are A/s long (arithmetic); its circle is 2·pi·1.25 in more.
    # With 47 1/2 in inside the binding the places first tried lay on one turn after another, all
    # alike, and the fit failed.
    plan = run(grid(1, 1, 47.5), spacing_in=spacing)
    total = sum(s.curve.length for s in plan.strokes if s.required) - 2 * math.pi * 1.25
    assert total == pytest.approx((47.5**2 - math.pi * 1.25**2) / spacing, rel=0.01)
