"""The sides of a top's outline moved to where cloth and floor part, to a fraction of a pixel."""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.vision.outline_corners import SIDE_DEG, meeting

Mask = NDArray[np.bool_]
Float = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Round:
    """One round over all sides.

    Attributes
    ----------
    reach_in : float
        Farthest that the ends of a side move, inches.
    trust : float
        Weight of the evidence for cloth and floor, summed across the side.
    edge : float
        Weight of an edge of colour.
    """

    reach_in: float
    trust: float
    edge: float


@dataclass(frozen=True, slots=True)
class SideSettings:
    """What counts at a side."""

    rounds: tuple[Round, ...] = (
        Round(2.0, 1.0, 0.0),
        Round(0.6, 0.1, 3.0),
        Round(0.3, 0.05, 3.0),
        Round(0.15, 0.02, 3.0),
    )
    """Seams near the edge are edges too, so at first the evidence counts alone.  Mixed pixels on
    the edge speak for neither side: the last round trusts the edge."""
    edge_lab: float = 4.0
    """Colour step that counts as an edge, CIELAB units: noise and wood grain stay below."""
    most_edge: float = 3.0
    """The logarithm of the step counts up to this, a step of 76 units: black beside white is no
    more of an edge."""
    window_px: float = 3.0
    """Depth of cloth and of floor that are compared at an edge, pixels."""
    most_nats: float = 60.0
    """Loss of evidence at one place along the side, at most: some may speak of something else."""
    shortest_in: float = 1.5
    """Shorter sides stay: too few places to fit a line to."""
    share: float = 0.15
    """No end of a side moves by more than this share of its length."""


def settle(
    ring: Points,
    lab: Float,
    evidence: Float,
    usable: Mask,
    px_per_in: float,
    settings: SideSettings | None = None,
) -> Points:
    """Return the ring with each side on the edge of the cloth.

    Parameters
    ----------
    ring : (N, 2) float64
        Clockwise as seen, pixels.
    lab : (h, w, 3) float32
        CIELAB.
    evidence : (h, w) float32
        Above zero for cloth, below for floor, nats.
    usable : (h, w) bool
        Where colours can be trusted.
    """
    s = settings or SideSettings()
    stack = np.concatenate(
        [lab, evidence[..., None], usable[..., None].astype(np.float32)], axis=2
    )
    start = ring
    for turn in s.rounds:
        for side in range(len(ring)):
            a, b = ring[side], ring[(side + 1) % len(ring)]
            length = float(np.hypot(*(b - a)))
            reach = min(turn.reach_in * px_per_in, s.share * length)
            if length < s.shortest_in * px_per_in or reach < 1.0:
                continue
            # The windows of the step reach beyond the places that are tried.
            beyond = reach + s.window_px + 1
            profile, offsets = _profiles(stack, a, b, beyond, max(41, int(2 * beyond) | 1))
            step = offsets[1] - offsets[0]
            gained = np.cumsum(profile[..., 3], axis=1) * step
            gained -= gained.max(axis=1, keepdims=True)
            edge = np.minimum(_edge(profile[..., :3], round(s.window_px / step), s), s.most_edge)
            edge *= profile[..., 4] > 0.99
            score = turn.trust * np.maximum(gained, -s.most_nats) + turn.edge * edge
            tried = np.abs(offsets) <= reach
            ends = _best_line(score[:, tried], offsets[tried])
            ring = _moved(ring, side, *ends)
    return ring if shapely.Polygon(ring).is_valid else start


def _edge(profile: Float, depth: int, s: SideSettings) -> Float:
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
    out[:, depth : m - depth] = np.log1p(jump / s.edge_lab)
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


def _moved(ring: Points, side: int, first: float, second: float) -> Points:
    """Return the ring with the ends of one side moved outwards; corners stay on the other sides.

    Beside a side that runs on nearly straight, a corner moves along with this one.
    """
    n = len(ring)
    a, b = ring[side], ring[(side + 1) % n]
    along = b - a
    outward = np.array([along[1], -along[0]]) / max(float(np.hypot(*along)), 1e-9)
    p, q = a + first * outward, b + second * outward
    out = ring.copy()
    out[side] = _corner(p, q, ring[side - 1], a, p)
    out[(side + 1) % n] = _corner(p, q, b, ring[(side + 2) % n], q)
    return out


def _corner(p: Points, q: Points, c: Points, d: Points, plain: Points) -> Points:
    """Return where the lines pq and cd meet, or the plain point where they hardly do."""
    u, v = q - p, d - c
    size = max(float(np.hypot(*u) * np.hypot(*v)), 1e-9)
    if abs(float(u[0] * v[1] - u[1] * v[0])) < np.sin(np.radians(SIDE_DEG)) * size:
        return plain
    tip = meeting(p, q, c, d)
    return plain if tip is None else tip
