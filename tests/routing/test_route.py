"""Whole routes: always valid, never below the bound, independent of names."""

import dataclasses
import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.routing.instances import arches, grid_lines, irregular, leaves, on_point, rounds, stroke
from tests.routing.rules import broken_rules

from seamwalk.files.plan_file import to_document
from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Route
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.solve.pairing import choices, pair
from seamwalk.routing.turning import half_edges

MACHINE = MachineProfile()


def planned(strokes: list[Stroke], machine: MachineProfile = MACHINE) -> Route:
    """Return the route, audited and checked by the rules of the file."""
    route = plan_route(network(strokes), machine)
    report = audit(route, machine)
    assert report.valid, report.errors
    assert broken_rules(to_document(route).model_dump(mode="json", by_alias=True)) == []
    return route


def cost_min(route: Route) -> float:
    """Return the minutes that the bound speaks of."""
    left_out = ("quilt turns", "bobbin changes")
    return math.fsum(v for k, v in route.totals.minutes.items() if k not in left_out)


def gap(route: Route) -> float:
    """Return the share by which the route exceeds its bound."""
    return cost_min(route) / route.totals.lower_bounds["minutes"] - 1


# Largest gap allowed.  The project's targets are none for regular tops (0.00 %) and 0.3 % for
# irregular ones; rounds along irregular patches are the hardest, and the bound falls short there.
TOPS = {
    "arches": (arches(8, 8), 1e-5),
    "on point": (on_point(5, 5), 0.00005),
    "leaves": (leaves(8, 8), 1e-5),
    "irregular": (irregular(200, np.random.default_rng(5)), 1e-5),
    "rounds": (rounds(30, np.random.default_rng(0)), 1e-5),
}
IRREGULAR = {"irregular", "rounds"}


@pytest.mark.parametrize("name", TOPS)
def test_whole_tops(name: str) -> None:
    strokes, most = TOPS[name]
    route = planned(strokes)
    assert -1e-9 <= gap(route) <= most
    assert route.totals.buried_ends == 0  # all of these can start and stop at the edge
    if name not in IRREGULAR:
        assert route.totals.threads == 1
        assert route.totals.travel_in == pytest.approx(0, abs=1e-9)


def test_straight_lines_from_edge_to_edge_are_sewn_as_lines() -> None:
    # Eight lines each way in the ditch: straight through every crossing, nothing sewn twice.
    route = planned([
        dataclasses.replace(s, required=s.kind == "ditch")
        for s in grid_lines(9, 9, ditches=True)
    ])  # fmt: skip
    runs = [
        {g.step for g in thread.legs if not g.piece.startswith(("e", "z"))}
        for thread in route.threads
    ]
    assert route.totals.doubled_in == pytest.approx(0, abs=1e-9)
    assert sum(len(r) for r in runs) <= 3 * 16


def test_nothing_to_stitch() -> None:
    route = planned(grid_lines(3, 3, ditches=True))
    assert route.threads == ()
    assert route.totals.stitched_in == 0
    assert planned([]).threads == ()


def test_a_lone_circle_is_one_thread_with_two_buried_ends() -> None:
    circle = Curve((Arc((2, 0), (2, 0), (0, 0), 2 * math.pi),))
    route = planned([Stroke(StrokeId("o"), circle, "motif", True)])
    assert (route.totals.threads, route.totals.buried_ends) == (1, 2)
    assert route.totals.pivots == 0
    assert gap(route) == pytest.approx(0, abs=1e-4)


def test_a_circle_on_a_seam_is_joined_to_its_neighbour() -> None:
    circle = Curve((Arc((8, 0), (8, 0), (8, 2), 2 * math.pi),))
    route = planned(
        [stroke("m", (0, 0), (8, 0)), stroke("n", (8, 0), (16, 0)),
         Stroke(StrokeId("o"), circle, "motif", True)]
    )  # fmt: skip
    assert route.totals.threads == 1
    assert route.totals.pivots == 0  # the circle touches the line: straight in, straight out


def test_separate_parts_get_a_thread_each() -> None:
    route = planned([stroke("a", (0, 0), (4, 0)), stroke("b", (0, 9), (4, 9), rise=1)])
    assert route.totals.threads == 2
    assert route.totals.lower_bounds["threads"] == 2
    assert gap(route) == pytest.approx(0, abs=1e-5)


def test_islands_are_joined_by_a_ditch_there_and_back() -> None:
    # Two closed leaves 4 in apart on a seam: 8 s of travel is less than two more buried ends.
    strokes = [
        stroke(f"{k}{r}", (x, 0), (x + 6, 0), rise=r)
        for k, x in (("a", 0.0), ("b", 10.0))
        for r in (1.0, -1.0)
    ]
    route = planned([*strokes, stroke("d", (6, 0), (10, 0), "ditch", required=False)])
    assert route.totals.threads == 1
    assert route.totals.travel_in <= 8 + 1e-9


def rings(columns: int, rows: int) -> list[Stroke]:
    """Return a square ring inside each square, hung on two leads that are sewn once at most."""
    out = grid_lines(columns, rows, ditches=True)
    for j in range(rows):
        for i in range(columns):
            x, y, name = 4.0 * i, 4.0 * j, f"r{i},{j}"
            ring = [(x + 1, y + 1), (x + 3, y + 1), (x + 3, y + 3), (x + 1, y + 3), (x + 1, y + 1)]
            out.append(Stroke(StrokeId(name), Curve.through(ring), "motif", True))
            for k, foot in enumerate(((x, y), (x + 1, y))):
                out.append(stroke(f"{name}/{k}", (x + 1, y + 1), foot, required=False))
    return out


def test_rings_on_leads_are_joined_along_the_ditches() -> None:
    # Each ring cut open by itself would cost 240 s; in by one lead and out by the other, 9 s.
    route = planned(rings(4, 4))
    assert route.totals.buried_ends == 0
    assert gap(route) < 5e-5
    proven = plan_route(network(rings(2, 1)), MACHINE, time_limit_s=30.0)
    assert gap(proven) == pytest.approx(0, abs=2e-5)
    assert cost_min(planned(rings(2, 1))) <= 1.00001 * cost_min(proven)


def test_ends_go_to_the_edge_where_that_is_cheaper() -> None:
    # A leaf line that stops 5 in from the edge: 10 s of ditch beat 105 s of burying.
    strokes = [
        stroke("m", (0, 0), (6, 0)),
        stroke("d", (6, 0), (11, 0), "ditch", required=False),
        stroke("e", (11, -4), (11, 4), "edge", required=False),
        stroke("w", (0, -4), (0, 4), "edge", required=False),
    ]
    route = planned(strokes)
    assert (route.totals.edge_ends, route.totals.buried_ends) == (2, 0)
    assert route.totals.travel_in == pytest.approx(5)


def test_no_thread_begins_or_stops_with_travel_that_serves_nothing() -> None:
    for strokes, _ in TOPS.values():
        route = planned(strokes)
        pieces = route.network.pieces
        margin = {n for p in pieces.values() if p.stroke.kind == "edge" for n in (p.u, p.v)}
        for thread in route.threads:
            for leg, inner in (
                (thread.legs[0], pieces[thread.legs[0].piece].u),
                (thread.legs[-1], pieces[thread.legs[-1].piece].v),
            ):
                if not pieces[leg.piece].stroke.required:
                    # Only to reach the edge from inside.
                    ends = {pieces[leg.piece].u, pieces[leg.piece].v}
                    assert not ends <= margin, inner


@pytest.mark.parametrize("name", TOPS)
def test_names_and_order_change_no_cost(name: str) -> None:
    strokes, _ = TOPS[name]
    shuffled = [
        dataclasses.replace(s, id=StrokeId(f"q{hash_of(k)}")) for k, s in enumerate(strokes)
    ]
    random.Random(3).shuffle(shuffled)
    assert cost_min(planned(shuffled)) == pytest.approx(cost_min(planned(strokes)), rel=1e-12)


def hash_of(k: int) -> int:
    """Return a number that puts names in another order than k."""
    return (k * 7919 + 13) % 100_003


@pytest.mark.parametrize("name", TOPS)
def test_both_solvers_find_the_same_bound(name: str) -> None:
    strokes = {
        "arches": arches(3, 3), "on point": on_point(2, 2), "leaves": leaves(3, 2),
        "irregular": irregular(18, np.random.default_rng(8)),
        "rounds": rounds(8, np.random.default_rng(1)),
    }[name]  # fmt: skip
    given = choices(half_edges(network(strokes), MACHINE), MACHINE)
    sparse = pair(given, solver="pymatching")
    dense = pair(given, solver="rustworkx")
    assert sparse.bound_s == pytest.approx(dense.bound_s, rel=1e-12)


def test_more_passes_never_cost_more() -> None:
    net = network(irregular(60, np.random.default_rng(4)))
    bounds = [
        plan_route(net, dataclasses.replace(MACHINE, ditch_passes=n)).totals.lower_bounds
        for n in (1, 2)
    ]
    assert bounds[1]["minutes"] <= bounds[0]["minutes"] + 1e-9
    once = plan_route(net, dataclasses.replace(MACHINE, ditch_passes=1))
    assert audit(once, dataclasses.replace(MACHINE, ditch_passes=1)).valid


def test_a_ditch_needs_a_pass() -> None:
    with pytest.raises(ValueError, match="pass"):
        plan_route(network(arches(1, 1)), dataclasses.replace(MACHINE, ditch_passes=0))


def test_steps_start_where_the_needle_stops() -> None:
    for thread in planned(arches(4, 4)).threads:
        steps = [g.step for g in thread.legs]
        assert steps == sorted(steps)
    assert planned(arches(4, 4)).threads[0].legs[0].step == 1


spot = st.tuples(st.integers(0, 3), st.integers(0, 3))
one = st.tuples(
    spot,
    spot,
    st.sampled_from(["motif", "ditch", "edge"]),
    st.booleans(),
    st.sampled_from([0.0, 0.5, -1.5, 4.0]),
)


@given(st.lists(one, min_size=1, max_size=14))
@settings(max_examples=120, deadline=None)
def test_any_network_gets_a_valid_route(
    drawn: list[tuple[tuple[int, int], tuple[int, int], str, bool, float]],
) -> None:
    strokes = []
    for k, (a, b, kind, want, rise) in enumerate(drawn):
        p, q = (3.0 * a[0], 3.0 * a[1]), (3.0 * b[0], 3.0 * b[1])
        if p != q:
            strokes.append(stroke(f"s{k}", p, q, kind, required=want, rise=rise))  # type: ignore[arg-type]
        else:
            ring = Curve((Arc(p, p, (p[0] + 1, p[1]), 2 * math.pi),))
            strokes.append(Stroke(StrokeId(f"s{k}"), ring, kind, want))  # type: ignore[arg-type]
    route = planned(strokes)
    if route.threads:
        assert gap(route) >= -1e-6
        assert route.totals.threads >= route.totals.lower_bounds["threads"]
