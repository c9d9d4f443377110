"""The order of threads: from the middle of the top outwards.

Threads are sorted by how far their middle is from the middle of the top, and each is sewn from
the end that lies nearer to where the one before stopped.  Within a thread nothing is changed, so
no cost changes either.
"""

import math
from collections.abc import Sequence

import numpy as np

from seamwalk.geometry.curve import Point
from seamwalk.routing.solve.threads import Walk, reversed_walk
from seamwalk.routing.turning import HalfEdges


def middle_out(threads: Sequence[Walk], edges: HalfEdges, where: Sequence[Point]) -> list[Walk]:
    """Return the threads in the order and direction of sewing.

    Parameters
    ----------
    threads : sequence of Walk
        Half-edges by which copies are entered.
    edges : HalfEdges
        The passes.
    where : sequence of (x, y)
        Position of each node, by number, inches.
    """
    if not threads:
        return []
    xy = np.array(where, dtype=np.float64)
    centre = (xy.min(axis=0) + xy.max(axis=0)) / 2
    ranked = []
    for walk in threads:
        halves = np.array(walk, dtype=np.intp)
        spots = (xy[edges.node[halves]] + xy[edges.node[halves ^ 1]]) / 2
        weight = np.maximum(edges.sew_s[halves >> 1], 1e-9)
        middle = np.average(spots, axis=0, weights=weight)
        ends = sorted((where[edges.node[walk[0]]], where[edges.node[walk[-1] ^ 1]]))
        ranked.append((round(math.dist(middle, centre), 6), ends, walk))
    ranked.sort()
    out: list[Walk] = []
    here = (float(centre[0]), float(centre[1]))
    for _, _, walk in ranked:
        first, last = where[edges.node[walk[0]]], where[edges.node[walk[-1] ^ 1]]
        turned = (math.dist(last, here), last) < (math.dist(first, here), first)
        out.append(reversed_walk(walk) if turned else walk)
        here = first if turned else last
    return out
