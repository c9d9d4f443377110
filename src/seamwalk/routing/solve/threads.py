"""Threads as walks over half-edges, rid of travel that serves nothing.

A walk is a list of half-edges, each the one by which a copy is entered: the thread leaves
``node[h]`` along h and arrives at ``node[h ^ 1]``.
"""

from collections import Counter

import numpy as np

from seamwalk.routing.solve.pairing import Pairing
from seamwalk.routing.turning import END, Costs, HalfEdges, Ints

Walk = list[int]


def walks(pairing: Pairing) -> list[Walk]:
    """Return the threads of a pairing without closed trails, each from one end to the other.

    Raises
    ------
    ValueError
        If some trail is closed.
    """
    mate: list[int] = pairing.mate.tolist()
    used: list[bool] = pairing.used.tolist()
    seen = [False] * len(used)
    out: list[Walk] = []
    for h in range(len(mate)):
        if used[h >> 1] and mate[h] == END and not seen[h >> 1]:
            walk = []
            g = h
            while g != END:
                walk.append(g)
                seen[g >> 1] = True
                g = mate[g ^ 1]
            out.append(walk)
    if seen != used:
        raise ValueError("some trail is closed")
    return out


def paired(found: list[Walk], edges: HalfEdges, bound_s: float) -> Pairing:
    """Return threads as a pairing: the reverse of `walks`."""
    mate = np.arange(len(edges.node), dtype=np.intp) ^ 1
    used = np.zeros(len(edges.required), dtype=np.bool_)
    for walk in found:
        h = np.array(walk, dtype=np.intp)
        used[h >> 1] = True
        mate[h[0]] = mate[h[-1] ^ 1] = END
        mate[h[1:]], mate[h[:-1] ^ 1] = h[:-1] ^ 1, h[1:]
    return Pairing(mate, used, bound_s)


def closed_trails(edges: HalfEdges, pairing: Pairing) -> Ints:
    """Return the closed trail (C,) that each copy belongs to, from 1; 0 for all others.

    Only trails with something to stitch count.  An unused pass of a piece goes with the pass
    that is sewn, so that passes, which are alike, do not stand for one another.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n = len(pairing.used)
    h = np.flatnonzero(np.repeat(pairing.used, 2))
    mate = pairing.mate[h]
    # The outside is one more member, so that what remains apart from it is closed.
    there = np.where(mate == END, n, np.maximum(mate, 0) >> 1)
    graph = coo_array((np.ones(len(h), dtype=np.int8), (h >> 1, there)), shape=(n + 1, n + 1))
    _, trail = connected_components(graph, directed=False)
    closed = pairing.used & (trail[:n] != trail[n])
    of_piece = np.full(len(edges.pieces), -1)
    of_piece[edges.piece_of[closed]] = trail[:n][closed]
    home = np.where(pairing.used, np.where(closed, trail[:n], -1), of_piece[edges.piece_of])
    wanted = np.unique(home[(home >= 0) & edges.required])
    number = np.zeros(n + 2, dtype=np.intp)
    number[wanted] = np.arange(1, len(wanted) + 1)
    out: Ints = np.where(home >= 0, number[home], 0)
    return out


def reversed_walk(walk: Walk) -> Walk:
    """Return the same thread sewn from its other end."""
    return [h ^ 1 for h in reversed(walk)]


def tidied(found: list[Walk], edges: HalfEdges, costs: Costs) -> list[Walk]:
    """Return the threads without travel that costs more than it saves.

    Travel at the start or the end of a thread is dropped unless it leads to a cheaper end, and
    a round of travel from a node back to it is dropped unless it spares a turn.
    """
    piece_of: list[int] = edges.piece_of.tolist()
    wanted = [p.stroke.required for p in edges.pieces]
    passes = Counter(piece_of[h >> 1] for walk in found for h in walk)

    def is_travel(h: int) -> bool:
        p = piece_of[h >> 1]
        return not wanted[p] or passes[p] > 1

    def may_go(span: Walk) -> bool:
        lost = Counter(piece_of[h >> 1] for h in span)
        return all(not wanted[p] or passes[p] > n for p, n in lost.items())

    out = []
    for walk in found:
        at = 0
        while at < len(walk):
            if not is_travel(walk[at]):
                at += 1
                continue
            stop = at
            while stop < len(walk) and is_travel(walk[stop]):
                stop += 1
            gains = sorted(
                (costs.detour(walk, lo, hi), lo, hi) for lo, hi in _spans(walk, at, stop, costs)
            )
            found_gain = next(
                (g for g in reversed(gains) if g[0] > 1e-9 and may_go(walk[g[1] : g[2]])), None
            )
            if found_gain is None:
                at = stop
                continue
            _, lo, hi = found_gain
            passes.subtract(piece_of[h >> 1] for h in walk[lo:hi])
            walk = walk[:lo] + walk[hi:]
            # What was travel may be the only pass now, and a new round may have closed.
            at = min(at, lo)
            while at > 0 and is_travel(walk[at - 1]):
                at -= 1
        if walk:
            out.append(walk)
    return out


def _spans(walk: Walk, start: int, stop: int, costs: Costs) -> list[tuple[int, int]]:
    """Return the (lo, hi) within the travel `start` to `stop` that could be left out."""
    node = costs.node
    places = [node[h] for h in walk[start:stop]] + [node[walk[stop - 1] ^ 1]]
    spans = []
    by_place: dict[int, list[int]] = {}
    for i, place in enumerate(places, start=start):
        spans += [(lo, i) for lo in by_place.get(place, ())]
        by_place.setdefault(place, []).append(i)
    if start == 0:
        spans += [(0, i) for i in range(1, stop + 1)]
    if stop == len(walk):
        spans += [(i, stop) for i in range(start, stop)]
    return spans
