"""Fans: circles, where they meet, how densely they lie, one path through them."""

import math
from collections import Counter

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from tests.motifs.asserts import assert_stitchable, line
from tests.motifs.framed import run
from tests.motifs.tops import DESIGNS, box, hexagons, moved, on_point, sewn, sizes_of, top_from

from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.fans import fans
from seamwalk.motifs.plan import choose, make_strokes
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route

PLAIN = top_from([box(0, 0, 30.5, 24.5)])  # finished 30 × 24, its binding line from 0.25 on


def sewn_once(plan):
    return [s for s in plan.strokes if s.required]


@pytest.mark.parametrize(("spacing", "count"), [(1.0, 6), (1.25, 5), (1.5, 3)])
def test_arcs_are_concentric_and_evenly_spaced(spacing, count):
    plan = run(fans, PLAIN, spacing_in=spacing, depth_in=spacing * count)
    radii = {round(s.curve.smallest_radius / spacing, 6) for s in sewn_once(plan)}
    assert radii == set(range(1, count + 1))
    centres = {tuple(np.round(s.curve.pieces[0].centre, 6)) for s in sewn_once(plan)}
    rows = sorted({y for _, y in centres}, reverse=True)
    assert rows[0] == pytest.approx(24.25)  # the first row stands on the binding line
    assert np.diff(rows) == pytest.approx(-spacing * count * math.sqrt(3) / 2)
    for y in rows[1:3]:
        xs = sorted(x for x, v in centres if v == y)
        assert np.diff(xs) == pytest.approx(spacing * count)


def test_without_a_wish_arcs_are_an_inch_apart():
    radii = {round(s.curve.smallest_radius, 6) for s in sewn_once(run(fans, PLAIN))}
    assert radii == {1, 2, 3, 4, 5, 6}


@given(st.floats(1.0, 2.5), st.integers(2, 8))
@settings(max_examples=20, deadline=None)
def test_every_end_lies_on_an_outer_arc_or_on_the_edge(spacing, count):
    plan = run(fans, PLAIN, spacing_in=spacing, depth_in=spacing * count)
    strokes = sewn_once(plan)
    radius = spacing * count
    outer = [s for s in strokes if s.curve.smallest_radius > radius - 1e-9]
    tree = cKDTree([q for s in outer for q in (s.curve.start, s.curve.end)])
    inner = [s for s in strokes if s.curve.smallest_radius <= radius - 1e-9]
    ends = np.array([q for s in inner for q in (s.curve.start, s.curve.end)])
    on_edge = shapely.distance(lay_out(PLAIN).binding.exterior, shapely.points(ends)) < 1e-6
    # The outer arc is split there: the end is an end of two of its parts.
    parts = tree.query_ball_point(ends[~on_edge], 1e-6, return_length=True)
    assert len(parts)
    assert parts.min() >= 2


def test_an_arcs_length_by_the_circles_intersection():
    # Two circles, radii r and R, centres d apart, meet at x = (d² + r² − R²) / 2d from the first
    # (textbook of analytic geometry, from memory); for r = 3, R = d = 6: x = 0.75.  So in the
    # second row an arc runs from acos(0.75/3) − 60° to 180° − acos(0.75/3).
    plan = run(fans, PLAIN, spacing_in=1.0, depth_in=6.0)
    sweep = math.radians(240) - 2 * math.acos(0.75 / 3)
    whole = [s for s in sewn_once(plan) if s.curve.smallest_radius == pytest.approx(3)]
    lengths = Counter(round(s.curve.length, 6) for s in whole)
    assert lengths[round(3 * sweep, 6)] >= 8


@pytest.mark.parametrize("spacing", [1.0, 1.75])
@pytest.mark.parametrize("design", ["on point", "hexagons", "grid"])
def test_no_place_is_further_from_a_line_than_half_the_spacing(design, spacing):
    # Between arcs half the spacing; the largest circle in the sector of radius s and angle 90° at
    # the edge, which the binding closes, has radius s·√½ / (1 + √½) = 0.41·s (by hand).
    top = DESIGNS[design]()
    plan = run(fans, top, spacing_in=spacing)
    inside = lay_out(top).binding
    x0, y0, x1, y1 = inside.bounds
    grid = np.array(np.meshgrid(np.linspace(x0, x1, 60), np.linspace(y0, y1, 60))).reshape(2, -1).T
    spots = [p for p in shapely.points(grid) if inside.covers(p)]
    lines = shapely.union_all([inside.exterior, *(line(s.curve) for s in sewn_once(plan))])
    assert max(shapely.distance(lines, spots)) < spacing / 2 + 1e-3


@pytest.mark.parametrize("angle", [0.0, 25.0, 90.0])
def test_turning_the_top_and_the_rows_turns_the_fans(angle):
    top = hexagons(4, 3)
    plan = run(fans, top, angle_deg=0.0)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))

    def place(p):
        return (c * p[0] - s * p[1] + 4.0, s * p[0] + c * p[1] + 9.0)

    turned = run(fans, moved(top, place), angle_deg=angle)
    spots = [place(x.curve.part(0, x.curve.length / 2).end) for x in sewn_once(plan)]
    found = shapely.union_all([line(x.curve) for x in sewn_once(turned)])
    assert len(sewn_once(turned)) == len(sewn_once(plan))
    assert max(shapely.distance(found, shapely.points(spots))) < 2e-4


def test_twice_the_size_and_spacing_doubles_the_fans():
    large = top_from([box(0, 0, 60.5, 48.5)])
    one, two = run(fans, PLAIN, spacing_in=1.0), run(fans, large, spacing_in=2.0)
    assert len(one.strokes) == len(two.strokes)
    for a, b in zip(one.strokes, two.strokes, strict=True):
        assert b.curve.length == pytest.approx(2 * a.curve.length, abs=1e-6)


def test_arcs_tighter_than_the_foot_are_left_out_with_a_sentence():
    plan = run(fans, PLAIN, spacing_in=0.5, depth_in=4.0)
    assert min(s.curve.smallest_radius for s in plan.strokes) == pytest.approx(1.0)
    assert plan.warnings == (
        "The fans' innermost arc of 1/2 in is left out, since the foot turns no tighter than "
        "1 in.",
    )
    wide = run(fans, PLAIN, machine=MachineProfile(smallest_radius_in=3.5), depth_in=3.0)
    assert wide.strokes == ()
    assert wide.left_out == (0,)
    assert "ask for a larger depth" in wide.warnings[0]


@pytest.mark.parametrize("design", DESIGNS)
def test_fans_at_an_angle_can_be_stitched_on_every_top(design):
    for top in (DESIGNS[design](), sewn(DESIGNS[design](), np.random.default_rng(5))):
        sizes = sizes_of(top)
        plan = make_strokes(top, sizes, choose(top, sizes, ["all=fans angle=40 spacing=1.3"]))
        assert_stitchable(plan.strokes, top)


def test_the_path_needs_no_buried_end():
    top = on_point(2, 2)
    squares = [p.id for p in top.patches if p.polygon.area > 30]
    plan = make_strokes(top, sizes_of(top), [MotifChoice(tuple(squares), "fans")])
    route = plan_route(network(plan.strokes), MachineProfile())
    assert route.totals.buried_ends == 0
    assert route.totals.threads <= 2  # two starts in the margin cost less than some pivots
