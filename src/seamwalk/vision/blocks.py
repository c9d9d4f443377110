"""The repeated unit of a top: its blocks, where they lie, how they are turned, what is left over.

Rectangles that whole patches fill are compared in eight poses; of all ways to lay the commonest
ones side by side the one with the shortest description is taken, if it is much shorter than
telling the top patch by patch.  Scrappy and improvised tops have none.
"""

from dataclasses import dataclass

import numpy as np

from seamwalk.model.block import BlockPlan, Leftover
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import Top
from seamwalk.vision.blocks_cells import Cells, Cloth, cell_sizes, cells, laid_straight
from seamwalk.vision.blocks_complete import completed
from seamwalk.vision.blocks_draft import Draft, LengthSettings, drafts, nothing_bits
from seamwalk.vision.blocks_kinds import Kind, kinds
from seamwalk.vision.blocks_plan import plan_of
from seamwalk.vision.blocks_single import hexagons, is_brick, is_plain_grid
from seamwalk.vision.measure_finished import FinishedShape, finished_shapes


@dataclass(frozen=True, slots=True)
class BlocksSettings:
    """When a top is said to be made of blocks."""

    covered: float = 0.65
    """Blocks and their setting explain at least this share of the top inside its borders …"""
    shorter: float = 0.6
    """… and tell it in less than this share of what telling it patch by patch takes; hexagons
    need not, as they don't come by chance."""
    pieced_share: float = 0.25
    """Plain blocks may come with pieced ones that have at least this share of the area."""
    set_apart: float = 0.08
    """Plain blocks alone need so many pieces of sashing or setting triangles for each: a top on
    point of twenty by twenty has one for ten."""
    seen: float = 0.15
    """A plan is looked at if undamaged blocks cover at least this share."""
    drafts: int = 3
    """Plans completed and compared, with names and without: those that promise most …"""
    short_drafts: int = 1
    """… and those that are shortest as they are."""
    whole: float = 0.85
    """A plan that explains this share is all there is: what it leaves over is damage …"""
    damage: float = 0.8
    """… of which any other plan has at least this share."""
    leads: int = 3
    """Kinds of one size that plans start from."""
    slant_share: float = 0.1
    """Share of the seams along the diagonals from which blocks on point are sought."""


def find_blocks(
    top: Top, sizes: Sizes | None = None, settings: BlocksSettings | None = None
) -> BlockPlan:
    """Return the blocks of a top; a plan without blocks where nothing is repeated.

    Parameters
    ----------
    sizes : Sizes or None
        Where they are known, members have the shapes that were meant.
    """
    best = blocks_of(top, finished_shapes(top), settings)
    if best is None:
        return BlockPlan(leftover=tuple(Leftover(p.id) for p in top.patches))
    return plan_of(top, best, sizes)


def blocks_of(
    top: Top, shapes: list[FinishedShape], settings: BlocksSettings | None = None
) -> Draft | None:
    """Return the blocks of a top whose finished shapes are known; None where it has none."""
    s = settings or BlocksSettings()
    if len(shapes) < 2:
        return None
    straight = laid_straight(top, shapes, 0.0)
    frames = [_framed(straight, straight)]
    if _slanting(shapes) > s.slant_share:
        frames.append(_framed(laid_straight(top, shapes, 45.0), straight))
    return _shortest(frames, s)


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """The patches along one pair of axes, with the cells of each size, small ones first."""

    cloth: Cloth
    straight: Cloth
    of_size: list[list[Cells]]


def _framed(cloth: Cloth, straight: Cloth) -> _Frame:
    sizes = sorted(cell_sizes(cloth), key=lambda z: z[0] * z[1])
    return _Frame(cloth, straight, [cells(cloth, *z) for z in sizes])


def _slanting(shapes: list[FinishedShape]) -> float:
    """Return the share of the outlines that runs along the diagonals."""
    d = np.concatenate([np.roll(x.finished, -1, axis=0) - x.finished for x in shapes])
    length = np.hypot(d[:, 0], d[:, 1])
    off = np.abs(np.degrees(np.arctan2(d[:, 1], d[:, 0])) % 90 - 45)
    return float(length[off < 12].sum() / max(length.sum(), 1e-9))


def _shortest(frames: list[_Frame], s: BlocksSettings) -> Draft | None:
    """Return the plan that tells the top shortest once its damaged blocks are found.

    Plans that start from a block with a name come first.  A block without one has to be told
    patch by patch; where that alone takes longer than a plan that is known, it is not looked at.
    """
    straight = frames[0].straight
    nothing = nothing_bits(straight)
    done = _completed([d for f in frames for d in _named(f, s)], straight, s)
    bound = min((_at_least(d, s) for d in done), default=nothing)
    done += _completed([d for f in frames for d in _unnamed(f, bound, s)], straight, s)
    done = [d for d in done if _allowed(d, s) and _explains(d, s.shorter * nothing, s)]
    return min(done, key=lambda d: d.bits, default=None)


def _named(frame: _Frame, s: BlocksSettings) -> list[Draft]:
    """Return plans of blocks that have names, with plain blocks between them."""
    out: list[Draft] = []
    for some in frame.of_size:
        found = kinds(frame.cloth, some, 1)
        out += _led(frame, found, s)
    alone = hexagons(frame.cloth)
    if alone is not None:
        out += _led(frame, [alone], s)
    return out


def _unnamed(frame: _Frame, bound: float, s: BlocksSettings) -> list[Draft]:
    """Return plans with blocks of any kind that can be told in fewer bits than `bound`."""
    cost = LengthSettings()
    most_patches = int((bound - cost.unnamed) / cost.patch)
    if most_patches < 2:
        return []
    out: list[Draft] = []
    for some in frame.of_size:
        out += _led(frame, kinds(frame.cloth, some, most_patches), s)
    return out


def _led(frame: _Frame, found: list[Kind], s: BlocksSettings) -> list[Draft]:
    every = [
        d for lead in found[: s.leads] for d in drafts(frame.cloth, frame.straight, found, lead)
    ]
    return [d for d in every if d.seen > s.seen and _allowed(d, s)]


def _completed(found: list[Draft], straight: Cloth, s: BlocksSettings) -> list[Draft]:
    """Return the best plans with their damaged blocks."""
    # The same plan is drafted from each of its kinds.
    once = {(round(d.bits, 3), round(d.promise, 3)): d for d in found}
    by_promise = sorted(once.values(), key=lambda d: d.promise)[: s.drafts]
    by_bits = sorted(once.values(), key=lambda d: d.bits)[: s.short_drafts]
    return [completed(straight, d) for d in dict.fromkeys([*by_promise, *by_bits])]


def _at_least(draft: Draft, s: BlocksSettings) -> float:
    """Return the bits that a plan has to undercut with its blocks alone."""
    if draft.covered < s.whole:
        return draft.bits
    cost = LengthSettings()
    damage = cost.left * draft.setting.count("")
    damage += cost.missing * sum(float((x.patches < 0).sum()) for x in draft.laid)
    return draft.bits - s.damage * damage


def _allowed(draft: Draft, s: BlocksSettings) -> bool:
    """Return whether the plan's units are blocks and not just patches of one size."""
    area = [len(x.pose) * float(x.kind.area.sum()) for x in draft.laid]
    of_pieced = sum(a for a, x in zip(area, draft.laid, strict=True) if len(x.kind.area) > 1)
    if of_pieced > s.pieced_share * sum(area):
        return not is_plain_grid(draft)
    # A plain patch is a block only where its setting makes it one.
    setting = sum(r in ("sashing", "setting triangle") for r in draft.setting)
    if setting > s.set_apart * sum(len(x.pose) for x in draft.laid):
        return True
    return is_brick(draft) or draft.names() == ("hexagon",)


def _explains(draft: Draft, limit: float, s: BlocksSettings) -> bool:
    if draft.names() == ("hexagon",):
        # They don't come by chance; at the edge they are cut.
        return draft.covered_within > s.covered
    return draft.covered > s.covered and draft.bits < limit
