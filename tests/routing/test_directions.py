"""Directions that keep the bulk outside, and parts of a top."""

import itertools

import numpy as np
import pytest
from tests.routing.instances import irregular, stroke

from seamwalk.benchmark.route_tops import route_top
from seamwalk.model.machine import MachineProfile
from seamwalk.model.order import OrderWish
from seamwalk.model.stitching import Stroke
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.order.directions import directed_trails
from seamwalk.routing.order.parts import ring_distance, strips
from seamwalk.routing.order.reversals import turned_round
from seamwalk.routing.route import plan_route
from seamwalk.routing.turning import Costs, HalfEdges, half_edges

MACHINE = MachineProfile()


def squares(count: int) -> list[Stroke]:
    """Return squares one inside the other, 6 inches apart, nothing between."""
    out = []
    for k in range(count):
        low, high = 6.0 * k, 6.0 * (2 * count - k)
        ring = [(low, low), (high, low), (high, high), (low, high)]
        for i in range(4):
            out.append(stroke(f"s{k},{i}", ring[i], ring[(i + 1) % 4]))
    return out


def random_rings(seed: int) -> HalfEdges:
    """Return a few closed walks over few nodes, so that an even number meets at each."""
    rng = np.random.default_rng(seed)
    spots = [(float(x), float(y)) for x, y in rng.uniform(0, 20, (5, 2)).round(1)]
    strokes = []
    for k in range(3):
        walk = rng.permutation(5)[: int(rng.integers(3, 5))].tolist()
        for i, (a, b) in enumerate(itertools.pairwise([*walk, walk[0]])):
            strokes.append(stroke(f"r{k},{i}", spots[a], spots[b], rise=0.3 * (k + 1)))
    return half_edges(network(strokes), MACHINE)


@pytest.mark.parametrize("seed", range(12))
def test_directions_are_the_best_of_all(seed: int) -> None:
    """Source: all directions tried in which as many arrive at each node as leave it."""
    edges = random_rings(seed)
    m, n = len(edges.required), len(edges.nodes)
    heavy = np.random.default_rng(seed).uniform(0, 5, 2 * m).round(2)
    u, v = edges.node[0::2], edges.node[1::2]
    best = np.inf
    for way in itertools.product((0, 1), repeat=m):
        back = np.array(way)
        from_, to = np.where(back, v, u), np.where(back, u, v)
        if (np.bincount(from_, minlength=n) == np.bincount(to, minlength=n)).all():
            best = min(best, float(heavy[2 * np.arange(m) + back].sum()))
    opened, closed = directed_trails(edges.required, heavy, edges, Costs(edges, MACHINE))
    assert not opened
    found = [h for walk in closed for h in walk]
    assert sorted(h >> 1 for h in found) == list(range(m))
    assert float(heavy[found].sum()) == pytest.approx(best)


@pytest.mark.parametrize("seed", range(12))
def test_trails_run_on_and_close(seed: int) -> None:
    edges = random_rings(seed)
    _, closed = directed_trails(
        edges.required, np.zeros(len(edges.node)), edges, Costs(edges, MACHINE)
    )
    for walk in closed:
        for a, b in itertools.pairwise([*walk, walk[0]]):
            assert edges.node[a ^ 1] == edges.node[b]


def test_odd_nodes_get_one_end_each() -> None:
    edges = half_edges(network(irregular(30, np.random.default_rng(1))), MACHINE)
    used = edges.required
    opened, closed = directed_trails(used, np.zeros(len(edges.node)), edges, Costs(edges, MACHINE))
    odd = np.bincount(edges.node[np.repeat(used, 2)], minlength=len(edges.nodes)) % 2
    assert 2 * len(opened) == odd.sum()
    assert sorted(h >> 1 for w in [*opened, *closed] for h in w) == np.flatnonzero(used).tolist()


def test_rings_are_sewn_outwards_with_the_bulk_outside() -> None:
    """Source: the trade's advice to keep the bulk left of the needle; geometry by hand.

    Nested squares, each closed: one way round each has less than half of the top under the arm
    on all its sides.
    """
    route = plan_route(network(squares(5)), MACHINE, order=OrderWish("middle", give_share=0.2))
    assert audit(route, MACHINE).valid
    taken = next(o for o in route.orders if o.name == "middle")
    assert taken.heavy == pytest.approx(0.0, abs=0.01)
    assert taken.outwards >= 0.95


def test_an_irregular_top_keeps_its_bulk_outside_for_little() -> None:
    net = network(route_top("irregular", 160, side_in=40))
    route = plan_route(net, MACHINE, order=OrderWish("middle"))
    assert audit(route, MACHINE).valid
    by_name = {o.name: o for o in route.orders}
    # Half of a path that forgets about the bulk has too much of it under the arm, or nearly.
    assert by_name["middle"].heavy <= 0.3
    assert by_name["middle"].minutes <= 1.1 * by_name["quickest"].minutes + 1e-6


def test_ring_distance() -> None:
    low, high = np.array([0.0, 0.0]), np.array([60.0, 80.0])
    at = np.array([[30.0, 40.0], [30.0, 50.0], [30.0, 51.0], [0.0, 40.0], [5.0, 79.0], [50, 70]])
    # By hand: the core is 20 in long; a corner of a ring is as far out as its sides.
    assert ring_distance(at, low, high) == pytest.approx([0, 0, 1, 30, 29, 20])


@pytest.mark.parametrize("axis", [0, 1])
def test_strips_are_cut_along_seams(axis: int) -> None:
    """Patches of 4 in on 48 in: strips of 8 or 12 in, so that every border is a seam."""
    net = network(route_top("arches", 576, side_in=48))
    edges = half_edges(net, MACHINE)
    ends = np.array([net.nodes[n] for n in edges.nodes])[edges.node].reshape(-1, 2, 2)
    parts = strips(ends, edges.required, axis)
    borders = [
        float(ends[edges.required & (parts.number == k)][:, :, axis].max())
        for k in range(int(parts.number.max()))
    ]
    assert borders
    assert np.array(borders) % 4 == pytest.approx(0.0, abs=1e-6)
    assert set(np.diff([0.0, *borders, 48.0]).round(6)) <= {8.0, 12.0}


@pytest.mark.parametrize("seed", range(6))
def test_reversals_are_walks_that_cost_less(seed: int) -> None:
    edges = random_rings(seed)
    costs = Costs(edges, MACHINE)
    rng = np.random.default_rng(seed)
    price_s = rng.uniform(0, 20, len(edges.node))
    _, closed = directed_trails(edges.required, price_s, edges, costs)

    def total(walk: list[int]) -> float:
        turns = sum(costs.turn(a ^ 1, b) for a, b in itertools.pairwise(walk))
        return turns + float(price_s[walk].sum())

    for walk in closed:
        found = turned_round(list(walk), price_s, costs)
        assert sorted(h >> 1 for h in found) == sorted(h >> 1 for h in walk)
        for a, b in itertools.pairwise(found):
            assert edges.node[a ^ 1] == edges.node[b]
        assert total(found) <= total(walk) + 1e-9
        # No single stretch is worth turning round any more.
        for i, j in itertools.combinations(range(1, len(found)), 2):
            if edges.node[found[i]] == edges.node[found[j]]:
                other = found[:i] + [h ^ 1 for h in reversed(found[i:j])] + found[j:]
                assert total(other) >= total(found) - 1e-5
