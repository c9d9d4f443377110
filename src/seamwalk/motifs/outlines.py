"""A patch as the binding leaves it: its finished outline and the sides of it.

A *side* runs from corner to corner, however many junctions lie on it.  The inside is on the right
of the way round (y down), so that a positive rise bows inwards.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from seamwalk.geometry.clip import SAME_PLACE_IN, largest, turned_right
from seamwalk.geometry.curve import Point
from seamwalk.geometry.polyline import CORNER_DEG
from seamwalk.model.top import PatchId

ON_LINE_IN = 10 * SAME_PLACE_IN
"""A point this close to the binding line lies on it, inches."""


MILD_DEG = 25.0
"""A corner that bends less may be a junction off its place, degrees: the flattest true corner,
of an octagon, bends by 45°."""

WOBBLE_IN = 0.1
"""How far a junction may be off the side it lies on, inches: three times a good piecer's 1/32."""


NICK_IN = 0.75
"""A shorter side nicks a patch, inches: no arch or line is fitted to it.  Seams that ought to
cross in one point often meet as two junctions this far apart."""

NICK_SHARE = 0.25
"""The same as a share of the patch's size (square root of its area)."""

CURVED_SHARE = 0.04
"""A side is curved if it bows by more than this share of its chord, an arc of 18°; and by more
than junctions wobble."""

MOSTLY = 0.8
"""A side runs along the binding line if this share of it does: a point of a neighbour that ends
just short of the line takes a crumb of the side."""


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a finished outline.

    Attributes
    ----------
    start, end : Point
        Corners, inches.
    start_rad, end_rad : float
        Inner angles there; the whole shape's where the patch is a part.
    start_cut, end_cut : bool
        The corner lies on the binding line.
    on_binding : bool
        The side itself runs along the binding line.
    whole : (Point, Point)
        Ends of the side of the whole shape; they differ from start and end only for a part.
    start_open, end_open : bool
        The whole shape goes on beyond the corner: what passes it is cut at the binding line.
    """

    start: Point
    end: Point
    start_rad: float
    end_rad: float
    start_cut: bool
    end_cut: bool
    on_binding: bool
    whole: tuple[Point, Point]
    start_open: bool = False
    end_open: bool = False

    @property
    def length_in(self) -> float:
        """Length of what is there, straight from corner to corner."""
        return math.dist(self.start, self.end)

    @property
    def chord_in(self) -> float:
        """Length of the whole shape's side, straight from corner to corner."""
        return math.dist(*self.whole)


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A patch as the binding leaves it.

    Attributes
    ----------
    ring : ndarray (N, 2)
        Vertices, first not repeated.
    sides : tuple of Side
        From corner to corner; at a nick the next one starts where the nick ends.
    centre : Point
        Centroid; the whole shape's for a part.
    convex : bool
        No inner angle above 180°, and every side straight.
    part : bool
        Known to be part of a shape that the edge of the top cuts.
    curved : bool
        A side is a curved seam.
    """

    patch: PatchId
    polygon: Polygon
    ring: NDArray[np.float64]
    sides: tuple[Side, ...]
    centre: Point
    convex: bool
    part: bool = False
    curved: bool = False

    @property
    def at_edge(self) -> bool:
        """True when a side runs along the binding line."""
        return any(side.on_binding for side in self.sides)


def finished_outline(
    patch: PatchId, shape: Polygon, binding: Polygon | None, known: Sequence[Point] = ()
) -> Outline | None:
    """Return what of a patch lies inside the binding line, None if nothing does.

    Parameters
    ----------
    patch : PatchId
        Whose outline it is.
    shape : Polygon
        The whole patch.
    binding : Polygon or None
        Inside of the binding line; None when the whole patch lies inside.
    known : sequence of Point
        Places that vertices are snapped to, so that ends stay equal to the last bit.
    """
    if binding is None:
        polygon = turned_right(shape)
        ring = np.array(polygon.exterior.coords[:-1], dtype=np.float64)
    else:
        part = largest(shape.intersection(binding))
        if part is None or part.buffer(-ON_LINE_IN).is_empty:
            return None
        ring = _snapped(np.array(turned_right(part).exterior.coords[:-1], dtype=np.float64), known)
        if len(ring) < 3:
            return None
        polygon = Polygon(ring)
    points: list[Point] = [(float(x), float(y)) for x, y in ring.tolist()]
    at = _corners(points)
    sides = _without_nicks(_sides(points, at, binding), polygon.area)
    centre = polygon.centroid
    curved = _is_curved(points, at)
    convex = not curved and all(s.start_rad <= math.pi for s in sides)
    return Outline(patch, polygon, ring, sides, (centre.x, centre.y), convex, curved=curved)


def _snapped(ring: NDArray[np.float64], known: Sequence[Point]) -> NDArray[np.float64]:
    """Return the ring with vertices moved to known places they all but touch, no place twice."""
    if known:
        at = np.array(known)
        gap = np.hypot(*np.moveaxis(ring[:, None] - at[None], -1, 0))
        near = gap.argmin(axis=1)
        close = gap[np.arange(len(ring)), near] < ON_LINE_IN
        ring[close] = at[near[close]]
    step = np.hypot(*(ring - np.roll(ring, 1, axis=0)).T)
    kept: NDArray[np.float64] = ring[step > ON_LINE_IN]
    return kept


def _corners(ring: list[Point]) -> list[int]:
    """Return which vertices are corners, those left out that only look like one.

    A junction a little off a long side makes a bend where the next vertex is near; it is none of
    the patch's corners.
    """
    bend, mild = math.radians(CORNER_DEG), math.radians(MILD_DEG)
    at = [k for k, a in enumerate(angles(ring)) if abs(a - math.pi) > bend]
    while len(at) > 3:
        inner = angles([ring[k] for k in at])
        off = [
            (_off_chord(ring[at[i - 1]], ring[at[i]], ring[at[i + 1 - len(at)]]), i)
            for i, a in enumerate(inner)
            if abs(a - math.pi) < mild
        ]
        if not off or min(off)[0] > WOBBLE_IN:
            break
        del at[min(off)[1]]
    return at if len(at) >= 3 else list(range(len(ring)))


def _is_curved(ring: list[Point], at: list[int]) -> bool:
    """Return whether the ring bends smoothly between two of its corners, or all the way round."""
    n = len(ring)
    bend = math.radians(CORNER_DEG)
    if sum(abs(a - math.pi) > bend for a in angles(ring)) < 3:
        return True
    for k, i in enumerate(at):
        j = at[k + 1 - len(at)]
        inner = [ring[(i + step) % n] for step in range(1, (j - i) % n)]
        least = max(WOBBLE_IN, CURVED_SHARE * math.dist(ring[i], ring[j]))
        if any(_off_chord(ring[i], p, ring[j]) > least for p in inner):
            return True
    return False


def _off_chord(before: Point, at: Point, after: Point) -> float:
    """Return how far `at` lies off the line through its neighbours."""
    dx, dy = after[0] - before[0], after[1] - before[1]
    return abs(dx * (at[1] - before[1]) - dy * (at[0] - before[0])) / math.hypot(dx, dy)


def _sides(ring: list[Point], at: list[int], binding: Polygon | None) -> tuple[Side, ...]:
    points = [ring[k] for k in at]
    n, m = len(points), len(ring)
    inner = angles(points)
    cut, along = [False] * n, [False] * n
    if binding is not None:
        # Between two vertices the outline runs along the binding line or leaves it at once.
        places = np.array(ring)
        middles = (places + np.roll(places, -1, axis=0)) / 2
        spots = shapely.points(np.vstack([places, middles]))
        gap = np.asarray(shapely.distance(binding.exterior, spots))
        on_line = [bool(d < ON_LINE_IN) for d in gap]
        cut = [on_line[k] for k in at]
        for i in range(n):
            steps = [(at[i] + k) % m for k in range((at[(i + 1) % n] - at[i]) % m)]
            lengths = [math.dist(ring[k], ring[k + 1 - m]) for k in steps]
            there = sum(d for k, d in zip(steps, lengths, strict=True) if on_line[m + k])
            along[i] = there > MOSTLY * sum(lengths)
    out = []
    for i in range(n):
        k = (i + 1) % n
        ends = (points[i], points[k])
        out.append(Side(*ends, inner[i], inner[k], cut[i], cut[k], along[i], ends))
    return tuple(out)


def _without_nicks(sides: tuple[Side, ...], area: float) -> tuple[Side, ...]:
    """Return the sides without very short ones, which only nick a corner or a longer side.

    The sides next to a nick keep the angle that they make with one another; if they run on in
    one line they become one side.
    """
    short = min(NICK_IN, NICK_SHARE * math.sqrt(area))
    kept = [s for s in sides if s.length_in >= short]
    if len(kept) == len(sides) or len(kept) < 3:
        return sides
    n = len(kept)
    mild = math.radians(MILD_DEG)
    out: list[Side] = []
    for k in range(n):
        one, other = kept[k], kept[k + 1 - n]
        if one.end != other.start:
            inner = math.pi - math.remainder(_heading(other) - _heading(one), 2 * math.pi)
            one = replace(one, end_rad=inner)
            kept[k], kept[k + 1 - n] = one, replace(other, start_rad=inner)
    for side in kept:
        if out and out[-1].end != side.start and abs(side.start_rad - math.pi) < mild:
            out[-1] = _merged(out[-1], side)
        else:
            out.append(side)
    last, first = out[-1], out[0]
    if len(out) > 3 and last.end != first.start and abs(first.start_rad - math.pi) < mild:
        out = [_merged(last, first), *out[1:-1]]
    return tuple(out) if len(out) >= 3 else sides


def _heading(side: Side) -> float:
    return math.atan2(side.end[1] - side.start[1], side.end[0] - side.start[0])


def _merged(one: Side, other: Side) -> Side:
    """Return the side that two sides in one line make."""
    return replace(
        one,
        end=other.end,
        end_rad=other.end_rad,
        end_cut=other.end_cut,
        on_binding=one.on_binding and other.on_binding,
        whole=(one.start, other.end),
    )


def angles(at: Sequence[Point]) -> list[float]:
    """Return the angle inside a ring at each vertex, 0 to 2π; the inside is on the right."""
    # Plain floats: rings have a handful of vertices, and numpy costs ten times as much on those.
    n = len(at)
    out = []
    for k in range(n):
        (x0, y0), (x, y), (x1, y1) = at[k - 1], at[k], at[k + 1 - n]
        back, ahead = math.atan2(y0 - y, x0 - x), math.atan2(y1 - y, x1 - x)
        out.append((back - ahead) % (2 * math.pi))
    return out
