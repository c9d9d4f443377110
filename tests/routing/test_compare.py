"""The same stitching patch by patch and line by line: figures by hand, and valid routes."""

import dataclasses
import math

import numpy as np
import pytest
from tests.routing.instances import arches, grid_lines, irregular, leaves, stroke
from tests.routing.rules import broken_rules

from seamwalk.files.plan_file import to_document
from seamwalk.geometry.curve import Curve
from seamwalk.model.machine import MachineProfile
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import PatchId
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.telling.compare import WAYS, Way, compared, group_by_group

MACHINE = MachineProfile()


def squares(columns: int, rows: int) -> list[Stroke]:
    """Return a grid of arches that know their patches, 1 … from the upper left."""
    return [
        dataclasses.replace(
            s,
            motif="arches",
            patch=PatchId(1 + int(s.id[1:].split(",")[0]) + columns * int(s.id.split(",")[1])),
        )
        if s.required
        else s
        for s in arches(columns, rows)
    ]


def ring(name: str, x: float, y: float, side: float, patch: int) -> Stroke:
    places = [(x, y), (x + side, y), (x + side, y + side), (x, y + side), (x, y)]
    made = Curve.through(places)
    return Stroke(StrokeId(name), made, "motif", True, "outline", PatchId(patch))


def test_two_rings_by_hand() -> None:
    # Each ring: 8 in of stitching, three pivots of 90°, two ends to bury.  No side is longer
    # than the throat, no bobbin runs out.
    strokes = [*grid_lines(2, 1, ditches=True)]
    strokes += [ring("a", 1, 1, 2, 1), ring("b", 5, 1, 2, 2)]
    pivot = MACHINE.pivot_s + MACHINE.pivot_s_per_deg * 60 + MACHINE.meander_s_per_deg * 90
    seconds = 2 * (8 * MACHINE.s_per_in + 3 * pivot + 2 * MACHINE.buried_end_s)
    found = compared(network(strokes), MACHINE)
    assert set(found) == {"patch by patch", "line by line"}
    for other in found.values():
        assert (other.threads, other.buried_ends) == (2, 4)
        assert other.minutes == pytest.approx(seconds / 60)


def test_three_lines_from_edge_to_edge_by_hand() -> None:
    # Ditches at y = 4, 8, 12 over a top 12 in wide: three threads of 12 in that end in the
    # margin; each next one starts at the nearer end, so that the quilt is turned twice.
    strokes = [
        dataclasses.replace(s, required=s.kind == "ditch" and s.id.startswith("h"))
        for s in grid_lines(3, 4, ditches=True)
    ]
    sewn = 36 * MACHINE.s_per_in + 6 * MACHINE.edge_end_s
    for way in WAYS:
        route = group_by_group(network(strokes), MACHINE, way)
        assert (route.totals.threads, route.totals.buried_ends) == (3, 0)
        others = math.fsum(v for k, v in route.totals.minutes.items() if k != "quilt turns")
        assert others == pytest.approx(sewn / 60)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(
    "strokes",
    [
        squares(4, 3),
        leaves(4, 3),
        irregular(60, np.random.default_rng(3)),
        [*grid_lines(2, 1, ditches=True), ring("a", 1, 1, 2, 1), stroke("m", (1, 1), (0, 0))],
    ],
    ids=["arches", "leaves", "irregular", "ring"],
)
def test_both_ways_are_routes_like_any_other(strokes: list[Stroke], way: Way) -> None:
    made = network(strokes)
    route = group_by_group(made, MACHINE, way)
    report = audit(route, MACHINE)
    assert report.valid, report.errors
    # By the plan file's rules alone, written apart from the router.
    assert broken_rules(to_document(route).model_dump(mode="python", by_alias=True)) == []
    # What is a route can't take less than no route takes.
    bound = plan_route(made, MACHINE).totals.lower_bounds
    minutes = route.totals.minutes
    counted = math.fsum(
        v for k, v in minutes.items() if k not in ("quilt turns", "bobbin changes")
    )
    assert counted >= bound["minutes"] * (1 - 1e-9)


def test_no_thread_leaves_its_patch() -> None:
    route = group_by_group(network(squares(4, 3)), MACHINE, "patch by patch")
    for thread in route.threads:
        pieces = [route.network.pieces[leg.piece] for leg in thread.legs]
        patches = {p.stroke.patch for p in pieces if p.stroke.required}
        assert len(patches) == 1
    # Twelve patches, all of them sewn.
    assert route.totals.threads >= 12


def test_no_thread_leaves_its_line() -> None:
    # Lines of arches of a 4 x 3 grid: 5 that lie down, 4 across; nodes on one line share x or y.
    route = group_by_group(network(squares(4, 3)), MACHINE, "line by line")
    lines = set()
    for thread in route.threads:
        pieces = [route.network.pieces[leg.piece] for leg in thread.legs]
        places = [route.network.nodes[n] for p in pieces for n in (p.u, p.v)]
        xs, ys = {x for x, _ in places}, {y for _, y in places}
        assert len(xs) == 1 or len(ys) == 1
        lines.add(("x", *xs) if len(xs) == 1 else ("y", *ys))
    assert len(lines) == 9


def test_a_machine_that_allows_one_pass_gets_no_second() -> None:
    once = dataclasses.replace(MACHINE, ditch_passes=1)
    for way in WAYS:
        route = group_by_group(network(squares(3, 3)), once, way)
        report = audit(route, once)
        assert report.valid, report.errors


def test_nothing_to_stitch_is_not_compared() -> None:
    assert compared(network(grid_lines(2, 2, ditches=True)), MACHINE) == {}
