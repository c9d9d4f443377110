"""Brown's lens model against OpenCV's projectPoints and undistortPoints."""

import cv2
import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from seamwalk.geometry.lens import Lens

LENSES = [(0.0, 0.0, 0.0), (-0.12, 0.03, 0.0), (0.08, -0.05, 0.02), (-0.25, 0.1, -0.02)]


@pytest.mark.parametrize("radial", LENSES)
def test_pixels_are_where_opencv_puts_them(radial):
    lens = Lens(3000.0, (1990.0, 1510.0), radial)
    rays = np.random.default_rng(1).uniform(-0.6, 0.6, (500, 2)) * [1, 0.75]
    matrix = np.array([[3000.0, 0, 1990], [0, 3000, 1510], [0, 0, 1]])
    k1, k2, k3 = radial
    points = np.c_[rays, np.ones(len(rays))]
    expected, _ = cv2.projectPoints(
        points, np.zeros(3), np.zeros(3), matrix, np.array([k1, k2, 0, 0, k3])
    )
    assert lens.px_from_ray(rays) == pytest.approx(expected.reshape(-1, 2), abs=1e-6)


@pytest.mark.parametrize("radial", LENSES)
def test_rays_come_back_from_pixels(radial):
    lens = Lens(3000.0, (1990.0, 1510.0), radial)
    pixels = np.random.default_rng(2).uniform(0, 1, (500, 2)) * [4000, 3000]
    assert lens.px_from_ray(lens.ray_from_px(pixels)) == pytest.approx(pixels, abs=1e-8)


@given(st.tuples(st.floats(-0.5, 0.5), st.floats(-0.3, 0.3), st.floats(-0.1, 0.1)))
@example((0.0, 0.054446237420317706, -0.0077028529791411775))
def test_no_lens_shows_two_rays_at_one_pixel(radial):
    # A lens's distortion is monotone (common practice, no source; OpenCV's calibration guide asks
    # for it too), a polynomial need not be.
    lens = Lens(1000.0, (0.0, 0.0), radial)
    r = np.linspace(0, 4.5, 100)
    px = lens.px_from_ray(np.column_stack([r, np.zeros_like(r)]))
    assert (np.diff(px[:, 0]) > 0).all()
    assert lens.ray_from_px(px)[:, 0] == pytest.approx(r, abs=1e-9)


def test_a_lens_that_is_not_one_to_one_gives_finite_rays():
    # k1 = −2 folds the picture over at r = 0.41: pixels beyond have no ray.
    lens = Lens(100.0, (0.0, 0.0), (-2.0, 0.0, 0.0))
    rays = lens.ray_from_px(np.random.default_rng(0).uniform(-500, 500, (200, 2)))
    assert np.isfinite(rays).all()
    assert np.abs(rays).max() <= 5.0 + 1e-9
