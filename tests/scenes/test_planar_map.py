"""Every design is a planar map, sewn or not.

Sources: Euler's formula V − E + F = 1 for a map without its outside (textbook); tiling and
overlap by shapely as the general reference library.
"""

import itertools

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon

from seamwalk.model.top import Top
from seamwalk.scenes.designs.pattern import Layout, rect
from seamwalk.scenes.planar_map import joined
from seamwalk.scenes.sewing import SewingSettings
from seamwalk.scenes.tops import DESIGNS, make_top

ALL = list(itertools.product(DESIGNS, (0.0, 2.5)))


def top_of(design: str, border_in: float, sigma_in: float = 1 / 16) -> Top:
    return make_top(
        design,
        Layout(2, 3, 8.0),
        border_in=border_in,
        sewing=SewingSettings(sigma_in=sigma_in, skew_deg=1.0, taper_deg=-1.0, bow_in=0.3),
        seed=7,
    )


@pytest.mark.parametrize(("design", "border_in"), ALL)
def test_patches_tile_the_outline(design: str, border_in: float) -> None:
    top = top_of(design, border_in)
    polygons = [p.polygon for p in top.patches]
    assert all(p.is_valid and p.exterior.is_simple for p in polygons)
    total = sum(p.area for p in polygons)
    assert total == pytest.approx(top.outline.area, rel=1e-12)
    union = shapely.union_all(polygons, grid_size=1e-9)
    assert union.symmetric_difference(top.outline).area < 1e-5
    # No slivers: a quarter of an inch is the smallest thing that is sewn.
    assert not any(p.buffer(-0.05).is_empty for p in polygons)


@pytest.mark.parametrize(("design", "border_in"), ALL)
def test_euler_and_rings(design: str, border_in: float) -> None:
    top = top_of(design, border_in)
    assert len(top.junctions) - len(top.seams) + len(top.patches) == 1
    at = {j.id: j.xy for j in top.junctions}
    degree = dict.fromkeys(at, 0)
    for s in top.seams:
        assert s.points[0] == at[s.ends[0]]
        assert s.points[-1] == at[s.ends[1]]
        for j in s.ends:
            degree[j] += 1
    assert min(degree.values()) >= 2
    # A junction of two seams is a corner of the outline and nothing else.
    two = [Point(at[j]) for j, n in degree.items() if n == 2]
    assert (shapely.distance(top.outline.exterior, two) < 1e-9).all()
    points = shapely.points(list(at.values()))
    by_id = {s.id: s for s in top.seams}
    for p in top.patches:
        ring = list(p.polygon.exterior.coords)
        edges = {frozenset(e) for e in itertools.pairwise(ring)}
        along = [e for s in p.seams for e in itertools.pairwise(by_id[s].points)]
        assert edges == {frozenset(e) for e in along}
        inner = {xy for s in p.seams for xy in by_id[s].points[1:-1]}
        # Every junction on the outline is one of its points.
        on = points[shapely.distance(p.polygon.exterior, points) < 1e-9]
        assert {(q.x, q.y) for q in on} == set(ring) - inner


@pytest.mark.parametrize("design", DESIGNS)
def test_left_and_right_are_where_the_page_shows_them(design: str) -> None:
    top = top_of(design, 2.5)
    polygon = {p.id: p.polygon for p in top.patches}
    for s in top.seams:
        k = len(s.points) // 2
        a, b = np.array(s.points[k - 1]), np.array(s.points[k])
        way = (b - a) / np.hypot(*(b - a))
        # x turned towards y: (dx, dy) -> (-dy, dx) points to the right on a page with y down.
        right = Point((a + b) / 2 + 1e-3 * np.array([-way[1], way[0]]))
        left = Point((a + b) / 2 - 1e-3 * np.array([-way[1], way[0]]))
        assert s.right is not None or s.left is not None
        assert s.right is None or polygon[s.right].contains(right)
        assert s.left is None or polygon[s.left].contains(left)
        if s.right is None:
            assert not top.outline.contains(right)
        if s.left is None:
            assert not top.outline.contains(left)


@pytest.mark.parametrize("design", DESIGNS)
def test_top_frame_starts_at_its_bounding_box(design: str) -> None:
    top = top_of(design, 0.0)
    assert top.outline.bounds[:2] == (0.0, 0.0)


def test_t_junctions_are_found() -> None:
    # One wide rectangle over two squares: the square's upper inner corner lies on its side.
    planar = joined((rect(0, 0, 4, 1, "a"), rect(0, 1, 2, 2, "b"), rect(2, 1, 2, 2, "b")))
    t = next(k for k, p in enumerate(planar.at) if tuple(p) == (2.0, 1.0))
    assert t in planar.rings[0]
    assert t not in planar.corners[0]
    assert len(planar.edges) == 10  # Euler: 8 junctions, 3 patches
    assert Polygon(planar.at[list(planar.outline)]).area == pytest.approx(12)


@pytest.mark.parametrize(
    "pieces",
    [
        (rect(0, 0, 2, 2, "a"), rect(1, 0, 2, 2, "b")),
        (rect(0, 0, 1, 1, "a"), rect(2, 0, 1, 1, "b")),
        (
            rect(0, 0, 3, 1, "a"),
            rect(0, 2, 3, 1, "a"),
            rect(0, 1, 1, 1, "a"),
            rect(2, 1, 1, 1, "a"),
        ),
    ],
    ids=["overlap", "apart", "hole"],
)
def test_what_is_no_map_is_refused(pieces: tuple) -> None:
    with pytest.raises(ValueError, match=r"tile|overlap|sheet"):
        joined(pieces)
