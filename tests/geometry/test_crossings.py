"""Where exact pieces meet straight segments."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.geometry.crossings import crossings, middles
from seamwalk.geometry.curve import Arc, Line

SQUARE = np.array(
    [[(0, 0), (4, 0)], [(4, 0), (4, 3)], [(4, 3), (0, 3)], [(0, 3), (0, 0)]], dtype=float
)


def test_a_line_through_a_rectangle_by_hand():
    # From (−1, 1) to (7, 1): meets x = 0 after 1 of 8 and x = 4 after 5 of 8.
    assert crossings([Line((-1.0, 1.0), (7.0, 1.0))], SQUARE) == [pytest.approx([1 / 8, 5 / 8])]


def test_a_half_circle_meets_its_own_diameters_line_and_its_top():
    # Radius 2 about (2, 3), from (4, 3) over (2, 1) to (0, 3): both ends are corners.
    arc = Arc((4.0, 3.0), (0.0, 3.0), (2.0, 3.0), -math.pi)
    level = np.array([[(0.0, 1.0 + 1e-12), (4.0, 1.0 + 1e-12)], [(2.0, 0.0), (2.0, 2.0)]])
    found = crossings([arc], np.concatenate([SQUARE, level]))[0]
    assert sorted({round(t, 6) for t in found}) == [0.0, 0.5, 1.0]


def test_a_piece_that_misses_is_given_nothing():
    lines = [Line((5.0, 0.0), (5.0, 9.0)), Line((1.0, 1.0), (3.0, 2.0))]
    assert crossings(lines, SQUARE) == [[], []]


@given(
    st.floats(-6, 6),
    st.floats(-6, 6),
    st.floats(0.5, 8),
    st.floats(-3.1, 3.1),
    st.floats(0.05, 6.2).flatmap(lambda s: st.sampled_from([s, -s])),
)
def test_as_many_crossings_as_shapely_finds_on_a_fine_polyline(cx, cy, r, first, sweep):
    # Reference: GEOS on the sampled arc; near misses and touches, which sampling moves, are left
    # out.
    def at(t):
        return (cx + r * math.cos(first + sweep * t), cy + r * math.sin(first + sweep * t))

    arc = Arc(at(0), at(1), (cx, cy), sweep)
    fine = shapely.LineString([at(t) for t in np.linspace(0, 1, 4001)])
    ring = shapely.LinearRing(SQUARE[:, 0])
    near = [p for p in (at(0), at(1)) if ring.distance(shapely.Point(p)) < 1e-3]
    corner = min(abs(math.dist((cx, cy), q) - r) for q in SQUARE[:, 0].tolist())
    touch = min(abs(abs(d) - r) for d in (cx, cx - 4, cy, cy - 3))
    found = crossings([arc], SQUARE)[0]
    for t in found:
        assert ring.distance(shapely.Point(at(t))) < 1e-6
    if not near and corner > 1e-2 and touch > 1e-2:
        meet = fine.intersection(ring)
        assert len(found) == (0 if meet.is_empty else len(shapely.get_parts(meet)))


def test_middles_lie_half_way():
    pieces = [Line((0.0, 0.0), (4.0, 2.0)), Arc((1.0, 0.0), (-1.0, 0.0), (0.0, 0.0), math.pi)]
    assert middles(pieces) == pytest.approx(np.array([[2.0, 1.0], [0.0, 1.0]]))
    assert middles(pieces)[1] == pytest.approx(pieces[1].at(0.5))
