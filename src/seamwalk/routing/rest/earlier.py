"""What an earlier route has left to sew, and routes that stay close to it.

A rest that keeps most joints of the earlier route keeps its order too: lines from edge to edge
stay lines, and she finds her way in it.  So each joint and each thread end of the earlier route
is made cheaper in the pairing, and what then comes out differs only where that gains more.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Begun, Thread
from seamwalk.routing.rest.edges import parted
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.pairing import Choices, Relief, pair
from seamwalk.routing.solve.threads import Walk, reversed_walk
from seamwalk.routing.solve.whole import merged
from seamwalk.routing.turning import END, Bools, Costs, HalfEdges


@dataclass(frozen=True, slots=True)
class Earlier:
    """What an earlier route has left.

    Attributes
    ----------
    walks : list of Walk
        Its threads, the running one first.  Legs beyond the passes that are left are dropped,
        which may part a thread in two.
    ends : frozenset of int
        Half-edges where its threads start or end as planned.
    whole : bool
        Everything that must be sewn is in it.
    """

    walks: list[Walk]
    ends: frozenset[int]
    whole: bool


def earlier_rest(
    threads: Sequence[Thread], edges: HalfEdges, stub: int | None, begun: Begun, must: Bools
) -> Earlier:
    """Return the threads of an earlier route as walks over the passes that are left."""
    number = {p.id: i for i, p in enumerate(edges.pieces)}
    free: list[list[int]] = [[] for _ in edges.pieces]
    for c in reversed(range(len(edges.piece_of))):
        free[edges.piece_of[c]].append(c)
    walks: list[Walk] = []
    ends: set[int] = set()
    for thread in threads:
        walk: Walk = []
        for k, leg in enumerate(thread.legs):
            copies = free[number[leg.piece]]
            h = 2 * copies.pop() + leg.reverse if copies else None
            if walk and (h is None or edges.node[walk[-1] ^ 1] != edges.node[h]):
                walks.append(walk)
                walk = []
            if h is not None:
                walk.append(h)
                ends |= {h} if k == 0 else set()
                ends |= {h ^ 1} if k == len(thread.legs) - 1 else set()
        if walk:
            walks.append(walk)
    sewn = np.zeros(len(must), dtype=np.bool_)
    sewn[[h >> 1 for walk in walks for h in walk]] = True
    if stub is not None:
        needle = edges.nodes.index(begun.needle)
        first = next((w for w in walks if edges.node[w[0]] == needle), None)
        if first is not None:
            walks.remove(first)
            ends -= {first[0]}
        walks.insert(0, [2 * stub, *(first or ())])
    return Earlier(walks, frozenset(ends), bool(sewn[must].all()))


def close_to(
    earlier: Earlier,
    given: Choices,
    machine: MachineProfile,
    stub: int | None,
    *,
    stay_s: float,
    solver: Solver = "auto",
) -> list[Walk]:
    """Return a rest that differs from the earlier one only where a joint gains over `stay_s`."""
    mate = np.full(len(given.edges.node), END - 1, dtype=np.intp)
    for walk in earlier.walks:
        for a, b in itertools.pairwise(walk):
            mate[a ^ 1], mate[b] = b, a ^ 1
    mate[list(earlier.ends)] = END
    relief = Relief(
        cost_s=np.where(mate[given.a] == given.b, stay_s, 0.0),
        end_s=np.where(mate[given.halves] == END, stay_s, 0.0),
        back_s=0.0,
    )
    costs = Costs(given.edges, machine)
    walks = merged(given.edges, machine, pair(given, relief=relief, solver=solver), costs)
    return _in_order(walks, earlier, given.edges, stub)


def _in_order(
    walks: Sequence[Walk], earlier: Earlier, edges: HalfEdges, stub: int | None
) -> list[Walk]:
    """Return the threads in the order and the direction of the earlier ones."""
    place: dict[int, tuple[int, int]] = {}
    legs = [h for walk in earlier.walks for h in walk]
    for at, h in enumerate(legs):
        place.setdefault(int(edges.piece_of[h >> 1]), (at, h & 1))
    running, others = parted(walks, stub)
    ranked = []
    for walk in others:
        known = [(h & 1, place[p]) for h in walk if (p := int(edges.piece_of[h >> 1])) in place]
        against = sum(1 if way != was else -1 for way, (_, was) in known)
        first = min((at for _, (at, _) in known), default=len(legs))
        ranked.append((first, walk[0], reversed_walk(walk) if against > 0 else walk))
    out = [walk for _, _, walk in sorted(ranked)]
    return out if stub is None else [[2 * stub, *running], *out]
