"""What the path may travel on: the ditches, and a ring in the margin with tails to it.

The margin between raw edge and binding line vanishes under the binding, so a thread may start and
stop there without burying.  A ring runs round half way in it.  Wherever a ditch or a motif meets
the binding line, a short tail joins that place straight to the ring; the ring is split at the
tails.  So every place on the binding line is the end of a piece in the margin.
"""

from collections.abc import Iterable
from itertools import pairwise

import numpy as np
import shapely

from seamwalk.geometry.clip import SAME_PLACE_IN
from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.motifs.area import Area
from seamwalk.motifs.ditch import ditch_strokes

REACH_IN = 1 / 16
"""A place this close inside the binding line counts as on it, inches: a block's point that misses
the line by a hair should not need a stitch of ditch to get to the margin."""


def ground(area: Area, *, ends: Iterable[Point] = ()) -> tuple[Stroke, ...]:
    """Return all strokes for travel: ditches, tails, and the ring in the margin.

    Parameters
    ----------
    area : Area
        The top inside its binding line.
    ends : iterable of Point
        Ends of motif strokes; those at the binding line get tails too.

    Returns
    -------
    tuple of Stroke
        None is required.  Ends that meet are equal to the last bit.
    """
    ditches = tuple(d for seam in area.ditches for d in ditch_strokes(area, seam))
    places = dict.fromkeys(q for d in ditches for q in (d.curve.start, d.curve.end))
    places.update(dict.fromkeys(ends))
    return ditches + _margin(area, on_binding(area, places))


def on_binding(area: Area, places: Iterable[Point]) -> list[Point]:
    """Return those of `places` that lie on the binding line or all but touch it, in order."""
    points = list(places)
    if not points:
        return []
    gap = shapely.distance(area.binding.exterior, shapely.points(points))
    return [p for p, d in zip(points, gap, strict=True) if d < REACH_IN]


def _margin(area: Area, places: list[Point]) -> tuple[Stroke, ...]:
    """Return tails from `places` to the ring and the ring's parts between them."""
    ring = area.margin.exterior
    along = shapely.line_locate_point(ring, shapely.points(places)) if places else np.zeros(0)
    order = np.argsort(along, kind="stable")
    feet: list[tuple[float, Point]] = []
    tails: list[Stroke] = []
    for number, k in enumerate(order, start=1):
        s = float(along[k])
        if not feet or s - feet[-1][0] > SAME_PLACE_IN:
            foot = ring.interpolate(s)
            feet.append((s, (foot.x, foot.y)))
        tails.append(_edge(f"tail-{number}", [places[k], feet[-1][1]]))
    vertices = np.asarray(ring.coords, dtype=np.float64)
    steps = np.hypot(*np.diff(vertices, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(steps)])
    total = float(at[-1])
    corners = [(float(s), (float(x), float(y))) for s, (x, y) in zip(at, vertices, strict=True)]
    if not feet:
        return (_edge("margin-1", [p for _, p in corners]),)
    parts: list[Stroke] = []
    round_again = [*feet, (feet[0][0] + total, feet[0][1])]
    twice = corners + [(s + total, p) for s, p in corners[1:]]
    first = 0
    for number, ((s0, p0), (s1, p1)) in enumerate(pairwise(round_again), start=1):
        while twice[first][0] <= s0 + SAME_PLACE_IN:
            first += 1
        last = first
        while last < len(twice) and twice[last][0] < s1 - SAME_PLACE_IN:
            last += 1
        parts.append(_edge(f"margin-{number}", [p0, *(p for _, p in twice[first:last]), p1]))
        first = last - 1 if last > first else first
    return tuple(tails + parts)


def _edge(name: str, points: list[Point]) -> Stroke:
    return Stroke(StrokeId(name), Curve.through(points), "edge", required=False)
