"""A short piece of a row or a strand, whose arcs take the size of their circle."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from seamwalk.geometry.curve import Arc, Point
from seamwalk.model.circles import ArcClass
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import Top

FEWEST_STRANDS, MOST_STRANDS = 2, 3

SCALES = 3
"""Scales in the first of two rows: the least that show how the rows are set."""

ARCS = 3
"""Arcs of a strand that are shown: it weaves to both sides and back."""


@dataclass(frozen=True, slots=True)
class RowSample:
    """Half circles in rows, or arcs of a strand along its middle line.

    Attributes
    ----------
    tangent_rad : float
        Between arc and middle line where they meet: a right angle for half circles.
    strands : int
        Of a cable; 0 for scales.
    width_in : float or None
        Of the strip that a cable lies in, inches.
    """

    tangent_rad: float = math.pi / 2
    strands: int = 0
    width_in: float | None = None

    def arcs(self, diameter_in: float) -> tuple[Arc, ...]:
        """Return the arcs, the lowest row's middle at (0, 0); the first one's circle is shown."""
        r = diameter_in / 2
        if not self.strands:
            lower = [_half_circle((2 * k + 1 - SCALES) * r, 0.0, r) for k in range(SCALES)]
            upper = [_half_circle((2 * k - SCALES) * r, -r, r) for k in range(1, SCALES)]
            return (*lower, *upper)
        chord = diameter_in * math.sin(self.tangent_rad)
        rise = r * (1 - math.cos(self.tangent_rad))
        out: list[Arc] = []
        for strand in range(self.strands):
            shift = 2 * strand / self.strands
            for k in range(math.ceil(shift), math.ceil(shift) + ARCS):
                x = (k - shift - ARCS / 2) * chord
                side = -1 if k % 2 == 0 else 1
                out.append(Arc.by_rise((x, 0.0), (x + chord, 0.0), side * rise))
        return tuple(out)

    def edges(self, length_in: float) -> tuple[tuple[Point, Point], ...]:
        """Return the strip's long sides over a length."""
        if self.width_in is None:
            return ()
        half = self.width_in / 2
        return tuple(((0.0, y), (length_in, y)) for y in (-half, half))


def _half_circle(x: float, y: float, r: float) -> Arc:
    """Return the upper half of a circle, from its left over its top."""
    return Arc((x - r, y), (x + r, y), (x, y), math.pi)


def row_sample(arcs: ArcClass, strokes: Sequence[Stroke], top: Top) -> RowSample:
    """Return the piece that stands for a class in rows or strands."""
    if arcs.over == "rows":
        return RowSample()
    mine = set(arcs.patches)
    drawn = [s for s in strokes if s.motif == arcs.motif and s.patch in mine]
    sweeps = [abs(p.sweep_rad) for s in drawn for p in s.curve if isinstance(p, Arc)]
    patch = arcs.patches[0]
    lines = {s.line for s in drawn if s.patch == patch}
    strip = next(p.polygon for p in top.patches if p.id == patch)
    a, b, c, *_ = shapely.get_coordinates(shapely.minimum_rotated_rectangle(strip))
    width = min(math.dist(a, b), math.dist(b, c))
    strands = min(max(len(lines), FEWEST_STRANDS), MOST_STRANDS)
    # Both ends of a strand may be cut by a seam; the longest arc is whole.
    return RowSample(max(sweeps, default=math.pi) / 2, strands, width)
