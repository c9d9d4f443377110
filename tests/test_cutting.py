"""Cut sizes against plane geometry and the tables of the trade.

Sources, as collected in the design's facts: a lesson sheet (docslib.org/doc/4718373), a general
how-to page (ehow.com/how_8171657), and trade pages counted but not named; "geometry" is computed
here with shapely, which shares nothing with the formulas under test.
"""

import itertools
import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from seamwalk import cutting
from seamwalk.trade import HALF_SQUARE_EXTRA_IN, QUARTER_SQUARE_EXTRA_IN
from seamwalk.units import MM_PER_IN, parse_length

# Finished side, exact diagonal, mm, up to 1/8, side setting square, corner setting square, exact
# side, exact corner.  Geometry; the side column agrees with two published tables at 4, 6, 7, 9,
# 10, 12, 15, 16 and 18 in.
ON_POINT = [
    (1, 1.4142, 35.92, "1 1/2", "2 3/4", "1 5/8", 2.6213, 1.5607),
    (2, 2.8284, 71.84, "2 7/8", "4 1/8", "2 3/8", 4.0355, 2.2678),
    (3, 4.2426, 107.76, "4 1/4", "5 1/2", "3", 5.4497, 2.9749),
    (4, 5.6569, 143.68, "5 3/4", "7", "3 3/4", 6.8640, 3.6820),
    (5, 7.0711, 179.61, "7 1/8", "8 3/8", "4 1/2", 8.2782, 4.3891),
    (6, 8.4853, 215.53, "8 1/2", "9 3/4", "5 1/8", 9.6924, 5.0962),
    (7, 9.8995, 251.45, "10", "11 1/4", "5 7/8", 11.1066, 5.8033),
    (8, 11.3137, 287.37, "11 3/8", "12 5/8", "6 5/8", 12.5208, 6.5104),
    (9, 12.7279, 323.29, "12 3/4", "14", "7 1/4", 13.9350, 7.2175),
    (10, 14.1421, 359.21, "14 1/4", "15 1/2", "8", 15.3492, 7.9246),
    (12, 16.9706, 431.05, "17", "18 1/4", "9 3/8", 18.1777, 9.3388),
    (14, 19.7990, 502.89, "19 7/8", "21 1/8", "10 7/8", 21.0061, 10.7530),
    (15, 21.2132, 538.82, "21 1/4", "22 1/2", "11 1/2", 22.4203, 11.4602),
    (16, 22.6274, 574.74, "22 3/4", "24", "12 1/4", 23.8345, 12.1673),
    (18, 25.4558, 646.58, "25 1/2", "26 3/4", "13 5/8", 26.6630, 13.5815),
    (20, 28.2843, 718.42, "28 3/8", "29 5/8", "15 1/8", 29.4914, 14.9957),
]

# Finished width x height: large square, small squares.  Three agreeing trade tables.
GEESE = [
    (2, 1, "3 1/4", "1 7/8"),
    (3, 1.5, "4 1/4", "2 3/8"),
    (4, 2, "5 1/4", "2 7/8"),
    (5, 2.5, "6 1/4", "3 3/8"),
    (6, 3, "7 1/4", "3 7/8"),
    (7, 3.5, "8 1/4", "4 3/8"),
    (8, 4, "9 1/4", "4 7/8"),
]


def longest_side(polygon):
    xy = list(polygon.exterior.coords)
    return max(math.dist(a, b) for a, b in itertools.pairwise(xy))


def with_allowance(triangle, allowance=0.25):
    """Return the triangle with its seam allowance on, corners left long."""
    return Polygon(triangle).buffer(allowance, join_style="mitre", mitre_limit=10)


@pytest.mark.parametrize("row", ON_POINT, ids=lambda row: str(row[0]))
def test_diagonals_and_setting_triangles_are_the_tables(row):
    side, exact, millimetres, up, side_square, corner_square, exact_side, exact_corner = row
    assert cutting.diagonal(side) == pytest.approx(exact, abs=5e-5)
    assert cutting.diagonal(side) * MM_PER_IN == pytest.approx(millimetres, abs=5e-3)
    assert cutting.rounded_up(cutting.diagonal(side)) == parse_length(up)
    assert cutting.side_setting_square(side) == parse_length(side_square)
    assert cutting.corner_setting_square(side) == parse_length(corner_square)
    across = cutting.diagonal(side)
    assert across + cutting.quarter_square_extra() == pytest.approx(exact_side, abs=5e-5)
    assert across / 2 + cutting.half_square_extra() == pytest.approx(exact_corner, abs=5e-5)


def test_sixteen_inches_tells_the_root_from_its_short_form():
    # Geometry: 16 · 1.414 = 22.624 would round up to 22 5/8; it is the only whole inch up to 30
    # where the short form gives another eighth.
    assert cutting.rounded_up(cutting.diagonal(16)) == 22.75
    assert cutting.rounded_up(16 * 1.414) == 22.625
    differ = [
        n
        for n in range(1, 31)
        if cutting.rounded_up(n * 1.414) != cutting.rounded_up(cutting.diagonal(n))
    ]
    assert differ == [16]


@settings(max_examples=40)
@given(st.floats(0.5, 40), st.sampled_from([0.25, 6 / MM_PER_IN, 7.5 / MM_PER_IN]))
def test_extras_are_what_offsetting_a_triangle_gives(finished, allowance):
    half = with_allowance([(0, 0), (finished, 0), (0, finished)], allowance)
    leg = longest_side(half) / math.sqrt(2)
    assert finished + cutting.half_square_extra(allowance) == pytest.approx(leg, rel=1e-9)
    apex = finished / 2
    quarter = with_allowance([(0, 0), (finished, 0), (apex, apex)], allowance)
    assert finished + cutting.quarter_square_extra(allowance) == pytest.approx(
        longest_side(quarter), rel=1e-9
    )


def test_rounded_extras_leave_the_published_slack():
    # Geometry: 7/8 is 0.0214 more than exact, 1 1/4 is 0.0429 more.
    assert HALF_SQUARE_EXTRA_IN - cutting.half_square_extra() == pytest.approx(0.0214, abs=5e-5)
    assert QUARTER_SQUARE_EXTRA_IN - cutting.quarter_square_extra() == pytest.approx(
        0.0429, abs=5e-5
    )


def test_worked_triangles():
    assert cutting.half_square(3) == parse_length("3 7/8")  # lesson sheet
    assert cutting.unfinished(3) == parse_length("3 1/2")  # lesson sheet: trim the unit to this
    assert cutting.quarter_square(3) == parse_length("4 1/4")  # two trade pages
    assert cutting.quarter_square(6) == parse_length("7 1/4")  # two trade pages
    assert cutting.unfinished(6) == parse_length("6 1/2")  # lesson sheet, five trade pages


@pytest.mark.parametrize("row", GEESE, ids=lambda row: f"{row[0]}x{row[1]}")
def test_flying_geese_are_the_tables(row):
    width, height, large, small = row
    assert width == 2 * height
    assert cutting.flying_geese(height) == (parse_length(large), parse_length(small))


@given(st.floats(0.5, 20))
def test_geese_pieces_cover_the_finished_ones_with_their_allowance(height):
    # The goose's long side is its width; the sky's legs are its height.
    large, small = cutting.flying_geese(height)
    goose = with_allowance([(0, height), (2 * height, height), (height, 0)])
    sky = with_allowance([(0, 0), (height, 0), (0, height)])
    assert 0 <= large - longest_side(goose) < 1 / 16
    assert 0 <= small * math.sqrt(2) - longest_side(sky) < 1 / 16


@given(st.floats(1, 20))
def test_corners_of_a_square_in_a_square_cover_its_sides(centre):
    # Geometry: the corner's long side is the inner square's side.
    corner = with_allowance([(0, 0), (centre, 0), (centre / 2, centre / 2)])
    cut = cutting.square_in_square_corner(centre) * math.sqrt(2)
    assert 0 <= cut - longest_side(corner) < 1 / 16


def test_strips_side_by_side():
    assert cutting.strips_joined(3, 2.5) == 6.5  # a trade page: 3 × 2 1/2 in
    assert cutting.strips_joined(3, 1.5) == 3.5  # the seam test, three trade pages
    assert cutting.strips_joined(1, 2.5) == 2.5


@given(st.integers(1, 40), st.integers(5, 80))
def test_joined_strips_finish_as_the_sum_of_their_finished_widths(count, eighths):
    width = eighths / 8
    joined = cutting.strips_joined(count, width)
    assert joined == pytest.approx(cutting.unfinished(count * (width - 0.5)))


def test_strips_narrower_than_their_seams_are_refused():
    with pytest.raises(ValueError, match="width above"):
        cutting.strips_joined(3, 0.5)
    with pytest.raises(ValueError, match="width above"):
        cutting.strips_joined(0, 2.5)


@pytest.mark.parametrize("rows", range(1, 8))
@pytest.mark.parametrize("columns", range(1, 8))
def test_side_triangles_are_the_half_squares_left_at_the_edge(rows, columns):
    # Geometry, by counting: blocks on point of diagonal 2 stand on the lattice of points whose
    # coordinates are both odd (whole rows) or both even (rows between); a lattice point on the
    # rim is half a block, one in a corner a quarter.
    rim = [
        (x, y)
        for x in range(0, 2 * columns + 1, 2)
        for y in range(0, 2 * rows + 1, 2)
        if x in (0, 2 * columns) or y in (0, 2 * rows)
    ]
    corners = [p for p in rim if p[0] in (0, 2 * columns) and p[1] in (0, 2 * rows)]
    assert len(corners) == 4
    assert cutting.side_triangles(rows, columns) == len(rim) - 4


@given(st.integers(1, 12), st.integers(1, 12), st.floats(1, 20))
def test_pieces_on_point_fill_the_centre(rows, columns, block):
    # Geometry: blocks, side and corner triangles tile the rectangle exactly.
    width, height = cutting.on_point_size(rows, columns, block)
    blocks = rows * columns + (rows - 1) * (columns - 1)
    side = block**2 / 2
    corner = block**2 / 4
    pieces = blocks * block**2 + cutting.side_triangles(rows, columns) * side + 4 * corner
    assert pieces == pytest.approx(width * height)


def test_no_blocks_on_point_are_refused():
    with pytest.raises(ValueError, match="at least one"):
        cutting.side_triangles(0, 3)


def test_border_follows_the_mean_of_three_and_says_when_it_cannot_be_eased():
    # Seven trade pages: mean of three; one trade page: over 1/4 in from the mean cannot be eased.
    even = cutting.border_length([60.0, 60.25, 60.125])
    assert even.length_in == 60.125
    assert even.deviation_in == 0.125
    assert even.eases
    assert cutting.border_length([60.0, 60.25, 60.5]).eases  # 1/4 in itself still does
    assert not cutting.border_length([60.0, 60.0, 60.5]).eases  # mean 60 1/6, off by 1/3
    assert cutting.border_length([60.5]) == cutting.BorderLength(60.5, 0.0)


def test_a_stretched_edge_is_caught():
    # A trade page: three 10 in blocks should read 30 1/2 in; the stretched edge read 31 5/8.
    assert cutting.unfinished(3 * 10) == 30.5
    assert not cutting.border_length([30.5, 30.5, 31.625]).eases


def test_border_without_a_measure_is_refused():
    with pytest.raises(ValueError, match="at least one measure"):
        cutting.border_length([])


def test_binding_worked_example():
    # A trade page: 63 1/2 × 42 3/4 in, round it 212 1/2 in, over 40 in: 5.31, so six strips.
    around = cutting.binding_length(63.5, 42.75, spare_in=0)
    assert around == 212.5
    assert around / cutting.USABLE_FABRIC_IN == pytest.approx(5.31, abs=5e-3)
    assert cutting.strips_needed(around) == 6
    assert cutting.binding_length(63.5, 42.75) == 222.5
    assert cutting.strips_needed(cutting.binding_length(63.5, 42.75)) == 6


@settings(max_examples=60)
@given(st.integers(0, 20000), st.integers(1, 16))
def test_rounding_up_keeps_what_is_on_the_grain_and_never_falls_short(eighths, per_inch):
    exact = Fraction(eighths, 8)
    grain = Fraction(1, per_inch)
    up = -(-exact // grain) * grain
    assert cutting.rounded_up(float(exact), float(grain)) == pytest.approx(float(up), abs=1e-6)


@given(st.integers(1, 60))
def test_strips_of_exactly_the_needed_length_need_no_other(count):
    assert cutting.strips_needed(count * 40.0) == count
    assert cutting.strips_needed(count * 40.0 + 0.01) == count + 1


@pytest.mark.parametrize(
    ("shape", "sides", "size", "cuts"),
    [
        # A 4 in finished square is cut 4 1/2; half squares + 7/8, quarter squares + 1 1/4
        # (the rounded constants of seven trade pages, as in `seamwalk.trade`).
        ("square", (4, 4, 4, 4), (4.5, 4.5), 0),
        ("rectangle", (2, 6, 2, 6), (2.5, 6.5), 0),
        ("half-square triangle", (4, 4 * math.sqrt(2), 4), (4.875, 4.875), 1),
        ("quarter-square triangle", (4, 4 / math.sqrt(2), 4 / math.sqrt(2)), (5.25, 5.25), 2),
    ],
)
def test_what_to_cut_for_one_more(shape, sides, size, cuts):
    found = cutting.cut_for(shape, sides)
    assert found is not None
    assert found.size_in == pytest.approx(size)
    assert found.cuts == cuts


def test_side_triangles_of_a_set_on_point_are_cut_as_the_table_of_setting_triangles_says():
    # 12 in blocks: their side triangles finish 17 in along the edge; squares of 18 1/4 in
    # (setting-triangle tables, see above).
    long = 12 * math.sqrt(2)
    found = cutting.cut_for("quarter-square triangle", (long, 12, 12))
    assert found is not None
    assert found.size_in[0] == cutting.side_setting_square(12) == 18.25


def test_shapes_that_need_a_template_have_no_cut():
    assert cutting.cut_for("hexagon", (3,) * 6) is None
    assert cutting.cut_for("kite", (2, 2, 3, 3)) is None
