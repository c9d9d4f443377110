"""Borders that run round the top, counted from the inside as they are sewn on.

Strips of blocks and sashing are no borders, however well they go round; so what is known to be
one of these is left aside.
"""

from dataclasses import dataclass

import shapely

from seamwalk.geometry.curve import Point
from seamwalk.model.block import BlockPlan
from seamwalk.model.machine import MachineProfile
from seamwalk.model.top import PatchId
from seamwalk.motifs.area import Area
from seamwalk.motifs.borders import Border, borders
from seamwalk.motifs.defaults import ChooseSettings, is_border
from seamwalk.motifs.motif import Region

SAME_LEVEL_IN = 0.5
"""Strips whose distances from the edge differ by less belong to one border, inches: two seam
allowances."""

Patches = frozenset[PatchId]


@dataclass(frozen=True, slots=True)
class BorderRings:
    """Borders round the top.

    Attributes
    ----------
    rings : tuple of frozenset of PatchId
        Strips of each, the innermost first.
    corners : frozenset of PatchId
        Corner squares of all.
    """

    rings: tuple[Patches, ...] = ()
    corners: Patches = frozenset()

    @property
    def strips(self) -> Patches:
        """The strips of all rings."""
        none: Patches = frozenset()
        return none.union(*self.rings)


def border_rings(
    area: Area, blocks: BlockPlan | None = None, settings: ChooseSettings | None = None
) -> BorderRings:
    """Return the borders of a top.

    Parameters
    ----------
    blocks : BlockPlan, optional
        What is known to be block or sashing.  Without it only borders longer than half of the
        top's shorter side are told from the strips of a block.
    """
    settings = settings or ChooseSettings()
    inner = _inner(blocks)
    region = Region(area, tuple(p for p in area.outlines if p not in inner), MachineProfile())
    x0, y0, x1, y1 = area.binding.bounds
    span = settings.border_span * min(x1 - x0, y1 - y0) if not inner else 0.0
    middle = area.binding.centroid
    found: list[tuple[float, Patches]] = []
    corners: set[PatchId] = set()
    for border in borders(region):
        if _goes_round(border, middle, span):
            corners.update(border.squares)
            strips = border.patches - frozenset(border.squares)
            found.append((_level(area, strips), strips))
    inside = frozenset[PatchId]().union(*(strips for _, strips in found))
    found += [
        (_level(area, frozenset([o.patch])), frozenset([o.patch]))
        for o in region.outlines
        if o.patch not in inside and o.convex and is_border(o, area, settings)
    ]
    rings: list[tuple[float, Patches]] = []
    for level, strips in sorted(found, key=lambda f: (-f[0], min(f[1]))):
        if rings and rings[-1][0] - level < SAME_LEVEL_IN:
            rings[-1] = (rings[-1][0], rings[-1][1] | strips)
        else:
            rings.append((level, strips))
    return BorderRings(tuple(strips for _, strips in rings), frozenset(corners))


def _inner(blocks: BlockPlan | None) -> Patches:
    """Return the patches of blocks and of what lies between them."""
    if blocks is None:
        return frozenset()
    inner = {p for placed in blocks.placements for p in placed.patches if p is not None}
    inner |= {
        left.patch for left in blocks.leftover if left.role in ("sashing", "setting triangle")
    }
    return frozenset(inner)


def _goes_round(border: Border, middle: shapely.Point, span: float) -> bool:
    """Return True for a closed border of three sides or more with the top's middle inside."""
    if not border.closed or len(border.sides) < 3:
        return False
    ring: list[Point] = [side.inner[0] for side in border.sides]
    inside = shapely.Polygon(ring).covers(middle)
    return bool(inside) and min(s.length_in for s in border.sides) > span


def _level(area: Area, strips: Patches) -> float:
    """Return how far inside the binding line strips begin, inches."""
    edge = area.binding.exterior
    return min(float(edge.distance(area.outlines[p].polygon)) for p in strips)
