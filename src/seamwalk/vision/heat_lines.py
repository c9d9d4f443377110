"""Straight continuations of clear seams across cloth that shows none.

Seams are sewn in long straight lines, so a clear seam that ends at another one often goes on
beyond it, unseen where both sides are one cloth.  Every clear straight border is drawn on from
both ends to the next ridge, wherever anything speaks for it: a trace of heat along the way, a
clear seam that takes the line up again, or the same place of other blocks.  What is drawn only
offers a cut; :mod:`heat_merge` decides.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.vision.heat_graph import COS, HEAT, SIN, XX, XY, YY, N, X, Y

Float = NDArray[np.float32]
Mask = NDArray[np.bool_]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LineSettings:
    """Which lines are drawn on, and how far; lengths in half-resolution pixels."""

    clear: float = 0.5
    """Mean heat of a border that may be drawn on."""
    least_px: float = 8.0
    """Length of such a border."""
    bend_px: float = 0.9
    """Most root-mean-square distance of its cracks from their line."""
    longest: float = 2.2
    """Longest continuation, in sides of a typical region."""
    turn: float = 0.5
    """Share of the heat that must lie along the way to count as the line's own (cos of twice the
    angle between): what lies across is another seam, where the drawing stops."""
    trace: float = 0.04
    """Mean heat along the way that speaks for it."""
    again: float = 0.35
    """Mean heat beyond the next ridge that takes the line up again."""
    copies: float = 0.3
    """Mean heat in the same place of other blocks that speaks for it, times their likeness."""
    wall: float = 0.35
    """Heat of a ridge across the way at which the drawing stops."""
    skip_px: int = 4
    """The first pixels still see the ridge that the border ends at."""
    past_px: int = 3
    """The drawing goes so far into the ridge that it stops at, so that the cut is closed."""
    resumed: float = 0.4
    """How far beyond that ridge the line must be taken up, in sides of a typical region."""
    beside_px: float = 1.5
    """A seam may lie this far off the line."""


@dataclass(frozen=True, slots=True, eq=False)
class Fits:
    """Straight lines fitted to borders.

    Attributes
    ----------
    middle, way : (M, 2) float64
        Mean of the cracks and unit direction, (x, y).
    length : (M,) float64
        End to end, were the cracks spread evenly.
    bend : (M,) float64
        Root-mean-square distance from the line, pixels.
    along : (M,) float64
        Mean cosine of twice the angle between heat and line, weighted with heat, −1 to 1.
    """

    middle: Array
    way: Array
    length: Array
    bend: Array
    along: Array


def fits(sums: Array) -> Fits:
    """Return lines fitted to rows of `RegionMap.sums` (M, ·).

    Notes
    -----
    Principal axes of the 2 × 2 covariance; cracks of a staircase are spread along its line
    evenly, so an even spread over a length L has variance L² / 12.
    """
    n = sums[:, N]
    mx, my = sums[:, X] / n, sums[:, Y] / n
    xx = sums[:, XX] / n - mx * mx
    yy = sums[:, YY] / n - my * my
    xy = sums[:, XY] / n - mx * my
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    half = np.sqrt(((xx - yy) / 2) ** 2 + xy**2)
    large, small = (xx + yy) / 2 + half, np.maximum((xx + yy) / 2 - half, 0)
    heat = np.maximum(sums[:, HEAT], 1e-6)
    along = (sums[:, COS] * np.cos(2 * angle) + sums[:, SIN] * np.sin(2 * angle)) / heat
    return Fits(
        np.stack([mx, my], axis=1), way, np.sqrt(12 * np.maximum(large, 1 / 12)),
        np.sqrt(small), along,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """Heat with its direction, and junction heat, on one grid, (h, w) float32 each."""

    heat: Float
    cos2: Float
    sin2: Float
    junction: Float | None = None
    found: Float | None = None

    def found_at(self, at: Array) -> Array:
        """Return what a first look found at places (K, T, 2), (K, T); 0 outside the picture."""
        if self.found is None:
            return np.zeros(at.shape[:2])
        ok, x, y = self._pixels(at)
        return np.where(ok, self.found[y, x], 0)

    def _pixels(self, at: Array) -> tuple[Mask, NDArray[np.intp], NDArray[np.intp]]:
        """Return which places (…, 2) lie in the picture, and their pixels' x and y, else 0."""
        h, w = self.heat.shape
        # Pixel i covers i … i + 1 in the frame of cracks.
        p = np.floor(at).astype(np.intp)
        ok = (p[..., 0] >= 0) & (p[..., 0] < w) & (p[..., 1] >= 0) & (p[..., 1] < h)
        return ok, np.where(ok, p[..., 0], 0), np.where(ok, p[..., 1], 0)

    def junction_at(self, at: Array, near_px: int) -> Array:
        """Return the largest junction heat within `near_px` of places (K, 2), (K,).

        Places outside the picture are moved to its rim; 0 where junctions are not known.
        """
        if self.junction is None:
            return np.zeros(len(at))
        h, w = self.junction.shape
        p = np.clip(np.floor(at).astype(np.intp), 0, (w - 1, h - 1))
        step = np.arange(-near_px, near_px + 1)
        x = np.clip(p[:, :1] + step, 0, w - 1)
        y = np.clip(p[:, 1:] + step, 0, h - 1)
        # Few places are asked for at a time: windows about them, not the whole plane.
        near = self.junction[y[:, :, None], x[:, None, :]]
        return np.asarray(near.max(axis=(1, 2), initial=0), dtype=np.float64)

    def along(self, at: Array, way: Array, beside_px: float) -> tuple[Array, Array]:
        """Return heat along and in all at places (K, T, 2) of lines with ways (K, 2), (K, T) each.

        The larger of three parallel tracks; 0 outside the picture.
        """
        normal = np.stack([-way[:, 1], way[:, 0]], axis=1)
        cos = way[:, 0] ** 2 - way[:, 1] ** 2
        sin = 2 * way[:, 0] * way[:, 1]
        own = np.zeros(at.shape[:2])
        every = np.zeros(at.shape[:2])
        for off in (-beside_px, 0.0, beside_px):
            ok, x, y = self._pixels(at + off * normal[:, None, :])
            heat = np.where(ok, self.heat[y, x], 0)
            like = self.cos2[y, x] * cos[:, None] + self.sin2[y, x] * sin[:, None]
            own = np.maximum(own, heat * np.clip(like, 0, 1))
            every = np.maximum(every, heat)
        return own, every


def continuations(
    sums: Array, field: Field, mask: Mask, copies: Float, side: float, settings: LineSettings
) -> NDArray[np.uint8]:
    """Return a picture (h, w) with 1 on the continuations of clear straight borders.

    Parameters
    ----------
    sums : (M, ·) float64
        Borders, as in `RegionMap.sums`, on the grid of `field`.
    copies : (h, w) float32
        Heat in the same place of other blocks times likeness.
    side : float
        Side of a typical region, pixels.
    """
    s = settings
    drawn = np.zeros(mask.shape, dtype=np.uint8)
    line = fits(sums)
    clear = sums[:, HEAT] >= s.clear * sums[:, N]
    clear &= (line.length >= s.least_px) & (line.bend <= s.bend_px)
    if not clear.any():
        return drawn
    half = line.way[clear] * line.length[clear, None] / 2
    start = np.concatenate([line.middle[clear] + half, line.middle[clear] - half])
    way = np.concatenate([line.way[clear], -line.way[clear]])
    t = np.arange(2.0, s.longest * side + 2, 1.0)
    at = start[:, None] + way[:, None] * t[None, :, None]
    own, every = field.along(at, way, s.beside_px)
    x = np.clip(np.floor(at[..., 0]).astype(np.intp), 0, mask.shape[1] - 1)
    y = np.clip(np.floor(at[..., 1]).astype(np.intp), 0, mask.shape[0] - 1)
    gone = ~mask[y, x]
    wall = ((every > s.wall) & (own < s.turn * every)) | gone
    wall[:, : s.skip_px] = False
    stops = np.where(wall.any(axis=1), wall.argmax(axis=1), 0)
    step = np.arange(len(t))
    on_way = (step >= s.skip_px) & (step < stops[:, None])
    count = np.maximum(on_way.sum(axis=1), 1)
    mean = (own * on_way).sum(axis=1) / count
    same = (copies[y, x] * on_way).sum(axis=1) / count
    past = stops[:, None] + s.past_px
    beyond = (step >= past) & (step < past + s.resumed * side)
    after = (own * beyond).sum(axis=1) / np.maximum(beyond.sum(axis=1), 1)
    go = (stops > s.skip_px + s.past_px) & (mean < s.clear)
    go &= (mean > s.trace) | (after > s.again) | (same > s.copies)
    ends = start + way * (stops + s.past_px)[:, None]
    for (x0, y0), (x1, y1) in zip(start[go], ends[go], strict=True):
        a = round(16 * (float(x0) - 0.5)), round(16 * (float(y0) - 0.5))
        b = round(16 * (float(x1) - 0.5)), round(16 * (float(y1) - 0.5))
        cv2.line(drawn, a, b, 1, 1, cv2.LINE_8, 4)
    drawn[~mask] = 0
    return drawn
