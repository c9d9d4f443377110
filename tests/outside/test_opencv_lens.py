"""Lens and homography against OpenCV, the general reference, over all that phones have.

Focal lengths 13 to 80 mm equivalent, 3 to 200 MP, bends of up to 6 % at the picture's corner for
each radial term (common practice for uncorrected wide lenses, from memory), axis off the middle.
"""

import math

import cv2
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from seamwalk.geometry.lens import Lens
from seamwalk.geometry.projective import apply, fit

bend = st.floats(-0.06, 0.06)


@st.composite
def phones(draw):
    """Return a lens and the size of its picture."""
    height = draw(st.integers(1500, 12240))
    width = round(height * draw(st.sampled_from([4 / 3, 3 / 2, 16 / 9, 3 / 4, 9 / 16])))
    mm = draw(st.floats(13, 80))
    focal = mm / math.hypot(36, 24) * math.hypot(width, height)
    off = draw(st.floats(-0.02, 0.02)), draw(st.floats(-0.02, 0.02))
    centre = (width - 1) / 2 + off[0] * width, (height - 1) / 2 + off[1] * height
    rim = math.hypot(width, height) / 2 / focal
    radial = tuple(draw(bend) / rim ** (2 * k) for k in (1, 2, 3))
    # One to one with room to spare: no lens of a phone turns back on itself.
    r2 = np.linspace(0, 1.4 * rim, 200) ** 2
    k1, k2, k3 = radial
    assume((1 + 3 * k1 * r2 + 5 * k2 * r2**2 + 7 * k3 * r2**3).min() > 0.3)
    return Lens(focal, centre, radial), (width, height)


def opencvs(lens):
    """Return the camera matrix and distortion that OpenCV takes."""
    x, y = lens.centre_px
    k1, k2, k3 = lens.radial
    matrix = np.array([[lens.focal_px, 0, x], [0, lens.focal_px, y], [0, 0, 1]])
    return matrix, np.array([k1, k2, 0, 0, k3])


def picture_grid(size, steps=9):
    x, y = np.meshgrid(np.linspace(0, size[0] - 1, steps), np.linspace(0, size[1] - 1, steps))
    return np.column_stack([x.ravel(), y.ravel()])


@settings(max_examples=60, deadline=None)
@given(phones())
def test_pixels_and_rays_are_opencvs(phone):
    lens, size = phone
    matrix, distortion = opencvs(lens)
    pixels = picture_grid(size)
    rays = lens.ray_from_px(pixels)
    seen, _ = cv2.projectPoints(
        np.column_stack([rays, np.ones(len(rays))]), np.zeros(3), np.zeros(3), matrix, distortion
    )
    # Both ways at once: our rays, sent through OpenCV's lens, are the pixels they came from.
    assert seen.reshape(-1, 2) == pytest.approx(pixels, abs=1e-6)
    assert lens.px_from_ray(rays) == pytest.approx(seen.reshape(-1, 2), abs=1e-8)


@settings(max_examples=40, deadline=None)
@given(phones())
def test_rays_are_those_of_opencvs_own_inverse(phone):
    lens, size = phone
    matrix, distortion = opencvs(lens)
    pixels = picture_grid(size)
    stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 500, 1e-14)
    theirs = cv2.undistortPoints(pixels[:, None], matrix, distortion, criteria=stop)
    # Its inverse is a fixed-point iteration, which slows down where the lens bends most: compare
    # where OpenCV's own projection confirms it.
    theirs = theirs.reshape(-1, 2)
    again, _ = cv2.projectPoints(
        np.column_stack([theirs, np.ones(len(theirs))]),
        np.zeros(3),
        np.zeros(3),
        matrix,
        distortion,
    )
    sound = np.hypot(*(again.reshape(-1, 2) - pixels).T) < 1e-5
    assert sound.mean() > 0.5
    miss = (lens.ray_from_px(pixels) - theirs)[sound] * lens.focal_px
    assert np.abs(miss).max() < 1e-4


@settings(max_examples=30, deadline=None)
@given(
    tilt=st.floats(0, 50),
    azimuth=st.floats(0, 360),
    noise=st.sampled_from([0.0, 0.3, 1.0]),
    seed=st.integers(0, 1000),
)
def test_homography_from_the_top_is_opencvs(tilt, azimuth, noise, seed):
    # The camera over a 60 × 80 in top in 12 MP, points at junctions.
    a = math.radians(azimuth)
    lean, _ = cv2.Rodrigues(math.radians(tilt) * np.array([math.cos(a), math.sin(a), 0]))
    shift = np.array([0, 0, 110.0]) - lean @ [30.0, 40.0, 0]
    camera = np.array([[3000, 0, 1999.5], [0, 3000, 1499.5], [0, 0, 1.0]])
    true = camera @ np.column_stack([lean[:, 0], lean[:, 1], shift])
    x, y = np.meshgrid(np.linspace(0, 60, 7), np.linspace(0, 80, 9))
    top = np.column_stack([x.ravel(), y.ravel()])
    exact = apply(true, top)
    pixels = exact + np.random.default_rng(seed).normal(0, 1, exact.shape) * noise
    ours = fit(top, pixels)
    theirs, _ = cv2.findHomography(top, pixels)
    if noise == 0:
        assert apply(ours, top) == pytest.approx(exact, abs=1e-6)
    # Least algebraic error against least geometric: they part by less than one point's noise
    # (measured over 300 cameras: median 0.13 of it, at most 0.51).  OpenCV works in single
    # precision here, good to a thousandth of a pixel.
    apart = np.hypot(*(apply(ours, top) - apply(theirs, top)).T)
    assert apart.max() <= noise + 1e-3
