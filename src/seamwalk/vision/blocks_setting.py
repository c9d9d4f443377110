"""What patches of no block do in the setting of a top.

Sashing lies between blocks and is as wide as the gap between them, cornerstones lie where sashing
crosses, setting triangles fill the edge of a top on point, borders lie outside of it all.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.block import SettingRole
from seamwalk.vision.blocks_cells import Cloth

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class SettingSettings:
    """What is plain enough to be called sashing, border or setting triangle."""

    near_in: float = 0.3
    """Widths may be off by this, inches …"""
    near_share: float = 0.25
    """… or by this share of the gap, whichever is less."""
    gap_share: float = 0.75
    """Sashing is narrower than this share of the block."""
    box_share: float = 0.85
    """A strip fills at least this share of its own extent."""
    triangle_share: float = 0.15
    """Area of a setting triangle may be off by this share."""
    border_share: float = 0.55
    """A border is longer than this share of what it frames."""
    long: float = 1.3
    """Sashing is longer than wide by this factor."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """Usual distance between neighbouring blocks across and down, inches; 0 where they touch."""

    across: float
    down: float


def gaps(low: Points, high: Points, near: float, settings: SettingSettings | None = None) -> Gaps:
    """Return the usual gaps between boxes (P, 2) that stand side by side."""
    s = settings or SettingSettings()
    out = []
    for axis in (0, 1):
        other = 1 - axis
        shared = np.minimum(high[:, None, other], high[None, :, other])
        shared = shared - np.maximum(low[:, None, other], low[None, :, other])
        beside = shared > 0.5 * (high - low)[:, None, other]
        gap = low[None, :, axis] - high[:, None, axis]
        gap = np.where(beside & (gap > -2 * near), gap, np.inf)
        nearest = gap.min(axis=1)
        size = float(np.median((high - low)[:, axis]))
        real = nearest[nearest < s.gap_share * size]
        width = float(np.median(real)) if len(real) else 0.0
        out.append(width if width > near else 0.0)
    return Gaps(out[0], out[1])


def roles(
    cloth: Cloth,
    straight: Cloth,
    left: Indices,
    low: Points,
    high: Points,
    between: Gaps,
    settings: SettingSettings | None = None,
) -> list[SettingRole]:
    """Return the part in the setting of each patch left over.

    Parameters
    ----------
    straight : Cloth
        The same top along its edges; `cloth` itself unless blocks are on point.
    left : (L,) int
        Patches of no block.
    low, high : (P, 2) float64
        Extents of the blocks in `cloth`.
    """
    s = settings or SettingSettings()
    extent = cloth.high[left] - cloth.low[left]
    filled = cloth.area[left] > s.box_share * extent.prod(axis=1)
    wide = [_about(extent[:, axis], g, s) for axis, g in enumerate((between.across, between.down))]
    out = np.full(len(left), "", dtype=object)
    corner = filled & wide[0] & wide[1]
    for axis in (0, 1):
        strip = filled & wide[axis] & (extent[:, 1 - axis] > s.long * extent[:, axis])
        strip &= _along_a_block(cloth, left, low, high, axis)
        out[strip] = "sashing"
    sash = left[out == "sashing"]
    at = _touching(cloth, left, sash)
    out[corner & (out == "") & at] = "cornerstone"
    taken = np.ones(len(cloth.area), dtype=np.bool_)
    if cloth.angle_deg:
        half = _setting_triangle(cloth, left, low, high, between, s)
        taken[left[~half]] = False
        out[half & _at_the_edge(straight, left, taken)] = "setting triangle"
        taken[:] = True
    taken[left[out == ""]] = False
    taken &= straight.inside
    if taken.any():
        a, b = straight.low[taken].min(axis=0), straight.high[taken].max(axis=0)
        here_low, here_high = straight.low[left], straight.high[left]
        near = 2 * straight.near_in
        beyond = (here_low > b - near) | (here_high < a + near)
        long = (here_high - here_low > s.border_share * (b - a)).any(axis=1)
        # A strip that runs along the whole edge is a border however wide the sashing is; squares
        # in the corners of borders lie outside both ways.
        out[beyond.any(axis=1) & long] = "border"
        out[beyond.all(axis=1) & (out == "")] = "border"
    return out.tolist()


def _along_a_block(
    cloth: Cloth, left: Indices, low: Points, high: Points, axis: int
) -> NDArray[np.bool_]:
    """Return which patches lie along a side of a block, before or behind it on `axis`."""
    other, near = 1 - axis, 2 * cloth.near_in
    a, b = cloth.low[left][:, None], cloth.high[left][:, None]
    beside = np.abs(a[..., axis] - high[None, :, axis]) < near
    beside |= np.abs(b[..., axis] - low[None, :, axis]) < near
    shared = np.minimum(b[..., other], high[None, :, other])
    shared = shared - np.maximum(a[..., other], low[None, :, other])
    length = np.minimum((b - a)[..., other], (high - low)[None, :, other])
    return np.asarray((beside & (shared > 0.5 * length)).any(axis=1))


def _touching(cloth: Cloth, some: Indices, others: Indices) -> NDArray[np.bool_]:
    """Return which of some patches have extents that meet those of any of the others."""
    near = cloth.near_in
    met = np.ones((len(some), len(others)), dtype=np.bool_)
    for axis in (0, 1):
        met &= cloth.low[some, None, axis] < cloth.high[None, others, axis] + near
        met &= cloth.high[some, None, axis] > cloth.low[None, others, axis] - near
    return np.asarray(met.any(axis=1))


def _at_the_edge(straight: Cloth, left: Indices, within: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which patches reach the edge of what the patches `within` fill."""
    near = 2 * straight.near_in
    first, last = straight.low[within].min(axis=0), straight.high[within].max(axis=0)
    reaches = (straight.low[left] < first + near) | (straight.high[left] > last - near)
    return np.asarray(reaches.any(axis=1))


def _about(width: Floats, gap: float, s: SettingSettings) -> NDArray[np.bool_]:
    if gap <= 0:
        return np.zeros(len(width), dtype=np.bool_)
    return np.asarray(np.abs(width - gap) < min(s.near_in, s.near_share * gap))


def _setting_triangle(
    cloth: Cloth, left: Indices, low: Points, high: Points, between: Gaps, s: SettingSettings
) -> NDArray[np.bool_]:
    """Return which patches are half or quarter squares as large as a block and its sashing."""
    side = float(np.median(high - low))
    gap = max(between.across, between.down)
    three = np.array([len(cloth.rings[k]) == 3 for k in left.tolist()], dtype=np.bool_)
    fits = np.zeros(len(left), dtype=np.bool_)
    for leg in {side, side + gap, side + 2 * gap}:
        for share in (0.5, 0.25):
            meant = share * leg**2
            fits |= np.abs(cloth.area[left] - meant) < s.triangle_share * meant
    return three & fits
