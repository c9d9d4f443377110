"""Order of stitching: bulk under the arm, passes, their sequence, and what the wish gets."""

import dataclasses
import itertools
import math
import random

import numpy as np
import pytest
import shapely
from tests.routing.instances import arches, grid_lines, irregular, leaves, stroke
from tests.routing.rules import broken_rules

from seamwalk.files.plan_file import to_document
from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.machine import MachineProfile
from seamwalk.model.order import OrderName, OrderWish
from seamwalk.model.route import Network, Route
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.order.bulk import HALF_AND_A_BIT, heavy_share, rolled_in, share_right
from seamwalk.routing.order.joins import joins, threaded
from seamwalk.routing.order.measures import ranks
from seamwalk.routing.order.passes import Lie, lie_of, passes, trails
from seamwalk.routing.order.sequence import Sequencer, Weights, precedence
from seamwalk.routing.order.travel import Travel
from seamwalk.routing.route import plan_route
from seamwalk.routing.solve.pairing import choices, pair
from seamwalk.routing.solve.threads import Walk
from seamwalk.routing.turning import Costs, HalfEdges, Turning, half_edges

MACHINE = MachineProfile()
LOW, HIGH = np.array([0.0, 0.0]), np.array([60.0, 80.0])


def right(x: float, y: float, heading_deg: float) -> float:
    return float(share_right(np.array([[x, y]]), np.array([heading_deg]), LOW, HIGH)[0])


# Source: geometry by hand, and how a machine stands: the needle's arm is at her right, and cloth
# is fed away from her, so a line drawn downwards on the picture (90°) has the picture's right
# side under the arm.
@pytest.mark.parametrize(
    ("x", "y", "heading_deg", "share"),
    [
        (0, 40, 90, 1.0),
        (60, 40, 90, 0.0),
        (15, 40, 90, 0.75),
        (15, 40, -90, 0.25),
        (30, 40, 37, 0.5),
        (30, 20, 0, 0.25),
        (30, 20, 180, 0.75),
        # A corner triangle of 30 × 30 of 60 × 80.
        (15, 15, -45, 450 / 4800),
        (15, 15, 135, 1 - 450 / 4800),
    ],
)
def test_share_under_the_arm(x: float, y: float, heading_deg: float, share: float) -> None:
    assert right(x, y, heading_deg) == pytest.approx(share, abs=1e-5)


def test_share_under_the_arm_agrees_with_clipping() -> None:
    # Source: shapely's intersection of polygons.
    rng = np.random.default_rng(3)
    top = shapely.box(*LOW, *HIGH)
    for _ in range(50):
        at, t = rng.uniform(LOW, HIGH), rng.uniform(0, 2 * math.pi)
        along, aside = np.array([math.cos(t), math.sin(t)]), np.array([math.sin(t), -math.cos(t)])
        far = 500
        a, b = at - far * along, at + far * along
        half = shapely.Polygon([a, b, b + far * aside, a + far * aside])
        want = half.intersection(top).area / top.area
        assert right(*at, math.degrees(t)) == pytest.approx(want, abs=1e-5)


def test_what_rolls_into_the_throat() -> None:
    # Source: the roll d = 2·√((W/2)·t/π); a quilt 90 in wide, 5 mm thick, rolls up to 85 mm.
    machine = MachineProfile(throat_in=85 / 25.4, packed_mm=5)
    assert rolled_in(machine) == pytest.approx(45, abs=0.5)
    assert heavy_share(machine, LOW, np.array([90.0, 90.0])) == pytest.approx(0.5, abs=0.01)
    assert heavy_share(MACHINE, LOW, HIGH) == HALF_AND_A_BIT


def lined(count: int, *, down: bool = False) -> list[Stroke]:
    """Return straight lines across (or down) a top of 40 in, and its edge cut at their ends."""
    step = 40 / (count + 1)
    out = []
    for k in range(1, count + 1):
        a, b = (0.0, k * step), (40.0, k * step)
        ends = (a[::-1], b[::-1]) if down else (a, b)
        out.append(stroke(f"m{k}", *ends))
    corners = [(0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0)]
    for k in range(4):
        out.append(stroke(f"e{k}", corners[k], corners[(k + 1) % 4], "edge", required=False))
    return out


def crossing() -> list[Stroke]:
    """Return two lines down the same top."""
    return [stroke(f"n{k}", (x, 0.0), (x, 40.0)) for k, x in enumerate((13.0, 27.0))]


def found_passes(net: Network) -> tuple[list[Walk], HalfEdges, Costs]:
    edges = half_edges(net, MACHINE, Turning(MACHINE.quilt_turn_s))
    costs = Costs(edges, MACHINE)
    return passes(*trails(pair(choices(edges, MACHINE))), edges, costs), edges, costs


def test_lines_from_edge_to_edge_are_the_passes() -> None:
    net = network(grid_lines(7, 7, ditches=True, required=True))
    found, edges, _ = found_passes(net)
    inner = [
        w
        for w in found
        if not all(edges.pieces[edges.piece_of[h >> 1]].stroke.kind == "edge" for h in w)
    ]
    # Six seam lines each way, seven seams long.
    assert sorted(len(w) for w in inner) == [7] * 12
    for walk in inner:
        lies = {round(edges.lies_deg[h]) % 360 for h in walk}
        assert len(lies) == 1


def some_lie(n: int, rng: np.random.Generator) -> Lie:
    return Lie(
        rng.uniform(5, 40, n),
        rng.integers(0, 2, n),
        rng.uniform(0, 30, n),
        rng.uniform(0, 40, 2 * n),
    )


def test_precedence_is_nothing_in_order_and_all_in_reverse() -> None:
    lie = Lie(np.full(5, 10.0), np.zeros(5, dtype=np.intp), np.arange(5) * 6.0, np.zeros(10))
    before = precedence(lie)
    outwards = np.arange(5)
    assert np.triu(before[np.ix_(outwards, outwards)], 1).sum() == 0
    inwards = outwards[::-1]
    assert np.triu(before[np.ix_(inwards, inwards)], 1).sum() == pytest.approx(1)


def sequencer(
    strokes: list[Stroke], weights: Weights
) -> tuple[Sequencer, list[Walk], HalfEdges, Costs]:
    net = network(strokes)
    found, edges, costs = found_passes(net)
    where = [net.nodes[n] for n in edges.nodes]
    used = np.zeros(len(edges.required), dtype=np.bool_)
    used[[h >> 1 for w in found for h in w]] = True
    lengths = edges.sew_s / MACHINE.s_per_in
    lie = lie_of(found, edges, where, lengths, heavy=0.55)
    return (
        Sequencer(lie, joins(found, edges, costs, Travel(edges, costs, used)), weights),
        found,
        edges,
        costs,
    )


WEIGHTS = [Weights(0, 0), Weights(600, 600), Weights(300, 2000, 60)]


@pytest.mark.parametrize("weights", WEIGHTS)
def test_directions_are_the_best_of_all(weights: Weights) -> None:
    # Source: trying all of them.
    search, found, _, _ = sequencer(lined(6), weights)
    order = np.array(random.Random(4).sample(range(len(found)), len(found)))
    every = [
        search.cost_s(2 * order + np.array(ways))
        for ways in itertools.product((0, 1), repeat=len(order))
    ]
    assert search.cost_s(search.directed(order)) == pytest.approx(min(every))


@pytest.mark.parametrize("weights", WEIGHTS)
def test_short_sequences_are_close_to_the_best_of_all(weights: Weights) -> None:
    # Source: trying all orders and directions.
    search, found, _, _ = sequencer(lined(3) + crossing(), weights)
    n = len(found)
    assert n == 5
    every = min(
        search.cost_s(2 * np.array(order) + np.array(ways))
        for order in itertools.permutations(range(n))
        for ways in itertools.product((0, 1), repeat=n)
    )
    got = search.cost_s(search.best([2 * np.arange(n)]))
    assert every - 1e-9 <= got <= every * 1.02 + 1e-9


def test_a_sequence_costs_what_its_threads_cost() -> None:
    search, found, edges, costs = sequencer(arches(5, 5), Weights(0, 0))
    used = np.zeros(len(edges.required), dtype=np.bool_)
    used[[h >> 1 for w in found for h in w]] = True
    order = search.by_groups()
    walks = threaded(order.tolist(), found, costs, search.joined, Travel(edges, costs, used))
    inner = sum(
        costs.thread(w) - costs.end_s[costs.node[w[0]]] - costs.end_s[costs.node[w[-1] ^ 1]]
        for w in found
    )
    threads = sum(costs.thread(w) for w in walks)
    anew = 0.0
    for a, b in itertools.pairwise(walks):
        turn = abs(180 - abs(edges.lies_deg[a[-1] ^ 1] - edges.lies_deg[b[0]]))
        anew += MACHINE.quilt_turn_s if turn > 60 else 0.0
    assert threads + anew == pytest.approx(search.cost_s(order) + inner, rel=1e-5)


def planned(strokes: list[Stroke], name: OrderName, give_min: float | None = None) -> Route:
    route = plan_route(network(strokes), MACHINE, order=OrderWish(name, give_min))
    report = audit(route, MACHINE)
    assert report.valid, report.errors
    assert broken_rules(to_document(route).model_dump(mode="json", by_alias=True)) == []
    return route


def minutes(route: Route) -> float:
    return math.fsum(v for k, v in route.totals.minutes.items() if k != "bobbin changes")


def test_rows_are_sewn_as_an_expert_does() -> None:
    # Common practice, no source: the middle line first, then one half outwards and the other,
    # each line from edge to edge, the bulk on the left.
    route = planned(lined(9), "lines")
    assert route.order == "lines"
    assert [len(t.legs) for t in route.threads] == [1] * 9
    height = [route.network.pieces[t.legs[0].piece].curve.start[1] for t in route.threads]
    assert height[0] == pytest.approx(20)
    off = [h - 20 for h in height[1:]]
    first, second = off[:4], off[4:]
    for half in (first, second):
        assert len({h > 0 for h in half}) == 1
        assert [abs(h) for h in half] == sorted(abs(h) for h in half)
    assert (first[0] > 0) != (second[0] > 0)
    # y points down: below the middle, towards the left has the small part under the arm.
    for thread, y in zip(route.threads[1:], off, strict=True):
        curve = route.network.pieces[thread.legs[0].piece].curve
        goes = curve.end[0] - curve.start[0]
        assert (goes < 0) == (y > 0) if not thread.legs[0].reverse else (goes > 0) == (y > 0)
    assert route.totals.buried_ends == 0
    assert route.totals.quilt_turns <= 2


@pytest.mark.parametrize(
    "strokes", [arches(16, 16, 4.33), leaves(14, 14, 4.95)], ids=["arches", "leaves"]
)
def test_from_the_middle_outwards(strokes: list[Stroke]) -> None:
    # Targets of the project for tops of lines.
    route = planned(strokes, "middle")
    figures = {o.name: o for o in route.orders}
    assert figures["middle"].outwards >= 0.95
    assert figures["middle"].heavy <= 0.05
    assert figures["middle"].quilt_turns <= 5
    assert figures["quickest"].minutes <= figures["middle"].minutes
    # One time for one plan: what the order is said to take is what the path is said to take.
    assert figures["middle"].minutes == pytest.approx(sum(route.totals.minutes.values()))


def test_minutes_given_bound_what_order_costs() -> None:
    strokes = irregular(40, np.random.default_rng(8))
    quickest = planned(strokes, "quickest")
    for give in (0.0, 3.0):
        route = planned(strokes, "middle", give)
        assert minutes(quickest) - 1e-6 <= minutes(route) <= minutes(quickest) + give + 1e-6


def test_orders_are_compared_by_the_whole_time() -> None:
    # Bobbins of 6 m are changed often, by the profile 90 s each: every order has them in.
    machine = dataclasses.replace(MachineProfile(), bobbin_m=6.0)
    task = network(arches(5, 5))
    for name in ("quickest", "middle", "lines"):
        route = plan_route(task, machine, order=OrderWish(name))
        figures = {o.name: o for o in route.orders}
        assert route.bobbin_changes
        assert figures[name].minutes == pytest.approx(sum(route.totals.minutes.values()))
        assert figures["quickest"].minutes == min(f.minutes for f in route.orders)


def test_order_does_not_depend_on_how_strokes_arrive() -> None:
    strokes = arches(5, 5)
    mixed = strokes.copy()
    random.Random(2).shuffle(mixed)
    a, b = planned(strokes, "middle"), planned(mixed, "middle")
    assert [[(g.piece, g.reverse) for g in t.legs] for t in a.threads] == [
        [(g.piece, g.reverse) for g in t.legs] for t in b.threads
    ]


def test_a_ring_has_no_direction_and_does_no_harm() -> None:
    ring = Curve((Arc((8, 4), (8, 4), (8, 6), 2 * math.pi),))
    route = planned([*arches(3, 3), Stroke(StrokeId("o"), ring, "motif", True)], "middle")
    assert any(g.piece == "o" for t in route.threads for g in t.legs)


def test_the_plan_file_keeps_the_orders() -> None:
    from seamwalk.files.plan_file import to_route

    route = planned(arches(4, 4), "middle")
    again = to_route(to_document(route))
    assert (again.order, again.orders) == (route.order, route.orders)


def test_ranks_share_ties_as_the_general_library_has_them() -> None:
    # scipy.stats.rankdata as the reference library.
    from scipy.stats import rankdata

    values = np.random.default_rng(0).integers(0, 20, 100).astype(np.float64)
    assert ranks(values).tolist() == rankdata(values).tolist()
