"""One class of arcs as a row of three cells: one circle smaller, the chosen one, one larger.

All cells of a row show the same typical place of the top at one scale; the chosen circle has a
heavy frame and says so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from seamwalk.geometry.curve import Curve, Line, Point
from seamwalk.model.circles import ArcClass, CircleTry, ClassCircle
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import Top
from seamwalk.sheets import lettering
from seamwalk.sheets.circle_cells import (
    MEASURE,
    Placing,
    Seen,
    cell_items,
    extent,
    rise_of,
    seen,
)
from seamwalk.sheets.circle_samples import Sample, sample_of
from seamwalk.sheets.drawing import Fill, InkLine, Item, Label, Pen, box
from seamwalk.sheets.guide_text import (
    circle_name,
    crossing_words,
    fine_length,
    template_words,
    verdict_words,
)
from seamwalk.sheets.palette import GREY, INK, WHITE
from seamwalk.units import CM_PER_IN, Units, format_exact

_CHOSEN = Pen(INK, 0.04)
_OTHER = Pen(GREY, 0.01)
_SCALES = {"in": (0.25, 0.5, 1.0, 2.0, 4.0, 8.0), "cm": (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)}
_LONGEST_BAR = 0.9


@dataclass(frozen=True, slots=True)
class CirclesPageSettings:
    """Measures of the page, inches."""

    width: float = 7.7
    height: float = 10.2
    """At most; both papers, letter and A4, hold it without scaling."""
    gap: float = 0.14
    """Between cells, and between rows."""
    title: float = 0.18
    """Letters of the title."""
    text: float = 0.125
    """All other letters: read at arm's length."""
    line: float = 0.175
    """From one line of text to the next."""
    pad: float = 0.06
    """Between a frame and what is in it."""
    tallest: float = 2.0
    """A picture isn't higher than this, even where there are few rows."""
    most_rows: int = 5
    """With more rows the arcs would be smaller than a thumbnail; the rest is in guide.txt."""
    filled: float = 0.78
    """Share of a picture's height that the patch may take: above and below it goes the circle."""
    round: float = 1.5
    """A picture gets so many times the height of its patch where the circle is as high."""
    px_per_in: float = 200.0
    """Of the picture."""

    @property
    def cell(self) -> float:
        """Width of a cell."""
        return (self.width - 2 * self.gap) / 3

    @property
    def room(self) -> float:
        """Width of the picture in it."""
        return self.cell - 4 * self.pad

    @property
    def words(self) -> float:
        """Height of the words in it: one line above the picture, two below."""
        return 3.2 * self.line + 2 * self.pad


@dataclass(frozen=True, slots=True)
class ClassRow:
    """The three cells of a class.

    Attributes
    ----------
    tries : tuple of (CircleTry or None)
        The next smaller circle, the chosen one, the next larger.
    views : tuple of (Seen or None)
        What they do; None for a circle that there is not.
    bounds : (float, float, float, float)
        What has to be seen of all of them, inches on the cloth.
    """

    found: ClassCircle
    sample: Sample
    tries: tuple[CircleTry | None, ...]
    views: tuple[Seen | None, ...]
    bounds: tuple[float, float, float, float]
    units: Units
    s: CirclesPageSettings

    @classmethod
    def of(
        cls,
        found: ClassCircle,
        strokes: Sequence[Stroke],
        top: Top,
        units: Units,
        s: CirclesPageSettings,
    ) -> "ClassRow":
        """Return the row of a class whose arcs are among `strokes`."""
        sample = sample_of(found, strokes, top)
        tries = (found.smaller, found.circle, found.larger)
        views = tuple(
            None if t is None and k != 1 else seen(sample, found.arcs, t)
            for k, t in enumerate(tries)
        )
        bounds = extent(sample, [v for v in views if v is not None])
        return cls(found, sample, tries, views, bounds, units, s)

    @property
    def wanted_high(self) -> float:
        """Height of the picture on the page that uses its width, with some room for the circle."""
        x0, y0, x1, y1 = self.bounds
        rings = [v.ring[1] for v in self.views if v is not None and v.ring is not None]
        high = max(y1 - y0, min(max(rings, default=0.0), self.s.round * (y1 - y0)))
        return high * self.s.room / (x1 - x0) + 4 * self.s.pad

    def items(self, y: float, picture: float) -> Iterator[Item]:
        """Yield the cells, the upper edge of their frames at `y`, their pictures so high."""
        s, width = self.s, self.s.cell
        x0, y0, x1, y1 = self.bounds
        scale = min(s.room / (x1 - x0), s.filled * picture / (y1 - y0))
        for k, (tried, view) in enumerate(zip(self.tries, self.views, strict=True)):
            x = k * (width + s.gap)
            frame = box(x, y, x + width, y + picture + s.words)
            if view is None:
                yield from self._missing(frame, "smaller" if k == 0 else "larger")
                continue
            yield Fill(frame, WHITE, _CHOSEN if k == 1 else _OTHER, opacity=0.0, layer="frame")
            upper = y + 1.3 * s.line
            middle = (x + width / 2, upper + picture / 2)
            placing = Placing(((x0 + x1) / 2, (y0 + y1) / 2), middle, scale)
            inner = box(x + s.pad, upper + s.pad, x + width - s.pad, upper + picture - s.pad)
            rise = rise_of(self.found.arcs, tried)
            number = "" if rise is None else fine_length(rise, self.units)
            # The unit stands with the words below.
            text = (number.removesuffix(f" {self.units}"), s.text)
            yield from cell_items(self.sample, view, tried, placing, inner, text)
            yield from self._words(tried, k, (x, y), upper + picture)
        yield from self._scale_bar(y, scale)

    def _words(self, tried: CircleTry | None, k: int, at: Point, below: float) -> Iterator[Label]:
        """Yield which of the three it is, its size, and what it does."""
        s, (x, y) = self.s, at
        left, right = x + 1.5 * s.pad, x + s.cell - 1.5 * s.pad
        name = ("one smaller", "draw round this", "one larger")[k]
        size = "" if tried is None else circle_name(tried.diameter_in, self.units)
        if tried is None:
            name = "no circle fits"
        y += 0.75 * s.line
        yield Label(name, (left, y), s.text, bold=k == 1, anchor="left")
        yield Label(size, (right, y), s.text, bold=True, anchor="right")
        # A number and its unit stay on one line.
        told = told_of(self.found.arcs, tried, self.units).replace(
            f" {self.units}", f"~{self.units}"
        )
        for n, words in enumerate(lettering.wrapped(told, s.text, right - left)):
            line = words.replace("~", " ")
            yield Label(line, (left, below + (n + 0.6) * s.line), s.text, anchor="left")

    def _missing(self, frame: tuple[Point, ...], name: str) -> Iterator[Item]:
        s = self.s
        (x0, y0), _, (x1, y1), _ = frame
        dashed = Pen(GREY, 0.008, (0.05, 0.05))
        yield Fill(frame, WHITE, dashed, opacity=0.0, layer="frame")
        lines = lettering.wrapped(f"no {name} one in your list", s.text, x1 - x0 - 4 * s.pad)
        for n, line in enumerate(lines):
            y = (y0 + y1) / 2 + n * s.line
            yield Label(line, ((x0 + x1) / 2, y), s.text, GREY)

    def _scale_bar(self, y: float, scale: float) -> Iterator[Item]:
        """Yield a bar of a round length, at the right of the row's heading."""
        s, per = self.s, 1.0 if self.units == "in" else 1 / CM_PER_IN
        steps = _SCALES[self.units]
        value = max((v for v in steps if v * per * scale <= _LONGEST_BAR), default=steps[0])
        x1, y = s.width, y - 0.6 * s.line
        x0 = x1 - value * per * scale
        yield InkLine(Curve((Line((x0, y), (x1, y)),)), MEASURE, "scale")
        for x in (x0, x1):
            yield InkLine(Curve((Line((x, y - 0.04), (x, y + 0.04)),)), MEASURE, "scale")
        text = format_exact(value * per, self.units)
        yield Label(text, (x0 - 0.06, y), s.text, anchor="right", layer="scale")


def told_of(arcs: ArcClass, tried: CircleTry | None, units: Units) -> str:
    """Return what a circle does, in words: rise, whether arcs cross, and whether it fits."""
    if tried is None:
        return template_words(arcs, units)
    words = []
    if tried.rise_in is not None:
        words.append(f"rise {fine_length(tried.rise_in, units)}")
        if tried.overlap is not None:
            words.append(crossing_words(tried.overlap))
    words.append(verdict_words(tried, free=arcs.free) or "fits")
    return "; ".join(words)
