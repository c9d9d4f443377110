"""Facts that every route keeps, and bounds that never exceed a route."""

from collections.abc import Iterator

import numpy as np
import pytest
from tests.routing.instances import arches, irregular, leaves, on_point, rounds

from seamwalk.model.machine import MachineProfile
from seamwalk.model.stitching import Stroke
from seamwalk.routing.graph import network
from seamwalk.routing.solve.improve import improved
from seamwalk.routing.solve.nesting import Prices, nested, tree
from seamwalk.routing.solve.pairing import Choices, Pairing, Relief, choices, pair
from seamwalk.routing.solve.partitions import partitions
from seamwalk.routing.solve.prices import Cuts, fresh, moats, relief
from seamwalk.routing.solve.threads import closed_trails, paired
from seamwalk.routing.solve.whole import merged
from seamwalk.routing.turning import END, Costs, half_edges

MACHINE = MachineProfile()

TOPS = {
    "arches": arches(4, 4),
    "on point": on_point(3, 3),
    "leaves": leaves(4, 4),
    "irregular": irregular(60, np.random.default_rng(3)),
    "rounds": rounds(30, np.random.default_rng(0)),
}


def chosen_from(strokes: list[Stroke]) -> Choices:
    """Return what a pairing over the strokes can choose from."""
    return choices(half_edges(network(strokes), MACHINE), MACHINE)


def routes(given: Choices, count: int) -> Iterator[Pairing]:
    """Yield routes of all kinds: least ones for costs that are changed at random."""
    rng = np.random.default_rng(11)
    costs = Costs(given.edges, MACHINE)
    for k in range(count):
        noise = Relief(
            rng.uniform(-1, 1, len(given.a)) * 4.0**k / 4,
            rng.uniform(-1, 1, len(given.halves)) * 4.0**k / 4,
            0.0,
        )
        route = merged(given.edges, MACHINE, pair(given, relief=noise), costs)
        yield paired(route, given.edges, 0.0)


def unions(given: Choices, part: np.ndarray, end: np.ndarray, route: Pairing) -> float:
    """Return the sum of what the mates of a route count for."""
    share = {(int(a), int(b)): float(w) for a, b, w in zip(given.a, given.b, part, strict=True)}
    at_end = dict(zip(given.halves.tolist(), end.tolist(), strict=True))
    total = 0.0
    for h, m in enumerate(route.mate.tolist()):
        if route.used[h >> 1] and m == END:
            total += at_end[h]
        elif route.used[h >> 1] and h < m:
            # Turns that no best route makes are no choice; they count in full.
            total += share.get((h, m), share.get((m, h), 1.0))
    return total


@pytest.mark.parametrize("name", TOPS)
def test_every_route_unites_every_partition(name: str) -> None:
    # Checked on routes that have nothing to do with the partition (by definition, no source).
    given = chosen_from(TOPS[name])
    first = pair(given)
    for part in partitions(given, first, Prices(given), 6):
        counts = [
            unions(given, part.pair_share, part.end_share, route) for route in routes(given, 5)
        ]
        assert min(counts) >= part.count - 1e-9
    # What falls apart in the first pairing is not united there: the fact says something.
    if closed_trails(given.edges, first).any() and name in {"leaves", "on point"}:
        part = partitions(given, first, Prices(given), 1)[0]
        assert unions(given, part.pair_share, part.end_share, first) < part.count - 0.5


@pytest.mark.parametrize("name", TOPS)
def test_every_route_leaves_every_cut_twice(name: str) -> None:
    given = chosen_from(TOPS[name])
    first = pair(given)
    cuts = moats(given, first, Prices(given), None, 6)
    alone = fresh(given, first, set())
    assert (alone is None) == (not closed_trails(given.edges, first).any())
    for cut in [*cuts, *([alone] if alone else [])]:
        assert (cut.leavings(first)[1:] <= 2).all()
        for route in routes(given, 5):
            assert (cut.leavings(route)[1:] >= 2).all()
    if alone is not None:
        assert not alone.leavings(first)[1:].any()


@pytest.mark.parametrize("name", TOPS)
def test_priced_bounds_stay_below_the_best_route(name: str) -> None:
    given = chosen_from(TOPS[name])
    best = improved(given, MACHINE)
    first = pair(given)
    prices = Prices(given)
    parts = partitions(given, first, prices, 6)
    cuts = moats(given, first, prices, None, 6)
    for share in (0.5, 1.0, 3.0):
        scaled = [Cuts(c.label, share * c.price_s) for c in cuts]
        for some, sets in (([], scaled), (parts, []), (parts, scaled)):
            off = relief(given, sets, some)
            assert pair(given, relief=off).bound_s <= best.cost_s + 1e-6


def test_leaves_are_proven_by_their_lines() -> None:
    # Lines of leaves close into loops that cross each other two by two: a spanning tree of swaps
    # is the least, and the partition into loops says so (worked by hand).
    given = chosen_from(leaves(6, 6))
    found = improved(given, MACHINE)
    assert found.bound_s == pytest.approx(found.cost_s, rel=1e-5)


def test_tree_and_nested_sets() -> None:
    # Kruskal on five trails, by hand: 0-1 at 5, 1-2 at 1, 2-3 at 3, 3-4 at 1; 1-4 at 4 is dearer.
    trails = np.array([(0, 1), (1, 2), (2, 3), (3, 4), (1, 4), (2, 1), (0, 4)])
    cost = np.array([5.0, 1.0, 3.0, 1.0, 4.0, 2.0, np.inf])
    joins = tree(trails, cost, 5)
    assert [round(c, 3) for c, _, _ in joins] == [1, 1, 3, 5]
    sets = nested(joins, 5, 10)
    assert [round(c, 3) for c, _ in sets] == [1, 3, 5]
    assert [s.tolist() for _, s in sets] == [[0, 1, 2, 3, 4], [0, 1, 1, 2, 2], [0, 1, 1, 1, 1]]
