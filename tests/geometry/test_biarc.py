"""Biarcs by hand, and curves with textbook curvature fitted by arcs."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.special import fresnel

from seamwalk.geometry.biarc import biarc, fitted
from seamwalk.geometry.curve import Arc, Curve, Line

TOLERANCE = 0.005


def sine(t):
    """y = sin x; the smallest radius is 1, at the crests (calculus)."""
    return np.column_stack([t, np.sin(t)]), np.arctan(np.cos(t))


def ellipse(t):
    """Half axes 5 and 3; the smallest radius is b²/a = 1.8 (any textbook of conics)."""
    return np.column_stack([5 * np.cos(t), 3 * np.sin(t)]), np.arctan2(
        3 * np.cos(t), -5 * np.sin(t)
    )


def spiral(t):
    """r = t: Archimedes' spiral."""
    x, y = np.cos(t), np.sin(t)
    return np.column_stack([t * x, t * y]), t + np.arctan2(t, 1)


def clothoid(t):
    """Curvature t at arc length t (Fresnel integrals, scipy)."""
    s, c = fresnel(t / math.sqrt(math.pi))
    return math.sqrt(math.pi) * np.column_stack([c, s]), t * t / 2


CURVES = {
    "sine": (sine, [0, math.pi, 2 * math.pi, 3 * math.pi], 1.0),
    "sine, no knots": (sine, [-1, 9], 1.0),
    "ellipse": (ellipse, [0, 2 * math.pi], 1.8),
    "spiral": (spiral, [1.5, 30], None),
    "clothoid": (clothoid, [-2, 2], 0.5),
}


def assert_smooth(curve):
    for a, b in pairwise(curve.pieces):
        assert a.end == b.start
        turn = math.remainder(b.heading_rad(0) - a.heading_rad(1), 2 * math.pi)
        assert abs(turn) < 1e-6


def dense(trace, knots, n=40_000):
    return trace(np.linspace(knots[0], knots[-1], n))[0]


@pytest.mark.parametrize("tolerance", [TOLERANCE, 1e-4])
@pytest.mark.parametrize("name", CURVES)
def test_arcs_stay_by_the_curve_and_run_on(name, tolerance):
    trace, knots, radius = CURVES[name]
    curve = fitted(trace, knots, tolerance)
    assert_smooth(curve)
    points = dense(trace, knots)
    slack = 1.02 * tolerance + 1e-5
    arcs, line = shapely.LineString(curve.sampled(1e-5)), shapely.LineString(points)
    shapely.prepare([arcs, line])
    assert shapely.dwithin(arcs, shapely.points(points[::7]), slack).all()
    # And the other way, so that no arc strays where the curve has no points.
    assert shapely.dwithin(line, shapely.points(curve.sampled(1e-3)), slack).all()
    assert curve.start == pytest.approx(points[0], abs=1e-12)
    assert curve.end == pytest.approx(points[-1], abs=1e-12)
    if radius is not None:
        assert curve.smallest_radius == pytest.approx(
            radius, rel=0.2 if tolerance > 1e-3 else 0.05
        )


def test_length_of_the_spiral():
    # ∫ √(1 + t²) dt = (t·√(1 + t²) + asinh t)/2 (any table of integrals).
    def s(t):
        return (t * math.hypot(1, t) + math.asinh(t)) / 2

    curve = fitted(spiral, [1.5, 60])
    assert curve.length == pytest.approx(s(60) - s(1.5), rel=3e-5)


@pytest.mark.parametrize("length", [0.2, 0.4, 0.8])
def test_error_of_one_stretch_is_that_of_the_textbook(length):
    # On a clothoid the curvature changes at the rate 1: off by s³/324 at a third of the way.  Seen
    # from the single arc through both ends, headings differ by s·(s − h)/2 on the clothoid and by
    # a triangle of the same area on the biarc; their integral is largest at h/3.
    at, heading = clothoid(np.array([0.0, length]))
    pieces = biarc(tuple(at[0]), heading[0], tuple(at[1]), heading[1])
    points = dense(clothoid, [0.0, length], 2001)
    arcs = shapely.LineString(Curve(pieces).sampled(1e-9))
    off = shapely.distance(arcs, shapely.points(points)).max()
    assert off == pytest.approx(length**3 / 324, rel=0.03)


def test_pieces_are_few():
    # The greatest stretch with κ′ = 1 has s³/324 = tolerance; two arcs for each, and one more.
    curve = fitted(clothoid, [0.0, 4.0], 1e-4)
    least = 4.0 / (324 * 1e-4) ** (1 / 3)
    assert 2 * least <= len(curve.pieces) <= 2 * (1.15 * least + 1)


def test_a_circle_is_found_again():
    def circle(t):
        return np.column_stack([2 * np.cos(t), 2 * np.sin(t)]), t + math.pi / 2

    curve = fitted(circle, [0, 3])
    for piece in curve:
        assert isinstance(piece, Arc)
        assert piece.centre == pytest.approx((0, 0), abs=1e-9)
        assert piece.radius == pytest.approx(2)
    assert sum(p.sweep_rad for p in curve) == pytest.approx(3)


def test_parallel_tangents_by_hand():
    # From (0, 0) to (4, 2), both towards x: the joint is half way, at (2, 1), and the circle that
    # touches the x axis at 0 and goes through it has the radius (2² + 1²)/(2·1) = 2.5.
    one, other = biarc((0, 0), 0, (4, 2), 0)
    assert one.end == other.start == pytest.approx((2, 1))
    assert (one.radius, other.radius) == pytest.approx((2.5, 2.5))
    assert one.centre == pytest.approx((0, 2.5))
    assert other.centre == pytest.approx((4, -0.5))


def test_a_line_stays_a_line():
    curve = fitted(lambda t: (np.column_stack([t, 2 * t]), np.full(len(t), math.atan(2))), [0, 3])
    assert all(isinstance(p, Line) for p in curve)
    assert curve.length == pytest.approx(3 * math.sqrt(5))


@settings(max_examples=200, deadline=None)
@given(
    st.tuples(st.floats(-5, 5), st.floats(-5, 5)),
    st.tuples(st.floats(-5, 5), st.floats(-5, 5)),
    st.floats(-1.4, 1.4),
    st.floats(-1.4, 1.4),
)
def test_any_biarc_has_its_ends_and_tangents(start, end, turn, other_turn):
    assume(math.dist(start, end) > 0.1)
    along = math.atan2(end[1] - start[1], end[0] - start[0])
    first, last = along + turn, along + other_turn
    curve = Curve(biarc(start, first, end, last))
    assert curve.start == start
    assert curve.end == end
    assert abs(math.remainder(curve.start_heading_rad - first, 2 * math.pi)) < 1e-6
    assert abs(math.remainder(curve.end_heading_rad - last, 2 * math.pi)) < 1e-6
    assert_smooth(curve)


def test_a_corner_is_rounded_within_the_tolerance():
    def corner(t):
        return np.column_stack([t, np.abs(t)]), np.where(t < 0, -1, 1) * math.pi / 4

    curve = fitted(corner, [-1, 1.1])
    assert_smooth(curve)
    # An arc of radius r in a right angle stays r·(√2 − 1) from the corner.
    assert curve.smallest_radius * (math.sqrt(2) - 1) < TOLERANCE


def test_what_turns_back_cannot_be_fitted():
    def cusp(t):
        return np.column_stack([t * t, t**3]), np.where(t < 0, math.pi, 0) + np.arctan(1.5 * t)

    with pytest.raises(ValueError, match="not smooth"):
        fitted(cusp, [-1, 1.1])
    with pytest.raises(ValueError, match="opposite"):
        biarc((0, 0), math.pi, (1, 0), math.pi)
