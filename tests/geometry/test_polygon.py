import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.geometry.polygon import (
    inner_angles_deg,
    inner_width,
    oriented,
    ring_of,
    side_lengths,
    signed_area,
)

angles = st.lists(st.floats(0, 2 * np.pi), min_size=3, max_size=9, unique=True)


@given(angles, st.floats(0.5, 3), st.floats(-1e4, 1e4))
def test_area_agrees_with_geos_and_its_sign_with_the_way_round(turns, radius, shift):
    t = np.sort(turns)
    ring = radius * np.column_stack([np.cos(t), np.sin(t)]) + shift
    # x towards y is anticlockwise for GEOS, whose y points up.
    wanted = shapely.Polygon(ring).area
    assert signed_area(ring) == pytest.approx(wanted, abs=1e-6)
    assert signed_area(ring[::-1]) == pytest.approx(-wanted, abs=1e-6)
    assert signed_area(oriented(ring[::-1])) == pytest.approx(wanted, abs=1e-6)


def test_angles_of_a_known_triangle_either_way_round():
    # 3-4-5: Euclid.
    ring = np.array([(0, 0), (4, 0), (0, 3)])
    wanted = [90, np.degrees(np.arctan2(3, 4)), np.degrees(np.arctan2(4, 3))]
    assert inner_angles_deg(ring) == pytest.approx(wanted)
    back = ring[[0, 2, 1]]
    assert inner_angles_deg(back) == pytest.approx([wanted[0], wanted[2], wanted[1]])
    assert side_lengths(ring) == pytest.approx([4, 5, 3])


def test_angles_of_a_dented_ring_sum_as_euclid_says():
    ring = np.array([(0, 0), (4, 0), (1, 1), (0, 4)])
    found = inner_angles_deg(ring)
    assert found.sum() == pytest.approx(180 * (len(ring) - 2))
    assert found[2] > 180


def test_inner_width_of_a_right_triangle_is_twice_its_inradius():
    # Inradius (a + b − c) / 2: handbook.
    triangle = shapely.Polygon([(0, 0), (4, 0), (0, 3)])
    assert inner_width(triangle, tolerance=0.001) == pytest.approx(2.0, abs=0.01)
    assert len(ring_of(triangle)) == 3
