"""From strokes to a network: nodes are shared exactly, ditches are cut where they are met."""

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.routing.instances import arches, grid_lines, irregular, leaves, on_point, stroke

from seamwalk.geometry.curve import Arc, Curve, Line
from seamwalk.model.route import Network
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.graph import network


def assert_exact(net: Network) -> None:
    """Strongest statement about any network: every piece starts and ends bit for bit at nodes."""
    for name, piece in net.pieces.items():
        assert piece.id == name
        assert piece.curve.start == net.nodes[piece.u]
        assert piece.curve.end == net.nodes[piece.v]
    used = {n for p in net.pieces.values() for n in (p.u, p.v)}
    assert used == set(net.nodes)
    xy = np.array(list(net.nodes.values()))
    if len(xy) > 1:
        apart = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
        assert apart[np.triu_indices(len(xy), 1)].min() > 1e-6


def sewn_in(net: Network) -> float:
    return math.fsum(p.curve.length for p in net.pieces.values())


@pytest.mark.parametrize(
    ("strokes", "nodes"),
    [
        (arches(4, 3), 20),
        (leaves(3, 3), 16),
        (grid_lines(5, 2, ditches=True), 18),
        (irregular(40, np.random.default_rng(2)), 25),
    ],
)
def test_strokes_that_meet_at_ends_keep_their_names(strokes: list[Stroke], nodes: int) -> None:
    net = network(strokes)
    assert_exact(net)
    assert len(net.nodes) == nodes
    assert {str(p) for p in net.pieces} == {str(s.id) for s in strokes}
    assert sewn_in(net) == pytest.approx(math.fsum(s.curve.length for s in strokes), rel=1e-12)


def test_ends_within_the_tolerance_become_one_node() -> None:
    net = network(
        [stroke("a", (0, 0), (4, 0)), stroke("b", (4 + 4e-7, -3e-7), (8, 0)),
         stroke("c", (4, 5e-7), (4, 4), rise=0.5)]
    )  # fmt: skip
    assert_exact(net)
    assert len(net.nodes) == 4


def test_ends_beyond_the_tolerance_stay_apart() -> None:
    net = network([stroke("a", (0, 0), (4, 0)), stroke("b", (4 + 3e-6, 0), (8, 0))])
    assert len(net.nodes) == 4


def test_a_ditch_is_cut_where_strokes_end_on_it() -> None:
    ditch = stroke("d", (0, 0), (12, 0), "ditch", required=False)
    net = network([ditch, stroke("a", (4, 0), (4, 5)), stroke("b", (8 + 3e-7, 2e-7), (9, 5))])
    assert_exact(net)
    parts = [net.pieces[p] for p in net.pieces if p.startswith("d")]
    assert [p.id for p in parts] == ["d.1", "d.2", "d.3"]
    assert [p.curve.length for p in parts] == pytest.approx([4, 4, 4], abs=1e-6)
    assert all(p.stroke is ditch for p in parts)


def test_a_motif_is_not_cut() -> None:
    net = network([stroke("m", (0, 0), (12, 0)), stroke("a", (4, 0), (4, 5))])
    assert set(net.pieces) == {"m", "a"}


@pytest.mark.parametrize("rise", [1.0, -2.5, 6.0, 9.0])
def test_a_curved_ditch_is_cut(rise: float) -> None:
    whole = Arc.by_rise((0, 0), (12, 0), rise)
    ditch = Stroke(StrokeId("d"), Curve((whole,)), "ditch", required=False)
    at = whole.at(0.3)
    net = network([ditch, stroke("a", at, (at[0] + 1, at[1] + 3))])
    assert_exact(net)
    lengths = sorted(net.pieces[p].curve.length for p in net.pieces if p.startswith("d"))
    assert lengths == pytest.approx([0.3 * whole.length, 0.7 * whole.length], rel=1e-6)


def test_a_node_on_an_inner_vertex_cuts_once() -> None:
    bent = Curve.through([(0, 0), (4, 0), (8, 1)])  # a bend of 14 degrees, no corner
    ditch = Stroke(StrokeId("d"), bent, "ditch", required=True)
    net = network([ditch, stroke("a", (4, 0), (4, 5))])
    assert_exact(net)
    assert set(net.pieces) == {"d.1", "d.2", "a"}


def test_a_stroke_is_cut_at_sharp_corners_only() -> None:
    square = Curve.through([(0, 0), (4, 0), (4, 4), (0, 4), (0, 0)])
    wave = Curve.through([(0, 9), (4, 10), (8, 10), (12, 9)])
    net = network(
        [Stroke(StrokeId("q"), square, "motif", True), Stroke(StrokeId("w"), wave, "motif", True)]
    )
    assert_exact(net)
    assert set(net.pieces) == {"q.1", "q.2", "q.3", "q.4", "w"}


def test_two_ditches_on_one_seam_are_one() -> None:
    first = stroke("d", (0, 0), (4, 0), "ditch", required=False)
    again = stroke("e", (4, 1e-7), (0, 0), "ditch")
    bowed = stroke("f", (0, 0), (4, 0), "ditch", required=False, rise=0.4)
    net = network([first, again, bowed])
    assert set(net.pieces) == {"e", "f"}  # the required one stays
    long = stroke("g", (0, 0), (8, 0), "ditch", required=False)
    net = network([long, first, stroke("x", (8, 0), (8, 4))])
    assert_exact(net)
    assert sewn_in(net) == pytest.approx(12)  # the common half is taken once


def test_twin_motifs_are_both_stitched() -> None:
    net = network([stroke("a", (0, 0), (4, 0)), stroke("b", (0, 0), (4, 0))])
    assert set(net.pieces) == {"a", "b"}


def test_nothing_of_no_length_remains() -> None:
    dot = Stroke(StrokeId("z"), Curve((Line((4, 0), (4, 5e-7)),)), "ditch", required=True)
    net = network([stroke("a", (0, 0), (4, 0)), dot])
    assert set(net.pieces) == {"a"}


def test_a_circle_is_a_loop() -> None:
    circle = Curve((Arc((2, 0), (2, 0), (0, 0), 2 * math.pi),))
    net = network([Stroke(StrokeId("o"), circle, "motif", True)])
    assert_exact(net)
    assert net.pieces["o"].u == net.pieces["o"].v  # type: ignore[index]


def test_ids_must_be_unique() -> None:
    with pytest.raises(ValueError, match="unique"):
        network([stroke("a", (0, 0), (4, 0)), stroke("a", (4, 0), (8, 0))])


def test_names_of_parts_never_clash() -> None:
    net = network(
        [stroke("d", (0, 0), (12, 0), "ditch"), stroke("d.1", (4, 0), (4, 5)),
         stroke("d.2", (8, 0), (9, 5))]
    )  # fmt: skip
    assert_exact(net)
    assert len(net.pieces) == 5


def test_no_strokes_no_network() -> None:
    assert network([]) == Network({}, {})


def test_nodes_read_like_a_page() -> None:
    net = network(grid_lines(2, 2, ditches=True))
    assert list(net.nodes) == [f"n{k}" for k in range(1, 10)]
    assert list(net.nodes.values()) == [(4.0 * i, 4.0 * j) for j in range(3) for i in range(3)]


lattice = st.tuples(st.integers(0, 4), st.integers(0, 4))


@given(st.lists(st.tuples(lattice, lattice, st.booleans()), min_size=1, max_size=12), st.randoms())
@settings(max_examples=60, deadline=None)
def test_lines_on_a_lattice(
    lines: list[tuple[tuple[int, int], tuple[int, int], bool]], random: object
) -> None:
    strokes = [
        stroke(
            f"s{k}", (float(a[0]), float(a[1])), (float(b[0]), float(b[1])), "ditch", required=r
        )
        for k, (a, b, r) in enumerate(lines)
        if a != b
    ]
    net = network(strokes)
    if not strokes:
        return
    assert_exact(net)
    # No node lies inside a ditch any more, and no two pieces are alike.
    for piece in net.pieces.values():
        (x0, y0), (x1, y1) = piece.curve.start, piece.curve.end
        for x, y in net.nodes.values():
            cross = (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)
            along = (x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)
            assert not (cross == 0 and 0 < along < (x1 - x0) ** 2 + (y1 - y0) ** 2)
    alike = Counter(frozenset((p.u, p.v)) for p in net.pieces.values())
    assert max(alike.values()) == 1
    # The order of strokes changes neither nodes nor geometry.
    shuffled = list(strokes)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    other = network(shuffled)
    assert other.nodes == net.nodes
    assert Counter(frozenset((p.u, p.v)) for p in other.pieces.values()) == alike


def test_on_point_edges_are_cut_at_the_points_of_squares() -> None:
    net = network(on_point(3, 2))
    assert_exact(net)
    edges = [p for p in net.pieces.values() if p.stroke.kind == "edge"]
    assert len(edges) == 2 * (3 + 2) + 4  # a point on the border for each square along a side
