"""Inputs that lie apart, end freely or close at one node: valid, near the bound, and why."""

import math

import pytest
from tests.routing.instances import grid_lines, stroke
from tests.routing.test_route import gap, planned

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.machine import MachineProfile
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.graph import network
from seamwalk.routing.telling.reasons import reasons
from seamwalk.routing.turning import half_edges

MACHINE = MachineProfile()


def ring(name: str, at: tuple[float, float], radius: float = 1.0) -> Stroke:
    """Return a circle that starts and stops at one point."""
    curve = Curve((Arc(at, at, (at[0], at[1] + radius), 2 * math.pi),))
    return Stroke(StrokeId(name), curve, "motif", True, motif="circle")


def told(strokes: list[Stroke]) -> list[str]:
    """Return the kinds of reasons for thread ends."""
    return [r.kind for r in reasons(half_edges(network(strokes), MACHINE))]


def test_rings_closed_at_a_ditch_are_sewn_from_the_edge() -> None:
    # Nine circles, each hung on a crossing of ditches: all in one thread, in from the edge and
    # out, since two ends inside cost 240 s and the ditch 8 s from crossing to crossing.
    strokes = grid_lines(4, 4, ditches=True)
    strokes += [ring(f"o{i}{j}", (4.0 * i, 4.0 * j)) for i in (1, 2, 3) for j in (1, 2, 3)]
    route = planned(strokes)
    assert route.totals.threads == 1
    assert (route.totals.edge_ends, route.totals.buried_ends) == (2, 0)
    # Nine crossings in one walk from edge to edge: ten stretches of 4 in at least.
    assert route.totals.travel_in >= 40 - 1e-6
    assert gap(route) <= 5e-5
    assert told(strokes) == []


def test_rings_closed_at_a_point_without_a_ditch_need_a_thread_each() -> None:
    strokes = [ring(f"o{i}", (6.0 * i, 0.0)) for i in range(4)]
    route = planned(strokes)
    assert (route.totals.threads, route.totals.buried_ends) == (4, 8)
    assert gap(route) == pytest.approx(0, abs=1e-4)
    assert told(strokes) == ["apart"] * 3


def test_two_rings_closed_at_the_same_point_are_one_thread() -> None:
    # In and out of each circle straight on; the two touch from opposite sides.
    route = planned([ring("o", (0.0, 0.0)), ring("p", (0.0, 0.0), -1.0)])
    assert (route.totals.threads, route.totals.buried_ends) == (1, 2)
    assert gap(route) == pytest.approx(0, abs=1e-4)


def test_a_stroke_with_a_free_end_inside_starts_there() -> None:
    # A stem that ends inside a patch: its free end is buried, the thread leaves over the ditch.
    strokes = [*grid_lines(2, 2, ditches=True), stroke("stem", (4, 4), (5.5, 5.5))]
    route = planned(strokes)
    assert route.totals.threads == 1
    assert (route.totals.edge_ends, route.totals.buried_ends) == (1, 1)
    assert gap(route) == pytest.approx(0, abs=1e-4)
    found = reasons(half_edges(network(strokes), MACHINE))
    # Both ends of the stem are odd, but from the crossing travel leads on to others.
    assert [r.kind for r in found] == ["odd", "odd"]
    assert {len(r.nodes) for r in found} == {1}
    assert all(len(r.pieces) == 1 for r in found)


def test_a_vein_with_free_ends_costs_as_many_ends_as_it_has() -> None:
    # A star of five strokes: five free ends and an odd middle, so three threads at least.
    strokes = [
        stroke(f"s{k}", (0, 0), (3 * math.cos(1.2 * k), 3 * math.sin(1.2 * k))) for k in range(5)
    ]
    route = planned(strokes)
    assert route.totals.threads == 3
    assert told(strokes) == ["odd"] * 6
    assert gap(route) == pytest.approx(0, abs=1e-4)


def test_separate_regions_are_sewn_one_after_another() -> None:
    # Two grids of ditches 20 in apart, all of them to be sewn.
    one = grid_lines(3, 3, ditches=True, required=True)
    two = [stroke(f"far{s.id}", _moved(s.curve.start), _moved(s.curve.end), s.kind) for s in one]
    route = planned([*one, *two])
    alone = planned(one)
    assert route.totals.threads == 2 * alone.totals.threads
    assert route.totals.lower_bounds["threads"] == 2
    assert told([*one, *two]) == ["apart"]
    assert gap(route) <= 5e-5
    assert route.totals.lower_bounds["minutes"] == pytest.approx(
        2 * alone.totals.lower_bounds["minutes"], rel=1e-4
    )


def _moved(point: tuple[float, float]) -> tuple[float, float]:
    return (point[0] + 40, point[1] + 7)


def test_islands_without_a_ditch_are_told_apart() -> None:
    # Three closed leaves that nothing joins, and one ditch that joins none of them.
    strokes = [
        stroke(f"{k}{r}", (9.0 * k, 0), (9.0 * k + 6, 0), rise=r)
        for k in range(3)
        for r in (1.0, -1.0)
    ]
    strokes.append(stroke("d", (0, 8), (20, 8), "ditch", required=False))
    route = planned(strokes)
    assert (route.totals.threads, route.totals.buried_ends) == (3, 6)
    found = reasons(half_edges(network(strokes), MACHINE))
    assert [r.kind for r in found] == ["apart", "apart"]
    assert all(len(r.pieces) == 2 and len(r.nodes) == 2 for r in found)
    assert gap(route) == pytest.approx(0, abs=1e-4)


def test_nothing_to_sew_needs_no_reason() -> None:
    assert reasons(half_edges(network(grid_lines(2, 2, ditches=True)), MACHINE)) == ()
