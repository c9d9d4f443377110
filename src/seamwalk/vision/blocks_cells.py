"""Patches laid straight, and the rectangles of one size that whole patches fill.

A block starts and ends on seams: no patch crosses its edge.  So every rectangle of a given size
whose patches fill it exactly could be a block, and no other could.  Rectangles start at the upper
left of some patch, which makes them few; their sizes are the distances between seams that come
again.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.congruence import areas, features
from seamwalk.geometry.cut_corners import main_corners
from seamwalk.geometry.polygon import ring_of
from seamwalk.geometry.projective import Matrix, Points, apply, fit
from seamwalk.model.top import Top
from seamwalk.vision.measure_finished import FinishedShape

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class CellSettings:
    """What counts as a rectangle that patches fill."""

    near_in: float = 0.35
    """A patch may stand over the rectangle's edge by this, inches: junctions off by 1/8 at both
    corners …"""
    near_share: float = 0.3
    """… or by this share of the small patches' width."""
    area_share: float = 0.05
    """The patches fill the rectangle to within this share of it …"""
    area_in: float = 0.08
    """… and this, inches, times half its outline."""
    most_share: float = 0.55
    """A block is at most this share of the top: it comes twice."""
    border_share: float = 0.55
    """A longer patch along the edge is a border."""
    crumb: float = 0.12
    """Patches smaller than this share of the usual one were not cut: seams seen twice."""
    sizes: int = 30
    """Distances tried along each axis, those seen most often."""
    most_patches: int = 64
    """A block has no more patches than this (a grid of eight by eight)."""


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """The patches in a frame in which the top is straight and blocks lie along the axes.

    Attributes
    ----------
    rings : tuple of (M, 2)
        Finished corners.
    low, high, middle : (N, 2)
        Extents and centroids.
    fabric : (N,) int
        Equal for equal fabrics; all 0 where fabrics are not known.
    inside : (N,) bool
        False for borders and for crumbs, patches too small to have been cut.
    raw : (N,) bool
        True on the outermost edge.
    bulge : (N,) float64
        Area beyond the straight lines between its corners, as share of theirs: curved seams.
    top_from_cloth : (3, 3) float64
        Homography.
    near_in : float
        How far an edge may be off, inches.
    """

    rings: tuple[Points, ...]
    low: Points
    high: Points
    middle: Points
    area: Floats
    fabric: Indices
    inside: NDArray[np.bool_]
    raw: NDArray[np.bool_]
    bulge: Floats
    top_from_cloth: Matrix
    angle_deg: float
    near_in: float

    @property
    def fabrics(self) -> int:
        """Return how many fabrics there are; 1 where they are not known."""
        return int(self.fabric.max()) + 1


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Rectangles of one size with the same number of patches.

    Attributes
    ----------
    patches : (C, M) int
    centre : (C, 2) float64
        Centroid.
    figures : (C, M, 7) float64
        Features of the patches about the centroid.
    """

    patches: Indices
    centre: Points
    figures: Floats


def laid_straight(
    top: Top,
    shapes: list[FinishedShape],
    angle_deg: float,
    settings: CellSettings | None = None,
) -> Cloth:
    """Return the patches with the top's lean and taper taken out, then turned by −`angle_deg`."""
    s = settings or CellSettings()
    straight_from_top = _straight(top)
    c, n = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    turn = np.array([[c, n, 0.0], [-n, c, 0.0], [0.0, 0.0, 1.0]])
    count = np.array([len(shape.finished) for shape in shapes])
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    straight = apply(straight_from_top, np.concatenate([x.finished for x in shapes]))
    extent = np.maximum.reduceat(straight, start) - np.minimum.reduceat(straight, start)
    raw = np.array([shape.raw_edges > 0 for shape in shapes])
    long = (extent > s.border_share * np.ptp(straight, axis=0)).any(axis=1)
    points = apply(turn, straight)
    area, middle = areas(points, start)
    narrow = float(np.quantile(np.sqrt(area), 0.1))
    word = [p.fabric for p in top.patches]
    number = {w: k for k, w in enumerate(dict.fromkeys(word))} if all(word) else {}
    return Cloth(
        tuple(np.split(points, start[1:])),
        np.minimum.reduceat(points, start),
        np.maximum.reduceat(points, start),
        middle,
        area,
        np.array([number.get(w, 0) for w in word], dtype=np.intp),
        ~(raw & long) & (area > s.crumb * float(np.median(area))),
        raw,
        _bulge(top, shapes),
        np.asarray(np.linalg.inv(turn @ straight_from_top), dtype=np.float64),
        angle_deg,
        min(s.near_in, s.near_share * narrow),
    )


def _bulge(top: Top, shapes: list[FinishedShape]) -> Floats:
    start = np.cumsum([0, *(len(s.corners) for s in shapes[:-1])])
    between, _ = areas(np.concatenate([s.corners for s in shapes]), start)
    whole = np.array([p.polygon.area for p in top.patches])
    return whole / np.maximum(between, 1e-9) - 1


def _straight(top: Top) -> Matrix:
    """Return the homography that makes the outline a rectangle with its mean sides."""
    ring = main_corners(ring_of(top.outline))
    x0, y0, x1, y1 = top.outline.bounds
    box = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    near = [int(np.hypot(*(ring - corner).T).argmin()) for corner in box]
    reach = 0.15 * min(x1 - x0, y1 - y0)
    if len(set(near)) < 4 or (np.hypot(*(ring[near] - box).T) > reach).any():
        return np.eye(3)
    seen = ring[near]
    side = np.hypot(*(np.roll(seen, -1, axis=0) - seen).T)
    w, h = (side[0] + side[2]) / 2, (side[1] + side[3]) / 2
    middle = seen.mean(axis=0)
    meant = middle + np.array([(-w, -h), (w, -h), (w, h), (-w, h)]) / 2
    return fit(seen, meant)


def cell_sizes(cloth: Cloth, settings: CellSettings | None = None) -> list[tuple[float, float]]:
    """Return the sizes (width ≥ height) that rectangles on seams come in, inches."""
    s = settings or CellSettings()
    use = np.flatnonzero(cloth.inside)
    if not len(use):
        return []
    low, high = cloth.low[use], cloth.high[use]
    whole = high.max(axis=0) - low.min(axis=0)
    along = []
    for axis in (0, 1):
        level = np.abs(low[:, None, 1 - axis] - low[None, :, 1 - axis]) < cloth.near_in
        length = high[None, :, axis] - low[:, None, axis]
        seen = length[level & (length > cloth.near_in) & (length < whole[axis] + cloth.near_in)]
        along.append(_crowded(np.sort(seen), cloth.near_in, s.sizes))
    out = []
    for w in along[0]:
        for h in along[1]:
            near = max(cloth.near_in / 2, 0.01 * max(w, h))
            if abs(w - h) < near:
                out.append(((w + h) / 2, (w + h) / 2))
            elif abs(w - 2 * h) < near:
                out.append((w, w / 2))
            elif abs(h - 2 * w) < near:
                out.append((h, h / 2))
    apart: list[tuple[float, float]] = []
    for w, h in out:
        if w * h > s.most_share * whole.prod():
            continue
        near = cloth.near_in / 2
        if all(abs(w - a) > near or abs(h - b) > near for a, b in apart):
            apart.append((w, h))
    return apart


def _crowded(values: Floats, near: float, most: int) -> list[float]:
    """Return the sorted values about which others crowd, commonest first."""
    reach = near / 2
    crowd = np.searchsorted(values, values + reach) - np.searchsorted(values, values - reach)
    out: list[float] = []
    for k in np.argsort(-crowd, kind="stable").tolist():
        if crowd[k] < 2 or len(out) == most:
            break
        if all(abs(values[k] - v) > near for v in out):
            a, b = np.searchsorted(values, [values[k] - reach, values[k] + reach])
            out.append(float(np.median(values[a:b])))
    return out


def cells(
    cloth: Cloth, width: float, height: float, settings: CellSettings | None = None
) -> list[Cells]:
    """Return the rectangles that patches fill, lying or standing, those of equally many together.

    Parameters
    ----------
    width, height : float
        Inches.
    """
    s = settings or CellSettings()
    rows = [_filled(cloth, width, height, s)]
    if abs(width - height) > cloth.near_in:
        rows.append(_filled(cloth, height, width, s))
    member = np.concatenate(rows)
    out: list[Cells] = []
    count = member.sum(axis=1)
    for m in np.unique(count).tolist():
        if not 0 < m <= s.most_patches:
            continue
        patches = np.nonzero(member[count == m])[1].reshape(-1, m)
        weight = cloth.area[patches][..., None]
        centre = (cloth.middle[patches] * weight).sum(axis=1) / weight.sum(axis=1)
        out.append(Cells(patches, centre, figures_about(cloth, patches, centre)))
    return out


def figures_about(cloth: Cloth, patches: Indices, centre: Points) -> Floats:
    """Return the features (C, M, 7) of patches (C, M) about centres (C, 2)."""
    c = centre[:, None]
    return features(
        cloth.low[patches] - c,
        cloth.high[patches] - c,
        cloth.middle[patches] - c,
        cloth.area[patches],
    )


def _filled(cloth: Cloth, width: float, height: float, s: CellSettings) -> NDArray[np.bool_]:
    """Return which patches (N,) lie in each of the filled rectangles, (C, N)."""
    near = cloth.near_in
    low, high = cloth.low, cloth.high
    use = np.flatnonzero(cloth.inside)
    a, b = low[use], np.array([width, height])
    member = np.tile(cloth.inside, (len(use), 1))
    for axis in (0, 1):
        member &= low[None, :, axis] > a[:, None, axis] - near
        member &= high[None, :, axis] < a[:, None, axis] + b[axis] + near
    slack = s.area_share * width * height + s.area_in * (width + height)
    full = np.abs(member @ cloth.area - width * height) < slack
    member = member[full]
    if not len(member):
        return member
    _, first = np.unique(np.packbits(member, axis=1), axis=0, return_index=True)
    return member[np.sort(first)]
