"""Translations that map most of a top on itself.

A top repeats by dx when patches moved by dx come to lie on patches of the same kind.  Of all
distances between equal patches the smallest that serves most of the top is taken; its length is
then fitted to all repeats at once.

References
----------
Repeats as peaks of the self-similarity under translation: Lin, Wang and Yang, Computer Vision and
Image Understanding 66:121, 1997 (here on patches rather than pixels).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.polygon import signed_area
from seamwalk.geometry.projective import Points

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RepeatSettings:
    """What counts as a repeat."""

    near_in: float = 0.45
    """A patch comes again where its middle falls within this of an equal one's, inches: skew of
    1° over 24 in."""
    near_share: float = 0.35
    """… and within this share of the smallest patches' width."""
    share: float = 0.75
    """At least this share of the area that could come again does …"""
    could: float = 0.3
    """… and could for this share of the whole: a long lag leaves only a corner over."""
    whole_share: float = 0.6
    """A unit with this share of the fullest one's area is whole but for its sashing."""
    piecing_in: float = 1 / 32
    """σ of a patch's middle about its ideal place, inches …"""
    piecing_patches: float = 4.0
    """… counted as so many patches beside the scatter seen, …"""
    reach_in: float = 14.0
    """… and alike for patches nearer than this, inches."""


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Patches that may come again, in any frame whose axes the unit follows.

    Attributes
    ----------
    rings : tuple of (M, 2) float64
        Finished corners.
    kind : (N,) int
        Equal for patches that may stand for each other.
    """

    rings: tuple[Points, ...]
    kind: NDArray[np.intp]
    low: Points
    high: Points
    area: Floats

    @property
    def middle(self) -> Points:
        """Return the middles (N, 2) of the extents."""
        out: Points = (self.low + self.high) / 2
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Repeat:
    """The smallest translation along one axis that serves.

    Attributes
    ----------
    pairs : (P, 2) int
        A patch and the one it falls on.
    share : float
        Share of the area that could come again and does.
    """

    axis: int
    period_in: float
    share: float
    pairs: NDArray[np.intp]


def pieces(rings: list[Points], keys: list[tuple[str, str]]) -> Pieces:
    """Return patches with equal keys as of one kind."""
    number = {key: n for n, key in enumerate(dict.fromkeys(keys))}
    return Pieces(
        tuple(rings),
        np.array([number[key] for key in keys]),
        np.array([r.min(axis=0) for r in rings]),
        np.array([r.max(axis=0) for r in rings]),
        np.array([abs(signed_area(r)) for r in rings]),
    )


def smallest_repeat(
    patches: Pieces, axis: int, *, stepped: bool = False, settings: RepeatSettings | None = None
) -> Repeat | None:
    """Return the smallest translation along an axis that serves; None where none does.

    Parameters
    ----------
    stepped : bool
        The pieces end in steps instead of along the axes, as on point: a patch can come again
        only where its middle, moved, lies on some piece.
    """
    s = settings or RepeatSettings()
    m, extent = patches.middle, patches.high - patches.low
    near = min(s.near_in, s.near_share * float(np.quantile(extent.min(axis=1), 0.1)))
    off = m[None] - m[:, None]
    equal = (patches.kind[:, None] == patches.kind[None]) & (np.abs(off[..., 1 - axis]) < near)
    # Two rectangles of one class do not repeat each other when one is turned.
    equal &= (np.abs(extent[None] - extent[:, None]) < 2 * near).all(axis=2)
    i, j = np.nonzero(equal & (off[..., axis] > 2 * near))
    lag = off[i, j, axis]
    order = np.argsort(lag, kind="stable")
    i, j, lag = i[order], j[order], lag[order]
    end = float(m[:, axis].max()) + near
    total = float(patches.area.sum())
    for period in _crowded(lag, near):
        a, b = np.searchsorted(lag, [period - near, period + near])
        moved = m.copy()
        moved[:, axis] += period
        could = moved[:, axis] <= end
        if stepped:
            above = (moved[:, None] > patches.low).all(axis=2)
            below = (moved[:, None] < patches.high).all(axis=2)
            could &= np.logical_or.reduce(above & below, axis=1)
        served = np.zeros(len(m), dtype=np.bool_)
        served[i[a:b]] = True
        area = float(patches.area[could].sum())
        share = float(patches.area[served & could].sum()) / max(area, 1e-9)
        if area >= s.could * total and share >= s.share:
            off_period = np.abs(lag[a:b] - period)
            nearest = np.lexsort((off_period, i[a:b]))
            _, first = np.unique(i[a:b][nearest], return_index=True)
            keep = nearest[first]
            pairs = np.column_stack([i[a:b][keep], j[a:b][keep]])
            return Repeat(axis, float(np.median(lag[a:b][keep])), share, pairs)
    return None


def _crowded(lag: Floats, near: float) -> list[float]:
    """Return the lags about which the sorted `lag` (P,) crowds, ascending."""
    if not len(lag):
        return []
    cuts = np.flatnonzero(np.diff(lag) > near / 2) + 1
    return [float(np.median(part)) for part in np.split(lag, cuts)]


def again_along(patches: Pieces, repeats: list[Repeat]) -> NDArray[np.bool_]:
    """Return which patches come again along every axis, (N,)."""
    again = np.ones(len(patches.area), dtype=np.bool_)
    for repeat in repeats:
        mine = np.zeros_like(again)
        mine[repeat.pairs.ravel()] = True
        again &= mine
    return again if again.any() else ~again


def whole_units(
    patches: Pieces,
    again: NDArray[np.bool_],
    axis: int,
    period: float,
    settings: RepeatSettings | None = None,
) -> int:
    """Return how many units lie side by side; the last may lack the sashing behind it."""
    s = settings or RepeatSettings()
    low = float(patches.low[again, axis].min())
    unit = np.floor((patches.middle[again, axis] - low) / period).astype(np.intp)
    area = np.bincount(np.maximum(unit, 0), patches.area[again])
    return max(2, int((area > s.whole_share * area.max()).sum()))


def fitted_period(
    patches: Pieces, repeat: Repeat, bump_in: float, settings: RepeatSettings | None = None
) -> tuple[Floats, float]:
    """Return the weights (N,) of the middles in the period, and its variance without the camera.

    Parameters
    ----------
    bump_in : float
        σ that the bumps of the cloth give a middle, inches.

    Notes
    -----
    Least squares for middle = start of its row + count · period.  Rows nearer than a block wander
    together, so no more rows count as independent than blocks fit across.
    """
    s = settings or RepeatSettings()
    m, axis = patches.middle, repeat.axis
    n = len(m)
    row, count = np.arange(n), np.zeros(n)
    in_order = np.argsort(m[repeat.pairs[:, 0], axis], kind="stable")
    for a, b in repeat.pairs[in_order].tolist():
        row[b], count[b] = row[a], count[a] + 1
    _, row = np.unique(row, return_inverse=True)
    size = np.maximum(np.bincount(row), 1)
    c = count - (np.bincount(row, count) / size)[row]
    total = float(c @ c)
    weights: Floats = c / total
    rest = m[:, axis] - float(weights @ m[:, axis]) * count
    rest = rest - (np.bincount(row, rest) / size)[row]
    rows = int((size > 1).sum())
    freedom = max(1, n - int(row.max()) - 2)
    stated = s.piecing_in**2 + bump_in**2
    k = s.piecing_patches
    variance = (float(rest @ rest) + k * stated) / (freedom + k)
    independent = min(rows, float(np.ptp(m[:, 1 - axis])) / s.reach_in + 1)
    return weights, variance / total * rows / independent
