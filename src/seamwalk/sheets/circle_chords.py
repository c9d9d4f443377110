"""A piece of the top to show arcs on: outlines, and the chords that the arcs are drawn over."""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon

from seamwalk.geometry.arc_fit import arc_over
from seamwalk.geometry.clip import SAME_PLACE_IN, clip, largest
from seamwalk.geometry.curve import Arc, Curve, Point

Ring = tuple[Point, ...]

AROUND = 1.75
"""How far from its middle a piece is shown, in chords: what is further away, as the far end of a
border is, would make the arcs too small to compare."""


@dataclass(frozen=True, slots=True)
class SampleChord:
    """What an arc is drawn over.

    Attributes
    ----------
    start, end : Point
        Inches.
    bow : {1, -1}
        Side that the arc bows to, as the sign of the rise in `Arc.by_rise`.
    """

    start: Point
    end: Point
    bow: int

    @property
    def length(self) -> float:
        """Straight from start to end, inches."""
        return math.dist(self.start, self.end)

    @property
    def middle(self) -> Point:
        """Half way from start to end."""
        return ((self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2)

    @property
    def towards(self) -> Point:
        """Unit vector from the chord to the arc's middle."""
        c = self.length
        (x0, y0), (x1, y1) = self.start, self.end
        return (-self.bow * (y1 - y0) / c, self.bow * (x1 - x0) / c)

    def arc(self, diameter_in: float) -> Arc:
        """Return the arc of a circle over the chord: the rim turns by 2·asin(c/D) there."""
        turn = 2 * math.asin(min(1.0, self.length / diameter_in))
        return arc_over(self.start, self.end, -self.bow * turn)

    @property
    def place(self) -> tuple[int, int]:
        """Its middle, the same for both arcs over a chord."""
        x, y = self.middle
        return round(x / SAME_PLACE_IN / 10), round(y / SAME_PLACE_IN / 10)

    def moved(self, move: Callable[[Point], Point]) -> "SampleChord":
        """Return the chord with its ends moved."""
        return SampleChord(move(self.start), move(self.end), self.bow)

    def risen(self, rise_in: float) -> Arc:
        """Return the arc with a rise."""
        return Arc.by_rise(self.start, self.end, self.bow * rise_in)


@dataclass(frozen=True, slots=True)
class PatchSample:
    """One patch, or two beside a seam, turned so that the first chord stands upright.

    Attributes
    ----------
    rings : tuple of Ring
        Cloth, the first corner not repeated.
    edges : tuple of Ring
        Seams round it; open where the cloth goes on.
    chords : tuple of SampleChord
        Of the class; the circle is shown on the first, and lies to its left.
    """

    rings: tuple[Ring, ...]
    edges: tuple[Ring, ...]
    chords: tuple[SampleChord, ...]

    @property
    def crossed(self) -> bool:
        """Tell whether the cloth goes on behind the first chord, as it does at a diagonal."""
        first = self.chords[0]
        left = min((x for ring in self.rings for x, _ in ring), default=first.middle[0])
        return left < first.middle[0] - 0.1 * first.length

    def turned(self) -> "PatchSample":
        """Return the same, the first chord chosen and upright.

        Its circle lies furthest out to the left: a cell is wider than high, and there is room.
        """
        first = max(self.chords, key=lambda c: (round(c.towards[0], 3), -c.middle[0]))
        across = complex(*first.towards).conjugate()

        def turn(p: Point) -> Point:
            z = complex(*p) * across
            return (z.real, z.imag)

        return PatchSample(
            tuple(tuple(map(turn, ring)) for ring in self.rings),
            tuple(tuple(map(turn, edge)) for edge in self.edges),
            tuple(c.moved(turn) for c in (first, *(c for c in self.chords if c is not first))),
        )


def lone_chord(length: float) -> PatchSample:
    """Return a chord without cloth."""
    chord = SampleChord((0.0, length), (0.0, 0.0), 1)
    return PatchSample((), ((chord.start, chord.end),), (chord,))


def patch_sample(rings: Sequence[Ring], chords: Sequence[SampleChord]) -> PatchSample:
    """Return what of some patches is shown."""
    whole = tuple((*ring, ring[0]) for ring in rings)
    sample = PatchSample(tuple(rings), whole, tuple(chords)).turned()
    window = _window(sample.chords)
    near = tuple(c for c in sample.chords if window.covers(shapely.LineString([c.start, c.end])))
    cloth = [largest(Polygon(ring).intersection(window)) for ring in sample.rings]
    edges = [c for edge in sample.edges for c in clip(Curve.through(edge), window)]
    if not near or None in cloth:
        return sample
    return PatchSample(
        tuple(_points(p.exterior.coords)[:-1] for p in cloth if p is not None),
        tuple(_points(c.sampled()) for c in edges),
        near,
    ).turned()


def _window(chords: Sequence[SampleChord]) -> Polygon:
    """Return the square round the chord with arcs on both sides, or beside the first one."""
    first = chords[0]
    (x, y), (dx, dy), reach = first.middle, first.towards, AROUND * first.length
    inwards = reach - first.length / 4
    x, y = x + dx * inwards, y + dy * inwards
    places = Counter(c.place for c in chords)
    both = [c for c in chords if places[c.place] > 1]
    if both:
        x, y = both[0].middle
    return shapely.box(x - reach, y - reach, x + reach, y + reach)


def _points(coords: Iterable[Iterable[float]]) -> Ring:
    return tuple((float(x), float(y)) for x, y in coords)
