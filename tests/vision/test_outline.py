"""The outline against drawn truth; colours and floors are drawn here, nothing is taken over."""

import math

import cv2
import numpy as np
import pytest

from seamwalk.errors import TopNotFoundError
from seamwalk.vision.outline import find_top, four_corners, outline_polygon


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


def patchwork(shape, rng, cell=24):
    colours = rng.integers(30, 255, (6, 3))
    rows, cols = np.indices(shape) // cell
    return colours[rng.integers(0, 6, (rows.max() + 1, cols.max() + 1))[rows, cols]]


def floor(kind, shape, rng):
    rows, cols = np.indices(shape)
    if kind == "checked":
        tone = np.where((rows // 20 + cols // 20) % 2, 60, 190)
        return np.repeat(tone[..., None], 3, axis=2)
    if kind == "planks":
        grain = cv2.GaussianBlur(rng.normal(size=shape), (0, 0), sigmaX=25, sigmaY=1)
        tone = np.array([150.0, 110.0, 75.0]) * (1 + 2.0 * grain[..., None])
        tone[rows % 37 < 2] *= 0.4
        return tone
    return np.full((*shape, 3), (120.0, 125.0, 118.0))


def scene(kind, quad, shape=(420, 360), seed=0):
    rng = np.random.default_rng(seed)
    mask = drawn(quad, shape)
    picture = np.where(mask[..., None], patchwork(shape, rng), floor(kind, shape, rng))
    picture = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.7)
    picture += rng.normal(0, 3, picture.shape)
    return np.clip(picture, 0, 255).astype(np.uint8), mask


def overlap(a, b):
    return (a & b).sum() / (a | b).sum()


@pytest.mark.parametrize("kind", ["plain", "planks", "checked"])
@pytest.mark.parametrize("angle", [0.0, 0.12])
def test_the_top_is_found_on_floors_with_lines_of_their_own(kind, angle):
    quad = turned_rectangle((180.3, 211.7), (250, 310), angle)
    picture, truth = scene(kind, quad)
    # design/piecing.md asks for a mask IoU of 0.98 on flat pictures.
    assert overlap(find_top(picture), truth) >= 0.98


def test_a_slanted_view_is_found_as_a_quadrilateral():
    quad = np.array([[110.0, 60], [260, 66], [335, 370], [30, 350]])
    picture, truth = scene("planks", quad, seed=3)
    found = find_top(picture)
    assert overlap(found, truth) >= 0.98
    assert np.abs(four_corners(found) - quad).max() < 3


def test_one_piece_of_cloth_is_a_top():
    quad = turned_rectangle((180, 210), (200, 260), 0.05)
    mask = drawn(quad, (420, 360))
    picture = np.where(mask[..., None], (40, 60, 140), (150, 150, 140)).astype(np.uint8)
    assert overlap(find_top(picture), mask) >= 0.98


def test_what_is_ignored_is_not_taken_for_the_top():
    quad = turned_rectangle((200, 240), (210, 230), 0.0)
    picture, truth = scene("plain", quad)
    picture[20:80, 20:80] = 255
    picture[30:70, 30:70] = 0
    ignore = np.zeros(truth.shape, bool)
    ignore[15:85, 15:85] = True
    found = find_top(picture, ignore=ignore)
    assert overlap(found, truth) >= 0.98
    assert not found[20:80, 20:80].any()


def test_what_the_photo_does_not_reach_is_neither_floor_nor_top():
    quad = turned_rectangle((180, 210), (230, 290), 0.0)
    picture, truth = scene("planks", quad)
    seen = np.ones(truth.shape, bool)
    for k in range(40):
        seen[k, : 120 - 3 * k] = False
    picture[~seen] = 0
    assert overlap(find_top(picture, seen=seen), truth) >= 0.98


@pytest.mark.parametrize("kind", ["plain", "planks", "checked"])
def test_a_bare_floor_has_no_top(kind):
    rng = np.random.default_rng(5)
    picture = floor(kind, (420, 360), rng) + rng.normal(0, 3, (420, 360, 3))
    with pytest.raises(TopNotFoundError):
        find_top(np.clip(picture, 0, 255).astype(np.uint8))


def test_a_top_cut_off_by_the_frame_is_refused():
    quad = turned_rectangle((180, 330), (250, 310), 0.0)
    picture, _ = scene("plain", quad)
    with pytest.raises(TopNotFoundError) as caught:
        find_top(picture)
    assert caught.value.advice


def test_a_picture_of_nothing_is_refused():
    with pytest.raises(TopNotFoundError):
        find_top(np.zeros((8, 8, 3), np.uint8))
    with pytest.raises(TopNotFoundError):
        find_top(np.zeros((90, 90, 3), np.uint8), seen=np.zeros((90, 90), bool))


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
    corners = four_corners(drawn(quad, (300, 300)))
    assert np.abs(corners - quad).max() < 0.5
    for ring in (corners, outline_polygon(drawn(quad, (300, 300)))):
        x, y = ring.T
        assert (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() > 0


def test_an_empty_mask_has_no_outline():
    with pytest.raises(TopNotFoundError):
        outline_polygon(np.zeros((40, 40), bool))


def test_four_corners_of_an_odd_shape_still_come_back():
    mask = np.zeros((80, 80), bool)
    mask[10:60, 10:30] = True
    mask[40:60, 10:70] = True
    assert four_corners(mask).shape == (4, 2)
    disc = np.hypot(*(np.indices((80, 80)) - 40)) < 30
    assert four_corners(disc).shape == (4, 2)
