"""The raw edge of a bare top: 1/4 in of seam allowance outside the finished size.

Where a patch ends on the outer edge, its cloth runs on into the allowance; a patch that only
touches the edge with a point ends there, and one seam runs on from the point to the raw edge.
Which one: a seam square to the edge if there is one, as blocks are joined by it last, else the
first in order round the point, as rows on point are joined.
"""

import math
from collections import defaultdict

from seamwalk.scenes.designs.pattern import Pattern, Point
from seamwalk.scenes.planar_map import Piece, joined
from seamwalk.trade import SEAM_ALLOWANCE_IN

SQUARE_TO_EDGE = math.cos(math.radians(1.0))
"""A seam counts as square to the edge within 1°: designs are exact, so any small angle does."""


def with_allowance(pattern: Pattern, allowance_in: float = SEAM_ALLOWANCE_IN) -> Pattern:
    """Return the pattern as it lies on the floor: outer patches longer by the allowance.

    A trimmed pattern has no allowance to show and comes back as it is.

    Parameters
    ----------
    pattern : Pattern
        Finished sizes, outline 0, 0 to width, height.
    allowance_in : float
        Inches.
    """
    if pattern.trimmed or allowance_in == 0:
        return pattern
    planar = joined(pattern.pieces)
    w, h = pattern.width_in, pattern.height_in
    xy = [_tidy((float(x), float(y)), w, h) for x, y in planar.at]
    inward = defaultdict[int, list[Point]](list)
    for (a, b), (left, right) in planar.edges.items():
        if left is not None and right is not None:
            for s, t in ((a, b), (b, a)):
                if _sides(xy[s], w, h):
                    n = math.dist(xy[s], xy[t])
                    way = ((xy[t][0] - xy[s][0]) / n, (xy[t][1] - xy[s][1]) / n)
                    inward[s].append(way)
    out = {
        j: _raw(xy[j], inward.get(j, []), w, h, allowance_in)
        for j in range(len(xy))
        if _sides(xy[j], w, h)
    }
    pieces: list[Piece] = []
    for ring, role in zip(planar.rings, planar.fabrics, strict=True):
        pieces.append(Piece(_grown(ring, xy, out, w, h, allowance_in), role))
    m = allowance_in
    shifted = tuple(Piece(tuple((x + m, y + m) for x, y in p.corners), p.role) for p in pieces)
    return Pattern(shifted, w + 2 * m, h + 2 * m)


def _grown(
    ring: tuple[int, ...],
    xy: list[Point],
    out: dict[int, Point],
    w: float,
    h: float,
    allowance_in: float,
) -> tuple[Point, ...]:
    """Return the patch with its outer sides moved out."""
    n = len(ring)
    outer = [
        bool(_sides(xy[ring[k]], w, h) & _sides(xy[ring[(k + 1) % n]], w, h)) for k in range(n)
    ]
    points: list[Point] = []
    for k, j in enumerate(ring):
        before, after = outer[k - 1], outer[k]
        if before and after:
            # Inside an outer side, or the top's own corner: the finished point is no junction.
            points.append(out[j])
        elif after:
            points += [xy[j], out[j]]
        elif before:
            points += [out[j], xy[j]]
        else:
            points.append(xy[j])
    return tuple(points)


def _raw(at: Point, inward: list[Point], w: float, h: float, allowance_in: float) -> Point:
    """Return the point of the raw edge that belongs to the point `at` of the finished edge."""
    sides = _sides(at, w, h)
    nx = -1.0 * ("left" in sides) + 1.0 * ("right" in sides)
    ny = -1.0 * ("top" in sides) + 1.0 * ("bottom" in sides)
    if len(sides) == 2 or not inward:
        return (at[0] + nx * allowance_in, at[1] + ny * allowance_in)
    square = [u for u in inward if -(u[0] * nx + u[1] * ny) > SQUARE_TO_EDGE]
    ux, uy = (square or sorted(inward))[0]
    step = allowance_in / -(ux * nx + uy * ny)
    return (at[0] - ux * step, at[1] - uy * step)


def _sides(p: Point, w: float, h: float) -> frozenset[str]:
    """Return which outer sides the point lies on."""
    return frozenset(
        name
        for name, on in (
            ("left", p[0] == 0),
            ("right", p[0] == w),
            ("top", p[1] == 0),
            ("bottom", p[1] == h),
        )
        if on
    )


def _tidy(p: Point, w: float, h: float) -> Point:
    """Return the point with coordinates next to the outline put exactly on it."""

    def near(v: float, end: float) -> float:
        return 0.0 if abs(v) < 1e-6 else end if abs(v - end) < 1e-6 else v

    return (near(p[0], w), near(p[1], h))
