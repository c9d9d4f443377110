"""Minimum-weight perfect matching where some vertices may stay alone.

Two exact solvers stand behind one function: PyMatching (sparse blossom), near linear on the
sparse graphs of stitching, and rustworkx (dense blossom), for platforms without a build of it.

References
----------
Edmonds, Paths, trees, and flowers, Canadian Journal of Mathematics 17, 1965.
Higgott and Gidney, Sparse Blossom: correcting a million errors per core second with
minimum-weight matching, Quantum 9, 2025.
"""

import importlib.util
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Solver = Literal["auto", "pymatching", "rustworkx"]
Ints = NDArray[np.intp]

LARGEST_WEIGHT = 1 << 23
"""Whole-number weights, the solver's own large number included, stay below this: the sparse
solver is exact up to here (tested)."""


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """A matching in whole numbers: every vertex gets a partner or stays alone.

    Attributes
    ----------
    count : int
        Number of vertices.
    a, b : (M,) int
        Vertices that may be paired; no pair twice.
    weight : (M,) int64
        Cost of each pair; may be negative.
    open_to : (K,) int
        Vertices that may stay alone.
    alone : (K,) int64
        Cost of that; may be negative.
    """

    count: int
    a: Ints
    b: Ints
    weight: NDArray[np.int64]
    open_to: Ints
    alone: NDArray[np.int64]

    @property
    def large(self) -> int:
        """An even number above what exchanging pairs for others can add."""
        return int(large_for(self.weight.min(initial=0), self.alone.min(initial=0), self.most))

    @property
    def most(self) -> int:
        """The greatest weight of a pair, or of two vertices that stay alone, by amount."""
        pairs = np.abs(self.weight).max(initial=0)
        return int(max(pairs, 2 * np.abs(self.alone).max(initial=0)))


def large_for(least_pair: float, least_alone: float, most: float) -> float:
    """Return what must be added to each pair (half of it to staying alone), even.

    Three pairs at one vertex must always cost more than one pair and what the other two vertices
    do without it: one weight where none is negative, four where some are.
    """
    times = 1 if min(least_pair, least_alone) >= 0 else 4
    return 2 * (times * most // 2 + 1)


def match(problem: Problem, solver: Solver = "auto") -> Ints:
    """Return the numbers (P,) of the pairs in a perfect matching of least weight.

    Vertices in none of them stay alone.

    Parameters
    ----------
    problem : Problem
        With a perfect matching.
    solver : {"auto", "pymatching", "rustworkx"}
        ``auto`` takes PyMatching where it is installed.

    Raises
    ------
    RuntimeError
        If there is no perfect matching.
    """
    if solver == "auto":
        solver = "pymatching" if importlib.util.find_spec("pymatching") else "rustworkx"
    return (_by_pymatching if solver == "pymatching" else _by_rustworkx)(problem)


def _by_pymatching(problem: Problem) -> Ints:
    """Return the numbers of the chosen pairs.

    The sparse solver finds minimum T-joins; with every vertex in T, and a large weight added to
    every pair (half of it to staying alone), the least T-join is a perfect matching.
    """
    from pymatching import Matching
    from scipy.sparse import csc_matrix

    n, m, k = problem.count, len(problem.weight), len(problem.open_to)
    large = problem.large
    # A column for each pair (two rows) and for each vertex that may stay alone (one row).
    rows = np.empty(2 * m + k, dtype=np.int32)
    rows[0 : 2 * m : 2], rows[1 : 2 * m : 2], rows[2 * m :] = problem.a, problem.b, problem.open_to
    starts = np.minimum(
        np.arange(0, 2 * (m + k + 1), 2, dtype=np.int32),
        np.arange(m, 2 * m + k + 1, dtype=np.int32),
    )
    weights = np.empty(m + k)
    weights[:m], weights[m:] = problem.weight + large, problem.alone + large // 2
    solver = Matching.from_check_matrix(
        csc_matrix((np.ones(len(rows), dtype=np.uint8), rows, starts), shape=(n, m + k)),
        weights=weights,
        # Which pair was taken is known from its vertices; naming them all would cost memory.
        faults_matrix=csc_matrix((1, m + k), dtype=np.uint8),
        use_virtual_boundary_node=True,
    )
    matched = solver.decode_to_matched_dets_array(np.ones(n, dtype=np.uint8))
    partner = np.full(n, -1, dtype=np.intp)
    first, second = matched[matched[:, 1] >= 0].T
    partner[first], partner[second] = second, first
    chosen = np.flatnonzero(partner[problem.a] == problem.b)
    left = problem.open_to[partner[problem.open_to] < 0]
    met = np.concatenate([problem.a[chosen], problem.b[chosen], left])
    if not np.all(np.bincount(met, minlength=n) == 1):
        raise RuntimeError("the pairing is not perfect")
    return chosen


def _by_rustworkx(problem: Problem) -> Ints:
    """Return the numbers of the chosen pairs.

    Staying alone becomes a mirror image: two copies of the graph, each vertex joined to its image
    at twice the cost.  Dense blossom, O(V³): for small tops, and where the sparse solver has no
    build.
    """
    import rustworkx as rx

    n, large = problem.count, problem.large
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
