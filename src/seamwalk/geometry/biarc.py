"""Smooth curves fitted by circular arcs that run on into one another.

A *biarc* is two arcs that share a tangent where they meet; it can be fitted to any two points with
tangents.  A smooth curve is cut into stretches, each replaced by a biarc with the curve's own ends
and tangents, so that the whole is tangent-continuous and its smallest radius is known.  Stretches
are as long as the tolerance allows: for one of length s along which the curvature changes at the
rate κ′, a biarc is off by κ′·s³/324.

References
----------
Bolton, Biarc curves, Computer-Aided Design 7(2), 1975, 89-92.  Meek and Walton, Approximating
smooth planar curves by arc splines, Journal of Computational and Applied Mathematics 59, 1995,
221-231 (the error is of the third order in the length).
"""

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import CHORD_TOLERANCE_IN, Arc, Curve, Line, Piece, Point
from seamwalk.geometry.projective import Points

Floats = NDArray[np.float64]
Trace = Callable[[Floats], tuple[Points, Floats]]
"""From parameters (N,) to points (N, 2) and directions of travel (N,), radians."""


@dataclass(frozen=True, slots=True)
class FitSettings:
    """How stretches are found."""

    samples: int = 16
    """Parts of a stretch between points that are compared; the error has a hump at a third of the
    way and one at two thirds."""
    first: int = 4
    """Stretches between two knots in the first try, from which the right lengths are guessed."""
    aim: float = 0.8
    """Guessed lengths aim at this share of the tolerance, so that few are cut again."""
    guesses: int = 4
    """Rounds of guessing; what is still off is halved."""
    most_turn_rad: float = 2 * math.pi / 3
    """No stretch turns by more: a biarc between directions further apart may take the long way."""
    most_halvings: int = 50
    """After this many halvings of one stretch nothing is left of it in double precision."""


DEFAULT = FitSettings()


def biarc(start: Point, start_rad: float, end: Point, end_rad: float) -> tuple[Piece, ...]:
    """Return the biarc between two points with given directions of travel.

    Of the one-parameter family the one whose two tangent legs are equally long.  Where one arc or
    one line serves, the two pieces lie on it.

    Parameters
    ----------
    start_rad, end_rad : float
        Directions, radians, x towards y; they differ by less than half a turn.

    Raises
    ------
    ValueError
        If the points are the same, or the directions are opposite.
    """
    vx, vy = end[0] - start[0], end[1] - start[1]
    chord2 = vx * vx + vy * vy
    ax, ay = math.cos(start_rad), math.sin(start_rad)
    bx, by = math.cos(end_rad), math.sin(end_rad)
    # With legs of length d the joint is half way between start + d·a and end − d·b, and those
    # two are 2·d apart: (2 − 2·a·b)·d² + 2·v·(a + b)·d − v·v = 0.
    qa = 2 * (1 - (ax * bx + ay * by))
    qb = vx * (ax + bx) + vy * (ay + by)
    root = math.sqrt(qb * qb + qa * chord2)
    if chord2 == 0 or qb + root <= 0:
        raise ValueError("a biarc needs two places and directions that are not opposite")
    d = chord2 / (qb + root)
    joint = (
        (start[0] + end[0] + d * (ax - bx)) / 2,
        (start[1] + end[1] + d * (ay - by)) / 2,
    )
    return _leaving(start, start_rad, joint), _leaving(end, end_rad + math.pi, joint).reversed()


def _leaving(start: Point, heading_rad: float, end: Point) -> Piece:
    """Return the arc that leaves `start` in a direction and ends at `end`."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    half = math.remainder(math.atan2(dy, dx) - heading_rad, 2 * math.pi)
    rise = -math.hypot(dx, dy) / 2 * math.tan(half / 2)
    return Line(start, end) if abs(rise) < 1e-12 else Arc.by_rise(start, end, rise)


def fitted(
    trace: Trace,
    knots: Sequence[float],
    tolerance: float = CHORD_TOLERANCE_IN,
    settings: FitSettings = DEFAULT,
) -> Curve:
    """Return tangent-continuous arcs within `tolerance` of a smooth curve.

    Parameters
    ----------
    trace : callable
        The curve: parameters (N,) to points (N, 2) and directions (N,), radians.
    knots : sequence of float
        Parameters that increase: first, last, and places in between where a piece must end, such
        as points of inflection.
    tolerance : float
        Greatest distance between curve and arcs, in the unit of the points.

    Raises
    ------
    ValueError
        If a stretch too short to be halved still turns by more than 120°, or has no
        place: the curve is not smooth there.

    Notes
    -----
    A blunter corner is rounded off within the tolerance, by an arc of a radius to match.
    """
    t = np.concatenate(
        [np.linspace(a, b, settings.first, endpoint=False) for a, b in itertools.pairwise(knots)]
        + [np.array([knots[-1]])]
    )
    t = _halved(trace, t, math.inf, settings)
    off, turn = _off(trace, t, settings)
    for _ in range(settings.guesses):
        load = np.maximum(
            (off / (settings.aim * tolerance)) ** (1 / 3), turn / settings.most_turn_rad
        )
        t = _evenly_loaded(t, load, knots)
        off, turn = _off(trace, t, settings)
        if off.max() <= tolerance:
            break
    t = _halved(trace, t, tolerance, settings)
    at, heading = trace(t)
    ends = list(zip(at.tolist(), heading.tolist(), strict=True))
    pieces = [
        piece
        for ((x0, y0), start), ((x1, y1), end) in itertools.pairwise(ends)
        for piece in biarc((x0, y0), start, (x1, y1), end)
    ]
    return Curve(_joined(pieces))


def _evenly_loaded(t: Floats, load: Floats, knots: Sequence[float]) -> Floats:
    """Return new ends of stretches, each between two knots, as many as the load asks for.

    Parameters
    ----------
    load : (N - 1,)
        For each stretch of `t`, into how many it should be cut: 1.5 for one and a half.
    """
    total = np.concatenate([[0.0], np.cumsum(load)])
    at_knot = np.interp(knots, t, total)
    parts = [
        np.linspace(a, b, max(1, math.ceil(b - a - 1e-9)), endpoint=False)
        for a, b in itertools.pairwise(at_knot.tolist())
    ]
    new: Floats = np.interp(np.concatenate([*parts, at_knot[-1:]]), total, t)
    starts = np.cumsum([0, *(len(p) for p in parts)])
    new[starts] = knots
    return new


def _halved(trace: Trace, t: Floats, tolerance: float, settings: FitSettings) -> Floats:
    """Return `t` with stretches halved until none is off by more or turns too far."""
    for _ in range(settings.most_halvings):
        off, turn = _off(trace, t, settings)
        bad = ~((off <= tolerance) & (turn <= settings.most_turn_rad))
        if not bad.any():
            return t
        t = np.sort(np.concatenate([t, ((t[:-1] + t[1:]) / 2)[bad]]))
    raise ValueError("the curve is not smooth")


def _off(trace: Trace, t: Floats, settings: FitSettings) -> tuple[Floats, Floats]:
    """Return how far the biarc of each stretch is off (N - 1,), and how far each turns.

    What turns by more than half a turn is off by infinity.
    """
    n = settings.samples
    share = np.linspace(0.0, 1.0, n + 1)
    every = t[:-1, None] + np.diff(t)[:, None] * share
    at, heading = trace(every.ravel())
    at, heading = at.reshape(*every.shape, 2), np.unwrap(heading.reshape(every.shape), axis=1)
    turn = np.abs(heading - heading[:, :1]).max(axis=1)
    chord = at[:, -1] - at[:, 0]
    a, b = _unit(heading[:, 0]), _unit(heading[:, -1])
    legs = (chord * (a + b)).sum(axis=1)
    length2 = (chord * chord).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        d = length2 / (legs + np.sqrt(legs**2 + 2 * (1 - (a * b).sum(axis=1)) * length2))
        joint = (at[:, 0] + at[:, -1] + d[:, None] * (a - b)) / 2
        along = chord - d[:, None] * (a + b)
        first = ((at - joint[:, None]) * along[:, None]).sum(axis=2) < 0
        gap = np.where(
            first,
            _beside(at, at[:, 0], a, joint),
            _beside(at, at[:, -1], -b, joint),
        ).max(axis=1)
    return np.where(turn < math.pi, gap, math.inf), turn


def _unit(heading: Floats) -> Floats:
    out: Floats = np.column_stack([np.cos(heading), np.sin(heading)])
    return out


def _beside(points: NDArray[np.float64], start: Points, way: Points, end: Points) -> Floats:
    """Return how far points (N, M, 2) are from the circles that leave in a direction for an end.

    Written with curvatures, so that a straight line is a circle like others.
    """
    chord = end - start
    across = way[:, 0] * chord[:, 1] - way[:, 1] * chord[:, 0]
    k = (2 * across / (chord * chord).sum(axis=1))[:, None]
    q = points - start[:, None]
    off = way[:, :1] * q[..., 1] - way[:, 1:] * q[..., 0]
    power = k * (q * q).sum(axis=2) - 2 * off
    out: Floats = np.abs(power) / (1 + np.sqrt(np.maximum(1 + k * power, 0.0)))
    return out


def _joined(pieces: list[Piece]) -> tuple[Piece, ...]:
    """Return the pieces with neighbours on one circle made one arc."""
    out: list[Piece] = []
    for piece in pieces:
        before = out[-1] if out else None
        if isinstance(piece, Arc) and isinstance(before, Arc) and _same_circle(before, piece):
            sweep = before.sweep_rad + piece.sweep_rad
            out[-1] = Arc(before.start, piece.end, before.centre, sweep)
        else:
            out.append(piece)
    return tuple(out)


def _same_circle(one: Arc, other: Arc) -> bool:
    """Return whether two arcs that follow one another lie on one circle, run the same way."""
    close = 1e-9 * one.radius
    return (
        math.dist(one.centre, other.centre) < close
        and one.sweep_rad * other.sweep_rad > 0
        and abs(one.sweep_rad + other.sweep_rad) < math.pi
    )
