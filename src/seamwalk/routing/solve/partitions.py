"""Partitions: how often sets of passes must be united, and what each mate can count for.

K sets with something to stitch hang together with the outside, so at least K
times two of them, or one and the outside, are united at a node.  At a node where k sets meet that
go in and out there an even number of times whatever the route does, m of them are united by at
least m mates from different sets (Euler: each has an even degree), so each such mate counts for at
most (k - 1) / k of a union; to the outside, which is even as well, for 1 - 1 / (2k).  The sets at
a node may be taken in blocks: then mates within a block of k count for (k - 1) / k, and mates
between blocks for so much that both kinds together count every union in full: 1 and half of what
the blocks' parts exceed 1 by, for at least two such mates go round the blocks.  Where some sets
can go in and out an odd number of times, trees are possible, and mates to those sets make up for
each block they lead into.  For sets that meet two by two this is worth twice as much as cuts.

References
----------
Euler, Solutio problematis ad geometriam situs pertinentis, 1741 (even degrees).
"""

import numpy as np

from seamwalk.routing.solve.nesting import NO_COST_S, Prices, swaps
from seamwalk.routing.solve.pairing import Choices, Pairing
from seamwalk.routing.solve.prices import Partition, relief, swap_cost_s
from seamwalk.routing.solve.threads import closed_trails
from seamwalk.routing.turning import END, Bools, Ints


def partitions(given: Choices, pairing: Pairing, prices: Prices, levels: int) -> list[Partition]:
    """Return partitions into trails, then into what the cheapest joins make of them.

    Each is priced so that the cheapest join is just free.  The thread that every route needs
    counts as a trail where it starts and stops at one node, for it might as well be another.
    """
    closed = _only_required(given, pairing)
    label = _with_opened(given, pairing, closed)
    # A set that holds the opened thread hangs together with the outside as it is.
    least = 2 if int(label.max(initial=0)) > int(closed.max(initial=0)) else 1
    out: list[Partition] = []
    for _ in range(levels):
        if int(label.max(initial=0)) < least:
            break
        found = swaps(given, pairing, label)
        cost_s = swap_cost_s(given, prices, relief(given, [], out), found.old, found.new)
        positive = cost_s[cost_s > NO_COST_S]
        # Twice the least cost: so far a mate that counts in full does not hold the price down.
        cheap = cost_s <= 2 * positive.min(initial=np.inf)
        part = _partition(given, label, found.old[cheap, 0, 0], found.trails[cheap])
        share = prices.of(found.new, part.pair_share, part.end_share).sum(axis=1)
        open_to = np.isfinite(cost_s) & (share > 0)
        if not open_to.any():
            break
        price_s = float((np.maximum(cost_s[open_to], 0.0) / share[open_to]).min())
        if price_s > NO_COST_S:
            out.append(Partition(label, part.count, part.pair_share, part.end_share, price_s))
        free = open_to & (cost_s - price_s * np.where(open_to, share, 0.0) <= NO_COST_S)
        joined = _united(found.trails[free], int(label.max()) + 1)
        label = joined[label]
    return out


def _united(pairs: Ints, count: int) -> Ints:
    """Return the new number (count,) of each set once the pairs are one; 0 stays 0."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    graph = coo_array((np.ones(len(pairs), dtype=np.int8), tuple(pairs.T)), shape=(count, count))
    _, group = connected_components(graph, directed=False)
    _, first, number = np.unique(group, return_index=True, return_inverse=True)
    # Numbered by their first member, so that the set of 0 is the first.
    rank = np.argsort(np.argsort(first))
    out: Ints = rank[number].astype(np.intp)
    return out


def _only_required(given: Choices, pairing: Pairing) -> Ints:
    """Return the closed trails without travel: those that are even at every node."""
    trails = closed_trails(given.edges, pairing)
    mixed = np.unique(trails[~given.edges.required])
    return np.unique(np.where(np.isin(trails, mixed), 0, trails), return_inverse=True)[1]


def _with_opened(given: Choices, pairing: Pairing, label: Ints) -> Ints:
    """Return the trails with the only thread of a part as one more, if its two ends meet."""
    edges = given.edges
    ends = np.flatnonzero((pairing.mate == END) & np.repeat(pairing.used, 2))
    part = given.part[ends >> 1]
    out = label.copy()
    for p in np.unique(part).tolist():
        here = ends[part == p]
        if len(here) == 2 and edges.node[here[0]] == edges.node[here[1]]:
            h = int(here[0])
            thread = []
            while h != END:
                thread.append(h >> 1)
                h = int(pairing.mate[h ^ 1])
            if edges.required[thread].all():
                out[thread] = int(out.max()) + 1
    return out


def _partition(given: Choices, label: Ints, cheap: Ints, trails: Ints) -> Partition:
    """Return the sets of `label` with what each mate counts for.

    `cheap` (W,) are half-edges at whose nodes the sets `trails` (W, 2) are joined cheaply.
    """
    edges = given.edges
    nodes, count = len(edges.nodes), int(label.max())
    h = np.arange(len(edges.node))
    place, of, halves = np.unique(
        edges.node * (count + 1) + label[h >> 1], return_inverse=True, return_counts=True
    )
    loose = np.bincount(of, weights=~edges.required[h >> 1]) > 0
    inside = place % (count + 1) > 0
    even = inside & ~loose & (halves % 2 == 0)
    node = place // (count + 1)
    here = np.searchsorted(place, edges.node[cheap][:, None] * (count + 1) + trails)
    block = _blocks(node, even, here[even[here].all(axis=1)])
    k = np.maximum(np.bincount(block[even], minlength=int(block.max()) + 1), 1)[block]
    among = (k - 1) / k
    # What counting in part can leave out at a node, at one block and at all of them together.
    one = np.zeros(nodes)
    np.maximum.at(one, node[even], among[even])
    together = np.bincount(node[even], weights=(among / k)[even], minlength=nodes)
    single = np.bincount(node[even], weights=(1 / k)[even], minlength=nodes) < 1.5
    odd = np.bincount(node[inside & ~even], minlength=nodes) > 0
    between = np.where(odd, 1 + one, 1 + np.maximum(0.0, together - 1) / 2)
    outward = np.where(
        odd, 1 + one / 2, np.where(single, (1 + one) / 2, 1 + np.maximum(0.0, together - 1) / 2)
    )
    is_even = even[of]
    v = edges.node[given.a]
    evens = is_even[given.a].astype(np.intp) + is_even[given.b]
    alike = block[of[given.a]] == block[of[given.b]]
    both = np.where(alike, among[of[given.a]], between[v])
    share = np.choose(evens, [np.ones(len(v)), outward[v], both])
    apart: Bools = label[given.a >> 1] != label[given.b >> 1]
    end = np.where(is_even[given.halves], outward[edges.node[given.halves]], 1.0)
    return Partition(
        label,
        count,
        np.where(apart, share, 0.0),
        np.where(label[given.halves >> 1] > 0, end, 0.0),
    )


def _blocks(node: Ints, even: Bools, cheap: Ints) -> Ints:
    """Return a block for each set at a node: what is joined cheaply there; all, if nothing is."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count = len(node)
    some = np.zeros(int(node.max()) + 1, dtype=np.bool_)
    some[node[cheap[:, 0]]] = True
    # Sets at a node follow one another; where none is cheap the even ones are one block.
    i = np.flatnonzero(even & ~some[node])
    chain = np.flatnonzero(node[i[1:]] == node[i[:-1]])
    a = np.concatenate([cheap[:, 0], i[chain]])
    b = np.concatenate([cheap[:, 1], i[chain + 1]])
    graph = coo_array((np.ones(len(a), dtype=np.int8), (a, b)), shape=(count, count))
    out: Ints = connected_components(graph, directed=False)[1].astype(np.intp)
    return out
