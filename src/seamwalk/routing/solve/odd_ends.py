"""A first pairing without matching: odd ends joined along a tree, then the least turns.

Where an odd number of ends meets, the path must travel away or stop.  In a shortest tree over all
ditches, with the outside as its root, exactly one set of branches makes every node even: those
with an odd number of odd nodes beyond them.  What is then sewn at each node is paired greedily,
the pair that saves most first.  Near linear, and far from the least; `tiles` makes it better.

References
----------
Edmonds and Johnson, Matching, Euler tours and the Chinese postman, Mathematical Programming 5,
1973 (T-joins).  Preis, Linear time ½-approximation algorithm for maximum weighted matching in
general graphs, STACS 1999, LNCS 1563 (pairs that are best for both of their members).
"""

import numpy as np

from seamwalk.routing.solve.pairing import Choices, Pairing
from seamwalk.routing.turning import END, Bools, Floats, Ints


def evened(given: Choices) -> Pairing:
    """Return a pairing of what must be sewn and of the travel that makes its nodes even.

    Its bound is that of all half-edges by themselves, with two thread ends in each part.
    """
    edges = given.edges
    used = edges.required.copy()
    used[_join(given)] = True
    least = least_s(given)
    bound_s = float(edges.sew_s[edges.required].sum() + least.sum()) + _openings_s(given, least)
    return Pairing(_mates(given, used), used, bound_s)


def least_s(given: Choices) -> Floats:
    """Return what each half-edge (2C,) costs a route at the least, seconds.

    That of its cheapest pair or end: half of a pair with another that must be sewn, and all of a
    pair with a spare one, which carries half of its own stitching there.  Spare ones cost nothing.
    """
    edges = given.edges
    required = np.repeat(edges.required, 2)
    out = np.full(len(required), np.inf)
    out[given.halves] = given.end_s
    share_s = np.where(required[given.a] & required[given.b], given.cost_s / 2, given.cost_s)
    np.minimum.at(out, given.a, share_s)
    np.minimum.at(out, given.b, share_s)
    return np.where(required & np.isfinite(out), out, 0.0)


def _openings_s(given: Choices, least: Floats) -> float:
    """Return what the two thread ends of each part add to `least` (2C,), seconds.

    As in `opening` any price off each end gives a bound with twice the price of each part; this is
    the greatest at which an end costs no half-edge less than `least`.
    """
    parts, of = np.unique(given.part[given.halves >> 1], return_inverse=True)
    price_s = np.full(len(parts), np.inf)
    np.minimum.at(price_s, of, np.maximum(given.end_s - least[given.halves], 0.0))
    return 2 * float(price_s.sum()) if given.opening else 0.0


def _join(given: Choices) -> Ints:
    """Return spare copies, one of a piece at most, that make every node even or lead outside."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

    edges = given.edges
    n = len(edges.nodes)
    inside = given.halves[::2] >> 1
    spare = inside[~edges.required[inside]]
    places = np.unique(edges.node[given.halves])
    # The last node is the outside: a thread end at any other leads there.
    u = np.concatenate([edges.node[2 * spare], places])
    v = np.concatenate([edges.node[2 * spare + 1], np.full(len(places), n)])
    cost_s = np.concatenate([edges.sew_s[spare], edges.end_s[places]])
    copy = np.concatenate([spare, np.full(len(places), -1)])
    u, v = np.minimum(u, v), np.maximum(u, v)
    # The shortest of those between the same two nodes; no cost may be nought in a sparse graph.
    order = np.lexsort([copy, cost_s, v, u])
    first = np.append(True, (np.diff(u[order]) != 0) | (np.diff(v[order]) != 0))
    order = order[first & (u != v)[order]]
    u, v, copy, weight = u[order], v[order], copy[order], cost_s[order] + 1e-6
    tree = minimum_spanning_tree(coo_array((weight, (u, v)), shape=(n + 1, n + 1)).tocsr())
    outwards, before = breadth_first_order(tree, n, directed=False)
    at = edges.node[given.halves[edges.required[given.halves >> 1]]]
    odd: list[int] = (np.bincount(at, minlength=n + 1) % 2).tolist()
    up: list[int] = before.tolist()
    taken = []
    for x in outwards[:0:-1].tolist():
        if odd[x]:
            odd[up[x]] ^= 1
            taken.append(x)
    ends = np.array(taken, dtype=np.intp)
    low, high = np.minimum(ends, before[ends]), np.maximum(ends, before[ends])
    found = copy[np.searchsorted(u * (n + 1) + v, low * (n + 1) + high)]
    out: Ints = found[found >= 0]
    return out


def _mates(given: Choices, used: Bools) -> Ints:
    """Return mates (2C,) of what is used: of all pairs left, those best for both, again and again.

    A pair's worth is what it saves against two thread ends.
    """
    sewn = np.repeat(used, 2)
    end_s = np.zeros(len(sewn))
    end_s[given.halves] = given.end_s
    here = np.flatnonzero(sewn[given.a] & sewn[given.b])
    a, b = given.a[here], given.b[here]
    saved_s = end_s[a] + end_s[b] - given.cost_s[here]
    order = np.argsort(-saved_s, kind="stable")
    order = order[saved_s[order] > 0]
    a, b = a[order], b[order]
    mate = np.arange(len(sewn), dtype=np.intp) ^ 1
    mate[sewn] = END
    while len(a):
        rank = np.arange(len(a))
        best = np.full(len(sewn), len(a))
        np.minimum.at(best, a, rank)
        np.minimum.at(best, b, rank)
        both = (best[a] == rank) & (best[b] == rank)
        mate[a[both]], mate[b[both]] = b[both], a[both]
        left = (mate[a] == END) & (mate[b] == END)
        a, b = a[left], b[left]
    return mate
