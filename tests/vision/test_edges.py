from dataclasses import replace

import numpy as np
import pytest
import shapely
from PIL import Image
from shapely import Polygon
from tests.vision.drawn_tops import assert_tiles, draw, flat, grid, junction_errors

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import Partition, Photo, Rectification, View
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.sewing import SewingSettings
from seamwalk.scenes.tops import make_top
from seamwalk.vision.edges import locate
from seamwalk.vision.edges_profiles import cross
from seamwalk.vision.linear_light import srgb_from_linear
from seamwalk.vision.piecing import trace

PPI = 16.0


def camera(tilt_deg=20.0):
    """Return a camera that leans over a 12 × 9 in top; about 40 px/in."""
    t = np.radians(tilt_deg)
    turn = np.array([[1, 0, 0], [0, np.cos(t), -np.sin(t)], [0, np.sin(t), np.cos(t)]])
    to = np.column_stack([turn[:, 0], turn[:, 1], [0, 0, 30.0]])
    to = to @ np.array([[1, 0, -6], [0, 1, -4.5], [0, 0, 1.0]])
    view = View(Lens(1200.0, (320.0, 240.0), (-0.03, 0.01, 0.0)), np.linalg.inv(to))
    return Rectification(view, (), "card", 6.0, 0.1)


def photograph(
    polygons, light, rectification, *, blur_px=0.8, noise=0.0, many=3, thick_in=0.0, lit=None
):
    """Return a photo of plain patches (light per polygon) on a grey floor, in linear light.

    Cloth of some thickness keeps sky from the floor beside it; with `lit`, a direction, only
    where that points away from the cloth.
    """
    import cv2

    rows, cols = np.mgrid[: 480 * many, : 640 * many]
    px = (np.column_stack([cols.ravel(), rows.ravel()]) + 0.5) / many - 0.5
    at = rectification.view.top_from_px(px)
    out = np.full((len(px), 3), 0.35)
    if thick_in:
        out *= 1 - under_a_wall(shapely.union_all(polygons), at, thick_in, lit)[:, None]
    for p, value in zip(polygons, light, strict=True):
        low, high = np.reshape(p.bounds, (2, 2))
        near = np.flatnonzero(((at >= low) & (at <= high)).all(axis=1))
        out[near[shapely.contains_xy(p, *at[near].T)]] = value
    picture = out.reshape(480 * many, 640 * many, 3).astype(np.float32)
    picture = cv2.resize(picture, (640, 480), interpolation=cv2.INTER_AREA)
    picture = cv2.GaussianBlur(picture, (0, 0), blur_px)
    picture += np.random.default_rng(0).normal(0, noise, picture.shape)
    return Photo(srgb_from_linear(picture), "drawn.png")


def under_a_wall(cloth, at, height, lit):
    """Return how much of the sky a low wall round the cloth hides from each place.

    View factor of a plane element to a wall of infinite length at right angles to it: Siegel and
    Howell, Thermal Radiation Heat Transfer; Howell's catalogue of configuration factors, B-5.
    """
    low, high = np.reshape(cloth.bounds, (2, 2))
    reach = 12 * height
    near = ((at > low - reach) & (at < high + reach)).all(axis=1)
    near &= ~((at > low + 0.2) & (at < high - 0.2)).all(axis=1)
    near = np.flatnonzero(near)
    away = shapely.distance(cloth, shapely.points(at[near]))
    hidden = (1 - away / np.hypot(away, height)) / 2
    if lit is not None:
        middle = np.array(cloth.centroid.coords[0])
        hidden = np.where((at[near] - middle) @ np.array(lit) > 0, hidden, 0.0)
    out = np.zeros(len(at))
    out[near] = hidden
    return out


@pytest.fixture(scope="module")
def chequered():
    """A dark and light chequerboard: gamma would shift its edges by most of a pixel."""
    polygons = grid(3, 4, 3.0, np.random.default_rng(4), 1 / 24)
    light = [(0.03, 0.04, 0.08) if (k // 4 + k) % 2 else (0.8, 0.75, 0.6) for k in range(12)]
    labels, origin = draw(polygons, PPI, jagged_px=0.7)
    top = trace(Partition(labels), flat(labels, PPI, origin), None)
    return polygons, light, top


@pytest.mark.parametrize("blur_px", [0.5, 2.0])
@pytest.mark.parametrize("tilt_deg", [0.0, 25.0])
def test_junctions_are_found_to_a_fraction_of_a_pixel(chequered, blur_px, tilt_deg):
    polygons, light, top = chequered
    rectification = camera(tilt_deg)
    photo = photograph(polygons, light, rectification, blur_px=blur_px, noise=0.005)
    found, _ = locate(photo, rectification, top)
    assert_tiles(found)
    before, after = junction_errors(top, polygons), junction_errors(found, polygons)
    # A quarter of a pixel at 40 px/in; target of the design: 1/16 in.
    assert np.percentile(after, 95) < 0.25 / 40
    assert np.percentile(after, 95) < np.percentile(before, 95) / 3
    assert all(0 < j.sigma_in < 0.05 for j in found.junctions)


def test_light_patches_do_not_read_large(chequered):
    # In gamma-coded values a light square between dark ones grows; in linear light it must not.
    polygons, light, top = chequered
    rectification = camera(0.0)
    found, _ = locate(photograph(polygons, light, rectification, blur_px=2.0), rectification, top)
    bias = []
    for p, value in zip(polygons, light, strict=True):
        mine = next(
            q for q in found.patches if q.polygon.contains(p.representative_point())
        ).polygon
        bias.append((mine.area - p.area) / p.length * (1 if value[0] > 0.5 else -1))
    assert abs(np.mean(bias)) < 0.1 / 40


def outward_px(found, polygons):
    """Return how far outside the true outline the middle of each outer edge lies, pixels."""
    cloth = shapely.union_all(polygons)
    middles = [
        shapely.Point(np.mean(s.points, axis=0)) for s in found.seams if None in (s.left, s.right)
    ]
    return 40 * np.array(
        [cloth.boundary.distance(m) * (1 - 2 * cloth.contains(m)) for m in middles]
    )


DARK, LIGHT = (0.05, 0.11), (0.7, 0.9)


@pytest.mark.parametrize(
    ("light", "thick_in", "most_px", "lit"),
    [
        (DARK, 0.04, 0.35, None),
        (DARK, 0.08, 0.2, (0.6, 0.8)),
        (LIGHT, 0.08, 0.2, None),
    ],
)
def test_the_shade_beside_the_top_hardly_moves_its_outline(light, thick_in, most_px, lit):
    # A millimetre of cloth, and two.  Sought half way, the edges of dark cloth would lie 0.6 and
    # 0.95 px outwards, those of light cloth 0.1 and 0.2 px inwards.
    polygons = grid(3, 4, 3.0, np.random.default_rng(4), 1 / 24)
    labels, origin = draw(polygons, PPI, jagged_px=0.7)
    top = trace(Partition(labels), flat(labels, PPI, origin), None)
    rectification = camera(0.0)
    lights = [(light[(k // 4 + k) % 2],) * 3 for k in range(12)]
    photo = photograph(polygons, lights, rectification, noise=0.004, thick_in=thick_in, lit=lit)
    found, _ = locate(photo, rectification, top)
    assert np.abs(outward_px(found, polygons)).max() < most_px + 0.1
    assert abs(outward_px(found, polygons).mean()) < most_px


def test_without_shade_the_outline_stays(chequered):
    polygons, light, top = chequered
    rectification = camera()
    found, _ = locate(photograph(polygons, light, rectification), rectification, top)
    assert abs(outward_px(found, polygons).mean()) < 0.1


def test_colour_kept_at_half_the_resolution_moves_no_seam(chequered, tmp_path):
    # ITU-T T.871: a JPEG's chroma may be sampled at half the resolution of luma (4:2:0).
    polygons, _, top = chequered
    light = [(0.01, 0.12, 0.02) if (k // 4 + k) % 2 else (0.75, 0.3, 0.4) for k in range(12)]
    rectification = camera()
    drawn = photograph(polygons, light, rectification)
    Image.fromarray(drawn.rgb).save(tmp_path / "photo.jpg", quality=92, subsampling=2)
    kept = Photo(np.asarray(Image.open(tmp_path / "photo.jpg")), "photo.jpg")
    found, _ = locate(kept, rectification, top)
    assert np.percentile(junction_errors(found, polygons), 95) < 0.25 / 40


def test_blur_that_mixed_code_values_is_covered_by_the_stated_sigma(chequered):
    # A smoothing filter of an editor works on code values: common practice, no source.
    import cv2

    polygons, light, top = chequered
    rectification = camera()
    drawn = photograph(polygons, light, rectification, blur_px=0.5)
    soft = Photo(np.asarray(cv2.GaussianBlur(drawn.rgb, (0, 0), 3.0)), "soft.png")
    found, _ = locate(soft, rectification, top)
    errors = junction_errors(found, polygons)
    sigma = np.median([j.sigma_in for j in found.junctions])
    assert (errors <= 2.45 * sigma).mean() >= 0.93  # two coordinates: 95 % lie within 2.45 σ
    sharp, _ = locate(drawn, rectification, top)
    assert sigma > 1.5 * np.median([j.sigma_in for j in sharp.junctions])


def test_seams_without_contrast_stay_where_they_were_traced(chequered):
    polygons, _, top = chequered
    rectification = camera()
    photo = photograph(polygons, [(0.5, 0.5, 0.5)] * 12, rectification, noise=0.01)
    found, _ = locate(photo, rectification, top)
    assert_tiles(found)
    inner = [
        k
        for k, j in enumerate(top.junctions)
        if top.outline.boundary.distance(shapely.Point(j.xy)) > 0.5
    ]
    for k in inner:
        moved = np.hypot(*np.subtract(found.junctions[k].xy, top.junctions[k].xy))
        assert moved < 1 / 16
        assert found.junctions[k].sigma_in > 0.02


def test_a_photo_of_something_else_breaks_nothing(chequered):
    _, _, top = chequered
    noise = np.random.default_rng(1).integers(0, 256, (480, 640, 3)).astype(np.uint8)
    found, _ = locate(Photo(noise, "noise.png"), camera(), top)
    assert_tiles(found)
    moved = [
        np.hypot(*np.subtract(a.xy, b.xy))
        for a, b in zip(found.junctions, top.junctions, strict=True)
    ]
    assert max(moved) <= 0.4


def test_a_top_outside_the_picture_breaks_nothing(chequered):
    _, _, top = chequered
    far = top.mapped(lambda xy: xy + 40.0)
    black = Photo(np.zeros((480, 640, 3), np.uint8), "black.png")
    found, lines = locate(black, camera(), far)
    assert_tiles(found)
    assert lines == ()


def test_seam_lines_lie_on_true_seams(chequered):
    polygons, light, top = chequered
    rectification = camera()
    photo = photograph(polygons, light, rectification)
    _, lines = locate(photo, rectification, top)
    # Two rows and three columns inside, four outer edges.
    assert len(lines) == 9
    seams = shapely.union_all([p.exterior for p in polygons])
    for line in lines:
        at = rectification.view.top_from_px(line.points_px)
        off = shapely.distance(shapely.points(at), seams) * 40
        assert np.median(off) < 0.25
        assert line.sigma_px.shape == (len(line.points_px),)
        assert len(line.seams) >= 3


def test_the_same_picture_twice_gives_the_same_answer(chequered):
    polygons, light, top = chequered
    rectification = camera()
    photo = photograph(polygons, light, rectification)
    assert locate(photo, rectification, top)[0] == locate(photo, rectification, top)[0]


def test_shading_beside_a_seam_does_not_move_it():
    # A pressed seam: both fabrics darken towards it on one side, hue alone tells them apart.
    rectification = camera(0.0)
    halves = [
        Polygon([(0, 0), (6, 0), (6, 9), (0, 9)]),
        Polygon([(6, 0), (12, 0), (12, 9), (6, 9)]),
    ]
    photo = photograph(halves, [(0.6, 0.2, 0.1), (0.2, 0.3, 0.7)], rectification)
    light = np.ones((480, 640), np.float32)
    px = rectification.view.px_from_top([(6.0, 4.5)])[0, 0]
    beside = np.arange(640) - px
    light[:] = 1 - 0.2 * np.exp(-np.abs(beside) / 3) * (beside > -1)
    from seamwalk.vision.linear_light import linear_from_srgb

    shaded = replace(photo, rgb=srgb_from_linear(linear_from_srgb(photo.rgb) * light[..., None]))
    one, two = (
        cross(
            p,
            rectification.view,
            np.array([(6.05, 1.0)]),
            np.array([(6.05, 8.0)]),
            np.array([0.35]),
        )
        for p in (photo, shaded)
    )
    true = 0.05
    assert np.nanmedian(np.abs(np.abs(one.offset) - true)) < 0.1 / 40
    assert np.nanmedian(np.abs(np.abs(two.offset) - true)) < 0.5 / 40


def test_curved_seams_are_located_as_arcs_and_are_no_lines():
    """Quarter circles of radius 2.8 in at 40 px/in: dr = 1.2 dc − 2.4 dh (sagitta formula)."""
    true = make_top(
        "drunkards path", Layout(1, 1, 8.0), sewing=SewingSettings(sigma_in=0.0), seed=2
    )
    polygons = [p.polygon for p in true.patches]
    fabric = {name: k for k, name in enumerate(sorted({p.fabric for p in true.patches}))}
    shades = [(0.05, 0.06, 0.1), (0.7, 0.65, 0.5), (0.3, 0.1, 0.08), (0.85, 0.85, 0.8)]
    light = [shades[fabric[p.fabric]] for p in true.patches]
    labels, origin = draw(polygons, PPI, jagged_px=0.4)
    top = trace(Partition(labels), flat(labels, PPI, origin), None)
    camera_in_use = camera(15.0)
    found, lines = locate(photograph(polygons, light, camera_in_use), camera_in_use, top)
    assert_tiles(found)
    wanted = [s.curve.pieces[0] for s in true.seams if s.sweep_rad]
    arcs = [s for s in found.seams if s.sweep_rad]
    assert len(arcs) == len(wanted) == 4
    for seam in arcs:
        (arc,) = seam.curve.pieces
        near = min(wanted, key=lambda w: np.hypot(*(np.array(w.at(0.5)) - arc.at(0.5))))
        # 1/6 px on each of chord and rise, three σ; the raw edge's own corners are not so sure.
        assert arc.radius == pytest.approx(near.radius, abs=0.05)
        assert np.hypot(*(np.array(arc.centre) - near.centre)) < 0.06
        assert 0 < seam.bow_sigma_in < 0.02
    curved = {s.id for s in arcs}
    assert lines
    assert not any(curved & set(line.seams) for line in lines)
