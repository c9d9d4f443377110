"""Pairing tile by tile: each small part of a top exactly, all else held as it is.

Exact matching takes more than its share of time on large tops.  Cut into tiles of neighbouring
nodes it takes a quarter of it, and can be stopped after any tile.  What a pairing sews across
the borders of tiles stays; within a tile everything is paired anew.  With other borders the next
time, two sweeps come within about 2 % of the exact pairing.

Without the borders the same tiles give a bound: where a spare copy that crosses a border may be
sewn on one side alone, at half its stitching, no route costs less in any tile.
"""

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from seamwalk.routing.solve.matching import Problem, Solver, match
from seamwalk.routing.solve.odd_ends import least_s
from seamwalk.routing.solve.pairing import Choices, Pairing, scale_of
from seamwalk.routing.turning import END, Bools, Floats, HalfEdges, Ints


def places_of(edges: HalfEdges) -> Floats:
    """Return where each node lies (N, 2), as far as a piece tells; inches."""
    out = np.zeros((len(edges.nodes), 2))
    ends = np.array([(p.curve.start, p.curve.end) for p in edges.pieces], dtype=np.float64)
    of = edges.piece_of
    out[edges.node[0::2]], out[edges.node[1::2]] = ends[of, 0], ends[of, 1]
    return out


def tiles(places: Floats, count: int, shift: float = 0.0) -> Ints:
    """Return the tile (N,) of each node: about `count` tiles of about as many nodes each.

    `places` (N, 2) says where the nodes lie; `shift` moves all borders by this share of a tile.
    """
    x, y = places.T
    n = len(x)
    columns = max(1, round(count**0.5))
    rank = np.empty(n, dtype=np.intp)
    rank[np.lexsort([y, x])] = np.arange(n)
    column = np.floor(rank * columns / n + shift).astype(np.intp)
    order = np.lexsort([x, y, column])
    size = np.bincount(column)
    first = np.cumsum(size) - size
    rank[order] = np.arange(n) - first[column[order]]
    rows = max(1.0, count / columns)
    row = np.floor(rank * rows / n * columns + shift).astype(np.intp)
    out: Ints = np.unique(column * (int(row.max()) + 1) + row, return_inverse=True)[1].reshape(-1)
    return out.astype(np.intp)


def swept(
    given: Choices, pairing: Pairing, tile: Ints, *, solver: Solver, until: float | None
) -> Pairing:
    """Return the pairing with each tile paired anew, or as many as there is time for.

    Parameters
    ----------
    given : Choices
        The task.
    pairing : Pairing
        Any pairing of it.
    tile : (N,) int
        Tile of each node, as `tiles` gives it.
    solver : {"auto", "pymatching", "rustworkx"}
        See `matching.match`.
    until : float or None
        No tile is begun after this time (`time.monotonic`).

    Returns
    -------
    Pairing
        At no more cost, whole numbers of `matching` aside; same bound.
    """
    edges = given.edges
    crossing = _crossing(edges, tile)
    held = np.repeat(pairing.used, 2)
    mate = pairing.mate.copy()
    for part in _parts(given, ~crossing | held, ~crossing, given.end_s, tile):
        if until is not None and time.monotonic() > until:
            break
        chosen = match(part.problem, solver)
        mate[part.halves] = END
        a, b = part.a[chosen], part.b[chosen]
        mate[a], mate[b] = b, a
    used = edges.required | (mate[0::2] != np.arange(1, len(mate), 2))
    return replace(pairing, mate=mate, used=used)


def bounded_s(given: Choices, tile: Ints, *, solver: Solver, until: float | None) -> float:
    """Return what no route costs less than, seconds.

    Parameters are those of `swept`.  In tiles that there is no time for, each half-edge counts by
    itself.
    """
    edges = given.edges
    least = least_s(given)
    crossing = _crossing(edges, tile)
    all_halves = np.ones(len(crossing), dtype=np.bool_)
    # Half of a spare copy may be left out by itself.
    alone_s = np.where(crossing[given.halves], 0.0, given.end_s)
    total_s = float(edges.sew_s[edges.required].sum() + least.sum())
    for part in _parts(given, all_halves, ~crossing, alone_s, tile):
        if until is not None and time.monotonic() > until:
            break
        problem = part.problem
        chosen = match(problem, solver)
        alone = np.ones(problem.count, dtype=np.bool_)
        alone[problem.a[chosen]] = alone[problem.b[chosen]] = False
        weight = int(problem.weight[chosen].sum()) + int(problem.alone[alone].sum())
        total_s += max(0.0, weight / part.scale - float(least[part.halves].sum()))
    return total_s


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """The matching of one tile; `a` and `b` are the half-edges of its pairs."""

    halves: Ints
    a: Ints
    b: Ints
    problem: Problem
    scale: float


def _parts(
    given: Choices, shown: Bools, whole: Bools, alone_s: Floats, tile: Ints
) -> Iterator[_Part]:
    """Yield the matching of each tile.

    Parameters
    ----------
    given : Choices
        The task.
    shown : (2C,) bool
        Half-edges that are paired.
    whole : (2C,) bool
        Half-edges whose copy, if spare, may be left out.
    alone_s : (V,) float
        Cost of staying alone, for each of the choices' half-edges.
    tile : (N,) int
        Tile of each node.
    """
    edges = given.edges
    kept = shown[given.halves]
    halves, alone_s = given.halves[kept], alone_s[kept]
    pairs = shown[given.a] & shown[given.b]
    spare = halves[(halves % 2 == 0) & ~edges.required[halves >> 1] & whole[halves]]
    a = np.concatenate([given.a[pairs], spare])
    b = np.concatenate([given.b[pairs], spare + 1])
    cost_s = np.concatenate([given.cost_s[pairs], np.zeros(len(spare))])
    scale = scale_of(cost_s, alone_s)
    of_half, of_pair = tile[edges.node[halves]], tile[edges.node[a]]
    by_half, by_pair = np.argsort(of_half, kind="stable"), np.argsort(of_pair, kind="stable")
    halves, a, b = halves[by_half], a[by_pair], b[by_pair]
    weight = np.floor(cost_s[by_pair] * scale).astype(np.int64)
    alone = np.floor(alone_s[by_half] * scale).astype(np.int64)
    every = np.arange(int(tile.max()) + 2)
    starts = np.searchsorted(of_half[by_half], every)
    firsts = np.searchsorted(of_pair[by_pair], every).tolist()
    number = np.empty(len(edges.node), dtype=np.intp)
    number[halves] = np.arange(len(halves)) - starts[of_half[by_half]]
    for t in np.flatnonzero(np.diff(starts)).tolist():
        of, at = slice(starts[t], starts[t + 1]), slice(firsts[t], firsts[t + 1])
        count = int(starts[t + 1] - starts[t])
        problem = Problem(
            count, number[a[at]], number[b[at]], weight[at], np.arange(count), alone[of]
        )
        yield _Part(halves[of], a[at], b[at], problem, scale)


def _crossing(edges: HalfEdges, tile: Ints) -> Bools:
    """Return which half-edges (2C,) belong to spare copies from one tile into another."""
    apart = tile[edges.node[0::2]] != tile[edges.node[1::2]]
    out: Bools = np.repeat(apart & ~edges.required, 2)
    return out
