"""Changes of bobbin: never empty, at the cheapest places; against all choices on small routes."""

import dataclasses
import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.routing.instances import arches, irregular

from seamwalk.geometry.curve import Curve, Line
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Leg, Network, NodeId, Piece, PieceId, Route, Thread
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.audit import audit
from seamwalk.routing.bobbins import bobbin_changes
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.totals import numbered, totals

MACHINE = MachineProfile()
SMALL = dataclasses.replace(MACHINE, bobbin_m=4.0)


def row(lengths, cuts=(), edges=(), bends=()):
    """Return a network and its threads: pieces in a row, cut into threads before some of them.

    Nodes in `edges` are in the margin; before pieces in `bends` the path turns by a right angle.
    """
    x = y = heading = 0.0
    nodes = {NodeId("0"): (0.0, 0.0)}
    pieces = {}
    legs = [[]]
    for k, length in enumerate(lengths):
        if k in bends:
            heading += math.pi / 2
        start = (x, y)
        x, y = x + length * math.cos(heading), y + length * math.sin(heading)
        u, v = NodeId(str(k)), NodeId(str(k + 1))
        nodes[v] = (x, y)
        curve = Curve((Line(start, (x, y)),))
        stroke = Stroke(StrokeId(f"s{k}"), curve, "motif", required=True)
        pieces[PieceId(f"p{k}")] = Piece(PieceId(f"p{k}"), u, v, curve, stroke)
        if k in cuts:
            legs.append([])
        legs[-1].append(Leg(PieceId(f"p{k}"), reverse=False))
    for k in edges:
        at = nodes[NodeId(str(k))]
        far = (at[0], at[1] - 0.125)
        nodes[NodeId(f"m{k}")] = far
        curve = Curve((Line(at, far),))
        stroke = Stroke(StrokeId(f"t{k}"), curve, "edge", required=False)
        name = PieceId(f"t{k}")
        pieces[name] = Piece(name, NodeId(str(k)), NodeId(f"m{k}"), curve, stroke)
    net = Network(nodes, pieces)
    return net, numbered(net, [Thread(tuple(t)) for t in legs if t], MACHINE)


def route_of(net, threads, machine):
    changes = bobbin_changes(net, threads, machine)
    return Route(net, tuple(threads), totals(net, threads, machine, {}, changes), changes)


def test_one_bobbin_reaches_as_far_as_the_arithmetic_says():
    # 70 m less 10 % are 63 m; the bobbin gives half of 3.0 times the path and 15 % more:
    # 63 / (1.5 · 1.15) = 36.52 m = 1437.9 in.
    assert MACHINE.in_per_bobbin == pytest.approx(63 / 1.725 / 0.0254)
    net, threads = row([1437.0])
    assert bobbin_changes(net, threads, MACHINE) == ()
    net, threads = row([1000.0, 439.0])
    assert len(bobbin_changes(net, threads, MACHINE)) == 1


def test_a_thread_end_comes_first_then_the_margin_then_a_pivot():
    even = [200.0] * 10
    net, threads = row(even, cuts=(5,), edges=(6,), bends=(7,))
    (change,) = bobbin_changes(net, threads, MACHINE)
    assert (change.where, change.thread, change.leg, change.sewn_in) == ("thread end", 1, 0, 1000)
    net, threads = row(even, edges=(6,), bends=(7,))
    (change,) = bobbin_changes(net, threads, MACHINE)
    assert (change.where, change.leg, change.at) == ("margin", 6, (1200.0, 0.0))
    net, threads = row(even, bends=(5,))
    (change,) = bobbin_changes(net, threads, MACHINE)
    assert (change.where, change.leg, change.step) == ("inside", 5, 2)


def test_of_two_pivots_the_one_nearer_to_the_edge():
    net, threads = row([200.0] * 10, edges=(0,), bends=(4, 5, 6))
    away = {k: math.dist(net.nodes[NodeId(str(k))], (0, 0)) for k in (4, 5, 6)}
    (change,) = bobbin_changes(net, threads, MACHINE)
    assert change.leg == min(away, key=away.get)


def test_a_stretch_longer_than_a_bobbin_is_interrupted():
    net, threads = row([4000.0])
    changes = bobbin_changes(net, threads, MACHINE)
    assert [c.where for c in changes] == ["inside", "inside"]
    assert [c.at for c in changes] == [(pytest.approx(4000 / 3), 0), (pytest.approx(8000 / 3), 0)]
    assert audit(route_of(net, threads, MACHINE), MACHINE).valid


def test_nothing_to_sew_needs_no_bobbin():
    assert bobbin_changes(Network({}, {}), (), MACHINE) == ()
    assert totals(Network({}, {}), (), MACHINE, {}).bobbins == 0


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.integers(5, 45), min_size=1, max_size=10),
    st.sets(st.integers(1, 9)),
    st.sets(st.integers(0, 10)),
    st.sets(st.integers(1, 9)),
)
def test_no_other_places_cost_less(lengths, cuts, edges, bends):
    n = len(lengths)
    edges = {k for k in edges if k <= n}
    net, threads = row([float(v) for v in lengths], cuts, edges, bends)
    changes = bobbin_changes(net, threads, SMALL)
    route = route_of(net, threads, SMALL)
    report = audit(route, SMALL)
    assert report.valid, report.errors
    # All choices of joints: 4 m less 10 % reach 82.2 in; costs as the profile states them.
    reach = 4.0 * 0.9 / 1.725 / 0.0254
    at = [0, *itertools.accumulate(lengths)]
    cost = {k: 90.0 + (0 if k in cuts else 2 * 15 if k in edges else 2 * 120) for k in range(1, n)}
    best = min(
        sum(cost[k] for k in some)
        for r in range(n)
        for some in itertools.combinations(range(1, n), r)
        if all(at[b] - at[a] <= reach for a, b in itertools.pairwise([0, *some, n]))
    )
    seconds = {"thread end": 90, "margin": 120, "inside": 330}
    assert sum(seconds[c.where] for c in changes) == pytest.approx(best)
    assert 60 * route.totals.minutes["bobbin changes"] == pytest.approx(best)
    assert route.totals.bobbins == len(changes) + 1


@pytest.mark.parametrize("bobbin_m", [3.0, 20.0, 70.0])
def test_whole_tops_never_run_out(bobbin_m):
    machine = dataclasses.replace(MACHINE, bobbin_m=bobbin_m)
    for strokes in (arches(6, 6), irregular(60, np.random.default_rng(3))):
        route = plan_route(network(strokes), machine)
        report = audit(route, machine)
        assert report.valid, report.errors
        least = route.totals.thread_yd * 0.9144 / 2 / (bobbin_m * 0.9)
        assert math.ceil(least - 1e-9) <= route.totals.bobbins <= 2 * math.ceil(least) + 1


def broken(route, **fields):
    first, *rest = route.bobbin_changes
    return dataclasses.replace(route, bobbin_changes=(dataclasses.replace(first, **fields), *rest))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"where": "margin"}, "is called margin"),
        ({"step": 99}, "names step 99"),
        ({"leg": 99}, "not there"),
        ({"at": (1.0, 1.0)}, "not where its leg starts"),
        ({"sewn_in": 900.0}, "not on its leg"),
    ],
)
def test_the_audit_sees_a_wrong_change(fields, words):
    net, threads = row([200.0] * 10, bends=(5,))
    route = route_of(net, threads, MACHINE)
    assert audit(route, MACHINE).valid
    errors = audit(broken(route, **fields), MACHINE).errors
    assert any(words in e for e in errors), errors


def test_the_audit_sees_a_bobbin_run_out():
    net, threads = row([200.0] * 10)
    route = dataclasses.replace(route_of(net, threads, MACHINE), bobbin_changes=())
    errors = audit(route, MACHINE).errors
    assert any("runs out" in e for e in errors)
    assert any("bobbins" in e for e in errors)


def test_the_audit_sees_changes_left_out_or_out_of_order():
    net, threads = row([200.0] * 20)
    route = route_of(net, threads, MACHINE)
    first, second = route.bobbin_changes
    late = dataclasses.replace(route, bobbin_changes=(second,))
    assert any("runs out before change 1" in e for e in audit(late, MACHINE).errors)
    turned = dataclasses.replace(route, bobbin_changes=(second, first))
    assert any("does not come after" in e for e in audit(turned, MACHINE).errors)
