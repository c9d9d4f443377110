"""What must hold for the strokes of any top, checked without the code that made them."""

from collections.abc import Iterable, Sequence

import networkx as nx
import numpy as np
import shapely
from shapely import LineString, Polygon, STRtree

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import Top

NEAR_IN = 1e-6


def line(curve: Curve, tolerance: float = 1e-4) -> LineString:
    return LineString(curve.sampled(tolerance))


def binding_line(top: Top, binding_in: float = 0.25) -> Polygon:
    """Return the inside of the binding line as the set of points far enough from the raw edge."""
    return top.outline.buffer(-binding_in, join_style="mitre")


def assert_whole(strokes: Sequence[Stroke]) -> None:
    """Ids are unique, pieces follow one another, and arcs have both ends on their circle."""
    assert len({s.id for s in strokes}) == len(strokes)
    for s in strokes:
        for a, b in zip(s.curve.pieces, s.curve.pieces[1:], strict=False):
            assert a.end == b.start
        for piece in s.curve:
            assert piece.length > NEAR_IN
            if isinstance(piece, Arc):
                for q in (piece.start, piece.end):
                    assert abs(np.hypot(*np.subtract(q, piece.centre)) - piece.radius) < 1e-5
                assert np.hypot(*np.subtract(piece.at(1 - 1e-12), piece.end)) < 1e-5


def assert_inside(strokes: Iterable[Stroke], top: Top) -> None:
    """Nothing but the margin's pieces goes past the binding line; nothing leaves the top."""
    inner = binding_line(top).buffer(0.003)  # GEOS simplifies a bent edge by up to 1 % of 1/4 in
    for s in strokes:
        limit = top.outline if s.kind == "edge" else inner
        assert limit.covers(line(s.curve)), s.id


def assert_in_patch(strokes: Iterable[Stroke], top: Top) -> None:
    """A stroke that belongs to a patch stays in it."""
    shapes = {p.id: p.polygon.buffer(1e-6) for p in top.patches}
    for s in strokes:
        if s.patch is not None:
            assert shapes[s.patch].covers(line(s.curve)), s.id


def assert_joined(strokes: Sequence[Stroke]) -> None:
    """Every end is an end of another stroke, or lies on a ditch or an edge; all hang together."""
    grounds = [s for s in strokes if s.kind != "motif"]
    tree = STRtree([line(s.curve) for s in grounds])
    graph = nx.Graph()
    count: dict[tuple[float, float], int] = {}
    for s in strokes:
        graph.add_edge(s.curve.start, s.curve.end)
        for q in (s.curve.start, s.curve.end):
            count[q] = count.get(q, 0) + 1
    places = list(count)
    dots = shapely.points(places)
    touched = {}
    for p, g in zip(*tree.query(dots, predicate="dwithin", distance=NEAR_IN), strict=True):
        stroke = grounds[g]
        if places[p] not in (stroke.curve.start, stroke.curve.end):
            touched[places[p]] = stroke
            graph.add_edge(places[p], stroke.curve.start)
    for q, times in count.items():
        assert times > 1 or q in touched, q
    assert nx.number_connected_components(graph) == 1


def assert_ends_apart(strokes: Sequence[Stroke]) -> None:
    """Ends are equal to the last bit or clearly apart."""
    from scipy.spatial import cKDTree

    places = np.array(list({q for s in strokes for q in (s.curve.start, s.curve.end)}))
    pairs = cKDTree(places).query_pairs(NEAR_IN)
    assert not pairs, places[sorted(pairs)[0][0]] if pairs else None


def assert_stitchable(strokes: Sequence[Stroke], top: Top) -> None:
    assert_whole(strokes)
    assert_inside(strokes, top)
    assert_in_patch(strokes, top)
    assert_joined(strokes)
    assert_ends_apart(strokes)
    for s in strokes:
        if s.kind == "motif" and s.required:
            assert s.curve.smallest_radius >= 1.0 - 1e-6, s.id
