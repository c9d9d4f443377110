"""A plan in the making: which cells are blocks, and how long it takes to tell the top by them.

The cells of one kind may overlap: of a grid of equal squares every start is a cell.  One phase of
them is taken, then cells of other kinds fill what is free.  The plan with the shortest description
is the best: blocks that the trade has a name for are told by it, others patch by patch; then
placements, patches left over, fabrics and their exceptions.

References
----------
Minimum description length: Rissanen, Automatica 14:465, 1978.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.block import SettingRole
from seamwalk.vision.blocks_cells import Cloth
from seamwalk.vision.blocks_fabric import best_turned, entropy_bits, roles_of
from seamwalk.vision.blocks_kinds import Kind, likeness
from seamwalk.vision.blocks_setting import Gaps, gaps, roles

Indices = NDArray[np.intp]


PARTS = ("half-square triangle", "quarter-square triangle", "hourglass")
"""Units that are more often a part of a block than a block."""


@dataclass(frozen=True, slots=True)
class LengthSettings:
    """What each part of a description costs, bits."""

    named: float = 14.0
    """A block with a name: which name, and its size."""
    part: float = 25.0
    """More for a unit of triangles that other blocks are made of."""
    plain: float = 10.0
    """A block of one patch: its size."""
    unnamed: float = 60.0
    """Any other block: its size, and that it is one of the many without a name …"""
    patch: float = 9.0
    """… and the shape and place of each of its patches."""
    placement: float = 0.25
    """Where it lies, if it is next to another …"""
    lonely: float = 10.0
    """… and elsewhere."""
    fabric: float = 0.2
    """Each bit of fabrics: seams decide, labels of fabrics have errors and only break ties."""
    missing: float = 6.0
    """A patch that a placement lacks or has otherwise."""
    left: float = 12.0
    """A patch on its own: shape, size and place."""
    border: float = 2.0
    """A border: its width."""
    sashing: float = 30.0
    """Sashing there is: its width; seldom beside blocks that end in strips themselves."""
    setting: float = 0.1
    """Sashing, cornerstones and setting triangles then follow from the blocks."""
    damaged: float = 0.4
    """Cells that share this much of their area with the first block are damaged ones of it …"""
    rare: float = 0.1
    """… and kinds with fewer cells than this share of its own are damaged ones of another."""
    on_point: float = 60.0
    """Blocks on point are rarer, and what is pieced of triangles can mostly be told both ways."""
    kinds: int = 2
    """Different blocks in one top; a top of more is mixed, and no unit is repeated."""
    phases: int = 9
    """Phases tried of cells that overlap; nine patches have nine."""
    phase_share: float = 0.6
    """Phases with fewer cells than this share of the fullest one's are not tried."""


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """One kind's placements in a draft: poses (P,), members (P, M) with -1, centres (P, 2)."""

    kind: Kind
    pose: Indices
    patches: Indices
    centre: Points

    def extents(self) -> tuple[Points, Points]:
        """Return the low and high corners (P, 2) of the placements."""
        odd = (self.pose % 2 == 1)[:, None]
        half = np.array([self.kind.width, self.kind.height]) / 2
        half = np.where(odd, half[::-1], half)
        return self.centre - half, self.centre + half


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """Blocks laid on a top.

    Attributes
    ----------
    roles : tuple of tuple of int
        Of each kind's members.
    left : (L,) int
        Patches of no block, with their `setting`.
    bits : float
        Length of the description.
    own_bits : (float, float)
        Of this, what the blocks and what their placements take.
    """

    cloth: Cloth
    laid: tuple[Laid, ...]
    roles: tuple[tuple[int, ...], ...]
    left: Indices
    setting: tuple[SettingRole, ...]
    bits: float
    own_bits: tuple[float, float]

    @property
    def covered(self) -> float:
        """Return the share of the top inside its borders that blocks and setting explain."""
        return self._explained(self.cloth.inside)

    @property
    def covered_within(self) -> float:
        """Return the same of the patches that don't touch the outermost edge."""
        return self._explained(self.cloth.inside & ~self.cloth.raw)

    def _explained(self, where: NDArray[np.bool_]) -> float:
        area = self.cloth.area
        loose = np.zeros(len(area), dtype=np.bool_)
        plain = np.array([r in ("", "border") for r in self.setting], dtype=np.bool_)
        loose[self.left[plain]] = True
        return 1.0 - float(area[loose & where].sum()) / max(float(area[where].sum()), 1e-9)

    @property
    def seen(self) -> float:
        """Return the share of the top inside its borders that blocks cover."""
        blocks = sum(len(x.pose) * float(x.kind.area.sum()) for x in self.laid)
        return blocks / max(float(self.cloth.area[self.cloth.inside].sum()), 1e-9)

    @property
    def promise(self) -> float:
        """Return the bits that the plan would take if its blocks covered the whole top."""
        return self.own_bits[0] + self.own_bits[1] / max(self.seen, 1e-9)

    def names(self) -> tuple[str, ...]:
        """Return each block's name; empty where it has none."""
        return tuple(_name(x.kind, r) for x, r in zip(self.laid, self.roles, strict=True))


def _name(kind: Kind, role: tuple[int, ...]) -> str:
    return next((n.name for n in kind.names if n.holds(role)), "")


def drafts(
    cloth: Cloth,
    straight: Cloth,
    found: list[Kind],
    lead: Kind,
    settings: LengthSettings | None = None,
) -> Iterator[Draft]:
    """Yield plans in which `lead` comes first and other kinds of its size fill the gaps."""
    s = settings or LengthSettings()
    rest = [k for k in found if k is not lead and likeness(lead, k) < s.damaged]
    rest.sort(key=lambda k: (len(k.area) == 1, -len(k.pose)))
    for first in _phases(lead, cloth.near_in, s):
        taken = np.zeros(len(cloth.area), dtype=np.bool_)
        laid: list[Laid] = []
        for kind, order in [(lead, first), *((k, np.arange(len(k.pose))) for k in rest)]:
            use: list[int] = []
            if laid:
                order = order[_in_step(laid[0], kind, taken, cloth.near_in)]
            for c in order.tolist():
                if not taken[kind.patches[c]].any():
                    taken[kind.patches[c]] = True
                    use.append(c)
            if len(use) > 1 and len(use) >= s.rare * len(first):
                laid.append(Laid(kind, kind.pose[use], kind.patches[use], kind.centre[use]))
            else:
                taken[kind.patches[use]] = False
            if len(laid) == s.kinds:
                break
        if laid:
            yield measured(cloth, straight, laid, s)


def _in_step(lead: Laid, kind: Kind, taken: NDArray[np.bool_], near: float) -> Indices:
    """Return which cells of another kind lie where the lattice of the first has places."""
    free = np.flatnonzero(~taken[kind.patches].any(axis=1))
    if not len(free):
        return free
    other = Laid(kind, kind.pose[free], kind.patches[free], kind.centre[free])
    low, high = (np.concatenate(p) for p in zip(lead.extents(), other.extents(), strict=True))
    between = gaps(low, high, near)
    step = np.array([lead.kind.width + between.across, lead.kind.height + between.down])
    off = other.centre[:, None] - lead.centre[None]
    nearest = np.abs(off).max(axis=2).argmin(axis=1)
    off = off[np.arange(len(free)), nearest] / step
    in_step = (np.abs(off - np.round(off)) * step < 2 * near).all(axis=1)
    out: Indices = free[in_step]
    return out


def _phases(kind: Kind, near: float, s: LengthSettings) -> list[Indices]:
    """Return sets of the kind's cells that do not overlap, the largest first."""
    order = np.lexsort((kind.centre[:, 0], np.round(kind.centre[:, 1] / (2 * near))))
    if kind.apart:
        return [order]
    size = (kind.width, kind.height)
    if abs(kind.width - kind.height) > near:
        # Lying and standing cells have no common phase: whatever comes first is taken.
        return [order]
    label = np.zeros(len(kind.pose), dtype=np.intp)
    for axis in (0, 1):
        period = _period(kind.centre, axis, size[axis], near)
        phase = _clusters(kind.centre[:, axis] % period, period, near)
        label = label * (int(phase.max()) + 1) + phase
    number, count = np.unique(label, return_counts=True)
    most = np.lexsort((number, -count))
    keep = [n for n in most.tolist() if count[n] > s.phase_share * count.max()][: s.phases]
    return [order[label[order] == number[n]] for n in keep]


def _period(centre: Points, axis: int, size: float, near: float) -> float:
    """Return the distance of cells in a row that do not overlap and are next to each other.

    Damaged cells leave wider gaps, so it is not the median that counts.
    """
    off = centre[None] - centre[:, None]
    along = np.where(
        (np.abs(off[..., 1 - axis]) < near) & (off[..., axis] > size - near),
        off[..., axis],
        np.inf,
    ).min(axis=1)
    along = along[np.isfinite(along)]
    return float(np.quantile(along, 0.2)) if len(along) else size


def _clusters(phase: NDArray[np.float64], period: float, near: float) -> Indices:
    """Return which cluster each phase (N,) on a circle of `period` belongs to."""
    order = np.argsort(phase, kind="stable")
    jump = np.diff(phase[order]) > near
    label = np.zeros(len(phase), dtype=np.intp)
    label[order[1:]] = np.cumsum(jump)
    if len(phase) > 1 and phase[order[0]] + period - phase[order[-1]] < near:
        label[label == label.max()] = 0
    return label


def measured(
    cloth: Cloth, straight: Cloth, laid: list[Laid], settings: LengthSettings | None = None
) -> Draft:
    """Return the plan with its roles, its setting and the length of its description."""
    s = settings or LengthSettings()
    of_kind, turned = [], []
    blocks, places = (s.on_point if cloth.angle_deg else 0.0), 0.0
    taken = np.zeros(len(cloth.area), dtype=np.bool_)
    for x in laid:
        fabric = np.where(x.patches >= 0, cloth.fabric[x.patches], -1)
        pose, patches = x.pose, x.patches
        if cloth.fabrics > 1:
            pose, order = best_turned(fabric, x.pose, x.kind.symmetry)
            fabric = np.take_along_axis(fabric, order, axis=1)
            patches = np.take_along_axis(x.patches, order, axis=1)
        role, told = roles_of(
            fabric, cloth.fabrics, [n.letters for n in x.kind.names if n.letters]
        )
        turned.append(Laid(x.kind, pose, patches, x.centre))
        taken[patches[patches >= 0]] = True
        places += s.fabric * told + s.missing * float((patches < 0).sum())
        blocks += _block_bits(_name(x.kind, role), len(x.kind.area), s)
        of_kind.append(role)
    low, high = (np.concatenate(p) for p in zip(*(x.extents() for x in turned), strict=True))
    between = gaps(low, high, cloth.near_in)
    joined = _beside(low, high, between, cloth.near_in)
    places += _arrangement(turned, low, high)
    bits = blocks + places + float(np.where(joined, s.placement, s.lonely).sum())
    left = np.flatnonzero(~taken)
    setting = roles(cloth, straight, left, low, high, between)
    cost = {"": s.left, "border": s.border}
    bits += sum(cost.get(r, s.setting) for r in setting)
    bits += s.sashing * ("sashing" in setting)
    part = np.array(setting, dtype=object)
    of_left = [entropy_bits(cloth.fabric[left[part == r]]) for r in sorted(set(setting))]
    bits += s.fabric * sum(of_left)
    return Draft(
        cloth,
        tuple(turned),
        tuple(of_kind),
        left,
        tuple(setting),
        bits,
        (blocks, places + s.placement * len(low)),
    )


def _block_bits(name: str, patches: int, s: LengthSettings) -> float:
    """Return what it takes to tell a block of so many patches."""
    if name:
        return s.named + s.part * (name in PARTS)
    return s.plain if patches == 1 else s.unnamed + s.patch * patches


def nothing_bits(cloth: Cloth, settings: LengthSettings | None = None) -> float:
    """Return the length of telling the top patch by patch."""
    s = settings or LengthSettings()
    inside = int(cloth.inside.sum())
    border = s.border * (len(cloth.area) - inside)
    return s.left * inside + border + s.fabric * entropy_bits(cloth.fabric)


def _beside(low: Points, high: Points, between: Gaps, near: float) -> NDArray[np.bool_]:
    """Return which blocks have another at the usual gap across or down, level with them."""
    joined = np.zeros(len(low), dtype=np.bool_)
    for axis, gap in enumerate((between.across, between.down)):
        level = np.abs(low[:, None, 1 - axis] - low[None, :, 1 - axis]) < 2 * near
        off = np.abs(low[None, :, axis] - high[:, None, axis] - gap) < 2 * near
        met = level & off
        joined |= met.any(axis=1) | met.any(axis=0)
    return joined


def _arrangement(laid: list[Laid], low: Points, high: Points) -> float:
    """Return the bits that tell which block lies where and how turned.

    Either by shares alone, or by shares for every other row and column.
    """
    what = np.concatenate([8 * n + x.pose for n, x in enumerate(laid)])
    size = np.median(high - low, axis=0)
    middle = (low + high) / 2
    place = np.round((middle - middle.min(axis=0)) / size).astype(np.intp) % 2
    parity = 2 * place[:, 1] + place[:, 0]
    by_parity = sum(entropy_bits(what[parity == k]) + 2.0 for k in range(4))
    return min(entropy_bits(what), by_parity)
