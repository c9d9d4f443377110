"""Made-up tops have the strokes, sizes and seams that they are said to have."""

from collections import Counter

import pytest
import shapely

from seamwalk.benchmark.route_tops import KINDS, MOST_IN, route_top
from seamwalk.routing.graph import network


def _required(kind, strokes, seed=0):
    pieces = network(route_top(kind, strokes, seed)).pieces.values()
    return sum(p.stroke.required for p in pieces)


@pytest.mark.parametrize(
    ("kind", "asked", "count"),
    [
        # By hand, n × n squares: 4 arches a square; on point 8 a cell; a leaf of two arcs on each
        # of 2n(n - 1) inner sides, and a diagonal a square; 4 half lines a square.
        ("arches", 1024, 4 * 16**2),
        ("on point", 512, 8 * 8**2),
        ("leaves", 728, 4 * 14 * 13),
        ("leaves and diagonals", 924, 4 * 14 * 13 + 14**2),
        ("lines", 100, 4 * 5**2),
        ("stars", 72, 8 * 3**2),
        ("block walks", 36, 4 * 3**2),
        ("islands", 36, 4 * 3**2),
    ],
)
def test_regular_tops_have_the_strokes_that_can_be_counted(kind, asked, count):
    assert _required(kind, asked) == count


def test_a_log_cabin_block_has_its_seams():
    # By hand: twelve logs round a square.  Euler's formula for a planar map in one piece,
    # V - E + F = 1 without the outside, then counts its seams.
    strokes = route_top("log cabin", 32)
    found = network(strokes)
    lines = [shapely.LineString([s.curve.start, s.curve.end]) for s in strokes]
    faces = list(shapely.polygonize([shapely.unary_union(lines)]).geoms)
    assert len(faces) == 13
    assert len(found.nodes) - len(found.pieces) + 13 == 1
    inner = [p for p in found.pieces.values() if p.stroke.kind == "ditch"]
    assert all(p.stroke.required for p in inner)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("strokes", [100, 1000])
def test_tops_are_about_as_large_as_asked_for(kind, strokes):
    assert 0.6 * strokes <= _required(kind, strokes) <= 1.4 * strokes


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_seed_gives_the_same_top(kind):
    assert route_top(kind, 100, 2) == route_top(kind, 100, 2)
    assert route_top(kind, 100, 2) != route_top(kind, 100, 0)


@pytest.mark.parametrize("kind", KINDS)
def test_tops_have_real_sizes(kind):
    def side(strokes):
        return max(max(s.curve.start + s.curve.end) for s in strokes)

    assert side(route_top(kind, 6_000)) == pytest.approx(MOST_IN)
    assert side(route_top(kind, 100, side_in=69.28)) == pytest.approx(69.28)
    assert side(route_top(kind, 100)) < MOST_IN


@pytest.mark.parametrize("kind", KINDS)
def test_the_outer_edge_is_a_rectangle(kind):
    strokes = route_top(kind, 60, 1)
    edges = [shapely.LineString([s.curve.start, s.curve.end]) for s in strokes if s.kind == "edge"]
    (top,) = shapely.polygonize([shapely.unary_union(edges)]).geoms
    assert top.area == pytest.approx(top.envelope.area, rel=1e-4)


@pytest.mark.parametrize("kind", ["arches", "on point", "leaves"])
def test_arcs_lie_in_their_patch(kind):
    # The faces of the seams; what bows into one face has one patch, and no other face has it.
    strokes = route_top(kind, 200)
    lines = [
        shapely.LineString([s.curve.start, s.curve.end]) for s in strokes if s.kind != "motif"
    ]
    faces = shapely.STRtree(list(shapely.polygonize([shapely.unary_union(lines)]).geoms))
    found = set()
    for stroke in strokes:
        if stroke.kind == "motif":
            (face,) = faces.query(shapely.Point(stroke.curve.pieces[0].at(0.5)), "within")
            found.add((stroke.patch, int(face)))
    assert len({p for p, _ in found}) == len({f for _, f in found}) == len(found) > 9


def test_stars_close_at_one_node_and_islands_touch_nothing():
    star = network(route_top("stars", 8))
    petals = [p for p in star.pieces.values() if p.stroke.required]
    assert [p.u == p.v for p in petals] == [True] * 8
    islands = network(route_top("islands", 16))
    rings = {n for p in islands.pieces.values() if p.stroke.required for n in (p.u, p.v)}
    rest = {n for p in islands.pieces.values() if not p.stroke.required for n in (p.u, p.v)}
    assert not rings & rest


def test_irregular_patches_tile_the_top():
    # Euler's formula for a planar map in one piece: V - E + F = 1 without the outside.
    strokes = [s for s in route_top("irregular", 200, 3) if s.kind != "motif"]
    found = network(strokes)
    lines = [shapely.LineString([s.curve.start, s.curve.end]) for s in strokes]
    faces = shapely.polygonize([shapely.unary_union(lines)]).geoms
    assert len(found.nodes) - len(found.pieces) + len(faces) == 1
    sides = Counter(p.stroke.kind for p in found.pieces.values())
    assert sides["ditch"] > sides["edge"] > 0
