"""What of a top can be stitched: everything inside the binding line, cut exactly.

The *binding line* runs 1/4 in inside the raw edge: the binding's seam lies there and hides what
goes beyond.  The *margin ring* runs half way between the two.  A patch's *finished outline* is
what of it lies inside the binding line: on a bare top that is just the patch as the binding will
leave it, so an edge patch gets the motif of its equals in the middle.

A patch at the edge may be part of a larger shape that the edge cuts through.  That can be known
when the patch and its mirror image over the binding line together are congruent to a patch that
stands whole elsewhere in the top: then each side that meets the cut at a right angle runs on to
its mirrored corner (`Side.whole`).  Otherwise the corner on the binding line counts as it stands.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from seamwalk.errors import TopologyError
from seamwalk.geometry.clip import SAME_PLACE_IN, clip, inset, largest, turned_right
from seamwalk.geometry.curve import Curve, Point
from seamwalk.geometry.polyline import corners
from seamwalk.model.top import Junction, JunctionId, Patch, PatchId, Seam, SeamId, Top
from seamwalk.trade import BINDING_SEAM_IN


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a finished outline, from corner to corner, the patch on the right (y down).

    Attributes
    ----------
    start, end : Point
        Corners, inches.
    start_rad, end_rad : float
        Inner angles there.
    start_cut, end_cut : bool
        The corner lies on the binding line, which limits nothing: what goes past it is cut.
    on_binding : bool
        The side itself runs along the binding line.
    whole : (Point, Point)
        Ends of the side of the whole shape; they differ from start and end only for a part.
    """

    start: Point
    end: Point
    start_rad: float
    end_rad: float
    start_cut: bool
    end_cut: bool
    on_binding: bool
    whole: tuple[Point, Point]

    @property
    def chord_in(self) -> float:
        """Length of the whole side, straight from corner to corner."""
        return math.dist(*self.whole)


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A patch as the binding leaves it.

    Attributes
    ----------
    ring : ndarray (N, 2)
        Vertices, inside on the right of the way (y down), first not repeated.
    sides : tuple of Side
        From corner to corner.
    centre : Point
        Centroid of the shape, of the whole one for a part.
    convex : bool
        No inner angle above 180° (within what counts as straight).
    """

    patch: PatchId
    polygon: Polygon
    ring: NDArray[np.float64]
    sides: tuple[Side, ...]
    centre: Point
    convex: bool

    @property
    def at_edge(self) -> bool:
        """True when a side runs along the binding line."""
        return any(side.on_binding for side in self.sides)


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """A top with its binding line: what can be stitched.

    Attributes
    ----------
    binding, margin : Polygon
        Inside the binding line, and inside the ring in the margin.
    ditches : dict
        Each seam's parts inside the binding line; seams wholly outside are left out.
    outlines : dict
        Finished outline of each patch that reaches inside the binding line.
    """

    top: Top
    binding: Polygon
    margin: Polygon
    ditches: dict[SeamId, tuple[Curve, ...]]
    outlines: dict[PatchId, Outline]
    junctions: dict[JunctionId, Junction]
    seams: dict[SeamId, Seam]


def lay_out(top: Top, *, binding_in: float = BINDING_SEAM_IN) -> Area:
    """Return what of `top` lies inside the binding line.

    Parameters
    ----------
    top : Top
        Its patches' corners are junctions.
    binding_in : float
        Distance of the binding line from the raw edge, inches, above zero.

    Raises
    ------
    TopologyError
        If nothing is left inside the binding line.
    """
    binding = inset(top.outline, binding_in)
    margin = inset(top.outline, binding_in / 2)
    if binding is None or margin is None:
        raise TopologyError(
            "The top is so small that nothing is left inside the binding.",
            "Check its size, or set a narrower binding.",
        )
    shapely.prepare(binding)
    ditches: dict[SeamId, tuple[Curve, ...]] = {}
    inner = [s for s in top.seams if s.kind == "seam"]
    covered = shapely.covers(binding, [shapely.LineString(s.points) for s in inner])
    for seam, whole in zip(inner, covered, strict=True):
        curve = Curve.through(seam.points)
        parts = [curve] if whole else clip(curve, binding)
        if parts:
            ditches[seam.id] = tuple(parts)
    inside = shapely.covers(binding, [p.polygon for p in top.patches])
    outlines: dict[PatchId, Outline] = {}
    for patch, whole in zip(top.patches, inside, strict=True):
        outline = _outline(patch, bool(whole), binding, ditches)
        if outline is not None:
            outlines[patch.id] = outline
    return Area(
        top,
        binding,
        margin,
        ditches,
        _complete_parts(outlines),
        {j.id: j for j in top.junctions},
        {s.id: s for s in top.seams},
    )


def _outline(
    patch: Patch, whole: bool, binding: Polygon, ditches: dict[SeamId, tuple[Curve, ...]]
) -> Outline | None:
    """Return the finished outline, its vertices snapped to the ditches' ends."""
    if whole:
        polygon = turned_right(patch.polygon)
        ring = np.asarray(polygon.exterior.coords, dtype=np.float64)[:-1]
    else:
        part = largest(patch.polygon.intersection(binding))
        if part is None or part.buffer(-SAME_PLACE_IN).is_empty:
            return None
        part = turned_right(part)
        ring = np.asarray(part.exterior.coords, dtype=np.float64)[:-1]
        known = [q for s in patch.seams for c in ditches.get(s, ()) for q in (c.start, c.end)]
        if known:
            at = np.array(known)
            gap = np.hypot(*np.moveaxis(ring[:, None] - at[None], -1, 0))
            near = gap.argmin(axis=1)
            close = gap[np.arange(len(ring)), near] < 10 * SAME_PLACE_IN
            ring[close] = at[near[close]]
        ring = ring[(ring != np.roll(ring, 1, axis=0)).any(axis=1)]
        if len(ring) < 3:
            return None
        polygon = Polygon(ring)
    at_corner = corners(ring)
    if len(at_corner) < 3:
        at_corner = np.arange(len(ring))
    return _with_sides(patch.id, polygon, ring, at_corner, None if whole else binding)


def _with_sides(
    patch: PatchId,
    polygon: Polygon,
    ring: NDArray[np.float64],
    at_corner: NDArray[np.intp],
    binding: Polygon | None,
) -> Outline:
    points: list[Point] = [(float(x), float(y)) for x, y in ring[at_corner]]
    n = len(points)
    inner = [_inner_rad(points[i - 1], points[i], points[(i + 1) % n]) for i in range(n)]
    if binding is None:
        cut = [False] * n
        along = [False] * n
    else:
        line = binding.exterior
        ends = np.array(points)
        middles = (ends + np.roll(ends, -1, axis=0)) / 2
        near = 10 * SAME_PLACE_IN
        cut = [bool(d < near) for d in shapely.distance(line, shapely.points(ends))]
        bent = 0.02  # inches: the outer edge of one patch may bow this much
        along = [
            cut[i] and cut[(i + 1) % n] and bool(d < bent)
            for i, d in enumerate(shapely.distance(line, shapely.points(middles)))
        ]
    sides = tuple(
        Side(
            points[i],
            points[(i + 1) % n],
            inner[i],
            inner[(i + 1) % n],
            cut[i],
            cut[(i + 1) % n],
            along[i],
            (points[i], points[(i + 1) % n]),
        )
        for i in range(n)
    )
    centre = polygon.centroid
    convex = all(a <= math.pi + 1e-9 for a in inner)
    return Outline(patch, polygon, ring, sides, (centre.x, centre.y), convex)


def _inner_rad(before: Point, at: Point, after: Point) -> float:
    """Return the angle inside the patch at a corner, 0 to 2π; the inside is on the right."""
    back = math.atan2(before[1] - at[1], before[0] - at[0])
    ahead = math.atan2(after[1] - at[1], after[0] - at[0])
    return (back - ahead) % (2 * math.pi)


def _complete_parts(outlines: dict[PatchId, Outline]) -> dict[PatchId, Outline]:
    """Return the outlines with the sides of part shapes run on to the whole shape's corners."""
    shapes: dict[int, list[NDArray[np.float64]]] = {}
    for outline in outlines.values():
        if not outline.at_edge:
            at = [s.start for s in outline.sides]
            shapes.setdefault(len(at), []).append(_signature(at))
    stacked = {n: np.array(rows) for n, rows in shapes.items()}
    out = dict(outlines)
    for patch, outline in outlines.items():
        if outline.at_edge and not _stands(stacked, [s.start for s in outline.sides]):
            completed = _completed(outline, stacked)
            if completed is not None:
                out[patch] = completed
    return out


ALIKE_IN = 0.25
"""Sides of one class differ by less than this, inches: what can be eased in."""

ALIKE_RAD = math.radians(8)
"""Angles of one class differ by less than this."""


def _signature(at: list[Point]) -> NDArray[np.float64]:
    """Return sorted side lengths (inches), then sorted inner angles (rad), (2N,)."""
    n = len(at)
    lengths = sorted(math.dist(at[k - 1], at[k]) for k in range(n))
    angles = sorted(_inner_rad(at[k - 1], at[k], at[(k + 1) % n]) for k in range(n))
    return np.array(lengths + angles)


def _stands(shapes: dict[int, NDArray[np.float64]], at: list[Point]) -> bool:
    """Return True if a shape like the one with corners `at` stands whole in the top."""
    n = len(at)
    if n not in shapes:
        return False
    gap = np.abs(shapes[n] - _signature(at))
    alike = (gap[:, :n] < ALIKE_IN).all(axis=1) & (gap[:, n:] < ALIKE_RAD).all(axis=1)
    return bool(alike.any())


def _completed(outline: Outline, shapes: dict[int, NDArray[np.float64]]) -> Outline | None:
    """Return the part with its cut sides run on, if its mirror image completes a known shape."""
    n = len(outline.sides)
    cuts = [i for i, s in enumerate(outline.sides) if s.on_binding]
    if len(cuts) != 1:
        return None
    i = cuts[0]
    before, cut, after = outline.sides[i - 1], outline.sides[i], outline.sides[(i + 1) % n]
    # Sides that meet the cut at a right angle run straight on into their mirror images.
    first, last = (abs(a - math.pi / 2) < ALIKE_RAD for a in (cut.start_rad, cut.end_rad))
    if not (first or last):
        return None
    own = [outline.sides[(i + k) % n].start for k in range(2, n)]
    image = [_mirrored(p, cut.start, cut.end) for p in reversed(own)]
    whole = own + ([] if first else [cut.start]) + image + ([] if last else [cut.end])
    if len(whole) < 3 or not _stands(shapes, whole):
        return None
    sides = list(outline.sides)
    if first:
        far = _mirrored(before.start, cut.start, cut.end)
        sides[i - 1] = replace(before, whole=(before.start, far), end_rad=before.start_rad)
    if last:
        far = _mirrored(after.end, cut.start, cut.end)
        sides[(i + 1) % n] = replace(after, whole=(far, after.end), start_rad=after.end_rad)
    middle = Polygon(whole).centroid
    return replace(outline, sides=tuple(sides), centre=(middle.x, middle.y))


def _mirrored(p: Point, a: Point, b: Point) -> Point:
    """Return `p` mirrored over the line through `a` and `b`."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    t = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)
    return (2 * (a[0] + t * dx) - p[0], 2 * (a[1] + t * dy) - p[1])
