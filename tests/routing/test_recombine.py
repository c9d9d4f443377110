"""Exchanges between pairings, and windows solved exactly."""

import functools

import numpy as np
import pytest
from tests.routing.instances import arches, leaves, rounds

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.graph import network
from seamwalk.routing.solve.improve import improved
from seamwalk.routing.solve.layout import Layout, Mates, exchanged
from seamwalk.routing.solve.pairing import Choices, Pairing, choices, pair
from seamwalk.routing.solve.recombine import recombined
from seamwalk.routing.solve.threads import paired, walks
from seamwalk.routing.solve.windows import windowed
from seamwalk.routing.turning import END, Costs, half_edges

MACHINE = MachineProfile()

TOPS = {
    "arches": arches(6, 6),
    "leaves": leaves(5, 5),
    "rounds": rounds(40, np.random.default_rng(2)),
}


@functools.cache
def solved(name: str) -> tuple[Choices, Costs, Pairing]:
    """Return what can be chosen on a top, its costs, and a good route."""
    given = choices(half_edges(network(TOPS[name]), MACHINE), MACHINE)
    found = improved(given, MACHINE)
    return given, Costs(given.edges, MACHINE), paired(found.walks, given.edges, found.bound_s)


def cost_s(costs: Costs, route: Pairing) -> float:
    """Return the seconds of a route; a closed trail raises ValueError."""
    return sum(costs.thread(walk) for walk in walks(route))


def swaps(given: Choices, route: Pairing, rng: np.random.Generator, count: int) -> list[Mates]:
    """Return random swaps of mates at nodes, each of two pairs or of a pair and an end."""
    out: list[Mates] = []
    sewn = np.flatnonzero(np.repeat(route.used, 2))
    while len(out) < count:
        a = int(rng.choice(sewn))
        here = sewn[given.edges.node[sewn] == given.edges.node[a]]
        c = int(rng.choice(here))
        b, d = int(route.mate[a]), int(route.mate[c])
        if c not in (a, b) and b != END:
            new = {a: c, c: a, b: d}
            out.append(new if d == END else new | {d: b})
    return out


def is_open(route: Pairing) -> bool:
    """Return whether every trail has two ends, by walking all of them."""
    try:
        walks(route)
    except ValueError:
        return False
    return True


@pytest.mark.parametrize("name", TOPS)
def test_a_layout_tells_what_is_closed(name: str) -> None:
    given, _, route = solved(name)
    layout = Layout(given.edges, route)
    rng = np.random.default_rng(1)
    seen = set()
    for group in range(60):
        mates: Mates = {}
        for new in swaps(given, route, rng, 1 + group % 4):
            if mates.keys().isdisjoint(new):
                mates |= new
        closed = bool(layout.closed(mates))
        assert closed != is_open(exchanged(given.edges, route, mates))
        seen.add(closed)
    assert seen == {True, False}


@pytest.mark.parametrize("name", TOPS)
def test_what_is_closed_is_opened_by_a_swap(name: str) -> None:
    given, costs, route = solved(name)
    layout = Layout(given.edges, route)
    at: list[list[int]] = [[] for _ in given.edges.nodes]
    for h, v in enumerate(given.edges.node.tolist()):
        at[v].append(h)
    opened = 0
    for mates in swaps(given, route, np.random.default_rng(4), 40):
        if layout.closed(mates):
            better = layout.opened(mates, at, costs, 1000.0)
            assert better is not None
            whole = exchanged(given.edges, route, better)
            assert is_open(whole)
            # Swapping back is one way to open it.
            assert cost_s(costs, whole) <= cost_s(costs, route) + 1e-6
            opened += 1
            assert layout.opened(mates, at, costs, -1000.0) is None
    assert opened


def damaged(given: Choices, costs: Costs, route: Pairing, nodes: np.ndarray, seed: int) -> Pairing:
    """Return the route with dearer mates at some nodes, still without closed trails."""
    rng = np.random.default_rng(seed)
    out, taken = route, set()
    for new in swaps(given, route, rng, 120):
        v = int(given.edges.node[min(new)])
        # One swap a node, so that each can be taken back by itself.
        if nodes[v] and v not in taken:
            worse = exchanged(given.edges, out, new)
            if is_open(worse) and cost_s(costs, worse) > cost_s(costs, out) + 0.1:
                out = worse
                taken.add(v)
    return out


@pytest.mark.parametrize("name", TOPS)
def test_two_routes_good_in_different_places_make_one_good_in_both(name: str) -> None:
    given, costs, route = solved(name)
    left = np.arange(len(given.edges.nodes)) < len(given.edges.nodes) // 2
    one, two = (damaged(given, costs, route, side, 5) for side in (left, ~left))
    best = cost_s(costs, route)
    assert min(cost_s(costs, one), cost_s(costs, two)) > best + 5
    assert cost_s(costs, recombined(given.edges, costs, one, two)) <= best + 1e-6
    # Nothing is taken from a route that is nowhere better.
    assert recombined(given.edges, costs, route, route) is route
    assert cost_s(costs, recombined(given.edges, costs, route, one)) <= best + 1e-6


@pytest.mark.parametrize("name", TOPS)
def test_recombining_with_a_pairing_that_falls_apart_keeps_it_whole(name: str) -> None:
    given, costs, route = solved(name)
    worse = damaged(given, costs, route, np.ones(len(given.edges.nodes), dtype=np.bool_), 6)
    mixed = recombined(given.edges, costs, worse, pair(given))
    assert is_open(mixed)
    assert cost_s(costs, mixed) < cost_s(costs, worse)


@pytest.mark.parametrize("name", TOPS)
def test_windows_repair_what_was_damaged(name: str) -> None:
    given, costs, route = solved(name)
    worse = damaged(given, costs, route, np.ones(len(given.edges.nodes), dtype=np.bool_), 7)
    mended = windowed(given, costs, worse, route)
    assert is_open(mended)
    assert (mended.used | ~given.edges.required).all()
    lost = cost_s(costs, worse) - cost_s(costs, route)
    assert lost > 5
    # Each window is solved exactly, but what needs two of them at once stays.
    assert cost_s(costs, mended) <= cost_s(costs, route) + 0.3 * lost
    assert windowed(given, costs, route, route) is route
