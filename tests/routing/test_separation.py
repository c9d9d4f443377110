"""Sets that a solution leaves less than twice, against least cuts of a general library."""

import networkx as nx
import numpy as np
import pytest

from seamwalk.benchmark.route_tops import route_top
from seamwalk.model.machine import MachineProfile
from seamwalk.routing.graph import network
from seamwalk.routing.solve.exact import proven
from seamwalk.routing.solve.improve import improved
from seamwalk.routing.solve.pairing import Choices, Pairing, choices, pair
from seamwalk.routing.solve.separation import like, violated
from seamwalk.routing.solve.threads import closed_trails
from seamwalk.routing.turning import END, Bools, Floats, half_edges

MACHINE = MachineProfile()


def given(kind: str, strokes: int, seed: int = 0) -> Choices:
    return choices(half_edges(network(route_top(kind, strokes, seed)), MACHINE), MACHINE)


def shares(top: Choices, pairing: Pairing) -> tuple[Floats, Floats]:
    """Return a pairing as pairs and thread ends that are chosen wholly or not at all."""
    used = np.repeat(pairing.used, 2)
    pairs = used[top.a] & used[top.b] & (pairing.mate[top.a] == top.b)
    ends = used[top.halves] & (pairing.mate[top.halves] == END)
    return pairs.astype(np.float64), ends.astype(np.float64)


def least_cut(top: Choices, pairs: Floats, ends: Floats) -> float:
    """Return the least that any set with something to stitch is left (networkx)."""
    graph = nx.Graph()
    for a, b, x in zip(top.a >> 1, top.b >> 1, pairs, strict=True):
        if a != b and x > 0:
            old = graph.get_edge_data(a, b, {"capacity": 0.0})["capacity"]
            graph.add_edge(int(a), int(b), capacity=old + float(x))
    for c, x in zip(top.halves >> 1, ends, strict=True):
        if x > 0:
            old = graph.get_edge_data(int(c), "out", {"capacity": 0.0})["capacity"]
            graph.add_edge(int(c), "out", capacity=old + float(x))
    must = [c for c in np.unique(top.halves >> 1).tolist() if top.edges.required[c]]
    graph.add_nodes_from([*must, "out"])
    return min(nx.minimum_cut_value(graph, c, "out") for c in must)


def leavings(top: Choices, inside: Bools, pairs: Floats, ends: Floats) -> float:
    """Return how often a set of copies is left."""
    across = inside[top.a >> 1] != inside[top.b >> 1]
    return float(pairs[across].sum() + ends[inside[top.halves >> 1]].sum())


@pytest.mark.parametrize("kind", ["stars", "irregular", "islands", "arches"])
def test_closed_trails_are_found_and_nothing_else(kind: str) -> None:
    top = given(kind, 30)
    pairing = pair(top)
    chosen = shares(top, pairing)
    found = violated(top, *chosen)
    assert bool(found) == closed_trails(top.edges, pairing).any()
    assert all(leavings(top, inside, *chosen) < 2 - 1e-6 for inside in found)
    assert all(top.edges.required[inside].any() for inside in found)
    assert bool(found) == (least_cut(top, *chosen) < 2 - 0.05)


@pytest.mark.parametrize("seed", range(6))
def test_fractions_are_cut_as_the_library_cuts_them(seed: int) -> None:
    # Any shares will do: they need not be those of a solution.
    top = given("irregular", 24, seed)
    rng = np.random.default_rng(seed)
    pairs = rng.choice([0.0, 0.25, 0.5, 1.0], len(top.a), p=[0.7, 0.1, 0.1, 0.1])
    ends = rng.choice([0.0, 0.5], len(top.halves), p=[0.9, 0.1])
    found = violated(top, pairs, ends)
    assert bool(found) == (least_cut(top, pairs, ends) < 2 - 1e-6)
    if found:
        worst = min(leavings(top, inside, pairs, ends) for inside in found)
        assert worst == pytest.approx(least_cut(top, pairs, ends), abs=1e-5)


def test_like_a_few_petals_are_as_many_of_any_star() -> None:
    # Combinatorics: 4 of 8 can be chosen in 70 ways, at each of two stars.
    top = given("stars", 16)
    node = top.edges.node
    loops = np.flatnonzero(top.edges.required & (node[::2] == node[1::2]))
    petals = [c for c in loops.tolist() if node[2 * c] == node[2 * loops[0]]]
    inside = np.zeros(len(top.edges.required), dtype=np.bool_)
    inside[petals[:4]] = True
    sets = list(like(top, inside))
    assert len(sets) == len({s.tobytes() for s in sets}) == 2 * 70
    assert any((s == inside).all() for s in sets)
    assert all(s.sum() == 4 for s in sets)
    # A whole star is no choice of petals, and neither are petals of two stars.
    inside[petals] = True
    assert not list(like(top, inside))
    inside[loops] = True
    assert not list(like(top, inside))


def test_stars_are_proven_best() -> None:
    top = given("stars", 16)
    found = improved(top, MACHINE)
    best = proven(top, MACHINE, found, time_limit_s=None)
    assert found.bound_s < 0.999 * found.cost_s
    assert best.cost_s - best.bound_s <= 1e-5 * best.cost_s
