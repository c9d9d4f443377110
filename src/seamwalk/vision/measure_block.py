"""The block: the unit that a top repeats, and the size it is meant to finish at.

Where a top is made of blocks (:mod:`seamwalk.vision.blocks`), turned or mirrored as they may be,
the unit is the step from one to the next.  Elsewhere it is what patches repeat along the edges
and, where most of the top is set on point, along the diagonals; first with fabrics told apart,
then by class, then by extent alone.  Borders come again nowhere; they are left out, and sashing
belongs to the unit.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.polygon import signed_area
from seamwalk.geometry.projective import Points, apply
from seamwalk.model.sizes import BlockSize, Length
from seamwalk.model.top import Top
from seamwalk.vision.blocks_draft import Draft
from seamwalk.vision.measure_classes import PatchClass
from seamwalk.vision.measure_doubt import NINETY_FIVE, Doubt
from seamwalk.vision.measure_finished import FinishedShape
from seamwalk.vision.measure_meant import MeantSettings, meant_size
from seamwalk.vision.measure_repeat import (
    Pieces,
    Repeat,
    again_along,
    fitted_period,
    pieces,
    smallest_repeat,
    whole_units,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BlockSettings:
    """Where blocks are sought and what they are like."""

    border_share: float = 0.4
    """Patches on the edge longer than this share of the top are borders."""
    on_point_share: float = 0.4
    """A top with this share of its area in squares set on point is looked at along the
    diagonals too."""
    sure: float = 0.9
    """A class's size with at least this chance tells what the maker's seams add."""
    whole: float = 1.0
    """Blocks finish at whole inches …"""
    half: float = 0.25
    """… far more often than at halves, …"""
    quarter: float = 0.06
    """… quarters …"""
    other: float = 0.02
    """… or anything finer (common practice: 4, 5, 6, 8, 9, 10, 12, 14, 15, 16, 18 in)."""


@dataclass(frozen=True, slots=True, eq=False)
class _Unit:
    """Repeats along the axes of a frame turned by `angle_deg`; points there are p @ turn.

    `patch_area` is the usual area of one patch, square inches; `of_blocks` tells that the
    patches of the unit are whole blocks.
    """

    patches: Pieces
    repeats: tuple[Repeat | None, Repeat | None]
    angle_deg: float
    turn: Floats
    patch_area: float
    of_blocks: bool = False

    @property
    def found(self) -> list[Repeat]:
        """Return the repeats there are."""
        return [r for r in self.repeats if r is not None]


def block_size(
    top: Top,
    shapes: list[FinishedShape],
    named: list[PatchClass],
    draft: Draft | None,
    doubt: Doubt,
    grain_in: float,
    settings: BlockSettings | None = None,
) -> BlockSize | None:
    """Return the unit that repeats; None where nothing does.

    `draft` holds the blocks of the top, if it has any.

    Where the top repeats along one axis only, the unit is as long as the top inside its borders
    along the other.
    """
    s = settings or BlockSettings()
    made_of = None if draft is None else _of_blocks(draft, shapes)
    if made_of is not None:
        steps, members, name = made_of
        found = _described(steps, _maker(named, members, s), doubt, grain_in, s)
        return replace(found, name=name)
    inside = _without_borders(top, shapes, s)
    if len(inside) < 2:
        return None
    rings = [shapes[k].finished for k in inside]
    fabrics = [top.patches[k].fabric for k in inside]
    by_class = [named[k].name for k in inside]
    by_fabric = list(zip(by_class, fabrics, strict=True))
    by_shape = [(name, "") for name in by_class]
    tries = [by_fabric] if all(fabrics) else []
    tries += [by_shape, [("", "")] * len(inside)]
    blocks = [k for k, ring in enumerate(rings) if _is_on_point(by_class[k], ring)]
    area = np.array([abs(signed_area(r)) for r in rings])
    if area[blocks].sum() > s.on_point_share * area.sum():
        # Along the edges such a top repeats by diagonals, which fall on no grain.  The setting
        # triangles are half blocks and come again nowhere.
        unit = _unit([rings[k] for k in blocks], [by_shape[k] for k in blocks], 45.0)
        if len(unit.found) == 2:
            return _described(unit, _maker(named, inside, s), doubt, grain_in, s)
    best: _Unit | None = None
    for keys in tries:
        unit = _unit(rings, keys, 0.0)
        if len(unit.found) == 2:
            best = unit
            break
        if best is None and unit.found:
            best = unit
    if best is None:
        return None
    return _described(best, _maker(named, inside, s), doubt, grain_in, s)


def _of_blocks(draft: Draft, shapes: list[FinishedShape]) -> tuple[_Unit, list[int], str] | None:
    """Return a top's blocks across and down, the patches they are made of, and their name.

    None where they do not come again both ways.
    """
    rings: list[Points] = []
    members: list[int] = []
    for laid in draft.laid:
        for patches, low, high in zip(laid.patches.tolist(), *laid.extents(), strict=True):
            seen = [k for k in patches if k >= 0]
            members += seen
            if len(seen) == len(patches):
                rings.append(np.concatenate([shapes[k].finished for k in seen]))
            else:
                # A damaged block lies where those of its patches that are seen put it.
                corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
                rings.append(apply(draft.cloth.top_from_cloth, corners))
    patch = float(np.median([abs(signed_area(shapes[k].finished)) for k in members]))
    unit = _unit(rings, [("", "")] * len(rings), draft.cloth.angle_deg, patch)
    # A plain partner that alternates with a pieced block has no name to say.
    name = " and ".join(dict.fromkeys(n for n in draft.names() if n))
    return (unit, members, name) if len(unit.found) == 2 else None


def _without_borders(top: Top, shapes: list[FinishedShape], s: BlockSettings) -> list[int]:
    x0, y0, x1, y1 = top.outline.bounds
    size = np.array([x1 - x0, y1 - y0])
    return [
        k
        for k, shape in enumerate(shapes)
        if not (shape.raw_edges and (np.ptp(shape.corners, axis=0) > s.border_share * size).any())
    ]


def _is_on_point(name: str, ring: Points) -> bool:
    """Return whether a patch is a square whose sides run along the diagonals."""
    d = ring[1] - ring[0]
    return name.startswith("square") and bool(abs(abs(d[0]) - abs(d[1])) < 0.3 * np.hypot(*d))


def _unit(
    rings: list[Points],
    keys: list[tuple[str, str]],
    angle_deg: float,
    patch_area: float | None = None,
) -> _Unit:
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    turn = np.array([[c, -s], [s, c]])
    patches = pieces([r @ turn for r in rings], keys)
    stepped = angle_deg != 0.0
    across = smallest_repeat(patches, 0, stepped=stepped)
    down = smallest_repeat(patches, 1, stepped=stepped)
    usual = patch_area or float(np.median(patches.area))
    return _Unit(patches, (across, down), angle_deg, turn, usual, patch_area is not None)


def _maker(named: list[PatchClass], inside: list[int], s: BlockSettings) -> tuple[float, float]:
    """Return what the maker's seams add to a patch, inches, and the σ of that.

    Classes whose size is beyond doubt tell; a block of many patches has it many times over.
    """
    prior = MeantSettings().allowance_in
    sure = {named[k].name: named[k] for k in inside if named[k].chance >= s.sure}
    found = [
        mean - size
        for kind in sure.values()
        for mean, size in zip(kind.mean_in, kind.dims_in, strict=True)
    ]
    if not found:
        return 0.0, prior
    # Half of the prior doubt is left: what is seen may be the camera or chance.
    return float(np.mean(found)), prior / 2


def _described(
    unit: _Unit, maker: tuple[float, float], doubt: Doubt, grain_in: float, s: BlockSettings
) -> BlockSize:
    patches = unit.patches
    again = again_along(patches, unit.found)
    low, high = patches.low[again].min(axis=0), patches.high[again].max(axis=0)
    here = patches.middle @ unit.turn.T
    by_mode = [(p - here) @ unit.turn for p in doubt.by_mode(here)]
    bump = float(np.sqrt(np.mean(doubt.bump_sigma_at(here) ** 2)))
    changes = np.zeros((2, len(by_mode)))
    own, value, seams = np.zeros(2), np.zeros(2), np.zeros(2)
    counts = [1, 1]
    for axis, repeat in enumerate(unit.repeats):
        if repeat is None:
            ends = np.array([low, low])
            ends[1, axis] = high[axis]
            length = doubt.lengths(*np.split(ends @ unit.turn.T, 2))[0]
            value[axis] = length.value_in
            own[axis] = (length.plus_minus_in / NINETY_FIVE) ** 2
        else:
            weights, own[axis] = fitted_period(patches, repeat, bump)
            value[axis] = weights @ patches.middle[:, axis]
            changes[axis] = [weights @ p[:, axis] for p in by_mode]
            counts[axis] = whole_units(patches, again, axis, float(value[axis]))
            if unit.of_blocks:
                counts[axis] = round(float(np.ptp(patches.middle[:, axis])) / value[axis]) + 1
        # Every seam of the block takes its part of the maker's error.
        seams[axis] = max(1, round(value[axis] / float(np.sqrt(unit.patch_area))))
    seen = np.diag(own) + changes @ changes.T
    pm = NINETY_FIVE * np.sqrt(np.diag(seen))
    spread = seen + maker[1] ** 2 * np.outer(seams, seams)
    size = value - maker[0] * seams
    if unit.angle_deg:
        # A top that leans has one diagonal longer than the other; its blocks are square still.
        size, spread = np.full(2, size.mean()), np.full((2, 2), spread.mean())
    finished, chance = _meant(size, spread, grain_in, s)
    first = low
    if unit.angle_deg:
        first = _first_corner(patches, unit)
        # Of a top on point the trade counts the blocks that stand side by side, point to point.
        extent = np.ptp(np.concatenate([r @ unit.turn.T for r in patches.rings]), axis=0)
        counts = [int(n) for n in np.round(extent / (np.sqrt(2) * value.mean()))]
    return BlockSize(
        Length(float(value[0]), float(pm[0])),
        Length(float(value[1]), float(pm[1])),
        finished,
        chance,
        counts[0],
        counts[1],
        (float(first[0]), float(first[1])),
        min(r.share for r in unit.found),
        unit.angle_deg,
    )


def _first_corner(patches: Pieces, unit: _Unit) -> Floats:
    """Return the upper left corner of the first unit of a top on point, top frame."""
    used = np.unique(np.concatenate([r.pairs.ravel() for r in unit.found]))
    corner = patches.low[used]
    first = np.lexsort((corner[:, 0], np.round((corner @ unit.turn.T)[:, 1], 1)))[0]
    out: Floats = corner[first] @ unit.turn.T
    return out


def _meant(
    size_in: Floats, covariance: Floats, grain_in: float, s: BlockSettings
) -> tuple[tuple[float, float], float]:
    """Return the likeliest finished width and height, and their probability.

    Blocks are as wide as high unless they measure otherwise.
    """
    how = MeantSettings(whole=s.whole, half=s.half, quarter=s.quarter, other=s.other)
    apart = float(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1])
    if abs(size_in[0] - size_in[1]) < 2 * np.sqrt(max(apart, 0.0)) + grain_in / 2:
        (side,), chance = meant_size(size_in.mean(), [[covariance.mean()]], grain_in, how)
        return (side, side), chance
    (width, height), chance = meant_size(size_in, covariance, grain_in, how)
    return (width, height), chance
