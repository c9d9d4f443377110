from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon, affinity, box
from tests.vision.drawn_tops import draw, flat, grid, pinwheels, straight_down
from tests.vision.exact_tops import exact_top, squares

from seamwalk.geometry.lens import Lens
from seamwalk.geometry.polygon import side_lengths
from seamwalk.model.picture import Partition, View
from seamwalk.model.top import Patch, PatchId, Top
from seamwalk.vision.measure import measure
from seamwalk.vision.measure_classes import classes, kind_sizes, kinds
from seamwalk.vision.measure_doubt import Doubt, camera_place
from seamwalk.vision.measure_finished import finished_shapes
from seamwalk.vision.measure_top import four_corners
from seamwalk.vision.piecing import trace

R2 = np.sqrt(2)


def top_of(polygons, ppi=32.0):
    labels, origin = draw(polygons, ppi)
    return trace(Partition(labels), flat(labels, ppi, origin), None)


def bare(rows, columns, side):
    """Return squares of a bare top: the outer ones show 1/4 in more on each raw side."""
    xs = np.array([-0.25, *np.arange(1, columns) * side, columns * side + 0.25])
    ys = np.array([-0.25, *np.arange(1, rows) * side, rows * side + 0.25])
    return [
        Polygon([(xs[j], ys[i]), (xs[j + 1], ys[i]), (xs[j + 1], ys[i + 1]), (xs[j], ys[i + 1])])
        for i in range(rows)
        for j in range(columns)
    ]


def test_outer_squares_finish_like_the_inner_ones():
    # Unfinished = finished + 1/4 in for each raw side (trade standard).
    sizes = measure(top_of(bare(3, 4, 3.0)), straight_down())
    assert {p.class_name for p in sizes.patches} == {"square 3"}
    assert sorted(p.raw_edges for p in sizes.patches) == [0] * 2 + [1] * 6 + [2] * 4
    corner = next(p for p in sizes.patches if p.raw_edges == 2)
    assert [s.value_in for s in corner.sides] == pytest.approx([3.25] * 4, abs=0.01)
    assert all(p.finished.verdict == "right" for p in sizes.patches)


def test_a_triangle_with_its_long_side_raw_finishes_smaller_in_all_sides():
    # A side setting triangle: raw long side 1/4 in outside, so the leg is 1/4 · √2 longer.
    leg = 4.0
    far = leg / np.sqrt(2) + 0.25
    triangle = Polygon([(-far, 0.25), (0.0, 0.25 - far), (far, 0.25)])
    patch = Patch(PatchId(1), triangle, ())
    top = Top(box(-9, -9, 9, 0.25), (), (), (patch,))
    found, (shape,) = kinds(finished_shapes(top))
    doubt = Doubt(top, straight_down(), 0.02)
    (kind,) = classes(kind_sizes(found, [shape], doubt), 1 / 8, "in")
    assert shape.raw_edges == 1
    assert side_lengths(shape.finished) == pytest.approx([leg, leg, leg * np.sqrt(2)])
    assert kind.name == "quarter-square triangle 5 5/8"
    assert sorted(kind.sides_in(shape, 1 / 8)) == pytest.approx([5.625 / R2, 5.625 / R2, 5.625])


def test_the_odd_one_out_is_off_and_not_a_kind_of_its_own():
    polygons = grid(4, 4, 3.0)
    # One column 1/4 in narrower at one square: its neighbour takes what it lost.
    a, b = 5, 6
    polygons[a] = Polygon([(3, 3), (5.8, 3), (5.8, 6), (3, 6)])
    polygons[b] = Polygon([(5.8, 3), (9, 3), (9, 6), (5.8, 6)])
    top = replace(top_of(polygons), raw_edges=False)
    sizes = measure(top, straight_down(), endpoint_sigma_in=0.005, tolerance_in=0.1)
    off = [p for p in sizes.patches if p.finished.verdict == "off"]
    assert sorted(round(p.finished.off_in, 1) for p in off) == [-0.2, 0.2]
    assert sum(p.finished.verdict == "right" for p in sizes.patches) == 14
    assert sum(p.class_name == "square 3" for p in sizes.patches) >= 14


def test_wide_doubt_is_cannot_tell():
    sizes = measure(top_of(bare(2, 2, 3.0)), straight_down(), endpoint_sigma_in=0.1)
    assert {p.finished.verdict for p in sizes.patches} == {"cannot tell"}


def test_centimetres_name_classes_on_their_own_grain():
    sizes = measure(top_of(bare(2, 2, 10 / 2.54)), straight_down(), units="cm")
    assert {p.class_name for p in sizes.patches} == {"square 10 cm"}


def test_overall_sizes_of_a_skewed_top():
    skewed = [affinity.skew(p, xs=1.0, origin=(0, 0)) for p in grid(4, 5, 3.0)]
    top = top_of(skewed, 48.0)
    found = measure(top, straight_down()).top
    lean = 12 * np.tan(np.radians(1.0))
    assert found.width.value_in == pytest.approx(15.0, abs=0.03)
    assert found.height.value_in == pytest.approx(np.hypot(12, lean), abs=0.03)
    assert found.diagonals[0].value_in == pytest.approx(np.hypot(15 + lean, 12), abs=0.03)
    assert found.diagonals[1].value_in == pytest.approx(np.hypot(15 - lean, 12), abs=0.03)
    wanted = [89.0, 91.0, 89.0, 91.0]
    assert [a.value_deg for a in found.corner_angles] == pytest.approx(wanted, abs=0.15)
    assert sum(a.value_deg for a in found.corner_angles) == pytest.approx(360, abs=1e-6)


def test_limits_follow_the_modes():
    # A camera that may stand 1 % nearer makes every length doubtful by 1 %.
    view = straight_down().view
    nearer = View(view.lens, np.diag([1.01, 1.01, 1.0]) @ view.top_from_ray)
    camera = straight_down(modes=(nearer,))
    top = top_of(grid(2, 3, 4.0))
    found = measure(top, camera, endpoint_sigma_in=1e-6).top
    alone = measure(top, straight_down(), endpoint_sigma_in=1e-6).top
    camera_part = np.sqrt(found.width.plus_minus_in**2 - alone.width.plus_minus_in**2)
    assert camera_part == pytest.approx(1.96 * 0.01 * found.width.value_in, rel=0.01)


def test_stated_limits_hold_true_lengths_95_times_in_100():
    # Corners moved by the stated σ: the share of lengths inside ± is a binomial 95 %.
    rng = np.random.default_rng(0)
    top = top_of(grid(6, 6, 3.0))
    sigma, inside, total = 0.03, 0, 0
    for _ in range(12):
        near = top.mapped(lambda xy: xy + rng.normal(0, sigma, xy.shape))
        sizes = measure(replace(near, raw_edges=False), straight_down(), endpoint_sigma_in=sigma)
        sides = [s for p in sizes.patches for s in p.sides]
        inside += sum(abs(s.value_in - 3.0) <= s.plus_minus_in for s in sides)
        total += len(sides)
    assert 0.93 < inside / total < 0.985


def test_the_camera_is_found_where_it_stands():
    # Reference: pose and plane of a camera built from its own rotation and place.
    t = np.radians(30)
    rotation = np.array([[1, 0, 0], [0, np.cos(t), -np.sin(t)], [0, np.sin(t), np.cos(t)]])
    place = np.array([12.0, 55.0, -70.0])
    ray_from_top = np.column_stack([rotation[:, 0], rotation[:, 1], -rotation @ place])
    view = View(Lens(3000.0, (2000.0, 1500.0)), np.linalg.inv(ray_from_top))
    assert camera_place(view) == pytest.approx((12.0, 55.0, 70.0), abs=1e-6)


def test_patches_have_their_angles():
    top = replace(top_of(pinwheels(2, 3, 4.0)), raw_edges=False)
    sizes = measure(top, straight_down(), endpoint_sigma_in=0.02)
    for patch in sizes.patches:
        found = [a.value_deg for a in patch.angles]
        assert len(found) == len(patch.sides) == 3
        assert sum(found) == pytest.approx(180)
        assert sorted(found) == pytest.approx([45, 45, 90], abs=1.5)
        # A 4 in leg with ends known to 0.02 in: 1.96 · 0.02 · √2 / 4 in radians, twice.
        right = patch.angles[int(np.argmax(found))]
        assert right.plus_minus_deg == pytest.approx(np.degrees(1.96 * 0.02 / 2), rel=0.1)


def test_an_inner_angle_above_180_degrees_is_told():
    # An L and the square that completes it: the angles of a hexagon sum to 720°.
    ell = Polygon([(0, 0), (4, 0), (4, 2), (2, 2), (2, 4), (0, 4)])
    top = exact_top([ell, Polygon([(2, 2), (4, 2), (4, 4), (2, 4)])])
    (angles, _) = (p.angles for p in measure(top, straight_down()).patches)
    found = [a.value_deg for a in angles]
    assert sorted(found) == pytest.approx([90] * 5 + [270])


def test_a_split_corner_leaves_class_and_shape():
    top = exact_top(squares(4, 4, 3.0))
    # The junction at 6, 6 seen as two, 0.15 in apart: two of its squares get a fifth side.
    ring = {5: [(3, 3), (6, 3), (6, 6), (3, 6)], 10: [(6.1, 6.1), (9, 6), (9, 9), (6, 9)]}
    ring[6] = [(6, 3), (9, 3), (9, 6), (6.1, 6.1), (6, 6)]
    ring[9] = [(3, 6), (6, 6), (6.1, 6.1), (6, 9), (3, 9)]
    patches = tuple(
        replace(p, polygon=Polygon(ring[k])) if k in ring else p for k, p in enumerate(top.patches)
    )
    sizes = measure(replace(top, patches=patches), straight_down())
    assert {p.class_name for p in sizes.patches} == {"square 3"}
    assert {p.shape for p in sizes.patches} == {"square"}
    # Sides stay those of the outline's corners.
    assert [len(sizes.patches[k].sides) for k in (5, 6, 9, 10)] == [4, 5, 5, 4]


def test_a_misseen_patch_joins_its_kind():
    polygons = squares(5, 5, 3.0)
    # A print took 1/4 in at one corner of the middle square for its neighbour's.
    polygons[12] = Polygon([(6, 6), (9, 6), (9, 9), (6.25, 9), (6, 8.75)])
    polygons[16] = Polygon([(3, 9), (6, 9), (6, 8.75), (6.25, 9), (6, 12), (3, 12)])
    top = exact_top(squares(5, 5, 3.0))
    patches = tuple(
        replace(p, polygon=polygons[k]) if k in (12, 16) else p for k, p in enumerate(top.patches)
    )
    sizes = measure(replace(top, patches=patches), straight_down())
    assert sizes.patches[12].class_name == "square 3"


def test_the_chance_of_a_class_does_not_grow_without_end():
    # More patches make the mean surer, but not the camera: a scale unsure by 3 % leaves it open
    # whether 3 in or 3 1/8 in squares were meant, however many there are.
    view = straight_down().view
    unsure = straight_down(modes=(View(view.lens, np.diag([1.03, 1.03, 1]) @ view.top_from_ray),))
    few, many = exact_top(squares(2, 2, 3.05)), exact_top(squares(12, 12, 3.05))
    chances = [
        measure(top, camera).patches[0].finished.chance
        for camera in (straight_down(), unsure)
        for top in (few, many)
    ]
    sure_few, sure_many, unsure_few, unsure_many = chances
    assert sure_many > sure_few > unsure_few
    assert unsure_many < 0.9 < sure_many


def test_sizes_say_what_they_were_judged_by():
    sizes = measure(exact_top(squares(2, 2, 3.0)), straight_down(), grain_in=0.25)
    assert (sizes.grain_in, sizes.tolerance_in) == (0.25, 0.125)
    assert measure(exact_top(squares(2, 2, 3.2)), straight_down(), grain_in=0.25).patches[
        0
    ].finished.size_in == pytest.approx([3.25] * 4)


ODD_TOPS = {
    "one patch": [box(0, 0, 5, 5)],
    "three corners": [Polygon([(0, 0), (9, 0), (0, 9)])],
    "a notch": [p for k, p in enumerate(squares(4, 4, 3.0)) if k not in (2, 3, 6, 7)],
    "a needle": [
        Polygon([(0, 0), (5, 0), (5, 0.01)]),
        Polygon([(0, 0), (5, 0.01), (5, 5), (0, 5)]),
    ],
    "crumbs": squares(3, 3, 0.3),
    "a round": [Polygon(9 * np.column_stack([np.cos(t := np.arange(40) / 6.4), np.sin(t)]))],
}


@pytest.mark.parametrize("raw", [False, True])
@pytest.mark.parametrize("name", ODD_TOPS)
def test_odd_tops_are_measured_too(name, raw):
    top = replace(exact_top(ODD_TOPS[name]), raw_edges=raw)
    sizes = measure(top, straight_down())
    for patch, size in zip(top.patches, sizes.patches, strict=True):
        assert sum(s.value_in for s in size.sides) <= patch.polygon.length + 1e-9
        assert all(np.isfinite([s.plus_minus_in for s in size.sides]))
        assert 0 < size.finished.chance <= 1


def test_four_corners_go_round_from_the_upper_left():
    ring = np.array([(5, 0), (10, 0.1), (10.1, 8), (5, 8), (0, 8.1), (0.1, 0)])
    assert four_corners(ring).tolist() == [5, 1, 2, 4]
    cut = np.array([(1, 0), (9, 0), (10, 1), (10, 7), (9, 8), (1, 8), (0, 7), (0, 1)], float)
    assert len(four_corners(cut)) == 4
