"""What a route is like to sew: order, bulk, turns of the quilt, and how short it reads.

Nothing here knows how a route was made: these are the measures by which its order is judged,
taken from its threads with plain geometry.
"""

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.benchmark.phrases import phrases
from seamwalk.benchmark.route_bulk import share_right, top_outline
from seamwalk.benchmark.route_legs import Bools, Floats, Legs, half_way, legs_of, parts, turned
from seamwalk.geometry.curve import Curve
from seamwalk.geometry.projective import Points
from seamwalk.model.route import Route


@dataclass(frozen=True, slots=True)
class MeasureSettings:
    """What counts as what."""

    bulk_share: float = 0.55
    """More of the top than this right of the needle is too much: a line through the middle has
    half of it there either way, and a tenth of that is let pass."""
    turned_deg: float = 60.0
    """Required pieces whose headings differ by more are sewn with the quilt turned."""
    families: int = 4
    """Directions of lines told apart: along, across and the two diagonals."""
    same_line_in: float = 0.01
    """Pieces that differ by less in their distance from the middle lie on one line, inches."""
    fewest: int = 6
    """Pieces that a half must have to have an order."""


DEFAULT = MeasureSettings()


@dataclass(frozen=True, slots=True)
class RouteMeasures:
    """How a route is to sew.

    Attributes
    ----------
    by_lines : float or None
        Rank correlation (Spearman) of the order in which required pieces are sewn and their
        distance from the middle line, averaged by length over families of parallel lines and
        their two halves; 1 is from the middle outwards.  None without any order.
    by_strips : float or None
        The same with the distance across one axis of the top, the better of the two: for tops
        without straight lines.
    by_rings : float or None
        The same with the distance across rings parallel to the sides of the top, all of it.
    bulk_share : float
        Share of the length sewn, travel included, with too much of the top right of the needle.
    quilt_turns : int
        Required pieces whose heading is too far from that of the required piece before.
    phrases : int
        Length of the description: phrases of the sequence of moves.
    """

    by_lines: float | None
    by_strips: float | None
    by_rings: float | None
    bulk_share: float
    quilt_turns: int
    phrases: int


def measure(route: Route, settings: MeasureSettings = DEFAULT) -> RouteMeasures:
    """Return how `route` is to sew; it must have at least one thread."""
    legs = legs_of(route)
    outline = top_outline(route.network)
    centre = (outline.min(axis=0) + outline.max(axis=0)) / 2
    return RouteMeasures(
        by_lines=_by_lines(legs, centre, settings),
        by_strips=_by_strips(legs, centre, settings),
        by_rings=_by_rings(legs, outline, settings),
        bulk_share=_bulk_share(legs, outline, settings),
        quilt_turns=_quilt_turns(legs, settings),
        phrases=phrases(_moves(route, legs)),
    )


def _by_lines(legs: Legs, centre: Points, settings: MeasureSettings) -> float | None:
    lines = legs.first & legs.along
    # Families are told from the directions that most of the length has, whatever way it lies.
    moment = np.sum(legs.length[lines] * np.exp(4j * legs.heading[lines]))
    frame, step = float(np.angle(moment)) / 4, math.pi / settings.families
    family = np.rint((legs.heading - frame) % math.pi / step).astype(int) % settings.families
    halves: list[tuple[Bools, Floats]] = []
    for k in range(settings.families):
        angle = frame + k * step
        off = (legs.middle - centre) @ np.array([-math.sin(angle), math.cos(angle)])
        halves += _halves(lines & (family == k), off, settings)
    # What goes round lies on no line: its distance is that from the middle of the top.
    halves.append((legs.first & ~legs.along, np.hypot(*(legs.middle - centre).T)))
    return _correlation(legs, halves, settings)


def _by_strips(legs: Legs, centre: Points, settings: MeasureSettings) -> float | None:
    found = [
        _correlation(legs, _halves(legs.first, legs.middle[:, k] - centre[k], settings), settings)
        for k in (0, 1)
    ]
    return max((r for r in found if r is not None), default=None)


def _by_rings(legs: Legs, outline: Points, settings: MeasureSettings) -> float | None:
    low, high = outline.min(axis=0), outline.max(axis=0)
    # Rings end at the sides: the nearer a side, the further out.
    to_side = np.concatenate([legs.middle - low, high - legs.middle], axis=1).min(axis=1)
    return _correlation(legs, [(legs.first, to_side.max() - to_side)], settings)


def _halves(some: Bools, off: Floats, settings: MeasureSettings) -> list[tuple[Bools, Floats]]:
    """Return who lies in each half, the middle line in both, and how far from the middle."""
    return [(some & (side * off > -settings.same_line_in), np.abs(off)) for side in (-1, 1)]


def _correlation(
    legs: Legs, halves: Sequence[tuple[Bools, Floats]], settings: MeasureSettings
) -> float | None:
    """Return the mean over halves, by length; None where none has an order."""
    from scipy.stats import spearmanr

    found, weight = [], []
    for who, off in halves:
        distance = _lines_from_middle(off[who], settings.same_line_in)
        # Pieces that are all equally far from the middle may come in any order.
        if len(distance) < settings.fewest or np.ptp(distance) == 0:
            continue
        found.append(float(spearmanr(np.flatnonzero(who), distance).statistic))
        weight.append(float(legs.length[who].sum()))
    return float(np.average(found, weights=weight)) if found else None


def _lines_from_middle(off: Floats, near: float) -> NDArray[np.intp]:
    """Return the number of the line that each piece lies on, counted from the middle."""
    order = np.argsort(off)
    number = np.empty(len(off), dtype=np.intp)
    number[order] = np.cumsum(np.diff(off[order], prepend=off[order[:1]]) > near)
    return number


def _bulk_share(legs: Legs, outline: Points, settings: MeasureSettings) -> float:
    sewn = [
        part
        for curve, along in zip(legs.curves, legs.along, strict=True)
        for part in ([curve] if along else parts(curve))
    ]
    ends = np.array([(p.start, p.end) for p in sewn], dtype=np.float64)
    heading = np.arctan2(*(ends[:, 1] - ends[:, 0]).T[::-1])
    right = share_right(outline, np.array([half_way(p) for p in sewn]), heading)
    length = np.array([p.length for p in sewn])
    return float(length[right > settings.bulk_share + 1e-9].sum() / length.sum())


def _quilt_turns(legs: Legs, settings: MeasureSettings) -> int:
    turn = turned(np.diff(legs.heading[legs.first & legs.along]))
    return int(np.sum(np.abs(turn) > math.radians(settings.turned_deg) + 1e-9))


def _moves(route: Route, legs: Legs) -> list[Hashable]:
    """Return a word for each leg: which way it goes on, on what, and whether it is travel."""
    come = [h if a else c.end_heading_rad for c, h, a in _each(legs)]
    go = [h if a else c.start_heading_rad for c, h, a in _each(legs)]
    out: list[Hashable] = []
    k = 0
    for thread in route.threads:
        out.append("start")
        for j, leg in enumerate(thread.legs):
            angle = go[k] - (come[k - 1] if j else 0.0)
            eighth = round(angle / (math.pi / 4)) % 8
            kind = route.network.pieces[leg.piece].stroke.kind
            out.append((eighth, kind, bool(legs.first[k])))
            k += 1
    return out


def _each(legs: Legs) -> list[tuple[Curve, float, bool]]:
    return list(zip(legs.curves, legs.heading.tolist(), legs.along.tolist(), strict=True))
