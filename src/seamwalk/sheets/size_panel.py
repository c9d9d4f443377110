"""Title, margins and side panel of the measured picture."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.picture import Rectification, ScaleSource
from seamwalk.model.sizes import Length, PatchSize, Sizes, TopSize
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import Fill, InkLine, Item, Label, Pen, box
from seamwalk.sheets.palette import BLUE, GREY, INK, PALE, PURPLE, VERMILION, WHITE
from seamwalk.sheets.size_text import angle_text, length_text, letters, off_text, sides_text
from seamwalk.units import Units, format_length, from_inches

LEADING = 1.55
"""Distance of lines of text, in ems."""
MARGIN = 4.6
"""Room for the dimension lines round the picture, ems."""
PANEL = 25.0
"""Width of the side panel, ems."""


def scale_text(rectification: Rectification, units: Units) -> str:
    """Return what the scale rests on, one sentence."""
    size = f"{round(from_inches(rectification.reference_in, units), 3):g} {units}"
    return {
        "card": f"Scale from the printed card, side {size}.",
        "square": f"Scale from a square of {size}.",
        "known-length": f"Scale from a length given as {size}: less certain than a card.",
        "size": "Scale from the size given for the whole top: only shapes are measured.",
        "none": "No scale: nothing of known size was seen, so sizes are only proportions.",
    }[rectification.source]


def title_lines(
    rectification: Rectification,
    units: Units,
    warnings: Sequence[str],
    em: float,
    room: float,
) -> list[tuple[str, bool]]:
    """Return the lines over the picture, each with whether it is a warning."""
    unit = "inches, to the nearest 1/8" if units == "in" else "centimetres, to the nearest 0.1"
    text = (
        f"{scale_text(rectification, units)} All sizes in {unit}; ± holds 95 times in 100. "
        f"Patches from seam to seam, the outermost to the raw edge."
    )
    out = [(line, False) for line in lettering.wrapped(text, em, room)]
    for warning in warnings:
        out += [(line, True) for line in lettering.wrapped(f"! {warning}", em, room, bold=True)]
    return out


def title_items(
    sizes: Sizes,
    source: ScaleSource,
    lines: list[tuple[str, bool]],
    units: Units,
    at: Point,
    em: float,
) -> Iterator[Item]:
    """Yield the title strip with its upper left corner at `at`.

    Without a scale of its own the picture does not call its sizes measured.
    """
    x, y = at
    w, h = (format_length(v.value_in, units) for v in (sizes.top.width, sizes.top.height))
    word = {"none": "Proportions only", "size": "Shapes only, size as given"}
    yield Label(
        f"{word.get(source, 'Measured')}: {w} wide, {h} high, {len(sizes.patches)} patches",
        (x, y + 1.1 * em),
        1.6 * em,
        bold=True,
        anchor="left",
    )
    y += 2.9 * em
    for line, warning in lines:
        colour = VERMILION if warning else INK
        yield Label(line, (x, y), em, colour, bold=warning, anchor="left")
        y += LEADING * em


def title_height(lines: list[tuple[str, bool]], em: float) -> float:
    """Return the height of the title strip, inches."""
    return (2.9 + LEADING * len(lines)) * em


def margin_items(
    top: TopSize,
    frame: tuple[float, float, float, float],
    bounds: tuple[float, float, float, float],
    units: Units,
    em: float,
) -> Iterator[Item]:
    """Yield dimension lines and corner angles round the picture.

    Parameters
    ----------
    frame : (x0, y0, x1, y1)
        Edge of the picture: lines and text stay outside.
    bounds : (x0, y0, x1, y1)
        Extent of the top: where the dimension lines end.
    """
    x0, y0, x1, y1 = frame
    near, far = 1.2 * em, 3.2 * em
    upper, right, lower, left = top.edges
    ends_x, ends_y = (bounds[0], bounds[2]), (bounds[1], bounds[3])
    yield from _across("upper edge", upper, units, ends_x, y0 - near, em, bold=False)
    yield from _across("lower edge", lower, units, ends_x, y1 + near, em, bold=False)
    yield from _across("width, middle", top.width, units, ends_x, y1 + far, em, bold=True)
    yield from _down("left edge", left, units, ends_y, x0 - near, em, bold=False)
    yield from _down("height, middle", top.height, units, ends_y, x0 - far, em, bold=True)
    yield from _down("right edge", right, units, ends_y, x1 + near, em, bold=False)
    corners = ((x0, y0, -1, -1), (x1, y0, 1, -1), (x1, y1, 1, 1), (x0, y1, -1, 1))
    for (x, y, dx, dy), angle in zip(corners, top.corner_angles, strict=True):
        cx, cy = x + dx * 2.3 * em, y + dy * 1.9 * em
        value, pm = angle_text(angle)
        yield Label(value, (cx, cy - 0.65 * em), em, bold=True, layer="angle")
        yield Label(pm, (cx, cy + 0.65 * em), 0.85 * em, layer="angle")


def _across(
    name: str,
    length: Length,
    units: Units,
    ends: tuple[float, float],
    y: float,
    em: float,
    *,
    bold: bool,
) -> Iterator[Item]:
    pen = Pen(INK, 0.08 * em)
    yield InkLine(Curve.through([(ends[0], y), (ends[1], y)]), pen)
    for x in ends:
        yield InkLine(Curve.through([(x, y - 0.5 * em), (x, y + 0.5 * em)]), pen)
    text = f"{name} {length_text(length, units)} {units}"
    middle = ((ends[0] + ends[1]) / 2, y)
    yield Label(text, middle, em, bold=bold, ground=WHITE, layer="dimension")


def _down(
    name: str,
    length: Length,
    units: Units,
    ends: tuple[float, float],
    x: float,
    em: float,
    *,
    bold: bool,
) -> Iterator[Item]:
    pen = Pen(INK, 0.08 * em)
    yield InkLine(Curve.through([(x, ends[0]), (x, ends[1])]), pen)
    for y in ends:
        yield InkLine(Curve.through([(x - 0.5 * em, y), (x + 0.5 * em, y)]), pen)
    text = f"{name} {length_text(length, units)} {units}"
    middle = (x, (ends[0] + ends[1]) / 2)
    yield Label(text, middle, em, bold=bold, ground=WHITE, turn_deg=270, layer="dimension")


def class_letters(sizes: Sizes) -> dict[str, str]:
    """Return the letter of every class, the class with most patches first."""
    counts: dict[str, int] = defaultdict(int)
    for size in sizes.patches:
        counts[size.class_name] += 1
    order = sorted(counts, key=lambda name: (-counts[name], name))
    return {name: letters(k) for k, name in enumerate(order)}


def panel_items(
    sizes: Sizes, only_letter: set[str], units: Units, at: Point, height: float, em: float
) -> Iterator[Item]:
    """Yield the side panel: the whole top, the classes, what the lines mean.

    Parameters
    ----------
    only_letter : set of str
        Classes that have a patch with only a letter on it: their rows come first.
    height : float
        Room downwards, inches.
    """
    x, y = at[0], at[1] + 0.8 * em
    yield Label("The whole top", (x, y), 1.15 * em, bold=True, anchor="left")
    y += 1.9 * em
    for name, length, line in (
        ("width, middle", sizes.top.width, ((0, 0.5), (1, 0.5))),
        ("height, middle", sizes.top.height, ((0.5, 0), (0.5, 1))),
        ("diagonal", sizes.top.diagonals[0], ((0, 0), (1, 1))),
        ("diagonal", sizes.top.diagonals[1], ((1, 0), (0, 1))),
    ):
        yield from _icon(x, y, line, em)
        yield Label(name, (x + 2.6 * em, y), em, anchor="left")
        text = f"{length_text(length, units)} {units}"
        yield Label(text, (x + 11.5 * em, y), em, bold=True, anchor="left")
        y += LEADING * em
    y += 0.8 * em
    yield Label("Patches", (x, y), 1.15 * em, bold=True, anchor="left")
    y += 1.8 * em
    foot = at[1] + height - 9.8 * em
    rows = _class_rows(sizes, only_letter, units)
    for k, (letter, lines, doubt) in enumerate(rows):
        tall = (LEADING + 1.3 * (len(lines) - 1)) * em
        if y + tall > foot and k + 1 < len(rows):
            more = f"and {len(rows) - k} more kinds: see sizes.csv"
            yield Label(more, (x + 2.6 * em, y), em, anchor="left")
            y += LEADING * em
            break
        if k % 2 == 0:
            upper = y - LEADING / 2 * em
            yield Fill(box(x - 0.3 * em, upper, x + (PANEL - 1) * em, upper + tall), PALE)
        yield Label(letter, (x, y), em, bold=True, anchor="left")
        yield Label(doubt, (x + (PANEL - 1.3) * em, y), em, bold=True, anchor="right")
        for words in lines:
            yield Label(words, (x + 2.6 * em, y), em, anchor="left")
            y += 1.3 * em
        y += (LEADING - 1.3) * em
    yield from _key(x, y + 0.9 * em, em)


def _class_rows(
    sizes: Sizes, only_letter: set[str], units: Units
) -> list[tuple[str, list[str], str]]:
    """Letter, description in lines, what is off or unsure; those known only by letter first."""
    members: dict[str, list[PatchSize]] = defaultdict(list)
    for size in sizes.patches:
        members[size.class_name].append(size)
    rows = []
    for name, letter in class_letters(sizes).items():
        inside = [s for s in members[name] if s.raw_edges == 0] or members[name]
        alike = [p for p in inside if len(p.sides) == len(inside[0].sides)]
        sides = [float(np.median(v)) for v in zip(*(_values(p) for p in alike), strict=True)]
        n = len(members[name])
        off = [s for s in members[name] if s.finished.verdict == "off"]
        unsure = sum(s.finished.verdict == "cannot tell" for s in members[name])
        lines = [f"{n} × {inside[0].shape}: {sides_text(sides, units)}".removesuffix(": ")]
        doubt = []
        if off:
            doubt.append(f"{len(off)} off" if len(off) > 1 else off_text(off[0], units))
        if unsure:
            doubt.append(f"{unsure} ?")
        if lettering.width(lines[0], 1.0) + lettering.width(", ".join(doubt), 1.0, True) > 20.5:
            lines = [part.strip() for part in lines[0].split(":", 1)]
        rows.append((letter, lines, ", ".join(doubt)))
    first = {letter for name, letter in class_letters(sizes).items() if name in only_letter}
    return sorted(rows, key=lambda r: r[0] not in first)


def _values(size: PatchSize) -> list[float]:
    return [side.value_in for side in size.sides]


def _icon(
    x: float, y: float, line: tuple[tuple[float, float], tuple[float, float]], em: float
) -> Iterator[Item]:
    """A small frame with the measured line in it."""
    w, h = 1.5 * em, 1.1 * em
    yield Fill(box(x, y - h / 2, x + w, y + h / 2), WHITE, Pen(GREY, 0.09 * em))
    ends = [(x + u * w, y - h / 2 + v * h) for u, v in line]
    yield InkLine(Curve.through(ends), Pen(BLUE, 0.18 * em))


def _key(x: float, y: float, em: float) -> Iterator[Item]:
    """What lines and outlines mean."""
    w = 0.14 * em
    for text, pen in (
        ("seam, as seen", Pen(BLUE, w)),
        ("seam, doubtful: please check", Pen(BLUE, w, (5 * w, 3.5 * w))),
        ("seam inferred from the pattern", Pen(BLUE, w, (w, 2.2 * w))),
    ):
        yield InkLine(Curve.through([(x, y), (x + 2 * em, y)]), pen)
        yield Label(text, (x + 2.6 * em, y), em, anchor="left")
        y += 1.4 * em
    frame = box(x, y - 0.45 * em, x + 2 * em, y + 0.45 * em)
    yield Fill(frame, WHITE, Pen(VERMILION, w))
    for k in range(5):
        a = x + 0.4 * em * k
        hatch = [(a, y + 0.45 * em), (a + 0.4 * em, y - 0.45 * em)]
        yield InkLine(Curve.through(hatch), Pen(VERMILION, w))
    yield Label("off by more than can be eased in", (x + 2.6 * em, y), em, anchor="left")
    y += 1.4 * em
    dotted = Curve.through([(x, y), (x + 2 * em, y)])
    yield InkLine(dotted, Pen(PURPLE, w, (w, 2.2 * w)))
    yield Label("? cannot tell: ± is too large", (x + 2.6 * em, y), em, anchor="left")
