"""Published postman problems: with turns free, only the length walked counts."""

import networkx as nx
import numpy as np
import pytest
import rustworkx as rx
from tests.routing.instances import grid_lines, stroke
from tests.routing.published import END_S, by_lengths, seven_bridges, sleeping_giant, walker

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Network
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.solve.merge import merge
from seamwalk.routing.solve.pairing import choices, pair
from seamwalk.routing.turning import END, half_edges

NEAR = 2e-3
"""Weights are whole numbers of about a ten-thousandth of a second each."""


def closed_length(net: Network, machine: MachineProfile) -> tuple[float, float]:
    """Return the bound on a closed tour, and the length of the one found by merging."""
    edges = half_edges(net, machine)
    pairing = pair(choices(edges, machine, opening=False))
    merged = merge(edges, machine, pairing)
    assert (merged.mate == END).sum() == 2  # cut once
    return pairing.bound_s, float(edges.sew_s[merged.used].sum())


def test_seven_bridges_with_lengths() -> None:
    # postman-problems 0.3, example seven_bridges: 33 required, 39 walked, 6 doubled.
    net = seven_bridges()
    bound, found = closed_length(net, walker())
    assert sum(p.curve.length for p in net.pieces.values()) == pytest.approx(33)
    assert bound == pytest.approx(39, abs=NEAR)
    assert found == pytest.approx(39)


def test_sleeping_giant_chinese_postman() -> None:
    # postman-problems 0.3, tests: 26.01 required, closed tour on the trails alone 33.25.
    net = sleeping_giant(roads=False)
    assert sum(p.curve.length for p in net.pieces.values()) == pytest.approx(2601)
    bound, found = closed_length(net, walker())
    assert bound == pytest.approx(3325, abs=0.05)
    assert found == pytest.approx(3325)


def test_sleeping_giant_rural_postman() -> None:
    # postman-problems 0.3, tests: with the optional ways 32.12.
    bound, found = closed_length(sleeping_giant(roads=True), walker())
    assert bound == pytest.approx(3212, abs=0.05)
    assert found == pytest.approx(3212)


# Unit grids of a × b blocks: edges, repeats of the least closed tour, of the least open trail.
# Exact T-joins computed for the project (design facts, Euler / postman).
GRIDS = [
    (1, 1, 4, 0, 0), (1, 2, 7, 1, 0), (2, 2, 12, 4, 2), (2, 3, 17, 5, 2), (3, 3, 24, 4, 3),
    (3, 4, 31, 7, 4), (4, 4, 40, 8, 6), (4, 5, 49, 9, 6), (5, 5, 60, 8, 7), (5, 6, 71, 11, 8),
    (6, 6, 84, 12, 10), (8, 8, 144, 16, 14),
]  # fmt: skip


@pytest.mark.parametrize(("a", "b", "count", "closed", "opened"), GRIDS)
def test_grid_table(a: int, b: int, count: int, closed: int, opened: int) -> None:
    net = network(grid_lines(a, b, 1.0, ditches=True, required=True))
    assert len(net.pieces) == count
    bound, found = closed_length(net, walker())
    assert bound == pytest.approx(count + closed, abs=NEAR)
    assert found == pytest.approx(count + closed)
    route = plan_route(net, walker())
    assert route.totals.stitched_in == pytest.approx(count + opened)
    assert route.totals.threads == 1
    assert audit(route, walker()).valid


def random_grid(rng: np.random.Generator, n: int) -> list[tuple[str, str, float, bool]]:
    """Return an n × n grid with random whole lengths, some lines left out, most required."""
    lines = []
    for i in range(n):
        for j in range(n):
            for di, dj in ((0, 1), (1, 0)):
                if i + di < n and j + dj < n and (i == 0 or j == 0 or rng.random() < 0.9):
                    length = float(rng.integers(1, 12))
                    want = bool(rng.random() < 0.8)
                    lines.append((f"{i},{j}", f"{i + di},{j + dj}", length, want))
    return lines


@pytest.mark.parametrize("seed", range(6))
def test_t_joins_equal_general_libraries(seed: int) -> None:
    # networkx and rustworkx: matching of odd nodes on shortest paths (Edmonds and Johnson 1973).
    lines = random_grid(np.random.default_rng(seed), 6)
    graph = nx.Graph()
    odd: dict[str, int] = {}
    for a, b, length, want in lines:
        graph.add_edge(a, b, weight=length)
        if want:
            odd[a] = odd.get(a, 0) ^ 1
            odd[b] = odd.get(b, 0) ^ 1
    joined = sorted(n for n, d in odd.items() if d)
    far = dict(nx.all_pairs_dijkstra_path_length(graph))
    complete = nx.Graph()
    complete.add_weighted_edges_from(
        (a, b, far[a][b]) for i, a in enumerate(joined) for b in joined[:i]
    )
    by_networkx = sum(far[a][b] for a, b in nx.min_weight_matching(complete))
    general: rx.PyGraph = rx.PyGraph()
    general.add_nodes_from(joined)
    general.add_edges_from(
        [
            (i, j, 1000 - round(far[joined[i]][joined[j]]))
            for i in range(len(joined))
            for j in range(i)
        ]
    )
    matched = rx.max_weight_matching(general, max_cardinality=True, weight_fn=int)
    by_rustworkx = sum(far[joined[a]][joined[b]] for a, b in matched)
    assert by_networkx == by_rustworkx

    machine = walker()
    edges = half_edges(by_lengths(lines), machine)
    for solver in ("pymatching", "rustworkx"):
        pairing = pair(choices(edges, machine, opening=False), solver=solver)
        extra = pairing.bound_s - float(edges.sew_s[edges.required].sum())
        assert extra == pytest.approx(by_networkx, abs=0.05)
        doubled = float(edges.sew_s[pairing.used & ~edges.required].sum())
        assert doubled == pytest.approx(by_networkx)


@pytest.mark.parametrize("seed", range(12))
def test_eulers_theorem(seed: int) -> None:
    # Euler: a connected figure of 2k odd points takes max(1, k) strokes of the pen.
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 9))
    spots = [(float(x), float(y)) for x, y in rng.uniform(0, 20, (n, 2))]
    pairs = [(i, int(rng.integers(i))) for i in range(1, n)]
    pairs += [tuple(rng.choice(n, 2, replace=False).tolist()) for _ in range(int(rng.integers(9)))]
    degree = np.bincount(np.array(pairs).reshape(-1), minlength=n)
    strokes = [
        stroke(f"m{k}", spots[a], spots[b], rise=0.5 + 0.01 * k) for k, (a, b) in enumerate(pairs)
    ]
    route = plan_route(network(strokes), walker(END_S))
    assert route.totals.threads == max(1, int((degree % 2).sum()) // 2)
    assert route.totals.travel_in == pytest.approx(0, abs=1e-9)
    assert audit(route, walker(END_S)).valid
