"""The audit accepts good routes and rejects every kind of broken one."""

import dataclasses
import itertools
import math
from collections.abc import Callable

import pytest
from tests.routing.instances import arches, stroke

from seamwalk.geometry.curve import Arc, Curve, Line
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Leg, NodeId, PieceId, Route, Thread, Totals
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route

MACHINE = MachineProfile()


def worked_example() -> Route:
    """Return a route written down by hand, with its sums worked out on paper.

    A seam of 4 in from edge to edge, a straight motif of 3 in from its far end into the top,
    square to it.  Edge, seam, motif: 6 + 4 + 3 in with two square corners.
    """
    net = network(
        [
            stroke("e", (0, 6), (0, 0), "edge", required=False),
            stroke("d", (0, 0), (4, 0), "ditch"),
            stroke("m", (4, 0), (4, 3)),
        ]
    )
    legs = (
        Leg(PieceId("e"), False, 1),
        Leg(PieceId("d"), False, 2),
        Leg(PieceId("m"), False, 3),
    )
    # 90°: 4 s + 60° of 0.14 s + 90° of 0.02 s = 14.2 s each; 25.4/2.8/400 min an inch.
    totals = Totals(
        threads=1,
        buried_ends=1,
        edge_ends=1,
        stitched_in=13.0,
        doubled_in=0.0,
        travel_in=6.0,
        pivots=2,
        turning_deg=180.0,
        quilt_turns=0,
        minutes={
            "stitching": 13 * 25.4 / 2.8 / 400,
            "pivots": 2 * 14.2 / 60,
            "thread ends": 135 / 60,
            "quilt turns": 0.0,
        },
        thread_yd=13 * 3 * 1.15 / 36,
        bobbins=1,
        lower_bounds={"minutes": 1.0, "threads": 1, "stitched_in": 7.0},
    )
    return Route(net, (Thread(legs),), totals)


def test_a_route_worked_out_on_paper_is_accepted() -> None:
    report = audit(worked_example(), MACHINE)
    assert report.errors == ()
    assert report.valid
    assert report.gap == pytest.approx((13 * 25.4 / 2.8 / 400 + 2 * 14.2 / 60 + 2.25) - 1)


def test_the_router_says_the_same_of_it() -> None:
    # The router leaves the edge out: starting at the seam costs less.
    route = plan_route(worked_example().network, MACHINE)
    assert route.totals.stitched_in == pytest.approx(7)
    assert route.totals.pivots == 1
    assert audit(route, MACHINE).valid


def test_quilt_turns_by_hand() -> None:
    # 20 in one way, 20 in square to it, 20 in back: two turns.  A jog of 6 in, below the throat
    # of 8 in, is swung round on the spot.
    def turns(*points: tuple[float, float]) -> int:
        strokes = [stroke(f"m{k}", a, b) for k, (a, b) in enumerate(itertools.pairwise(points))]
        report = audit(plan_route(network(strokes), MACHINE), MACHINE)
        assert report.valid, report.errors
        assert report.totals is not None
        return report.totals.quilt_turns

    assert turns((0, 0), (20, 0), (20, 20), (0, 20)) == 2
    assert turns((0, 0), (20, 0), (20, 6), (40, 6)) == 0
    assert turns((0, 0), (20, 0), (30, 10)) == 0  # 45 degrees is steered


def legs_changed(route: Route, change: Callable[[list[Leg]], object]) -> Route:
    legs = list(route.threads[0].legs)
    change(legs)
    return dataclasses.replace(route, threads=(Thread(tuple(legs)), *route.threads[1:]))


def told(route: Route, **changes: object) -> Route:
    return dataclasses.replace(
        route,
        totals=dataclasses.replace(route.totals, **changes),  # type: ignore[arg-type]
    )


def with_piece(route: Route, name: str, **changes: object) -> Route:
    pieces = dict(route.network.pieces)
    pieces[PieceId(name)] = dataclasses.replace(
        pieces[PieceId(name)],
        **changes,  # type: ignore[arg-type]
    )
    return dataclasses.replace(route, network=dataclasses.replace(route.network, pieces=pieces))


def good() -> Route:
    return plan_route(network(arches(3, 3)), MACHINE)


def flipped(legs: list[Leg]) -> None:
    legs[3] = dataclasses.replace(legs[3], reverse=not legs[3].reverse)


def swapped(legs: list[Leg]) -> None:
    legs[2], legs[9] = legs[9], legs[2]


def sewn_again(legs: list[Leg]) -> None:
    last = legs[-1]
    legs += [Leg(last.piece, not last.reverse, last.step + 1)]


def to_and_fro(times: int) -> Callable[[list[Leg]], None]:
    def change(legs: list[Leg]) -> None:
        step = legs[-1].step
        for k in range(times):
            legs.append(Leg(PieceId("h0,0"), k % 2 == 1, step + 1 + k))

    return change


def from_corner() -> Route:
    """Return a route that stops at the start of piece h0,0, the upper-left corner."""
    net = network(
        [
            stroke("m", (0, 4), (0, 0)),
            stroke("h0,0", (0, 0), (4, 0), "edge", required=False),
        ]
    )
    return plan_route(net, MACHINE)


def start_at_m(route: Route) -> Route:
    """Return the same route sewn so that m ends at the corner."""
    return dataclasses.replace(route, threads=(Thread((Leg(PieceId("m"), False, 1),)),))


def bent_arc() -> Curve:
    return Curve((Arc((0.0, 0.0), (4.0, 0.0), (2.0, 5.0), 0.3),))


BROKEN: dict[str, tuple[Callable[[], Route], str]] = {
    "a required piece left out": (lambda: legs_changed(good(), lambda g: g.pop()), "must be"),
    "a leg the wrong way": (lambda: legs_changed(good(), flipped), "jumps"),
    "legs in another order": (lambda: legs_changed(good(), swapped), "jumps"),
    "a motif twice": (lambda: legs_changed(good(), sewn_again), "stitched 2 times"),
    "an edge three times": (
        lambda: legs_changed(start_at_m(from_corner()), to_and_fro(3)),
        "stitched 3 times",
    ),
    "an unknown piece": (
        lambda: legs_changed(good(), lambda g: g.append(Leg(PieceId("zz"), False))),
        "unknown piece",
    ),
    "an empty thread": (
        lambda: dataclasses.replace(good(), threads=(*good().threads, Thread(()))),
        "no legs",
    ),
    "no threads": (lambda: dataclasses.replace(good(), threads=()), "must be"),
    "a moved end": (
        lambda: with_piece(worked_example(), "d", curve=Curve((Line((0.0, 0.0), (4.0, 1e-9)),))),
        "not exactly at",
    ),
    "a missing node": (lambda: with_piece(good(), "h0,0", u=NodeId("nowhere")), "not there"),
    "a gap inside a curve": (
        lambda: with_piece(
            worked_example(),
            "d",
            curve=Curve((Line((0.0, 0.0), (2.0, 0.0)), Line((2.1, 0.0), (4.0, 0.0)))),
        ),
        "has a gap",
    ),
    "an arc that misses its end": (
        lambda: with_piece(worked_example(), "d", curve=bent_arc()),
        "does not fit",
    ),
    "too short a length": (
        lambda: told(good(), stitched_in=good().totals.stitched_in - 1),
        "stitched_in",
    ),
    "hidden pivots": (lambda: told(good(), pivots=0), "pivots"),
    "hidden buried ends": (lambda: told(worked_example(), buried_ends=0, edge_ends=2), "buried"),
    "hidden travel": (lambda: told(worked_example(), travel_in=0.0), "travel_in"),
    "too few minutes": (
        lambda: told(good(), minutes=dict.fromkeys(good().totals.minutes, 0.0)),
        "minutes",
    ),
    "an invented saving": (
        lambda: told(good(), minutes={**good().totals.minutes, "rest": -1.0}),
        "minutes",
    ),
    "a bound above the route": (
        lambda: told(worked_example(), lower_bounds={"minutes": 99.0}),
        "below its bound",
    ),
    "too few bobbins": (lambda: told(good(), bobbins=0), "bobbins"),
    "steps out of order": (
        lambda: legs_changed(
            worked_example(), lambda g: g.insert(1, dataclasses.replace(g.pop(1), step=7))
        ),
        "numbered step",
    ),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_broken_routes_are_rejected(kind: str) -> None:
    make, word = BROKEN[kind]
    report = audit(make(), MACHINE)
    assert not report.valid
    assert any(word in e for e in report.errors), report.errors


def test_one_pass_ditches_are_held_to_one_pass() -> None:
    route = start_at_m(from_corner())
    net = network(
        [stroke("m", (0, 4), (0, 0)), stroke("h0,0", (0, 0), (4, 0), "ditch", required=False)]
    )
    twice = legs_changed(dataclasses.replace(route, network=net), to_and_fro(2))
    assert not any("stitched" in e and "times" in e for e in audit(twice, MACHINE).errors)
    strict = dataclasses.replace(MACHINE, ditch_passes=1)
    assert any("stitched 2 times" in e for e in audit(twice, strict).errors)


def test_a_jump_of_equal_places_at_different_nodes_is_seen() -> None:
    # Two nodes in one place are two nodes: the file would not be a walk.
    route = worked_example()
    nodes = {**route.network.nodes, NodeId("twin"): (4.0, 0.0)}
    pieces = dict(route.network.pieces)
    pieces[PieceId("m")] = dataclasses.replace(pieces[PieceId("m")], u=NodeId("twin"))
    net = dataclasses.replace(route.network, nodes=nodes, pieces=pieces)
    assert any(
        "jumps" in e for e in audit(dataclasses.replace(route, network=net), MACHINE).errors
    )


def test_lengths_are_true_lengths() -> None:
    arc = Arc.by_rise((0, 0), (8, 0), 2.0)
    route = plan_route(network([stroke("m", (0, 0), (8, 0), rise=2.0)]), MACHINE)
    # Circle through a chord of 8 with rise 2: radius 5 (Machinery's Handbook, circle segments).
    assert arc.radius == pytest.approx(5)
    report = audit(route, MACHINE)
    assert report.totals is not None
    assert report.totals.stitched_in == pytest.approx(10 * math.asin(4 / 5))
