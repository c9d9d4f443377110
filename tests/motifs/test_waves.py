"""Waves: exact arcs that run on, evenly spaced, alike however the top lies."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely import LineString, Point
from tests.motifs.asserts import (
    assert_in_patch,
    assert_inside,
    assert_stitchable,
    assert_whole,
    line,
)
from tests.motifs.tops import DESIGNS, bordered, grid, moved, sewn, sizes_of, top_from, uneven_grid

from seamwalk.geometry.curve import Arc, Line
from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.border_waves import WaveWish, border_waves
from seamwalk.motifs.borders import borders
from seamwalk.motifs.motif import Region
from seamwalk.motifs.plan import make_strokes
from seamwalk.motifs.wave_shape import Wave, WaveSettings, fitting_wave, serpentine
from seamwalk.motifs.waves import waves

SETTINGS = WaveSettings()


def run(top, patches=None, machine=None, **measures):
    chosen = tuple(p.id for p in top.patches) if patches is None else tuple(patches)
    region = Region(lay_out(top), chosen, machine or MachineProfile())
    return waves(region, MotifChoice(chosen, "waves", **measures))


def rows(plan):
    out = {}
    for s in plan.strokes:
        out.setdefault(s.line, []).append(s)
    return out


def mitred(inner=12.0, border=4.0):
    """Return a square in a border of four trapezoids, its outside a raw edge."""
    b, w = -border - 0.25, inner + border + 0.25
    outer = [(b, b), (w, b), (w, w), (b, w)]
    inside = [(0, 0), (inner, 0), (inner, inner), (0, inner)]
    sides = [(outer[k], outer[(k + 1) % 4], inside[(k + 1) % 4], inside[k]) for k in range(4)]
    return top_from([inside, *sides])


@pytest.mark.parametrize("arcs", [1, 3, 7])
@pytest.mark.parametrize("rise", [0.25, 0.5, 1.0])
def test_a_wave_is_a_chain_of_circle_segments(arcs, rise):
    curve = serpentine((1.0, 2.0), (1.0 + 3.0 * arcs, 2.0), Wave(arcs, rise))
    assert len(curve.pieces) == arcs
    for piece in curve:
        assert isinstance(piece, Arc)
        # R = c²/(8h) + h/2: Machinery's Handbook, 31st ed., p. 50.
        assert piece.radius == pytest.approx(9 / (8 * rise) + rise / 2)
        assert piece.rise == pytest.approx(rise)
    for a, b in pairwise(curve.pieces):
        assert a.end == b.start
        assert a.sweep_rad == pytest.approx(-b.sweep_rad)
        assert math.remainder(a.heading_rad(1) - b.heading_rad(0), 2 * math.pi) == pytest.approx(0)
    # The first crest is on the right of the way to +x: at larger y.
    x0, y0, x1, y1 = curve.bounds()
    assert y1 == pytest.approx(2 + rise, abs=0.005)
    assert y0 == pytest.approx(2 - rise if arcs > 1 else 2, abs=0.005)
    assert (x0, x1) == pytest.approx((1, 1 + 3 * arcs), abs=0.1)


@settings(max_examples=200, deadline=None)
@given(st.floats(0.5, 120), st.floats(0.1, 4), st.floats(0.25, 5), st.booleans())
def test_no_wave_is_too_tight_or_too_steep(length, depth, smallest, asked):
    wave = fitting_wave(length, depth, smallest, SETTINGS, asked=asked)
    assert wave.arcs % 2 == 1
    assert wave.rise_in <= depth
    curve = serpentine((0.0, 0.0), (length, 0.0), wave)
    assert curve.smallest_radius >= 1.5 * smallest - 1e-9
    assert abs(curve.start_heading_rad) <= math.radians(30) + 1e-9
    if asked and wave.arcs > 1:
        assert wave.rise_in == depth
        # Two arcs more would be too steep or too tight, by the handbook's formulas.
        chord = length / (wave.arcs + 2)
        radius = chord * chord / (8 * depth) + depth / 2
        steep = 2 * math.atan2(2 * depth, chord)
        assert radius < 1.5 * smallest + 1e-6 or steep > math.radians(30) - 1e-6


def test_rows_over_a_top_are_as_far_apart_as_asked():
    top = grid(5, 4, 6.0)
    plan = run(top, spacing_in=2.5, depth_in=0.5)
    inside = lay_out(top).binding
    crests = sorted(
        max(q[1] for s in mine for q in line(s.curve).coords) for mine in rows(plan).values()
    )
    assert np.diff(crests) == pytest.approx([2.5] * (len(crests) - 1), abs=1e-3)
    x0, y0, x1, y1 = inside.bounds
    # As much room above as below, and less than a row would need.
    troughs = [
        min(q[1] for s in mine for q in line(s.curve).coords) for mine in rows(plan).values()
    ]
    above, below = min(troughs) - y0, y1 - max(crests)
    assert above == pytest.approx(below, abs=1e-3)
    assert 0.25 <= above < 0.25 + 2.5 / 2
    for mine in rows(plan).values():
        ends = [q for s in mine for q in (s.curve.start, s.curve.end)]
        assert min(q[0] for q in ends) == pytest.approx(x0)
        assert max(q[0] for q in ends) == pytest.approx(x1)


def test_a_row_is_one_wave_split_at_the_seams():
    top = grid(5, 4, 6.0)
    for mine in rows(run(top)).values():
        assert len({s.patch for s in mine}) == len(mine) >= 5
        ends = np.array([q for s in mine for q in (s.curve.start, s.curve.end)])
        gap = np.hypot(*np.moveaxis(ends[:, None] - ends[None], -1, 0)) + 9 * np.eye(len(ends))
        assert (gap.min(axis=1) < 1e-9).sum() == len(ends) - 2
        # 30 in wide: seven arcs of 4.29 in; nine would be steeper than 30°.
        radii = {round(p.radius, 6) for s in mine for p in s.curve}
        c = 30 / 7
        assert radii == {round(c * c / (8 * 0.5) + 0.25, 6)}


@pytest.mark.parametrize("angle", [0.0, 90.0, 30.0, -45.0])
def test_angle_is_the_direction_of_the_rows(angle):
    top = grid(6, 5, 5.0)
    plan = run(top, angle_deg=angle)
    u = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    n = np.array([-u[1], u[0]])
    for mine in rows(plan).values():
        across = np.concatenate([s.curve.sampled() @ n for s in mine])
        assert np.ptp(across) <= 2 * 0.5 + 0.01
    assert len(rows(plan)) > 8


def assert_runs_on(mine):
    """The strokes of a closed row follow one another all the way round without a corner."""
    ways = {}
    for s in mine:
        ways.setdefault(tuple(np.round(s.curve.start, 6)), []).append(s.curve.start_heading_rad)
        back = s.curve.end_heading_rad + math.pi
        ways.setdefault(tuple(np.round(s.curve.end, 6)), []).append(back)
        for a, b in pairwise(s.curve.pieces):
            assert a.end == b.start
            bend = math.remainder(b.heading_rad(0) - a.heading_rad(1), 2 * math.pi)
            assert abs(bend) < 1e-6
    for two in ways.values():
        assert len(two) == 2
        # Away from the joint in opposite directions.
        assert abs(math.remainder(two[0] - two[1], 2 * math.pi)) == pytest.approx(math.pi)


def framed(corner, inner=18.0):
    if corner == "mitred":
        top = mitred(inner)
        return top, [p.id for p in top.patches[1:]]
    if corner == "butted":
        top = bordered(6, 6, inner / 6, 4.0)
        return top, [p.id for p in top.patches if p.id >= 36]
    lines_at = [0, 4.25, 4.25 + inner, 8.5 + inner]
    top = uneven_grid(lines_at, lines_at)
    return top, [p.id for p in top.patches if p.id != 4]


@pytest.mark.parametrize("corner", ["mitred", "butted", "squares"])
def test_rows_turn_the_corners_of_a_border_as_one_smooth_line(corner):
    top, border = framed(corner)
    plan = run(top, border, spacing_in=1.0)
    found = rows(plan)
    assert len(found) == 3  # 4 in in four gaps of 1 in
    for mine in found.values():
        assert_runs_on(mine)
        assert {s.patch for s in mine} == set(border)
    assert min(s.curve.smallest_radius for s in plan.strokes) >= 1.5
    # By how far a row's crests lie outside its line and inside, from the middle.
    x, y = top.outline.centroid.x, top.outline.centroid.y
    half = (top.outline.bounds[2] - top.outline.bounds[0]) / 2 - 0.25
    for k, mine in enumerate(found.values(), start=1):
        places = np.concatenate([s.curve.sampled(1e-4) for s in mine]) - (x, y)
        out = np.abs(places).max(axis=1)
        assert half - k - 0.76 < out.min()  # in a corner
        assert half - k + 0.3 < out.max() < half - k + 0.51


@pytest.mark.parametrize("corner", ["mitred", "butted", "squares"])
@pytest.mark.parametrize("depth", [0.2, 0.5])
def test_the_arc_at_a_corner_is_the_one_of_its_formula(corner, depth):
    top, border = framed(corner)
    area = lay_out(top)
    (found,) = borders(Region(area, tuple(border), MachineProfile()))
    made = border_waves(found, area.outlines, WaveWish(depth, 1.0, 1.0, asked=True), SETTINGS)
    x0, y0, x1, y1 = area.binding.bounds
    assert made.highest_in == pytest.approx(depth)
    for k, (curve,) in enumerate(made.rows, start=1):
        assert curve.start == curve.end
        arcs = sorted(curve.pieces, key=lambda p: -p.sweep_rad)
        theta = (arcs[0].sweep_rad - math.pi / 2) / 2
        for arc in arcs[:4]:
            place = (
                (x0 + k if arc.start[0] < x0 + 9 else x1 - k),
                (y0 + k if arc.start[1] < y0 + 9 else y1 - k),
            )
            arm = math.dist(arc.start, place)
            assert math.dist(arc.end, place) == pytest.approx(arm)
            # R = a·cos(τ/2)/sin(τ/2 + θ): half the chord over the sine of half the sweep.
            assert arc.radius == pytest.approx(
                arm * math.cos(math.pi / 4) / math.sin(math.pi / 4 + theta)
            )
        # All others turn by 2θ, one way and the other.
        assert [abs(p.sweep_rad) for p in arcs[4:]] == pytest.approx([2 * theta] * (len(arcs) - 4))
        assert sum(p.sweep_rad for p in arcs) == pytest.approx(2 * math.pi)


def test_crests_are_lowered_to_turn_a_corner_unless_they_were_asked_for():
    top, border = framed("mitred", 12.0)
    assert all(len({s.curve.start for s in mine}) == 4 for mine in rows(run(top, border)).values())
    for mine in rows(run(top, border, spacing_in=1.0)).values():
        assert_runs_on(mine)
    plan = run(top, border, spacing_in=1.0, depth_in=0.5)
    assert max(p.rise for s in plan.strokes for p in s.curve) == pytest.approx(0.5)
    assert not plan.warnings


def test_rows_of_a_border_too_short_to_turn_meet_on_its_mitres():
    top = mitred(4.5, 2.0)
    plan = run(top, [p.id for p in top.patches[1:]])
    assert len(plan.strokes) == 4
    ends = np.array([q for s in plan.strokes for q in (s.curve.start, s.curve.end)])
    gap = np.hypot(*np.moveaxis(ends[:, None] - ends[None], -1, 0)) + 9 * np.eye(len(ends))
    assert gap.min(axis=1).max() < 1e-9


def test_pieces_sewn_end_to_end_share_one_wave():
    top = uneven_grid([0, 7, 16, 24.25], [0, 4.25, 20])
    strip = [p.id for p in top.patches if p.polygon.area < 60]
    (mine,) = rows(run(top, strip, spacing_in=2.0)).values()
    assert len(mine) == 3
    radii = {round(p.radius, 6) for s in mine for p in s.curve}
    assert len(radii) == 1


def test_first_and_last_crest_at_open_ends_lie_outside():
    top, border = framed("squares")
    strips = [p for p in border if p % 2]
    middle = top.outline.centroid
    plan = run(top, strips, spacing_in=1.0)
    assert len(plan.strokes) == 4 * 3
    for s in plan.strokes:
        chord = LineString([s.curve.start, s.curve.end])
        assert len(s.curve.pieces) % 2 == 1
        for piece in (s.curve.pieces[0], s.curve.pieces[-1]):
            crest = Point(piece.at(0.5))
            foot = chord.interpolate(chord.project(crest))
            assert middle.distance(crest) > middle.distance(foot)


def test_sashing_gets_waves_along_each_strip():
    top = uneven_grid([0, 9.25, 11.25, 20.5], [0, 9.25, 11.25, 20.5])
    sashes = [p.id for p in top.patches if 15 < p.polygon.area < 20]
    plan = run(top, sashes)
    assert len(plan.strokes) == len(sashes) == 4
    for s in plan.strokes:
        # The line between its ends halves the strip.
        x, y = s.curve.start
        assert min(abs(x - 10.25), abs(y - 10.25)) < 1e-9
        assert len(s.curve.pieces) == 3


def test_depth_without_room_is_lowered_with_a_sentence():
    top = bordered(6, 6, 3.0, 2.0)
    border = [p.id for p in top.patches if p.polygon.area > 10]
    plan = run(top, border, depth_in=2.0)
    # One row in the middle of 2 in: three quarters of 1 in.
    assert max(p.rise for s in plan.strokes for p in s.curve) == pytest.approx(0.75, abs=1e-6)
    assert "3/4" in plan.warnings[0]
    assert not run(top, border).warnings


def test_a_wide_foot_gets_longer_waves_and_then_flat_ones():
    top = grid(3, 3, 4.0)
    for smallest in (1.0, 3.0, 6.0):
        plan = run(top, machine=MachineProfile(smallest_radius_in=smallest), depth_in=0.5)
        assert min(s.curve.smallest_radius for s in plan.strokes) >= 1.5 * smallest - 1e-9
    narrow = run(grid(1, 1, 2.0), machine=MachineProfile(smallest_radius_in=20.0), depth_in=0.5)
    assert all(isinstance(p, Line) for s in narrow.strokes for p in s.curve)
    assert "straight lines" in narrow.warnings[0]


@settings(max_examples=25, deadline=None, phases=[Phase.generate])
@given(
    st.sampled_from(sorted(DESIGNS)),
    st.sampled_from([None, 0.0, 25.0, 90.0]),
    st.floats(0.8, 4),
    st.floats(0.25, 1.5),
    st.integers(0, 10**6),
)
def test_nothing_leaves_its_patch_or_passes_the_binding_line(design, angle, spacing, depth, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    plan = run(top, spacing_in=spacing, depth_in=depth, angle_deg=angle)
    assert plan.strokes
    assert_whole(plan.strokes)
    assert_inside(plan.strokes, top)
    assert_in_patch(plan.strokes, top)


@settings(max_examples=25, deadline=None, phases=[Phase.generate])
@given(
    st.sampled_from(["mitred", "butted", "squares"]),
    st.floats(0.8, 4),
    st.floats(0.1, 1.5),
    st.floats(8, 25),
    st.integers(0, 10**6),
)
def test_borders_of_wobbly_tops_are_stitchable(corner, spacing, depth, inner, seed):
    top, border = framed(corner, inner)
    top = sewn(top, np.random.default_rng(seed))
    choice = MotifChoice(tuple(border), "waves", depth, spacing)
    plan = make_strokes(top, sizes_of(top), [choice])
    assert_stitchable(plan.strokes, top)
    bare = set(border) - {s.patch for s in plan.strokes}
    if bare:
        # No room to turn the corners: their squares get the ditch.
        assert corner == "squares"
        assert bare == {0, 2, 6, 8}
        assert any("ditch" in w for w in plan.warnings)


@settings(max_examples=25, deadline=None, phases=[Phase.generate])
@given(
    st.sampled_from(sorted(DESIGNS)),
    st.floats(-3.1, 3.1),
    st.floats(0.5, 3),
    st.floats(-50, 50),
    st.booleans(),
    st.booleans(),
)
def test_moving_turning_mirroring_and_scaling_the_top_does_it_to_its_waves(
    design, turn, scale, d, mirror, strips
):
    top = bordered(4, 5) if strips else DESIGNS[design]()
    patches = [p.id for p in top.patches if not strips or p.polygon.area > 10]
    c, s = scale * math.cos(turn), scale * math.sin(turn)

    def place(p):
        x, y = (-p[0], p[1]) if mirror else p
        return (c * x - s * y + d, s * x + c * y - d / 2)

    # A row has no sense of direction, so mirrored at x = 0 one at 20° lies at −20°.
    angle = None if strips else 20.0
    turned = None if strips else math.degrees(turn) + (-20.0 if mirror else 20.0)
    # The binding's 1/4 in and the foot are lengths too.
    there = moved(top, place)
    before = Region(lay_out(top), tuple(patches), MachineProfile(smallest_radius_in=1.0))
    after = Region(
        lay_out(there, binding_in=0.25 * scale),
        tuple(patches),
        MachineProfile(smallest_radius_in=scale),
    )
    scaled = WaveSettings(clear_in=0.25 * scale, straight_in=scale / 32, least_in=0.2 * scale)
    one = waves(before, MotifChoice((), "waves", 0.5, 1.75, angle))
    two = waves(after, MotifChoice((), "waves", 0.5 * scale, 1.75 * scale, turned), scaled)
    assert len(one.strokes) == len(two.strokes)
    rows_there = np.array([shape(x) for x in two.strokes])
    tree = cKDTree(np.vstack([rows_there, rows_there[:, [2, 3, 0, 1, 4, 5]]]))  # either direction
    gap, _ = tree.query(np.array([shape(x, place) for x in one.strokes]))
    assert gap.max() < 1e-5


def shape(stroke, place=lambda p: p):
    """Return ends and middle: enough to tell two waves apart."""
    curve = stroke.curve
    half = curve.part(0, curve.length / 2).end
    return [*place(curve.start), *place(curve.end), *place(half)]
