"""Tiny networks against the optimum found by trying everything."""

import numpy as np
import pytest
from tests.routing.instances import leaves, stroke
from tests.routing.small import optimum

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Network
from seamwalk.model.stitching import Stroke, StrokeKind
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.solve.pairing import choices, pair
from seamwalk.routing.solve.threads import closed_trails
from seamwalk.routing.turning import half_edges

MACHINE = MachineProfile()


def tiny(seed: int) -> Network:
    """Return three or four nodes with a few strokes of all kinds, loops of two arcs included."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 5))
    spots = [(float(x), float(y)) for x, y in rng.uniform(0, 12, (n, 2)).round(2)]
    strokes: list[Stroke] = []
    for k in range(int(rng.integers(4, 7))):
        a, b = rng.choice(n, 2, replace=False).tolist()
        kind: StrokeKind = ("motif", "ditch", "edge")[int(rng.integers(3))]
        rise = float(rng.choice([-1.0, 0.0, 1.5])) if kind == "motif" else 0.0
        want = bool(rng.random() < (0.8 if kind == "motif" else 0.3))
        if kind == "motif" and rise == 0.0:
            rise = 0.4 + 0.1 * k
        strokes.append(stroke(f"s{k}", spots[a], spots[b], kind, required=want, rise=rise))
    strokes.append(stroke("m", spots[0], spots[1], rise=2.0))
    return network(strokes)


@pytest.mark.parametrize("seed", range(30))
def test_bounds_and_route_against_the_optimum(seed: int) -> None:
    net = tiny(seed)
    best = optimum(net, MACHINE)
    given = choices(half_edges(net, MACHINE), MACHINE)
    if given.parts == 1:
        # Whole-number weights cost less than a thousandth of a second each.
        first_s = pair(given).bound_s
        assert first_s == pytest.approx(min(best.loose_s, best.connected_s), abs=0.02)
        assert first_s <= best.loose_s + 1e-9
    route = plan_route(net, MACHINE)
    report = audit(route, MACHINE)
    assert report.valid, report.errors
    assert 60 * route.totals.lower_bounds["minutes"] <= best.connected_s + 1e-6
    # So small a network is always proven; the solver stops at 1e-6 of the whole.
    assert best.connected_s - 1e-6 <= cost_s(net) <= best.connected_s * (1 + 2e-6) + 1e-6


def cost_s(net: Network) -> float:
    """Return the seconds of the route found, quilt turns left out."""
    minutes = plan_route(net, MACHINE).totals.minutes
    return 60 * sum(v for k, v in minutes.items() if k != "quilt turns")


def test_all_tiny_networks_are_solved_and_proven() -> None:
    met = proven = 0
    for seed in range(100, 130):
        net = tiny(seed)
        best = optimum(net, MACHINE).connected_s
        met += cost_s(net) <= best * (1 + 2e-6)
        bound = 60 * plan_route(net, MACHINE).totals.lower_bounds["minutes"]
        proven += best - bound <= 1e-5 * best
    assert (met, proven) == (30, 30)


@pytest.mark.parametrize("seed", range(200, 225))
def test_the_proven_optimum_is_the_optimum(seed: int) -> None:
    net = tiny(seed)
    route = plan_route(net, MACHINE, time_limit_s=20.0)
    assert audit(route, MACHINE).valid
    best = optimum(net, MACHINE).connected_s
    minutes = route.totals.minutes
    took_s = 60 * sum(v for k, v in minutes.items() if k != "quilt turns")
    assert took_s == pytest.approx(best, rel=2e-5)
    assert 60 * route.totals.lower_bounds["minutes"] == pytest.approx(best, rel=2e-5)


def test_a_proof_that_needs_cuts() -> None:
    # Four lines of leaves: loops that cross each other, closed by the pairing (see `improve`).
    net = network(leaves(2, 2))
    given = choices(half_edges(net, MACHINE), MACHINE)
    first = pair(given)
    assert closed_trails(given.edges, first).any()
    route = plan_route(net, MACHINE, time_limit_s=60.0)
    report = audit(route, MACHINE)
    assert report.valid, report.errors
    assert report.gap == pytest.approx(0, abs=1e-5)
    assert route.totals.threads == 1


def test_no_time_still_gives_a_whole_route() -> None:
    net = network(leaves(4, 4))
    route = plan_route(net, MACHINE, time_limit_s=0.0)
    assert audit(route, MACHINE).valid
