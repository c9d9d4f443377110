"""A patch taken for a strip: two ends, and rows that run along it from one to the other.

Rows are spread by shares of the ends' lengths, so that where two strips with equally many rows
meet in a mitre, the rows meet too.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from seamwalk.geometry.curve import Point
from seamwalk.model.top import PatchId
from seamwalk.motifs.outlines import Outline, Side


@dataclass(frozen=True, slots=True)
class Strip:
    """A four-sided patch along its longer pair of sides.

    Attributes
    ----------
    near, far : tuple of Point
        Its ends as they are, vertices included, each from the left long side to the right one as
        seen on the way from near to far on a page with y down.
    left, right : Side
        The long sides; the left one runs from near to far, the right one back.
    width_in : float
        Area over middle length: the distance of the long sides where they are parallel.
    """

    patch: PatchId
    near: tuple[Point, ...]
    far: tuple[Point, ...]
    left: Side
    right: Side
    width_in: float

    @property
    def length_in(self) -> float:
        """Length half way between the long sides."""
        return (self.left.length_in + self.right.length_in) / 2

    def row(self, share: float) -> tuple[Point, Point]:
        """Return the ends of the row at a share of the way from left to right."""
        return part_way(self.near, share), part_way(self.far, share)

    def turned(self) -> "Strip":
        """Return the same strip run the other way."""
        near, far = self.far[::-1], self.near[::-1]
        return Strip(self.patch, near, far, self.right, self.left, self.width_in)


def strip_of(outline: Outline) -> Strip | None:
    """Return the patch as a strip, None if it has not four straight sides."""
    sides = outline.sides
    if len(sides) != 4 or outline.curved:
        return None
    lengths = [s.length_in for s in sides]
    first = 0 if lengths[0] + lengths[2] < lengths[1] + lengths[3] else 1
    # The inside is on the right of the way round, so the side after the near end is on the left.
    near, far = run_of(outline, first)[::-1], run_of(outline, first + 2)
    left, right = sides[first + 1], sides[(first + 3) % 4]
    width = 2 * outline.polygon.area / (left.length_in + right.length_in)
    return Strip(outline.patch, near, far, left, right, width)


def run_of(outline: Outline, side: int) -> tuple[Point, ...]:
    """Return the ring's vertices along one side, both corners included."""
    # Plain floats: rings have a handful of vertices, and numpy costs ten times as much on those.
    ring: list[Point] = [(x, y) for x, y in outline.ring.tolist()]
    first, last = (
        min(range(len(ring)), key=lambda k: math.dist(ring[k], corner))
        for corner in (outline.sides[side].start, outline.sides[side].end)
    )
    count = (last - first) % len(ring)
    return tuple(ring[(first + k) % len(ring)] for k in range(count + 1))


def length_of(run: Sequence[Point]) -> float:
    """Return the length of a polyline."""
    return sum(math.dist(a, b) for a, b in pairwise(run))


def part_way(run: Sequence[Point], share: float) -> Point:
    """Return the point at a share of a polyline's length."""
    left = share * length_of(run)
    for a, b in pairwise(run):
        step = math.dist(a, b)
        if left <= step:
            t = left / step if step else 0.0
            return (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)
        left -= step
    return run[-1]
