"""Which motif suits which patch when nothing is asked for.

What suits a walking foot: arches in squares and other compact patches, straight lines along
borders, and the ditch round everything small, thin or oddly shaped.  What these would leave a
wider gap in than is advised for any batting gets a crosshatch.  Equal patches get the same, and so
do the strips of a log cabin, which differ in length only: they all get the ditch.
"""

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import shapely

from seamwalk.model.sizes import Sizes
from seamwalk.model.top import PatchId
from seamwalk.motifs.area import Area
from seamwalk.motifs.outlines import Outline
from seamwalk.trade import BATTING_GAP_MOST_IN


@dataclass(frozen=True, slots=True)
class ChooseSettings:
    """Where the default motifs begin and end."""

    narrowest_in: float = 1.4
    """Narrower patches get the ditch only: two arches would leave no room for the foot."""
    small_triangle_in: float = 2.8
    """A triangle whose shortest side is below this gets the ditch (common practice): finished
    sides of less than 3 in, whatever the piecing."""
    longest_arched: float = 3.2
    """A rectangle longer than this times its width gets no arches: they would dwarf its ends."""
    strip: float = 5.5
    """Longer than this times its width makes a strip for lines along it."""
    border: float = 3.0
    """The same along the edge of the top."""
    border_span: float = 0.5
    """A border is longer than this share of the top's side: others are strips in a block."""
    sharpest_deg: float = 40.0
    """A sharper corner leaves arches no room; the ditch is enough there."""
    log_lengths: int = 3
    """Strips of one width in this many lengths or more are logs of a block."""
    log_gap: float = 0.12
    """Lengths and widths of strips differ when they do by more than this share."""
    log_from: float = 1.3
    """A strip is longer than this times its width."""
    widest_in: float = BATTING_GAP_MOST_IN
    """No wider gap is left open, inches."""
    arched_gap: float = 0.64
    """Arches leave this share of the largest circle in a patch open: in a square c wide they rise
    by 0.87 · 0.207 c from each side."""


def default_motifs(sizes: Sizes, area: Area, settings: ChooseSettings) -> dict[str, str]:
    """Return the default motif of each class: what suits most of its patches."""
    of_log = logs(area, settings)
    votes: dict[str, Counter[str]] = {}
    for size in sizes.patches:
        outline = area.outlines.get(size.patch)
        if outline is None:
            motif = "none"
        else:
            motif = "ditch" if size.patch in of_log else suits(outline, area, settings)
        votes.setdefault(size.class_name, Counter())[motif] += 1
    return {name: max(sorted(count), key=lambda m: count[m]) for name, count in votes.items()}


def suits(outline: Outline, area: Area, settings: ChooseSettings) -> str:
    """Return the motif that suits one patch by itself."""
    motif = suits_shape(outline, area, settings)
    if motif == "lines" or min(extent(outline)) <= settings.widest_in:
        return motif
    across_in = 2 * shapely.maximum_inscribed_circle(outline.polygon, tolerance=0.1).length
    open_in = across_in * (settings.arched_gap if motif == "arches" else 1.0)
    return "crosshatch" if open_in > settings.widest_in else motif


def suits_shape(outline: Outline, area: Area, settings: ChooseSettings) -> str:
    """Return the motif that suits a patch's shape, however wide a gap it leaves."""
    if not outline.convex:
        return "ditch"
    width, length = extent(outline)
    if width < settings.narrowest_in:
        return "ditch"
    if is_strip(outline, area, settings):
        return "lines"
    if length > settings.longest_arched * width:
        return "ditch"
    sharp = math.radians(settings.sharpest_deg)
    if any(s.start_rad < sharp for s in outline.sides):
        return "ditch"
    sides = [s.length_in for s in outline.sides]
    if len(sides) == 3 and min(sides) < settings.small_triangle_in:
        return "ditch"
    return "arches"


def logs(area: Area, settings: ChooseSettings) -> set[PatchId]:
    """Return the rectangles that come in one width and many lengths, as logs do."""
    strips: list[tuple[float, float, PatchId]] = []
    for patch, outline in area.outlines.items():
        width, length = extent(outline)
        long = len(outline.sides) == 4 and length > settings.log_from * width
        if long and not is_border(outline, area, settings):
            strips.append((width, length, patch))
    out: set[PatchId] = set()
    for family in _groups(strips, 0, settings.log_gap):
        lengths = _groups(family, 1, settings.log_gap)
        longest = max(strip[1] / strip[0] for strip in family)
        if len(lengths) >= settings.log_lengths and longest > settings.longest_arched:
            out |= {strip[2] for strip in family}
    return out


def _groups(
    strips: Iterable[tuple[float, float, PatchId]], key: int, gap: float
) -> list[list[tuple[float, float, PatchId]]]:
    """Return the strips sorted by width (0) or length (1), cut where that jumps."""
    out: list[list[tuple[float, float, PatchId]]] = []
    for strip in sorted(strips, key=lambda s: s[key]):
        if not out or strip[key] > out[-1][-1][key] * (1 + gap):
            out.append([])
        out[-1].append(strip)
    return out


def is_strip(outline: Outline, area: Area, settings: ChooseSettings) -> bool:
    """Return True for a long strip, or a shorter one that borders much of the top's side."""
    width, length = extent(outline)
    return length >= settings.strip * width or is_border(outline, area, settings)


def is_border(outline: Outline, area: Area, settings: ChooseSettings) -> bool:
    """Return True for a strip that borders much of the top's side."""
    width, length = extent(outline)
    x0, y0, x1, y1 = area.binding.bounds
    outer = max((s.length_in for s in outline.sides if s.on_binding), default=0.0)
    return length >= settings.border * width and (
        outer > settings.border_span * min(x1 - x0, y1 - y0)
    )


def extent(outline: Outline) -> tuple[float, float]:
    """Return width and length of the narrowest rectangle along one of the outline's sides."""
    best = (math.inf, math.inf)
    points = outline.ring.tolist()
    for side in outline.sides:
        chord = side.length_in
        ux, uy = (side.end[0] - side.start[0]) / chord, (side.end[1] - side.start[1]) / chord
        along = [x * ux + y * uy for x, y in points]
        across = [y * ux - x * uy for x, y in points]
        box = sorted((max(along) - min(along), max(across) - min(across)))
        if box[0] < best[0]:
            best = (box[0], box[1])
    return best
