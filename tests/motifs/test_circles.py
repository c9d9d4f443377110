"""Arc formulas against printed tables and worked examples."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.geometry.curve import Arc
from seamwalk.motifs.circles import (
    diameter_for,
    overlap_rise,
    rise_at_tangent,
    rise_for,
    tangent_rad,
)


def test_machinerys_handbook_page_79():
    # Machinery's Handbook, 31st ed., p. 79: c 16, h 6 gives R 8 1/3; R 60, h 8 gives c 59.86.
    assert diameter_for(16, 6) / 2 == pytest.approx(8 + 1 / 3)
    assert rise_for(59.86, 120) == pytest.approx(8, abs=0.005)


def test_machinerys_handbook_page_50():
    # Ex. 3 and 4: R 12, h 2 gives c 13.27 and a central angle of 67.13° (the book rounds c first).
    assert rise_for(13.27, 24) == pytest.approx(2, abs=0.002)
    assert math.degrees(2 * tangent_rad(13.27, 2)) == pytest.approx(67.13, abs=0.05)


def test_broken_plate():
    # matheass.eu, "broken plate": c 21, h 6 gives R 12.1875 and 118.97953°.
    assert diameter_for(21, 6) / 2 == pytest.approx(12.1875)
    assert math.degrees(2 * tangent_rad(21, 6)) == pytest.approx(118.97953, abs=1e-5)


@pytest.mark.parametrize(
    ("deg", "height", "chord"),
    # Handbook table of circle segments, R = 1 (exact geometry, five decimals).
    [
        (10, 0.00381, 0.17431),
        (30, 0.03407, 0.51764),
        (45, 0.07612, 0.76537),
        (60, 0.13397, 1.00000),
        (90, 0.29289, 1.41421),
        (120, 0.50000, 1.73205),
        (150, 0.74118, 1.93185),
        (180, 1.00000, 2.00000),
    ],
)
def test_table_of_segments(deg, height, chord):
    assert rise_at_tangent(chord, math.radians(deg / 2)) == pytest.approx(height, abs=2e-5)
    assert rise_for(min(chord, 2.0), 2.0) == pytest.approx(height, abs=1e-2 if deg > 150 else 5e-5)


@pytest.mark.parametrize(
    ("chord", "rise", "radius"),
    # Whole-number set: R = c²/(8h) + h/2.
    [(6, 1, 5), (8, 1, 8.5), (12, 2, 10), (12, 1, 18.5), (4, 0.5, 4.25), (24, 8, 13)],
)
def test_whole_number_arcs(chord, rise, radius):
    assert diameter_for(chord, rise) == pytest.approx(2 * radius)
    assert rise_for(chord, 2 * radius) == pytest.approx(rise)
    assert Arc.by_rise((0, 0), (chord, 0), rise).radius == pytest.approx(radius)


@pytest.mark.parametrize(
    ("side", "diameter", "rise"),
    # Quarter-circle leaves on a square: D = side · sqrt 2, h = side (sqrt 2 - 1)/2.
    [(2, 2.8284, 0.4142), (4, 5.6569, 0.8284), (6, 8.4853, 1.2426), (12, 16.9706, 2.4853)],
)
def test_orange_peel_is_where_neighbours_begin_to_overlap(side, diameter, rise):
    assert overlap_rise(side) == pytest.approx(rise, abs=5e-5)
    assert diameter_for(side, overlap_rise(side)) == pytest.approx(diameter, abs=5e-5)
    assert overlap_rise(side) / side == pytest.approx(0.20711, abs=5e-6)


def test_optical_disc_over_patch_sides():
    # A disc of 120 mm (ISO/IEC 10149) over 2, 3 and 4 in sides rises 5.64, 13.65 and 28.07 mm.
    for side, rise_mm in ((2, 5.64), (3, 13.65), (4, 28.07)):
        assert rise_for(side * 25.4, 120) == pytest.approx(rise_mm, abs=0.005)


@given(st.floats(0.1, 100), st.floats(0.001, 0.5))
def test_rise_and_diameter_undo_each_other(chord, share):
    rise = share * chord
    assert rise_for(chord, max(chord, diameter_for(chord, rise))) == pytest.approx(
        rise, rel=1e-6 if share < 0.49 else 1e-2
    )
    assert rise_at_tangent(chord, tangent_rad(chord, rise)) == pytest.approx(rise)


def test_a_circle_narrower_than_the_chord_is_refused():
    with pytest.raises(ValueError, match="wide"):
        rise_for(4, 3.9)
    with pytest.raises(ValueError, match="above zero"):
        diameter_for(4, 0)
