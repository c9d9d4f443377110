"""The thread that every part needs: two ends, where the cheapest pairing has none.

A pairing of closed trails has no thread end, yet every route has two.  Of all pairings, those with
k ends cost at least f(k), and f is convex: matchings of a given size cost what the matching
polytope cut at that size says.  So a price λ taken off each end, and 2 λ added, gives a bound that
is exact for the right λ: half of what the cheapest opening costs.  It is found in few steps: open
the closed pairing where that is cheapest at one joint; half of its price shows whether some way
over several joints is cheaper; the cheapest of those ways sets the next price.

References
----------
Geoffrion, Lagrangean relaxation for integer programming, Mathematical Programming Study 2, 1974.
Edmonds, Maximum matching and a polyhedron with 0,1-vertices, Journal of Research of the National
Bureau of Standards 69B, 1965.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from seamwalk.routing.turning import END, Floats, Ints

_STEPS = 8
"""Prices tried.  Each step but the last finds a cheaper opening; two or three are the rule."""


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """A cheapest pairing with a price off each end; V half-edges in P parts.

    Attributes
    ----------
    partner : (V,) int
        Number of the half-edge each is paired with, or `END`.
    share_s : (V,) float
        Half of the cost of its pair, or the cost of its end, the price not taken off.
    bound_s : (P,) float
        What the pairing of each part comes to at the least, the price taken off.
    ends : (P,) int
        Thread ends in each part.
    slack_s : (P,) float
        Rounding in `bound_s`.
    """

    partner: Ints
    share_s: Floats
    bound_s: Floats
    ends: Ints
    slack_s: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Opened:
    """A pairing with at least two ends in every part.

    Attributes
    ----------
    partner : (V,) int
        As in `Solved`.
    bound_s : (P,) float
        No pairing with two ends or more costs less, by part.
    price_s : (P,) float
        The price of an end that shows it.
    """

    partner: Ints
    bound_s: Floats
    price_s: Floats


def opened(
    solve: Callable[[Floats], Solved],
    part: Ints,
    end_s: Floats,
    start_s: Floats | None = None,
) -> Opened:
    """Return a cheapest pairing with two thread ends or more in each part.

    Parameters
    ----------
    solve : callable
        Gives the cheapest pairing with a price (P,) off each end.
    part : (V,) int
        Part of each half-edge.
    end_s : (V,) float
        Cost of an end at each.
    start_s : (P,) float, optional
        Prices from a task much like this one.  Where they give no end too many they are taken as
        they are: the bound holds, but may be a little lower, and the pairing a little dearer.
    """
    if start_s is not None and start_s.any():
        now = solve(start_s)
        if (now.ends <= 2).all():
            partner = now.partner.copy()
            closed = now.ends == 0
            for joint in _cheapest_joints(now, part, end_s, closed)[1]:
                partner[joint] = END
            return Opened(partner, now.bound_s + 2 * start_s, start_s)
    parts = int(part.max()) + 1
    price_s = np.zeros(parts)
    low = solve(price_s)
    bound_s, partner = low.bound_s.copy(), low.partner.copy()
    shut = low.ends == 0
    if not shut.any():
        return Opened(partner, bound_s, price_s)
    most_s, joints = _cheapest_joints(low, part, end_s, shut)
    for joint in joints:
        partner[joint] = END
    for _ in range(_STEPS):
        tried_s = np.where(shut, most_s / 2, price_s)
        now = solve(tried_s)
        price_s = tried_s
        new_s = now.bound_s + 2 * price_s
        bound_s = np.maximum(bound_s, new_s)
        shut &= new_s < low.bound_s + most_s - now.slack_s - low.slack_s
        ways = _cheapest_ways(low, now, part, shut)
        better = {p: way for p, way in ways.items() if way[0] < most_s[p] - now.slack_s[p]}
        for p, (cost_s, path) in better.items():
            most_s[p] = cost_s
            here = part == p
            partner[here] = low.partner[here]
            partner[path] = now.partner[path]
        shut &= np.isin(np.arange(parts), list(better))
        if not shut.any():
            break
    return Opened(partner, bound_s, price_s)


def _cheapest_joints(
    solved: Solved, part: Ints, end_s: Floats, shut: Ints
) -> tuple[Floats, list[Ints]]:
    """Return the least cost (P,) of opening one joint in each part that is shut, and the joints.

    A joint is two half-edges; a copy that is not sewn is none.
    """
    v = np.arange(len(part))
    other = solved.partner
    joint = (other > v) & shut[part]
    # A spare copy's own halves cost nothing as a pair and are no joint.
    first = v[joint]
    cost_s = (
        end_s[first] + end_s[other[first]] - solved.share_s[first] - solved.share_s[other[first]]
    )
    least_s = np.full(len(shut), np.inf)
    order = np.lexsort([first, cost_s, part[first]])
    led = order[np.unique(part[first][order], return_index=True)[1]]
    least_s[part[first[led]]] = cost_s[led]
    return least_s, [np.array([x, other[x]]) for x in first[led].tolist()]


def _cheapest_ways(
    low: Solved, now: Solved, part: Ints, shut: Ints
) -> dict[int, tuple[float, list[int]]]:
    """Return by part the cheapest way in which `now` opens `low`: its cost and half-edges.

    Where the two differ they form ways from end to end; each alone turns `low` into a pairing
    with two ends.
    """
    best: dict[int, tuple[float, list[int]]] = {}
    seen: set[int] = set()
    here, there = now.partner, low.partner
    starts = np.flatnonzero((here == END) & (there != END) & shut[part])
    gain = now.share_s - low.share_s
    for start in starts.tolist():
        if start in seen:
            continue
        path = []
        x = start
        while x != END:
            y = int(there[x])
            path += [x, y]
            x = int(here[y])
        seen.update((path[0], path[-1]))
        cost_s = float(gain[path].sum())
        p = int(part[start])
        if p not in best or cost_s < best[p][0] - 1e-9:
            best[p] = (cost_s, path)
    return best
