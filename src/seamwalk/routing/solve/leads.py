"""Leads: how a trail that touches nothing else is joined to the ditches.

A ring inside a patch often hangs on leads that may be sewn once only: the path comes in by one
and must go out by another.  Before trails are merged, each closed trail that shares no node with
another and has no ditch to go out and come back on gets the shortest round of unused copies
through one of its nodes.  The round touches the ditches, and there the trail can be merged.
"""

import heapq
import itertools
import math
from dataclasses import replace

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.solve.pairing import Pairing
from seamwalk.routing.solve.threads import Walk, closed_trails
from seamwalk.routing.turning import Costs, HalfEdges


def with_leads(edges: HalfEdges, machine: MachineProfile, pairing: Pairing) -> Pairing:
    """Return the pairing with a round of leads added to each lone closed trail.

    Parameters
    ----------
    edges : HalfEdges
        The passes.
    machine : MachineProfile
        Costs.
    pairing : Pairing
        As `pairing.pair` gives it.

    Returns
    -------
    Pairing
        The same trails, some of them longer.  A trail whose round would cost more than a thread
        of its own stays as it is.
    """
    trail = closed_trails(edges, pairing)
    if not trail.any():
        return pairing
    costs = Costs(edges, machine)
    mate: list[int] = pairing.mate.tolist()
    used: list[bool] = pairing.used.tolist()
    at: list[list[int]] = [[] for _ in edges.nodes]
    for h, v in enumerate(costs.node):
        at[v].append(h)
    number: list[int] = trail.tolist()
    places: dict[int, set[int]] = {}
    for v, halves in enumerate(at):
        for t in {number[h >> 1] for h in halves if used[h >> 1]}:
            places.setdefault(t, set()).add(v)
    piece_of: list[int] = edges.piece_of.tolist()
    shared = {
        v
        for v, halves in enumerate(at)
        if len({number[h >> 1] for h in halves if used[h >> 1]}) > 1
    }
    for t in range(1, int(trail.max()) + 1):
        if places[t] & shared:
            continue
        best: tuple[float, Walk, tuple[int, int]] | None = None
        limit = min(2 * costs.end_s[v] for v in places[t])
        for v in sorted(places[t]):
            spare = [h for h in at[v] if not used[h >> 1]]
            if len({piece_of[h >> 1] for h in spare}) < len(spare):
                best = None
                break
            for h in spare:
                walk = _round(h, at, used, costs, limit)
                if not walk:
                    continue
                sewn = sum(costs.sew_s[g >> 1] for g in walk)
                sewn += sum(costs.turn(a ^ 1, b) for a, b in itertools.pairwise(walk))
                for a in at[v]:
                    b = mate[a]
                    if used[a >> 1]:
                        turns = costs.turn(a, walk[0]) + costs.turn(walk[-1] ^ 1, b)
                        cost = sewn + turns - costs.turn(a, b)
                        if cost < limit and (best is None or cost < best[0] - 1e-9):
                            best = (cost, walk, (a, b))
        if best is not None:
            _, walk, (a, b) = best
            for h in walk:
                used[h >> 1] = True
            line = [a, *(g for h in walk for g in (h, h ^ 1)), b]
            for x, y in zip(line[::2], line[1::2], strict=True):
                mate[x], mate[y] = y, x
    return replace(
        pairing,
        mate=np.array(mate, dtype=np.intp),
        used=np.array(used, dtype=np.bool_),
    )


def _round(
    first: int, at: list[list[int]], used: list[bool], costs: Costs, limit_s: float
) -> Walk:
    """Return the shortest closed walk over unused copies that leaves by half-edge `first`.

    Each copy once; empty when there is none below `limit_s`.
    """
    home = costs.node[first]
    start = costs.node[first ^ 1]
    far: dict[int, float] = {start: costs.sew_s[first >> 1]}
    came: dict[int, int] = {}
    queue = [(far[start], start)]
    while queue:
        d, v = heapq.heappop(queue)
        if d > far[v] or d >= limit_s:
            continue
        if v == home:
            walk = []
            while v != start:
                walk.append(came[v])
                v = costs.node[came[v]]
            return [first, *reversed(walk)]
        for h in at[v]:
            if used[h >> 1] or h >> 1 == first >> 1:
                continue
            w, total = costs.node[h ^ 1], d + costs.sew_s[h >> 1]
            if total < far.get(w, math.inf) - 1e-9:
                far[w], came[w] = total, h
                heapq.heappush(queue, (total, w))
    return []
