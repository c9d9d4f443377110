"""Part shapes: patches that the edge of the top cuts out of a larger shape.

A setting triangle is half of a square, a corner triangle a quarter of one, a trimmed hexagon half
of a hexagon.  Such a patch gets its motif as if it were whole, cut at the binding line.  What the
whole is can be known when the patch does not stand whole elsewhere in the top, but does so
together with its mirror image over the cut, or over both cuts at a corner of the top.  Where it
can't be known, a corner on the binding line counts as it stands.

The cut is the binding line on a bare top, whose seam allowance lies outside; a trimmed top was
cut at its raw edge, and there every patch at the edge loses 1/4 in to the binding.
"""

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from seamwalk.geometry.curve import Point
from seamwalk.model.top import PatchId
from seamwalk.motifs.outlines import Outline, Side, angles

ALIKE_IN = 0.25
"""Sides of equal shapes differ by less than this, inches: what can be eased in."""

ALIKE_RAD = math.radians(8)
"""Angles of equal shapes differ by less than this."""

CRUMB_IN = 0.35
"""A shorter side at the edge is a point that missed the binding line by a hair, inches: a seam
allowance that runs on at 45°."""

BESIDE_IN = 0.1
"""A side whose ends lie this close to a line is taken to lie along it, inches: three times a good
piecer's 1/32."""


Corners = list[Point]


def with_wholes(
    outlines: dict[PatchId, Outline], bases: dict[PatchId, Outline], cut: Polygon
) -> dict[PatchId, Outline]:
    """Return the outlines with the sides of part shapes run on as in the whole shape.

    Parameters
    ----------
    outlines : dict
        Finished outlines.
    bases : dict
        Outlines up to the cut of the patches that reach it.
    cut : Polygon
        Inside of the line that cut the patches.
    """
    shapes = Shapes(o for p, o in outlines.items() if p not in bases)
    out = dict(outlines)
    for patch, base in bases.items():
        if patch in outlines:
            at = _without_crumbs([s.start for s in base.sides], cut)
            whole = _completed(at, shapes, cut)
            if whole is not None:
                out[patch] = _as_in(outlines[patch], whole, part=True)
            elif len(at) >= 3:
                out[patch] = _as_in(outlines[patch], at, part=False)
    return out


class Shapes:
    """The shapes that stand whole in a top, to look others up by congruence."""

    def __init__(self, outlines: Iterable[Outline]) -> None:
        rows: dict[int, list[NDArray[np.float64]]] = {}
        for outline in outlines:
            at = [s.start for s in outline.sides]
            rows.setdefault(len(at), []).append(_signature(at))
        self._by_corners = {n: np.array(found) for n, found in rows.items()}

    def stands(self, at: Corners) -> bool:
        """Return True if a shape like the one with corners `at` stands whole in the top."""
        n = len(at)
        if n not in self._by_corners:
            return False
        gap = np.abs(self._by_corners[n] - _signature(at))
        alike = (gap[:, :n] < ALIKE_IN).all(axis=1) & (gap[:, n:] < ALIKE_RAD).all(axis=1)
        return bool(alike.any())


def _signature(at: Corners) -> NDArray[np.float64]:
    """Return sorted side lengths (inches), then sorted inner angles (rad), (2N,)."""
    n = len(at)
    return np.array(sorted(math.dist(at[k - 1], at[k]) for k in range(n)) + sorted(angles(at)))


def _completed(at: Corners, shapes: Shapes, cut: Polygon) -> Corners | None:
    """Return the corners of the whole shape that the corners `at` are known to be part of."""
    n = len(at)
    if n < 3 or _is_rectangle(at) or shapes.stands(at):
        return None
    along = _along(at, cut)
    if len(along) == 1:
        whole = _unfolded(_from(at, along[0] + 1))
    elif len(along) == 2 and (along[1] - along[0]) % n in (1, n - 1):
        second = along[1] if (along[0] + 1) % n == along[1] else along[0]
        # Over the second cut first: the top's own corner becomes a place on a straight side.
        half = _unfolded(_from(at, second + 1))
        del half[n - 1]
        whole = _unfolded(_from(half, n - 1))
    else:
        return None
    whole = _straightened(whole)
    return whole if len(whole) >= 3 and shapes.stands(whole) else None


def _from(at: Corners, first: int) -> Corners:
    """Return the cycle of corners begun at another one."""
    k = first % len(at)
    return at[k:] + at[:k]


def _unfolded(at: Corners) -> Corners:
    """Return the corners with their mirror image over the side from the last to the first."""
    return at + [_mirrored(p, at[-1], at[0]) for p in reversed(at[1:-1])]


def _mirrored(p: Point, a: Point, b: Point) -> Point:
    """Return `p` mirrored over the line through `a` and `b`."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    t = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)
    return (2 * (a[0] + t * dx) - p[0], 2 * (a[1] + t * dy) - p[1])


def _straightened(at: Corners) -> Corners:
    """Return the corners without those where the outline runs straight on."""
    return [p for p, a in zip(at, angles(at), strict=True) if abs(a - math.pi) > ALIKE_RAD]


def _is_rectangle(at: Corners) -> bool:
    """Return True for four right angles: blocks and borders at the edge stand by themselves."""
    return len(at) == 4 and all(abs(a - math.pi / 2) < ALIKE_RAD for a in angles(at))


def _on(at: Corners, cut: Polygon) -> list[bool]:
    gap = shapely.distance(cut.exterior, shapely.points(at))
    return [bool(d < BESIDE_IN) for d in gap]


def _along(at: Corners, cut: Polygon) -> list[int]:
    """Return which sides run along the cut."""
    on = _on(at, cut)
    n = len(at)
    middles = [
        ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2) for p, q in zip(at, at[1:] + at[:1], strict=True)
    ]
    bow = shapely.distance(cut.exterior, shapely.points(middles))
    return [k for k in range(n) if on[k] and on[(k + 1) % n] and bow[k] < BESIDE_IN]


def _without_crumbs(at: Corners, cut: Polygon) -> Corners:
    """Return the corners with very short sides at the cut drawn together, onto the cut."""
    on = _on(at, cut)
    n = len(at)
    out = list(at)
    drop: set[int] = set()
    for k in range(n):
        i = (k + 1) % n
        if math.dist(at[k], at[i]) < CRUMB_IN and (on[k] or on[i]):
            if on[k] and on[i]:
                out[k] = ((at[k][0] + at[i][0]) / 2, (at[k][1] + at[i][1]) / 2)
            drop.add(i if on[k] else k)
    return [p for k, p in enumerate(out) if k not in drop]


def _as_in(outline: Outline, whole: Corners, *, part: bool) -> Outline:
    """Return the outline with its sides run on as in the shape with corners `whole`."""
    n = len(whole)
    inner = angles(whole)
    sides = list(outline.sides)
    for i, side in enumerate(sides):
        if side.on_binding or side.length_in < CRUMB_IN:
            continue
        for k in range(n):
            a, b = whole[k], whole[(k + 1) % n]
            if _lies_along(side, a, b):
                sides[i] = _run_on(side, (a, b), (inner[k], inner[(k + 1) % n]), part)
                break
    middle = Polygon(whole).centroid
    return replace(outline, sides=tuple(sides), centre=(middle.x, middle.y), part=part)


def _lies_along(side: Side, a: Point, b: Point) -> bool:
    length = math.dist(a, b)
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    for p in (side.start, side.end):
        along = (p[0] - a[0]) * ux + (p[1] - a[1]) * uy
        across = (p[1] - a[1]) * ux - (p[0] - a[0]) * uy
        if abs(across) > BESIDE_IN or not -CRUMB_IN < along < length + CRUMB_IN:
            return False
    return (side.end[0] - side.start[0]) * ux + (side.end[1] - side.start[1]) * uy > 0


def _run_on(side: Side, ends: tuple[Point, Point], inner: tuple[float, float], part: bool) -> Side:
    """Return the side with the whole shape's angles, and ends where it goes on past the cut."""
    goes_on = (
        side.start_cut and math.dist(ends[0], side.end) > side.length_in + BESIDE_IN,
        side.end_cut and math.dist(side.start, ends[1]) > side.length_in + BESIDE_IN,
    )
    return replace(
        side,
        start_rad=inner[0],
        end_rad=inner[1],
        whole=(
            ends[0] if goes_on[0] else side.start,
            ends[1] if goes_on[1] else side.end,
        ),
        start_open=side.start_cut and (part or goes_on[0]),
        end_open=side.end_cut and (part or goes_on[1]),
    )
