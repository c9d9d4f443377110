"""Regions and the borders between them, as sums that add up when regions are joined.

A *crack* is the side that two pixels share where their labels differ; a border is all the cracks
between two regions.  Everything that a border or a region is judged by is kept as sums over its
cracks or pixels, so joining many regions at once is one addition over rows of a table.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.vision.heat_again import Support
from seamwalk.vision.hulls import hull_of, pixel_corners

Float = NDArray[np.float32]
Labels = NDArray[np.int32]
Array = NDArray[np.float64]
Indices = NDArray[np.intp]

HEAT_STEPS = (0.08, 0.2, 0.35, 0.5, 0.7)
"""Cracks are counted by heat between these, for a fair quantile of a whole border."""

N, HEAT, X, Y, XX, XY, YY, COS, SIN, REPEAT, TRUST, DRAWN, JUNCTION = range(13)
FOUND, SHARE, HOT, BEYOND, BELIEF = range(13, 18)
"""Columns of `RegionMap.sums`: cracks, heat, moments, heat-weighted direction, heat in the same
place of other blocks and their likeness (both times likeness), cracks on drawn continuations,
junction heat, what a second look at other blocks says (times belief) and its belief; then one for
each heat step."""

STEPS = slice(18, 18 + len(HEAT_STEPS) + 1)

CLOTH = 6
"""Columns of `RegionMap.cloth`: pixels off the ridges, L, a, b, sum of squares, fine
texture."""


@dataclass(frozen=True, slots=True, eq=False)
class Planes:
    """What is summed, all (H, W) float32.

    Attributes
    ----------
    heat : seam heat, thickened by a pixel
    cos2, sin2 : direction
    junction : junction heat, thickened
    repeat, trust : heat in the same place of other blocks, and how alike they are
    drawn : 1 on drawn continuations
    told : what a second look at other blocks says; None before there was one
    """

    heat: Float
    cos2: Float
    sin2: Float
    junction: Float | None = None
    repeat: Float | None = None
    trust: Float | None = None
    drawn: Float | None = None
    told: Support | None = None


@dataclass(frozen=True, slots=True, eq=False)
class RegionMap:
    """A partition, its regions and borders.

    Attributes
    ----------
    home : (n0 + 1,) intp
        Region that each first region is part of now, 0 outside.
    size : (n + 1,) float64
        Pixels.
    cloth : (n + 1, CLOTH) float64
        Sums over the pixels off the ridges.
    moments : (n + 1, 5) float64
        Sums of x, y, x², xy and y² over the pixels.
    hull : tuple of (K, 2) float32
        Convex hull of each region, pixel corners (x, y); empty for 0.
    hull_area : (n + 1,) float64
    pair : (M, 2) intp
        Regions on both sides of each border, the lower first, sorted; the outside left out.
    sums : (M, 18 + steps) float64
        See `N` …
    outer : (n + 1,) float64
        Cracks towards the outside.
    before : (M,) intp
        Row of the same border in the map that this one was joined from; −1 where the border is
        longer now or one of its regions larger.
    """

    home: Indices
    size: Array
    cloth: Array
    moments: Array
    hull: tuple[NDArray[np.float32], ...]
    hull_area: Array
    pair: Indices
    sums: Array
    outer: Array
    before: Indices

    def joined(self, into: Indices) -> "RegionMap":
        """Return the map after giving each region to `into` (n + 1,), roots mapping to themselves.

        Regions are numbered anew without gaps, in the order of their roots.
        """
        roots = np.flatnonzero(into == np.arange(len(into)))
        number = np.zeros(len(into), dtype=np.intp)
        number[roots] = np.arange(len(roots))
        new = number[into]
        n = len(roots)
        size, outer = np.zeros(n), np.zeros(n)
        cloth = np.zeros((n, self.cloth.shape[1]))
        np.add.at(size, new, self.size)
        np.add.at(outer, new, self.outer)
        np.add.at(cloth, new, self.cloth)
        moments = np.zeros((n, self.moments.shape[1]))
        np.add.at(moments, new, self.moments)
        hull = [self.hull[r] for r in roots]
        area = self.hull_area[roots].copy()
        changed: dict[int, list[int]] = {}
        for r in np.flatnonzero(into != np.arange(len(into))).tolist():
            changed.setdefault(int(new[r]), []).append(r)
        for root, parts in changed.items():
            points = [hull[root], *(self.hull[r] for r in parts)]
            hull[root], area[root] = hull_of(np.concatenate(points))
        pair, sums, before = _added(new[self.pair], self.sums, n)
        grown = np.zeros(n, dtype=bool)
        grown[list(changed)] = True
        before = np.where(grown[pair].any(axis=1), -1, before)
        hulls, home = tuple(hull), new[self.home]
        return RegionMap(home, size, cloth, moments, hulls, area, pair, sums, outer, before)


def region_map(labels: Labels, planes: Planes, lab: Float, ridge: float) -> RegionMap:
    """Return the regions and borders of `labels` (H, W), 0 outside, 1 … n.

    Parameters
    ----------
    lab : (H, W, 3) float32
        CIELAB of the cloth.
    ridge : float
        Pixels with more heat say nothing about the cloth beside them.
    """
    n = int(labels.max()) + 1
    flat = labels.ravel()
    size = np.bincount(flat, minlength=n).astype(np.float64)
    off = np.where(planes.heat.ravel() < ridge, flat, 0)
    few = np.bincount(off, minlength=n) < np.minimum(8, size)
    off = np.where(few[flat], flat, off)
    fine = np.abs(lab[..., 0] - cv2.GaussianBlur(lab[..., 0], (0, 0), 2.0))
    columns = [lab[..., 0], lab[..., 1], lab[..., 2], (lab**2).sum(axis=2), fine]
    cloth = [np.bincount(off, minlength=n).astype(np.float64)]
    cloth += [np.bincount(off, c.ravel(), n).astype(np.float64) for c in columns]
    hull: list[NDArray[np.float32]] = [np.zeros((0, 2), np.float32)] * n
    area = np.ones(n)
    for r, box in enumerate(ndimage.find_objects(labels), start=1):
        if box is not None:
            start = np.array([box[1].start, box[0].start], dtype=np.float32)
            corners = pixel_corners(labels[box] == r) + start
            hull[r], area[r] = hull_of(corners)
    pair, sums, outer = _borders(labels, planes, n)
    return RegionMap(
        np.arange(n),
        size,
        np.stack(cloth, axis=1),
        _moments(labels, n),
        tuple(hull),
        area,
        pair,
        sums,
        outer,
        np.full(len(pair), -1, dtype=np.intp),
    )


def _moments(labels: Labels, n: int) -> Array:
    h, w = labels.shape
    flat = labels.ravel()
    x = np.tile(np.arange(w, dtype=np.float64), h)
    y = np.repeat(np.arange(h, dtype=np.float64), w)
    return np.stack([np.bincount(flat, v, n) for v in (x, y, x * x, x * y, y * y)], axis=1)


def border_sums(labels: Labels, heat: Float, cos2: Float, sin2: Float) -> Array:
    """Return the first columns of `RegionMap.sums`, up to `SIN`, for the borders of `labels`."""
    return _borders(labels, Planes(heat, cos2, sin2), int(labels.max()) + 1)[1]


def _borders(labels: Labels, planes: Planes, n: int) -> tuple[Indices, Array, Array]:
    pairs, rows = [], []
    outer = np.zeros(n)
    padded = np.pad(labels, 1)
    for dy, dx in ((1, 0), (0, 1)):
        one = padded[: padded.shape[0] - dy, : padded.shape[1] - dx]
        two = padded[dy:, dx:]
        y, x = np.nonzero(one != two)
        a, b = one[y, x], two[y, x]
        at_edge = (a == 0) | (b == 0)
        outer += np.bincount(np.maximum(a, b)[at_edge], minlength=n)
        a, b, y, x = a[~at_edge], b[~at_edge], y[~at_edge] - 1, x[~at_edge] - 1
        pairs.append(np.stack([np.minimum(a, b), np.maximum(a, b)], axis=1).astype(np.intp))
        rows.append(_crack_rows(planes, y, x, dy, dx))
    pair, sums, _ = _added(np.concatenate(pairs), np.concatenate(rows), n)
    return pair, sums, outer


def _crack_rows(planes: Planes, y: Indices, x: Indices, dy: int, dx: int) -> Array:
    """Return what each crack between pixel (y, x) and (y + dy, x + dx) adds to its border."""

    def larger(plane: Float) -> Array:
        return np.maximum(plane[y, x], plane[y + dy, x + dx]).astype(np.float64)

    heat = larger(planes.heat)
    px, py = x + 0.5 + dx / 2, y + 0.5 + dy / 2
    c = (planes.cos2[y, x] + planes.cos2[y + dy, x + dx]) / 2 * heat
    s = (planes.sin2[y, x] + planes.sin2[y + dy, x + dx]) / 2 * heat
    out = [np.ones(len(y)), heat, px, py, px * px, px * py, py * py, c, s]
    more = (planes.repeat, planes.trust, planes.drawn, planes.junction)
    if more[0] is None:
        return np.column_stack(out)
    repeat, trust, drawn, junction = (larger(p) for p in more if p is not None)
    counts = np.zeros((len(y), len(HEAT_STEPS) + 1))
    counts[np.arange(len(y)), np.digitize(heat, HEAT_STEPS)] = 1
    again = np.zeros((len(y), 5))
    if planes.told is not None:
        t = planes.told
        belief = larger(t.belief)
        share, hot, beyond = (larger(p) * belief for p in (t.seam, t.hot, t.beyond_chance))
        again = np.column_stack([larger(t.found), share, hot, beyond, belief])
    rest = [repeat * trust, trust, drawn, junction, again, counts]
    return np.column_stack([*out, *rest])


def _added(pair: Indices, rows: Array, n: int) -> tuple[Indices, Array, Indices]:
    """Return the rows of equal pairs added up, pairs sorted; pairs of one region dropped.

    Third, the row that each came from where it is one row only, else −1.
    """
    low, high = pair.min(axis=1), pair.max(axis=1)
    apart = np.flatnonzero((low != high) & (low > 0))
    key = low[apart] * n + high[apart]
    order = np.argsort(key, kind="stable")
    key, source = key[order], apart[order]
    if not len(key):
        empty = np.zeros((0, rows.shape[1]))
        return np.zeros((0, 2), dtype=np.intp), empty, np.zeros(0, dtype=np.intp)
    start = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]]))
    sums = np.add.reduceat(rows[source], start, axis=0)
    alone = np.diff(np.append(start, len(key))) == 1
    before = np.where(alone, source[start], -1)
    return np.stack(np.divmod(key[start], n), axis=1).astype(np.intp), sums, before
