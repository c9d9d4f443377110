"""Sets of passes that a solution in fractions leaves less than twice, and sets like a given one.

Every set with something to stitch is left at least twice; there are far too many to demand all.
Which are broken is a question of least cuts: between a pass that must be sewn and the ends of all
threads a solution must carry two units.

Where several strokes close at one node, like petals, a solution may leave out any few of them, and
forbidding these few makes it leave out as many others, here or at the next node.  So all of them
are forbidden together.

References
----------
Padberg and Rinaldi, An efficient algorithm for the minimum capacity cut problem, Mathematical
Programming 47, 1990 (separating subtours by least cuts).
"""

import itertools
import math
from collections.abc import Iterator

import numpy as np

from seamwalk.routing.solve.pairing import Choices
from seamwalk.routing.turning import Bools, Floats

UNIT = 10**6
"""Least cuts are found in whole numbers, this many to a unit."""

MISSING = 0.03
"""Sets that miss less than this of their two leavings are left: rounding."""

MOST_SETS = 500
"""More sets than this make a program slower than they shorten it: with all 840 choices of four
petals on a hundred of stars, routes found in ten seconds were 9 % longer."""


def violated(given: Choices, pairs: Floats, ends: Floats) -> list[Bools]:
    """Return sets of copies with something to stitch that are left less than twice.

    Parameters
    ----------
    given : Choices
        What there is to choose from.
    pairs : (T,) float64
        How much of each pair is chosen, 0 to 1.
    ends : (V,) float64
        The same of each thread end.

    Returns
    -------
    list of (C,) bool
        Disjoint or nested; empty where every set is left twice.
    """
    from scipy.sparse import coo_array, csr_array
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow

    count = len(given.edges.required)
    out = count
    a = np.concatenate([given.a >> 1, given.halves >> 1])
    b = np.concatenate([given.b >> 1, np.full(len(given.halves), out)])
    share = np.rint(UNIT * np.concatenate([pairs, ends])).astype(np.int32)
    there = (share > 0) & (a != b)
    a, b, share = a[there], b[there], share[there]
    network = csr_array(
        coo_array(
            (np.tile(share, 2), (np.concatenate([a, b]), np.concatenate([b, a]))),
            shape=(count + 1, count + 1),
        )
    )
    copies = given.halves >> 1
    found: list[Bools] = []
    known = np.zeros(count, dtype=np.bool_)
    for start in np.unique(copies[given.edges.required[copies]]).tolist():
        if known[start]:
            continue
        flow = maximum_flow(network, start, out)
        if flow.flow_value >= (2 - MISSING) * UNIT:
            continue
        rest = csr_array(network - flow.flow)
        rest.data = np.maximum(rest.data, 0)
        rest.eliminate_zeros()
        inside = np.zeros(count + 1, dtype=np.bool_)
        inside[breadth_first_order(rest, start, return_predecessors=False)] = True
        found.append(inside[:count])
        known |= inside[:count]
    return found


def like(given: Choices, inside: Bools) -> Iterator[Bools]:
    """Yield sets that may take the place of a set of strokes that close at one node.

    Parameters
    ----------
    given : Choices
        What there is to choose from.
    inside : (C,) bool
        The set.  Nothing is like one with other strokes in it, or where there are too many.
    """
    node, required = given.edges.node, given.edges.required
    loops = required & (node[::2] == node[1::2])
    mine = np.flatnonzero(inside)
    at = np.unique(node[2 * mine])
    if not loops[mine].all() or len(at) != 1:
        return
    nodes, many = np.unique(node[2 * np.flatnonzero(loops)], return_counts=True)
    size = int(many[nodes == at[0]][0])
    where = nodes[many == size]
    if len(mine) == size or len(where) * math.comb(size, len(mine)) > MOST_SETS:
        return
    for n in where.tolist():
        here = np.flatnonzero(loops & (node[::2] == n))
        for some in itertools.combinations(here.tolist(), len(mine)):
            chosen = np.zeros(len(required), dtype=np.bool_)
            chosen[list(some)] = True
            yield chosen
