import networkx as nx
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from seamwalk.errors import TopologyError
from seamwalk.geometry.planar import (
    PlanarMap,
    check_euler,
    components,
    faces,
    neighbours,
    node,
    polygons,
    ring,
    tiles,
)

segments = st.lists(
    st.tuples(*[st.integers(0, 12)] * 4).filter(lambda s: s[:2] != s[2:]), min_size=1, max_size=12
).map(lambda rows: [LineString([r[:2], r[2:]]) for r in rows])


def square_with_cross():
    return node(
        [
            LineString([(0, 0), (2, 0), (2, 2), (0, 2), (0, 0)]),
            LineString([(1, 0), (1, 2)]),
            LineString([(0, 1), (2, 1)]),
        ]
    )


def test_a_cross_in_a_square_has_four_faces_that_touch_in_a_ring():
    planar = square_with_cross()
    found = faces(planar)
    assert sorted(p.area for p in polygons(planar, found)) == pytest.approx([1, 1, 1, 1])
    inner = set(found.inner.tolist())
    pairs = [p for p in neighbours(found) if set(p) <= inner]
    assert len(pairs) == 4
    assert check_euler(planar, found) == 1


@settings(max_examples=60, deadline=None)
@given(segments)
def test_faces_agree_with_geos_polygonize(lines):
    # Reference: GEOS polygonizer.  It gives faces with holes; the walks here give the outer ring
    # of each, so faces are compared by their exterior.
    planar = node(lines)
    found = faces(planar)
    mine = sorted(round(p.area, 6) for p in polygons(planar, found))
    edges = [LineString(p) for p in planar.paths]
    wanted = sorted(
        round(shapely.Polygon(g.exterior).area, 6) for g in shapely.polygonize(edges).geoms
    )
    outlines = [a for a in mine if a > 0]
    # Dangling edges inside a face fold its walk without changing its area.
    assert outlines == pytest.approx(wanted, abs=1e-4)


@settings(max_examples=60, deadline=None)
@given(segments)
def test_euler_holds_and_every_half_edge_is_walked_once(lines):
    planar = node(lines)
    found = faces(planar)
    walked = sorted(h for loop in found.loops for h in loop)
    assert walked == list(range(2 * len(planar.ends)))
    assert check_euler(planar, found) == components(planar)


@settings(max_examples=40, deadline=None)
@given(segments)
def test_walks_agree_with_networkx_planar_embedding(lines):
    # Reference: networkx.PlanarEmbedding.traverse_face over the same order round each vertex.
    planar = node(lines)
    graph = nx.Graph([tuple(e) for e in planar.ends.tolist() if e[0] != e[1]])
    if len(graph.edges) != len(planar.ends) or any(len(p) > 2 for p in planar.paths):
        return
    embedding = nx.PlanarEmbedding()
    for v in graph.nodes:
        around = sorted(
            graph[v],
            key=lambda w: np.arctan2(*(planar.xy[w] - planar.xy[v])[::-1]),
        )
        last = None
        for w in around:
            # x turned towards y is clockwise on a page whose y points down.
            if last is None:
                embedding.add_half_edge(v, w)
            else:
                embedding.add_half_edge(v, w, cw=last)
            last = w
    embedding.check_structure()
    seen: set = set()
    walks = [
        len(embedding.traverse_face(u, v, seen)) for u, v in embedding.edges if (u, v) not in seen
    ]
    assert sorted(walks) == sorted(len(loop) for loop in faces(planar).loops)


@settings(max_examples=30, deadline=None)
@given(segments, st.floats(0, 6), st.floats(-50, 50))
def test_turning_and_shifting_change_no_area(lines, angle, shift):
    planar = node(lines)
    c, s = np.cos(angle), np.sin(angle)
    turn = np.array([[c, s], [-s, c]])
    moved = PlanarMap(
        planar.xy @ turn + shift, planar.ends, tuple(p @ turn + shift for p in planar.paths)
    )
    before, after = np.sort(faces(planar).areas), np.sort(faces(moved).areas)
    assert after == pytest.approx(before, abs=1e-6)


def test_edges_that_cross_without_a_vertex_fail_euler():
    # K5 cannot be drawn without a crossing (Kuratowski).
    turn = np.arange(5) * 2 * np.pi / 5
    xy = np.column_stack([np.cos(turn), np.sin(turn)])
    ends = np.array([(i, j) for i in range(5) for j in range(i)])
    planar = PlanarMap(xy, ends, tuple(xy[e] for e in ends))
    with pytest.raises(TopologyError, match="V − E"):
        check_euler(planar)


def test_two_edges_along_one_way_are_refused():
    xy = np.array([[0.0, 0], [1, 0], [2, 0]])
    ends = np.array([(0, 1), (0, 2)])
    with pytest.raises(TopologyError, match="same way"):
        faces(PlanarMap(xy, ends, tuple(xy[e] for e in ends)))


def test_ends_within_the_snap_are_one_vertex():
    lines = [LineString([(0, 0), (1, 0)]), LineString([(1.0004, 0.0003), (1, 1)])]
    assert len(node(lines, snap=0.01).ends) == 1
    assert len(node(lines, snap=1e-6).ends) == 2


def test_no_lines_is_an_error():
    with pytest.raises(TopologyError):
        node([])


def test_tiles_tells_overlap_gap_and_fold():
    planar = square_with_cross()
    found = faces(planar)
    rings = [ring(planar, found.loops[i]) for i in found.inner]
    outer = next(i for i in range(len(found.loops)) if found.areas[i] < 0)
    outline = ring(planar, found.loops[outer])[::-1]
    assert tiles(rings, outline)
    assert not tiles(rings[1:], outline)
    assert not tiles([*rings, rings[0]], outline)
    folded = [r.copy() for r in rings]
    corner = [0.0, 0.0]
    for r in (*folded, outline):
        r[(r == corner).all(axis=1)] = [3.0, 3.0]
    assert not tiles(folded, outline)
