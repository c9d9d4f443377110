"""What it costs to make trails hang together: where two of them meet, a swap of mates.

The cheapest joins make a spanning tree over the trails; its levels are nested sets of trails, each
of which hangs together more cheaply than it leaves the others.  They tell where prices have to
stand (see `prices`): as in the growing of moats around the parts of a spanning tree.

References
----------
Kruskal, Proceedings of the AMS 7, 1956; Goemans and Williamson, A general approximation technique
for constrained forest problems, SIAM Journal on Computing 24, 1995 (moats).
"""

from dataclasses import dataclass

import numpy as np

from seamwalk.routing.solve.pairing import Choices, Pairing
from seamwalk.routing.turning import END, Floats, Ints

NO_COST_S = 1e-6
"""Joins cheaper than this are free, seconds: rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Swaps:
    """Where two trails meet at a node, and how they may be joined there; W ways.

    Attributes
    ----------
    old, new : (W, 2, 2) int
        Two pairs of mates, and the two that take their place; `END` is a thread end.
    trails : (W, 2) int
        The two trails.
    """

    old: Ints
    new: Ints
    trails: Ints


class Prices:
    """What mates cost: a look-up over all pairs that a pairing may choose."""

    def __init__(self, given: Choices) -> None:
        self._size = len(given.edges.node)
        key = np.minimum(given.a, given.b) * self._size + np.maximum(given.a, given.b)
        self._order = np.argsort(key)
        self._key = key[self._order]
        self._end = np.full(self._size, -1, dtype=np.intp)
        self._end[given.halves] = np.arange(len(given.halves))

    def of(self, pairs: Ints, pair_s: Floats, end_s: Floats) -> Floats:
        """Return the value (..., 2) of each pair: infinite where it can't be chosen.

        `pair_s` (T,) and `end_s` (V,) are in the order of the choices.
        """
        a, b = pairs[..., 0], pairs[..., 1]
        low, high = np.minimum(a, b), np.maximum(a, b)
        at = np.minimum(np.searchsorted(self._key, low * self._size + high), len(self._key) - 1)
        there = self._key[at] == low * self._size + high
        out = np.where(there, pair_s[self._order[at]], np.inf)
        # An end and an end are no pair at all.
        ends = np.where(high == END, 0.0, end_s[self._end[high]])
        result: Floats = np.where(low == END, ends, out)
        return result


def swaps(given: Choices, pairing: Pairing, trail: Ints) -> Swaps:
    """Return all ways to join two trails at a node.

    Parameters
    ----------
    given : Choices
        What can be chosen.
    pairing : Pairing
        Mates.
    trail : (C,) int
        Trail of each copy; 0 for all that are open, and for what is not sewn.  A trail cut into
        two ends is joined to 0.
    """
    edges = given.edges
    h = np.flatnonzero(np.repeat(pairing.used, 2))
    mate = pairing.mate[h]
    first = (mate == END) | (h < mate)
    pairs = np.stack([h[first], mate[first]], axis=1)
    place, label = edges.node[pairs[:, 0]], trail[pairs[:, 0] >> 1]
    order = np.lexsort((label, place))
    pairs, place, label = pairs[order], place[order], label[order]
    start = np.flatnonzero(np.diff(place, prepend=-1))
    degree = np.diff(np.append(start, len(place)))
    i, j = _meeting(start, degree, label)
    one, two = pairs[i], pairs[j]
    old = np.stack([one, two], axis=1)
    straight = np.stack([old[:, :, 0], old[:, :, 1]], axis=1)
    crossed = np.stack(
        [np.stack([one[:, 0], two[:, 1]], axis=1), np.stack([one[:, 1], two[:, 0]], axis=1)],
        axis=1,
    )
    both = np.stack([label[i], label[j]], axis=1)
    cut = np.flatnonzero((label > 0) & (pairs[:, 1] != END))
    nothing = np.full(len(cut), END)
    cut_old = np.stack([pairs[cut], np.stack([nothing, nothing], axis=1)], axis=1)
    cut_new = np.stack(
        [np.stack([pairs[cut, 0], nothing], axis=1), np.stack([pairs[cut, 1], nothing], axis=1)],
        axis=1,
    )
    return Swaps(
        old=np.concatenate([old, old, cut_old]),
        new=np.concatenate([straight, crossed, cut_new]),
        trails=np.concatenate([both, both, np.stack([label[cut], 0 * cut], axis=1)]),
    )


def _meeting(start: Ints, degree: Ints, label: Ints) -> tuple[Ints, Ints]:
    """Return every two pairs (numbers) that meet at a node and belong to different trails."""
    firsts, seconds = [np.empty(0, dtype=np.intp)], [np.empty(0, dtype=np.intp)]
    for d in np.unique(degree).tolist():
        here = start[degree == d]
        # Sorted by trail within each node, so the outermost two tell whether all are one.
        here = here[label[here] != label[here + d - 1]]
        if d < 2 or not len(here):
            continue
        table = here[:, None] + np.arange(d)
        i, j = np.triu_indices(d, 1)
        a, b = table[:, i].reshape(-1), table[:, j].reshape(-1)
        apart = label[a] != label[b]
        firsts.append(a[apart])
        seconds.append(b[apart])
    return np.concatenate(firsts), np.concatenate(seconds)


def paths(given: Choices, pairing: Pairing, trail: Ints) -> tuple[Ints, Floats]:
    """Return which trails unused ditches join (P, 2), and the seconds there and back (P,).

    Only between trails that are neighbours: those whose regions of nearest nodes touch (Mehlhorn,
    Information Processing Letters 27, 1988).  Where several trails meet one stands for all, an
    open one if there is any.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import dijkstra

    edges = given.edges
    size = len(edges.nodes)
    none = len(trail) + 1
    nearest = np.full(size, none, dtype=np.intp)
    sewn = np.flatnonzero(pairing.used)
    for side in (0, 1):
        np.minimum.at(nearest, edges.node[2 * sewn + side], trail[sewn])
    free = np.flatnonzero(~pairing.used)
    u, v, cost = edges.node[2 * free], edges.node[2 * free + 1], edges.sew_s[free]
    sources = np.flatnonzero(nearest < none)
    if not len(free) or not len(sources):
        return np.empty((0, 2), dtype=np.intp), np.empty(0)
    low, high = np.minimum(u, v), np.maximum(u, v)
    order = np.lexsort((cost, high, low))
    low, high, cost = low[order], high[order], cost[order]
    first = np.ones(len(low), dtype=np.bool_)
    first[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1])
    low, high, cost = low[first], high[first], cost[first]
    graph = coo_array((cost, (low, high)), shape=(size, size)).tocsr()
    far, _, source = dijkstra(
        graph, directed=False, indices=sources, min_only=True, return_predecessors=True
    )
    reached = np.isfinite(far[low]) & np.isfinite(far[high])
    low, high, cost = low[reached], high[reached], cost[reached]
    ends = np.stack([nearest[source[low]], nearest[source[high]]], axis=1)
    apart = ends[:, 0] != ends[:, 1]
    return ends[apart], (2 * (far[low] + cost + far[high]))[apart]


def tree(trails: Ints, cost_s: Floats, count: int) -> list[tuple[float, int, int]]:
    """Return the cheapest joins (cost, trail, trail) that make all hang together, cheapest first.

    Parameters
    ----------
    trails : (W, 2) int
        Which two each join joins; numbers below `count`.
    cost_s : (W,) float
        Infinite where it can't be made.
    count : int
        Number of trails, 0 counted.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import minimum_spanning_tree

    can = np.isfinite(cost_s)
    low, high = trails[can].min(axis=1), trails[can].max(axis=1)
    # Zero would stand for no join.
    cost = np.maximum(cost_s[can], 0.0) + NO_COST_S / 2
    order = np.lexsort((cost, high, low))
    low, high, cost = low[order], high[order], cost[order]
    best = np.ones(len(low), dtype=np.bool_)
    best[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1])
    graph = coo_array((cost[best], (low[best], high[best])), shape=(count, count))
    found = minimum_spanning_tree(graph.tocsr()).tocoo()
    rows = zip(found.data.tolist(), found.row.tolist(), found.col.tolist(), strict=True)
    return sorted(rows)


def nested(
    joins: list[tuple[float, int, int]], count: int, levels: int
) -> list[tuple[float, Ints]]:
    """Return nested sets: (cost at which they leave one another, set (count,) of each trail).

    Sets are numbered from 1; 0 holds trail 0 and all that hangs together with it.  At most
    `levels` + 1 of them, spread evenly over the joins.
    """
    costs = np.array([c for c, _, _ in joins if c > NO_COST_S])
    if not len(costs):
        return []
    shares = np.linspace(0, 1, levels + 1)
    stops = np.unique(np.quantile(costs, shares, method="lower").round(6)).tolist()
    parent = list(range(count))

    def root(x: int) -> int:
        while parent[x] != x:
            parent[x] = parent[parent[x]]
            x = parent[x]
        return x

    out: list[tuple[float, Ints]] = []
    at = 0
    for stop in stops:
        while at < len(joins) and joins[at][0] < stop - NO_COST_S:
            low, high = sorted((root(joins[at][1]), root(joins[at][2])))
            parent[high] = low
            at += 1
        _, sets = np.unique([root(x) for x in range(count)], return_inverse=True)
        out.append((stop, sets.astype(np.intp)))
    return out
