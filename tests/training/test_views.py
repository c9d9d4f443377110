import subprocess
import sys

import cv2
import numpy as np
import pytest

from seamwalk.training import view_camera, views
from seamwalk.training.sketch import (
    GRID,
    MOST_ROWS,
    ROW,
    TARGETS,
    ClothRow,
    Ingredients,
    PiecedTop,
)
from seamwalk.training.view_bumps import draw_bumps
from seamwalk.training.view_outlines import outlines
from seamwalk.training.view_raster import draw_patches, seam_truth

COLUMN = ClothRow()
PLAIN = Ingredients(relief=False, lines=False, floors=False, objects=False, curves=False)
SIDE = 256


def checkers(rows, cols, side_in=4.0, fabrics=3):
    """A top of squares, every corner shared."""
    rings, roles = [], []
    for i in range(rows):
        for j in range(cols):
            corners = np.array([[j, i], [j + 1, i], [j + 1, i + 1], [j, i + 1]], np.float32)
            rings.append(corners * np.float32(side_in))
            roles.append((i + j) % fabrics)
    outline = np.array([[0, 0], [cols, 0], [cols, rows], [0, rows]], np.float32) * side_in
    return PiecedTop(tuple(rings), np.array(roles, np.int32), outline.astype(np.float32))


def looked_at(top, tilt=0.0, azimuth=1.2, roll=0.0, px_per_in=12.0, at=None, k1=0.0, side=SIDE):
    """A view of `top` with a camera of known pose; the middle of the top in the middle."""
    middle = top.outline.astype(float).mean(axis=0) if at is None else np.asarray(at, float)
    distance = 40.0
    bare = view_camera.pinhole(middle, distance, tilt, azimuth, roll)
    camera = view_camera.Camera(
        bare.place, bare.axes, px_per_in * distance, np.full(2, side / 2.0), k1, 2.0
    )
    return views.View(camera, None, side)


def drawn(seed, ingredients=None, side=SIDE, top=None):
    rng = np.random.default_rng(seed)
    top = checkers(5, 6) if top is None else top
    ingredients = ingredients or Ingredients()
    view = views.draw_view(rng, top, side, ingredients)
    return view, top, views.sketch_of(rng, top, view, ingredients, 40, 9)


def opencv_px(camera, xyz):
    """The same camera in OpenCV, whose axes are right, down, forward, and pixels count centres.

    Heights point to the camera, so inches and height form a left-handed frame; OpenCV gets
    depths, which make it right-handed.
    """
    flip = np.diag([1.0, 1.0, -1.0])
    rotation = camera.axes @ flip
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    shift = -camera.axes @ camera.place
    matrix = np.diag([camera.focal_px, camera.focal_px, 1.0])
    matrix[:2, 2] = camera.centre_px
    lens = np.array([camera.k1, 0, 0, 0, 0.0])
    px, _ = cv2.projectPoints(xyz @ flip, cv2.Rodrigues(rotation)[0], shift, matrix, lens)
    return px.reshape(-1, 2)


# --- the camera -------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_camera_agrees_with_opencv(seed):
    # Reference: cv2.projectPoints, an independent pinhole with Brown's k1.
    rng = np.random.default_rng(seed)
    view = looked_at(
        checkers(4, 4), rng.uniform(0, 0.7), rng.uniform(0, 6), rng.uniform(0, 6), k1=-0.1
    )
    points = np.column_stack([rng.uniform(-2, 18, (50, 2)), rng.uniform(-1, 1, 50)])
    own = view.camera.px_from_space(points)
    np.testing.assert_allclose(own, opencv_px(view.camera, points), atol=1e-6)


def test_straight_down_shows_x_right_and_y_down():
    view = looked_at(checkers(4, 4))
    a, b, c = view.camera.px_from_cloth(np.array([[8.0, 8.0], [9.0, 8.0], [8.0, 9.0]]), None)
    np.testing.assert_allclose([a, b - a, c - a], [[128, 128], [12, 0], [0, 12]], atol=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_the_way_back_undoes_camera_lens_and_bumps(seed):
    rng = np.random.default_rng(seed)
    top = checkers(6, 8)
    corners = np.concatenate(top.rings).astype(float)
    bumps = draw_bumps(rng, corners.min(axis=0), corners.max(axis=0))
    framing = view_camera.draw_framing(rng, corners, corners[7], (3.0, 3.0), 600)
    draped = bumps is not None and bumps.fold is not None
    camera = view_camera.draw_camera(rng, corners, framing, 600, draped=draped)
    px = rng.uniform(0, 600, (400, 2))
    again = camera.px_from_cloth(camera.cloth_from_px(px, bumps), bumps)
    assert np.abs(again - px).max() < 0.05


def test_framings_are_as_asked():
    top = checkers(6, 8)
    corners = np.concatenate(top.rings).astype(float)
    spans = {"whole": [], "part": [], "close": []}
    for seed in range(150):
        rng = np.random.default_rng(seed)
        framing = view_camera.draw_framing(rng, corners, corners[60], (3.0, 3.0), 600)
        camera = view_camera.draw_camera(rng, corners, framing, 600)
        px = camera.px_from_space(np.column_stack([corners, np.zeros(len(corners))]))
        spans[framing.kind].append(np.ptp(px, axis=0).max() / 600)
        if framing.kind == "whole":
            assert px.min() > -1
            assert px.max() < 601
    assert min(spans["part"]) > 0.9
    assert 0.3 < len(spans["whole"]) / 150 < 0.6
    assert np.ptp(spans["whole"]) > 0.25
    assert max(spans["close"]) > 4


# --- labels and truth -------------------------------------------------------------------------


def boundary_points(labels, one, two):
    """Places (x, y) in picture pixels where rows `one` and `two` touch."""
    across = (labels[:, :-1] == one) & (labels[:, 1:] == two)
    across |= (labels[:, :-1] == two) & (labels[:, 1:] == one)
    down = (labels[:-1] == one) & (labels[1:] == two)
    down |= (labels[:-1] == two) & (labels[1:] == one)
    r, c = np.nonzero(across)
    points = [np.column_stack([(c + 1) / 2, (r + 0.5) / 2])]
    r, c = np.nonzero(down)
    points.append(np.column_stack([(c + 0.5) / 2, (r + 1) / 2]))
    return np.concatenate(points)


def fitted_line(points):
    middle = points.mean(axis=0)
    way = np.linalg.svd(points - middle)[2][0]
    return middle, way


@pytest.mark.parametrize("seed", range(8))
def test_a_corner_is_where_the_camera_puts_it(seed):
    rng = np.random.default_rng(seed)
    top = checkers(2, 2, side_in=9.0)
    view = looked_at(top, rng.uniform(0, 0.5), rng.uniform(0, 6), rng.uniform(0, 6), 12.0)
    at = opencv_px(view.camera, np.array([[9.0, 9.0, 0.0]]))[0]
    labels = draw_patches(outlines(top, view.camera, None, SIDE, 10), 1, SIDE)
    # Rings: 1 2 over 3 4; the seam 1|3 runs on as 2|4, and 1|2 as 3|4.
    lines = []
    for first, second in (((1, 3), (2, 4)), ((1, 2), (3, 4))):
        points = np.concatenate(
            [boundary_points(labels, *first), boundary_points(labels, *second)]
        )
        near = np.linalg.norm(points - at, axis=1) < 60
        lines.append(fitted_line(points[near]))
    (p, u), (q, v) = lines
    s = np.linalg.solve(np.column_stack([u, -v]), q - p)
    assert np.linalg.norm(p + s[0] * u - at) < 0.3


@pytest.mark.parametrize("seed", range(6))
def test_seam_truth_peaks_where_labels_change(seed):
    _, _, sketch = drawn(seed, Ingredients(objects=False), side=320)
    labels = sketch.labels.astype(np.int32)
    patch = sketch.cloth[labels, COLUMN.kind] == 1
    change = np.zeros(labels.shape, bool)
    for axis in (0, 1):
        a = np.moveaxis(labels, axis, 0)
        on = np.moveaxis(patch, axis, 0)
        edge = (a[1:] != a[:-1]) & (on[1:] | on[:-1])
        view = np.moveaxis(change, axis, 0)
        view[1:] |= edge
        view[:-1] |= edge
    touched = change.reshape(320, 2, 320, 2).any(axis=(1, 3))
    seam = sketch.targets[..., 0]
    inner = touched & (sketch.targets[..., 1] == 255)
    assert inner.sum() > 100
    assert np.percentile(seam[inner], 1) > 90
    away = cv2.distanceTransform((~touched).astype(np.uint8), cv2.DIST_L2, 5) > 2.5
    assert seam[away].max() < 50


@pytest.mark.parametrize("angle", [0.0, 0.3, 0.7, 1.2, 1.57])
def test_seam_truth_has_its_width_in_every_direction(angle):
    # Reference: the Gaussian of sigma 1 px and peak 255 that the truth is defined as.
    size = 96
    y, x = (np.mgrid[0 : 2 * size, 0 : 2 * size] + 0.5) / 2
    way = np.array([np.cos(angle), np.sin(angle)])
    off = (x - 48.1) * -way[1] + (y - 47.8) * way[0]
    seam = seam_truth((1 + (off > 0)).astype(np.uint16)).astype(float)
    y, x = np.mgrid[0:size, 0:size] + 0.5
    off = (x - 48.1) * -way[1] + (y - 47.8) * way[0]
    middle = np.hypot(x - 48, y - 48) < 30
    error = (seam - 255 * np.exp(-(off**2) / 2))[middle]
    assert np.sqrt((error**2).mean()) < 14
    weight = seam[middle] / seam[middle].sum()
    # Half pixels hold a line's place to a quarter of a pixel at worst.
    assert abs((weight * off[middle]).sum()) < 0.25
    assert np.sqrt((weight * off[middle] ** 2).sum()) == pytest.approx(1.0, abs=0.15)


def test_directions_are_twice_the_seams_angle():
    for roll in (0.0, 0.35, 0.8, 1.3):
        view = looked_at(checkers(4, 4, 4.0), roll=roll, px_per_in=20.0)
        rng = np.random.default_rng(0)
        sketch = views.sketch_of(rng, checkers(4, 4, 4.0), view, PLAIN, 4, 1)
        seam, junction = sketch.targets[..., 0], sketch.targets[..., 3]
        cosine, sine = (sketch.targets[..., k].astype(float) - 128 for k in (4, 5))
        near = cv2.dilate(junction, np.ones((25, 25)))
        sure = (seam > 200) & (near < 10)
        angle = 0.5 * np.arctan2(sine, cosine)[sure]
        # Seams run along x and y of the top, turned by the roll the other way.
        error = np.abs((angle + roll + np.pi / 4) % (np.pi / 2) - np.pi / 4)
        assert sure.sum() > 500
        assert np.degrees(np.percentile(error, 95)) < 5
        seen = cv2.distanceTransform((seam < 100).astype(np.uint8), cv2.DIST_L2, 5)
        assert not cosine[seen > 6].any()
        assert not sine[seen > 6].any()
        sure = (seen < 2) & (near < 10)
        # Junctions just outside the picture mix directions, too.
        assert (np.hypot(cosine, sine)[16:-16, 16:-16][sure[16:-16, 16:-16]] > 115).all()


def test_junctions_shine_at_corners_only():
    top = checkers(4, 4)
    view = looked_at(top, tilt=0.3, roll=0.2)
    sketch = views.sketch_of(np.random.default_rng(1), top, view, PLAIN, 4, 1)
    corners = np.array([[4.0 * i, 4.0 * j, 0.0] for i in range(5) for j in range(5)])
    px = opencv_px(view.camera, corners)
    inside = ((px > 3) & (px < SIDE - 3)).all(axis=1)
    plane = sketch.targets[..., 3]
    at = np.floor(px[inside]).astype(int)
    assert inside.sum() >= 20
    assert plane[at[:, 1], at[:, 0]].min() > 180
    y, x = np.mgrid[0:SIDE, 0:SIDE] + 0.5
    away = np.ones((SIDE, SIDE), bool)
    for p in px:
        away &= np.hypot(x - p[0], y - p[1]) > 5
    assert plane[away].max() < 10


def test_curves_have_no_junctions_but_at_their_ends():
    t = np.linspace(0.0, np.pi / 2, 7, dtype=np.float32)[:, None]
    arc = 8 * np.hstack([np.cos(t), np.sin(t)])
    quarter = np.vstack([arc, [[0, 0]]]).astype(np.float32)
    rest = np.vstack([arc[::-1], [[12, 0], [12, 12], [0, 12]]]).astype(np.float32)
    outline = np.array([[0, 0], [12, 0], [12, 12], [0, 12]], np.float32)
    top = PiecedTop((quarter, rest), np.array([0, 1], np.int32), outline)
    seen = outlines(top, looked_at(top).camera, None, SIDE, 10)
    corners = seen.xy[seen.turn > 15.0]
    expected = {(0, 0), (8, 0), (12, 0), (12, 12), (0, 12), (0, 8)}
    assert {(round(float(x)), round(float(y))) for x, y in corners} == expected


@pytest.mark.parametrize("seed", range(10))
def test_plane_and_labels_agree(seed):
    _, top, sketch = drawn(seed, Ingredients(objects=False, floors=False), side=320)
    seen = outlines(top, *_of(seed, top), 320, 3000)
    checked = 0
    for place, patch in enumerate(seen.patches):
        mask = (sketch.labels == 1 + place).astype(np.uint8)
        mask[0] = mask[-1] = mask[:, 0] = mask[:, -1] = 0
        depth = cv2.distanceTransform(mask, cv2.DIST_L2, 5)
        if depth.max() < 8:
            continue
        row, col = np.unravel_index(int(depth.argmax()), depth.shape)
        grid = (np.array([col, row]) + 0.5) / 640 * (GRID - 1)
        x0, y0 = np.minimum(grid.astype(int), GRID - 2)
        fx, fy = grid - (x0, y0)
        cell = sketch.plane[y0 : y0 + 2, x0 : x0 + 2].astype(float)
        weight = np.outer([1 - fy, fy], [1 - fx, fx])[..., None]
        xy = (cell * weight).sum(axis=(0, 1))
        ring = top.rings[patch].reshape(-1, 1, 2)
        assert cv2.pointPolygonTest(ring, (float(xy[0]), float(xy[1])), False) > 0
        checked += 1
    assert checked > 0


def _of(seed, top):
    view = views.draw_view(
        np.random.default_rng(seed), top, 320, Ingredients(objects=False, floors=False)
    )
    return view.camera, view.bumps


# --- what lies under, on and beside the cloth -------------------------------------------------


def test_allowances_lie_on_one_side_a_quarter_inch_wide():
    # Seam allowance of 1/4 in: seamwalk.trade.SEAM_ALLOWANCE_IN.
    top = checkers(1, 2, side_in=9.0, fabrics=2)
    view = looked_at(top, px_per_in=40.0)
    only = Ingredients(lines=False, floors=False, objects=False, curves=False)
    sided = 0
    for seed in range(12):
        sketch = views.sketch_of(np.random.default_rng(seed), top, view, only, 4, 1)
        strip = sketch.relief[128, 100:156] > 0
        left, right = strip[:28].sum(), strip[28:].sum()
        assert 8 <= left + right <= 28
        sided += (left <= 1) != (right <= 1)
    # About 85 % of tops are pressed to a side (SETTINGS of view_relief), the rest open.
    assert 7 <= sided <= 12


def test_things_hide_seams_and_are_no_cloth():
    found = 0
    for seed in range(14):
        _, _, sketch = drawn(seed, side=192)
        kind = sketch.cloth[sketch.labels.astype(int), COLUMN.kind]
        share = [(kind == k).reshape(192, 2, 192, 2).mean(axis=(1, 3)) * 255 for k in (1, 2)]
        assert np.abs(sketch.targets[..., 1] - share[0]).max() < 1.5
        assert np.abs(sketch.targets[..., 2] - share[1]).max() < 1.5
        under = sketch.targets[..., 2] == 255
        assert not sketch.targets[under, 0].any()
        assert not sketch.relief[under].any()
        found += under.any()
    assert found >= 4


def test_same_seed_same_sketch():
    for seed in (3, 8):
        first, second = (
            views.sketch(np.random.default_rng(seed), 128, Ingredients(), 30, 5) for _ in range(2)
        )
        for name in ("labels", "relief", "grooves", "shade", "targets", "plane", "cloth", "light"):
            np.testing.assert_array_equal(getattr(first, name), getattr(second, name))
    assert not np.array_equal(
        first.labels, views.sketch(np.random.default_rng(9), 128, Ingredients(), 30, 5).labels
    )


def test_many_sketches_keep_the_contract():
    rng = np.random.default_rng(0)
    kinds, seams, lines = set(), 0, 0
    for _ in range(60):
        sketch = views.sketch(rng, 128, Ingredients(), 30, 5)
        assert sketch.labels.shape == (256, 256)
        assert sketch.labels.dtype == np.uint16
        assert sketch.targets.shape == (128, 128, len(TARGETS))
        assert sketch.plane.shape == (GRID, GRID, 2)
        assert sketch.cloth.shape[1] == ROW
        assert sketch.cloth.shape[0] <= MOST_ROWS
        assert sketch.light.shape == (64,)
        for name in ("relief", "grooves", "shade", "targets"):
            assert getattr(sketch, name).dtype == np.uint8
        for name in ("plane", "cloth", "light"):
            assert getattr(sketch, name).dtype == np.float32
            assert np.isfinite(getattr(sketch, name)).all()
        assert sketch.labels.max() < len(sketch.cloth)
        swatch = sketch.cloth[:, COLUMN.swatch]
        assert swatch.min() >= 0
        assert swatch.max() < 35
        kinds |= set(sketch.cloth[:, COLUMN.kind])
        seams += sketch.targets[..., 0].any()
        lines += sketch.grooves.any()
    assert kinds == {0.0, 1.0, 2.0}
    # A few pictures may lie within one patch or beside the top.
    assert seams >= 54
    assert 15 <= lines <= 50


# --- ingredients ------------------------------------------------------------------------------


def test_relief_lines_and_objects_can_be_left_out():
    ridges = 0
    for seed in range(8):
        ridges += drawn(seed, side=128)[2].relief.any()
        assert not drawn(seed, Ingredients(relief=False), side=128)[2].relief.any()
        assert not drawn(seed, Ingredients(lines=False), side=128)[2].grooves.any()
        bare = drawn(seed, Ingredients(objects=False), side=128)[2]
        assert not bare.targets[..., 2].any()
        assert not (bare.cloth[:, COLUMN.kind] == 2).any()
    # A close picture may lie within one patch.
    assert ridges >= 5


def test_without_floors_the_floor_is_plain():
    for seed in range(8):
        sketch = drawn(seed, Ingredients(floors=False), side=96)[2]
        floor = sketch.cloth[sketch.cloth[:, COLUMN.kind] == 0]
        assert len(floor) == 1
        assert not floor[0, COLUMN.colour].reshape(3, 4)[:, :3].any()


def test_without_own_print_patches_of_a_fabric_go_on_with_its_print():
    top = checkers(5, 5, fabrics=3)
    distinct = {}
    for own in (True, False):
        ingredients = Ingredients(own_print=own, objects=False, floors=False)
        view = looked_at(top, px_per_in=10.0)
        sketch = views.sketch_of(np.random.default_rng(2), top, view, ingredients, 30, 5)
        rows = sketch.cloth[1:, COLUMN.affine]
        distinct[own] = len(np.unique(rows, axis=0))
    assert distinct == {True: 25, False: 3}


def test_without_curves_straight_seams_stay_straight():
    for seed in range(6):
        view, _, sketch = drawn(seed, Ingredients(curves=False))
        assert view.bumps is None
        assert view.camera.k1 == 0
        node = np.linspace(0, SIDE, GRID)
        px = np.stack(np.meshgrid(node, node), axis=-1).reshape(-1, 2)
        xy = sketch.plane.reshape(-1, 2).astype(float)
        # Reference: OpenCV's homography through all nodes leaves nothing over.
        matrix, _ = cv2.findHomography(px, xy)
        fitted = cv2.perspectiveTransform(px[None], matrix)[0]
        assert np.abs(fitted - xy).max() < 2e-3 * np.abs(xy).max()


# --- memory of the workers --------------------------------------------------------------------


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="an option of glibc")
def test_freed_memory_is_kept():
    # Reference: the kernel's own count of page faults, getrusage(2).
    code = """if True:
        import resource
        import numpy as np
        from seamwalk.training.worker_memory import keep_freed_memory
        def faults():
            before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
            for _ in range(20):
                arrays = [np.ones(3_000_000 + 1000 * k, np.uint8) for k in range(4)]
                del arrays
            return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before
        kept = keep_freed_memory()
        faults()
        assert not kept or faults() < 100
    """
    subprocess.run([sys.executable, "-c", code], check=True)
