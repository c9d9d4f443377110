"""Seam lines and leaf lines: straight on, smooth, mirrored, within the patches."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from tests.motifs.tops import (
    DESIGNS,
    bordered,
    grid,
    hexagons,
    on_point,
    pinwheels,
    sewn,
    uneven_grid,
)

from seamwalk.geometry.curve import Arc
from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.diagonals import leaf_diagonals
from seamwalk.motifs.leaves import leaf_lines
from seamwalk.motifs.motif import Region
from seamwalk.motifs.seam_lines import seam_lines


def leaves(top, depth=None, radius=1.0):
    patches = tuple(p.id for p in top.patches)
    region = Region(lay_out(top), patches, MachineProfile(smallest_radius_in=radius))
    return leaf_lines(region, MotifChoice(patches, "leaf-lines", depth_in=depth)).strokes


def inner_seams(top):
    return [s for s in top.seams if s.kind == "seam"]


@settings(max_examples=20, deadline=None, phases=[Phase.generate])
@given(st.sampled_from(sorted(DESIGNS)), st.integers(0, 10**6))
def test_every_seam_is_in_exactly_one_line_and_lines_run_straight_on(design, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    area = lay_out(top)
    lines = seam_lines(area, inner_seams(top))
    assert sorted(s for ln in lines for s, _ in ln.segments) == sorted(
        s.id for s in inner_seams(top)
    )
    for ln in lines:
        ends = []
        for seam_id, backwards in ln.segments:
            a, b = area.seams[seam_id].ends
            ends.append((b, a) if backwards else (a, b))
        for (_, end), (start, _) in pairwise(ends):
            assert end == start
        for (a, b), (_, c) in pairwise(ends):
            p, q, r = (np.array(area.junctions[j].xy) for j in (a, b, c))
            u, v = q - p, r - q
            bend = math.degrees(math.acos(u @ v / np.hypot(*u) / np.hypot(*v)))
            assert bend <= 15.001


@pytest.mark.parametrize(
    ("top", "lines"),
    [
        (grid(6, 5), 5 + 4),
        (uneven_grid([0, 3, 9, 11, 17], [0, 4, 6, 12]), 3 + 2),
        (bordered(4, 4), 3 + 3 + 4),  # the border's outer seams run on through its corners
        (hexagons(3, 4), None),
    ],
)
def test_number_of_lines(top, lines):
    found = seam_lines(lay_out(top), inner_seams(top))
    if lines is None:  # at 120° nothing runs straight on, but into the seam allowance
        assert all(len(ln.segments) <= 2 for ln in found)
    else:
        assert len(found) == lines


def test_a_ring_of_seams_is_closed():
    from tests.motifs.tops import top_from

    from seamwalk.motifs.area import Area

    turns = [2 * math.pi * k / 30 for k in range(30)]
    circle = [(10 + 5 * math.cos(t), 10 + 5 * math.sin(t)) for t in turns]
    outer = [(10 + 9 * math.cos(t), 10 + 9 * math.sin(t)) for t in turns]
    rings = [circle] + [
        [circle[k], outer[k], outer[(k + 1) % 30], circle[(k + 1) % 30]] for k in range(30)
    ]
    top = top_from(rings)
    area: Area = lay_out(top)
    lines = seam_lines(area, inner_seams(top))
    assert [len(ln.segments) for ln in lines if ln.closed] == [30]


def test_passes_alternate_and_mirror_each_other():
    strokes = leaves(grid(6, 5))
    lines = {s.line for s in strokes}
    assert len(lines) == 9
    for name in lines:
        first = [s for s in strokes if s.line == name and s.pass_no == 1]
        second = [s for s in strokes if s.line == name and s.pass_no == 2]
        assert len(first) == len(second)
        for one, other in zip(first, second, strict=True):
            a, b = one.curve.pieces[0], other.curve.pieces[0]
            assert (a.start, a.end) == (b.start, b.end)
            assert a.sweep_rad == pytest.approx(-b.sweep_rad)
        turns = [math.copysign(1, s.curve.pieces[0].sweep_rad) for s in first]
        assert all(x == -y for x, y in pairwise(turns))
        for one, other in pairwise(first):
            assert one.curve.end == other.curve.start


@pytest.mark.parametrize(
    "top",
    [
        grid(6, 5),
        uneven_grid([0, 3.25, 9.25, 11.25, 17.5], [0, 4.25, 6.25, 12.5]),
        uneven_grid([0, 2.25, 10.25, 12.25, 20.25, 22.5], [0, 5.25, 7.25, 12.5]),
    ],
)
def test_the_line_is_smooth_where_patches_differ_in_length(top):
    strokes = leaves(top)
    pairs = 0
    for one, other in pairwise(strokes):
        if (one.line, one.pass_no) == (other.line, other.pass_no):
            turn = math.remainder(
                other.curve.start_heading_rad - one.curve.end_heading_rad, 2 * math.pi
            )
            assert abs(math.degrees(turn)) <= 5.0
            pairs += 1
    assert pairs > 10


def test_default_rise_on_4_to_6_inch_patches():
    # A soft arch along a seam line is about 1/2 in high (common practice, no source).
    for side in (4, 5, 6):
        rises = [s.curve.pieces[0].rise for s in leaves(grid(4, 4, side))]
        assert min(rises) > 0.35
        assert max(rises) < 0.65


@settings(max_examples=15, deadline=None, phases=[Phase.generate])
@given(st.integers(0, 10**6), st.floats(0.2, 3))
def test_never_deeper_than_half_of_the_narrowest_neighbour(seed, depth):
    rng = np.random.default_rng(seed)
    xs, ys = (np.cumsum([0, *rng.uniform(1.5, 8, 4)]).tolist() for _ in range(2))
    top = uneven_grid(xs, ys)
    area = lay_out(top)
    for s in leaves(top, depth):
        piece = s.curve.pieces[0]
        if not isinstance(piece, Arc):
            continue
        middle = np.add(piece.start, piece.end) / 2
        across = 0 if abs(piece.end[0] - piece.start[0]) < 1e-6 else 1
        widths = []
        for o in area.outlines.values():
            x0, y0, x1, y1 = o.polygon.bounds
            if o.polygon.buffer(1e-6).covers(_point(middle)):
                widths.append((x1 - x0, y1 - y0)[across])
        assert piece.rise <= min(widths) / 2 + 1e-9


def _point(xy):
    from shapely import Point

    return Point(*xy)


def test_leaves_stay_clear_of_the_patches_other_seams():
    from tests.motifs.asserts import line

    top = pinwheels(4, 4)
    seams = {s.id: s for s in top.seams}
    for s in leaves(top):
        path = line(s.curve)
        for seam in seams.values():
            a, b = seam.points
            if {a, b} & {s.curve.start, s.curve.end}:
                continue
            assert not path.crosses(line_of(a, b))


def line_of(a, b):
    from shapely import LineString

    return LineString([a, b])


def test_the_foot_limits_every_leaf():
    assert min(s.curve.smallest_radius for s in leaves(grid(5, 5, 1.0), radius=4.0)) >= 4 - 1e-9


def diagonals(top, patches=None):
    chosen = tuple(p.id for p in top.patches) if patches is None else tuple(patches)
    region = Region(lay_out(top), chosen, MachineProfile())
    return leaf_diagonals(region, MotifChoice(chosen, "leaf-diagonals"))


def test_diagonals_of_a_grid_run_straight_on_from_square_to_square():
    plan = diagonals(grid(4, 3))
    assert plan.left_out == ()
    assert len(plan.strokes) == 4 * 3 * 2 * 2
    assert len({s.line for s in plan.strokes}) == 2 * (4 + 3 - 1)
    for one, other in pairwise(plan.strokes):
        if (one.line, one.pass_no) == (other.line, other.pass_no):
            assert one.curve.end == other.curve.start
            turn = math.remainder(
                other.curve.start_heading_rad - one.curve.end_heading_rad, 2 * math.pi
            )
            assert abs(math.degrees(turn)) < 0.01
            assert one.curve.pieces[0].sweep_rad * other.curve.pieces[0].sweep_rad < 0


def test_half_squares_at_the_edge_get_half_of_their_one_diagonal():
    top = on_point(3, 3)
    plan = diagonals(top)
    assert plan.left_out == ()
    halves = [o.patch for o in lay_out(top).outlines.values() if len(o.sides) == 3]
    mine = [s for s in plan.strokes if s.patch in halves]
    assert len(mine) == 2 * 8  # two passes in each side triangle, nothing in corner triangles
    binding = lay_out(top).binding
    for s in mine:
        gaps = sorted(binding.exterior.distance(_point(q)) for q in (s.curve.start, s.curve.end))
        assert gaps[0] < 1e-9
        assert gaps[1] == pytest.approx(3 * math.sqrt(2))


def test_other_shapes_get_no_diagonals():
    plan = diagonals(bordered(4, 4))
    assert len(plan.left_out) == 4
    assert set(diagonals(pinwheels(4, 4)).left_out) == set(range(32))
