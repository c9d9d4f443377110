"""The sides of borders: four-sided patches, longer than wide, that follow one another straight on.

A piece's outer side is the one further from the top's middle; its way round has the inside on the
right.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from seamwalk.geometry.clip import SAME_PLACE_IN
from seamwalk.geometry.curve import Point
from seamwalk.model.top import PatchId
from seamwalk.motifs.motif import Region
from seamwalk.motifs.outlines import Outline, Side

Ends = tuple[Point, Point]
Beyond = dict[PatchId, dict[int, set[PatchId]]]

LONG = 1.5
"""A piece of a strip is longer than this times its width: shorter ones are squares, sewn a little
off."""

STRAIGHT_ON_DEG = 15.0
"""Pieces that bend by less than this follow one another in one strip, degrees."""

FLUSH_IN = 0.5
"""A strip butted against another ends this close to the end of that one, inches: two seam
allowances."""


@dataclass(frozen=True, slots=True)
class BorderSide:
    """One side of a border, from corner to corner, its way round with the inside on the right.

    Attributes
    ----------
    patches : tuple of PatchId
        Its pieces, in order.
    outer, inner, centre : (Point, Point)
        Its long sides and the line half way between, each from where it meets the strip before
        to where it meets the one after.
    """

    patches: tuple[PatchId, ...]
    outer: Ends
    inner: Ends
    centre: Ends

    @property
    def width_in(self) -> float:
        """Mean distance of the inner side's ends from the outer side's line."""
        return (_off(self.inner[0], self.outer) + _off(self.inner[1], self.outer)) / 2

    @property
    def length_in(self) -> float:
        """Length of the line half way between its long sides."""
        return math.dist(*self.centre)

    @property
    def heading_rad(self) -> float:
        """Direction of its way round."""
        return heading(self.centre)


@dataclass(frozen=True, slots=True)
class Piece:
    """A patch of a strip and the patches beyond its two ends and its inner side."""

    patch: PatchId
    outer: Ends
    inner: Ends
    before: frozenset[PatchId]
    after: frozenset[PatchId]
    beyond: frozenset[PatchId]


def beyond_sides(region: Region) -> Beyond:
    """Return for each patch with four sides the patches beyond each side."""
    area = region.area
    out: Beyond = {}
    for seam in area.seams.values():
        if seam.left is None or seam.right is None:
            continue
        (x0, y0), (x1, y1) = seam.points[0], seam.points[-1]
        spot = ((x0 + x1) / 2, (y0 + y1) / 2)
        for mine, other in ((seam.left, seam.right), (seam.right, seam.left)):
            outline = area.outlines.get(mine)
            if outline is None or len(outline.sides) != 4:
                continue
            side = min(
                range(4),
                key=lambda k: _off_segment(spot, outline.sides[k].start, outline.sides[k].end),
            )
            out.setdefault(mine, {}).setdefault(side, set()).add(other)
    return out


def _piece(outline: Outline, beyond: dict[int, set[PatchId]], middle: Point) -> Piece | None:
    """Return the patch as a piece of a strip, None if it is none."""
    sides = outline.sides
    if len(sides) != 4 or not outline.convex:
        return None
    lengths = [s.length_in for s in sides]
    k = 0 if lengths[0] + lengths[2] > lengths[1] + lengths[3] else 1
    if lengths[k] + lengths[k + 2] < LONG * (lengths[k - 1] + lengths[k + 1]):
        return None
    # The middle of the top lies further to the right of the outer side than of the inner.
    if _right_of(middle, sides[k + 2]) > _right_of(middle, sides[k]) + SAME_PLACE_IN:
        k += 2
    outer, inner = sides[k], sides[(k + 2) % 4]
    at = {side % 4: frozenset(p) for side, p in beyond.items()}
    nothing: frozenset[PatchId] = frozenset()
    return Piece(
        outline.patch,
        (outer.start, outer.end),
        (inner.end, inner.start),
        at.get((k - 1) % 4, nothing),
        at.get((k + 1) % 4, nothing),
        at.get((k + 2) % 4, nothing),
    )


def runs_of(region: Region, beyond: Beyond) -> Iterator[list[Piece]]:
    """Yield the region's pieces that follow one another straight on, in their way round."""
    middle = region.area.binding.centroid
    pieces: dict[PatchId, Piece] = {}
    for outline in region.outlines:
        found = _piece(outline, beyond.get(outline.patch, {}), (middle.x, middle.y))
        if found is not None:
            pieces[outline.patch] = found
    after: dict[PatchId, PatchId] = {}
    for piece in pieces.values():
        if len(piece.after) == 1:
            (follower,) = piece.after
            other = pieces.get(follower)
            if other is not None and other.before == {piece.patch}:
                bend = math.remainder(heading(other.outer) - heading(piece.outer), 2 * math.pi)
                if abs(bend) < math.radians(STRAIGHT_ON_DEG):
                    after[piece.patch] = follower
    followers = set(after.values())
    for first in pieces:
        if first not in followers:
            run = [first]
            while run[-1] in after:
                run.append(after[run[-1]])
            yield [pieces[p] for p in run]


def side_of(run: list[Piece]) -> BorderSide:
    """Return the side that pieces make, from end to end."""
    outer, inner = (run[0].outer[0], run[-1].outer[1]), (run[0].inner[0], run[-1].inner[1])
    centre = (between(outer[0], inner[0]), between(outer[1], inner[1]))
    return BorderSide(tuple(p.patch for p in run), outer, inner, centre)


def heading(ends: Ends) -> float:
    """Return the direction from the first end to the last."""
    return math.atan2(ends[1][1] - ends[0][1], ends[1][0] - ends[0][0])


def between(a: Point, b: Point) -> Point:
    """Return the place half way."""
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)


def _right_of(p: Point, side: Side) -> float:
    """Return how far `p` lies to the right of a side's line."""
    (x0, y0), (x1, y1) = side.start, side.end
    return ((x1 - x0) * (p[1] - y0) - (y1 - y0) * (p[0] - x0)) / side.length_in


def _off(p: Point, line: Ends) -> float:
    """Return the distance of `p` from a line."""
    (x0, y0), (x1, y1) = line
    return abs((x1 - x0) * (p[1] - y0) - (y1 - y0) * (p[0] - x0)) / math.dist(*line)


def _off_segment(p: Point, a: Point, b: Point) -> float:
    """Return the distance of `p` from the way between two places."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    t = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)
    t = min(1.0, max(0.0, t))
    return math.dist(p, (a[0] + t * dx, a[1] + t * dy))


def meeting(one: Ends, other: Ends) -> Point:
    """Return where two sides' lines meet, at the patch's corner there if one is near.

    At a junction what starts in the corner meets the seams.
    """
    place = crossing(one, other)
    near = min((one[1], other[0]), key=lambda p: math.dist(p, place))
    return near if flush(near, place) else place


def crossing(one: Ends, other: Ends) -> Point:
    """Return where two lines that are not parallel cross."""
    (x0, y0), (x1, y1) = one
    (x2, y2), (x3, y3) = other
    dx, dy, ex, ey = x1 - x0, y1 - y0, x3 - x2, y3 - y2
    t = ((x2 - x0) * ey - (y2 - y0) * ex) / (dx * ey - dy * ex)
    return (x0 + t * dx, y0 + t * dy)


def flush(a: Point, b: Point) -> bool:
    """Return whether two places are one to a hand that pieces."""
    return math.dist(a, b) < FLUSH_IN
