"""What is written and drawn on each patch of the measured picture."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.sizes import PatchSize
from seamwalk.model.top import Patch, Seam
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import Fill, InkLine, Item, Label, Pen, box
from seamwalk.sheets.palette import BLUE, INK, PURPLE, VERMILION, WHITE
from seamwalk.sheets.size_text import off_text, patch_text
from seamwalk.units import Units


@dataclass(frozen=True, slots=True)
class PatchLabelSettings:
    """Sizes in widths of the picture's text (its em)."""

    generous: tuple[float, ...] = (1.9, 1.55, 1.25, 1.0)
    """Text sizes tried first, the largest first, while the fabric stays in sight."""
    small: tuple[float, ...] = (1.0, 0.85, 0.72)
    """Text sizes tried when none of those will do."""
    most_covered: float = 0.3
    """Share of a patch that generous text may cover."""
    letter_sizes: tuple[float, ...] = (1.0, 0.85, 0.72, 0.6)
    """For the letter that stands in for a size that does not fit."""
    doubtful_below: float = 0.6
    """A seam less sure than this is dashed: more likely wrong than one in three."""
    line: float = 0.11
    """Width of a seam's line."""
    band: float = 0.75
    """Width of the hatched band inside a patch that is off."""
    hatch: float = 0.55
    """Distance of the hatching lines."""


LABELS = PatchLabelSettings()


def seam_item(seam: Seam, em: float, settings: PatchLabelSettings = LABELS) -> list[Item]:
    """Return the line of one seam: solid if seen, dashed if doubtful, dotted if inferred."""
    w = settings.line * em
    curve = Curve.through(seam.points)
    dash: tuple[float, ...] = ()
    if seam.inferred:
        dash = (w, 2.2 * w)
    elif seam.confidence < settings.doubtful_below:
        dash = (5 * w, 3.5 * w)
    colour = INK if seam.kind == "edge" else BLUE
    case = Pen(WHITE, w * 2.4)
    return [InkLine(curve, case, "casing"), InkLine(curve, Pen(colour, w, dash), seam.kind)]


def verdict_items(
    size: PatchSize, patch: Patch, em: float, settings: PatchLabelSettings = LABELS
) -> Iterator[Item]:
    """Yield the hatched band of a patch that is off, the dotted ring of one that can't be told."""
    if size.finished.verdict == "right":
        return
    depth = min(settings.band * em, 0.35 * _inradius(patch))
    inner = patch.polygon.buffer(-depth, join_style="mitre")
    if size.finished.verdict == "cannot tell":
        for ring in _rings(patch.polygon.buffer(-0.6 * depth, join_style="mitre")):
            dots = (0.2 * em, 0.3 * em)
            yield InkLine(ring, Pen(WHITE, 0.34 * em), "cannot tell")
            yield InkLine(ring, Pen(PURPLE, 0.2 * em, dots), "cannot tell")
        return
    band = patch.polygon.difference(inner)
    for part in shapely.get_parts(_hatching(patch, settings.hatch * em).intersection(band)):
        if part.length > 0.05 * em:
            yield InkLine(
                Curve.through(part.coords),
                Pen(VERMILION, 0.13 * em, casing=WHITE, casing_in=0.06 * em),
                "off",
            )
    for ring in _rings(inner):
        yield InkLine(ring, Pen(VERMILION, 0.13 * em, casing=WHITE, casing_in=0.05 * em), "off")


def _rings(area: shapely.Geometry) -> Iterator[Curve]:
    for part in shapely.get_parts(area):
        if isinstance(part, shapely.Polygon) and not part.is_empty:
            yield Curve.through(part.exterior.coords)


def _inradius(patch: Patch) -> float:
    return float(shapely.maximum_inscribed_circle(patch.polygon, tolerance=0.02).length)


def _hatching(patch: Patch, spacing: float) -> shapely.MultiLineString:
    """Lines at 45° over the whole patch."""
    x0, y0, x1, y1 = patch.polygon.bounds
    high = y1 - y0
    starts = np.arange(x0 - high, x1, spacing * np.sqrt(2))
    return shapely.MultiLineString([[(x, y1), (x + high, y0)] for x in starts])


def label_items(
    size: PatchSize,
    patch: Patch,
    letter: str,
    units: Units,
    em: float,
    settings: PatchLabelSettings = LABELS,
) -> tuple[list[Item], bool]:
    """Return what is written on a patch, and whether it is only its letter.

    The size is tried in one line, two lines and upright, from large to small; a patch too small
    for that gets the letter of its class, one too small for a letter nothing.
    """
    verdict = size.finished.verdict
    lines = [patch_text(size, patch, units)]
    if verdict == "off":
        lines.append(off_text(size, units))
    elif verdict == "cannot tell" and lines[0]:
        lines[0] += " ?"
    places = _places(patch)
    for shares, covered in ((settings.generous, settings.most_covered), (settings.small, 1.0)):
        for words in _ways(lines) if lines[0] else ():
            for turned in (False, True):
                for share in shares:
                    found = _fitted(words, patch, places, share * em, turned, verdict, covered)
                    if found:
                        return found, False
    mark = {"right": "", "off": "!", "cannot tell": "?"}[verdict]
    for share in settings.letter_sizes:
        found = _fitted([letter + mark], patch, places, share * em, False, verdict, 1.0)
        if found:
            return found, True
    return [], True


def _ways(lines: list[str]) -> list[list[str]]:
    """The text as it is, and broken between its sizes."""
    first, rest = lines[0], lines[1:]
    if " × " in first:
        a, b = first.split(" × ", 1)
        return [lines, [f"{a} ×", b, *rest]]
    sides = first.split(" · ")
    if len(sides) < 3:
        return [lines]
    middle = (len(sides) + 1) // 2
    halves = [" · ".join(sides[:middle]) + " ·", " · ".join(sides[middle:])]
    stacked = [*(f"{side} ·" for side in sides[:-1]), sides[-1]]
    broken = [[*halves, *rest], [*stacked, *rest]]
    # Five sizes and more in one line would have to be small.
    return broken if len(sides) > 4 else [lines, *broken]


def _places(patch: Patch) -> list[Point]:
    """Where a label may have its middle: centre of area, centre of the largest circle inside."""
    shapely.prepare(patch.polygon)
    circle = shapely.maximum_inscribed_circle(patch.polygon, tolerance=0.02)
    ends = (patch.polygon.centroid.coords[0], circle.coords[0])
    return [(float(x), float(y)) for x, y in ends]


def _fitted(
    lines: list[str],
    patch: Patch,
    places: list[Point],
    size_in: float,
    turned: bool,
    verdict: str,
    most_covered: float,
) -> list[Item]:
    """Return the lines if their box lies inside the patch and leaves enough of it, or nothing."""
    leading = 1.25 * size_in
    bold = verdict != "right"
    w = max(lettering.width(line, size_in, bold) for line in lines) + 0.6 * size_in
    h = leading * len(lines) + 0.25 * size_in
    if turned:
        w, h = h, w
    if w * h > most_covered * patch.polygon.area:
        return []
    for x, y in places:
        x0, y0, x1, y1 = x - w / 2, y - h / 2, x + w / 2, y + h / 2
        # A little seam stays in sight round the box, so that neighbours' sizes don't run together.
        s = 0.12 * size_in
        if not patch.polygon.contains(shapely.box(x0 - s, y0 - s, x1 + s, y1 + s)):
            continue
        rim = {"right": None, "off": VERMILION, "cannot tell": PURPLE}[verdict]
        edge = Pen(rim, 0.12 * size_in) if rim else None
        items: list[Item] = [Fill(box(x0, y0, x1, y1), WHITE, edge, 0.88, layer="label")]
        for k, line in enumerate(lines):
            d = (k - (len(lines) - 1) / 2) * leading
            at = (x + d, y) if turned else (x, y + d)
            items.append(
                Label(line, at, size_in, INK, bold, turn_deg=270 if turned else 0, layer="size")
            )
        return items
    return []
