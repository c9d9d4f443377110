"""Title over the measured picture, dimension lines and corner angles round it."""

from collections.abc import Iterator, Sequence

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.picture import Rectification, ScaleSource
from seamwalk.model.sizes import Length, Sizes, TopSize
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import InkLine, Item, Label, Pen
from seamwalk.sheets.kinds import counted
from seamwalk.sheets.palette import INK, VERMILION, WHITE
from seamwalk.sheets.size_text import angle_text, length_text
from seamwalk.units import Units, format_length, from_inches

LEADING = 1.55
"""Distance of lines of text, in ems."""
MARGIN = 4.6
"""Room for the dimension lines round the picture, ems."""
_TITLE = 4.9
"""Height of the two headings, ems."""


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
    """Return the small lines over the picture, each with whether it is a warning."""
    unit = "inches, to the nearest 1/8" if units == "in" else "centimetres, to the nearest 0.1"
    more = "1/4 in" if units == "in" else "0.6 cm"
    text = (
        f"{scale_text(rectification, units)} All sizes in {unit}; ± holds 95 times in 100. "
        "Patches are measured seam to seam; those at the outside to the raw edge, "
        f"{more} more than finished."
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
    title = f"{word.get(source, 'Measured')}: {w} wide, {h} high"
    yield Label(title, (x, y + 1.1 * em), 1.6 * em, bold=True, anchor="left")
    patches = f"{len(sizes.patches)} patches: {counted(sizes)}"
    yield Label(patches, (x, y + 3.2 * em), 1.25 * em, bold=True, anchor="left")
    y += _TITLE * em
    for line, warning in lines:
        colour = VERMILION if warning else INK
        yield Label(line, (x, y), em, colour, bold=warning, anchor="left")
        y += LEADING * em


def title_height(lines: list[tuple[str, bool]], em: float) -> float:
    """Return the height of the title strip, inches."""
    return (_TITLE + LEADING * len(lines)) * em


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
    for name, length, ends, place, down in (
        ("upper edge", upper, ends_x, y0 - near, False),
        ("lower edge", lower, ends_x, y1 + near, False),
        ("width, middle", top.width, ends_x, y1 + far, False),
        ("left edge", left, ends_y, x0 - near, True),
        ("height, middle", top.height, ends_y, x0 - far, True),
        ("right edge", right, ends_y, x1 + near, True),
    ):
        yield from _dimension(name, length, units, ends, place, em, down=down)
    corners = ((x0, y0, -1, -1), (x1, y0, 1, -1), (x1, y1, 1, 1), (x0, y1, -1, 1))
    for (x, y, dx, dy), angle in zip(corners, top.corner_angles, strict=True):
        cx, cy = x + dx * 2.3 * em, y + dy * 1.9 * em
        value, pm = angle_text(angle)
        yield Label(value, (cx, cy - 0.65 * em), em, bold=True, layer="angle")
        yield Label(pm, (cx, cy + 0.65 * em), 0.85 * em, layer="angle")


def _dimension(
    name: str,
    length: Length,
    units: Units,
    ends: tuple[float, float],
    place: float,
    em: float,
    *,
    down: bool,
) -> Iterator[Item]:
    """A line with ticks and the length in its middle, across at y or down at x = `place`."""

    def point(along: float, aside: float = 0.0) -> Point:
        return (place + aside, along) if down else (along, place + aside)

    pen = Pen(INK, 0.08 * em)
    yield InkLine(Curve.through([point(ends[0]), point(ends[1])]), pen)
    for end in ends:
        yield InkLine(Curve.through([point(end, -0.5 * em), point(end, 0.5 * em)]), pen)
    yield Label(
        f"{name} {length_text(length, units)} {units}",
        point((ends[0] + ends[1]) / 2),
        em,
        bold="middle" in name,
        ground=WHITE,
        turn_deg=270 if down else 0,
        layer="dimension",
    )
