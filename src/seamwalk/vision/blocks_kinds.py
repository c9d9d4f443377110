"""Cells that are the same block, turned or mirrored.

Of the rectangles of one size each is compared with a model cell in eight poses.  Cells that agree
are one kind; the commonest kinds may be blocks.
"""

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.congruence import INVERSE, POSES, agreeing, posed_features, symmetries
from seamwalk.geometry.projective import Points
from seamwalk.vision.blocks_cells import Cells, Cloth
from seamwalk.vision.blocks_names import BULGE, Known, could_be_named, known_names

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


GRIDS = (4, 9)
"""Grids of so many equal squares have a name where two fabrics alternate."""
OVERLAP = 0.67
"""Cells that share every third patch can start anywhere."""


@dataclass(frozen=True, slots=True)
class KindSettings:
    """When two cells are the same block."""

    near_share: float = 0.3
    """Corners may be off by this share of the square root of a patch's area: two halves of a
    square differ by 0.47 of it …"""
    most_in: float = 0.4
    """… but by no more than this, inches: junctions off by 1/8 at both ends …"""
    least_in: float = 0.08
    """… and by this in any case, inches."""
    plain: float = 0.8
    """A grid of which this share is equal squares is plain, the rest damage."""
    least: float = 0.04
    """Cells of equally many patches that cover less than this share of the top are damaged."""
    kinds: int = 8
    """Kinds looked for among the cells of one size and number of patches."""
    alone: int = 3
    """Models that nothing agrees with before the search ends."""
    nameless: int = 16
    """Models without a name before the search for named ones ends."""


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """A cell that comes again.

    Attributes
    ----------
    figure : (M, 7) float64
        Features of its patches about its centroid, the median of its cells.
    near : (M,) float64
        How far a patch's features may be off, inches.
    width, height : float
        Inches.
    symmetry : list of (pose, (M,) int)
        Poses that lay it on itself, and which patch comes to lie on each.
    names : tuple of Known
        What its seams allow it to be called.
    pose : (C,) int
    patches : (C, M) int
        In the order of the model's patches.
    centre : (C, 2) float64
    """

    figure: Floats
    area: Floats
    near: Floats
    width: float
    height: float
    symmetry: list[tuple[int, Indices]]
    names: tuple[Known, ...]
    pose: Indices
    patches: Indices
    centre: Points

    @property
    def apart(self) -> bool:
        """Return whether no two of its cells share a patch."""
        return len(np.unique(self.patches)) == self.patches.size


def kinds(
    cloth: Cloth, of_size: list[Cells], most_patches: int, settings: KindSettings | None = None
) -> list[Kind]:
    """Return the kinds among cells of one size, the one that covers most first.

    Parameters
    ----------
    of_size : list of Cells
        All cells of the size, those of equally many patches together.
    most_patches : int
        Cells with more patches are looked at only if their model has a name.
    """
    s = settings or KindSettings()
    out: list[Kind] = []
    inside = float(cloth.area[cloth.inside].sum())
    for same in of_size:
        covered = len(same.patches) * float(cloth.area[same.patches[0]].sum())
        if len(same.patches) < 2 or covered < s.least * inside:
            continue
        same = _without_plain(same, cloth.fabrics)
        if len(same.patches) > 1:
            out += _of_equally_many(cloth, same, same.patches.shape[1] > most_patches, s)
    out.sort(key=lambda k: -len(np.unique(k.patches)) * k.area.sum() / k.area.size)
    return out


def is_plain(figures: Floats, settings: KindSettings | None = None) -> NDArray[np.bool_]:
    """Return which figures (C, M, 7) are little else than equal squares of a grid, (C,)."""
    s = settings or KindSettings()
    size, side = figures[..., 2:4] - figures[..., :2], figures[..., 6]
    usual = np.median(side, axis=1)[:, None]
    near = near_of(usual**2, s)
    square = (np.abs(size - usual[..., None]).max(axis=2) < near) & (np.abs(side - usual) < near)
    out: NDArray[np.bool_] = (square * side**2).sum(axis=1) > s.plain * (side**2).sum(axis=1)
    return out


def _without_plain(same: Cells, fabrics: int) -> Cells:
    """Return the cells without those that can start anywhere in a grid of equal squares.

    Four and nine squares may be a block by their fabrics.
    """
    m = same.patches.shape[1]
    if m == 1 or (fabrics > 1 and m in GRIDS):
        return same
    plain = is_plain(same.figures)
    again = len(np.unique(same.patches[plain])) < OVERLAP * same.patches[plain].size
    keep = ~plain if again else np.ones(len(plain), dtype=np.bool_)
    return Cells(same.patches[keep], same.centre[keep], same.figures[keep])


def near_of(area: Floats, settings: KindSettings | None = None) -> Floats:
    """Return how far the features of patches may be off, inches, same shape as `area`."""
    s = settings or KindSettings()
    out: Floats = np.clip(s.near_share * np.sqrt(area), s.least_in, s.most_in)
    return out


def likeness(model: Kind, other: Kind) -> float:
    """Return the share of the model's area that is the same in the other, in its best pose."""
    best = 0.0
    for pose in range(len(POSES)):
        wanted = posed_features(model.figure, pose)
        off = np.abs(wanted[:, None] - other.figure[None]).max(axis=2).min(axis=1)
        best = max(best, float(model.area[off < model.near].sum()))
    return best / float(model.area.sum())


def _of_equally_many(cloth: Cloth, same: Cells, only_named: bool, s: KindSettings) -> list[Kind]:
    area = np.sort(cloth.area[same.patches], axis=1)
    slack = 2 * near_of(area, s) * np.sqrt(area)
    # Cells with the commonest rounded areas are tried as models first: they are undamaged.
    rough = np.round(np.sqrt(area) / 0.25).astype(int)
    key = [tuple(row) for row in rough.tolist()]
    common = Counter(key)
    order = sorted(range(len(key)), key=lambda k: (-common[key[k]], k))
    left = could_be_named(same.figures) if only_named else np.ones(len(key), dtype=np.bool_)
    out: list[Kind] = []
    alone = nameless = 0
    for model in order:
        if len(out) == s.kinds or alone == s.alone or nameless == s.nameless:
            break
        if not left[model]:
            continue
        near = near_of(cloth.area[same.patches[model]], s)
        if only_named and not _names(cloth, same, model, same.figures[model]):
            left[model] = False
            nameless += 1
            continue
        alike = left & (np.abs(area - area[model]) < slack[model]).all(axis=1)
        pool = np.flatnonzero(alike)
        figure = same.figures[model]
        pose, piece = agreeing(same.figures[pool], figure, near)
        hit = pose >= 0
        if hit.sum() > 2:
            # The middle of those found is a better model than any one cell.
            figure = _middle(same.figures[pool[hit]], pose[hit], piece[hit])
            if not hit.all():
                pose, piece = agreeing(same.figures[pool], figure, near)
                hit = pose >= 0
        found = pool[hit]
        left[found] = False
        left[model] = False
        if len(found) < 2:
            alone += 1
            continue
        patches = np.take_along_axis(same.patches[found], piece[hit], axis=1)
        out.append(_kind(cloth, same, model, figure, pose[hit], patches, same.centre[found]))
    return out


def _kind(
    cloth: Cloth,
    same: Cells,
    model: int,
    figure: Floats,
    pose: Indices,
    patches: Indices,
    centre: Points,
) -> Kind:
    own = same.patches[model]
    width, height = (figure[:, 2:4].max(axis=0) - figure[:, :2].min(axis=0)).tolist()
    near = near_of(cloth.area[own])
    return Kind(
        figure,
        cloth.area[own],
        near,
        width,
        height,
        symmetries(figure, near),
        _names(cloth, same, model, figure),
        pose,
        patches,
        centre,
    )


def _middle(figures: Floats, pose: Indices, piece: Indices) -> Floats:
    """Return the median figure (M, 7) of figures (C, M, 7) that are one model in `pose`."""
    in_order = np.take_along_axis(figures, piece[..., None], axis=1)
    back = [posed_features(f, INVERSE[p]) for f, p in zip(in_order, pose.tolist(), strict=True)]
    out: Floats = np.median(back, axis=0)
    return out


def _names(cloth: Cloth, same: Cells, model: int, figure: Floats) -> tuple[Known, ...]:
    """Return the names of a cell whose features are `figure`."""
    own = same.patches[model]
    corners = tuple(len(cloth.rings[k]) for k in own.tolist())
    return known_names(figure, corners, curved=bool((np.abs(cloth.bulge[own]) > BULGE).any()))
