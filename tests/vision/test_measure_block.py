import numpy as np
import pytest
import shapely
from shapely import affinity
from tests.vision.drawn_tops import pinwheels, straight_down
from tests.vision.exact_tops import exact_top, jolted, sheared, squares
from tests.vision.pieced_tops import block as drawn
from tests.vision.pieced_tops import posed, rect, tiled, top_of

from seamwalk.model.picture import View
from seamwalk.vision.measure import measure


def block_of(top, **kw):
    return measure(top, kw.pop("camera", straight_down()), endpoint_sigma_in=0.01, **kw).block


def sashed(columns, rows, block, sash):
    """Return blocks with sashing between and round them, cornerstones included."""
    xs = np.cumsum([0, *([sash, block] * columns), sash])
    ys = np.cumsum([0, *([sash, block] * rows), sash])
    return [
        shapely.box(xs[j], ys[i], xs[j + 1], ys[i + 1])
        for i in range(len(ys) - 1)
        for j in range(len(xs) - 1)
    ]


def checker(rows, columns):
    return ["light" if (i + j) % 2 else "dark" for i in range(rows) for j in range(columns)]


def test_squares_of_one_fabric_repeat_by_themselves():
    block = block_of(exact_top(squares(6, 5, 3.0)))
    assert block.finished_in == (3.0, 3.0)
    assert (block.columns, block.rows, block.angle_deg) == (5, 6, 0.0)
    assert block.origin_in == pytest.approx((0, 0), abs=1e-9)
    assert block.share == pytest.approx(1.0)


def test_two_fabrics_in_turn_repeat_by_two():
    block = block_of(exact_top(squares(6, 8, 3.0), fabrics=checker(6, 8)))
    assert block.finished_in == (6.0, 6.0)
    assert (block.columns, block.rows) == (4, 3)


def test_a_scrappy_top_repeats_by_shape():
    fabrics = [f"scrap {k}" for k in range(48)]
    block = block_of(exact_top(squares(6, 8, 3.0), fabrics=fabrics))
    assert block.finished_in == (3.0, 3.0)


def test_sashing_belongs_to_the_unit():
    # 8 in blocks with 2 in sashing: one repeat every 10 in.
    top = exact_top(sashed(4, 5, 8.0, 2.0))
    block = block_of(top)
    assert block.finished_in == (10.0, 10.0)
    assert (block.columns, block.rows) == (4, 5)
    assert block.width.value_in == pytest.approx(10.0, abs=1e-9)


def test_pinwheels_of_two_fabrics():
    polygons = pinwheels(6, 6, 3.0)
    # Each square's two triangles are light and dark, the light ones turning with the wheel.
    fabrics = [("light", "dark")[(k // 12 + k // 2 + k) % 2] for k in range(len(polygons))]
    block = block_of(exact_top(polygons, fabrics=fabrics))
    assert block.finished_in in {(6.0, 6.0), (3.0, 3.0)}
    assert block.chance > 0.9


def test_on_point_the_block_is_the_square_and_not_its_diagonal():
    # Columns x rows and the side triangles: 2 (r + c − 2), corners 4 (trade formula).
    side, columns, rows = 6.0, 4, 5
    d = side * np.sqrt(2)
    frame = shapely.box(0, 0, columns * d, rows * d)
    cell = affinity.rotate(shapely.box(-side / 2, -side / 2, side / 2, side / 2), 45)
    cells = [
        affinity.translate(cell, (j + (i % 2) / 2) * d + d / 2, i * d / 2 + d / 2)
        for i in range(-1, 2 * rows)
        for j in range(-1, columns + 1)
    ]
    cut = [shapely.set_precision(c & frame, 1e-6) for c in cells]
    polygons = [p for p in cut if p.area > 0.1]
    triangles = [p for p in polygons if len(p.exterior.coords) == 4]
    assert len(triangles) == 2 * (rows + columns - 2) + 4
    block = block_of(exact_top(polygons))
    assert block.finished_in == (6.0, 6.0)
    assert block.angle_deg == 45.0
    # The first block's uppermost point, whence its width runs down to the right.
    assert block.origin_in == pytest.approx((d / 2, 0), abs=1e-5)
    assert (block.columns, block.rows) == (columns, rows)


def test_borders_are_no_part_of_it():
    inner = squares(6, 5, 3.0)
    # Strips of border, cut where the squares meet them so that corners meet corners.
    w, h = 15.0, 18.0
    strips = [
        shapely.Polygon([(-4, -4), (w + 4, -4), (w, 0), *[(x, 0) for x in (12, 9, 6, 3)], (0, 0)]),
        shapely.Polygon(
            [(w, 0), (w + 4, -4), (w + 4, h + 4), (w, h), *[(w, y) for y in (15, 12, 9, 6, 3)]]
        ),
        shapely.Polygon(
            [(0, h), *[(x, h) for x in (3, 6, 9, 12)], (w, h), (w + 4, h + 4), (-4, h + 4)]
        ),
        shapely.Polygon(
            [(-4, -4), (0, 0), *[(0, y) for y in (3, 6, 9, 12, 15)], (0, h), (-4, h + 4)]
        ),
    ]
    block = block_of(exact_top([*inner, *strips]))
    assert block.finished_in == (3.0, 3.0)
    assert (block.columns, block.rows) == (5, 6)


def test_blocks_turned_against_each_other_are_one_unit_each():
    # Three strips, every other block turned: the step is the block's 6 in, not two blocks.
    strips = drawn(rect("a", 0, 0, 6, 2), rect("b", 0, 2, 6, 2), rect("c", 0, 4, 6, 2))
    top = top_of(tiled(lambda col, row: posed(strips, 6, turns=(col + row) % 2), 5, 4, 6))
    block = block_of(top)
    assert block.finished_in == (6.0, 6.0)
    assert (block.columns, block.rows) == (5, 4)
    assert block.origin_in == pytest.approx((0, 0), abs=1e-5)


def test_a_damaged_block_counts():
    nine = drawn(*(rect("ab"[k % 2], 2 * (k % 3), 2 * (k // 3), 2, 2) for k in range(9)))
    pieces = tiled(nine, 5, 4, 6)
    # One seam of the second block in the second row was not seen.
    (one, fabric), (other, _) = pieces[54:56]
    pieces[54:56] = [(one | other, fabric)]
    block = block_of(top_of(pieces))
    assert block.finished_in == (6.0, 6.0)
    assert (block.columns, block.rows) == (5, 4)
    assert block.share == pytest.approx(1.0)


def test_nothing_repeats_where_every_patch_has_its_own_size():
    xs = np.cumsum([0, 2, 3.1, 4.4, 5.9, 7.7])
    ys = np.cumsum([0, 2.5, 3.7, 5.2, 6.9])
    polygons = [
        shapely.box(xs[j], ys[i], xs[j + 1], ys[i + 1]) for i in range(4) for j in range(5)
    ]
    assert block_of(exact_top(polygons)) is None


def test_skew_and_piecing_do_not_hide_the_block():
    rng = np.random.default_rng(1)
    top = jolted(sheared(exact_top(sashed(4, 5, 8.0, 2.0)), skew_deg=1.0), 1 / 32, rng)
    block = block_of(top)
    assert block.finished_in == (10.0, 10.0)
    assert abs(block.width.value_in - 10.0) < block.width.plus_minus_in < 0.1


def test_the_period_carries_the_cameras_doubt():
    # A scale unsure by 1 % makes a 10 in repeat unsure by 0.1 in, 0.196 in at 95 %.
    view = straight_down().view
    larger = View(view.lens, np.diag([1.01, 1.01, 1.0]) @ view.top_from_ray)
    block = block_of(exact_top(sashed(4, 5, 8.0, 2.0)), camera=straight_down(modes=(larger,)))
    assert block.width.plus_minus_in == pytest.approx(1.96 * 0.1, rel=0.02)


def test_stated_limits_hold_the_true_period():
    rng = np.random.default_rng(5)
    top = exact_top(squares(8, 8, 3.0))
    inside = []
    for _ in range(30):
        block = block_of(jolted(top, 1 / 32, rng))
        inside += [abs(v.value_in - 3.0) <= v.plus_minus_in for v in (block.width, block.height)]
    assert np.mean(inside) >= 0.88
