"""What is written and drawn on each patch of the measured picture."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.sizes import BlockSize, PatchSize
from seamwalk.model.top import Patch
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import Fill, InkLine, Item, Label, Pen, box
from seamwalk.sheets.palette import INK, PURPLE, VERMILION, WHITE
from seamwalk.sheets.patch_words import OVER_ALL, in_one_number, measured_words
from seamwalk.sheets.size_text import off_text, short_length
from seamwalk.units import Units


@dataclass(frozen=True, slots=True)
class PatchLabelSettings:
    """Sizes in widths of the picture's text (its em)."""

    generous: tuple[float, ...] = (1.25, 1.1, 1.0)
    """Text sizes tried first, the largest first, while the fabric stays in sight.  They differ
    little: patches of one kind should look alike."""
    small: tuple[float, ...] = (1.0, 0.85)
    """Text sizes tried when none of those will do."""
    smallest: tuple[float, ...] = (0.7,)
    """The last ones tried before a letter."""
    most_covered: float = 0.3
    """Share of a patch that generous text may cover."""
    letter_sizes: tuple[float, ...] = (1.0, 0.85, 0.7, 0.55)
    """For the letter that stands in for a size that does not fit."""
    band: float = 0.75
    """Width of the hatched band inside a patch that is off."""
    hatch: float = 0.55
    """Distance of the hatching lines."""
    block: float = 0.34
    """Width of the frame round a block."""


LABELS = PatchLabelSettings()


def verdict_items(
    size: PatchSize, patch: Patch, em: float, settings: PatchLabelSettings = LABELS
) -> Iterator[Item]:
    """Yield the hatched band of a patch that is off; what can't be told shows at its label."""
    if size.finished.verdict != "off":
        return
    depth = min(settings.band * em, 0.35 * _inradius(patch))
    inner = patch.polygon.buffer(-depth, join_style="mitre")
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


def block_items(
    block: BlockSize,
    pattern: Units,
    em: float,
    settings: PatchLabelSettings = LABELS,
) -> list[Item]:
    """Return the frame round one block and the flag with its size at the frame's upper edge.

    Parameters
    ----------
    pattern : {"in", "cm"}
        Units of the pattern, in which its size stands.
    """
    x, y = block.origin_in
    turn = np.radians(block.angle_deg)
    across = block.width.value_in * np.array([np.cos(turn), np.sin(turn)])
    down = block.height.value_in * np.array([-np.sin(turn), np.cos(turn)])
    corners = np.array([x, y]) + [0 * across, across, across + down, down]
    ring = tuple((float(u), float(v)) for u, v in corners)
    # On the upper edge; of a block on point, on its upper corner.
    flag = (x, y) if block.angle_deg else (x + block.width.value_in / 2, y)
    line = settings.block * em
    a, b = (short_length(v, pattern) for v in block.finished_in)
    return [
        Fill(ring, WHITE, Pen(INK, line, casing=WHITE, casing_in=0.4 * line), 0.0, layer="block"),
        Label(
            f"block {a} × {b}",
            flag,
            1.1 * em,
            WHITE,
            bold=True,
            ground=INK,
            rim=WHITE,
            layer="block",
        ),
    ]


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

    The size is tried in one line, two lines and upright, from large to small, a square's in one
    number; a patch too small for that gets the letter of its row in the list, one too small for
    a letter nothing.
    """
    verdict = size.finished.verdict
    words = measured_words(size, patch, units)
    doubt = " ?" if verdict == "cannot tell" else ""
    rest = [off_text(size, units)] if verdict == "off" else []
    mark = {"right": "", "off": " !", "cannot tell": " ?"}[verdict]
    one = in_one_number(size, patch, units)
    full = _ways(words, doubt, rest) if words else []
    short = [[f"{one}{mark}"]] if one else []
    if short and verdict != "off":
        # Upright or broken text is harder to read than one number; what is off says more.
        full = full[:1]
    places = _places(patch)
    for ways, shares, covered in (
        (full, settings.generous, settings.most_covered),
        (full, settings.small, 1.0),
        (short, settings.letter_sizes, 1.0),
        (full, settings.smallest, 1.0),
    ):
        # Broken text is easier to read than text that stands upright.
        for turned in (False,) if short else (False, True):
            for lines in ways:
                for share in shares:
                    found = _fitted(lines, patch, places, share * em, turned, verdict, covered)
                    if found:
                        return found, False
    for share in settings.letter_sizes:
        found = _fitted([letter + mark.strip()], patch, places, share * em, False, verdict, 1.0)
        if found:
            return found, True
    return [], True


def _ways(words: str, doubt: str, rest: list[str]) -> list[list[str]]:
    """Return the text in one line and broken between its sizes.

    A question mark, `doubt`, stays with the last size.
    """
    ways: list[list[str]] = []
    if words.endswith(OVER_ALL):
        ways.append([f"{words}{doubt}", *rest])
        words, rest = words.removesuffix(OVER_ALL), [OVER_ALL.strip(), *rest]
    ways.append([f"{words}{doubt}", *rest])
    if " × " in words:
        a, b = words.split(" × ", 1)
        return [*ways, [f"{a} ×", f"{b}{doubt}", *rest]]
    if " to " in words:
        a, b = words.split(" to ", 1)
        return [*ways, [a, f"to {b}{doubt}", *rest]]
    sides = words.split(" · ")
    if len(sides) < 3:
        return ways
    middle = (len(sides) + 1) // 2
    halves = [" · ".join(sides[:middle]) + " ·", " · ".join(sides[middle:]) + doubt]
    stacked = [*(f"{side} ·" for side in sides[:-1]), sides[-1] + doubt]
    return [*ways, [*halves, *rest], [*stacked, *rest]]


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
    bold = verdict == "off"
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
        w_rim = 0.12 * size_in
        dash = (w_rim, 2.2 * w_rim) if verdict == "cannot tell" else ()
        edge = Pen(rim, w_rim, dash) if rim else None
        items: list[Item] = [Fill(box(x0, y0, x1, y1), WHITE, edge, 0.88, layer="label")]
        for k, line in enumerate(lines):
            d = (k - (len(lines) - 1) / 2) * leading
            at = (x + d, y) if turned else (x, y + d)
            items.append(
                Label(line, at, size_in, INK, bold, turn_deg=270 if turned else 0, layer="size")
            )
        return items
    return []
