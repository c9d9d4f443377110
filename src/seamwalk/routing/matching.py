"""The cheapest way to pair all half-edges: a start for the route and a bound under every route.

Every half-edge gets a mate at its node (a transition), or is a thread end, or belongs to a spare
copy that is not sewn, whose two halves are then paired with each other.  A route is such a
pairing, so the cheapest pairing costs at most as much as the cheapest route.  Only one thing is
forgotten: that what is sewn must hang together.  The pairing is a minimum-weight perfect
matching with a boundary, and is found exactly.

Every part of the network that has something to stitch needs one thread with a start and an end;
where the cheapest pairing closes up entirely, it is found again with two seats that only thread
ends can take.

References
----------
Edmonds, Paths, trees, and flowers, Canadian Journal of Mathematics 17, 1965.
Higgott and Gidney, Sparse Blossom: correcting a million errors per core second with
minimum-weight matching, Quantum 9, 2025 (the solver).
"""

import importlib.util
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.turning import Bools, Floats, HalfEdges, Ints, transitions

Solver = Literal["auto", "pymatching", "rustworkx"]

END = -1
"""Mate of a half-edge where a thread starts or stops."""

LARGEST_WEIGHT = 1 << 22
"""Whole-number weights stay below this; the sparse solver is exact up to 2²³ (tested)."""


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """A mate for every half-edge.

    Attributes
    ----------
    mate : (2C,) int
        The half-edge that the thread goes on with, or `END`.  For a copy that is not used: its
        own other half.
    used : (C,) bool
        Copies that are sewn.
    bound_s : float
        No route costs less (stitching, turns at nodes and thread ends; turning the quilt not
        counted), seconds.
    least_threads : int
        No route has fewer threads.
    """

    mate: Ints
    used: Bools
    bound_s: float
    least_threads: int


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """A matching with a boundary, in whole numbers: every vertex gets a partner or stays alone.

    Attributes
    ----------
    a, b : (M,) int
        Vertices that may be paired; no pair twice.
    weight : (M,) int64
        Cost of each pair.
    open_to : (K,) int
        Vertices that may stay alone.
    alone : (K,) int64
        Cost of that.
    count : int
        Number of vertices.
    """

    a: Ints
    b: Ints
    weight: NDArray[np.int64]
    open_to: Ints
    alone: NDArray[np.int64]
    count: int


def pair(
    edges: HalfEdges, machine: MachineProfile, *, solver: Solver = "auto", opening: bool = True
) -> Pairing:
    """Return the cheapest pairing of all half-edges.

    Parameters
    ----------
    edges : HalfEdges
        The passes.
    machine : MachineProfile
        Costs.
    solver : {"auto", "pymatching", "rustworkx"}
        ``auto`` takes PyMatching where it is installed.
    opening : bool
        Count the start and the end that each separate part needs.  False leaves parts that
        close up closed: the least closed tour, connectivity forgotten.

    Returns
    -------
    Pairing
        With its bound.
    """
    part = _parts(edges)
    with_work = np.unique(part[edges.required])
    mate = np.arange(2 * len(part), dtype=np.intp) ^ 1
    used = np.zeros(len(part), dtype=np.bool_)
    share_s = np.zeros(2 * len(part))
    within = np.isin(part, with_work)
    _solve(edges, machine, within, None, solver, (mate, used, share_s))
    if opening:
        closed = np.setdiff1d(with_work, part[np.flatnonzero(mate == END) >> 1])
        if len(closed):
            _solve(edges, machine, np.isin(part, closed), part, solver, (mate, used, share_s))
    bound_s = float(edges.sew_s[edges.required].sum() + share_s.sum())
    return Pairing(mate, used, bound_s, len(with_work))


def _parts(edges: HalfEdges) -> Ints:
    """Return for each copy the number of the connected part of the network it lies in."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n = len(edges.nodes)
    u, v = edges.node[0::2], edges.node[1::2]
    graph = coo_array((np.ones(len(u), dtype=np.int8), (u, v)), shape=(n, n))
    _, of_node = connected_components(graph, directed=False)
    out: Ints = of_node[u].astype(np.intp)
    return out


def _solve(
    edges: HalfEdges,
    machine: MachineProfile,
    within: Bools,
    opened: Ints | None,
    solver: Solver,
    out: tuple[Ints, Bools, Floats],
) -> None:
    """Write the cheapest pairing of the copies `within` into ``out``: mate, used, share_s.

    ``share_s`` (2C,) spreads the cost, without required stitching and never rounded up, over the
    half-edges.  `opened` gives each copy's part (C,) when each part shall have a thread's start
    and end.
    """
    mate, used, share_s = out
    copies = np.flatnonzero(within)
    halves = np.flatnonzero(np.repeat(within, 2))
    if len(halves) == 0:
        return
    number = np.full(len(mate), -1, dtype=np.intp)
    number[halves] = np.arange(len(halves))
    a, b, turn_s = transitions(edges, machine, within)
    # Each half of a spare copy carries half of its stitching.
    half_s = np.repeat(np.where(edges.required, 0.0, edges.sew_s / 2), 2)
    spare = 2 * copies[~edges.required[copies]]
    end_s = edges.end_s[edges.node[halves]] + half_s[halves]
    count = len(halves)
    taker = seat = np.empty(0, dtype=np.intp)
    if opened is not None:
        _, of_half = np.unique(opened[halves >> 1], return_inverse=True)
        taker = np.tile(np.arange(count), 2)
        seat = count + np.concatenate([2 * of_half, 2 * of_half + 1])
        count = int(seat.max()) + 1
    cost_s = np.concatenate([turn_s + half_s[a] + half_s[b], np.zeros(len(spare)), end_s[taker]])
    scale = LARGEST_WEIGHT / (max(cost_s.max(initial=0.0), 2 * end_s.max()) + 1.0)
    problem = _Problem(
        a=np.concatenate([number[a], number[spare], taker]),
        b=np.concatenate([number[b], number[spare + 1], seat]),
        weight=np.floor(cost_s * scale).astype(np.int64),
        open_to=np.arange(len(halves)),
        alone=np.floor(end_s * scale).astype(np.int64),
        count=count,
    )
    if solver == "auto":
        solver = "pymatching" if importlib.util.find_spec("pymatching") else "rustworkx"
    pairs = (_by_pymatching if solver == "pymatching" else _by_rustworkx)(problem)
    partner = np.full(count, END, dtype=np.intp)
    partner[problem.a[pairs]] = problem.b[pairs]
    partner[problem.b[pairs]] = problem.a[pairs]
    share = np.zeros(count, dtype=np.int64)
    share[problem.a[pairs]] = problem.weight[pairs]
    # Seats come after the half-edges; whoever sits there starts or stops a thread.
    partner, share = partner[: len(halves)], share[: len(halves)]
    left = partner == END
    share[left] = problem.alone[left]
    ends = left | (partner >= len(halves))
    mate[halves] = np.where(ends, END, halves[np.where(ends, 0, partner)])
    used[copies] = edges.required[copies] | (mate[2 * copies] != 2 * copies + 1)
    share_s[halves] = share / scale


def _by_pymatching(problem: _Problem) -> Ints:
    """Return the numbers of the chosen pairs.

    The sparse solver finds minimum T-joins; with every vertex in T, and a large weight added to
    every pair (half of it to staying alone), the least T-join is a perfect matching.
    """
    from pymatching import Matching
    from scipy.sparse import csc_array

    n, m, k = problem.count, len(problem.weight), len(problem.open_to)
    large = _large(problem)
    columns = np.concatenate([np.repeat(np.arange(m), 2), m + np.arange(k)])
    rows = np.concatenate([np.stack([problem.a, problem.b], axis=1).reshape(-1), problem.open_to])
    check = csc_array((np.ones(len(rows), dtype=np.uint8), (rows, columns)), shape=(n, m + k))
    weights = np.concatenate([problem.weight + large, problem.alone + large // 2])
    solver = Matching.from_check_matrix(
        check, weights=weights.astype(np.float64), use_virtual_boundary_node=True
    )
    taken = solver.decode(np.ones(n, dtype=np.uint8)).astype(np.bool_)
    chosen = np.flatnonzero(taken[:m])
    met = np.concatenate([problem.a[chosen], problem.b[chosen], problem.open_to[taken[m:]]])
    if not np.all(np.bincount(met, minlength=n) == 1):
        raise RuntimeError("the pairing is not perfect")
    return chosen


def _by_rustworkx(problem: _Problem) -> Ints:
    """Return the numbers of the chosen pairs.

    Staying alone becomes a mirror image: two copies of the graph, each vertex joined to its image
    at twice the cost.  Dense blossom, O(V³): for small tops, and where the sparse solver has no
    build.
    """
    import rustworkx as rx

    n, large = problem.count, _large(problem)
    a, b = problem.a.tolist(), problem.b.tolist()
    gain = (large - problem.weight).tolist()
    graph: rx.PyGraph[int, int] = rx.PyGraph()
    graph.add_nodes_from(range(2 * n))
    graph.add_edges_from(list(zip(a, b, gain, strict=True)))
    graph.add_edges_from([(n + x, n + y, g) for x, y, g in zip(a, b, gain, strict=True)])
    mirrored = zip(problem.open_to.tolist(), (large - 2 * problem.alone).tolist(), strict=True)
    graph.add_edges_from([(v, n + v, g) for v, g in mirrored])
    matched = rx.max_weight_matching(graph, max_cardinality=True, weight_fn=int)
    if len(matched) != n:
        raise RuntimeError("the pairing is not perfect")
    index = {pair: i for i, pair in enumerate(zip(a, b, strict=True))}
    index |= {(y, x): i for (x, y), i in index.items()}
    chosen = [index[x, y] for x, y in matched if x < n and y < n]
    return np.array(sorted(chosen), dtype=np.intp)


def _large(problem: _Problem) -> int:
    """Return an even number above what exchanging one pair for another can add."""
    most = max(problem.weight.max(initial=0), 2 * problem.alone.max(initial=0))
    return 2 * (int(most) // 2 + 1)
