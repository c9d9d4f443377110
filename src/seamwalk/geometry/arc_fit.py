"""Circles through points, arcs over a given chord, and arcs sampled finely enough to be drawn.

An arc whose ends are known has one number left, its sweep.  Seen from any of its points P, the
way from A over P to B turns by half the sweep (the inscribed angle), so that every point gives
the sweep by itself, and a point off the arc by δ changes it by 2·δ·AB / (PA·PB).

References
----------
Euclid, Elements III, 20 and 21 (inscribed angles); Kåsa, A circle fitting procedure and its error
analysis, IEEE Trans. Instrumentation and Measurement 25, 1976; Mikhail and Ackermann, Observations
and Least Squares, 1976 (weighted mean and its σ); Huber, Robust Statistics, 1981 (weights).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.curve import CHORD_TOLERANCE_IN, Arc, Point
from seamwalk.geometry.projective import Points

Floats = NDArray[np.float64]

MOST_TURN_DEG = 5.5
"""A sampled arc turns by no more than this at a point, degrees: from 8 on it would be a corner."""

HUBER = 1.5
"""Points off by more than this many σ count by their distance, not its square."""

ROUNDS = 4
"""Rounds of reweighting; more change nothing below a hundredth of σ."""


def arc_over(start: Point, end: Point, sweep_rad: float) -> Arc:
    """Return the arc from `start` to `end` that turns by `sweep_rad`, x towards y positive.

    Raises
    ------
    ValueError
        If the ends are one point or the sweep is 0.
    """
    return Arc.by_rise(start, end, -math.dist(start, end) / 2 * math.tan(sweep_rad / 4))


def sampled_steps(chord_in: float, sweep_rad: float) -> int:
    """Return into how many equal steps an arc is cut, so that its points show it.

    Chords stay within `CHORD_TOLERANCE_IN` of the arc, and no point turns by more than
    `MOST_TURN_DEG`.
    """
    sweep = abs(sweep_rad)
    radius = chord_in / 2 / math.sin(sweep / 2)
    flat = math.pi
    if radius > CHORD_TOLERANCE_IN:
        flat = 2 * math.acos(1 - CHORD_TOLERANCE_IN / radius)
    return max(2, math.ceil(sweep / min(flat, math.radians(MOST_TURN_DEG))))


def sampled_arc(start: Point, end: Point, sweep_rad: float, steps: int | None = None) -> Points:
    """Return points (steps + 1, 2) at equal distances along an arc, both ends exact."""
    arc = arc_over(start, end, sweep_rad)
    n = steps or sampled_steps(math.dist(start, end), sweep_rad)
    return np.array([arc.at(i / n) for i in range(n + 1)], dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Circle:
    """A circle fitted to points.

    Attributes
    ----------
    centre : (2,) float64
    radius : float
    scatter : float
        Root mean square distance of the points from it; far-off ones count less.
    """

    centre: Points
    radius: float
    scatter: float

    def nearest(self, points: ArrayLike) -> Points:
        """Return the points of the circle nearest to points (N, 2), none of them its centre."""
        way = np.asarray(points, dtype=np.float64) - self.centre
        out: Points = self.centre + self.radius * way / np.hypot(*way.T)[:, None]
        return out


def fitted_circle(points: ArrayLike) -> Circle:
    """Return the circle nearest to points (N, 2), N > 2, in the sense of robust least squares.

    Kåsa's circle, then steps of Gauss and Newton on the distances, with Huber's weights about
    their middle size.
    """
    given = np.asarray(points, dtype=np.float64)
    origin = given.mean(axis=0)
    p = given - origin
    z = (p * p).sum(axis=1)
    found = np.linalg.lstsq(np.column_stack([p, np.ones(len(p))]), z, rcond=None)[0]
    centre = found[:2] / 2
    radius = math.sqrt(max(float(found[2] + centre @ centre), 1e-12))
    for _ in range(2 * ROUNDS):
        way = p - centre
        distance = np.maximum(np.hypot(*way.T), 1e-12)
        rest = distance - radius
        usual = max(1.4826 * float(np.median(np.abs(rest))), 1e-9 * radius)
        weight = np.sqrt(np.minimum(1.0, HUBER * usual / np.maximum(np.abs(rest), 1e-300)))
        jacobian = np.column_stack([way / distance[:, None], np.ones(len(p))]) * weight[:, None]
        step = np.linalg.lstsq(jacobian, weight * rest, rcond=None)[0]
        centre, radius = centre + step[:2], radius + float(step[2])
    rest = np.hypot(*(p - centre).T) - radius
    scatter = math.sqrt(float((weight**2 * rest**2).sum() / (weight**2).sum()))
    return Circle(centre + origin, radius, scatter)


def fitted_sweep(
    points: ArrayLike, start: Point, end: Point, sigma: ArrayLike = 1.0
) -> tuple[float, float]:
    """Return the sweep of the arc from `start` to `end` through `points` (N, 2), and its σ.

    Parameters
    ----------
    sigma : float or (N,)
        Standard deviation of each point across the arc, in the unit of the points.  Where the
        points scatter more than that, the σ that comes back is as much larger.

    Returns
    -------
    sweep_rad, sigma_rad : float
        x towards y positive; the ends are taken as known.  σ is infinite where no point lies
        between the ends.
    """
    p = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    each, reach = _sweeps(p, start, end)
    use = reach > 1e-9
    if not use.any():
        return 0.0, math.inf
    each, reach = each[use], reach[use]
    own = np.broadcast_to(np.asarray(sigma, dtype=np.float64), use.shape)[use]
    base = (reach / own) ** 2
    weight = np.ones(len(each))
    sweep = _weighted_median(each, base)
    for _ in range(ROUNDS):
        off = np.abs((each - sweep) * reach / own)
        weight = np.minimum(1.0, HUBER / np.maximum(off, 1e-12))
        sweep = float((weight * base * each).sum() / (weight * base).sum())
    rest = weight * ((each - sweep) * reach / own) ** 2
    spread = max(1.0, float(rest.sum()) / max(len(each) - 1, 1))
    return sweep, math.sqrt(spread / float((weight * base).sum()))


def off_arc(points: ArrayLike, start: Point, end: Point, sweep_rad: float) -> Floats:
    """Return how far points (N, 2) lie off an arc, signed, in their unit, to first order."""
    each, reach = _sweeps(np.asarray(points, dtype=np.float64).reshape(-1, 2), start, end)
    out: Floats = (each - sweep_rad) * reach
    return out


def _sweeps(p: Points, start: Point, end: Point) -> tuple[Floats, Floats]:
    """Return the sweep that each point gives, and by how much 1 rad of it moves the arc there."""
    a, b = p - np.asarray(start), np.asarray(end) - p
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    reach = np.hypot(*a.T) * np.hypot(*b.T) / (2 * max(math.dist(start, end), 1e-12))
    return 2 * turn, reach


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order[int(np.searchsorted(total, total[-1] / 2))]])
