"""Planar maps: vertices, edges and the faces between them.

A drawing of curves that meet only at their ends cuts the plane into faces.  The faces are found
by walking half-edges: every edge is walked once in each direction, and at each vertex the walk
leaves by the next edge round the vertex, so that each face is walked exactly once.

A half-edge is an integer: ``2·edge`` walks the edge from its first end to its last, ``2·edge + 1``
walks it back.  Walks keep their face on the side that x turned towards y points to, which on a
page whose y points down is the right-hand side; a face's walk has positive area, and each
connected component has one walk round its outside, whose area is not positive.

References
----------
Muller and Preparata, Finding the intersection of two convex polyhedra, Theoretical Computer
Science 7, 1978 (half-edges); de Berg et al., Computational Geometry, 3rd ed., section 2.2.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from seamwalk.errors import TopologyError
from seamwalk.geometry.polygon import signed_area
from seamwalk.geometry.projective import Points

SNAP_IN = 1 / 1000
"""Ends closer than this are one vertex, inches: a tenth of a sewing thread, far below anything
that can be measured, far above rounding."""

_ADVICE = "Mark the seams there again, or report the photo if this keeps happening."


@dataclass(frozen=True, slots=True, eq=False)
class PlanarMap:
    """Vertices and the edges between them.

    Attributes
    ----------
    xy : (V, 2) float64
        Vertices.
    ends : (E, 2) int
        First and last vertex of each edge.
    paths : tuple of (K, 2) float64
        Each edge from its first to its last vertex, both included, K >= 2.
    """

    xy: Points
    ends: NDArray[np.intp]
    paths: tuple[Points, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """The walks round the faces of a planar map.

    Attributes
    ----------
    loops : tuple of tuple of int
        Half-edges of each walk in order.
    areas : (L,) float64
        Area enclosed by each walk: positive for a face, else the outside of a component.
    of : (E, 2) int
        For each edge, the loop walked in its own direction (right-hand side, y down), then the
        loop walked against it (left-hand side).
    """

    loops: tuple[tuple[int, ...], ...]
    areas: NDArray[np.float64]
    of: NDArray[np.intp]

    @property
    def inner(self) -> NDArray[np.intp]:
        """Indices of the loops that are faces rather than the outside."""
        return np.flatnonzero(self.areas > 0)


def node(lines: Iterable[LineString], *, snap: float = SNAP_IN) -> PlanarMap:
    """Return the planar map of lines that may cross, touch or overlap one another.

    Lines are cut where they meet; what lies within `snap` becomes one point (snap rounding).
    Vertices where just two edges meet are dissolved, rings keep one vertex.

    Raises
    ------
    TopologyError
        If no line is longer than `snap`.

    References
    ----------
    Hobby, Practical segment intersection with finite precision output, Computational Geometry
    13, 1999 (snap rounding, as done by GEOS).
    """
    merged = shapely.line_merge(shapely.union_all(list(lines), grid_size=snap))
    parts = [g for g in shapely.get_parts(merged) if g.geom_type == "LineString"]
    parts = [g for g in parts if g.length > 0]
    if not parts:
        raise TopologyError("There are no lines to make a map of.", _ADVICE)
    paths = tuple(shapely.get_coordinates(g) for g in parts)
    tips = np.array([p[i] for p in paths for i in (0, -1)])
    xy, index = np.unique(tips, axis=0, return_inverse=True)
    return PlanarMap(xy, index.reshape(-1, 2).astype(np.intp), paths)


def faces(planar: PlanarMap) -> Faces:
    """Return the walks round all faces.

    Raises
    ------
    TopologyError
        If two edges leave a vertex in exactly the same direction, so that their order round the
        vertex is not known.

    Notes
    -----
    O(E log E).  Edges must meet only at their ends; :func:`check_euler` tells crossings that
    change the count of faces.
    """
    n = len(planar.ends)
    start = planar.ends.reshape(-1)
    leave = np.empty(2 * n)
    for e, path in enumerate(planar.paths):
        leave[2 * e] = _departure(path)
        leave[2 * e + 1] = _departure(path[::-1])
    order = np.lexsort((leave, start))
    same = start[order[1:]] == start[order[:-1]]
    if np.any(same & (leave[order[1:]] == leave[order[:-1]])):
        raise TopologyError("Two seams leave a junction along the same way.", _ADVICE)
    before = np.empty(2 * n, dtype=np.intp)
    first = np.flatnonzero(np.concatenate([[True], ~same]))
    last = np.concatenate([first[1:], [2 * n]]) - 1
    before[order[1:]] = order[:-1]
    before[order[first]] = order[last]
    following = before[np.arange(2 * n) ^ 1]
    loop_of = np.full(2 * n, -1, dtype=np.intp)
    loops: list[tuple[int, ...]] = []
    for h in range(2 * n):
        if loop_of[h] >= 0:
            continue
        walk = []
        while loop_of[h] < 0:
            loop_of[h] = len(loops)
            walk.append(h)
            h = int(following[h])
        loops.append(tuple(walk))
    areas = np.array([signed_area(ring(planar, loop)) for loop in loops])
    # A walk out along a tree and back encloses nothing but rounding.
    areas[np.abs(areas) < 1e-12 * np.ptp(planar.xy, axis=0).max() ** 2] = 0.0
    return Faces(tuple(loops), areas, loop_of.reshape(-1, 2))


def _departure(path: Points) -> float:
    """Return the direction in which a path leaves its first point, radians."""
    d = path[1:] - path[0]
    moving = np.flatnonzero((d != 0).any(axis=1))
    if not len(moving):
        raise TopologyError("A seam has no length.", _ADVICE)
    dx, dy = d[moving[0]]
    return float(np.arctan2(dy, dx))


def ring(planar: PlanarMap, loop: Sequence[int]) -> Points:
    """Return the points (N, 2) of a walk, the first not repeated at the end."""
    parts = [
        planar.paths[h >> 1][:-1] if h % 2 == 0 else planar.paths[h >> 1][:0:-1] for h in loop
    ]
    return np.concatenate(parts)


def neighbours(found: Faces) -> dict[tuple[int, int], list[int]]:
    """Return which loops touch: (lesser, greater loop) → the edges between them.

    An edge with the same face on both sides (a dangling one) touches nothing.
    """
    out: dict[tuple[int, int], list[int]] = {}
    for e, (right, left) in enumerate(found.of.tolist()):
        if right != left:
            out.setdefault((min(right, left), max(right, left)), []).append(e)
    return out


def components(planar: PlanarMap) -> int:
    """Return how many connected pieces the map has; a vertex without edges is one."""
    parent = list(range(len(planar.xy)))

    def root(v: int) -> int:
        while parent[v] != v:
            parent[v] = parent[parent[v]]
            v = parent[v]
        return v

    for u, v in planar.ends.tolist():
        parent[root(u)] = root(v)
    return sum(root(v) == v for v in range(len(parent)))


def check_euler(planar: PlanarMap, found: Faces | None = None) -> int:
    """Return the number C of components after checking that V − E + F = C.

    Raises
    ------
    TopologyError
        If the count is wrong, which means that edges cross without a vertex.

    References
    ----------
    Euler's polyhedron formula for plane graphs with C components, the outside not counted.
    """
    found = found or faces(planar)
    c = components(planar)
    got = len(planar.xy) - len(planar.ends) + len(found.inner)
    if got != c:
        raise TopologyError(
            f"The seams do not close into patches (V − E + F is {got}, not {c}).", _ADVICE
        )
    return c


def polygons(planar: PlanarMap, found: Faces) -> list[Polygon]:
    """Return the faces as polygons without holes, in the order of ``found.inner``."""
    return [Polygon(ring(planar, found.loops[i])) for i in found.inner]


def tiles(rings: Sequence[Points], outline: Points, *, tolerance: float = 1e-9) -> bool:
    """Return whether rings made of shared edges tile the outline without overlap or gap.

    Parameters
    ----------
    rings : sequence of (N, 2)
        Faces of one map, walked in the positive direction.
    outline : (N, 2)
        Outer walk, reversed to be positive.
    tolerance : float
        Allowed difference of areas, as a share of the outline's.

    Notes
    -----
    Each simple ring winds once round its inside and never negatively.  Inner edges cancel, so
    the windings sum to the outline's, which is one inside: faces can neither overlap nor leave
    a gap.
    """
    every = [*rings, outline]
    which = np.repeat(np.arange(len(every)), [len(r) for r in every])
    loops = shapely.linearrings(np.concatenate(every), indices=which)
    if not shapely.is_simple(loops).all():
        return False
    areas = np.array([signed_area(r) for r in every])
    return bool((areas > 0).all() and abs(areas[:-1].sum() - areas[-1]) <= tolerance * areas[-1])
