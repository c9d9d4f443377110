"""Loose pieces to one sheet whose neighbours share every corner, T-joins too.

A corner that ends on another piece's side lies on one straight line with it; both sides of such a
seam lack an equal partner in the other direction. So only sides without partner are sorted into
lines, and along each line every side takes in the corners between its ends.

Notes
-----
O(n log n) in the number of corners, all in numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.training.pieces import Ints, Pieces, Points, following

SAME_PLACE_IN = 1e-6
"""Grid of corner positions, inches: far below any piece, far above rounding."""

SAME_TURN_RAD = 1e-7
SAME_LINE_IN = 1e-5
"""Sides within these are on one line."""

LINE_STEP = 1e4
"""Longer than any line, inches: keeps the positions of different lines apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """Outlines that name shared corners.

    Attributes
    ----------
    at : (V, 2) float64
        Corner positions, inches.
    index : (C,) int64
        Corners of all outlines, one outline after another, x turned towards y.
    counts : (n,) int64
        Corners of each outline.
    outline : (m,) int64
        Corners round the outside, x turned towards y.
    """

    at: Points
    index: Ints
    counts: Ints
    outline: Ints

    @property
    def after(self) -> Ints:
        """Next corner of the same outline, for each entry of `index`."""
        return self.index[following(self.counts)]

    @property
    def before(self) -> Ints:
        """Corner before on the same outline, for each entry of `index`."""
        out = np.empty_like(self.index)
        out[following(self.counts)] = self.index
        return out


def joined(pieces: Pieces) -> Sheet:
    """Return the sheet that the pieces form.

    Raises
    ------
    ValueError
        If pieces overlap, leave holes, or hang together at a point only.
    """
    at, index, counts = _snapped(pieces)
    after = index[following(counts)]
    index, counts = _with_joins(at, index, counts, after)
    after = index[following(counts)]
    loose = ~_partnered(index, after, len(at))
    return Sheet(at, index, counts, _outside(index[loose], after[loose], at))


def with_corners(index: Ints, counts: Ints, many: Ints, extra: Ints) -> tuple[Ints, Ints]:
    """Return outlines with further corners put in.

    Parameters
    ----------
    index, counts : (C,), (n,) int64
        The outlines.
    many : (C,) int64
        How many corners follow each.
    extra : (sum of many,) int64
        Those corners, in order.
    """
    size = many + 1
    ends = np.cumsum(size)
    out = np.empty(int(ends[-1]), dtype=np.int64)
    own = np.zeros(len(out), dtype=bool)
    own[ends - size] = True
    out[own] = index
    out[~own] = extra
    return out, np.add.reduceat(size, np.cumsum(counts) - counts)


def _snapped(pieces: Pieces) -> tuple[Points, Ints, Ints]:
    """Return unique positions and outlines by index, turned one way, without doubled corners."""
    points, counts = pieces.points, pieces.counts
    flip = np.repeat(pieces.areas < 0, counts)
    starts = np.repeat(pieces.starts, counts)
    k = np.arange(len(points))
    k = np.where(flip, 2 * starts + np.repeat(counts, counts) - 1 - k, k)
    points = points[k]
    # The odd shift keeps round sizes away from the borders between grid cells.
    grid = np.floor(points / SAME_PLACE_IN + 0.3728).astype(np.int64)
    code = (grid[:, 0] << 31) + grid[:, 1]
    _, first, index = np.unique(code, return_index=True, return_inverse=True)
    keep = index != index[following(counts)]
    lengths = np.add.reduceat(keep.astype(np.int64), np.cumsum(counts) - counts)
    if int(lengths.min()) < 3:
        raise ValueError("a piece has no area")
    return points[first], index[keep].astype(np.int64), lengths


def _partnered(index: Ints, after: Ints, size: int) -> NDArray[np.bool_]:
    """Return which sides are run the other way by a neighbour."""
    way = np.sort(index * size + after)
    if (way[1:] == way[:-1]).any():
        raise ValueError("pieces overlap along a side")
    back = after * size + index
    at = np.minimum(np.searchsorted(way, back), len(way) - 1)
    out: NDArray[np.bool_] = way[at] == back
    return out


def _with_joins(at: Points, index: Ints, counts: Ints, after: Ints) -> tuple[Ints, Ints]:
    """Return the outlines with the corners that other pieces have on their sides."""
    loose = np.flatnonzero(~_partnered(index, after, len(at)))
    a, b = index[loose], after[loose]
    way = at[b] - at[a]
    turn = np.mod(np.arctan2(way[:, 1], way[:, 0]) + SAME_TURN_RAD * 10, np.pi)
    order = np.argsort(turn, kind="stable")
    group = np.empty(len(turn), dtype=np.int64)
    group[order] = np.cumsum(np.diff(turn[order], prepend=turn[order[0]]) > SAME_TURN_RAD)
    mean = (np.bincount(group, turn) / np.bincount(group))[group] - SAME_TURN_RAD * 10
    c, s = np.cos(mean), np.sin(mean)
    offset = at[a, 1] * c - at[a, 0] * s
    order = np.lexsort((offset, group))
    new = np.diff(group[order], prepend=-1) != 0
    new |= np.diff(offset[order], prepend=0.0) > SAME_LINE_IN
    line = np.empty(len(turn), dtype=np.int64)
    line[order] = np.cumsum(new)
    along = [at[e, 0] * c + at[e, 1] * s for e in (a, b)]
    spot = np.concatenate([line * LINE_STEP + t for t in along])
    corner = np.concatenate([a, b])
    order = np.argsort(spot, kind="stable")
    spot, corner = spot[order], corner[order]
    once = np.diff(spot, prepend=-LINE_STEP) > 10 * SAME_PLACE_IN
    spot, corner = spot[once], corner[once]
    tiny = 20 * SAME_PLACE_IN
    lo = np.searchsorted(spot, line * LINE_STEP + np.minimum(*along) + tiny)
    hi = np.searchsorted(spot, line * LINE_STEP + np.maximum(*along) - tiny)
    found = np.maximum(hi - lo, 0)
    within = np.arange(int(found.sum())) - np.repeat(np.cumsum(found) - found, found)
    forward = np.repeat(along[0] < along[1], found)
    extra = corner[
        np.where(forward, np.repeat(lo, found) + within, np.repeat(hi, found) - 1 - within)
    ]
    many = np.zeros(len(index), dtype=np.int64)
    many[loose] = found
    return with_corners(index, counts, many, extra)


def _outside(a: Ints, b: Ints, at: Points) -> Ints:
    """Return the one ring that the sides a → b form."""
    follow = dict(zip(a.tolist(), b.tolist(), strict=True))
    start = int(a[np.argmin(at[a].sum(axis=1))])
    out = [start]
    while (j := follow[out[-1]]) != start and len(out) <= len(a):
        out.append(j)
    if len(out) != len(a) or len(follow) != len(a):
        raise ValueError("the pieces do not form one sheet without holes")
    return np.array(out, dtype=np.int64)
