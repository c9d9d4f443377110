"""Cutting exact curves by polygons, against shapely on finely sampled curves."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from seamwalk.geometry.clip import clip, inset, largest, place_at, turned_right
from seamwalk.geometry.curve import Arc, Curve, Line

SQUARE = box(0, 0, 4, 4)
coordinate = st.floats(-3, 7, allow_nan=False).map(lambda x: round(x, 3))
place = st.tuples(coordinate, coordinate)


@st.composite
def curves(draw):
    points = draw(st.lists(place, min_size=2, max_size=4, unique=True))
    pieces = []
    for a, b in pairwise(points):
        if math.dist(a, b) < 0.05:
            continue
        share = draw(st.floats(-1.2, 1.2))
        rise = share * math.dist(a, b)
        start = pieces[-1].end if pieces else a
        if math.dist(start, b) < 0.05:
            continue
        pieces.append(Line(start, b) if abs(share) < 0.05 else Arc.by_rise(start, b, rise))
    if not pieces:
        pieces = [Line((-1.0, 1.0), (5.0, 2.0))]
    return Curve(tuple(pieces))


shapes = st.sampled_from(
    [
        # Off the thousandths of the curves, so that none runs along the boundary.
        box(0.00013, 0.00017, 4.00019, 4.00023),
        Polygon([(0.00013, 0.00017), (4.00019, 1.00023), (3.00029, 4.00031), (1.00037, 5.00041)]),
        Polygon([(0.00013, 0.00017), (4, 0.00019), (4, 4.00023), (2.00029, 1), (0.00031, 4)]),
    ]
)


@settings(max_examples=80, deadline=None)
@given(curves(), shapes)
def test_parts_lie_inside_and_nothing_is_lost(curve, polygon):
    parts = clip(curve, polygon)
    for part in parts:
        assert polygon.buffer(2e-4).covers(LineString(part.sampled(1e-4)))
    # Reference: shapely on the curve sampled finely.
    sampled = LineString(curve.sampled(1e-5)).intersection(polygon)
    assert sum(p.length for p in parts) == pytest.approx(sampled.length, abs=2e-2, rel=1e-3)


@settings(max_examples=80, deadline=None)
@given(curves(), shapes)
def test_cut_ends_lie_on_the_boundary_and_own_ends_stay(curve, polygon):
    for part in clip(curve, polygon):
        for q in (part.start, part.end):
            assert q in (curve.start, curve.end) or polygon.exterior.distance(Point(q)) < 1e-6
        for piece in part:
            if isinstance(piece, Arc):
                whole = [a for a in curve if isinstance(a, Arc) and a.centre == piece.centre]
                assert whole
                assert whole[0].radius == pytest.approx(piece.radius, abs=1e-9)


def test_an_arc_stays_an_arc():
    # A half circle about (2, 0) with radius 1: its lower half is cut away by the edge y = 0.5,
    # leaving 120° (cos 60° = 1/2).
    arc = Curve((Arc.by_rise((1, 0), (3, 0), 1.0),))
    (part,) = clip(arc, box(0, 0.5, 4, 4))
    (piece,) = part.pieces
    assert isinstance(piece, Arc)
    assert abs(piece.sweep_rad) == pytest.approx(math.radians(120))
    assert piece.start == pytest.approx((2 - math.sqrt(3) / 2, 0.5))


def test_ends_on_the_boundary_keep_their_last_bit():
    start, end = (0.0, 1 / 3), (4.0, 0.1 + 0.2)
    assert clip(Curve((Line(start, end),)), SQUARE) == [Curve((Line(start, end),))]
    assert clip(Curve((Arc.by_rise(start, end, 0.5),)), SQUARE)[0].start == start


def test_a_curve_outside_has_no_parts():
    assert clip(Curve((Line((5, 0), (5, 4)),)), SQUARE) == []
    assert clip(Curve((Line((0, 0), (4, 0)),)), SQUARE) in ([], [Curve((Line((0, 0), (4, 0)),))])


def test_two_visits_give_two_parts_in_order():
    u = Polygon([(0, 0), (6, 0), (6, 4), (4, 4), (4, 1), (2, 1), (2, 4), (0, 4)])
    parts = clip(Curve((Line((-1, 3), (7, 3)),)), u)
    assert [(p.start, p.end) for p in parts] == [
        (pytest.approx((0, 3)), pytest.approx((2, 3))),
        (pytest.approx((4, 3)), pytest.approx((6, 3))),
    ]


def test_inset_of_a_square_and_of_what_is_too_thin():
    inner = inset(SQUARE, 0.25)
    assert inner is not None
    assert inner.equals(box(0.25, 0.25, 3.75, 3.75))
    assert inset(box(0, 0, 10, 0.4), 0.25) is None


def test_inset_keeps_the_larger_part():
    dumbbell = box(0, 0, 4, 4).union(box(4, 1.9, 8, 2.1)).union(box(8, 0, 13, 4))
    inner = inset(dumbbell, 0.25)
    assert inner is not None
    assert inner.bounds == pytest.approx((8.25, 0.25, 12.75, 3.75))


def test_turned_right_has_its_inside_on_the_right_with_y_down():
    ring = list(turned_right(Polygon([(0, 0), (0, 2), (2, 2), (2, 0)])).exterior.coords)
    (x0, y0), (x1, y1) = ring[0], ring[1]
    # Right of the way (dx, dy) on a page with y down is (-dy, dx).
    beside = Point((x0 + x1) / 2 - (y1 - y0) * 0.1, (y0 + y1) / 2 + (x1 - x0) * 0.1)
    assert box(0, 0, 2, 2).contains(beside)


def test_largest_ignores_lines_and_points():
    assert largest(LineString([(0, 0), (1, 1)])) is None
    assert largest(SQUARE) is SQUARE


def test_place_at_clamps_to_the_ends():
    curve = Curve((Line((0, 0), (3, 0)), Line((3, 0), (3, 4))))
    assert place_at(curve, 5) == pytest.approx((3, 2))
    assert place_at(curve, -1) == (0, 0)
    assert place_at(curve, 99) == (3, 4)
