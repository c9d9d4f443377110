"""Polylines as (N, 2) arrays: length, resampling, turning, corners, simplification."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.projective import Points


def length(points: ArrayLike) -> float:
    """Return the length of an open polyline (N, 2)."""
    d = np.diff(np.asarray(points, dtype=np.float64), axis=0)
    return float(np.hypot(d[:, 0], d[:, 1]).sum())


def resample(points: ArrayLike, spacing: float) -> Points:
    """Return points at most `spacing` apart along the polyline, both ends kept exactly."""
    p = np.asarray(points, dtype=np.float64)
    d = np.hypot(*np.diff(p, axis=0).T)
    s = np.concatenate([[0.0], np.cumsum(d)])
    n = max(1, int(np.ceil(s[-1] / spacing)))
    t = np.linspace(0.0, s[-1], n + 1)
    out = np.column_stack([np.interp(t, s, p[:, 0]), np.interp(t, s, p[:, 1])])
    out[0], out[-1] = p[0], p[-1]
    return out


def turning_rad(points: ArrayLike, *, closed: bool = False) -> NDArray[np.float64]:
    """Return the signed turn at each vertex, radians, x towards y positive.

    Shape (N - 2,) for an open polyline, (N,) for a closed ring given without its last point
    repeated.
    """
    p = np.asarray(points, dtype=np.float64)
    if closed:
        a, b = p - np.roll(p, 1, axis=0), np.roll(p, -1, axis=0) - p
    else:
        d = np.diff(p, axis=0)
        a, b = d[:-1], d[1:]
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    out: NDArray[np.float64] = np.arctan2(cross, (a * b).sum(axis=1))
    return out


CORNER_DEG = 8.0
"""A ring turns a corner where it bends by more than this, degrees: piecing wobble is below 2°,
the flattest true corner of a pieced patch (a hexagon or octagon) above 40°."""


def corners(ring: ArrayLike, *, corner_deg: float = CORNER_DEG) -> NDArray[np.intp]:
    """Return the indices of the vertices where a closed ring turns by more than `corner_deg`."""
    p = np.asarray(ring, dtype=np.float64)
    return np.flatnonzero(np.abs(turning_rad(p, closed=True)) > np.radians(corner_deg))
