"""From the end of one pass to the start of the next: what that costs, and how it is done.

Three ways: straight on where both meet at one node; along free passes of ditches and margin; or
two thread ends, where the quilt may be picked up and laid down anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.routing.order.travel import Travel
from seamwalk.routing.solve.threads import Walk, reversed_walk
from seamwalk.routing.turning import (
    Costs,
    Floats,
    HalfEdges,
    Ints,
    turn_deg,
)


@dataclass(frozen=True, slots=True)
class JoinSettings:
    """What is looked at.

    Attributes
    ----------
    most_travel_in : float
        Longest way from one pass to the next, inches; what lies further off is joined by thread
        ends.
    most_cells : int
        Distances kept at a time: memory against speed.
    """

    most_travel_in: float = 120.0
    most_cells: int = 4_000_000


DEFAULT = JoinSettings()


@dataclass(frozen=True, slots=True, eq=False)
class Joins:
    """The cheapest join of each two directed passes; states as in `passes.Lie`.

    Attributes
    ----------
    cost_s : (2n, 2n) float32
        From state x to state y; infinite to the same pass.
    start_s, stop_s : (2n,) float
        Thread end before and after a pass, travel to a cheap place for it included.
    cut_s : (2n, 2n) float32
        The cost if two thread ends are made.
    """

    cost_s: np.ndarray
    cut_s: np.ndarray
    start_s: Floats
    stop_s: Floats


def states(found: Sequence[Walk]) -> tuple[Ints, Ints]:
    """Return for each state (2n,) the half-edge it starts by, and the one it arrives on."""
    first = np.array([h for w in found for h in (w[0], w[-1] ^ 1)], dtype=np.intp)
    last = np.array([h for w in found for h in (w[-1] ^ 1, w[0])], dtype=np.intp)
    return first, last


def joins(
    found: Sequence[Walk],
    edges: HalfEdges,
    costs: Costs,
    travel: Travel,
    settings: JoinSettings = DEFAULT,
) -> Joins:
    """Return what it costs to go from each pass, in each direction, to each other one."""
    first, last = states(found)
    m = len(first)
    stop_s, start_s = travel.ends(last), travel.ends(first)
    cut = (stop_s[:, None] + start_s[None, :]).astype(np.float32)
    if edges.turning is not None:
        # Arriving and leaving are both directions away from the node.
        apart = turn_deg(edges.lies_deg[last][:, None], edges.lies_deg[first][None, :])
        cut += np.where(apart > edges.turning.apart_deg + 1e-9, edges.turning.turn_s, 0)
    cost = cut.copy()
    x, y = np.nonzero(edges.node[last][:, None] == edges.node[first][None, :])
    on = x >> 1 != y >> 1
    for i, j in zip(x[on].tolist(), y[on].tolist(), strict=True):
        cost[i, j] = min(cost[i, j], costs.turn(int(last[i]), int(first[j])))
    s_per_in = _s_per_in(edges)
    limit = min(float(cut.max(initial=0.0)), settings.most_travel_in * s_per_in)
    for x, y, seconds in travel.between(last, first, limit, settings.most_cells):
        cost[x, y] = np.minimum(cost[x, y], seconds.astype(np.float32))
    i = np.arange(m)
    cost[i, i] = cost[i, i ^ 1] = np.inf
    cut[i, i] = cut[i, i ^ 1] = np.inf
    return Joins(cost, cut, start_s, stop_s)


def _s_per_in(edges: HalfEdges) -> float:
    length = sum(p.curve.length for p in edges.pieces)
    sewn = float(edges.sew_s[np.unique(edges.piece_of, return_index=True)[1]].sum())
    return sewn / length if length else 1.0


def threaded(
    order: Sequence[int],
    found: Sequence[Walk],
    costs: Costs,
    joined: Joins,
    travel: Travel,
) -> list[Walk]:
    """Return the threads of passes sewn in an order, each join as cheap as what is left allows.

    That can be more than `Joins.cost_s` says, where several joins want the passes of one ditch.

    Parameters
    ----------
    order : sequence of int
        States.
    joined : Joins
        Of these passes.
    travel : Travel
        Is used up: the copies that joins take are gone.
    """
    out: list[Walk] = []
    before = -1
    for x in order:
        walk = list(reversed_walk(found[x >> 1]) if x & 1 else found[x >> 1])
        if not out:
            out.append(_led_in(walk, travel))
            before = x
            continue
        a, b = out[-1][-1] ^ 1, walk[0]
        cut = float(joined.cut_s[before, x])
        before = x
        straight = costs.turn(a, b) if costs.node[a] == costs.node[b] else np.inf
        way = travel.way(a, b, min(cut, straight))
        if way is not None:
            out[-1] += [*way, *walk]
        elif straight <= cut:
            out[-1] += walk
        else:
            out[-1] += travel.way_out(a)
            out.append(_led_in(walk, travel))
    if out:
        out[-1] += travel.way_out(out[-1][-1] ^ 1)
    return out


def _led_in(walk: Walk, travel: Travel) -> Walk:
    """Return the walk with travel before it, where a thread starts cheaper further off."""
    return reversed_walk(travel.way_out(walk[0])) + walk
