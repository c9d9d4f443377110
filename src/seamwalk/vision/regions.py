"""Regions of a picture and the borders between them, with sums that add up when regions join.

Everything a decision needs is kept as sums over pixels (of a region) or over cracks (between two
regions), so joining two regions is adding two vectors.  A *crack* is the line between two
4-neighbouring pixels of different regions.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.vision.contrast import Float
from seamwalk.vision.hulls import hull_of, pixel_corners

BORDER_SUMS = ("n", "strength", "strong", "x", "y", "xx", "xy", "yy")
"""What is summed over the cracks of a border."""

Array = NDArray[np.float64]


@dataclass(slots=True, eq=False)
class RegionGraph:
    """A changing partition: regions, their sums, and the borders between them.

    Attributes
    ----------
    labels : (h, w) int32
        First labels, 0 outside, 1 … n.
    parent : list of int
        Where each first region has gone (union–find).
    size : (n + 1,) float64
        Pixels of each region.
    core : (n + 1, C) float64
        Sums over pixels away from ridges: count, L, a, b, L², a², b², busyness, words….
    hull : list of (M, 2) float32 or None
        Convex hull of each region, pixel corners, (x, y).
    hull_area : (n + 1,) float64
    border : dict of int to dict of int to (len(BORDER_SUMS),) float64
        Neighbours; 0 (outside) is one of them.
    """

    labels: NDArray[np.int32]
    parent: list[int]
    size: Array
    core: Array
    hull: list[NDArray[np.float32] | None]
    hull_area: Array
    border: list[dict[int, Array]]

    def find(self, region: int) -> int:
        """Return the region that `region` is now part of."""
        while self.parent[region] != region:
            self.parent[region] = self.parent[self.parent[region]]
            region = self.parent[region]
        return region

    def join(self, keep: int, gone: int) -> None:
        """Make `gone` part of `keep`."""
        self.parent[gone] = keep
        self.size[keep] += self.size[gone]
        self.core[keep] += self.core[gone]
        self.hull[keep], self.hull_area[keep] = self.joint_hull(keep, gone)
        mine = self.border[keep]
        mine.pop(gone, None)
        for other, sums in self.border[gone].items():
            if other == keep:
                continue
            theirs = self.border[other]
            theirs.pop(gone, None)
            total = mine[other] + sums if other in mine else sums
            mine[other] = total
            theirs[keep] = total
        self.border[gone] = {}
        self.hull[gone] = None

    def joint_hull(self, a: int, b: int) -> tuple[NDArray[np.float32], float]:
        """Return the hull of two regions together and its area in pixels."""
        points = np.concatenate([h for h in (self.hull[a], self.hull[b]) if h is not None])
        return hull_of(points)

    def result(self) -> NDArray[np.int32]:
        """Return the labels after all joins, 1 … n without gaps, 0 outside."""
        roots = np.array([self.find(i) for i in range(len(self.parent))])
        _, index = np.unique(roots, return_inverse=True)
        index = index.reshape(-1)
        if roots[0] == 0 and index[0] != 0:
            index = index - index[0]
        out: NDArray[np.int32] = index[self.labels].astype(np.int32)
        return out


def region_graph(
    labels: NDArray[np.int32],
    strength: Float,
    features: Float,
    *,
    strong: float = 0.3,
) -> RegionGraph:
    """Return the graph of `labels` (h, w), 1 … n, 0 outside.

    Parameters
    ----------
    strength : (h, w) float32
        Seam strength.
    features : (h, w, C) float32
        Summed over the pixels that lie off the ridges.
    strong : float
        Cracks above this count as seen; pixels above are left out of the cores.
    """
    n = int(labels.max()) + 1
    flat = labels.ravel()
    size = np.bincount(flat, minlength=n).astype(np.float64)
    off = np.where(strength.ravel() < strong, flat, 0)
    count = np.bincount(off, minlength=n)
    # A region all on ridges is described by all its pixels.
    off = np.where(count[flat] >= np.minimum(4, size[flat]), off, flat)
    columns = [np.bincount(off, minlength=n)]
    columns += [np.bincount(off, features[..., k].ravel(), n) for k in range(features.shape[2])]
    core = np.stack(columns, axis=1).astype(np.float64)
    hull: list[NDArray[np.float32] | None] = [None] * n
    area = np.ones(n)
    for i, box in enumerate(ndimage.find_objects(labels), start=1):
        if box is None:
            continue
        points = pixel_corners(labels[box] == i)
        points += np.array([box[1].start, box[0].start], dtype=np.float32)
        hull[i], area[i] = hull_of(points)
    return RegionGraph(
        labels, list(range(n)), size, core, hull, area, _borders(labels, strength, strong)
    )


def _borders(labels: NDArray[np.int32], strength: Float, strong: float) -> list[dict[int, Array]]:
    near = np.asarray(cv2.dilate(strength, np.ones((3, 3), np.uint8)))
    n = int(labels.max()) + 1
    parts = []
    for axis in (0, 1):
        a = labels[:-1] if axis == 0 else labels[:, :-1]
        b = labels[1:] if axis == 0 else labels[:, 1:]
        y, x = np.nonzero(a != b)
        dy, dx = (1, 0) if axis == 0 else (0, 1)
        lo = np.minimum(a[y, x], b[y, x]).astype(np.int64)
        hi = np.maximum(a[y, x], b[y, x])
        s = np.maximum(near[y, x], near[y + dy, x + dx]).astype(np.float64)
        px, py = x + 0.5 + dx / 2, y + 0.5 + dy / 2
        sums = [np.ones(len(s)), s, s > strong, px, py, px * px, px * py, py * py]
        parts.append((lo * n + hi, np.stack(sums, axis=1).astype(np.float64)))
    keys = np.concatenate([p[0] for p in parts])
    rows = np.concatenate([p[1] for p in parts])
    out: list[dict[int, Array]] = [{} for _ in range(n)]
    if not len(keys):
        return out
    order = np.argsort(keys, kind="stable")
    keys, rows = keys[order], rows[order]
    start = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]]))
    totals = np.add.reduceat(rows, start, axis=0)
    for key, total in zip(keys[start].tolist(), totals, strict=True):
        a, b = divmod(key, n)
        out[a][b] = total
        out[b][a] = total
    return out
