"""Stitching that lies apart: one round through all of it, not there and back to each."""

from itertools import pairwise

import pytest
from tests.routing.instances import stroke

from seamwalk.benchmark.route_tops import route_top
from seamwalk.model.machine import MachineProfile
from seamwalk.model.stitching import Stroke
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.solve.pairing import choices, pair
from seamwalk.routing.solve.spanning import spanned
from seamwalk.routing.solve.whole import merged
from seamwalk.routing.turning import Costs, half_edges

MACHINE = MachineProfile()


def rings_on_a_grid(columns: int, rows: int) -> list[Stroke]:
    """Return a loop of two arcs at each crossing of ditches 6 inches apart."""
    out = []
    for i in range(columns):
        for j in range(rows):
            x, y = 6.0 * i, 6.0 * j
            out.append(stroke(f"a{i},{j}", (x, y), (x + 1, y + 1), rise=0.4))
            out.append(stroke(f"b{i},{j}", (x, y), (x + 1, y + 1), rise=-0.4))
            if i + 1 < columns:
                out.append(stroke(f"h{i},{j}", (x, y), (x + 6, y), "ditch", required=False))
            if j + 1 < rows:
                out.append(stroke(f"v{i},{j}", (x, y), (x, y + 6), "ditch", required=False))
    return out


@pytest.mark.parametrize(("columns", "rows"), [(4, 4), (5, 3), (6, 6)])
def test_travel_between_islands_is_near_one_ditch_each(columns: int, rows: int) -> None:
    """n islands need at least n − 1 ditches of travel (a tree); a row-by-row walk takes so many.

    Euler: an open walk over a snake through the grid; from memory.
    """
    net = network(rings_on_a_grid(columns, rows))
    given = choices(half_edges(net, MACHINE), MACHINE)
    first = pair(given)
    linked = spanned(given, MACHINE, first)
    assert linked is not None
    costs = Costs(given.edges, MACHINE)
    by_tree = sum(costs.thread(w) for w in merged(given.edges, MACHINE, linked, costs))
    doubled = sum(costs.thread(w) for w in merged(given.edges, MACHINE, first, costs))
    assert by_tree < doubled
    route = plan_route(net, MACHINE)
    assert audit(route, MACHINE).valid
    assert route.totals.threads == 1
    travel = route.totals.travel_in
    fewest = 6.0 * (columns * rows - 1)
    assert fewest - 1e-6 <= travel <= 1.15 * fewest


def test_nothing_is_linked_where_all_hangs_together() -> None:
    given = choices(half_edges(network(route_top("arches", 64)), MACHINE), MACHINE)
    assert spanned(given, MACHINE, pair(given)) is None


def test_a_far_island_is_reached_over_several_ditches() -> None:
    places = [(float(x), 0.0) for x in (0, 5, 10, 15)]
    strokes = [
        stroke(f"d{k}", a, b, "ditch", required=False) for k, (a, b) in enumerate(pairwise(places))
    ]
    for k in (0, 3):
        x, y = places[k]
        strokes += [stroke(f"r{k}{s}", (x, y), (x + 1, y + 2), rise=s) for s in (0.5, -0.5)]
    given = choices(half_edges(network(strokes), MACHINE), MACHINE)
    linked = spanned(given, MACHINE, pair(given))
    assert linked is not None
    extra = [given.edges.pieces[given.edges.piece_of[c]] for c in linked.used.nonzero()[0]]
    assert sum(p.stroke.kind == "ditch" for p in extra) >= 3
