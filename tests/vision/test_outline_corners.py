"""Corners of masks, against the geometry they were drawn from."""

import math

import cv2
import numpy as np
import pytest

from seamwalk.errors import TopNotFoundError
from seamwalk.vision.outline_corners import four_corners, outline_polygon, simplified


def drawn(polygon, shape):
    """Pixels whose centres lie inside the polygon, by 16-fold supersampling."""
    big = np.zeros((shape[0] * 16, shape[1] * 16), np.uint8)
    cv2.fillPoly(big, [np.rint((np.asarray(polygon) + 0.5) * 16).astype(np.int32)], 1)
    return cv2.resize(big.astype(np.float32), shape[::-1], interpolation=cv2.INTER_AREA) >= 0.5


def turned_rectangle(centre, size, angle):
    w, h = size
    c, s = math.cos(angle), math.sin(angle)
    corners = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2
    return corners @ np.array([[c, s], [-s, c]]) + centre


@pytest.mark.parametrize("angle", [0.0, 0.03, 0.3, 0.7])
def test_corners_of_a_drawn_rectangle_come_back_sub_pixel(angle):
    quad = turned_rectangle((150.4, 140.8), (180.6, 120.2), angle)
    corners = outline_polygon(drawn(quad, (300, 300)))
    assert len(corners) == 4
    gap = np.hypot(*(corners[:, None] - quad[None]).transpose(2, 0, 1))
    # An edge of pixels is known to 1/sqrt(12 n) of a pixel for n rows (uniform rounding); an
    # unturned edge has one row's rounding only, half a pixel.
    limit = 0.72 if angle == 0 else 0.25
    assert gap.min(axis=1).max() < limit
    assert gap.min(axis=0).max() < limit


def test_a_six_sided_top_keeps_six_sides():
    t = np.arange(6) * math.pi / 3 + 0.2
    hexagon = 100 * np.stack([np.cos(t), np.sin(t)], axis=1) + 130
    polygon = outline_polygon(drawn(hexagon, (260, 260)))
    assert len(polygon) == 6
    area = cv2.contourArea(polygon.astype(np.float32))
    # Area of a regular hexagon of side a: 3 sqrt(3) / 2 a² (textbook).
    assert area == pytest.approx(1.5 * math.sqrt(3) * 100**2, rel=0.005)


def test_outline_and_corners_run_clockwise_from_the_upper_left():
    quad = turned_rectangle((150, 140), (180, 120), 0.1)
    polygon = outline_polygon(drawn(quad, (300, 300)))
    assert np.abs(four_corners(polygon) - quad).max() < 0.5
    x, y = polygon.T
    assert (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() > 0


def test_an_empty_mask_has_no_outline():
    with pytest.raises(TopNotFoundError):
        outline_polygon(np.zeros((40, 40), bool))


def test_clipped_corners_are_made_whole():
    # By hand: the sides of the square, lengthened.
    cut = [[20, 0], [80, 0], [100, 15], [100, 90], [90, 100], [0, 100], [0, 20]]
    found = four_corners(np.array(cut, float))
    assert np.abs(found - [[0, 0], [100, 0], [100, 100], [0, 100]]).max() < 1e-3


def test_notches_do_not_tilt_the_four_sides():
    teeth = [[x, 0 if k % 2 else 10] for k, x in enumerate(range(0, 101, 10))]
    ring = np.array([*teeth, [100, 80], [0, 80]], float)
    found = four_corners(ring)
    assert found[:, 1].tolist() == pytest.approx([0, 0, 80, 80], abs=10)
    assert found[:, 0].tolist() == pytest.approx([0, 100, 100, 0], abs=10)


def test_four_corners_of_an_odd_shape_still_come_back():
    mask = np.zeros((80, 80), bool)
    mask[10:60, 10:30] = True
    mask[40:60, 10:70] = True
    assert four_corners(outline_polygon(mask)).shape == (4, 2)
    disc = np.hypot(*(np.indices((80, 80)) - 40)) < 30
    assert four_corners(outline_polygon(disc)).shape == (4, 2)


def test_corners_that_hardly_bend_are_left_out():
    ring = np.array([[0, 0], [50, 0.4], [100, 0], [100, 100], [0, 100]], float)
    assert simplified(ring, 1.0).tolist() == [[0, 0], [100, 0], [100, 100], [0, 100]]
    assert len(simplified(ring, 0.1)) == 5
