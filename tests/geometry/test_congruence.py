import numpy as np
import pytest
from shapely import Polygon, affinity

from seamwalk.geometry.congruence import (
    COMPOSED,
    INVERSE,
    MATRICES,
    POSES,
    agreeing,
    areas,
    features,
    posed,
    posed_features,
    symmetries,
)


def figure(polygons):
    """Return the features of polygons about the centroid of them all (shapely's centroids)."""
    area = np.array([p.area for p in polygons])
    middle = np.array([p.centroid.coords[0] for p in polygons])
    centre = (middle * area[:, None]).sum(axis=0) / area.sum()
    bounds = np.array([p.bounds for p in polygons])
    return features(bounds[:, :2] - centre, bounds[:, 2:] - centre, middle - centre, area)


ODD = [
    Polygon([(0, 0), (6, 0), (6, 2), (0, 2)]),
    Polygon([(0, 2), (2, 2), (2, 6), (0, 6)]),
    Polygon([(2, 2), (6, 2), (2, 6)]),
    Polygon([(6, 2), (6, 6), (2, 6)]),
]
HALVES = [Polygon([(0, 0), (2, 0), (2, 2)]), Polygon([(0, 0), (2, 2), (0, 2)])]
QUARTERS = [
    Polygon([(0, 0), (2, 0), (1, 1)]),
    Polygon([(2, 0), (2, 2), (1, 1)]),
    Polygon([(2, 2), (0, 2), (1, 1)]),
    Polygon([(0, 2), (0, 0), (1, 1)]),
]


def test_a_quarter_turns_x_towards_y():
    assert posed(np.array([[1.0, 0.0]]), POSES[1]).tolist() == [[0, 1]]


def test_poses_are_a_group():
    # The dihedral group of the square: eight elements, each with one inverse, not commutative.
    assert all(sorted(row) == list(range(8)) for row in COMPOSED)
    assert all(COMPOSED[p][INVERSE[p]] == 0 for p in range(8))
    assert any(COMPOSED[a][b] != COMPOSED[b][a] for a in range(8) for b in range(8))
    for a in range(8):
        for b in range(8):
            assert (MATRICES[COMPOSED[a][b]] == MATRICES[a] @ MATRICES[b]).all()


@pytest.mark.parametrize("pose", range(8))
def test_features_pose_as_the_polygons_do(pose):
    m = MATRICES[pose]
    turned = [
        affinity.affine_transform(p, [m[0, 0], m[1, 0], m[0, 1], m[1, 1], 0, 0]) for p in ODD
    ]
    assert posed_features(figure(ODD), pose) == pytest.approx(figure(turned), abs=1e-9)


@pytest.mark.parametrize("pose", range(8))
def test_the_pose_of_an_odd_figure_is_found_in_any_order_with_noise(pose):
    rng = np.random.default_rng(pose)
    order = rng.permutation(4)
    seen = posed_features(figure(ODD), pose)[order] + rng.normal(0, 0.05, (4, 7))
    found, piece = agreeing(seen[None], figure(ODD), np.full(4, 0.4))
    assert found.tolist() == [pose]
    assert order[piece[0]].tolist() == [0, 1, 2, 3]


def test_a_mirrored_half_is_not_its_other_half():
    # Two halves of a square differ by a third of its side in their centroids.
    other = [affinity.scale(p, -1, 1, origin=(1, 1)) for p in HALVES]
    found, _ = agreeing(figure(other)[None], figure(HALVES), np.full(2, 0.5))
    assert found[0] > 0


def test_a_square_on_point_is_not_the_square_round_it():
    square = [Polygon([(0, 0), (2, 0), (2, 2), (0, 2)])]
    diamond = [Polygon([(1, 0), (2, 1), (1, 2), (0, 1)])]
    found, _ = agreeing(figure(diamond)[None], figure(square), np.full(1, 0.4))
    assert found.tolist() == [-1]


@pytest.mark.parametrize(("polygons", "order"), [(ODD, 1), (HALVES, 4), (QUARTERS, 8)])
def test_symmetries_by_their_order(polygons, order):
    # An odd figure has one, a square cut once the four of its diagonals, cut twice all eight.
    found = symmetries(figure(polygons), np.full(len(polygons), 0.1))
    assert len(found) == order
    for pose, piece in found:
        assert posed_features(figure(polygons), pose)[piece] == pytest.approx(
            figure(polygons), abs=1e-9
        )


def test_areas_and_centroids_are_shapelys():
    rng = np.random.default_rng(0)
    polygons = [
        affinity.translate(affinity.rotate(p, rng.uniform(0, 360)), *rng.uniform(0, 90, 2))
        for p in (*ODD, *HALVES, *QUARTERS)
    ]
    rings = [np.array(p.exterior.coords)[:-1] for p in polygons]
    start = np.cumsum([0, *(len(r) for r in rings[:-1])])
    area, middle = areas(np.concatenate(rings), start)
    assert area == pytest.approx([p.area for p in polygons])
    assert middle == pytest.approx(np.array([p.centroid.coords[0] for p in polygons]))
