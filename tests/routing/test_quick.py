"""Quick routes, for limits too short for the exact pairing: valid, and their bound is one.

Expectations come from the audit, from the exact pairing (PyMatching), and on tiny networks from
trying everything; where the limits of tiles lie is our own choice (no source).
"""

import time
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from tests.routing.small import optimum
from tests.routing.test_exactness import tiny

from seamwalk.benchmark.route_tops import KINDS, route_top
from seamwalk.model.machine import MachineProfile
from seamwalk.model.order import OrderWish
from seamwalk.model.route import Route
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.solve.improve import improved
from seamwalk.routing.solve.odd_ends import evened
from seamwalk.routing.solve.pairing import Choices, choices, pair
from seamwalk.routing.solve.quick import DEFAULT, QuickSettings, is_too_long, quick_route
from seamwalk.routing.solve.tiles import bounded_s, places_of, swept, tiles
from seamwalk.routing.turning import END, Costs, half_edges

MACHINE = MachineProfile()


def task(kind: str, strokes: int) -> Choices:
    return choices(half_edges(network(route_top(kind, strokes)), MACHINE), MACHINE)


def legs(route: Route) -> list[tuple[str, bool]]:
    return [(leg.piece, leg.reverse) for thread in route.threads for leg in thread.legs]


@pytest.mark.parametrize("kind", KINDS)
def test_no_time_gives_a_whole_route_with_its_bound(kind: str) -> None:
    given = task(kind, 600)
    assert is_too_long(given, time.monotonic())
    net = network(route_top(kind, 600))
    route = plan_route(net, MACHINE, time_limit_s=0.0)
    report = audit(route, MACHINE)
    assert report.valid, report.errors
    passes = Counter(name for name, _ in legs(route))
    motifs = [p for p in net.pieces.values() if p.stroke.required and p.stroke.kind == "motif"]
    assert {passes[p.id] for p in motifs} <= {1}
    assert all(passes[p.id] for p in net.pieces.values() if p.stroke.required)
    # Less than the exact pairing, whose weights are rounded down.
    assert 60 * route.totals.lower_bounds["minutes"] <= pair(given).bound_s * (1 + 1e-5)
    assert route.totals.lower_bounds["threads"] == given.parts


def test_no_time_always_gives_the_same_route() -> None:
    strokes = route_top("irregular", 400)
    one = plan_route(network(strokes), MACHINE, time_limit_s=0.0)
    other = plan_route(network(strokes[::-1]), MACHINE, time_limit_s=0.0)
    assert legs(one) == legs(other)
    assert one.totals == other.totals


@pytest.mark.parametrize("size", [1, 6, 1000])
@pytest.mark.parametrize("seed", range(300, 312))
def test_the_bound_holds_against_the_optimum(seed: int, size: int) -> None:
    # Tiny networks; the optimum by trying everything.
    net = tiny(seed)
    given = choices(half_edges(net, MACHINE), MACHINE)
    best_s = optimum(net, MACHINE).connected_s
    settings = QuickSettings(tile=size)
    _, cost_s, bound_s = quick_route(given, MACHINE, until=None, settings=settings)
    assert bound_s <= best_s * (1 + 1e-9)
    assert cost_s >= best_s * (1 - 1e-9)


@pytest.mark.parametrize("kind", KINDS)
def test_bounds_rise_from_half_edges_to_tiles_to_the_whole(kind: str) -> None:
    given = task(kind, 200)
    places = places_of(given.edges)
    closed = replace(given, opening=False)
    bounds = [evened(closed).bound_s]
    bounds += [
        bounded_s(given, tiles(places, count), solver="auto", until=None) for count in (10, 1)
    ]
    # Weights are whole numbers.
    assert all(a <= b * (1 + 1e-5) for a, b in pairwise(bounds))
    assert bounds[-1] == pytest.approx(pair(closed).bound_s, rel=1e-5)
    assert bounds[0] <= evened(given).bound_s <= pair(given).bound_s * (1 + 1e-5)


@pytest.mark.parametrize("kind", ["irregular", "triangles", "log cabin", "block walks"])
def test_tiles_lead_to_the_exact_pairing(kind: str) -> None:
    given = task(kind, 300)
    places = places_of(given.edges)
    pairing = evened(given)
    costs = [_cost_s(given, pairing.mate)]
    for count in (12, 5, 1):
        tile = tiles(places, count, 0.5 if count > 1 else 0.0)
        pairing = swept(given, pairing, tile, solver="auto", until=None)
        _is_perfect(given, pairing.mate)
        costs.append(_cost_s(given, pairing.mate))
    assert all(b <= a * (1 + 1e-5) for a, b in pairwise(costs))
    assert costs[-1] == pytest.approx(pair(replace(given, opening=False)).bound_s, rel=1e-5)


def test_tiles_hold_about_as_many_nodes_each() -> None:
    places = np.random.default_rng(1).uniform(0, 1, (5000, 2))
    size = np.bincount(tiles(places, 25))
    assert len(size) == 25
    assert size.min() >= 190
    assert size.max() <= 210
    shifted = np.bincount(tiles(places, 25, 0.5))
    assert len(shifted) > 25
    assert 90 <= shifted.min() <= shifted.max() <= 210


def test_tiles_are_not_begun_once_time_is_up() -> None:
    given = task("irregular", 300)
    pairing = evened(given)
    tile = tiles(places_of(given.edges), 5)
    over = time.monotonic() - 1
    assert (swept(given, pairing, tile, solver="auto", until=over).mate == pairing.mate).all()
    assert bounded_s(given, tile, solver="auto", until=over) == pytest.approx(pairing.bound_s)


def test_small_tops_and_long_limits_are_paired_exactly() -> None:
    small, large = task("irregular", 100), task("irregular", 400)
    assert len(small.halves) <= DEFAULT.always < len(large.halves)
    now = time.monotonic()
    assert not is_too_long(small, now - 1)
    assert not is_too_long(large, None)
    assert not is_too_long(large, now + 3600)
    assert is_too_long(large, now)
    assert improved(large, MACHINE, time_limit_s=0.0).hurried
    assert not improved(small, MACHINE, time_limit_s=0.0).hurried


def test_an_order_is_not_sought_in_a_hurry() -> None:
    net = network(route_top("irregular", 400))
    route = plan_route(net, MACHINE, order=OrderWish("lines"), time_limit_s=0.0)
    assert audit(route, MACHINE).valid
    assert {o.name for o in route.orders} == {"quickest", "middle"}
    assert route.orders[0].minutes == route.orders[1].minutes


def _cost_s(given: Choices, mate: np.ndarray) -> float:
    """Return the seconds of a pairing, from single turns."""
    edges, costs = given.edges, Costs(given.edges, MACHINE)
    used = edges.required | (mate[0::2] != np.arange(1, len(mate), 2))
    total = float(edges.sew_s[used].sum())
    for h in np.flatnonzero(np.repeat(used, 2)).tolist():
        m = int(mate[h])
        if m == END or h < m:
            total += costs.turn(h, m)
    return total


def _is_perfect(given: Choices, mate: np.ndarray) -> None:
    paired = np.flatnonzero(mate != END)
    assert (mate[mate[paired]] == paired).all()
    # Only a spare copy's halves may be mates without meeting.
    apart = given.edges.node[paired] != given.edges.node[mate[paired]]
    assert (mate[paired] == paired ^ 1)[apart].all()
    assert not given.edges.required[paired[apart] >> 1].any()
