"""The camera fitted to squares against OpenCV's solvePnP and calibrateCamera."""

import math

import cv2
import numpy as np
import pytest

from seamwalk.model.picture import Photo, Reference
from seamwalk.vision.camera_fit import FitSettings
from seamwalk.vision.rectify import fit_camera

WIDTH, HEIGHT = 4000, 3000
FOCAL = 26 * 5000 / math.hypot(36, 24)
CENTRE = ((WIDTH - 1) / 2, (HEIGHT - 1) / 2)
MATRIX = np.array([[FOCAL, 0, CENTRE[0]], [0, FOCAL, CENTRE[1]], [0, 0, 1.0]])
RGB = np.broadcast_to(np.zeros(3, np.uint8), (HEIGHT, WIDTH, 3))
SQUARE = np.array([[-3.0, -3], [3, -3], [3, 3], [-3, 3]])
CERTAIN = FitSettings(
    centre_sigma=1e-8,
    k_sigma=(1e-7, 1e-7, 1e-7),
    side_sigma_in=1e-7,
    stretch_sigma_in=1e-7,
    height_in=0.0,
    height_sigma_in=1e-7,
    lie_sigma_in=1e-7,
)
"""Lens and card known: what is left to find is the pose, as for solvePnP."""


def pose(tilt_deg, azimuth_deg, turn_deg, distance, at=(0.0, 0.0)):
    """Return rotation vector and shift of a plane seen from above."""
    a = math.radians(azimuth_deg)
    lean, _ = cv2.Rodrigues(math.radians(tilt_deg) * np.array([math.cos(a), math.sin(a), 0]))
    turn, _ = cv2.Rodrigues(np.array([0, 0, math.radians(turn_deg)]))
    rotation = lean @ turn
    vector, _ = cv2.Rodrigues(rotation)
    return vector.ravel(), np.array([0, 0, distance]) - rotation @ [*at, 0]


def seen(points, vector, shift, matrix=MATRIX, distortion=None):
    space = np.column_stack([points, np.zeros(len(points))])
    return cv2.projectPoints(space, vector, shift, matrix, distortion)[0].reshape(-1, 2)


def on_plane(pixels, vector, shift, matrix, distortion=None):
    """Return where OpenCV's camera sees pixels on the plane, inches."""
    rays = cv2.undistortPoints(np.asarray(pixels, float)[:, None], matrix, distortion)
    rotation, _ = cv2.Rodrigues(np.asarray(vector, float))
    h = np.linalg.inv(np.column_stack([rotation[:, 0], rotation[:, 1], np.ravel(shift)]))
    return cv2.perspectiveTransform(rays, h).reshape(-1, 2)


def distances(points):
    return np.linalg.norm(points[:, None] - points[None], axis=2)[np.triu_indices(len(points), 1)]


@pytest.mark.parametrize("tilt", [8, 20, 35, 45])
@pytest.mark.parametrize("azimuth", [10, 130, 250])
def test_one_square_gives_solvepnps_pose(tilt, azimuth):
    rng = np.random.default_rng(tilt * 1000 + azimuth)
    vector, shift = pose(tilt, azimuth, 25, 40.0)
    corners = seen(SQUARE, vector, shift) + rng.normal(0, 0.1, (4, 2))
    card = Reference(corners, 6.0, "card", 0, sigma_px=0.1)
    photo = Photo(RGB, "drawn", focal_px=FOCAL, focal_sigma=1e-8)
    found = fit_camera(photo, (card,), settings=CERTAIN)
    view = found.view

    space = np.column_stack([SQUARE, np.zeros(4)])
    # Started at the truth, its iterative method finds the same minimum of squared pixels.
    _, r, t = cv2.solvePnP(
        space,
        corners,
        MATRIX,
        None,
        vector.copy(),
        shift.copy(),
        useExtrinsicGuess=True,
        flags=cv2.SOLVEPNP_ITERATIVE,
    )
    where = np.array([[700, 500], [3300, 500], [3300, 2500], [700, 2500], [2000, 1500.0]])
    assert view.lens.focal_px == pytest.approx(FOCAL, rel=1e-6)
    # Lengths, since each has its own frame on the cloth.
    theirs = distances(on_plane(where, r, t, MATRIX))
    assert distances(view.top_from_px(where)) == pytest.approx(theirs, abs=2e-3)
    miss = seen(SQUARE, r, t) - corners
    assert found.rms_px == pytest.approx(np.sqrt(np.mean(miss**2)), rel=1e-3)


@pytest.mark.parametrize("tilt", [0, 12, 30, 45])
def test_the_pose_kept_is_the_better_of_opencvs_two(tilt):
    # A square far off allows two poses (Collins and Bartoli, IJCV 109:252); with no noise the
    # right one fits exactly.
    vector, shift = pose(tilt, 70, -15, 90.0, at=(20, 10))
    corners = seen(SQUARE, vector, shift)
    photo = Photo(RGB, "drawn", focal_px=FOCAL, focal_sigma=1e-8)
    card = Reference(corners, 6.0, "card", 0, sigma_px=0.02)
    view = fit_camera(photo, (card,), settings=CERTAIN).view
    space = np.column_stack([SQUARE, np.zeros(4)])
    _, turns, shifts, errors = cv2.solvePnPGeneric(
        space, corners, MATRIX, None, flags=cv2.SOLVEPNP_IPPE
    )
    best = int(np.argmin(np.ravel(errors)))
    where = np.array([[1500, 1000], [2500, 1000], [2500, 2000.0]])
    theirs = distances(on_plane(where, turns[best], shifts[best], MATRIX))
    assert distances(view.top_from_px(where)) == pytest.approx(theirs, abs=2e-2)


def test_squares_measure_the_same_as_a_calibrated_camera_within_their_plus_minus():
    # OpenCV calibrates from twelve views of one board with 63 known points; each single photo of
    # two cards then has its own fit, with nothing but the file's focal length, 2 % off.  Lengths
    # on the cloth are compared over the ± that the fit itself states.
    rng = np.random.default_rng(17)
    distortion = np.array([0.02, -0.008, 0, 0, 0.0])
    x, y = np.meshgrid(np.arange(9) * 6.0, np.arange(7) * 6.0)
    board = np.column_stack([x.ravel(), y.ravel()]) - [24, 18]
    poses = [
        pose(rng.uniform(5, 35), 30 * k, rng.uniform(-20, 20), rng.uniform(55, 70))
        for k in range(12)
    ]
    pictures = [
        seen(board, r, t, MATRIX, distortion) + rng.normal(0, 0.1, board.shape) for r, t in poses
    ]
    space = np.column_stack([board, np.zeros(len(board))]).astype(np.float32)
    rms, matrix, found, vectors, shifts = cv2.calibrateCamera(
        [space] * len(poses),
        [p.astype(np.float32) for p in pictures],
        (WIDTH, HEIGHT),
        MATRIX.copy(),
        np.zeros(5),
        flags=cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3,
    )
    assert rms < 0.2
    assert matrix[0, 0] == pytest.approx(FOCAL, rel=2e-3)

    photo = Photo(RGB, "drawn", focal_px=FOCAL * 1.02)
    exact = FitSettings(
        height_in=0.0,
        height_sigma_in=1e-4,
        lie_sigma_in=1e-4,
        side_sigma_in=1e-4,
        stretch_sigma_in=1e-4,
        corner_sigma_px=0.0,
    )
    scores = []
    for picture, r, t in zip(pictures, vectors, shifts, strict=True):
        cards = tuple(
            Reference(
                seen(SQUARE + at, np.ravel(r), np.ravel(t), matrix, found)
                + rng.normal(0, 0.1, (4, 2)),
                6.0,
                "card",
                k,
                sigma_px=0.1,
            )
            for k, at in enumerate([(-20, -14), (20, 14)])
        )
        fitted = fit_camera(photo, cards, settings=exact)
        ends = picture[[0, 8, 62, 54, 31]]
        theirs = distances(on_plane(ends, r, t, matrix, found))
        ours = distances(fitted.view.top_from_px(ends))
        modes = np.array([distances(m.top_from_px(ends)) - ours for m in fitted.modes])
        scores.append((ours - theirs) / np.sqrt((modes**2).sum(axis=0)))
    z = np.array(scores)
    # χ² of correlated lengths from twelve photos: wide, yet 1 within a factor of two.
    assert 0.4 < float(np.sqrt(np.mean(z**2))) < 1.6
    assert np.abs(z).max() < 4
