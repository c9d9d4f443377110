"""The legs of a route as they are sewn: which way each runs, and what it is for."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import Arc, Curve, Point
from seamwalk.geometry.projective import Points
from seamwalk.model.route import Leg, Network, Route

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ROUND_SHARE = 0.5
"""A piece whose ends are nearer than this share of its length goes round, not along."""

PART_DEG = 90.0
"""Arcs of pieces that go round are looked at in parts of at most this sweep."""


@dataclass(frozen=True, slots=True, eq=False)
class Legs:
    """All legs in the order of sewing, N of them.

    Attributes
    ----------
    curves : list of Curve
        As they are sewn.
    start : (N,) bool
        A thread starts here.
    first : (N,) bool
        A required piece that has not been sewn before; all else is travel.
    along : (N,) bool
        It has a direction; else it goes round.
    length : (N,)
    heading : (N,)
        From end to end, radians.
    middle : (N, 2)
        Half way between its ends; of what goes round, between its start and the place opposite.
    """

    curves: list[Curve]
    start: Bools
    first: Bools
    along: Bools
    length: Floats
    heading: Floats
    middle: Points


def legs_of(route: Route) -> Legs:
    """Return the legs of `route`."""
    legs = [leg for thread in route.threads for leg in thread.legs]
    curves = [_sewn(route.network, leg) for leg in legs]
    seen: set[str] = set()
    first = []
    for leg in legs:
        stroke = route.network.pieces[leg.piece].stroke
        first.append(stroke.required and leg.piece not in seen)
        seen.add(leg.piece)
    start = np.array([c.start for c in curves], dtype=np.float64)
    end = np.array([c.end for c in curves], dtype=np.float64)
    length = np.array([c.length for c in curves])
    along = np.hypot(*(end - start).T) >= ROUND_SHARE * length
    opposite = np.array([c.end if a else half_way(c) for c, a in zip(curves, along, strict=True)])
    return Legs(
        curves=curves,
        start=np.array([k == 0 for thread in route.threads for k in range(len(thread.legs))]),
        first=np.array(first),
        along=along,
        length=length,
        heading=np.arctan2(*(end - start).T[::-1]),
        middle=(start + opposite) / 2,
    )


def _sewn(network: Network, leg: Leg) -> Curve:
    curve = network.pieces[leg.piece].curve
    return curve.reversed() if leg.reverse else curve


def half_way(curve: Curve) -> Point:
    """Return the point half way along."""
    return curve.part(0.0, curve.length / 2).end


def parts(curve: Curve) -> list[Curve]:
    """Return parts of what goes round, each with one direction, more or less."""
    out: list[Curve] = []
    for section in curve.pieces:
        sweep = abs(section.sweep_rad) if isinstance(section, Arc) else 0.0
        n = max(1, math.ceil(sweep / math.radians(PART_DEG) - 1e-9))
        out += [Curve((p,)) for p in section.parts([i / n for i in range(n + 1)])]
    return out


def turned(angle: Floats) -> Floats:
    """Return angles (radians) as turns between -π and π."""
    out: Floats = np.remainder(angle + math.pi, 2 * math.pi) - math.pi
    return out
