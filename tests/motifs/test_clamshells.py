"""Clamshells: one circle, staggered rows, ends on the tops of the scales below."""

import math
from collections import defaultdict

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.motifs.asserts import assert_stitchable, line
from tests.motifs.framed import run
from tests.motifs.tops import DESIGNS, box, moved, on_point, sewn, sizes_of, top_from

from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.clamshells import clamshells
from seamwalk.motifs.plan import choose, make_strokes
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route

PLAIN = top_from([box(0, 0, 30.5, 24.5)])


@given(st.floats(1.0, 5.0))
@settings(max_examples=20, deadline=None)
def test_four_quarter_circles_meet_square_at_every_top(radius):
    plan = run(clamshells, PLAIN, spacing_in=radius)
    edge = lay_out(PLAIN).binding.exterior
    ways = defaultdict(list)
    for s in plan.strokes:
        assert s.curve.smallest_radius == pytest.approx(radius)
        for q, out in (
            (s.curve.start, s.curve.start_heading_rad),
            (s.curve.end, s.curve.end_heading_rad + math.pi),
        ):
            ways[tuple(np.round(q, 6) + 0.0)].append(out)
    inner = {q: w for q, w in ways.items() if edge.distance(shapely.Point(q)) > 1e-5}
    assert inner or radius > 4
    for headings in inner.values():
        # Two go on level, left and right; two come from above, where the row above ends.
        level = sorted(round(math.degrees(h)) % 360 for h in headings)
        assert level == [0, 180, 270, 270]


def test_rows_are_a_radius_apart_and_staggered():
    centres = {
        tuple(np.round(s.curve.pieces[0].centre, 6))
        for s in run(clamshells, PLAIN, spacing_in=2.0).strokes
    }
    rows = sorted({y for _, y in centres}, reverse=True)
    assert rows[0] == pytest.approx(24.25)  # the first row stands on the binding line
    assert np.diff(rows) == pytest.approx(-2.0)
    for k, y in enumerate(rows):
        off = {round((x - 15.25 - 2.0 * (k % 2)) / 4.0, 6) % 1 for x, v in centres if v == y}
        assert off == {0.0}  # the middle of the top is the middle of a scale


def test_density_of_lines_is_that_of_half_circles_in_a_grid():
    # A half circle, πR, for every 2R × R of cloth: π / 2R in of line on a square inch (by hand).
    top = top_from([box(0, 0, 120.5, 120.5)])
    total = sum(s.curve.length for s in run(clamshells, top, spacing_in=2.0).strokes)
    assert total / 120**2 == pytest.approx(math.pi / 4, rel=0.01)


@pytest.mark.parametrize("mirror", [False, True])
def test_mirroring_and_turning_the_top_does_the_same_to_its_scales(mirror):
    top = on_point(2, 2)
    plan = run(clamshells, top, spacing_in=1.5, angle_deg=0.0)
    c, s = math.cos(0.3), math.sin(0.3)

    def place(p):
        x = -p[0] if mirror else p[0]
        return (c * x - s * p[1] + 2.0, s * x + c * p[1] - 5.0)

    turned = run(clamshells, moved(top, place), spacing_in=1.5, angle_deg=math.degrees(0.3))
    spots = [place(x.curve.part(0, x.curve.length / 2).end) for x in plan.strokes]
    found = shapely.union_all([line(x.curve) for x in turned.strokes])
    assert max(shapely.distance(found, shapely.points(spots))) < 2e-4
    assert sum(x.curve.length for x in turned.strokes) == pytest.approx(
        sum(x.curve.length for x in plan.strokes)
    )


def test_scales_tighter_than_the_foot_are_refused_with_a_sentence():
    plan = run(clamshells, PLAIN, spacing_in=0.75)
    assert plan.strokes == ()
    assert plan.left_out == (0,)
    assert plan.warnings == (
        "Clamshells of radius 3/4 in are not possible, since the foot turns no tighter than "
        "1 in: ask for a larger spacing.",
    )
    fine = run(clamshells, PLAIN, spacing_in=0.75, machine=MachineProfile(smallest_radius_in=0.5))
    assert fine.strokes


@pytest.mark.parametrize("design", DESIGNS)
def test_clamshells_at_an_angle_can_be_stitched_on_every_top(design):
    for top in (DESIGNS[design](), sewn(DESIGNS[design](), np.random.default_rng(6))):
        sizes = sizes_of(top)
        plan = make_strokes(
            top, sizes, choose(top, sizes, ["all=clamshells angle=-33 spacing=1.3"])
        )
        assert_stitchable(plan.strokes, top)


def test_nothing_is_stitched_twice_and_no_end_is_buried():
    # Four ends meet at every top: all degrees inside are even (Euler).
    sizes = sizes_of(PLAIN)
    plan = make_strokes(PLAIN, sizes, choose(PLAIN, sizes, ["all=clamshells"]))
    route = plan_route(network(plan.strokes), MachineProfile())
    assert route.totals.buried_ends == 0
    assert route.totals.doubled_in == 0
