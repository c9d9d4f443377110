"""Blocks whose cells the map shows damaged.

A seam missed or seen too many spoils a cell.  Where blocks next to one another leave room for one
more, each block is tried in each pose; it is taken where most of its patches are there.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.congruence import COMPOSED, POSES, posed_features
from seamwalk.geometry.projective import Points
from seamwalk.vision.blocks_cells import Cloth, figures_about
from seamwalk.vision.blocks_draft import Draft, Laid, measured
from seamwalk.vision.blocks_kinds import Kind
from seamwalk.vision.blocks_setting import gaps

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class CompleteSettings:
    """When a damaged cell is still a block."""

    share: float = 0.45
    """At least this share of the block's area is there, patch by patch …"""
    patches: float = 0.5
    """… and at least this share of its patches …"""
    filled: float = 0.25
    """… or this share of both, where seams run all round the room and one patch joined or cut
    explains the rest."""
    near: float = 1.3
    """Patches may be off by this factor more than in whole cells: the place is guessed from the
    neighbours."""
    overlap: float = 0.2
    """Room may be short by this share of the block's side."""
    patience: int = 30
    """After so many places where nothing fits …"""
    hopeless: float = 0.9
    """… that are more than this share of those tried, the rest is no block either."""
    rounds: int = 4
    """A row of damaged cells is filled from both ends in so many rounds."""


def completed(straight: Cloth, draft: Draft, settings: CompleteSettings | None = None) -> Draft:
    """Return the plan with damaged blocks added where there is room for them."""
    s = settings or CompleteSettings()
    cloth, laid = draft.cloth, list(draft.laid)
    free = np.zeros(len(cloth.area), dtype=np.bool_)
    free[draft.left[[r == "" for r in draft.setting]]] = True
    free &= cloth.inside
    added = False
    for _ in range(s.rounds):
        more, tried, failed = False, 0, 0
        for centre in _room(cloth, laid, free, s):
            best = max(
                (_tried(cloth, x.kind, centre, free, s) + (n,) for n, x in enumerate(laid)),
                key=lambda t: t[0],
            )
            share, pose, patches, at, n = best
            x = laid[n]
            one_wrong = _is_filled(cloth, x.kind, centre, free, patches)
            least = (s.filled, s.filled) if one_wrong else (s.share, s.patches)
            tried += 1
            if share < least[0] or (patches >= 0).mean() < least[1]:
                failed += 1
                if failed > s.patience and failed > s.hopeless * tried:
                    break
                continue
            laid[n] = replace(
                x,
                pose=np.append(x.pose, pose),
                patches=np.vstack([x.patches, patches]),
                centre=np.vstack([x.centre, at]),
            )
            free[patches[patches >= 0]] = False
            more = added = True
        if not more:
            break
    more_told = measured(cloth, straight, laid) if added else draft
    return min(draft, more_told, key=lambda d: d.bits)


def _room(
    cloth: Cloth, laid: list[Laid], free: NDArray[np.bool_], s: CompleteSettings
) -> list[Points]:
    """Return centres (2,) of places beside blocks that no block takes."""
    if not free.any():
        return []
    low, high = (np.concatenate(p) for p in zip(*(x.extents() for x in laid), strict=True))
    between = gaps(low, high, cloth.near_in)
    middle, size = (low + high) / 2, high - low
    steps = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    apart = size + np.array([between.across, between.down])
    at = np.concatenate([middle + step * apart for step in steps])
    room = np.tile(size / 2, (4, 1))
    slack = 2 * s.overlap * room
    first, last = cloth.low[free].min(axis=0), cloth.high[free].max(axis=0)
    within = ((at - room > first - slack) & (at + room < last + slack)).all(axis=1)
    at, room, slack = at[within], room[within], slack[within]
    need = size[None] / 2 + (room - slack)[:, None]
    taken = (np.abs(middle[None] - at[:, None]) < need).all(axis=2).any(axis=1)
    out: list[Points] = []
    for place, half in zip(at[~taken], room[~taken], strict=True):
        if all((np.abs(place - o) > half).any() for o in out):
            out.append(place)
    return out


def _tried(
    cloth: Cloth, kind: Kind, centre: Points, free: NDArray[np.bool_], s: CompleteSettings
) -> tuple[float, int, Indices, Points]:
    """Return the best pose's share of the block's area, the pose, its patches and its centre."""
    m = len(kind.area)
    reach = max(kind.width, kind.height) / 2 + cloth.near_in
    here = np.flatnonzero(free & (np.abs(cloth.middle - centre) < reach).all(axis=1))
    best = (0.0, 0, np.full(m, -1, dtype=np.intp), centre)
    if not len(here):
        return best
    seen: set[int] = set()
    for pose in range(len(POSES)):
        if pose in seen:
            continue
        seen |= {COMPOSED[number][pose] for number, _ in kind.symmetry}
        at = centre
        for _ in (0, 1):
            patches = _matched(cloth, posed_features(kind.figure, pose), kind, at, here, s)
            there = patches >= 0
            if not there.any():
                break
            # The centre is moved on by what the patches found say.
            off = cloth.middle[patches[there]] - posed_features(kind.figure, pose)[there, 4:6]
            at = np.median(off, axis=0)
        share = float(kind.area[patches >= 0].sum() / kind.area.sum())
        if share > best[0] + 1e-9:
            best = (share, pose, patches, at)
    return best


def _is_filled(
    cloth: Cloth, kind: Kind, centre: Points, free: NDArray[np.bool_], patches: Indices
) -> bool:
    """Return whether free patches fill the square room and differ from the block in one place."""
    half, near = np.array([kind.width, kind.height]) / 2, 1.5 * cloth.near_in
    mine = free & (cloth.low > centre - half - near).all(axis=1)
    mine &= (cloth.high < centre + half + near).all(axis=1)
    lacking = int((patches < 0).sum())
    foreign = int(mine.sum()) - (len(patches) - lacking)
    full = abs(cloth.area[mine].sum() - kind.area.sum()) < 0.1 * kind.area.sum()
    return bool(full and min(lacking, foreign) <= 1)


def _matched(
    cloth: Cloth, wanted: Floats, kind: Kind, centre: Points, here: Indices, s: CompleteSettings
) -> Indices:
    """Return the patch on each place of the block; -1 where none lies."""
    seen = figures_about(cloth, here[None], centre[None])[0]
    off = np.abs(wanted[:, None] - seen[None]).max(axis=2) / (s.near * kind.near[:, None])
    nearest = off.argmin(axis=1)
    mine = off.argmin(axis=0)[nearest] == np.arange(len(wanted))
    fits = (off[np.arange(len(wanted)), nearest] < 1.0) & mine
    return np.where(fits, here[nearest], -1)
