"""The thread every part needs, against the same demand written into the matching itself."""

import dataclasses

import numpy as np
import pytest
from tests.routing.instances import leaves
from tests.routing.test_exactness import tiny

from seamwalk.benchmark.route_tops import route_top
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Network
from seamwalk.routing.graph import network
from seamwalk.routing.solve.matching import Problem, match
from seamwalk.routing.solve.pairing import Choices, choices, pair
from seamwalk.routing.turning import END, half_edges

MACHINE = MachineProfile()


def seated_s(given: Choices) -> float:
    """Return the bound, found with a seat in each part that only a thread end can take.

    Half-edges are even in number, so an end never comes alone.  Solved by rustworkx.
    """
    edges, halves = given.edges, given.halves
    number = np.zeros(len(edges.node), dtype=np.intp)
    number[halves] = np.arange(len(halves))
    firsts = halves[halves % 2 == 0]
    spare = firsts[~edges.required[firsts >> 1]]
    _, part = np.unique(given.part[halves >> 1], return_inverse=True)
    everyone = np.arange(len(halves))
    cost_s = np.concatenate([given.cost_s, np.zeros(len(spare)), given.end_s])
    scale = 2.0**12
    problem = Problem(
        count=len(halves) + int(part.max()) + 1,
        a=np.concatenate([number[given.a], number[spare], everyone]),
        b=np.concatenate([number[given.b], number[spare + 1], len(halves) + part]),
        weight=np.round(cost_s * scale).astype(np.int64),
        open_to=everyone,
        alone=np.round(given.end_s * scale).astype(np.int64),
    )
    chosen = match(problem, "rustworkx")
    met = np.concatenate([problem.a[chosen], problem.b[chosen]])
    left = np.setdiff1d(everyone, met)
    total = problem.weight[chosen].sum() + problem.alone[left].sum()
    return float(edges.sew_s[edges.required].sum() + total / scale)


NETWORKS = {
    **{f"tiny {seed}": tiny(seed) for seed in range(40, 60)},
    **{
        f"{kind} {seed}": network(route_top(kind, 24, seed))
        for kind in ("stars", "block walks", "islands", "irregular", "on point", "lines")
        for seed in (0, 1)
    },
    "leaves": network(leaves(3, 3)),
}


@pytest.mark.parametrize("name", NETWORKS)
def test_bound_equals_that_of_a_matching_with_seats(name: str) -> None:
    given = choices(half_edges(NETWORKS[name], MACHINE), MACHINE)
    found = pair(given)
    assert found.bound_s == pytest.approx(seated_s(given), abs=0.05)
    assert _ends(given, found.mate) >= 2
    assert _cost_s(given, found.mate) == pytest.approx(found.bound_s, abs=0.05)


@pytest.mark.parametrize("name", NETWORKS)
def test_known_prices_give_a_bound_and_a_pairing_with_ends(name: str) -> None:
    given = choices(half_edges(NETWORKS[name], MACHINE), MACHINE)
    first = pair(given)
    assert first.opening_s is not None
    for factor in (0.5, 1.0, 1.5):
        again = pair(given, opening_s=factor * first.opening_s)
        assert again.bound_s <= first.bound_s + 0.05
        assert _ends(given, again.mate) >= 2
        assert _cost_s(given, again.mate) >= first.bound_s - 0.05
    assert pair(given, opening_s=first.opening_s).bound_s == pytest.approx(first.bound_s, abs=0.05)


def test_dear_margin_makes_inner_ends_no_cheaper() -> None:
    """With ends that cost the same everywhere the opening is the same wherever it lies."""
    even = dataclasses.replace(MACHINE, edge_end_s=MACHINE.buried_end_s)
    net: Network = network(leaves(3, 3))
    given = choices(half_edges(net, even), even)
    assert pair(given).bound_s == pytest.approx(seated_s(given), abs=0.05)


def _ends(given: Choices, mate: np.ndarray[tuple[int], np.dtype[np.intp]]) -> int:
    """Return the fewest thread ends that a part has."""
    part = given.part[given.halves >> 1]
    return min(int((mate[given.halves[part == p]] == END).sum()) for p in np.unique(part))


def _cost_s(given: Choices, mate: np.ndarray[tuple[int], np.dtype[np.intp]]) -> float:
    """Return what a pairing comes to, added up from the choices."""
    edges = given.edges
    taken = mate[given.a] == given.b
    ends = mate[given.halves] == END
    sewn = float(edges.sew_s[edges.required].sum())
    return sewn + float(given.cost_s[taken].sum() + given.end_s[ends].sum())
