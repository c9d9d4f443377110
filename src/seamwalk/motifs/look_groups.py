"""The groups of patches that a whole look treats alike, each with the word that names it.

Borders, their corner squares, sashing and cornerstones are groups as they stand.  What is left is
grouped by shape, or by class where patches of one shape differ too much for one motif.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import shapely

from seamwalk.model.sizes import Sizes
from seamwalk.model.top import PatchId
from seamwalk.motifs.area import Area
from seamwalk.motifs.border_rings import Patches
from seamwalk.motifs.defaults import ChooseSettings, extent, logs, suits_shape
from seamwalk.motifs.outlines import Outline
from seamwalk.motifs.wish_places import WishPlaces

Role = Literal[
    "border", "corner", "sashing", "cornerstone", "strip", "log", "square", "compact", "small"
]

MOST_CLASSES = 5
"""A shape in more classes than this is one group, so that a look is told in few words."""

SQUARE = frozenset({"square", "diamond"})


@dataclass(frozen=True, slots=True)
class LookGroup:
    """Patches that get the same motif.

    Attributes
    ----------
    word : str
        Names them in a wish.
    role : str
        What they are in the top: ``square`` and ``compact`` patches have room for arches,
        ``small`` ones are small, thin, pointed or oddly shaped.
    patches : frozenset of PatchId
        At least one.
    width_in : float
        Of the widest, across its narrower way, inches.
    """

    word: str
    role: Role
    patches: Patches
    width_in: float


def look_groups(
    sizes: Sizes, area: Area, places: WishPlaces, settings: ChooseSettings | None = None
) -> tuple[LookGroup, ...]:
    """Return the groups of a top, each patch inside the binding line in exactly one."""
    settings = settings or ChooseSettings()
    left = {s.patch for s in sizes.patches if s.patch in area.outlines}
    out: list[LookGroup] = []

    def take(word: str, role: Role, patches: Iterable[PatchId]) -> None:
        mine = frozenset(patches) & left
        if mine:
            left.difference_update(mine)
            out.append(LookGroup(word, role, mine, _width(area, mine)))

    rings = places.rings.rings
    for number, ring in enumerate(rings, start=1):
        take("border" if len(rings) == 1 else f"border {number}", "border", ring)
    settled: tuple[tuple[str, Role], ...] = (
        ("border", "border"),
        ("border corner", "corner"),
        ("sashing", "sashing"),
        ("cornerstone", "cornerstone"),
    )
    for word, role in settled:
        found = places.by_word.get(word)
        if found is not None:
            take(word, role, found.patches)
    of_log = logs(area, settings)
    shapes: dict[str, dict[str, list[PatchId]]] = {}
    for size in sizes.patches:
        if size.patch in left:
            shapes.setdefault(size.shape, {}).setdefault(size.class_name, []).append(size.patch)
    for shape, classes in shapes.items():
        roles = {
            name: _role(shape, [area.outlines[p] for p in mine], of_log, area, settings)
            for name, mine in classes.items()
        }
        if len(set(roles.values())) == 1 or len(classes) > MOST_CLASSES:
            every = [p for mine in classes.values() for p in mine]
            outlines = [area.outlines[p] for p in every]
            take(shape, _role(shape, outlines, of_log, area, settings), every)
        else:
            for name, mine in classes.items():
                take(name.lower(), roles[name], mine)
    return tuple(out)


def _role(
    shape: str,
    outlines: Sequence[Outline],
    of_log: set[PatchId],
    area: Area,
    settings: ChooseSettings,
) -> Role:
    """Return what most of the cloth of some patches is."""
    covered: dict[Role, float] = {}
    for outline in outlines:
        role = _role_of(shape, outline, of_log, area, settings)
        covered[role] = covered.get(role, 0.0) + outline.polygon.area
    return max(sorted(covered), key=lambda r: covered[r])


def _role_of(
    shape: str, outline: Outline, of_log: set[PatchId], area: Area, settings: ChooseSettings
) -> Role:
    if outline.patch in of_log:
        return "log"
    motif = suits_shape(outline, area, settings)
    if motif == "arches":
        return "square" if shape in SQUARE else "compact"
    return "strip" if motif == "lines" else "small"


def _width(area: Area, patches: Iterable[PatchId]) -> float:
    return max(
        (min(_extent(area.outlines[p])) for p in patches),
        default=math.inf,
    )


def _extent(outline: Outline) -> tuple[float, float]:
    if len(outline.sides) >= 3:
        return extent(outline)
    x0, y0, x1, y1 = shapely.bounds(outline.polygon).tolist()
    return x1 - x0, y1 - y0
