"""Leaf lines (orange peel): shallow arcs along a seam line, from junction to junction.

The arcs lie on alternating sides, so that the foot runs straight through each junction, and a
second pass mirrors the first.  All arcs of a line leave their seams at the same angle rather than
rise equally high: then the line stays smooth where patches differ in length.  Where circles are
chosen, leaves over seams of one length are drawn round one circle; between seams of different
length the foot then steers through the few degrees by which their circles' angles differ.
"""

from itertools import pairwise

from seamwalk.model.choice import MotifChoice
from seamwalk.model.top import SeamId
from seamwalk.motifs.arc_classes import facing_rise
from seamwalk.motifs.leaf_arcs import Chord, LeafSettings, leaves, limits_rad, wished_rad
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.seam_lines import StraightLine, seam_lines


def leaf_lines(
    region: Region, choice: MotifChoice, settings: LeafSettings | None = None
) -> StrokePlan:
    """Return both passes of leaves along the region's seam lines.

    Straight seams between two patches of the region are used; a region without any uses those
    round it.  `choice.depth_in` is the rise wished for on the region's middle-sized seam,
    `choice.circles_in` the circles of the classes.
    """
    settings = settings or LeafSettings()
    mine = set(region.patches)
    straight = [s for s in region.seams if not s.sweep_rad]
    inner = [s for s in straight if s.left in mine and s.right in mine]
    lines = seam_lines(region.area, inner or straight)
    runs = [(line, run) for line in lines for run in _runs(region, line, settings)]
    wish = wished_rad([c for _, run in runs for c in run], choice, settings)
    named: dict[str, list[Chord]] = {}
    count: dict[str, int] = {}
    for line, run in runs:
        # The lowest seam id names a line, whatever the order.
        name = f"seam-line-{min(s for s, _ in line.segments)}"
        count[name] = count.get(name, 0) + 1
        if count[name] > 1:
            name = f"{name}-{count[name]}"
        named[name] = run
    smallest = region.machine.smallest_radius_in
    strokes, classes, warnings = leaves(
        named, "seams", wish, smallest, choice, settings, region.units
    )
    return StrokePlan(strokes, warnings, classes=classes)


def _runs(region: Region, line: StraightLine[SeamId], settings: LeafSettings) -> list[list[Chord]]:
    """Return the line's chords inside the binding line, cut where it goes outside."""
    area = region.area
    chords: list[Chord] = []
    for seam_id, backwards in line.segments:
        seam = area.seams[seam_id]
        parts = (
            [p.reversed() for p in reversed(area.ditches[seam_id])]
            if backwards
            else list(area.ditches[seam_id])
        )
        neighbours = [area.outlines[p] for p in (seam.left, seam.right) if p in area.outlines]
        if len(neighbours) < 2:
            continue  # beyond the seam lies only the margin
        for part in parts:
            most, corner = limits_rad(part.start, part.end, neighbours, settings)
            facing = [
                facing_rise(part.start, part.end, [s for s in o.sides if not s.on_binding])
                for o in neighbours
            ]
            least = min((rise for rise in facing if rise is not None), default=None)
            chords.append(Chord(part.start, part.end, most, corner_rad=corner, facing_in=least))
    out: list[list[Chord]] = [[chords[0]]] if chords else []
    for one, other in pairwise(chords):
        if one.end == other.start:
            out[-1].append(other)
        else:
            out.append([other])
    return out
