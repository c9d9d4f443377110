"""What one circle does, drawn: the arcs it makes, itself as a thin ring, and the rise as a number.

Arcs of a circle that fits are solid, of one that doesn't dashed, so that nothing rests on colour.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import shapely

from seamwalk.geometry.clip import clip
from seamwalk.geometry.curve import Arc, Curve, Line, Piece, Point
from seamwalk.model.circles import ArcClass, CircleTry
from seamwalk.sheets.circle_samples import Sample
from seamwalk.sheets.circle_strands import RowSample
from seamwalk.sheets.drawing import Fill, InkLine, Item, Label, Pen
from seamwalk.sheets.palette import BLUE, GREY, INK, PALE, VERMILION

BESIDE = 1.1
"""How much of a circle beside the patch gets room, in chords: what is further out is cut off
rather than have the arcs drawn small."""

MOST_TURN_RAD = math.radians(6.0)
"""Arcs are drawn in parts that turn by no more: no corner is seen."""

FITS = Pen(BLUE, 0.022)
BREAKS = Pen(VERMILION, 0.02, (0.075, 0.045))
RING = Pen(INK, 0.008, (0.028, 0.028))
MEASURE = Pen(INK, 0.009)
PATCH_EDGE = Pen(GREY, 0.008)
TICK_IN = 0.045
"""Half the stroke that ends a measure."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What one circle does on a sample, inches on the cloth.

    Attributes
    ----------
    arcs : tuple of Arc
        Empty where the circle does not reach.
    ring : (Point, float) or None
        Middle and diameter of the circle; None for a template.
    rise : (Point, Point) or None
        From the chord's middle to the arc's.
    """

    arcs: tuple[Arc, ...]
    ring: tuple[Point, float] | None
    rise: tuple[Point, Point] | None = None


def seen(sample: Sample, arcs: ArcClass, circle: CircleTry | None) -> Seen:
    """Return what a circle does on a sample; None is the template that is wished for."""
    if isinstance(sample, RowSample):
        diameter = arcs.chord_in if circle is None else circle.diameter_in
        made = sample.arcs(diameter)
        return Seen(made, None if circle is None else (made[0].centre, diameter))
    first = sample.chords[0]
    if circle is None:
        made = tuple(c.risen(arcs.wish_in) for c in sample.chords)
        return Seen(made, None, (first.middle, made[0].at(0.5)))
    if circle.rise_in is None:
        return Seen((), (first.middle, circle.diameter_in))
    made = tuple(c.arc(circle.diameter_in) for c in sample.chords)
    ring = (made[0].centre, circle.diameter_in)
    return Seen(made, ring, (first.middle, made[0].at(0.5)))


@dataclass(frozen=True, slots=True)
class Placing:
    """Where the cloth lies on the page: one scale, no turn.

    Attributes
    ----------
    origin : Point
        Place on the cloth that lies at `at` on the page.
    scale : float
        Page over cloth.
    """

    origin: Point
    at: Point
    scale: float

    def put(self, p: Point) -> Point:
        """Return the place on the page."""
        (x0, y0), (x1, y1) = self.origin, self.at
        return (x1 + (p[0] - x0) * self.scale, y1 + (p[1] - y0) * self.scale)

    def arc(self, arc: Arc) -> Curve:
        """Return an arc on the page, in parts."""
        ends = self.put(arc.start), self.put(arc.end)
        return _in_parts(Arc(*ends, self.put(arc.centre), arc.sweep_rad))


def extent(sample: Sample, cells: Sequence[Seen]) -> tuple[float, float, float, float]:
    """Return left, top, right, bottom of what has to be seen in all cells, inches on the cloth."""
    places: list[Point] = []
    for cell in cells:
        for arc in cell.arcs:
            x0, y0, x1, y1 = Curve((arc,)).bounds()
            places += [(x0, y0), (x1, y1)]
        if cell.ring is not None:
            places += _room_for_ring(sample, cell)
    if isinstance(sample, RowSample):
        places += [p for edge in sample.edges(1e-9) for p in edge]
    else:
        places += [p for ring in sample.rings for p in ring]
        places += [p for c in sample.chords for p in (c.start, c.end)]
    xs, ys = zip(*places, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _room_for_ring(sample: Sample, cell: Seen) -> list[Point]:
    assert cell.ring is not None
    (x, y), diameter = cell.ring
    r = diameter / 2
    if isinstance(sample, RowSample) or not cell.arcs:
        return [(x - r, y - r), (x + r, y + r)]
    first = sample.chords[0]
    (mx, my), (dx, dy) = first.middle, first.towards
    out = min(diameter - cell.arcs[0].rise, BESIDE * first.length)
    return [(mx - dx * out, my - dy * out)]


def cell_items(
    sample: Sample,
    cell: Seen,
    tried: CircleTry | None,
    placing: Placing,
    room: tuple[Point, ...],
    text: tuple[str, float],
) -> Iterator[Item]:
    """Yield the picture of one cell.

    Parameters
    ----------
    tried : CircleTry or None
        None for a template.
    room : tuple of Point
        Corners of the picture on the page: the ring is cut there.
    text : (str, float)
        The rise, and the size of its letters.
    """
    yield from _cloth(sample, cell, placing.put)
    if cell.ring is not None:
        yield from (InkLine(c, RING, "circle") for c in _cut_ring(cell.ring, placing, room))
    fits = tried is None or tried.verdict == "fits"
    for arc in cell.arcs:
        yield InkLine(placing.arc(arc), FITS if fits else BREAKS, "arcs")
    if cell.rise is not None and not isinstance(sample, RowSample):
        foot, apex = (placing.put(p) for p in cell.rise)
        # Arcs of another diagonal cross the chord's middle: there the number stands clear of both.
        clear = apex[0] - foot[0] if sample.crossed else 0.0
        yield from _measure(foot, apex, clear, text)


def rise_of(arcs: ArcClass, tried: CircleTry | None) -> float | None:
    """Return the rise that a circle gives, or that is wished of a template, inches."""
    return arcs.wish_in if tried is None else tried.rise_in


def _cloth(sample: Sample, cell: Seen, put: Callable[[Point], Point]) -> Iterator[Item]:
    if not isinstance(sample, RowSample):
        for ring in sample.rings:
            yield Fill(tuple(map(put, ring)), PALE, layer="patch")
        for edge in sample.edges:
            yield InkLine(Curve.through(map(put, edge)), PATCH_EDGE, "patch")
        return
    xs = [x for arc in cell.arcs for x in (arc.start[0], arc.end[0])]
    for (_, y), _ in sample.edges(1.0):
        ends = put((min(xs), y)), put((max(xs), y))
        yield InkLine(Curve((Line(*ends),)), PATCH_EDGE, "patch")


def _cut_ring(ring: tuple[Point, float], placing: Placing, room: tuple[Point, ...]) -> list[Curve]:
    """Return what of a circle lies in the picture."""
    (x, y), r = placing.put(ring[0]), ring[1] * placing.scale / 2
    left, right = (x - r, y), (x + r, y)
    halves = Arc(left, right, (x, y), math.pi), Arc(right, left, (x, y), math.pi)
    whole = Curve(tuple(p for half in halves for p in _in_parts(half)))
    return clip(whole, shapely.Polygon(room))


def _in_parts(arc: Arc) -> Curve:
    n = max(1, math.ceil(abs(arc.sweep_rad) / MOST_TURN_RAD))
    parts: tuple[Piece, ...] = tuple(arc.parts([k / n for k in range(n + 1)]))
    return Curve(parts)


def _measure(foot: Point, apex: Point, clear: float, text: tuple[str, float]) -> Iterator[Item]:
    """Yield the rise as a measure: a line with strokes at its ends, its number behind the chord.

    Parameters
    ----------
    clear : float
        How far from the line the number must keep, above it and to its left.
    """
    yield InkLine(Curve((Line(foot, apex),)), MEASURE, "rise")
    for x, y in (foot, apex):
        yield InkLine(Curve((Line((x, y - TICK_IN), (x, y + TICK_IN)),)), MEASURE, "rise")
    words, size = text
    lift = clear + 0.65 * size if clear else 0.0
    at = (foot[0] - clear - 0.5 * size, foot[1] - lift)
    yield Label(words, at, size, anchor="right", layer="rise")
