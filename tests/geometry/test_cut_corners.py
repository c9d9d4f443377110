import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from seamwalk.geometry.cut_corners import main_corners
from seamwalk.vision.shapes import name_shape

SQUARE = np.array([(0, 0), (3, 0), (3, 3), (0, 3)], float)
OCTAGON = 2 * np.column_stack([np.cos(a := np.arange(8) * np.pi / 4), np.sin(a)])


@settings(max_examples=40)
@given(st.integers(0, 3), st.floats(0.02, 0.18), st.integers(0, 4), st.booleans())
def test_a_corner_split_in_two_is_one_corner_still(corner, stub, start, back):
    # Two junctions seen where one was sewn: a stub cuts the corner off.
    a, b, c = SQUARE[corner - 1], SQUARE[corner], SQUARE[(corner + 1) % 4]
    cut = stub / np.sqrt(2)
    ring = np.insert(SQUARE, corner + 1, b + (c - b) / 3 * cut, axis=0)
    ring[corner] = b + (a - b) / 3 * cut
    ring = np.roll(ring[::-1] if back else ring, start, axis=0)
    found = main_corners(ring)
    assert sorted(map(tuple, np.round(found, 9))) == sorted(map(tuple, SQUARE))
    assert name_shape(found) == "square"


@pytest.mark.parametrize("off", [-0.15, 0.15])
def test_a_bent_side_and_a_jog_are_sides_still(off):
    bent = np.insert(SQUARE, 1, (1.5, off), axis=0)
    assert main_corners(bent).tolist() == SQUARE.tolist()
    jog = np.insert(SQUARE, 1, [(1.45, 0.0), (1.55, off)], axis=0)
    assert main_corners(jog).tolist() == SQUARE.tolist()


def test_a_triangle_gets_its_lost_tip_back():
    # Where eight tips meet, the last 0.4 in of one is easily taken for its neighbour.
    ring = np.array([(0, 0), (3.6, 0), (3.7, 0.3), (0, 4)], float)
    found = main_corners(ring)
    assert len(found) == 3
    assert name_shape(found) == "half-square triangle"
    assert found[1] == pytest.approx((4, 0), abs=0.05)


def test_a_spike_is_no_corner():
    ring = np.array([(0, 0), (3, 0), (3, 1.5), (4, 1.52), (3, 1.6), (3, 3), (0, 3)], float)
    assert main_corners(ring).tolist() == SQUARE.tolist()


@pytest.mark.parametrize(
    "ring",
    [
        SQUARE / 6,  # 1/2 in squares are pieced
        OCTAGON,  # its corners turn by 45°, the flattest that are cut
        np.array([(0, 0), (20, 0), (20, 0.5), (0, 0.5)]),  # a narrow strip ends in short sides
        np.array([(0, 0), (5, 0), (6, 1), (6, 6), (0, 6)]),  # a corner cut off on purpose
    ],
)
def test_what_was_cut_stays(ring):
    assert main_corners(np.asarray(ring, float)).tolist() == np.asarray(ring, float).tolist()
