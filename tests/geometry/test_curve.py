"""Arcs against handbook tables; curves by their properties."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.geometry.curve import Arc, Curve, Line

# Circle segments, R = 1: degrees, arc, rise, chord.  The classic handbook table (Machinery's
# Handbook, 31st ed., segments of circles), five decimals.
SEGMENTS = [
    (10, 0.17453, 0.00381, 0.17431),
    (30, 0.52360, 0.03407, 0.51764),
    (45, 0.78540, 0.07612, 0.76537),
    (60, 1.04720, 0.13397, 1.00000),
    (90, 1.57080, 0.29289, 1.41421),
    (120, 2.09440, 0.50000, 1.73205),
    (180, 3.14159, 1.00000, 2.00000),
]


@pytest.mark.parametrize(("degrees", "arc", "rise", "chord"), SEGMENTS)
def test_handbook_segments(degrees, arc, rise, chord):
    exact_rise = 1 - math.cos(math.radians(degrees) / 2)
    exact_chord = 2 * math.sin(math.radians(degrees) / 2)
    assert (exact_rise, exact_chord) == pytest.approx((rise, chord), abs=6e-6)
    a = Arc.by_rise((0, 0), (exact_chord, 0), exact_rise)
    assert a.radius == pytest.approx(1, abs=1e-9)
    assert a.length == pytest.approx(arc, abs=6e-6)
    assert math.degrees(abs(a.sweep_rad)) == pytest.approx(degrees, abs=1e-6)


# Machinery's Handbook, 31st ed., p. 79: chord 16, rise 6 gives radius 8 1/3; "broken plate"
# school problem: chord 21, rise 6 gives 12.1875; whole-number cases computed from R = c²/8h + h/2.
@pytest.mark.parametrize(
    ("chord", "rise", "radius"),
    [
        (16, 6, 25 / 3),
        (21, 6, 12.1875),
        (6, 1, 5),
        (8, 1, 8.5),
        (12, 2, 10),
        (24, 8, 13),
        (10, 5, 5),
    ],
)
def test_handbook_radii(chord, rise, radius):
    for sign in (1, -1):
        a = Arc.by_rise((1, 2), (1 + chord * 0.6, 2 + chord * 0.8), sign * rise)
        assert a.radius == pytest.approx(radius)
        assert a.rise == pytest.approx(rise)


def test_positive_rise_bows_right_of_the_way():
    assert Arc.by_rise((0, 0), (6, 0), 1).at(0.5) == pytest.approx((3, 1))
    assert Arc.by_rise((0, 0), (6, 0), -1).at(0.5) == pytest.approx((3, -1))


points = st.tuples(st.floats(-50, 50), st.floats(-50, 50))


@given(points, points, st.floats(0.05, 0.5), st.booleans())
def test_reversed_runs_the_same_way_back(a, b, share, flip):
    if math.dist(a, b) < 0.1:
        return
    arc = Arc.by_rise(a, b, math.dist(a, b) * share * (-1 if flip else 1))
    back = Curve((arc,)).reversed()
    assert back.start == b
    assert back.end == a
    assert back.pieces[0].at(0.25) == pytest.approx(arc.at(0.75), abs=1e-9)
    turn = math.remainder(back.start_heading_rad - arc.heading_rad(1) - math.pi, 2 * math.pi)
    assert turn == pytest.approx(0, abs=1e-9)


@given(st.floats(0.01, 0.49), st.floats(0.51, 0.99))
def test_a_part_lies_on_the_whole(f0, f1):
    curve = Curve((Line((0, 0), (4, 0)), Arc.by_rise((4, 0), (4, 6), -1.5), Line((4, 6), (0, 6))))
    part = curve.part(f0 * curve.length, f1 * curve.length)
    assert part.length == pytest.approx((f1 - f0) * curve.length)
    rest = curve.part(0, f0 * curve.length).joined(part)
    assert rest.pieces[-1].end == part.end


def test_samples_stay_within_the_tolerance():
    arc = Arc.by_rise((0, 0), (8, 0), 3)
    for tolerance in (0.1, 0.01, 0.001):
        p = Curve((arc,)).sampled(tolerance)
        middle = (p[:-1] + p[1:]) / 2
        gap = arc.radius - np.hypot(*(middle - arc.centre).T)
        assert 0 <= gap.max() <= tolerance
        assert tuple(p[0]) == arc.start
        assert tuple(p[-1]) == arc.end


def test_nothing_is_no_curve():
    with pytest.raises(ValueError, match="two different points"):
        Curve.through([(1, 1), (1, 1)])
    with pytest.raises(ValueError, match="chord and a rise"):
        Arc.by_rise((0, 0), (1, 0), 0)
