"""The measures of a route against small cases that anyone can work out by hand."""

import itertools
import math

import numpy as np
import pytest
import shapely

from seamwalk.benchmark.phrases import phrases
from seamwalk.benchmark.route_bulk import share_right, top_outline
from seamwalk.benchmark.route_measures import measure
from seamwalk.geometry.curve import Arc, Curve, Line
from seamwalk.model.route import Leg, Network, NodeId, Piece, PieceId, Route, Thread
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.graph import network

SQUARE = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])


def _stroke(name, a, b, kind="motif", *, required=True, rise=0.0):
    curve = Curve((Arc.by_rise(a, b, rise) if rise else Line(a, b),))
    return Stroke(StrokeId(name), curve, kind, required)


def _edge(side=10.0):
    ring = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side), (0.0, 0.0)]
    return [
        _stroke(f"e{k}", a, b, "edge", required=False)
        for k, (a, b) in enumerate(itertools.pairwise(ring))
    ]


def _route(strokes, *threads):
    """Return a route of named pieces, each "name" or "-name" for the other way."""
    legs = [
        Thread(tuple(Leg(PieceId(p.lstrip("-")), p.startswith("-")) for p in thread.split()))
        for thread in threads
    ]
    # Totals are no business of the measures.
    return Route(network(strokes), tuple(legs), None)


def _lines(order, side=16.0):
    """Return rows numbered from the top, each sewn from left to right as its own thread."""
    strokes = [_stroke(f"r{k}", (0.0, float(k)), (side, float(k))) for k in range(1, 16)]
    return _route([*strokes, *_edge(side)], *(f"r{k}" for k in order))


def test_half_of_a_square_lies_right_of_a_line_through_its_middle():
    # By symmetry, whatever the direction.
    headings = np.radians(np.arange(0.0, 360.0, 7.5))
    middle = np.full((len(headings), 2), 5.0)
    np.testing.assert_allclose(share_right(SQUARE, middle, headings), 0.5, atol=1e-12)


def test_which_side_is_right_of_the_needle():
    # Geometry by hand: sewing down the page is sewing towards her, who sees the page as it is;
    # a line 2 in from the left of a 10 in square has four fifths of it at her right.
    at = np.array([(2.0, 5.0)])
    assert share_right(SQUARE, at, np.array([math.pi / 2])) == pytest.approx(0.8)
    assert share_right(SQUARE, at, np.array([-math.pi / 2])) == pytest.approx(0.2)
    # Turned by a quarter: sewing to the right of the page, its upper part is right of the needle.
    at = np.array([(5.0, 2.0)])
    assert share_right(SQUARE, at, np.array([0.0])) == pytest.approx(0.2)
    # A corner triangle: half of 4 × 4 of 100.
    assert share_right(SQUARE, np.array([(2.0, 2.0)]), np.array([-math.pi / 4])) == pytest.approx(
        0.08
    )


def test_share_right_equals_the_area_that_shapely_cuts_off():
    # Reference library: shapely's intersection with a half plane drawn as a large square.
    rng = np.random.default_rng(5)
    outline = np.array([(0.0, 0.0), (9.0, 1.0), (11.0, 8.0), (4.0, 12.0), (-1.0, 7.0)])
    top = shapely.Polygon(outline)
    at, heading = rng.uniform(-2, 13, (60, 2)), rng.uniform(-4, 4, 60)
    found = share_right(outline, at, heading)
    for k in range(60):
        ahead = np.array([math.cos(heading[k]), math.sin(heading[k])]) * 100
        right = np.array([math.sin(heading[k]), -math.cos(heading[k])]) * 100
        half = [at[k] - ahead, at[k] + ahead, at[k] + ahead + right, at[k] - ahead + right]
        cut = top.intersection(shapely.Polygon(half)).area / top.area
        assert found[k] == pytest.approx(cut, abs=1e-9)


def test_outline_is_the_outer_edge():
    outline = top_outline(network([*_edge(), _stroke("m", (5.0, 5.0), (30.0, 5.0))]))
    assert {tuple(p) for p in outline.tolist()} == {tuple(p) for p in SQUARE.tolist()}


def test_lines_from_the_middle_outwards_correlate_by_one():
    # Definition of rank correlation: same order 1, opposite order -1.
    inside_out = [8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15]
    assert measure(_lines(inside_out)).by_lines == pytest.approx(1.0)
    assert measure(_lines(inside_out)).by_strips == pytest.approx(1.0)
    assert measure(_lines(inside_out[::-1])).by_lines == pytest.approx(-1.0)
    # One half after the other is as good: the halves are looked at by themselves.
    assert measure(_lines([8, 7, 6, 5, 4, 3, 2, 1, *range(9, 16)])).by_lines == pytest.approx(1.0)
    # From side to side one half is right and the other wrong.
    assert measure(_lines(range(1, 16))).by_lines == pytest.approx(0.0)


def test_pieces_of_one_line_are_ties():
    # Kendall, Rank correlation methods: where one ranking has n/t groups of t ties in right
    # order, Spearman's coefficient is sqrt(1 - Σ(t³ - t)/(n³ - n)).  Four lines of three pieces
    # below the middle: sqrt(1 - 4·24/1716).
    strokes, words = [], []
    for k in (1, 2, 3, 4):
        for i in range(3):
            a, b = (4.0 * i, 6.0 + k), (4.0 * i + 4, 6.0 + k)
            strokes.append(_stroke(f"r{k}{'abc'[i]}", a, b))
            words.append(f"r{k}{'abc'[i]}")
    found = measure(_route([*strokes, *_edge(12.0)], *words))
    assert found.by_lines == pytest.approx(math.sqrt(1 - 4 * 24 / (12**3 - 12)))


def test_a_top_without_any_order_says_so():
    found = measure(_route([_stroke("a", (0.0, 5.0), (10.0, 5.0)), *_edge()], "a"))
    assert found.by_lines is None
    assert found.by_strips is None


def test_bulk_counts_travel_and_lets_the_middle_pass():
    # By hand: rightwards 1 in above the lower edge, nine tenths of the square is above, right of
    # the needle; the way back through the middle has half.  10 of 18 in, edge left out.
    strokes = [
        _stroke("low", (0.0, 9.0), (10.0, 9.0)),
        _stroke("mid", (10.0, 5.0), (2.0, 5.0), "ditch", required=False),
        *_edge(),
    ]
    assert measure(_route(strokes, "low", "mid")).bulk_share == pytest.approx(10 / 18)
    assert measure(_route(strokes, "-low", "mid")).bulk_share == 0.0


def test_a_ring_has_half_its_bulk_on_either_side():
    # By hand: a circle of four quarters about the middle, clockwise on the page.  Each quarter's
    # chord runs at distance 4/√2 from the middle with less than half of the square outside it;
    # clockwise (right, down, left, up) the right of the needle is outside, else inside.
    circle = [
        Arc((5.0, 1.0), (9.0, 5.0), (5.0, 5.0), math.pi / 2),
        Arc((9.0, 5.0), (5.0, 9.0), (5.0, 5.0), math.pi / 2),
        Arc((5.0, 9.0), (1.0, 5.0), (5.0, 5.0), math.pi / 2),
        Arc((1.0, 5.0), (5.0, 1.0), (5.0, 5.0), math.pi / 2),
    ]
    ring = Stroke(StrokeId("ring"), Curve(tuple(circle)), "motif", True)
    clockwise = measure(_route([ring, *_edge()], "ring"))
    assert clockwise.bulk_share == 0.0
    assert clockwise.quilt_turns == 0
    assert measure(_route([ring, *_edge()], "-ring")).bulk_share == pytest.approx(1.0)


def test_quilt_turns_are_counted_between_required_pieces():
    # By hand: right, (travel down), back left: one turn of 180°; 50° is none; 70° is one.
    def spoke(name, deg):
        a = math.radians(deg)
        return _stroke(name, (5.0, 5.0), (5 + 4 * math.cos(a), 5 + 4 * math.sin(a)))

    strokes = [
        _stroke("there", (0.0, 2.0), (10.0, 2.0)),
        _stroke("down", (10.0, 2.0), (10.0, 4.0), "ditch", required=False),
        _stroke("back", (10.0, 4.0), (0.0, 4.0)),
        spoke("a", 180.0),
        spoke("b", 130.0),
        spoke("c", 60.0),
        *_edge(),
    ]
    route = _route(strokes, "there down back", "a", "b", "c")
    # there → back 180°, back → a 0°, a → b 50°, b → c 70°.
    assert measure(route).quilt_turns == 2


def test_a_ditch_sewn_again_is_travel():
    strokes = [_stroke("d", (0.0, 5.0), (10.0, 5.0), "ditch"), *_edge()]
    route = _route(strokes, "d -d d")
    assert measure(route).quilt_turns == 0


@pytest.mark.parametrize(
    ("text", "count"),
    [
        # By hand: a | aaa; a | b | ababab; nothing repeats.
        ("", 0),
        ("aaaa", 2),
        ("abababab", 3),
        ("abcd", 4),
        # The Fibonacci word, a|b|a|aba|baaba|ab: Crochemore and Rytter, Text algorithms
        # (from memory, and by hand).
        ("abaababaabaab", 6),
        # A longer match that starts later must be found: a|b|x|a|c|ac... by hand a,b,x,a,c,acac.
        ("abxacacac", 6),
    ],
)
def test_phrases(text, count):
    assert phrases(text) == count


def test_equal_blocks_read_short():
    # By definition: a zigzag of twenty equal teeth is no longer to tell than one of ten.
    def zigzag(teeth):
        points = [(float(k), 4.0 + k % 2) for k in range(2 * teeth + 1)]
        strokes = [_stroke(f"z{k}", a, b) for k, (a, b) in enumerate(itertools.pairwise(points))]
        return _route([*strokes, *_edge(50.0)], " ".join(s.id for s in strokes))

    assert measure(zigzag(20)).phrases == measure(zigzag(10)).phrases


def test_names_of_nodes_do_not_matter():
    # A route built without the router's graph gives the same measures.
    nodes = {NodeId("x"): (1.0, 1.0), NodeId("y"): (9.0, 1.0), NodeId("z"): (9.0, 9.0)}
    pieces = {
        PieceId(n): Piece(PieceId(n), u, v, s.curve, s)
        for n, u, v, s in (
            ("p", NodeId("x"), NodeId("y"), _stroke("p", (1.0, 1.0), (9.0, 1.0))),
            ("q", NodeId("y"), NodeId("z"), _stroke("q", (9.0, 1.0), (9.0, 9.0))),
        )
    }
    route = Route(
        Network(nodes, pieces),
        (Thread((Leg(PieceId("p"), False), Leg(PieceId("q"), False))),),
        None,
    )
    found = measure(route)
    assert found.quilt_turns == 1
    # The hull of the nodes is the triangle; outside of p nothing lies, all of it lies left of q.
    assert found.bulk_share == 0.0
