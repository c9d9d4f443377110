"""Polygons as rings (N, 2), the first point not repeated at the end, or as shapely shapes."""

import math

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from seamwalk.geometry.projective import Points


def signed_area(ring: ArrayLike) -> float:
    """Return the area of a ring, positive when it turns from x towards y.

    On a page whose y points down, positive is clockwise.

    References
    ----------
    The surveyor's (shoelace) formula; coordinates are taken from the first point, so that a ring
    far from the origin loses no digits.
    """
    p = np.asarray(ring, dtype=np.float64)
    x, y = (p - p[0]).T
    return float(0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def ring_of(polygon: Polygon) -> Points:
    """Return the exterior of a polygon as (N, 2) without the repeated last point."""
    return shapely.get_coordinates(polygon.exterior)[:-1]


def oriented(ring: ArrayLike) -> Points:
    """Return the ring turning from x towards y, starting at the same point."""
    p = np.asarray(ring, dtype=np.float64)
    return p if signed_area(p) >= 0 else np.concatenate([p[:1], p[:0:-1]])


def side_lengths(ring: ArrayLike) -> NDArray[np.float64]:
    """Return the length of each side, from point i to point i + 1, shape (N,)."""
    p = np.asarray(ring, dtype=np.float64)
    d = np.roll(p, -1, axis=0) - p
    out: NDArray[np.float64] = np.hypot(d[:, 0], d[:, 1])
    return out


def inner_angles_deg(ring: ArrayLike) -> NDArray[np.float64]:
    """Return the inner angle at each vertex of a simple ring, degrees, shape (N,).

    They sum to 180·(N − 2).
    """
    p = oriented(ring)
    a, b = p - np.roll(p, 1, axis=0), np.roll(p, -1, axis=0) - p
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    inner: NDArray[np.float64] = 180.0 - np.degrees(turn)
    if signed_area(ring) < 0:
        inner = np.concatenate([inner[:1], inner[:0:-1]])
    return inner


def inner_width(polygon: Polygon, *, tolerance: float = 0.01) -> float:
    """Return the diameter of the largest circle inside the polygon.

    Parameters
    ----------
    tolerance : float
        How exactly the circle is found, in the polygon's unit.
    """
    return 2.0 * float(shapely.maximum_inscribed_circle(polygon, tolerance=tolerance).length)


def off_ring(point: tuple[float, float], ring: list[list[float]]) -> float:
    """Return the distance of a point from a closed ring's outline.

    Parameters
    ----------
    ring : list of [x, y]
        Without its first point repeated; a handful, for which plain numbers are faster than
        arrays.
    """
    x, y = point
    best = math.inf
    ax, ay = ring[-1]
    for bx, by in ring:
        dx, dy = bx - ax, by - ay
        t = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)
        t = min(1.0, max(0.0, t))
        best = min(best, math.hypot(x - ax - t * dx, y - ay - t * dy))
        ax, ay = bx, by
    return best
