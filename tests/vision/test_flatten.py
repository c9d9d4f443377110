"""Resampling against closed forms."""

import numpy as np
import pytest

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import Photo, Rectification, View
from seamwalk.vision.flatten import flatten, native_px_per_in, visible_extent


def looking_down(px_per_in=20.0, shift_in=(0.0, 0.0)):
    """Return a camera whose pixel (c, r) shows ((c + 0.5), (r + 0.5)) / px_per_in − shift."""
    lens = Lens(1.0, (-0.5, -0.5))
    h = np.array([[1 / px_per_in, 0, -shift_in[0]], [0, 1 / px_per_in, -shift_in[1]], [0, 0, 1.0]])
    return Rectification(View(lens, h), (), "card", 6.0, 0.0)


def leaning(tilt_deg, focal=800.0, centre=(499.5, 399.5), distance=60.0):
    """Return a camera leaning about the x axis over the cloth's origin."""
    t = np.radians(tilt_deg)
    r = np.array([[1, 0, 0], [0, np.cos(t), -np.sin(t)], [0, np.sin(t), np.cos(t)]])
    h = np.linalg.inv(np.column_stack([r[:, 0], r[:, 1], [0, 0, distance]]))
    return Rectification(View(Lens(focal, centre), h), (), "card", 6.0, 0.0)


def test_the_same_resolution_gives_the_same_picture():
    rgb = np.random.default_rng(0).integers(0, 255, (60, 80, 3), dtype=np.uint8)
    flat = flatten(Photo(rgb, "x"), looking_down(), (0, 0, 4, 3), 20)
    assert flat.rgb.shape == (60, 80, 3)
    assert (flat.rgb == rgb).all()
    assert flat.seen.all()
    assert flat.in_from_px([[0, 0]])[0] == pytest.approx([0.025, 0.025])


def test_half_the_resolution_is_the_mean_light():
    # A one-pixel check: half black, half white is code 188 (IEC 61966-2-1), not 128.
    rows, cols = np.mgrid[0:60, 0:80]
    rgb = np.repeat((((rows + cols) % 2) * 255).astype(np.uint8)[:, :, None], 3, axis=2)
    flat = flatten(Photo(rgb, "x"), looking_down(), (0, 0, 4, 3), 10)
    inner = flat.rgb[2:-2, 2:-2]
    assert np.abs(inner.astype(int) - 188).max() <= 1


def test_an_edge_stays_where_it_is_at_any_resolution():
    rgb = np.zeros((120, 160, 3), np.uint8)
    rgb[:, 50:] = 255  # the edge is at 50/20 = 2.5 in
    for px_per_in in (20, 13, 7, 4):
        flat = flatten(Photo(rgb, "x"), looking_down(), (0, 0, 8, 6), px_per_in)
        light = (flat.rgb[flat.rgb.shape[0] // 2, :, 0] / 255.0) ** 2.2
        edge = (len(light) - light.sum()) / px_per_in
        assert edge == pytest.approx(2.5, abs=0.02)


def test_what_the_photo_does_not_reach_is_black_and_marked():
    rgb = np.full((60, 80, 3), 200, np.uint8)
    flat = flatten(Photo(rgb, "x"), looking_down(), (-1, -1, 5, 4), 20)
    assert flat.seen[30, 30]
    assert not flat.seen[5, 5]
    assert (flat.rgb[~flat.seen] == 0).all()
    assert flat.seen.sum() == 60 * 80


def test_places_agree_with_the_camera_under_tilt():
    camera = leaning(35)
    rgb = np.full((800, 1000, 3), 30, np.uint8)
    spots = np.array([[-12.0, -9.0], [3.0, 4.0], [14.0, 11.0]])
    rows, cols = np.mgrid[0:800, 0:1000]
    for x, y in camera.view.px_from_top(spots):
        blob = np.exp(-((cols - x) ** 2 + (rows - y) ** 2) / 18)
        rgb = np.maximum(rgb, (30 + 225 * blob).astype(np.uint8)[:, :, None])
    flat = flatten(Photo(rgb, "x"), camera, (-20, -15, 20, 15), 12)
    for spot in spots:
        col, row = np.rint(flat.px_from_in([spot])[0]).astype(int)
        part = flat.rgb[row - 6 : row + 7, col - 6 : col + 7, 0].astype(float) - 30
        at = np.array(
            [(part.sum(axis=0) @ np.arange(-6, 7)), (part.sum(axis=1) @ np.arange(-6, 7))]
        )
        seen = flat.in_from_px([np.array([col, row]) + at / part.sum()])[0]
        assert seen == pytest.approx(spot, abs=0.06)


def test_a_fold_of_the_lens_model_shows_nothing():
    camera = leaning(0)
    bent = Lens(800.0, (499.5, 399.5), (-0.3, 0.0, 0.0))
    camera = Rectification(View(bent, camera.view.top_from_ray), (), "card", 6.0, 0.0)
    rgb = np.full((800, 1000, 3), 200, np.uint8)
    flat = flatten(Photo(rgb, "x"), camera, (-80, -80, 80, 80), 0.8)
    # Slope 1 − 0.9 r² is zero at r = 1.054: 63 in from the middle at 60 in distance.
    rows, cols = np.nonzero(flat.seen)
    away = np.hypot(*(flat.in_from_px(np.column_stack([cols, rows])).T))
    assert away.max() < 63.5


def test_the_horizon_does_not_explode():
    camera = leaning(75)
    photo = Photo(np.zeros((800, 1000, 3), np.uint8), "x")
    x0, y0, x1, y1 = visible_extent(photo, camera, 100.0)
    middle = camera.view.top_from_px([[499.5, 399.5]])[0]
    assert x1 - x0 <= 200.001
    assert y1 - y0 <= 200.001
    assert x0 <= middle[0] <= x1
    flat = flatten(photo, camera, (x0, y0, x1, y1), 1)
    assert flat.seen.any()
    assert not flat.seen.all()


def test_visible_extent_is_the_pictures_own_when_looking_down():
    photo = Photo(np.zeros((60, 80, 3), np.uint8), "x")
    assert visible_extent(photo, looking_down()) == pytest.approx((0, 0, 4, 3))


def test_native_resolution():
    # Straight down: focal length over distance, 800 / 60.
    assert native_px_per_in(leaning(0), [[-5, -5], [5, 5]]) == pytest.approx(800 / 60, rel=1e-6)
    # Leaning by 40°, along the line of sight at the origin: cos 40° less.
    got = native_px_per_in(leaning(40), [[-0.1, -0.1], [0.1, 0.1]])
    assert got == pytest.approx(800 / 60 * np.cos(np.radians(40)), rel=0.01)


def test_nonsense_extents_are_refused():
    photo = Photo(np.zeros((60, 80, 3), np.uint8), "x")
    with pytest.raises(ValueError, match="cannot be made"):
        flatten(photo, looking_down(), (0, 0, 0, 3), 20)
    with pytest.raises(ValueError, match="cannot be made"):
        flatten(photo, looking_down(), (0, 0, 4000, 3000), 20)


def test_pixels_between_the_computed_nodes_are_where_the_camera_puts_them():
    # A phone's camera (focal length of 3000 pixels) at 45 degrees, with a barrel of a tenth.
    from seamwalk.vision.flatten import _between, _nodes

    down = leaning(45.0)
    bent = Lens(3000.0, (2000.0, 1500.0), (-0.1, 0.02, 0.0))
    camera = Rectification(View(bent, down.view.top_from_ray), (), "card", 6.0, 0.0)
    shape, per_in, corner = (1200, 1500), 50.0, (-15.0, -12.0)
    nodes, ahead = _nodes(camera, corner, per_in, shape)
    assert ahead.all()
    got = np.stack([_between(nodes[..., k], shape) for k in (0, 1)], axis=-1)
    x = corner[0] + (np.arange(shape[1]) + 0.5) / per_in
    y = corner[1] + (np.arange(shape[0]) + 0.5) / per_in
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    true = camera.view.px_from_top(points).reshape(*shape, 2)
    assert np.abs(got - true).max() < 0.01
