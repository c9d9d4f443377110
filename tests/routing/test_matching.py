"""Perfect matching with vertices that may stay alone, against networkx and trying everything."""

import itertools
import math

import networkx as nx
import numpy as np
import pytest

from seamwalk.routing.solve.matching import LARGEST_WEIGHT, Problem, match


def problem(
    count: int, pairs: list[tuple[int, int]], weight: list[int], alone: dict[int, int]
) -> Problem:
    return Problem(
        count=count,
        a=np.array([a for a, _ in pairs], dtype=np.intp),
        b=np.array([b for _, b in pairs], dtype=np.intp),
        weight=np.array(weight, dtype=np.int64),
        open_to=np.array(sorted(alone), dtype=np.intp),
        alone=np.array([alone[v] for v in sorted(alone)], dtype=np.int64),
    )


def weight_of(p: Problem, chosen: np.ndarray) -> int:
    met = np.bincount(np.concatenate([p.a[chosen], p.b[chosen]]), minlength=p.count)
    assert met.max(initial=0) <= 1
    left = np.flatnonzero(met == 0)
    assert set(left.tolist()) <= set(p.open_to.tolist())
    alone = dict(zip(p.open_to.tolist(), p.alone.tolist(), strict=True))
    return int(p.weight[chosen].sum()) + sum(alone[v] for v in left.tolist())


@pytest.mark.parametrize("solver", ["pymatching", "rustworkx"])
@pytest.mark.parametrize("seed", range(8))
def test_large_weights_stay_exact(solver: str, seed: int) -> None:
    # networkx.min_weight_matching on a complete graph; weights as large as they may get.
    rng = np.random.default_rng(seed)
    n = 10
    pairs = list(itertools.combinations(range(n), 2))
    weight = rng.integers(LARGEST_WEIGHT // 8, LARGEST_WEIGHT // 3 - 9, len(pairs)).tolist()
    graph = nx.Graph()
    graph.add_weighted_edges_from((a, b, w) for (a, b), w in zip(pairs, weight, strict=True))
    best = sum(graph[a][b]["weight"] for a, b in nx.min_weight_matching(graph))
    p = problem(n, pairs, weight, {})
    assert p.most + p.large < LARGEST_WEIGHT
    assert weight_of(p, match(p, solver)) == best  # type: ignore[arg-type]


def by_trying(p: Problem) -> int:
    cost = {frozenset(e): w for *e, w in zip(p.a, p.b, p.weight.tolist(), strict=True)}
    alone = dict(zip(p.open_to.tolist(), p.alone.tolist(), strict=True))

    def best(left: tuple[int, ...]) -> float:
        if not left:
            return 0
        v, rest = left[0], left[1:]
        out = alone.get(v, math.inf) + best(rest)
        for i, u in enumerate(rest):
            w = cost.get(frozenset((v, u)))
            if w is not None:
                out = min(out, w + best(rest[:i] + rest[i + 1 :]))
        return out

    return int(best(tuple(range(p.count))))


@pytest.mark.parametrize("solver", ["pymatching", "rustworkx"])
@pytest.mark.parametrize("seed", range(15))
def test_staying_alone_and_negative_weights(solver: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    low = 0 if seed % 2 else -400
    # Cliques chained by single pairs, as half-edges at nodes are chained by spare copies.
    pairs = [
        (4 * k + i, 4 * k + j) for k in range(2) for i, j in itertools.combinations(range(4), 2)
    ]
    pairs += [(3, 4), (0, 7)]
    weight = rng.integers(low, 1000, len(pairs)).tolist()
    p = problem(8, pairs, weight, {v: int(rng.integers(low, 700)) for v in range(8)})
    assert weight_of(p, match(p, solver)) == by_trying(p)  # type: ignore[arg-type]


@pytest.mark.parametrize("solver", ["pymatching", "rustworkx"])
def test_no_perfect_matching_is_an_error(solver: str) -> None:
    p = problem(4, [(0, 1), (0, 2), (0, 3)], [1, 2, 3], {})
    with pytest.raises(RuntimeError, match="perfect"):
        match(p, solver)  # type: ignore[arg-type]
