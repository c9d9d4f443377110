"""Rings inside one another: how far apart, how many, and how a path goes from one to the next."""

import math

import pytest
from tests.motifs.asserts import assert_stitchable
from tests.motifs.framed import run
from tests.motifs.tops import DESIGNS, grid, sizes_of

from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.outline import outline
from seamwalk.motifs.plan import choose, make_strokes
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route


def rings_of(plan, patch=0):
    return [s.curve for s in plan.strokes if s.required and s.patch == patch]


@pytest.mark.parametrize("spacing", [0.5, 1.0, 1.5])
def test_rings_of_a_square_are_squares_a_spacing_apart(spacing):
    # The ring at distance d has sides 6 − 2d (geometry by hand); rings under 2 in are none.
    plan = run(outline, grid(3, 3, 6.0), spacing_in=spacing)
    lengths = [c.length for c in rings_of(plan)]
    d, expected = 0.25, []
    while 4 * (6 - 2 * d) >= 2 and d < 3:
        expected.append(4 * (6 - 2 * d))
        d += spacing
    assert lengths == pytest.approx(expected)


def test_without_a_spacing_there_is_one_ring():
    assert len(rings_of(run(outline, grid(2, 2, 6.0)))) == 1


def test_rings_of_a_triangle_end_at_its_inscribed_circle():
    # r = s·(2 − √2)/2 in half of a square of side s: 1.17 in for 4 in (textbook).
    top = DESIGNS["pinwheels"]()
    inscribed = 4 * (2 - math.sqrt(2)) / 2
    plan = run(outline, top, spacing_in=0.25)
    shapes = lay_out(top).outlines
    for patch in (5, 6):
        edge = shapes[patch].polygon.exterior
        far = [min(edge.distance(_point(q)) for q in _ends(c)) for c in rings_of(plan, patch)]
        assert far == pytest.approx([0.25 * (k + 1) for k in range(len(far))], abs=1e-6)
        assert far[-1] < inscribed


def _ends(curve):
    return [p.start for p in curve.pieces]


def _point(q):
    from shapely import Point

    return Point(q)


@pytest.mark.parametrize("design", DESIGNS)
def test_rings_can_be_stitched_on_every_top(design):
    top = DESIGNS[design]()
    sizes = sizes_of(top)
    plan = make_strokes(top, sizes, choose(top, sizes, ["all=outline spacing=3/4"]))
    assert_stitchable(plan.strokes, top)


def test_the_path_comes_in_and_goes_out_again():
    top = grid(3, 3, 6.0)
    sizes = sizes_of(top)
    plan = make_strokes(top, sizes, choose(top, sizes, ["all=outline spacing=1"]))
    route = plan_route(network(plan.strokes), MachineProfile(), time_limit_s=1)
    assert route.totals.threads == 1
    assert route.totals.buried_ends == 0
