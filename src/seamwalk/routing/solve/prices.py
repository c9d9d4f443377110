"""Prices on leaving sets of passes, for bounds that know that a route hangs together.

Two kinds of fact hold for every route and may be broken by a pairing.

A *cut*: a set of passes with something to stitch is left at least twice.

A *partition*: K sets with something to stitch hang together with the outside (see `partitions`).

A price takes something off each mate that leaves a set, and gives it back as often as the fact
says that it must happen: for any prices the result is a bound (Lagrange relaxation).

References
----------
Held and Karp, The traveling-salesman problem and minimum spanning trees: part II, Mathematical
Programming 1, 1971.
"""

from dataclasses import dataclass

import numpy as np

from seamwalk.routing.solve.nesting import Prices, nested, paths, swaps, tree
from seamwalk.routing.solve.pairing import Choices, Pairing, Relief
from seamwalk.routing.solve.threads import closed_trails
from seamwalk.routing.turning import END, Floats, Ints


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
    given: Choices,
    pairing: Pairing,
    prices: Prices,
    off: Relief | None,
    levels: int,
    *,
    over_ditches: bool = False,
) -> list[Cuts]:
    """Return nested sets of closed trails with the prices that a spanning tree of joins suggests.

    A join leaves each of its two sets twice, so a quarter of its cost is each set's share.  With
    `over_ditches` unused ditches count as joins, at full price whatever is off: for where trails
    share no nodes.
    """
    label = closed_trails(given.edges, pairing)
    count = int(label.max(initial=0)) + 1
    if count == 1:
        return []
    found = swaps(given, pairing, label)
    trails, cost_s = found.trails, swap_cost_s(given, prices, off, found.old, found.new)
    if over_ditches:
        between, there_s = paths(given, pairing, label)
        trails, cost_s = np.concatenate([trails, between]), np.concatenate([cost_s, there_s])
    joins = tree(trails, cost_s, count)
    out: list[Cuts] = []
    before_s = 0.0
    for stop_s, sets in nested(joins, count, levels):
        price_s = np.full(int(sets.max()) + 1, (stop_s - before_s) / 4)
        price_s[0] = 0.0
        out.append(Cuts(sets[label], price_s))
        before_s = stop_s
    return out


def swap_cost_s(
    given: Choices, prices: Prices, off: Relief | None, old: Ints, new: Ints
) -> Floats:
    """Return what each swap costs at present prices."""
    pair_s, end_s = given.cost_s, given.end_s
    if off is not None:
        pair_s, end_s = pair_s - off.cost_s, end_s - off.end_s
    out: Floats = prices.of(new, pair_s, end_s).sum(axis=1) - prices.of(old, pair_s, end_s).sum(
        axis=1
    )
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
