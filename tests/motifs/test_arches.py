"""Corner arches: depth limits, overlap, equal circles, part shapes."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point
from tests.motifs.asserts import line
from tests.motifs.tops import (
    DESIGNS,
    bordered,
    grid,
    hexagons,
    on_point,
    sewn,
    sizes_of,
    top_from,
    uneven_grid,
)

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.arches import ArchSettings, arches
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.circle_choice import choose_circles, tried
from seamwalk.motifs.motif import Region


def region(top, patches=None, radius=1.0):
    area = lay_out(top)
    chosen = tuple(p.id for p in top.patches) if patches is None else tuple(patches)
    return Region(area, chosen, MachineProfile(smallest_radius_in=radius))


def all_arches(top, **measures):
    everything = region(top)
    return arches(everything, MotifChoice(everything.patches, "arches", **measures))


def middle_patch(top):
    x0, y0, x1, y1 = top.outline.bounds
    centre = Point((x0 + x1) / 2, (y0 + y1) / 2)
    return min(top.patches, key=lambda p: p.polygon.centroid.distance(centre))


@settings(max_examples=20, deadline=None)
@given(
    st.sampled_from(sorted(DESIGNS)),
    st.integers(0, 10**6),
    st.one_of(st.none(), st.floats(0.1, 6.0)),
)
def test_arches_bow_inwards_and_never_past_half_way(design, seed, depth):
    # An arch never reaches half way to the centre (common practice, no source).
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    shapes = {p.id: p.polygon for p in top.patches}
    inner = {p.id for p in top.patches} - {
        q for s in top.seams if s.kind == "edge" for q in (s.left, s.right)
    }
    plan = all_arches(top, depth_in=depth)
    assert plan.strokes
    for s in plan.strokes:
        (arc,) = s.curve.pieces
        assert isinstance(arc, Arc)
        if s.patch in inner:
            centre = shapes[s.patch].centroid
            (x0, y0), (x1, y1) = arc.start, arc.end
            half = centre.distance(Point((x0 + x1) / 2, (y0 + y1) / 2))
            assert arc.rise < half
            top_of_arc = Point(arc.at(0.5))
            assert top_of_arc.distance(centre) < half


@pytest.mark.parametrize("share", [0.19, 0.2, 0.206])
def test_below_the_threshold_neighbours_meet_only_in_the_corner(share):
    # In a right-angled corner arches overlap from h > c·tan(22.5°)/2 = 0.2071·c on.
    assert not _overlap(3.0, share)


@pytest.mark.parametrize("share", [0.208, 0.22, 0.3])
def test_above_the_threshold_neighbours_overlap(share):
    assert _overlap(3.0, share)


def _overlap(side, share):
    top = grid(3, 3, side)
    patch = middle_patch(top)
    plan = arches(
        region(top, [patch.id]), MotifChoice((patch.id,), "arches", depth_in=share * side)
    )
    assert len(plan.strokes) == 4
    one, other = (line(s.curve, 1e-7) for s in plan.strokes[:2])
    corner = one.intersection(other)
    assert corner.distance(Point(plan.strokes[0].curve.end)) < 1e-6
    return corner.geom_type != "Point"


@pytest.mark.parametrize(("width", "length"), [(1.5, 10.5), (2.0, 6.0), (3.0, 12.0), (4.0, 4.4)])
def test_arcs_on_facing_sides_cross_where_geometry_says_so(width, length):
    # Two arcs over the long sides of a rectangle, drawn; shapely as the general reference library.
    top = uneven_grid([0, 5, 5 + length, 10 + length], [0, 5, 5 + width, 10 + width])
    patch = middle_patch(top)
    plan = arches(region(top, [patch.id], 0.25), MotifChoice((patch.id,), "arches"))
    (arcs,) = [c for c in plan.classes if abs(c.chord_in - length) < 1e-6]
    x0, y0, x1, y1 = patch.polygon.bounds
    for diameter in np.linspace(1.001 * length, 12 * length, 60):
        found = tried(arcs, float(diameter))
        upper = Arc.by_rise((x0, y0), (x1, y0), found.rise_in)
        lower = Arc.by_rise((x1, y1), (x0, y1), found.rise_in)
        facing = line(Curve((upper,)), 1e-7).intersects(line(Curve((lower,)), 1e-7))
        # At a right-angled corner arches cross from 0.2071 of the chord on.
        crossed = facing or found.rise_in > length * math.tan(math.pi / 8) / 2
        assert found.overlap is crossed
        if facing:
            assert found.verdict != "fits"


@pytest.mark.parametrize("depth", [None, 0.3, 1.0, 3.0])
def test_no_circle_is_proposed_that_makes_facing_arcs_meet(depth):
    # Logs of a log cabin, 1 1/2 in wide: whatever is owned and asked for.
    xs = [0.0]
    for step in (4.5, 1.5, 6.0, 1.5, 9.0, 1.5, 10.5):
        xs.append(xs[-1] + step)
    top = uneven_grid(xs, [0.0, 1.75, 3.25, 4.75, 6.25, 8.0])
    owned = [k / 2 for k in range(2, 240)]
    everything = region(top, radius=0.25)
    first = arches(everything, MotifChoice(everything.patches, "arches", depth_in=depth))
    for found in choose_circles(first.classes, owned).classes:
        if found.circle is not None and found.arcs.facing_in is not None:
            assert found.circle.rise_in < found.arcs.facing_in


@pytest.mark.parametrize("side", [1.5, 2, 3, 4.5, 6, 9, 12])
def test_default_depth_stays_a_little_below_the_threshold_at_every_size(side):
    top = grid(3, 3, side)
    for s in all_arches(top).strokes:
        (arc,) = s.curve.pieces
        share = arc.rise / math.dist(arc.start, arc.end)
        assert 0.165 < share < 0.2071


def test_equal_patches_get_one_circle():
    # One depth per class, so that the pattern across patches is even; marked by one round thing.
    top = sewn(grid(8, 8), np.random.default_rng(5), 1 / 32)
    radii = {round(s.curve.smallest_radius, 9) for s in all_arches(top).strokes}
    assert len(radii) == 1


def test_edge_patches_look_like_those_in_the_middle():
    # On a bare top the binding line is where the edge patch is finished.
    top = grid(4, 4)
    rises = [s.curve.pieces[0].rise for s in all_arches(top).strokes]
    assert np.ptp(rises) < 1e-9
    assert len(rises) == 4 * 16 - 16  # nothing along the 16 outer sides


def test_setting_triangles_get_the_arcs_of_the_squares_they_are_part_of():
    # A side setting triangle is half of a square, a corner triangle a quarter (setting triangle
    # table: square = finished block · sqrt 2 cut twice, block / sqrt 2 cut once).
    top = on_point(3, 3)
    area = lay_out(top)
    edge = [o for o in area.outlines.values() if len(o.sides) == 3]
    assert len(edge) == 12
    assert all(o.part for o in edge)
    arcs = [s.curve.pieces[0] for s in all_arches(top).strokes]
    assert len(arcs) == 13 * 4 + 8 * 2 + 4
    assert np.ptp([a.rise for a in arcs]) < 1e-9
    assert np.ptp([a.radius for a in arcs]) < 1e-9


def test_deep_arcs_of_part_shapes_are_cut_at_the_binding_line_exactly():
    top = on_point(3, 3)
    binding = lay_out(top).binding
    plan = all_arches(top, depth_in=0.25 * 6)
    cut = [s for s in plan.strokes if len(s.curve.pieces) == 1 and s.curve.length < 6.0]
    assert cut
    for s in plan.strokes:
        assert binding.buffer(1e-6).covers(line(s.curve))
        assert s.curve.smallest_radius == pytest.approx(36 / (8 * 1.5) + 0.75)


def test_half_hexagons_get_the_arcs_of_whole_ones():
    top = hexagons(4, 4, 3.0)
    radii = [s.curve.smallest_radius for s in all_arches(top).strokes]
    assert np.ptp(radii) < 1e-6
    outlines = lay_out(top).outlines.values()
    halves = [o for o in outlines if o.at_edge and len(o.sides) == 4 and o.part]
    assert halves


def test_a_block_in_the_border_is_not_taken_for_part_of_a_larger_one():
    # 3 in corner squares beside 6 in blocks stand by themselves.
    xs = [0, 3.25, 9.25, 15.25, 18.5]
    rings = [[(a, c), (b, c), (b, d), (a, d)] for c, d in pairwise(xs) for a, b in pairwise(xs)]
    area = lay_out(top_from(rings))
    assert not any(o.part for o in area.outlines.values())


def test_a_trimmed_top_loses_what_the_binding_takes():
    from dataclasses import replace

    top = replace(grid(3, 3, 4.0, allowance=0.0), raw_edges=False)
    arcs = [s.curve.pieces[0] for s in all_arches(top).strokes]
    # Sides that meet the edge are 4 in long; their arcs end where the binding line cuts them.
    assert all(a.radius == pytest.approx(arcs[0].radius) for a in arcs)
    binding = lay_out(top).binding
    assert all(binding.buffer(1e-6).covers(LineString([a.start, a.end])) for a in arcs)
    ends = [q for a in arcs for q in (a.start, a.end)]
    assert sum(binding.exterior.distance(Point(q)) < 1e-6 for q in ends) == 16


def test_edge_choices():
    top = grid(3, 3)
    none = all_arches(top).strokes
    arch = all_arches(top, edge="arch").strokes
    ruled = all_arches(top, edge="line").strokes
    assert len(arch) - len(none) == 12
    assert len(ruled) - len(none) == 12
    lines = [s for s in ruled if s.marking == "ruler"]
    outer = lay_out(top).binding.exterior
    for s in lines:
        assert outer.distance(line(s.curve)) == pytest.approx(0.25, abs=0.26)
        assert outer.distance(Point(s.curve.part(0, s.curve.length / 2).end)) == pytest.approx(
            0.25
        )


def test_depth_that_was_asked_for_is_given():
    for s in all_arches(grid(3, 3, 4.0), depth_in=0.5).strokes:
        assert s.curve.pieces[0].rise == pytest.approx(0.5)


def test_short_sides_and_patches_with_notches_are_left_out():
    notched = top_from(
        [
            [(0, 0), (12, 0), (12, 12), (6, 12), (6, 6), (0, 6)],
            [(0, 6), (6, 6), (6, 12), (0, 12)],
        ]
    )
    plan = all_arches(notched)
    assert plan.left_out == (0,)
    assert {s.patch for s in plan.strokes} == {1}
    assert all_arches(grid(3, 3, 0.45)).strokes == ()


def test_a_foot_too_wide_for_a_side_leaves_it_out_and_says_so():
    everything = region(grid(3, 3, 1.5), radius=8.0)
    plan = arches(everything, MotifChoice(everything.patches, "arches"))
    assert plan.strokes == ()
    assert "no arches" in plan.warnings[0]


def test_a_junction_off_its_place_makes_no_corner():
    # A junction 0.06 in off the long side, 0.4 in from a corner: 8.5° there, yet one side.
    top = top_from(
        [
            [(0, 0), (8, 0), (8, 4), (0.4, 4.06), (0, 4)],
            [(0, 4), (0.4, 4.06), (0.4, 8), (0, 8)],
            [(0.4, 4.06), (8, 4), (8, 8), (0.4, 8)],
        ]
    )
    outline = lay_out(top).outlines[top.patches[0].id]
    assert outline.convex
    assert len(outline.sides) == 4


def test_bordered_top_has_arches_against_the_border():
    top = bordered(4, 4)
    squares = [p.patch for p in sizes_of(top).patches if p.shape == "square"]
    plan = arches(region(top, squares), MotifChoice(tuple(squares), "arches"))
    assert len(plan.strokes) == 4 * len(squares)


def test_settings_say_how_full():
    fuller = ArchSettings(fullness=1.0)
    everything = region(grid(3, 3))
    plan = arches(everything, MotifChoice(everything.patches, "arches"), fuller)
    share = plan.strokes[0].curve.pieces[0].rise / 3.0
    assert share == pytest.approx(math.tan(math.radians(22.5)) / 2)


def test_a_nicked_corner_is_one_corner():
    # Seams that miss each other by 0.4 in at the middle, as two T junctions instead of a cross.
    top = top_from(
        [
            [(0, 0), (4, 0), (4, 4), (0, 4)],
            [(4, 0), (8, 0), (8, 4), (4.4, 4), (4, 4)],
            [(0, 4), (4, 4), (4.4, 4), (4.4, 8), (0, 8)],
            [(4.4, 4), (8, 4), (8, 8), (4.4, 8)],
        ]
    )
    assert all(len(o.sides) == 4 for o in lay_out(top).outlines.values())
    # A corner cut off and a step into a corner: still four sides, and convex.
    for nick in ([(7.6, 8), (8, 7.6)], [(7.6, 8), (7.6, 7.7), (8, 7.7)]):
        ring = [(4, 4), (8, 4), *reversed(nick), (4, 8)]
        rest = [[(0, 0), (12, 0), (12, 4), (8, 4), (4, 4), (0, 4)]]
        rest.append(
            [(0, 4), (4, 4), (4, 8), nick[0], *nick[1:], (8, 4), (12, 4), (12, 12), (0, 12)]
        )
        outline = lay_out(top_from([ring, *rest])).outlines[0]
        assert outline.convex
        assert len(outline.sides) == 4
        sides = [s for s in outline.sides if s.end in nick or s.start in nick]
        angles = [s.end_rad if s.end in nick else s.start_rad for s in sides]
        assert angles == pytest.approx([math.pi / 2] * 2)
