"""Exact curves cut by polygons.

Lines stay lines and arcs stay arcs: a curve is cut where its pieces meet the polygon's sides, and
the parts whose middles lie inside are kept.  Ends that were inside or on the boundary keep their
coordinates to the last bit, so that curves that shared an end still share it.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry import MultiPolygon
from shapely.geometry.polygon import orient

from seamwalk.geometry.curve import Arc, Curve, Piece, Point

SAME_PLACE_IN = 1e-6
"""Two points closer than this are one place, inches: far below a thread, far above rounding."""


def inset(polygon: Polygon, distance: float) -> Polygon | None:
    """Return `polygon` shrunk by `distance` with mitred corners, or None if nothing is left.

    The interior lies to the right of the ring's way on a page with y down.  If the shape falls
    apart, the largest part comes back.
    """
    shrunk = polygon.buffer(-distance, join_style="mitre", mitre_limit=5.0)
    part = largest(shrunk)
    return None if part is None else turned_right(part)


def insets(polygons: Sequence[Polygon], distance: float) -> list[Polygon | None]:
    """Return `inset` of many polygons, found together."""
    shrunk = shapely.buffer(
        np.array(polygons, dtype=object), -distance, join_style="mitre", mitre_limit=5.0
    )
    parts = (largest(shape) for shape in shrunk)
    return [None if part is None else turned_right(part) for part in parts]


def largest(shape: shapely.Geometry) -> Polygon | None:
    """Return the largest polygon in `shape`, or None if it has no area."""
    if isinstance(shape, Polygon):
        return None if shape.is_empty or shape.area <= 0 else shape
    parts = [p for p in getattr(shape, "geoms", ()) if isinstance(p, Polygon | MultiPolygon)]
    found = [q for q in map(largest, parts) if q is not None]
    return max(found, key=lambda q: q.area, default=None)


def turned_right(polygon: Polygon) -> Polygon:
    """Return the polygon with its ring run so that the inside lies to the right (y down)."""
    return orient(polygon, 1.0)


def clip(curve: Curve, polygon: Polygon, tolerance: float = SAME_PLACE_IN) -> list[Curve]:
    """Return the parts of `curve` inside `polygon`, in the curve's order.

    Parameters
    ----------
    curve : Curve
        Open or closed; a closed curve is cut at its start as well.
    polygon : Polygon
        Without holes.
    tolerance : float
        Parts shorter than this are dropped, and cuts closer than this to an end of a piece are
        taken for that end.

    Notes
    -----
    A part that runs along the boundary may be kept or not.
    """
    ring = np.asarray(polygon.exterior.coords, dtype=np.float64)
    cuts = [0.0]
    at = 0.0
    for piece in curve:
        length = piece.length
        for t in _crossings(piece, ring):
            s = t * length
            if tolerance < s < length - tolerance:
                cuts.append(at + s)
        at += length
        cuts.append(at)
    cuts.sort()
    spans: list[tuple[float, float]] = []
    for s0, s1 in pairwise(cuts):
        if s1 - s0 <= tolerance or not _inside(curve, (s0 + s1) / 2, polygon):
            continue
        if spans and s0 - spans[-1][1] <= tolerance:
            spans[-1] = (spans[-1][0], s1)
        else:
            spans.append((s0, s1))
    return [
        curve
        if s0 <= tolerance and s1 >= at - tolerance
        else curve.part(0.0 if s0 <= tolerance else s0, math.inf if s1 >= at - tolerance else s1)
        for s0, s1 in spans
    ]


def _inside(curve: Curve, s: float, polygon: Polygon) -> bool:
    x, y = place_at(curve, s)
    return bool(shapely.contains_xy(polygon, x, y))


def place_at(curve: Curve, s: float) -> Point:
    """Return the point at arc length `s` of the curve (clamped to its ends)."""
    for piece in curve:
        if s <= piece.length:
            return piece.at(max(0.0, s / piece.length))
        s -= piece.length
    return curve.end


def _crossings(piece: Piece, ring: NDArray[np.float64]) -> list[float]:
    """Return the fractions of `piece` where it meets the ring (N, 2), first point repeated."""
    a, d = ring[:-1], np.diff(ring, axis=0)
    if isinstance(piece, Arc):
        return _arc_crossings(piece, a, d)
    p = np.array(piece.start)
    e = np.array(piece.end) - p
    cross = e[0] * d[:, 1] - e[1] * d[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        w = a - p
        t = (w[:, 0] * d[:, 1] - w[:, 1] * d[:, 0]) / cross
        u = (w[:, 0] * e[1] - w[:, 1] * e[0]) / cross
    slack = 1e-12
    good = np.isfinite(t) & (u >= -slack) & (u <= 1 + slack) & (t >= 0) & (t <= 1)
    return [float(x) for x in t[good]]


def _arc_crossings(arc: Arc, a: NDArray[np.float64], d: NDArray[np.float64]) -> list[float]:
    """Solve |a + u d − centre| = radius for u in [0, 1]; return fractions of the sweep."""
    w = a - np.array(arc.centre)
    qa = (d * d).sum(axis=1)
    qb = (w * d).sum(axis=1)
    qc = (w * w).sum(axis=1) - arc.radius**2
    disc = qb * qb - qa * qc
    ok = (disc >= 0) & (qa > 0)
    if not ok.any():
        return []
    root = np.sqrt(disc[ok])
    first = math.atan2(arc.start[1] - arc.centre[1], arc.start[0] - arc.centre[0])
    sign = math.copysign(1.0, arc.sweep_rad)
    out: list[float] = []
    for u in ((-qb[ok] - root) / qa[ok], (-qb[ok] + root) / qa[ok]):
        hit = (u >= -1e-12) & (u <= 1 + 1e-12)
        q = w[ok][hit] + u[hit, None] * d[ok][hit]
        turn = np.mod(sign * (np.arctan2(q[:, 1], q[:, 0]) - first), 2 * math.pi)
        t = turn / abs(arc.sweep_rad)
        out += [float(x) for x in t[t <= 1]]
    return out
