"""Fitting the straight sides of a top: moving the sides of a quadrilateral, corners of a mask."""

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.errors import TopNotFoundError
from seamwalk.geometry.projective import Points

Mask = NDArray[np.bool_]
Float = NDArray[np.float32]

EDGE_LAB = 4.0
"""Colour step that counts as an edge, CIELAB units: noise and wood grain stay below."""

EDGE_WEIGHT = 3.0
"""What a clear edge is worth against one pixel's evidence, nats."""

WINDOW_PX = 3.0
"""Depth of cloth and of floor that are compared at an edge, pixels."""

SIDE_DEG = 12.0
"""Two neighbouring sides of an outline differ in direction by more than this, degrees."""


def ordered(quad: ArrayLike) -> Points:
    """Return four corners clockwise as seen (y down), the upper left one first."""
    q = np.asarray(quad, dtype=np.float64).reshape(4, 2)
    middle = q.mean(axis=0)
    q = q[np.argsort(np.arctan2(q[:, 1] - middle[1], q[:, 0] - middle[0]))]
    first = int(np.argmin((q - q.min(axis=0)) @ [1.0, 1.0]))
    return np.roll(q, -first, axis=0)


def quad_of(hull: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return four corners (4, 2) of a convex ring (N, 1, 2): its own if it has about four."""
    length = cv2.arcLength(hull, True)
    for share in (0.02, 0.03, 0.05, 0.08):
        rough = np.asarray(cv2.approxPolyDP(hull, share * length, True)).reshape(-1, 2)
        if len(rough) == 4 and cv2.contourArea(rough) > 0.85 * cv2.contourArea(hull):
            return rough.astype(np.float32)
    return np.asarray(cv2.boxPoints(cv2.minAreaRect(hull)), dtype=np.float32)


def best_quad(quad: Points, evidence: Float, reach_px: float) -> Points:
    """Return `quad` with each side moved where the evidence inside becomes most.

    Parameters
    ----------
    quad : (4, 2) float64
        Clockwise as seen.
    evidence : (h, w) float32
        Above zero for top, below for floor.
    reach_px : float
        Farthest that the ends of a side move.
    """
    for side in range(4):
        a, b = quad[side], quad[(side + 1) % 4]
        profile, offsets = _profiles(evidence[..., None], a, b, reach_px, 41)
        step = offsets[1] - offsets[0]
        gained = np.cumsum(profile[..., 0], axis=1) * step
        quad = _moved(quad, side, *_best_line(gained, offsets))
    return quad


def settle(quad: Points, lab: Float, evidence: Float, usable: Mask) -> Points:
    """Return `quad` with each side on the edge of the cloth, sub-pixel.

    Parameters
    ----------
    quad : (4, 2) float64
        Within a few pixels of the truth.
    lab : (h, w, 3) float32
        CIELAB.
    evidence : (h, w) float32
        Above zero for top, below for floor, nats.
    usable : (h, w) bool
        Where both can be trusted.
    """
    h, w = evidence.shape
    # Seams near the edge are edges too, so a step counts for little until the edge is near.
    # Mixed pixels on the edge speak for neither side: the last fit trusts the edge alone.
    for share, trust, most in ((0.02, 1.0, 1.5), (0.008, 0.5, 1.5), (0.003, 0.05, 3.0)):
        reach = share * (h + w)
        for side in range(4):
            a, b = quad[side], quad[(side + 1) % 4]
            # The windows of the step reach beyond the places that are tried.
            beyond = reach + WINDOW_PX + 1
            n = max(41, int(2 * beyond) | 1)
            stack = np.concatenate(
                [lab, evidence[..., None], usable[..., None].astype(np.float32)], axis=2
            )
            profile, offsets = _profiles(stack, a, b, beyond, n)
            step = offsets[1] - offsets[0]
            gained = np.cumsum(profile[..., 3], axis=1) * step
            gained -= gained.mean(axis=1, keepdims=True)
            edge = np.minimum(_edge(profile[..., :3], round(WINDOW_PX / step)), most)
            edge *= profile[..., 4] > 0.99
            score = trust * np.clip(gained, -12, 12) + EDGE_WEIGHT * edge
            tried = np.abs(offsets) <= reach
            score, offsets = score[:, tried], offsets[tried]
            quad = _moved(quad, side, *_best_line(score, offsets))
    return quad


def edge_share(quad: Points, lab: Float, usable: Mask) -> float:
    """Return the share of the weakest side of `quad` along which there is an edge, 0 to 1.

    Places that cannot be seen do not count.
    """
    shares = []
    stack = np.concatenate([lab, usable[..., None].astype(np.float32)], axis=2)
    depth = 4
    for side in range(4):
        a, b = quad[side], quad[(side + 1) % 4]
        profile, _ = _profiles(stack, a, b, WINDOW_PX + 2.0, 2 * depth + 5)
        step = _edge(profile[..., :3], depth)[:, depth:-depth].max(axis=1)
        known = profile[..., 3].min(axis=1) > 0.99
        # Twice the colour step that counts as an edge at all.
        shares.append(float((step[known] > np.log1p(2.0)).mean()) if known.any() else 0.0)
    return min(shares)


def _edge(profile: Float, depth: int) -> Float:
    """Return the logarithm of the colour step at each place of the profiles (N, M, 3).

    `depth` is the number of samples on each side that are compared; nearer to the ends there is
    no step.
    """
    depth = max(depth, 1)
    m = profile.shape[1]
    out = np.zeros(profile.shape[:2], dtype=np.float32)
    if m < 2 * depth + 1:
        return out
    total = np.cumsum(np.pad(profile, ((0, 0), (1, 0), (0, 0))), axis=1)
    mean = (total[:, depth:] - total[:, :-depth]) / depth
    # mean[:, i] covers samples i … i + depth − 1; the sample between the two sides is left out.
    jump = np.sqrt(((mean[:, : -depth - 1] - mean[:, depth + 1 :]) ** 2).sum(axis=2))
    out[:, depth : m - depth] = np.log1p(jump / EDGE_LAB)
    return out


def _profiles(
    picture: Float, a: Points, b: Points, reach_px: float, count: int
) -> tuple[Float, NDArray[np.float64]]:
    """Return profiles (N, M, C) across the side from inside to outside, and their offsets."""
    along = b - a
    length = float(np.hypot(*along))
    # Clockwise as seen with y down: the outside lies to the left of the way.
    outward = np.array([along[1], -along[0]]) / max(length, 1e-9)
    n = int(np.clip(length, 40, 400))
    t = (np.arange(n) + 0.5) / n
    offsets = np.linspace(-reach_px, reach_px, count)
    p = a + t[:, None, None] * along + offsets[None, :, None] * outward
    maps = p.astype(np.float32)
    got = [
        cv2.remap(
            np.ascontiguousarray(picture[..., k : k + 4]),
            maps[..., 0],
            maps[..., 1],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
        ).reshape(n, count, -1)
        for k in range(0, picture.shape[2], 4)
    ]
    return np.concatenate(got, axis=2), offsets


def _best_line(score: Float, offsets: NDArray[np.float64]) -> tuple[float, float]:
    """Return the offsets at both ends of the straight line with the largest sum of scores."""
    n, m = score.shape
    t = ((np.arange(n) + 0.5) / n).astype(np.float32)
    rows = np.arange(n)
    grid = np.linspace(0, m - 1, min(m, 41))
    first, second = float(grid[len(grid) // 2]), float(grid[len(grid) // 2])
    width = float(grid[1] - grid[0])
    near_a = near_b = grid
    for _ in range(3):
        best = -np.inf
        for start in near_a:
            at = start + (near_b[:, None] - start) * t
            lo = np.clip(np.floor(at), 0, m - 2).astype(np.intp)
            part = (at - lo).clip(0, 1)
            total = (score[rows, lo] * (1 - part) + score[rows, lo + 1] * part).sum(axis=1)
            k = int(total.argmax())
            if total[k] > best:
                best, first, second = float(total[k]), float(start), float(near_b[k])
        near_a = np.clip(first + np.linspace(-width, width, 9), 0, m - 1)
        near_b = np.clip(second + np.linspace(-width, width, 9), 0, m - 1)
        width /= 4
    step = offsets[1] - offsets[0]
    return float(offsets[0] + first * step), float(offsets[0] + second * step)


def _moved(quad: Points, side: int, first: float, second: float) -> Points:
    """Return `quad` with the ends of one side moved outwards; corners stay on the other sides."""
    a, b = quad[side], quad[(side + 1) % 4]
    along = b - a
    outward = np.array([along[1], -along[0]]) / max(float(np.hypot(*along)), 1e-9)
    p, q = a + first * outward, b + second * outward
    before, after = quad[side - 1], quad[(side + 2) % 4]
    corner_a, corner_b = meeting(p, q, before, a), meeting(p, q, b, after)
    if corner_a is None or corner_b is None:
        return quad
    out = quad.copy()
    out[side], out[(side + 1) % 4] = corner_a, corner_b
    area = 0.5 * float(
        (out[:, 0] * np.roll(out[:, 1], -1) - out[:, 1] * np.roll(out[:, 0], -1)).sum()
    )
    return out if area > 1.0 else quad


def meeting(a: Points, b: Points, c: Points, d: Points) -> Points | None:
    """Return where the lines ab and cd meet, or None if they are parallel."""
    u, v = b - a, d - c
    cross = float(u[0] * v[1] - u[1] * v[0])
    if abs(cross) < 1e-6 * max(float(np.hypot(*u) * np.hypot(*v)), 1e-12):
        return None
    w = c - a
    out: Points = a + u * float(w[0] * v[1] - w[1] * v[0]) / cross
    return out


def outline_polygon(mask: Mask) -> Points:
    """Return the outline of a mask as a polygon with straight sides, (N, 2), sub-pixel.

    Clockwise as seen (y down).  Each side is a robust line through the mask's edge; corners are
    where neighbouring lines meet.

    Raises
    ------
    TopNotFoundError
        If the mask is empty or thinner than a polygon can be.
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
    # Doubled pixels: both halves of an edge pixel average to the pixel's own edge, less a quarter.
    edge = _crack(ring.astype(np.float64))
    rough = np.asarray(
        cv2.approxPolyDP(ring.astype(np.float32), 0.006 * float(len(ring)), True)
    ).reshape(-1, 2)
    corners = [int(np.argmin(((ring - c) ** 2).sum(axis=1))) for c in rough]
    corners = sorted(set(corners))
    if len(corners) < 3:
        box = np.asarray(cv2.boxPoints(cv2.minAreaRect(ring.astype(np.float32))))
        return ordered(box / 2 - 1.25)
    polygon = _lines_met(edge, corners)
    x, y = polygon.T
    if float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) < 0:
        polygon = polygon[::-1]
    return polygon


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


def four_corners(mask: Mask) -> Points:
    """Return the four corners (4, 2) of a mask, as `four_corners_of` its outline."""
    return four_corners_of(outline_polygon(mask))


def four_corners_of(polygon: Points) -> Points:
    """Return four corners (4, 2) of a ring: upper left, upper right, lower right, lower left.

    For a top with more than four sides: the corners of the quadrilateral that its four longest
    sides make.
    """
    if len(polygon) == 4:
        return ordered(polygon)
    ring = polygon.astype(np.float32).reshape(-1, 1, 2)
    hull = np.asarray(cv2.convexHull(ring)).reshape(-1, 2).astype(np.float64)
    way = np.roll(hull, -1, axis=0) - hull
    length = np.hypot(way[:, 0], way[:, 1])
    longest = np.sort(np.argsort(-length)[:4])
    corners = []
    for k in range(len(longest)):
        i, j = longest[k - 1], longest[k]
        corner = meeting(hull[i], hull[(i + 1) % len(hull)], hull[j], hull[(j + 1) % len(hull)])
        corners.append(corner)
    box = ordered(np.asarray(cv2.boxPoints(cv2.minAreaRect(ring)), dtype=np.float64))
    if len(longest) < 4 or any(c is None for c in corners):
        return box
    quad = np.array([c for c in corners if c is not None])
    size = float(np.hypot(*np.ptp(hull, axis=0)))
    if not np.isfinite(quad).all() or np.abs(quad - hull.mean(axis=0)).max() > size:
        return box
    return ordered(quad)
