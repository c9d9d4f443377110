"""Finished outlines, binding line, and the ground that the path may travel on."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, union_all
from tests.motifs.asserts import assert_ends_apart, line
from tests.motifs.tops import DESIGNS, grid, hexagons, on_point, sewn, top_from

from seamwalk.errors import TopologyError
from seamwalk.geometry.polyline import corners
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.ground import ground, on_binding
from seamwalk.motifs.outlines import angles


@settings(max_examples=20, deadline=None, phases=[Phase.generate])
@given(st.sampled_from(sorted(DESIGNS)), st.integers(0, 10**6))
def test_finished_outlines_tile_the_inside_of_the_binding_line(design, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    area = lay_out(top)
    shapes = [o.polygon for o in area.outlines.values()]
    inside = top.outline.buffer(-0.25, join_style="mitre")
    whole = union_all([s.buffer(1e-5) for s in shapes])
    assert whole.symmetric_difference(inside).area < 0.01
    assert sum(s.area for s in shapes) == pytest.approx(inside.area, abs=0.01)
    for o in area.outlines.values():
        assert o.polygon.exterior.is_ccw  # as seen with y up: the inside is on the right, y down
        assert sum(s.length_in for s in o.sides) <= o.polygon.exterior.length + 1e-9


@settings(max_examples=20, deadline=None, phases=[Phase.generate])
@given(st.sampled_from(sorted(DESIGNS)), st.integers(0, 10**6))
def test_ditches_are_the_seams_inside_the_binding_line(design, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    area = lay_out(top)
    inside = top.outline.buffer(-0.25, join_style="mitre")
    seams = {s.id: s for s in top.seams if s.kind == "seam"}
    for seam in seams.values():
        there = LineString(seam.points).intersection(inside).length
        found = sum(c.length for c in area.ditches.get(seam.id, ()))
        assert found == pytest.approx(there, abs=0.02)


def test_an_edge_square_of_a_bare_top_is_finished_like_the_others():
    area = lay_out(grid(3, 3, 3.0))
    for o in area.outlines.values():
        assert [s.length_in for s in o.sides] == pytest.approx([3.0] * 4)
        assert not o.part


def test_whole_sides_of_setting_triangles_and_half_hexagons():
    for o in lay_out(on_point(3, 3)).outlines.values():
        if len(o.sides) == 3:
            open_rad = [s.start_rad for s in o.sides if s.start_open]
            assert open_rad == pytest.approx([math.pi / 2] * len(open_rad))
            assert o.part
    halves = [
        s
        for o in lay_out(hexagons(4, 4, 3.0)).outlines.values()
        if o.part
        for s in o.sides
        if not s.on_binding
    ]
    assert halves
    assert all(s.chord_in == pytest.approx(3.0, abs=1e-6) for s in halves)
    assert any(s.length_in == pytest.approx(1.5, abs=1e-6) for s in halves)


def test_angles_agree_with_the_turning_of_the_ring():
    ring = [(0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 1.0), (0.0, 3.0)]
    assert sum(angles(ring)) == pytest.approx(3 * math.pi)  # (n - 2) · 180°
    reflex = [k for k, a in enumerate(angles(ring)) if a > math.pi]
    assert reflex == [3]
    assert set(corners(ring)) == set(range(5))


def test_a_top_smaller_than_its_binding_is_refused():
    tiny = top_from([[(0, 0), (0.4, 0), (0.4, 3), (0, 3)]])
    with pytest.raises(TopologyError, match="binding"):
        lay_out(tiny)


@settings(max_examples=20, deadline=None, phases=[Phase.generate])
@given(st.sampled_from(sorted(DESIGNS)), st.integers(0, 10**6))
def test_ring_runs_half_way_in_the_margin_and_tails_reach_it(design, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    area = lay_out(top)
    strokes = ground(area)
    assert not any(s.required for s in strokes)
    assert_ends_apart(strokes)
    ring = [s for s in strokes if s.id.startswith("margin")]
    tails = [s for s in strokes if s.id.startswith("tail")]
    half_way = top.outline.buffer(-0.125, join_style="mitre").exterior
    total = sum(s.curve.length for s in ring)
    assert total == pytest.approx(half_way.length, abs=0.02)
    for s in ring:
        assert all(half_way.distance(Point(q)) < 0.002 for q in s.curve.sampled())
    ends = {q for s in ring for q in (s.curve.start, s.curve.end)}
    raw = top.outline.exterior
    for s in tails:
        assert s.curve.end in ends
        assert 0.247 < raw.distance(Point(s.curve.start)) < 0.25 + 1 / 16
        assert s.curve.length < 0.25  # 1/8 in straight out; longer only at a corner's mitre
    assert len({s.curve.start for s in tails}) == len(tails)


def test_one_tail_for_each_place_on_the_binding_line():
    area = lay_out(grid(4, 3, 3.0))
    strokes = ground(area)
    assert sum(s.id.startswith("tail") for s in strokes) == 2 * 3 + 2 * 2
    assert sum(s.id.startswith("margin") for s in strokes) == 10
    more = ground(area, ends=[(1.0, 0.25), (5.0, 5.0)])
    assert sum(s.id.startswith("tail") for s in more) == 11
    assert on_binding(area, [(1.0, 0.25), (5.0, 5.0)]) == [(1.0, 0.25)]


def test_a_whole_cloth_has_only_a_ring():
    top = top_from([[(0, 0), (10, 0), (10, 8), (0, 8)]])
    (ring,) = ground(lay_out(top))
    assert ring.kind == "edge"
    assert ring.curve.start == ring.curve.end
    assert ring.curve.length == pytest.approx(2 * (9.75 + 7.75))


def test_width_of_the_binding_is_a_setting():
    top = grid(3, 3)
    area = lay_out(top, binding_in=0.5)
    assert area.binding.equals(top.outline.buffer(-0.5, join_style="mitre"))
    assert all(line(s.curve).length > 0 for s in ground(area))


def test_a_seam_that_leaves_and_comes_back_has_two_ditches():
    # An L-shaped top whose inner corner reaches over the seam's middle.
    a, b = (0.0, 4.1), (12.0, 4.1)
    notch = [(5.0, 0.0), (5.0, 4.0), (7.0, 4.0), (7.0, 0.0)]
    upper = [(0.0, 0.0), *notch, (12.0, 0.0), b, a]
    lower = [a, b, (12.0, 9.0), (0.0, 9.0)]
    top = top_from([upper, lower])
    top = replace(top, outline=Polygon([(0, 0), *notch, (12, 0), (12, 9), (0, 9)]))
    area = lay_out(top)
    (parts,) = area.ditches.values()
    assert len(parts) == 2
    assert [s.id for s in ground(area) if s.kind == "ditch"] == ["ditch-" + k for k in _ids(area)]


def _ids(area):
    ((seam, parts),) = area.ditches.items()
    return [f"{seam}-{k}" for k in range(1, len(parts) + 1)]
