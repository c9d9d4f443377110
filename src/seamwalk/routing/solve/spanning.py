"""Stitching that lies apart: joined along a spanning tree of ditches and paired again.

What the cheapest pairing sews may fall into islands with unsewn ditches between.  Merging joins
two islands by a ditch there and back, twice the length of a tree.  Here the tree is taken as sewn
once and everything is paired anew, so that odd ends find the cheapest way to one another.

References
----------
Christofides, Worst-case analysis of a new heuristic for the travelling salesman problem, report
388, Carnegie Mellon University, 1976.  Frederickson, Approximation algorithms for some postman
problems, Journal of the ACM 26, 1979 (stitching that must be done as islands).  Mehlhorn, A
faster approximation algorithm for the Steiner problem in graphs, Information Processing Letters
27, 1988 (paths between islands).
"""

import heapq
import math
from dataclasses import replace

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.pairing import Choices, Pairing, choices, pair
from seamwalk.routing.turning import HalfEdges, Ints


def spanned(
    given: Choices, machine: MachineProfile, pairing: Pairing, *, solver: Solver = "auto"
) -> Pairing | None:
    """Return a pairing that hangs together, or None where `pairing` does so already.

    Parameters
    ----------
    given : Choices
        The task.
    machine : MachineProfile
        Costs.
    pairing : Pairing
        Of the task, as `pairing.pair` gives it.
    solver : {"auto", "pymatching", "rustworkx"}
        See `matching.match`.

    Returns
    -------
    Pairing
        With the same bound.
    """
    task = linked(given, machine, pairing)
    if task is None:
        return None
    found = pair(task, solver=solver, opening_s=pairing.opening_s)
    return replace(found, bound_s=pairing.bound_s, opening_s=pairing.opening_s)


def linked(given: Choices, machine: MachineProfile, pairing: Pairing) -> Choices | None:
    """Return the task with a tree to be sewn as well, None where all hangs together already."""
    links = _tree(given.edges, pairing)
    if not len(links):
        return None
    required = given.edges.required.copy()
    required[links] = True
    return choices(replace(given.edges, required=required), machine, opening=given.opening)


def island_count(edges: HalfEdges, pairing: Pairing) -> int:
    """Return into how many pieces what a pairing sews falls."""
    island = _islands(edges, pairing)
    return len(np.unique(island[island >= 0]))


def _tree(edges: HalfEdges, pairing: Pairing) -> Ints:
    """Return unused copies that join all islands, at the least length.

    Of equally short trees the one that is most like a comb is taken, all lines one way and one
    line across: it has few odd ends.
    """
    u, v = edges.node[0::2], edges.node[1::2]
    island = _islands(edges, pairing)
    free = np.flatnonzero(~pairing.used & ~edges.required)
    free = free[np.sort(np.unique(edges.piece_of[free], return_index=True)[1])]
    far, source, way = _reached(edges, island, free)
    between = free[(source[u[free]] != source[v[free]]) & (source[u[free]] >= 0)]
    between = between[source[v[between]] >= 0]
    total = far[u[between]] + edges.sew_s[between] + far[v[between]]
    lies = edges.lies_deg[2 * between] % 180
    # Nodes are numbered by place, so the line across is the one nearest to one side of the top.
    place = np.minimum(u[between], v[between])
    order = np.lexsort([place, np.round(np.minimum(lies, 180 - lies) / 45), np.round(total, 2)])
    parent = list(range(len(edges.nodes)))

    def root(x: int) -> int:
        while parent[x] != x:
            parent[x] = parent[parent[x]]
            x = parent[x]
        return x

    taken: set[int] = set()
    for c in between[order].tolist():
        ends = int(u[c]), int(v[c])
        one, other = (root(int(source[x])) for x in ends)
        if one == other:
            continue
        parent[one] = other
        taken.add(c)
        for x in ends:
            while way[x] >= 0:
                k = int(way[x])
                taken.add(k)
                x = int(u[k] if v[k] == x else v[k])
    return np.array(sorted(taken), dtype=np.intp)


def _islands(edges: HalfEdges, pairing: Pairing) -> Ints:
    """Return the island (N,) of each node that something sewn touches, −1 elsewhere."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n = len(edges.nodes)
    u, v = edges.node[0::2][pairing.used], edges.node[1::2][pairing.used]
    graph = coo_array((np.ones(len(u), dtype=np.int8), (u, v)), shape=(n, n))
    label: Ints = connected_components(graph, directed=False)[1].astype(np.intp)
    out = np.full(n, -1, dtype=np.intp)
    out[u], out[v] = label[u], label[v]
    return out


def _reached(
    edges: HalfEdges, island: Ints, free: Ints
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], Ints, Ints]:
    """Return for each node its nearest island over free copies: how far, which, and by which copy.

    −1 where there is none, and no copy within an island.
    """
    n = len(edges.nodes)
    near: list[list[tuple[int, int, float]]] = [[] for _ in range(n)]
    u, v = edges.node[2 * free].tolist(), edges.node[2 * free + 1].tolist()
    for c, x, y, cost_s in zip(free.tolist(), u, v, edges.sew_s[free].tolist(), strict=True):
        near[x].append((y, c, cost_s))
        near[y].append((x, c, cost_s))
    far = [math.inf] * n
    source = island.tolist()
    way = [-1] * n
    queue = []
    for x in np.flatnonzero(island >= 0).tolist():
        far[x] = 0.0
        queue.append((0.0, x))
    while queue:
        d, x = heapq.heappop(queue)
        if d > far[x]:
            continue
        for y, c, cost_s in near[x]:
            if d + cost_s < far[y] - 1e-9:
                far[y], source[y], way[y] = d + cost_s, source[x], c
                heapq.heappush(queue, (far[y], y))
    return np.array(far), np.array(source, dtype=np.intp), np.array(way, dtype=np.intp)
