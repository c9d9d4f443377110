"""Homographies: fit, apply, local scale.

A homography is a (3, 3) float64 matrix named ``b_from_a``; points are (N, 2) in (x, y).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]
Matrix = NDArray[np.float64]


def apply(b_from_a: Matrix, points: ArrayLike) -> Points:
    """Return `points` (N, 2) moved by the homography, (N, 2).

    Points on or behind the horizon line come back as infinities or with flipped sign; callers
    that can meet the horizon test the third coordinate themselves.
    """
    xy = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    q = xy @ b_from_a[:, :2].T + b_from_a[:, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        out: Points = q[:, :2] / q[:, 2:]
    return out


def fit(source: ArrayLike, target: ArrayLike) -> Matrix:
    """Return the homography that takes `source` (N, 2) to `target` (N, 2), N >= 4.

    Normalised direct linear transform; least algebraic error for N > 4.

    Raises
    ------
    ValueError
        If there are fewer than four pairs or the points are degenerate.

    References
    ----------
    Hartley and Zisserman, Multiple View Geometry, 2nd ed., algorithm 4.2.
    """
    src = np.asarray(source, dtype=np.float64).reshape(-1, 2)
    dst = np.asarray(target, dtype=np.float64).reshape(-1, 2)
    if len(src) < 4 or len(src) != len(dst):
        raise ValueError("a homography needs at least four pairs of points")
    ts, td = _normaliser(src), _normaliser(dst)
    s, d = apply(ts, src), apply(td, dst)
    rows = np.zeros((2 * len(s), 9))
    rows[0::2, 3:5], rows[0::2, 5] = -s, -1
    rows[0::2, 6:8], rows[0::2, 8] = s * d[:, 1:], d[:, 1]
    rows[1::2, 0:2], rows[1::2, 2] = s, 1
    rows[1::2, 6:8], rows[1::2, 8] = -s * d[:, :1], -d[:, 0]
    _, sv, vt = np.linalg.svd(rows)
    if sv[7] < 1e-12 * sv[0]:
        raise ValueError("the points do not fix a homography")
    h: Matrix = np.linalg.inv(td) @ vt[-1].reshape(3, 3) @ ts
    return h / h[2, 2] if abs(h[2, 2]) > 1e-12 else h


def from_unit_square(corners: ArrayLike) -> Matrix:
    """Return the homography that takes (0, 0), (1, 0), (1, 1) and (0, 1) to `corners` (4, 2).

    The same as `fit` gives, in a few multiplications.

    Raises
    ------
    ValueError
        If three of the corners lie on a line.

    References
    ----------
    Heckbert, Fundamentals of texture mapping and image warping, 1989, § 2.2.3.
    """
    c = np.asarray(corners, dtype=np.float64).reshape(4, 2)
    (ax, ay), (bx, by), (sx, sy) = (c[1] - c[2]), (c[3] - c[2]), (c[0] - c[1] + c[2] - c[3])
    det = ax * by - bx * ay
    if abs(det) < 1e-12 * max(1.0, float(np.abs(c).max())):
        raise ValueError("the points do not fix a homography")
    g, h = (sx * by - bx * sy) / det, (ax * sy - sx * ay) / det
    first, last = c[1] - c[0] + g * c[1], c[3] - c[0] + h * c[3]
    out: Matrix = np.array(
        [[first[0], last[0], c[0, 0]], [first[1], last[1], c[0, 1]], [g, h, 1.0]]
    )
    return out


def _normaliser(points: Points) -> Matrix:
    """Return the similarity that centres points at 0 with mean distance sqrt 2."""
    centre = points.mean(axis=0)
    mean = float(np.hypot(*(points - centre).T).mean())
    if mean <= 0:
        raise ValueError("the points coincide")
    k = np.sqrt(2) / mean
    return np.array([[k, 0, -k * centre[0]], [0, k, -k * centre[1]], [0, 0, 1.0]])


def jacobian(b_from_a: Matrix, points: ArrayLike) -> NDArray[np.float64]:
    """Return d(b)/d(a) at each point, (N, 2, 2)."""
    xy = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    q = xy @ b_from_a[:, :2].T + b_from_a[:, 2]
    b = q[:, :2] / q[:, 2:]
    out: NDArray[np.float64] = (
        b_from_a[None, :2, :2] - b[:, :, None] * b_from_a[None, 2:3, :2]
    ) / q[:, 2][:, None, None]
    return out


def similarity(angle_rad: float, shift: ArrayLike, scale: float = 1.0) -> Matrix:
    """Return the matrix that scales, turns x towards y by `angle_rad`, then shifts."""
    c, s = np.cos(angle_rad) * scale, np.sin(angle_rad) * scale
    dx, dy = np.asarray(shift, dtype=np.float64)
    return np.array([[c, -s, dx], [s, c, dy], [0.0, 0.0, 1.0]])
