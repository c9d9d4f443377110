"""The fewest circles that give every class of arcs the look that is wished for.

A circle fits a class when its rise stays within the class's limits and near the wish, and lets no
arcs cross that were not meant to, at a corner or across a narrow patch.  Over a given chord the
rise falls as the circle grows, so the circles that fit a class are a run of the list sorted by
size, and of any two circles on the same side of the wished one the nearer looks more like it.
Between two neighbours in a choice every class takes one or the other.  A choice is therefore a
path through the sorted list, whose steps have a cost each of their own, and the best one is a
shortest path: fewest circles first, then the least deviation.  It is exact, in O(m²·n) for m
circles and n classes.

References
----------
R. Bellman, On a routing problem, Quarterly of Applied Mathematics 16, 1958 (shortest paths).
Circle segment formulas: Machinery's Handbook, 31st ed., pp. 50, 79.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from seamwalk.model.circles import ArcClass, CircleChoice, CircleTry, CircleVerdict, ClassCircle
from seamwalk.motifs.circles import diameter_for, rise_for

TIE = 1e-9
"""Share by which a diameter may miss a limit: rounding must not refuse a circle."""


@dataclass(frozen=True, slots=True)
class CircleSettings:
    """How far from the wish an arc may be before it looks like another design."""

    flattest: float = 0.7
    """Least rise, as a share of the wished one: an arch of 1 in must not become one of 5/8 in
    (common practice, no source)."""
    fullest: float = 1.35
    """Greatest rise, as a share of the wished one: about as far off as the flattest."""


def choose_circles(
    classes: Sequence[ArcClass],
    owned_in: Iterable[float],
    settings: CircleSettings | None = None,
) -> CircleChoice:
    """Return the fewest circles that suit all classes, and of these the nearest to the wish.

    Parameters
    ----------
    classes : sequence of ArcClass
        A class that no circle suits gets none and has no say.
    owned_in : iterable of float
        Diameters that there are, inches; order and repetition do not matter.
    settings : CircleSettings, optional
        Limits of the look.
    """
    settings = settings or CircleSettings()
    owned = sorted(set(owned_in))
    costs = [[_cost(c, d, settings) for d in owned] for c in classes]
    some = [k for k, row in enumerate(costs) if min(row, default=math.inf) < math.inf]
    wished = [diameter_for(c.chord_in, c.wish_in) for c in classes]
    chosen = _cheapest([costs[k] for k in some], [wished[k] for k in some], owned)
    out: list[ClassCircle] = []
    total = 0.0
    for arcs, row in zip(classes, costs, strict=True):
        best = min(chosen, key=lambda j: row[j], default=None)
        if best is None or row[best] == math.inf:
            at = sum(d < diameter_for(arcs.chord_in, arcs.wish_in) for d in owned)
            below, above, circle = at - 1, at, None
        else:
            total += row[best]
            below, above, circle = best - 1, best + 1, tried(arcs, owned[best], settings)
        smaller = tried(arcs, owned[below], settings) if below >= 0 else None
        larger = tried(arcs, owned[above], settings) if above < len(owned) else None
        out.append(ClassCircle(arcs, circle, smaller, larger))
    return CircleChoice(tuple(out), total)


def tried(arcs: ArcClass, diameter_in: float, settings: CircleSettings | None = None) -> CircleTry:
    """Return what one circle would do for a class."""
    settings = settings or CircleSettings()
    if arcs.free:
        return CircleTry(diameter_in, None, None, _of_size(arcs, diameter_in, settings))
    if diameter_in < arcs.longest_in * (1 - TIE):
        return CircleTry(diameter_in, None, None, "too small")
    rise = rise_for(arcs.chord_in, max(diameter_in, arcs.chord_in))
    corner = None if arcs.overlap_in is None else rise > arcs.overlap_in * (1 + TIE)
    # In the middle of a patch arcs that only touch would be sewn over one another.
    facing = None if arcs.facing_in is None else rise > arcs.facing_in * (1 - TIE)
    overlap = None if corner is None and facing is None else bool(corner or facing)
    verdict: CircleVerdict = "fits"
    deepest = min(arcs.most_in, settings.fullest * arcs.wish_in)
    if arcs.overlap_in is not None and arcs.wish_in <= arcs.overlap_in * (1 + TIE):
        # Where some neighbours cross and others don't, the figure between them is another one.
        deepest = min(deepest, arcs.overlap_in)
    if facing or rise > deepest * (1 + TIE):
        verdict = "too deep"
    elif rise < max(arcs.least_in, settings.flattest * arcs.wish_in) * (1 - TIE):
        verdict = "too flat"
    return CircleTry(diameter_in, rise, overlap, verdict)


def _of_size(arcs: ArcClass, diameter_in: float, settings: CircleSettings) -> CircleVerdict:
    """Return whether a circle is about as large as wished; the foot goes round it."""
    if diameter_in > arcs.chord_in / settings.flattest * (1 + TIE):
        return "too large"
    least = max(2 * arcs.least_in, arcs.chord_in / settings.fullest)
    return "too small" if diameter_in < least * (1 - TIE) else "fits"


def _cost(arcs: ArcClass, diameter_in: float, settings: CircleSettings) -> float:
    """Return how far all arcs of a class would be from the wish, infinite if past a limit."""
    found = tried(arcs, diameter_in, settings)
    if found.verdict != "fits":
        return math.inf
    if found.rise_in is None:
        return arcs.count * abs(math.log(diameter_in / arcs.chord_in))
    return arcs.count * abs(math.log(found.rise_in / arcs.wish_in))


def _cheapest(costs: list[list[float]], wished: list[float], owned: list[float]) -> list[int]:
    """Return the chosen circles by their places in the sorted list.

    Parameters
    ----------
    costs : list of lists
        For each class and circle; each class has one that is finite.
    wished : list of float
        The circle that each class wishes for, inches.
    owned : list of float
        Sorted diameters, inches.
    """
    if not costs:
        return []
    last = len(owned) + 1
    # Places 0 and `last` stand for no circle, before the smallest and after the largest.
    at = [-math.inf, *owned, math.inf]
    padded = [[math.inf, *row, math.inf] for row in costs]
    best: list[tuple[int, float]] = [(0, 0.0)] + [(last, math.inf)] * last
    came = [0] * (last + 1)
    for j in range(1, last + 1):
        for i in range(j):
            between = [
                min(row[i], row[j])
                for row, wish in zip(padded, wished, strict=True)
                if at[i] <= wish < at[j]
            ]
            number, cost = best[i]
            way = (number + (j < last), cost + math.fsum(between))
            if way[1] < math.inf and way < best[j]:
                best[j], came[j] = way, i
    chosen = []
    k = came[last]
    while k > 0:
        chosen.append(k - 1)
        k = came[k]
    return chosen[::-1]
