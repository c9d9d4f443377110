"""A fit's covariance as a handful of moved cameras.

Whoever needs the ± of a length measures it once with the best camera and once with each mode;
the squares of the differences add up to the variance.  The modes are the columns of a square
root of the covariance of lens and pose, each registered rigidly on the best camera, since where
the frame lies says nothing about sizes.

References
----------
Principal components of the correlation matrix: Jolliffe, Principal Component Analysis, 2nd ed.,
§ 2.3.  Rigid registration: Kabsch, Acta Cryst. A32:922, 1976.
"""

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Matrix, Points, similarity
from seamwalk.model.picture import Photo, View
from seamwalk.vision.camera_model import camera_from

Floats = NDArray[np.float64]

FARTHEST_IN = 200.0
"""Points of the picture farther from its middle than this say nothing about a top, inches."""


def seen_on_cloth(photo: Photo, view: View, steps: int = 9) -> Points:
    """Return where an even grid of the picture's pixels lies on the cloth, (N, 2) inches.

    Pixels above the horizon, and beyond 200 in from the picture's middle, are left out.
    """
    x = np.linspace(0, photo.width_px - 1, steps)
    y = np.linspace(0, photo.height_px - 1, steps)
    px = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    middle = np.array([[(photo.width_px - 1) / 2, (photo.height_px - 1) / 2]])
    rays = np.column_stack([view.lens.ray_from_px(np.vstack([middle, px])), np.ones(len(px) + 1)])
    q = rays @ view.top_from_ray.T
    ahead = q[1:, 2] * q[0, 2] > 0
    centre = q[0, :2] / q[0, 2]
    flat = q[1:][ahead, :2] / q[1:][ahead, 2:]
    near = np.hypot(*(flat - centre).T) <= FARTHEST_IN
    out: Points = flat[near]
    return out


def modes_from(
    photo: Photo, theta: Floats, covariance: Floats, negligible_in: float
) -> tuple[View, ...]:
    """Return the cameras moved by one standard deviation along each principal direction.

    Parameters
    ----------
    photo : Photo
        Whose picture the camera took.
    theta : (≥ 12,) float64
        Best parameters, lens and pose first.
    covariance : (≥ 12, ≥ 12) float64
        Of the parameters.
    negligible_in : float
        Modes that change no distance in the picture by more are left out, inches.
    """
    best = camera_from(theta).view
    cov = covariance[:12, :12]
    sigma = np.sqrt(np.maximum(np.diag(cov), 1e-30))
    values, vectors = np.linalg.eigh(cov / np.outer(sigma, sigma))
    points = seen_on_cloth(photo, best)
    px = best.px_from_top(points)
    kept: list[tuple[float, View]] = []
    for value, vector in zip(values, vectors.T, strict=True):
        if value <= 0:
            continue
        moved_theta = np.array(theta[:12])
        moved_theta += sigma * vector * np.sqrt(value)
        view = camera_from(moved_theta).view
        view = registered(view, px, points)
        off = np.hypot(*(view.top_from_px(px) - points).T)
        change = float(off[np.isfinite(off)].max(initial=0.0))
        if change >= negligible_in:
            kept.append((change, view))
    kept.sort(key=lambda item: -item[0])
    return tuple(view for _, view in kept)


def registered(view: View, px: Points, points: Points) -> View:
    """Return a view with its frame laid so that pixels `px` (N, 2) best show `points` (N, 2)."""
    at = view.top_from_px(px)
    usable = np.isfinite(at).all(axis=1)
    return view.moved(rigid_motion(at[usable], points[usable]))


def rigid_motion(source: Points, target: Points) -> Matrix:
    """Return the rotation and shift (3, 3) that best lays `source` (N, 2) on `target` (N, 2)."""
    a, b = source.mean(axis=0), target.mean(axis=0)
    p, q = source - a, target - b
    angle = float(np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum()))
    turn = similarity(angle, (0.0, 0.0))
    return similarity(angle, b - turn[:2, :2] @ a)


def spread_in(view: View, modes: tuple[View, ...], points: Points) -> Floats:
    """Return the standard deviation of the place of `points` (N, 2), inches, shape (N,)."""
    px = view.px_from_top(points)
    variance = np.zeros(len(points))
    for mode in modes:
        variance += ((mode.top_from_px(px) - points) ** 2).sum(axis=1)
    out: Floats = np.sqrt(variance)
    return out
