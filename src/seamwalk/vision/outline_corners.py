"""The corners of a mask: straight sides fitted to its edge, met with one another."""

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.errors import TopNotFoundError
from seamwalk.geometry.projective import Points

Mask = NDArray[np.bool_]

SIDE_DEG = 12.0
"""Two neighbouring sides of an outline differ in direction by more than this, degrees."""

BEND = 0.003
"""Bends of an edge by less than this share of its length are no corners."""


def outline_polygon(mask: Mask, within_px: float | None = None) -> Points:
    """Return the outline of a mask as a polygon with straight sides, (N, 2), sub-pixel.

    Clockwise as seen (y down).  Each side is a robust line through the mask's edge; corners are
    where neighbouring lines meet.

    Parameters
    ----------
    mask : (H, W) bool
    within_px : float or None
        The polygon stays this near to the mask's edge, pixels; None for a share of its length.

    Raises
    ------
    TopNotFoundError
        If the mask is empty or thinner than a polygon can be.

    References
    ----------
    Douglas and Peucker, Cartographica 10(2), 1973.
    """
    big = np.kron(np.pad(mask, 1).astype(np.uint8), np.ones((2, 2), np.uint8))
    found, _ = cv2.findContours(
        np.asarray(big, dtype=np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    rings = [np.asarray(c).reshape(-1, 2) for c in found]
    rings = [r for r in rings if len(r) >= 12 and cv2.contourArea(r.astype(np.float32)) > 16]
    if not rings:
        raise TopNotFoundError(
            "No outline of a top was found.", "Photograph the whole top on a plain floor."
        )
    ring = max(rings, key=lambda r: cv2.contourArea(r.astype(np.float32)))
    edge = _crack(ring.astype(np.float64))
    # The ring is in doubled pixels.
    bend = 2 * BEND * len(ring) if within_px is None else 2 * within_px
    rough = np.asarray(cv2.approxPolyDP(ring.astype(np.float32), bend, True)).reshape(-1, 2)
    corners = [int(np.argmin(((ring - c) ** 2).sum(axis=1))) for c in rough]
    corners = sorted(set(corners))
    if len(corners) < 3:
        box = np.asarray(cv2.boxPoints(cv2.minAreaRect(ring.astype(np.float32))))
        return ordered(box / 2 - 1.25)
    return clockwise(_lines_met(edge, corners))


def simplified(ring: Points, within_px: float) -> Points:
    """Return the ring (N, 2) without corners that move it by no more than `within_px`."""
    near = np.asarray(cv2.approxPolyDP(ring.astype(np.float32), within_px, True)).reshape(-1, 2)
    gap = np.abs(near[:, None] - ring[None]).sum(axis=2)
    kept = ring[np.sort(gap.argmin(axis=1))]
    return kept if len(kept) >= 3 else ring


def clockwise(ring: Points) -> Points:
    """Return the ring (N, 2) in the order that is clockwise as seen (y down)."""
    x, y = ring.T
    return ring if float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) > 0 else ring[::-1]


def _crack(ring: Points) -> Points:
    """Return the ring of doubled pixels moved out by half a doubled pixel, in mask pixels."""
    ahead, behind = np.roll(ring, -1, axis=0), np.roll(ring, 1, axis=0)
    way = ahead - behind
    length = np.hypot(way[:, 0], way[:, 1])
    signed = float((ring[:, 0] * ahead[:, 1] - ring[:, 1] * ahead[:, 0]).sum())
    turn = 1.0 if signed > 0 else -1.0
    outward = np.stack([way[:, 1], -way[:, 0]], axis=1) * turn
    outward = np.divide(
        outward, length[:, None], out=np.zeros_like(ring), where=length[:, None] > 0
    )
    return (ring + 0.5 * outward) / 2 - 1.25


def _lines_met(edge: Points, corners: list[int]) -> Points:
    n = len(edge)
    lines: list[tuple[Points, Points]] = []
    for k, start in enumerate(corners):
        stop = corners[(k + 1) % len(corners)]
        count = (stop - start) % n
        trim = min(count // 8, 12)
        index = (start + trim + np.arange(max(count - 2 * trim, 2))) % n
        points = edge[index]
        vx, vy, x0, y0 = (
            float(v)
            for v in np.asarray(
                cv2.fitLine(points.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)
            ).ravel()
        )
        base = np.array([x0, y0])
        lines.append((base, base + [vx, vy]))
    out = []
    for k, start in enumerate(corners):
        (a, b), (c, d) = lines[k - 1], lines[k]
        u, v = b - a, d - c
        turn = abs(float(u[0] * v[1] - u[1] * v[0]))
        here = meeting(a, b, c, d) if turn > np.sin(np.radians(SIDE_DEG)) else None
        if here is None or float(np.hypot(*(here - edge[start]))) > 0.02 * n:
            here = edge[start]
        out.append(here)
    return np.array(out)


def four_corners(polygon: Points) -> Points:
    """Return four corners (4, 2) of a ring: upper left, upper right, lower right, lower left.

    For a top with more than four sides: the corners of a quadrilateral round it, made by
    lengthening the sides beside the one whose end then adds the least area, again and again.
    """
    if len(polygon) == 4:
        return ordered(polygon)
    ring = polygon.astype(np.float32).reshape(-1, 1, 2)
    hull = clockwise(np.asarray(cv2.convexHull(ring)).reshape(-1, 2).astype(np.float64))
    while len(hull) > 4:
        added = [_beyond(hull, side) for side in range(len(hull))]
        side = int(np.argmin([area for area, _ in added]))
        tip = added[side][1]
        if tip is None:
            break
        hull[side] = tip
        hull = np.delete(hull, (side + 1) % len(hull), axis=0)
    if len(hull) != 4:
        return ordered(np.asarray(cv2.boxPoints(cv2.minAreaRect(ring)), dtype=np.float64))
    return ordered(hull)


def _beyond(hull: Points, side: int) -> tuple[float, Points | None]:
    """Return where the sides beside one of a convex ring meet beyond it, and the area added."""
    n = len(hull)
    before, a, b, after = (hull[(side + k) % n] for k in (-1, 0, 1, 2))
    tip = meeting(before, a, b, after)
    along, out = b - a, a - before
    if tip is None or float((tip - a) @ out) < 0:
        return np.inf, None
    area = abs(float(along[0] * (tip - a)[1] - along[1] * (tip - a)[0])) / 2
    return area, tip


def ordered(quad: ArrayLike) -> Points:
    """Return four corners clockwise as seen (y down), the upper left one first."""
    q = np.asarray(quad, dtype=np.float64).reshape(4, 2)
    middle = q.mean(axis=0)
    q = q[np.argsort(np.arctan2(q[:, 1] - middle[1], q[:, 0] - middle[0]))]
    first = int(np.argmin((q - q.min(axis=0)) @ [1.0, 1.0]))
    return np.roll(q, -first, axis=0)


def meeting(a: Points, b: Points, c: Points, d: Points) -> Points | None:
    """Return where the lines ab and cd meet, or None if they are parallel."""
    u, v = b - a, d - c
    cross = float(u[0] * v[1] - u[1] * v[0])
    if abs(cross) < 1e-6 * max(float(np.hypot(*u) * np.hypot(*v)), 1e-12):
        return None
    w = c - a
    out: Points = a + u * float(w[0] * v[1] - w[1] * v[0]) / cross
    return out
