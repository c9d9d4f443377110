"""The top cut along every ridge of the seam heat, and where ridges leave gaps, at necks.

Watershed by flooding: seeds are places far from any ridge, told apart where the way between them
narrows clearly; so a ridge with a gap still parts its two sides.  The cut is made at half
resolution and only the bands along its lines are flooded again at full resolution.  It cuts too
much on purpose: what is no seam is joined again by :mod:`heat_merge`.

References
----------
Meyer, Topographic distance and watershed lines, Signal Processing 38, 1994; Grimaud, A new measure
of contrast: the dynamics, SPIE 1769, 1992 (seeds by how deep the pass between them lies).
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float32]
Labels = NDArray[np.int32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class BasinSettings:
    """How readily the top is cut."""

    ridge: float = 0.16
    """Heat from which a pixel is part of a ridge: a tenth of the seams come fainter than one half,
    hardly any fainter than this."""
    neck: float = 1.25
    """Two seeds part where the way between them is this many times narrower than either."""
    most_wide_px: float = 16.0
    """Necks wider than this are no gaps in a ridge, half-resolution pixels from side to middle."""
    slope: float = 0.012
    """Heat that a pixel further from the ridge makes up for: in a gap the shortest way wins."""
    band_px: int = 3
    """Full-resolution pixels on both sides of a line that are flooded again."""


STEPS = 3
"""Levels over one factor of `BasinSettings.neck`."""


def coarse_basins(heat: Float, mask: Mask, settings: BasinSettings | None = None) -> Labels:
    """Return the regions between the ridges of `heat` (h, w) at half resolution, 0 outside."""
    s = settings or BasinSettings()
    free = np.pad(((heat < s.ridge) & mask).astype(np.uint8), 1)
    distance = np.asarray(cv2.distanceTransform(free, cv2.DIST_L2, 5), dtype=np.float32)
    distance = distance[1:-1, 1:-1]
    seeds = _seeds(distance, s)
    if not seeds.any():
        return mask.astype(np.int32)
    height = heat - np.float32(s.slope) * np.minimum(distance, 2 * s.most_wide_px)
    return _flooded(height.astype(np.float32), seeds, mask)


def sharpened(
    coarse: Labels, heat: Float, mask: Mask, settings: BasinSettings | None = None
) -> Labels:
    """Return half-resolution regions with their lines moved to the ridges of `heat` (H, W).

    Returns
    -------
    labels : (H, W) int32
        0 outside the mask, 1 … n, each 4-connected.
    """
    from skimage.measure import label

    s = settings or BasinSettings()
    near = doubled(coarse, mask.shape)
    near[~mask] = 0
    inner = _inner(near, s.band_px)
    # A region that the band swallows whole keeps its own pixels as a seed.
    lost = np.bincount(near[inner], minlength=int(coarse.max()) + 1) == 0
    inner |= lost[near] & (heat < s.ridge)
    grown = _flooded(heat, np.where(inner, near, 0), mask)
    return np.asarray(label(grown, background=0, connectivity=1), dtype=np.int32)


def doubled(plane: NDArray[Any], shape: tuple[int, ...]) -> NDArray[Any]:
    """Return a half-resolution plane on the full grid of `shape`."""
    return np.repeat(np.repeat(plane, 2, axis=0), 2, axis=1)[: shape[0], : shape[1]]


def halved(heat: Float, mask: Mask) -> tuple[Float, Mask]:
    """Return heat (largest of four) and mask (any of four) at half resolution."""
    h, w = heat.shape
    even = ((0, h % 2), (0, w % 2))
    four = quarters(np.pad(np.where(mask, heat, 0), even))
    some = quarters(np.pad(mask, even))
    most = np.maximum(np.maximum(four[0], four[1]), np.maximum(four[2], four[3]))
    any_of: Mask = some[0] | some[1] | some[2] | some[3]
    return most.astype(np.float32), any_of


def quarters(plane: NDArray[Any]) -> list[NDArray[Any]]:
    """Return the four pixels that each pixel at half resolution stands for; sides are even."""
    return [plane[y::2, x::2] for y in (0, 1) for x in (0, 1)]


def _flooded(height: Float, seeds: Labels, mask: Mask) -> Labels:
    """Return the seeds grown over the mask, lowest first.

    What lies deep inside a seed is left out of the flood: it only costs time.
    """
    from skimage.segmentation import watershed

    deep = (seeds > 0) & _inner(seeds, 1)
    grown = np.asarray(watershed(height, np.where(deep, 0, seeds), mask=mask & ~deep))
    return np.where(deep, seeds, grown).astype(np.int32)


def _inner(labels: Labels, reach_px: int) -> Mask:
    """Return where every pixel within a square of that reach has the same label."""
    kernel = np.ones((2 * reach_px + 1, 2 * reach_px + 1), np.uint8)
    edge = np.zeros(labels.shape, dtype=np.uint8)
    for a, b, low, high in (
        (labels[1:], labels[:-1], edge[1:], edge[:-1]),
        (labels[:, 1:], labels[:, :-1], edge[:, 1:], edge[:, :-1]),
    ):
        differ = a != b
        low |= differ
        high |= differ
    # An edge pixel marks both of its sides, so one step of the reach is already taken.
    if reach_px > 1:
        edge = np.asarray(cv2.dilate(edge, kernel[1:-1, 1:-1]), dtype=np.uint8)
    out: Mask = edge == 0
    return out


def _seeds(distance: Float, s: BasinSettings) -> Labels:
    """Return numbered seeds: whole components of free pixels, or their parts beyond a neck.

    The component tree of the distance is walked from the narrowest level that still parts
    anything down to the widest; a part counts once it has lasted over a factor of `neck`.
    """
    seeds = np.zeros(distance.shape, dtype=np.int32)
    step = s.neck ** (1 / STEPS)
    levels = int(np.log(s.most_wide_px) / np.log(step))
    count = 0
    parts = np.zeros(distance.shape, dtype=np.int32)
    peak = np.zeros(1, dtype=np.intp)
    settled = np.ones(1, dtype=bool)
    for level in range(levels, -1, -1):
        n, below = cv2.connectedComponents(
            (distance >= step**level).astype(np.uint8), connectivity=4
        )
        below = np.asarray(below, dtype=np.int32)
        home = np.zeros(len(peak), dtype=np.intp)
        at = parts > 0
        home[parts[at]] = below[at]
        lasting = ~settled & (peak - level >= STEPS)
        holds = np.bincount(home[1:], (settled | lasting)[1:], n)
        holds_settled = np.bincount(home[1:], settled[1:], n) > 0
        split = (holds >= 2) | holds_settled
        fresh = lasting & split[home]
        fresh[0] = False
        if fresh.any():
            number = np.where(fresh, count + np.cumsum(fresh), 0).astype(np.int32)
            count += int(fresh.sum())
            seeds[at] = np.maximum(seeds[at], number[parts[at]])
        new_peak = np.full(n, level, dtype=np.intp)
        np.maximum.at(new_peak, home[1:], peak[1:])
        parts, peak, settled = below, new_peak, split
        settled[0] = True
    whole = ~settled
    number = np.where(whole, count + np.cumsum(whole), 0).astype(np.int32)
    return np.maximum(seeds, number[parts])
