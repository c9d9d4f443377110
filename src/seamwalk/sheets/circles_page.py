"""Circles on one page: for each class of arcs the one to draw round, and the next in size."""

from collections.abc import Iterator, Sequence

from seamwalk.geometry.curve import Curve, Line, Point
from seamwalk.model.circles import CircleChoice
from seamwalk.model.sizes import Sizes
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import Top
from seamwalk.sheets import lettering
from seamwalk.sheets.circle_cells import BREAKS, FITS, MEASURE, RING
from seamwalk.sheets.circles_row import CirclesPageSettings, ClassRow
from seamwalk.sheets.drawing import Drawing, InkLine, Item, Label
from seamwalk.sheets.guide_text import NO_CIRCLES_NAMED, class_words
from seamwalk.units import Units

TITLE = "Circles: the one to draw round, one smaller, one larger"


PAGE = CirclesPageSettings()


def circles_page(
    circles: CircleChoice,
    strokes: Sequence[Stroke],
    top: Top,
    sizes: Sizes,
    units: Units = "in",
    *,
    circles_named: bool = True,
    settings: CirclesPageSettings = PAGE,
) -> Drawing:
    """Return the page; the classes with most arcs come first.

    Parameters
    ----------
    circles : CircleChoice
        With one class or more.
    strokes : sequence of Stroke
        Of the plan: where the arcs are.
    circles_named : bool
        The circles are the person's own.
    """
    s = settings
    ordered = sorted(circles.classes, key=lambda c: -c.arcs.count)
    rows = [ClassRow.of(c, strokes, top, units, s) for c in ordered[: s.most_rows]]
    heads = [
        lettering.wrapped(
            class_words(r.found.arcs, sizes, units), s.text, s.width - 1.6, bold=True
        )
        for r in rows
    ]
    foot = _foot_lines(len(ordered) - len(rows), circles_named, s)
    above = 1.6 * s.title
    below = s.line * (len(foot) + 1.5)
    words = s.line * sum(map(len, heads)) + len(rows) * (s.words + s.gap)
    most = min(s.tallest, (s.height - above - below - words) / len(rows))
    items: list[Item] = [Label(TITLE, (0.0, s.title / 2), s.title, bold=True, anchor="left")]
    y = above
    for row, head in zip(rows, heads, strict=True):
        for k, line in enumerate(head):
            at = (0.0, y + (k + 0.4) * s.line)
            items.append(Label(line, at, s.text, bold=True, anchor="left"))
        y += s.line * len(head)
        picture = min(most, row.wanted_high)
        items += row.items(y, picture)
        y += picture + s.words + s.gap
    items += _key((0.0, y + s.line / 2), s)
    for k, line in enumerate(foot):
        items.append(Label(line, (0.0, y + (k + 1.6) * s.line), s.text, anchor="left"))
    edge = 0.1
    return Drawing((-edge, -edge, s.width + edge, y + below + edge), tuple(items))


def _foot_lines(left: int, circles_named: bool, s: CirclesPageSettings) -> list[str]:
    lines = [f"{left} more kinds of arcs are in guide.txt."] if left else []
    if left == 1:
        lines = ["One more kind of arcs is in guide.txt."]
    if not circles_named:
        lines += lettering.wrapped(NO_CIRCLES_NAMED, s.text, s.width)
    return lines


def _key(at: Point, s: CirclesPageSettings) -> Iterator[Item]:
    """Yield what the lines mean."""
    x, y = at
    for text, pen in (
        ("arcs of a circle that fits", FITS),
        ("of one that does not", BREAKS),
        ("the circle itself", RING),
        ("rise", MEASURE),
    ):
        yield InkLine(Curve((Line((x, y), (x + 0.35, y)),)), pen, "key")
        yield Label(text, (x + 0.42, y), s.text, anchor="left", layer="key")
        x += 0.42 + lettering.width(text, s.text) + 0.22
