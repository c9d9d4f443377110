"""Whether a boundary is a circular arc: curved piecing told from straight seams that pucker.

A chain of cracks is cut into pieces, straight or circular, by dynamic programming, as
:mod:`piecing_chains` does with straight ones alone.  Each piece has a price in px², an arc that of
two lines, so that a corner stays one; an arc must also turn so far as no pucker does, and
bow several times further than the straight seams of the same top.

References
----------
Bellman, On the approximation of curves by line segments using dynamic programming,
Communications of the ACM 4(6), 1961; Kåsa, A circle fitting procedure and its error analysis,
IEEE Trans. Instrumentation and Measurement 25, 1976; Schwarz, Estimating the dimension of a model,
Annals of Statistics 6, 1978 (prices in proportion to the numbers fitted).
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.arc_fit import Circle, fitted_circle, sampled_steps
from seamwalk.geometry.projective import Points
from seamwalk.vision.piecing_chains import (
    ChainSettings,
    Course,
    knots_of,
    line_misfit,
    running_sums,
)
from seamwalk.vision.piecing_cracks import Chain

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class ArcSettings:
    """When a boundary is taken for an arc."""

    least_turn_deg: float = 22.0
    """No arc turns by less, degrees: its rise is then 1/21 of its chord, over an inch on a 24 in
    border, 1/4 in on a 5 in side; seams meant straight bow by far less than that."""
    most_turn_deg: float = 200.0
    """Nor by more: half circles are the roundest seams in piecing."""
    least_rise_px: float = 1.6
    """Nor does one rise by less: the label map rounds corners by a pixel."""
    dearer: float = 2.0
    """Price of an arc in prices of a line: it must explain the cracks better than two lines that
    meet in a corner, which the label map rounds."""
    least_radius_in: float = 1.0
    """Tighter curves are not pieced by machine, inches (common practice, no source)."""
    scatter_px: float = 1.0
    """Cracks scatter less than this about an arc, else it is something else that bends."""
    straight_bows: float = 5.0
    """An arc's rise over chord is at least this many times the usual one of straight chains of
    the same top (robust σ)."""
    telling_in: float = 2.0
    """Straight chains longer than this tell what is usual, inches."""
    least_telling: int = 8
    """Fewer of them tell nothing."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One piece of a chain: cracks `first` to `last`, and whether they lie on an arc."""

    first: int
    last: int
    arc: bool


def with_arcs(
    chains: Sequence[Chain],
    courses: list[Course],
    px_per_in: float,
    settings: ArcSettings | None = None,
) -> list[Course]:
    """Return the courses, those of chains between two patches with their arcs as arcs.

    Parameters
    ----------
    courses : list of Course
        Of the chains, drawn straight or as smooth bends.
    """
    s = settings or ArcSettings()
    curved = {
        c: found
        for c, chain in enumerate(chains)
        if chain.left
        and chain.right
        and (found := _curved(chain.middles_px, chain.corners_px, px_per_in, s)) is not None
    }
    if not curved:
        return courses
    bows = [
        _bow(chain.middles_px)
        for c, chain in enumerate(chains)
        if c not in curved
        and len(courses[c].nodes_px) == 2
        and math.dist(chain.corners_px[0], chain.corners_px[-1]) > s.telling_in * px_per_in
    ]
    usual = 1.4826 * float(np.median(bows)) if len(bows) >= s.least_telling else 0.0
    return [
        curved[c] if c in curved and _stands_out(curved[c], s.straight_bows * usual) else old
        for c, old in enumerate(courses)
    ]


def _bow(points: Points) -> float:
    """Return how far the middle of a chain lies off its chord, as a share of the chord."""
    way = points[-1] - points[0]
    off = points[len(points) // 2] - points[0]
    return abs(float(way[0] * off[1] - way[1] * off[0])) / max(float(way @ way), 1e-9)


def _stands_out(course: Course, least: float) -> bool:
    """Return whether every arc of a course bows by more than `least` of its chord."""
    return all(_bow(course.nodes_px[i : j + 1]) > least for i, j in course.arcs)


def _curved(
    middles: Points, corners_px: Points, px_per_in: float, settings: ArcSettings
) -> Course | None:
    """Return the course of a chain with an arc in it, None if it has none."""
    how = ChainSettings()
    n = len(middles)
    skip, shortest = how.skipped(n), how.shortest(px_per_in)
    knots = knots_of(n, skip, shortest, how.most_knots)
    if len(knots) < 4:
        return None
    ends = running_sums(middles)[knots[[0, -1]]]
    bent = float(line_misfit(ends[1] - ends[0]))
    # Nearly all chains are straight, and the price takes time to find.
    if bent < settings.dearer * how.gain_px2:
        return None
    price = how.price(middles)
    if bent < settings.dearer * price:
        return None
    found = stretches(middles, knots, shortest, price, settings)
    if not any(part.arc for part in found):
        return None
    found[0] = replace(found[0], first=0)
    found[-1] = replace(found[-1], last=n)
    xy, corner, at = [corners_px[0]], [True], [0]
    arcs: list[tuple[int, int]] = []
    for k, part in enumerate(found):
        begin = len(xy) - 1
        a = part.first + (skip if k == 0 else 1)
        b = part.last - (skip if k == len(found) - 1 else 1)
        if part.arc:
            circle = fitted_circle(middles[a:b])
            points, places = along_circle(middles, part.first, part.last, circle, px_per_in)
            xy.extend(points)
            corner.extend([False] * len(points))
            at.extend(places.tolist())
            arcs.append((begin, len(xy)))
        last = k == len(found) - 1
        xy.append(corners_px[-1] if last else middles[part.last])
        corner.append(True)
        at.append(part.last)
    breaks = np.maximum.accumulate(np.array(at, dtype=np.intp))
    return Course(np.array(xy), np.array(corner), breaks, tuple(arcs))


def stretches(
    middles: Points, knots: Indices, shortest: float, price: float, settings: ArcSettings
) -> list[Stretch]:
    """Return the pieces, straight or circular, that explain a chain best for their price.

    Parameters
    ----------
    middles : (N, 2) float64
        Middles of the cracks.
    knots : (M,) int
        Cracks at which a piece may end, both outermost included.
    shortest : float
        No piece has fewer cracks.
    price : float
        Of one straight piece, px².
    """
    m = len(knots) - 1
    line, arc = _misfits(middles, knots)
    length = knots[None, :] - knots[:, None]
    line[length < shortest] = np.inf
    arc[~_may_be_arcs(middles, knots, settings) | (length < 3 * shortest)] = np.inf
    arc[arc > settings.scatter_px**2 * np.maximum(length, 1)] = np.inf
    cost = np.minimum(line + price, arc + settings.dearer * price)
    is_arc = arc + settings.dearer * price < line + price
    best = np.full(m + 1, np.inf)
    best[0] = 0.0
    came = np.zeros(m + 1, dtype=np.intp)
    for j in range(1, m + 1):
        total = best[:j] + cost[:j, j]
        came[j] = int(np.argmin(total))
        best[j] = total[came[j]]
    if not np.isfinite(best[m]):
        return [Stretch(int(knots[0]), int(knots[-1]), False)]
    chosen = [m]
    while chosen[-1]:
        chosen.append(int(came[chosen[-1]]))
    return [
        Stretch(int(knots[i]), int(knots[j]), bool(is_arc[i, j]))
        for i, j in itertools.pairwise(chosen[::-1])
    ]


def _misfits(middles: Points, knots: Indices) -> tuple[Floats, Floats]:
    """Return sums of squared distances from the best line and the best circle, (M, M), px².

    Only pairs i < j mean anything.  The circle is Kåsa's, its algebraic misfit divided by 4 r².
    """
    centre = middles.mean(axis=0)
    size = max(float(np.abs(middles - centre).max()), 1.0)
    x, y = ((middles - centre) / size).T
    z = x * x + y * y
    one = np.ones_like(x)
    terms = np.column_stack([one, x, y, x * x, x * y, y * y, z, x * z, y * z, z * z])
    sums = np.concatenate([np.zeros((1, 10)), np.cumsum(terms, axis=0)])[knots]
    n, sx, sy, sxx, sxy, syy, sz, sxz, syz, szz = np.moveaxis(sums[None] - sums[:, None], -1, 0)
    n = np.where(n > 0, n, 1.0)
    a, b, c = sxx - sx * sx / n, sxy - sx * sy / n, syy - sy * sy / n
    line = np.maximum((a + c) / 2 - np.hypot((a - c) / 2, b), 0.0) * size**2
    matrix = np.stack(
        [np.stack([sxx, sxy, sx], -1), np.stack([sxy, syy, sy], -1), np.stack([sx, sy, n], -1)], -2
    )
    # Cracks in one row leave the circle open: hardly weighted, it stays a very large one.
    matrix = matrix + 1e-9 * np.abs(n)[..., None, None] * np.eye(3)
    right = np.stack([sxz, syz, sz], -1)
    found = np.linalg.solve(matrix, -right[..., None])[..., 0]
    algebraic = np.maximum(szz + (found * right).sum(axis=-1), 0.0)
    radius2 = np.maximum((found[..., 0] ** 2 + found[..., 1] ** 2) / 4 - found[..., 2], 1e-12)
    arc: Floats = algebraic / (4 * radius2) * size**2
    return line, arc


def _may_be_arcs(middles: Points, knots: Indices, s: ArcSettings) -> NDArray[np.bool_]:
    """Return between which knots a chain turns and rises as an arc must, (M, M)."""
    at = np.minimum(knots, len(middles) - 1)
    i, j = at[:, None], at[None, :]
    first, last = middles[i], middles[j]
    middle = middles[(i + j) // 2]
    a, b = middle - first, last - middle
    turn = np.abs(np.arctan2(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0], (a * b).sum(axis=-1)))
    chord = np.hypot(*np.moveaxis(last - first, -1, 0))
    rise = chord / 2 * np.tan(turn / 2)
    out: NDArray[np.bool_] = (
        (2 * turn >= np.radians(s.least_turn_deg))
        & (2 * turn <= np.radians(s.most_turn_deg))
        & (rise >= s.least_rise_px)
    )
    return out


def along_circle(
    middles: Points, first: int, last: int, circle: Circle, px_per_in: float
) -> tuple[Points, Indices]:
    """Return inner points (K, 2) of an arc from crack `first` to `last`, and the crack at each."""
    way = middles[first:last] - circle.centre
    angle = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))
    sweep = float(angle[-1] - angle[0])
    chord_in = 2 * circle.radius * abs(math.sin(sweep / 2)) / px_per_in
    steps = sampled_steps(chord_in, sweep)
    at = angle[0] + sweep * np.arange(1, steps) / steps
    points = circle.centre + circle.radius * np.column_stack([np.cos(at), np.sin(at)])
    sign = math.copysign(1.0, sweep)
    places = np.searchsorted(np.maximum.accumulate(sign * angle), sign * at)
    return points, first + np.clip(places, 1, len(way) - 1)
