"""Prices on leaving sets of passes, for bounds that know that a route hangs together.

Two kinds of fact hold for every route and may be broken by a pairing.

A *cut*: a set of passes with something to stitch is left at least twice.

A *partition*: K sets with something to stitch hang together with the outside, so at least K
times two of them, or one and the outside, are united at a node.  At a node where k sets meet that
go in and out there an even number of times whatever the route does, m of them are united by at
least m mates from different sets (Euler: each has an even degree), so each such mate counts for at
most (k - 1) / k of a union; to the outside, which is even as well, for 1 - 1 / (2k).  The sets at
a node may be taken in blocks: then mates within a block of k count for (k - 1) / k, and mates
between blocks for so much that both kinds together count every union in full: 1 and half of what
the blocks' parts exceed 1 by, for at least two such mates go round the blocks.  Where some sets
can go in and out an odd number of times, trees are possible, and mates to those sets make up for
each block they lead into.  For sets that meet two by two this is worth twice as much as cuts.

A price takes something off each mate that leaves a set, and gives it back as often as the fact
says that it must happen: for any prices the result is a bound (Lagrange relaxation).

References
----------
Held and Karp, The traveling-salesman problem and minimum spanning trees: part II, Mathematical
Programming 1, 1971.
"""

from dataclasses import dataclass

import numpy as np

from seamwalk.routing.nesting import NO_COST_S, Prices, nested, swaps, tree
from seamwalk.routing.pairing import Choices, Pairing, Relief
from seamwalk.routing.threads import closed_trails
from seamwalk.routing.turning import END, Bools, Floats, Ints


@dataclass(slots=True, eq=False)
class Cuts:
    """Disjoint sets of copies, each with its price; 0 is no set.

    Attributes
    ----------
    label : (C,) int
        Set of each copy.
    price_s : (K + 1,) float
        First entry always 0.
    """

    label: Ints
    price_s: Floats

    def leavings(self, pairing: Pairing) -> Ints:
        """Return how often each set is left (K + 1,)."""
        h = np.flatnonzero(np.repeat(pairing.used, 2))
        here = self.label[h >> 1]
        mate = pairing.mate[h]
        there = np.where(mate == END, -1, self.label[np.maximum(mate, 0) >> 1])
        out: Ints = np.bincount(here[here != there], minlength=len(self.price_s))
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Partition:
    """Sets that have to hang together, with one price.

    Attributes
    ----------
    label : (C,) int
        Set of each copy.
    count : int
        How many sets.
    pair_share : (T,) float
        Part of a union that each of the choices' pairs may count for.
    end_share : (V,) float
        The same of each thread end.
    price_s : float
        For a whole union.
    """

    label: Ints
    count: int
    pair_share: Floats
    end_share: Floats
    price_s: float = 0.0


def relief(given: Choices, cuts: list[Cuts], partitions: list[Partition]) -> Relief | None:
    """Return all prices together."""
    if not cuts and not partitions:
        return None
    pair_s, end_s, back_s = np.zeros(len(given.a)), np.zeros(len(given.halves)), 0.0
    for f in cuts:
        a, b = f.label[given.a >> 1], f.label[given.b >> 1]
        pair_s += np.where(a != b, f.price_s[a] + f.price_s[b], 0.0)
        end_s += f.price_s[f.label[given.halves >> 1]]
        back_s += 2 * float(f.price_s.sum())
    for p in partitions:
        pair_s += p.price_s * p.pair_share
        end_s += p.price_s * p.end_share
        back_s += p.price_s * p.count
    return Relief(pair_s, end_s, back_s)


def fresh(given: Choices, pairing: Pairing, known: set[bytes]) -> Cuts | None:
    """Return the closed trails of a pairing that were not seen before, unpriced."""
    trails = closed_trails(given.edges, pairing)
    order = np.argsort(trails, kind="stable")
    label = np.zeros(len(trails), dtype=np.intp)
    count = 0
    for inside in np.split(order, np.flatnonzero(np.diff(trails[order])) + 1):
        key = inside.tobytes()
        if trails[inside[0]] and key not in known:
            known.add(key)
            count += 1
            label[inside] = count
    return Cuts(label, np.zeros(count + 1)) if count else None


def moats(
    given: Choices, pairing: Pairing, prices: Prices, off: Relief | None, levels: int
) -> list[Cuts]:
    """Return nested sets of closed trails with the prices that a spanning tree of joins suggests.

    A join leaves each of its two sets twice, so a quarter of its cost is each set's share.
    """
    label = closed_trails(given.edges, pairing)
    count = int(label.max(initial=0)) + 1
    if count == 1:
        return []
    found = swaps(given, pairing, label)
    joins = tree(found.trails, _cost_s(given, prices, off, found.old, found.new), count)
    out: list[Cuts] = []
    before_s = 0.0
    for stop_s, sets in nested(joins, count, levels):
        price_s = np.full(int(sets.max()) + 1, (stop_s - before_s) / 4)
        price_s[0] = 0.0
        out.append(Cuts(sets[label], price_s))
        before_s = stop_s
    return out


def _cost_s(given: Choices, prices: Prices, off: Relief | None, old: Ints, new: Ints) -> Floats:
    """Return what each swap costs at present prices."""
    pair_s, end_s = given.cost_s, given.end_s
    if off is not None:
        pair_s, end_s = pair_s - off.cost_s, end_s - off.end_s
    out: Floats = prices.of(new, pair_s, end_s).sum(axis=1) - prices.of(old, pair_s, end_s).sum(
        axis=1
    )
    return out


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
        cost_s = _cost_s(given, prices, relief(given, [], out), found.old, found.new)
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


def reprice(cuts: list[Cuts], pairing: Pairing, step: float) -> None:
    """Move the prices of cuts along the subgradient: up where a set is left too seldom."""
    slopes = [2.0 - f.leavings(pairing) for f in cuts]
    for f, slope in zip(cuts, slopes, strict=True):
        slope[0] = 0.0
        slope[(f.price_s <= 0) & (slope < 0)] = 0.0
    total = sum(float((s * s).sum()) for s in slopes)
    if total > 0:
        for f, slope in zip(cuts, slopes, strict=True):
            f.price_s = np.maximum(0.0, f.price_s + step / total * slope)
