"""Looks side by side on one page, to choose from at arm's length.

Each stands in a column: its number and name, the top with what would be stitched, what it takes
as words and as bars on one scale for all, and the words that give it.  What is stitched in the
seams is dashed, the widest gap is a ring, so that the page can be printed without colours.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from seamwalk.geometry.curve import Curve, Line, Point
from seamwalk.model.look import Look
from seamwalk.model.settings import Batting, PaperName
from seamwalk.model.top import Top
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Item, Label, Pen, box
from seamwalk.sheets.looks_text import TITLES, Fact, facts
from seamwalk.sheets.palette import BLUE, GREY, INK, SKY, VERMILION, WHITE
from seamwalk.units import Units

PAGES_IN: dict[PaperName, tuple[float, float]] = {"letter": (11.0, 8.5), "a4": (11.69, 8.27)}
"""Sheets on their long side."""


Put = Callable[[Point], Point]
"""Takes a place on the top to its place on the page."""


@dataclass(frozen=True, slots=True)
class PageSettings:
    """Measures of the page, inches."""

    margin: float = 0.4
    """No printer's own margin is wider."""
    gap: float = 0.35
    """Between columns."""
    title: float = 0.3
    """Letters of a look's name: read from across a table."""
    text: float = 0.155
    """Letters of what it takes: read at arm's length."""
    words: float = 0.1
    """Letters of the words to type."""
    row: float = 0.34
    """One line of what it takes, with its bar."""
    most_words: int = 5
    """Lines of words; more are in looks.txt."""
    stitch: float = 0.016
    """Width of a stitched line."""
    seam: float = 0.006
    """Width of a seam."""
    px_per_in: float = 200.0
    """Of the picture."""


PAGE = PageSettings()

RING_CORNERS = 48
"""Of the ring round the widest gap: no corner is seen."""


def looks_page(
    top: Top,
    looks: Sequence[Look],
    batting: Batting,
    units: Units = "in",
    paper: PaperName = "letter",
    settings: PageSettings = PAGE,
) -> Drawing:
    """Return the page, the size of a sheet of paper on its long side."""
    w, h = PAGES_IN[paper]
    s = settings
    told = [facts(look, batting, units) for look in looks]
    most = [max(f[k].amount for f in told) for k in range(len(told[0]))]
    column = (w - 2 * s.margin - (len(looks) - 1) * s.gap) / len(looks)
    below = len(most) * s.row + (s.most_words + 1.5) * 1.45 * s.words + 2.8 * s.text
    room = (column, h - 2 * s.margin - 1.6 * s.title - below)
    items: list[Item] = []
    for number, (look, mine) in enumerate(zip(looks, told, strict=True)):
        x = s.margin + number * (column + s.gap)
        y = s.margin + s.title / 2
        name = f"{number + 1}  {TITLES[look.name]}"
        items.append(Label(name, (x, y), s.title, bold=True, anchor="left"))
        y += 1.1 * s.title
        drawn, height = _top_items(top, look, (x, y), room, s)
        items += drawn
        y += height + 1.3 * s.text
        items += _facts(mine, most, (x, y), column, s)
        items += _words(look, (x, y + len(most) * s.row + s.words), column, s)
    items += _key((s.margin, h - s.margin), w - 2 * s.margin, s)
    return Drawing((0.0, 0.0, w, h), tuple(items))


def _top_items(
    top: Top, look: Look, at: Point, room: tuple[float, float], s: PageSettings
) -> tuple[list[Item], float]:
    """Return the top with a look's stitching, its upper left corner at `at`, and the height."""
    x0, y0, x1, y1 = top.outline.bounds
    scale = min(room[0] / (x1 - x0), room[1] / (y1 - y0))
    left = at[0] + (room[0] - (x1 - x0) * scale) / 2

    def put(p: Point) -> Point:
        return (left + (p[0] - x0) * scale, at[1] + (p[1] - y0) * scale)

    fabrics = sorted({p.fabric for p in top.patches})
    items: list[Item] = []
    for patch in top.patches:
        level = 0xF6 - 0x22 * fabrics.index(patch.fabric) // max(1, len(fabrics) - 1)
        ring = tuple(put((float(x), float(y))) for x, y in patch.polygon.exterior.coords[:-1])
        items.append(Fill(ring, f"#{level:02X}{level:02X}{level:02X}", Pen(GREY, s.seam)))
    edge = tuple(put((float(x), float(y))) for x, y in top.outline.exterior.coords[:-1])
    items.append(Fill(edge, WHITE, Pen(INK, 2 * s.seam), opacity=0.0))
    seam, thread = Pen(VERMILION, s.stitch, (5 * s.stitch, 3.5 * s.stitch)), Pen(BLUE, s.stitch)
    for piece in look.route.network.pieces.values():
        if piece.stroke.required:
            pen = seam if piece.stroke.kind == "ditch" else thread
            items.append(InkLine(_placed(piece.curve, put), pen, piece.stroke.kind))
    items += _widest(look, put, scale, s)
    return items, (y1 - y0) * scale


def _placed(curve: Curve, put: Put) -> Curve:
    """Return a curve as it lies on the page, as smooth as it is on the top."""
    return Curve.through(put((float(x), float(y))) for x, y in curve.sampled())


def _widest(look: Look, put: Put, scale: float, s: PageSettings) -> list[Item]:
    """Return the ring round the widest gap."""
    ring = _ring(put(look.widest.centre), look.widest.radius_in * scale)
    return [
        Fill(ring, WHITE, Pen(WHITE, 4.5 * s.stitch), opacity=0.0),
        Fill(ring, WHITE, Pen(INK, 2 * s.stitch), opacity=0.0),
    ]


def _ring(centre: Point, radius: float) -> tuple[Point, ...]:
    turns = [2 * math.pi * k / RING_CORNERS for k in range(RING_CORNERS)]
    x, y = centre
    return tuple((x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns)


def _facts(
    mine: Sequence[Fact], most: Sequence[float], at: Point, width: float, s: PageSettings
) -> list[Item]:
    """Return what a look takes, a line and a bar each."""
    items: list[Item] = []
    x, y = at
    for fact, longest in zip(mine, most, strict=True):
        items.append(Label(fact.name, (x, y), 0.85 * s.text, GREY, anchor="left"))
        beside = width - lettering.width(fact.name, 0.85 * s.text) - 0.6 * s.text
        size = s.text * min(1.0, beside / lettering.width(fact.text, s.text, bold=True))
        items.append(Label(fact.text, (x + width, y), size, bold=True, anchor="right"))
        top, low = y + 0.7 * s.text, y + 1.15 * s.text
        items.append(Fill(box(x, top, x + width, low), WHITE, Pen(GREY, s.seam)))
        share = fact.amount / longest if longest > 0 else 0.0
        if share > 0:
            items.append(Fill(box(x, top, x + share * width, low), SKY, Pen(INK, s.seam)))
        y += s.row
    return items


def _words(look: Look, at: Point, width: float, s: PageSettings) -> list[Item]:
    """Return the words that give a look, as many as there is room for."""
    lines = [
        line
        for wish in look.wishes
        for line in lettering.wrapped(f"--motif “{wish}”", s.words, width)
    ]
    if len(lines) > s.most_words:
        left = len(look.wishes) - s.most_words + 1
        lines = [*lines[: s.most_words - 1], f"and {max(left, 1)} more: see looks.txt"]
    return [
        Label(line, (at[0], at[1] + 1.45 * k * s.words), s.words, anchor="left")
        for k, line in enumerate(lines)
    ]


def _key(at: Point, width: float, s: PageSettings) -> list[Item]:
    """Return what the lines mean, in one row that ends at the page's foot."""
    x, y = at[0], at[1] - s.text / 2
    sample = 3.0 * s.text
    seam = Pen(VERMILION, 1.6 * s.stitch, (8 * s.stitch, 5 * s.stitch))
    items: list[Item] = []
    for text, pen in (
        ("stitching", Pen(BLUE, 1.6 * s.stitch)),
        ("in the seam", seam),
        ("widest gap", None),
    ):
        if pen is not None:
            items.append(InkLine(Curve((Line((x, y), (x + sample, y)),)), pen))
        else:
            ring = _ring((x + sample / 2, y), 0.5 * s.text)
            items.append(Fill(ring, WHITE, Pen(INK, 2 * s.stitch), opacity=0.0))
        items.append(Label(text, (x + sample + 0.5 * s.text, y), 0.85 * s.text, anchor="left"))
        x += sample + lettering.width(text, 0.85 * s.text) + 2.0 * s.text
    note = "time, thread and marks are estimates"
    items.append(Label(note, (at[0] + width, y), 0.85 * s.text, GREY, anchor="right"))
    return items
