"""Shapes that speak against the seams: true tops are left alone, a seam taken out is noticed."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from tests.sheets.sampler import grid_top, sampler_sizes
from tests.vision.drawn_tops import straight_down
from tests.vision.exact_tops import exact_top, squares

from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.tops import make_top
from seamwalk.sheets.patch_doubts import patch_doubts
from seamwalk.vision.measure import measure

DESIGNS = ("nine patch", "flying geese", "rail fence", "on point", "sashed", "hexagons")


def doubts_of(polygons, **kw):
    top = exact_top(polygons, **kw)
    return patch_doubts(top, measure(top, straight_down()))


def true_top(design):
    return make_top(design, Layout(3, 4, 9.0), border_in=3.0, seed=3)


@pytest.mark.parametrize("design", DESIGNS)
def test_a_true_top_is_left_alone(design):
    top = true_top(design)
    doubts = patch_doubts(top, measure(top, straight_down()))
    assert [d for d in doubts if d.reason != "off"] == []


@pytest.mark.parametrize("design", DESIGNS)
def test_a_seam_taken_out_is_noticed(design):
    top = true_top(design)
    polygon = {p.id: p.polygon for p in top.patches}
    inner = [s for s in top.seams if s.kind == "seam"]
    rng = np.random.default_rng(5)
    noticed = []
    for k in rng.choice(len(inner), 4, replace=False):
        pair = (inner[k].left, inner[k].right)
        joined = polygon[pair[0]].union(polygon[pair[1]])
        rest = [q for p, q in polygon.items() if p not in pair]
        doubts = doubts_of([joined, *rest], raw_edges=True)
        noticed.append(any(0 in d.patches for d in doubts if d.reason != "off"))
    # Of 96 such seams in twelve designs 89 were noticed; one of four here may be among the rest.
    assert sum(noticed) >= 3


def test_an_l_is_doubted_and_a_jog_is_not():
    grid = squares(4, 4, 3.0)
    l_shape = shapely.unary_union([grid[0], grid[1], grid[4]])
    (doubt,) = doubts_of([l_shape, *(g for k, g in enumerate(grid) if k not in (0, 1, 4))])
    assert (doubt.reason, doubt.patches) == ("inward corner", (0,))
    # A seam found 1/2 in beside its place over half a patch: an inward corner, but a jog.
    jogged = shapely.Polygon([(0, 0), (3, 0), (3, 1.5), (2.5, 1.5), (2.5, 3), (0, 3)])
    beside = shapely.Polygon([(3, 0), (6, 0), (6, 3), (2.5, 3), (2.5, 1.5), (3, 1.5)])
    rest = [g for k, g in enumerate(grid) if k not in (0, 1)]
    assert [
        d for d in _doubts_of_loose([jogged, beside, *rest]) if d.reason == "inward corner"
    ] == []


@pytest.mark.parametrize("radius", [1.5, 2.25, 6.0])
def test_curved_seams_are_no_inward_corners(radius):
    turn = np.linspace(0, np.pi / 2, 24)
    arc = [(float(radius * np.cos(a)), float(radius * np.sin(a))) for a in turn]
    side = radius / 0.75
    quarter = shapely.Polygon([(0, 0), *arc])
    rest = shapely.Polygon([*arc[::-1], (side, 0), (side, side), (0, side)])
    doubts = doubts_of([quarter, rest])
    assert "inward corner" not in [d.reason for d in doubts]


def test_two_of_a_kind_in_one_and_two_kinds_in_one():
    grid = squares(4, 5, 3.0)
    double = grid[6].union(grid[7])
    doubts = doubts_of([double, *(g for k, g in enumerate(grid) if k not in (6, 7))])
    assert [(d.reason, d.patches, len(d.like)) for d in doubts] == [
        ("as large as several", (0,), 2)
    ]
    assert len(set(doubts[0].like)) == 1
    mixed = [
        *(shapely.box(x, y, x + 5, y + 4) for x in (0, 7, 14) for y in (0, 4, 8)),
        *(shapely.box(x, y, x + 2, y + 4) for x in (5, 12) for y in (0, 4, 8)),
    ]
    joined = mixed[4].union(mixed[13])
    assert joined.bounds == (7, 4, 14, 8)
    rest = [m for k, m in enumerate(mixed) if k not in (4, 13)]
    (doubt,) = doubts_of([joined, *rest])
    assert (doubt.reason, doubt.patches, len(set(doubt.like))) == ("as large as several", (0,), 2)


def test_what_comes_often_is_the_design():
    # Four doubles among sixteen squares: bricks, not missed seams.
    bricks = [shapely.box(6 * i, 0, 6 * i + 6, 3) for i in range(4)]
    below = [shapely.affinity.translate(g, 0, 3) for g in squares(2, 8, 3.0)]
    assert _doubts_of_loose([*bricks, *below]) == ()


def test_a_square_cut_in_two_odd_pieces():
    grid = squares(4, 4, 3.0)
    x0, y0, x1, y1 = grid[5].bounds
    halves = [shapely.box(x0, y0, x0 + 1.0, y1), shapely.box(x0 + 1.0, y0, x1, y1)]
    rest = [g for k, g in enumerate(grid) if k != 5]
    top = _with_junctions([*halves, *rest])
    (doubt,) = patch_doubts(top, measure(top, straight_down()))
    assert (doubt.reason, set(doubt.patches)) == ("two make one", {0, 1})
    (seam,) = (s for s in top.seams if s.id in doubt.seams)
    assert {seam.left, seam.right} == {0, 1}
    assert doubt.length_in == pytest.approx(3.0)


def test_a_sliver():
    grid = squares(4, 4, 3.0)
    x0, y0, x1, y1 = grid[5].bounds
    pieces = [shapely.box(x0, y0, x0 + 0.4, y1), shapely.box(x0 + 0.4, y0, x1, y1)]
    # Beside a second odd patch, so that the two do not make one of a kind.
    wide = shapely.box(x1, y0, x1 + 3, y1)
    rest = [g for k, g in enumerate(grid) if k not in (5, 6)]
    joined = pieces[1].union(wide)
    top = _with_junctions([pieces[0], joined, *rest])
    doubts = patch_doubts(top, measure(top, straight_down()))
    assert ("sliver", (0,)) in [(d.reason, d.patches) for d in doubts]


def test_narrow_strips_of_a_design_are_no_slivers():
    # A miniature, in which one strip is narrower than the rest.
    edges = [0, 0.6, 1.2, 1.8, 2.2, *(2.8 + 0.6 * k for k in range(6))]
    assert doubts_of([shapely.box(a, 0, b, 3) for a, b in pairwise(edges)]) == ()
    # Piping between squares, again and again.
    piped = [shapely.box(x, y, x + 3, y + 3) for x in (0, 3.5, 7, 10.5) for y in (0, 3)]
    piped += [shapely.box(x + 3, y, x + 3.5, y + 3) for x in (0, 3.5, 7) for y in (0, 3)]
    assert doubts_of(piped) == ()


def test_neighbours_off_in_opposite_ways_share_one_doubt():
    top = grid_top(4, 3)
    sizes = sampler_sizes(top, off=(6, 7, 12))
    small = replace(sizes.patches[6].finished, off_in=-0.3)
    patches = list(sizes.patches)
    patches[6] = replace(patches[6], finished=small)
    doubts = patch_doubts(top, replace(sizes, patches=tuple(patches)))
    assert [(d.reason, d.patches) for d in doubts] == [("off", (6, 7)), ("off", (12,))]
    (seam,) = (s for s in top.seams if s.id in doubts[0].seams)
    assert {seam.left, seam.right} == {6, 7}


def test_neighbours_both_too_large_are_two_doubts():
    sizes = sampler_sizes(grid_top(4, 3), off=(6, 7))
    doubts = patch_doubts(grid_top(4, 3), sizes)
    assert [(d.reason, d.patches) for d in doubts] == [("off", (6,)), ("off", (7,))]


def _doubts_of_loose(polygons):
    top = _with_junctions(polygons)
    return patch_doubts(top, measure(top, straight_down()))


def _with_junctions(polygons):
    """The top of polygons whose corners may lie on sides of their neighbours."""
    corners = np.unique(np.concatenate([shapely.get_coordinates(p) for p in polygons]), axis=0)
    rings = []
    for p in polygons:
        ring = []
        c = shapely.get_coordinates(p.exterior)
        for a, b in pairwise(c):
            side = shapely.LineString([a, b])
            on = [q for q in corners if side.distance(shapely.Point(q)) < 1e-9]
            ring += sorted(on, key=lambda q: np.hypot(*(q - a)))[:-1]
        rings.append(shapely.Polygon(ring))
    return exact_top(rings)
