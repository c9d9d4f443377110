"""Largest empty circles: closed cases, a fine distance transform, what is said to close gaps."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import distance_transform_edt
from shapely import Polygon, box
from tests.motifs.tops import DESIGNS, grid, on_point, sizes_of

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.empty_circles import empty_circles
from seamwalk.motifs.gap_closing import with_closings
from seamwalk.motifs.gaps import HAIR_IN, gap_report
from seamwalk.motifs.plan import choose, make_strokes

EXACT = 0.01
"""What the search promises: never too large, at most 1 % too small."""


def line(*points):
    return Curve.through(points)


def dot(x, y):
    return line((x, y), (x + 1e-5, y))


def circle(x, y, r):
    half = Arc((x - r, y), (x + r, y), (x, y), math.pi)
    return Curve((half, Arc((x + r, y), (x - r, y), (x, y), math.pi)))


def rulings(spacing, side):
    at = np.arange(spacing, side - 1e-9, spacing)
    return [line((v, 0), (v, side)) for v in at] + [line((0, v), (side, v)) for v in at]


def assert_radius(found, true):
    assert true * (1 - EXACT) <= found <= true * (1 + 1e-6)


@pytest.mark.parametrize("spacing", [0.5, 1.0, 3.0])
def test_between_square_rulings_the_circle_is_as_wide_as_the_spacing(spacing):
    # Inscribed circle of a square of side s: radius s/2 (geometry by hand).
    _, radii = empty_circles(rulings(spacing, 12.0), box(0, 0, 12, 12), 0.2)
    assert_radius(radii[0], spacing / 2)


@pytest.mark.parametrize("spacing", [1.0, 2.5])
def test_between_points_in_a_square_grid(spacing):
    # The middle of a square is half its diagonal from the corners: s/√2 (geometry by hand).
    points = [dot(x, y) for x in np.arange(0, 20.1, spacing) for y in np.arange(0, 20.1, spacing)]
    _, radii = empty_circles(points, box(0, 0, 20, 20), 0.5)
    assert_radius(radii[0], spacing / math.sqrt(2))


def test_inscribed_circle_of_a_triangle():
    # r = (a + b − c)/2 in a right-angled triangle: 3, 4, 5 gives 1 (Euclid IV.4).
    centres, radii = empty_circles([], Polygon([(0, 0), (4, 0), (0, 3)]), 0.5)
    assert_radius(radii[0], 1.0)
    assert centres[0] == pytest.approx([1, 1], abs=0.05)


def test_between_two_rings_the_circle_is_as_wide_as_the_ring():
    # Between concentric circles of radii 5 and 8: radius 1.5, inside the smaller one 5.
    rings = [circle(10, 10, 5), circle(10, 10, 8)]
    centres, radii = empty_circles(rings, box(0, 0, 20, 20), 1.4)
    assert_radius(radii[0], 5.0)
    between = [r for c, r in zip(centres, radii, strict=True) if 5 < math.dist(c, (10, 10)) < 8]
    assert_radius(max(between), 1.5)


def test_circle_of_apollonius_between_three_others():
    # Three circles of radius 1 touching one another leave 2/√3 − 1 (Descartes, 1643).
    at = [(0, 0), (2, 0), (1, math.sqrt(3))]
    centres, radii = empty_circles([circle(x, y, 1) for x, y in at], Polygon(at), 0.15)
    middle = (1, 1 / math.sqrt(3))
    assert_radius(
        next(r for c, r in zip(centres, radii, strict=True) if math.dist(c, middle) < 0.15),
        2 / math.sqrt(3) - 1,
    )


@pytest.mark.parametrize(
    ("design", "motif"),
    [
        ("on point", "arches"),
        ("hexagons", "leaf-lines"),
        ("grid", "clamshells"),
        ("bordered", "fans"),
        ("pinwheels", "spiral"),
    ],
)
def test_against_a_fine_distance_transform(design, motif):
    """scipy.ndimage's exact transform at 1/48 in; it is off by its cell's diagonal at most."""
    top = DESIGNS[design]()
    area, sizes = lay_out(top), sizes_of(top)
    strokes = make_strokes(top, sizes, choose(top, sizes, [f"all={motif}"], area=area)).strokes
    curves = [s.curve for s in strokes if s.required]
    centres, radii = empty_circles(curves, area.binding, 0.5)
    cell = 1 / 48
    x0, y0, x1, y1 = area.binding.bounds
    free = np.ones((round((y1 - y0) / cell) + 1, round((x1 - x0) / cell) + 1), dtype=bool)
    for curve in [*curves, Curve.through(area.binding.exterior.coords)]:
        p = shapely.segmentize(shapely.LineString(curve.sampled(1e-4)), cell / 2)
        at = np.rint((shapely.get_coordinates(p) - (x0, y0)) / cell).astype(int)
        free[at[:, 1], at[:, 0]] = False
    gap = distance_transform_edt(free) * cell
    true = gap.max()
    assert true * (1 - EXACT) - 2 * cell <= radii[0] <= true + 2 * cell
    at = np.rint((centres[0] - (x0, y0)) / cell).astype(int)
    assert gap[at[1], at[0]] == pytest.approx(radii[0], abs=2 * cell)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10**6), st.floats(-3.1, 3.1), st.booleans())
def test_moving_turning_and_mirroring_changes_no_circle(seed, angle, mirror):
    rng = np.random.default_rng(seed)
    ends = rng.uniform(0, 12, (12, 2, 2))
    c, s = math.cos(angle), math.sin(angle)

    def place(p):
        x, y = (-p[0], p[1]) if mirror else p
        return (c * x - s * y + 3, s * x + c * y - 40)

    square = [(0, 0), (12, 0), (12, 12), (0, 12)]
    _, one = empty_circles([line(*map(tuple, e)) for e in ends], Polygon(square), 3.0)
    moved = [line(*map(place, e)) for e in ends]
    _, other = empty_circles(moved, Polygon([place(p) for p in square]), 3.0)
    assert other[0] == pytest.approx(one[0], rel=EXACT)


def report_of(top, wishes, limit_in):
    area, sizes = lay_out(top), sizes_of(top)
    choices = choose(top, sizes, wishes, area=area)
    strokes = make_strokes(top, sizes, choices, area=area).strokes
    curves = [s.curve for s in strokes if s.required]
    return gap_report(curves, area, sizes, choices, limit_in), area, sizes, choices


def test_makers_limit_is_a_distance_between_lines():
    # Lines 3 in apart leave circles 3 in across: a batting that stands 3 in stands them.
    wishes = ["all=crosshatch angle=0 spacing=3"]
    assert report_of(grid(4, 4, 6.0), wishes, 3.0)[0].holds
    assert not report_of(grid(4, 4, 6.0), wishes, 2.75)[0].holds


def test_equal_patches_are_one_place_and_the_widest_comes_first():
    report, *_ = report_of(on_point(3, 3, 8.0), ["all=ditch"], 4.0)
    across = [p.largest.across_in for p in report.places]
    assert across == sorted(across, reverse=True)
    # 9 + 4 whole squares of 8 in: circles 8 in across.
    assert len(report.places[0].circles) == 13
    assert report.places[0].largest.across_in == pytest.approx(8.0, rel=EXACT)
    assert report.largest == report.places[0].largest


def test_open_patches_beside_one_another_are_one_gap():
    report, *_ = report_of(grid(3, 3, 4.0), ["all=none"], 4.0)
    # 12 in square inside the binding: one circle of that width, and smaller ones in its corners.
    assert report.largest.across_in == pytest.approx(12.0, rel=EXACT)
    taken = [c for p in report.places for c in p.circles]
    for k, one in enumerate(taken):
        for other in taken[:k]:
            assert math.dist(one.centre, other.centre) >= min(one.radius_in, other.radius_in) - 0.1


@pytest.mark.parametrize("design", ["on point", "hexagons", "uneven"])
@pytest.mark.parametrize(("wish", "limit"), [("all=ditch", 2.0), ("all=none", 4.0)])
def test_what_is_said_to_close_a_gap_closes_it(design, wish, limit):
    """The plan made anew with every wish that was named has no such gap in those patches."""
    top = DESIGNS[design]()
    report, area, sizes, choices = report_of(top, [wish], limit)
    told = with_closings(report, area, sizes, choices)
    named = [p for p in told.places if p.closing]
    assert named
    closed = report_of(top, [wish, *(p.closing.wish for p in named)], limit)[0]
    still = {c.patch for p in closed.places for c in p.circles}
    for place in named:
        assert place.closing.left_in <= limit + HAIR_IN
        assert not still & {c.patch for c in place.circles}


def test_a_motif_with_a_spacing_is_brought_closer_together_first():
    top = grid(3, 3, 6.0)
    report, area, sizes, choices = report_of(top, ["all=lines angle=0 spacing=3"], 2.0)
    told = with_closings(report, area, sizes, choices)
    assert told.places[0].closing.wish == "all=lines spacing=2 in angle=0"
    assert told.places[0].closing.left_in == pytest.approx(2.0, rel=EXACT)


def test_what_closes_a_gap_is_worded_in_her_units():
    # 2 in are 5.08 cm: of spacings on a metric ruler 5 cm is the widest within.
    top = grid(3, 3, 6.0)
    report, area, sizes, choices = report_of(top, ["all=lines angle=0 spacing=3"], 2.0)
    told = with_closings(report, area, sizes, choices, units="cm")
    assert told.places[0].closing.wish == "all=lines spacing=5 cm angle=0"


def test_a_plan_without_any_stitching_is_held_by_the_binding_alone():
    area = lay_out(grid(2, 2, 3.0))
    sizes = sizes_of(area.top)
    report = gap_report([], area, sizes, [MotifChoice((0, 1, 2, 3), "none")], 2.0)
    assert report.largest.across_in == pytest.approx(6.0, rel=EXACT)


def test_scales_that_take_a_circle_s_size_are_tried_with_it():
    # Of 2 in and 3 in only the nearer is within the look, whatever radius is asked for.
    top = grid(3, 3, 6.0)
    report, area, sizes, choices = report_of(top, ["all=clamshells"], 2.0)
    told = with_closings(report, area, sizes, choices, circles_in=(2.0, 3.0))
    (place,) = told.places
    assert place.closing.wish.startswith("all=clamshells spacing=")
    wishes = [place.closing.wish]
    strokes = make_strokes(
        top, sizes, choose(top, sizes, wishes, area=area), area=area, circles_in=(2.0, 3.0)
    ).strokes
    curves = [s.curve for s in strokes if s.required]
    assert gap_report(curves, area, sizes, choices, 2.0).holds
