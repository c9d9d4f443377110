"""The raw edge of a bare top: 1/4 in of seam allowance outside the finished size.

Where a patch ends on the outer edge, its cloth runs on into the allowance; a patch that only
touches the edge with a point ends there, and one seam runs on from the point to the raw edge.
Which one: a seam square to the edge if there is one, as blocks are joined by it last, else the
first in order round the point, as rows on point are joined.  A curved seam runs on along its own
circle.
"""

import math
from collections import defaultdict
from collections.abc import Container

from seamwalk.geometry.arc_fit import arc_over
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
    more: dict[int, float] = {}
    for (a, b), sweep in planar.sweeps.items():
        if _sides(xy[a], w, h):
            out[a], more[a] = _on_circle(xy[a], xy[b], sweep, _outwards(xy[a], w, h), allowance_in)
    pieces: list[Piece] = []
    for ring, role in zip(planar.rings, planar.fabrics, strict=True):
        grown = _grown(ring, xy, out, more, w, h)
        ways = zip((j for j, _ in grown), (j for j, _ in (*grown[1:], grown[0])), strict=True)
        sweeps = tuple(
            s + math.copysign(more.get(i, 0.0) + more.get(j, 0.0), s) if s else 0.0
            for i, j in ways
            for s in (planar.sweeps.get((i, j), 0.0),)
        )
        pieces.append(Piece(tuple(p for _, p in grown), role, sweeps if any(sweeps) else ()))
    m = allowance_in
    shifted = tuple(
        Piece(tuple((x + m, y + m) for x, y in p.corners), p.role, p.sweeps) for p in pieces
    )
    return Pattern(shifted, w + 2 * m, h + 2 * m)


def _grown(
    ring: tuple[int, ...],
    xy: list[Point],
    out: dict[int, Point],
    run_on: Container[int],
    w: float,
    h: float,
) -> list[tuple[int, Point]]:
    """Return the patch with its outer sides moved out: each point and the junction it is of.

    At junctions of `run_on` a curved seam ends, whose one circle goes on to the raw edge.
    """
    n = len(ring)
    outer = [
        bool(_sides(xy[ring[k]], w, h) & _sides(xy[ring[(k + 1) % n]], w, h)) for k in range(n)
    ]
    points: list[tuple[int, Point]] = []
    for k, j in enumerate(ring):
        before, after = outer[k - 1], outer[k]
        if (before and after) or j in run_on:
            # Inside an outer side, or the top's own corner: the finished point is no junction.
            points.append((j, out[j]))
        elif after:
            points += [(j, xy[j]), (j, out[j])]
        elif before:
            points += [(j, out[j]), (j, xy[j])]
        else:
            points.append((j, xy[j]))
    return points


def _raw(at: Point, inward: list[Point], w: float, h: float, allowance_in: float) -> Point:
    """Return the point of the raw edge that belongs to the point `at` of the finished edge."""
    sides = _sides(at, w, h)
    nx, ny = _outwards(at, w, h)
    if len(sides) == 2 or not inward:
        return (at[0] + nx * allowance_in, at[1] + ny * allowance_in)
    square = [u for u in inward if -(u[0] * nx + u[1] * ny) > SQUARE_TO_EDGE]
    ux, uy = (square or sorted(inward))[0]
    step = allowance_in / -(ux * nx + uy * ny)
    return (at[0] - ux * step, at[1] - uy * step)


def _on_circle(
    at: Point, other: Point, sweep_rad: float, outwards: Point, allowance_in: float
) -> tuple[Point, float]:
    """Return where the arc from `at` to `other` meets the raw edge when its circle runs on.

    Returns
    -------
    point : (x, y)
    more_rad : float
        By how much more the arc turns from there.
    """
    arc = arc_over(at, other, sweep_rad)
    cx, cy = arc.centre
    nx, ny = outwards
    height = (at[0] - cx) * nx + (at[1] - cy) * ny
    # The angle of the radius against the edge's normal, before and after.
    before = math.acos(max(-1.0, min(1.0, height / arc.radius)))
    after = math.acos(max(-1.0, min(1.0, (height + allowance_in) / arc.radius)))
    more = before - after
    return arc.at(-more / abs(arc.sweep_rad)), more


def _outwards(p: Point, w: float, h: float) -> Point:
    """Return the way out of the top at a point of the finished edge; (±1, ±1) at a corner."""
    sides = _sides(p, w, h)
    return (
        -1.0 * ("left" in sides) + 1.0 * ("right" in sides),
        -1.0 * ("top" in sides) + 1.0 * ("bottom" in sides),
    )


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
