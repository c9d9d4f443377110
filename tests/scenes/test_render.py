"""Rendered photos show what the truth says.

Sources: OpenCV's marker detector and projection as general reference library; sRGB decoding as in
IEC 61966-2-1; EXIF 2.3 tags.
"""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps
from shapely import Polygon

from seamwalk.scenes.bumps import bumps
from seamwalk.scenes.camera import framed, looking
from seamwalk.scenes.cards import CardPlace
from seamwalk.scenes.cloth import Cloth, coverage
from seamwalk.scenes.render import Scene, SceneSettings, render, save
from seamwalk.scenes.sampling import photographed

SMALL = SceneSettings(
    columns=2,
    rows=3,
    width_px=900,
    height_px=1200,
    relief=0.0,
    shot_noise=0.0,
    read_noise=0.0,
    falloff=0.0,
    floor="plain",
)


@pytest.fixture(scope="module")
def slanted() -> Scene:
    return render(
        replace(
            SMALL,
            tilt_deg=28.0,
            azimuth_deg=70.0,
            roll_deg=4.0,
            radial=(-0.05, 0.03, -0.005),
            bumps_in=0.3,
        )
    )


def linear(rgb: np.ndarray) -> np.ndarray:
    v = rgb / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def step_at(light: np.ndarray, p: np.ndarray, normal: np.ndarray, d: float) -> float | None:
    """Return how far along `normal` from `p` a step in light lies, pixels; None if too faint.

    By the area under the step, averaged along the edge; no model of the blur is needed.
    """
    along = np.array([-normal[1], normal[0]])
    s, a = np.arange(-d, d + 1e-9, 0.25), np.arange(-3, 3.1, 0.5)
    q = (p + s[:, None, None] * normal + a[None, :, None] * along).astype(np.float32)
    g = cv2.remap(light, q[..., 0], q[..., 1], cv2.INTER_LINEAR).mean(axis=1)
    low, high = g[:4].mean(), g[-4:].mean()
    if abs(high - low) < 0.05:
        return None
    return float(d - np.trapezoid((g - low) / (high - low), s))


def normal_of(q: np.ndarray) -> np.ndarray:
    way = (q[1] - q[0]) / np.hypot(*(q[1] - q[0]))
    return np.array([-way[1], way[0]])


def test_seams_lie_where_the_truth_says(slanted: Scene) -> None:
    light = linear(slanted.photo.rgb).mean(axis=2).astype(np.float32)
    off = []
    for seam in slanted.truth.top.seams:
        a, b = np.array(seam.points[0]), np.array(seam.points[-1])
        if seam.kind == "seam" and np.hypot(*(b - a)) > 1.5:
            q = slanted.truth.px_from_top([(a + b) / 2, (a + b) / 2 + 0.02 * (b - a)])
            found = step_at(light, q[0], normal_of(q), 5.0)
            if found is not None:
                off.append(found)
    assert len(off) > 60
    assert abs(np.mean(off)) < 0.005
    assert np.percentile(np.abs(off), 95) < 0.05


def test_card_frames_lie_where_the_truth_says(slanted: Scene) -> None:
    light = linear(slanted.photo.rgb).mean(axis=2).astype(np.float32)
    camera = slanted.truth.camera
    for card in slanted.truth.cards:
        c, off = card.corners_in, []
        for k in range(4):
            a, b = c[k], c[(k + 1) % 4]
            for t in np.linspace(0.15, 0.85, 15):
                q = camera.px_from_top([a + (b - a) * t, a + (b - a) * (t + 0.01)])
                found = step_at(light, q[0], normal_of(q), 3.5)
                assert found is not None
                off.append(found)
        assert abs(np.mean(off)) < 0.01
        np.testing.assert_allclose(camera.px_from_top(c), card.corners_px, atol=1e-9)


def test_opencv_reads_the_cards_numbers_and_way_up(slanted: Scene) -> None:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    found = cv2.aruco.ArucoDetector(dictionary).detectMarkers(slanted.photo.rgb)
    ids = [int(i) for i in np.reshape(found[1], -1)]
    assert sorted(ids) == [0, 1]
    for i, quad in zip(ids, found[0], strict=True):
        card = next(c for c in slanted.truth.cards if c.id == i)
        # The marker is the middle 8 of 12 cells, and its first corner is the card's upper left.
        middle = card.corners_px.mean(axis=0)
        expected = middle + (card.corners_px - middle) * 8 / 12
        np.testing.assert_allclose(np.reshape(quad, (4, 2)), expected, atol=3.0)


def test_patches_show_one_colour_each(slanted: Scene) -> None:
    """Solid patches, well inside their true outline, have their fabric's colour."""
    colours: dict[str, list[np.ndarray]] = {}
    for patch in slanted.truth.top.patches:
        inner = patch.polygon.buffer(-0.4)
        ring = slanted.truth.px_from_top(np.array(inner.exterior.coords))
        mask = np.zeros(slanted.photo.rgb.shape[:2], np.uint8)
        cv2.fillPoly(mask, [np.round(ring).astype(np.int32)], 1)
        seen = slanted.photo.rgb[mask > 0]
        assert seen.std(axis=0).max() < 1.0
        colours.setdefault(patch.fabric, []).append(seen.mean(axis=0))
    assert len(colours) == 3
    for means in colours.values():
        assert np.ptp(means, axis=0).max() < 1.0


def test_truth_file_is_the_camera_of_the_inches(slanted: Scene, tmp_path: Path) -> None:
    _, path = save(slanted, tmp_path, "slanted")
    data = json.loads(path.read_text())
    truth = slanted.truth
    assert len(data["patches"]) == len(truth.top.patches)
    union = 0.0
    for patch, p in zip(data["patches"], truth.top.patches, strict=True):
        px = truth.px_from_top(patch["outline"])
        np.testing.assert_allclose(patch["outline_px"], px, atol=0.01)
        assert Polygon(patch["outline"]).symmetric_difference(p.polygon).area < 1e-3
        assert patch["fabric"] == p.fabric
        union += Polygon(patch["outline_px"]).area
    # What the patches cover in the picture is what the outline covers.
    corners = np.array(data["top_corners_px"])
    assert union == pytest.approx(Polygon(corners).area, rel=0.01)
    assert len(data["junctions_px"]) == len(truth.top.junctions)
    assert data["size_in"] == pytest.approx([18.5, 27.5], abs=0.2)
    assert {c["id"] for c in data["cards"]} == {0, 1}
    assert data["settings"]["tilt_deg"] == 28.0
    # The camera in the file is enough to draw a point of the floor again.
    c = data["camera"]
    rotation, position = np.array(c["rotation"]), np.array(c["position_in"])
    k = np.array(
        [[c["focal_px"], 0, c["centre_px"][0]], [0, c["focal_px"], c["centre_px"][1]], [0, 0, 1]]
    )
    k1, k2, k3 = c["radial"]
    card = data["cards"][0]
    world = np.column_stack([card["corners"], np.zeros(4)])
    rvec, _ = cv2.Rodrigues(rotation)
    px, _ = cv2.projectPoints(world, rvec, -rotation @ position, k, np.array([k1, k2, 0, 0, k3]))
    np.testing.assert_allclose(px.reshape(-1, 2), card["corners_px"], atol=1e-2)


def test_truth_file_tells_curved_seams() -> None:
    """A unit has a quarter circle of .7 of its side, the design's own; ends are sewn 1/32 in off.

    A border keeps the arcs from running on into the allowance.
    """
    tiny = replace(SMALL, design="drunkards path", border_in=2.0, width_px=300, height_px=400)
    truth = render(tiny).truth
    data = truth.as_json({})
    assert len(data["arcs"]) == 4 * 2 * 3
    for arc in data["arcs"]:
        assert arc["radius"] == pytest.approx(0.7 * 4.5, abs=4 / 32)
        assert arc["along"] == pytest.approx(arc["radius"] * np.pi / 2, abs=1e-4)
    seams = [s for s in truth.top.seams if s.sweep_rad]
    np.testing.assert_allclose(
        data["arcs"][5]["points_px"], truth.px_from_top(seams[5].points), atol=1e-3
    )
    assert render(replace(tiny, design="nine patch")).truth.as_json({})["arcs"] == []


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_photo_file_is_as_a_phone_writes_it(
    slanted: Scene, tmp_path: Path, orientation: int
) -> None:
    path, _ = save(slanted, tmp_path, "phone", orientation=orientation, quality=95)
    with Image.open(path) as picture:
        exif = picture.getexif()
        inner = exif.get_ifd(0x8769)
        upright = np.asarray(ImageOps.exif_transpose(picture))
        stored = picture.size
    assert exif[0x0112] == orientation
    assert inner[0xA405] == 26
    assert (inner[0xA002], inner[0xA003]) == stored
    assert not exif.get_ifd(0x8825)  # no place on Earth
    assert upright.shape == slanted.photo.rgb.shape
    assert np.abs(upright.astype(int) - slanted.photo.rgb).mean() < 2.0


def test_the_same_seed_gives_the_same_picture() -> None:
    tiny = replace(
        SMALL, width_px=300, height_px=400, shot_noise=0.01, relief=1.0, fabrics="prints"
    )
    first, again = render(tiny), render(tiny)
    np.testing.assert_array_equal(first.photo.rgb, again.photo.rgb)
    assert first.truth.as_json({}) == again.truth.as_json({})
    other = render(replace(tiny, seed=1))
    assert not np.array_equal(first.photo.rgb, other.photo.rgb)


def test_bumps_move_the_picture_by_parallax_only() -> None:
    lift = bumps(0.4, np.random.default_rng(3))
    p = np.random.default_rng(1).uniform(0, 60, (400, 2))
    z = lift.height_in(p)
    assert 0 <= z.min() < 0.1
    assert 0.3 < z.max() <= 0.4
    flat = render(replace(SMALL, width_px=300, height_px=400, tilt_deg=35.0))
    bumpy = render(replace(SMALL, width_px=300, height_px=400, tilt_deg=35.0, bumps_in=0.4))
    assert flat.truth.top == bumpy.truth.top
    at = np.array([j.xy for j in flat.truth.top.junctions])
    moved = bumpy.truth.px_from_top(at) - flat.truth.px_from_top(at)
    lifted = bumpy.truth.bumps.height_in(at)
    # Seen from below the bottom edge, what is higher appears farther up the picture.
    assert (moved[lifted > 0.1, 1] < 0).all()
    assert np.corrcoef(lifted, -moved[:, 1])[0, 1] > 0.95


def test_far_away_prints_melt_into_their_mean_light() -> None:
    """A check finer than a photo pixel gives half the light all over: no moiré, no bias."""
    n = 500
    check = (np.indices((n, n)).sum(axis=0) % 2).astype(np.float32)
    rgba = np.dstack([check, check, check, np.ones_like(check)])
    cloth = Cloth(rgba, 25.0, (0.0, 0.0))
    corners = np.array([[1.0, 1.0], [19.0, 1.0], [19.0, 19.0], [1.0, 19.0]])
    camera = framed(
        corners,
        size_px=(256, 256),
        focal=250.0,
        radial=(0.0, 0.0, 0.0),
        rotation=looking(40, 80, 13),
        margin=0.1,
    )
    floor = np.zeros((64, 64, 3), np.float32)
    flat = bumps(0.0, np.random.default_rng(0))
    light = photographed(cloth, floor, camera, flat, (256, 256), floor_deg=0.0)
    inside = np.zeros((256, 256), np.uint8)
    cv2.fillPoly(inside, [np.round(camera.px_from_top(corners)).astype(np.int32)], 1)
    seen = light[inside > 0]
    assert len(seen) > 5000
    assert seen.mean() == pytest.approx(0.5, abs=0.002)
    assert np.abs(seen - 0.5).max() < 0.12


@pytest.mark.parametrize("angle", [0.0, 0.3, 1.1])
def test_coverage_is_the_share_of_the_pixel(angle: float) -> None:
    c, s = np.cos(angle), np.sin(angle)
    square = np.array([[-7.3, -5.2], [7.3, -5.2], [7.3, 5.2], [-7.3, 5.2]])
    ring = square @ np.array([[c, s], [-s, c]]) + [14.6, 13.7]
    share = coverage(ring, (28, 30))
    assert share.sum() == pytest.approx(14.6 * 10.4, rel=2e-3)
    polygon = Polygon(ring)
    for row in range(28):
        for col in range(30):
            pixel = Polygon(
                [
                    (col + dx, row + dy)
                    for dx, dy in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
                ]
            )
            assert share[row, col] == pytest.approx(polygon.intersection(pixel).area, abs=0.13)


@pytest.mark.parametrize("turn", [0.0, 0.4, 1.9])
def test_coverage_of_curved_pieces_adds_up_to_their_area(turn: float) -> None:
    """Quarter circle of radius 40 in a square of 60: areas π r²/4 and the rest (geometry)."""
    at = np.linspace(0, np.pi / 2, 18)
    arc = 40 * np.column_stack([np.cos(at), np.sin(at)])
    quarter = np.concatenate([[[0.0, 0.0]], arc])
    rest = np.concatenate([[[60.0, 0.0], [60.0, 60.0], [0.0, 60.0]], arc[::-1]])
    c, s = np.cos(turn), np.sin(turn)
    whole = np.zeros((180, 180))
    for ring in (quarter, rest):
        placed = ring @ np.array([[c, s], [-s, c]]) + 90.3
        share = coverage(placed, whole.shape)
        assert share.sum() == pytest.approx(Polygon(ring).area, rel=3e-3)
        whole += share
    # Side by side the two leave no gap along the arc.
    x, y = (arc[1:-1] @ np.array([[c, s], [-s, c]]) + 90.3).T
    along = whole[np.round(y).astype(int), np.round(x).astype(int)]
    assert along == pytest.approx(np.ones(len(along)), abs=0.02)


def test_a_plain_square_and_a_raised_card() -> None:
    places = (
        CardPlace(None, side_in=8.0, at=(9.0, 14.0), angle_deg=10.0, above_in=0.0, paper_in=1.0),
        CardPlace(2, side_in=5.98, at="upper right", above_in=0.8, past="end"),
    )
    scene = render(replace(SMALL, cards=places, tilt_deg=10.0))
    plain, raised = scene.truth.cards
    light = linear(scene.photo.rgb).mean(axis=2)
    x, y = np.round(plain.corners_px.mean(axis=0)).astype(int)
    assert light[y, x] == pytest.approx(0.035, abs=0.003)
    assert (raised.id, raised.side_in, raised.above_in) == (2, 5.98, 0.8)
    on_floor = scene.truth.camera.px_from_top(raised.corners_in)

    def side_px(q: np.ndarray) -> float:
        return float(np.hypot(*(q[1] - q[0])))

    assert side_px(raised.corners_px) > 1.01 * side_px(on_floor)
    # Past the upper edge, near the right corner.
    assert raised.corners_in[:, 1].max() < 0
    assert raised.corners_in[:, 0].max() < scene.truth.width_in + 1


def test_a_card_needs_white_paper_round_it() -> None:
    narrow = (CardPlace(0, side_in=6.0, paper_in=0.3),)
    with pytest.raises(ValueError, match="white paper"):
        render(replace(SMALL, cards=narrow))


def test_same_fabric_share_and_seam_that_only_relief_shows() -> None:
    base = replace(SMALL, width_px=300, height_px=400)
    one = render(replace(base, same_fabric=0.4)).truth.top
    fabric = {p.id: p.fabric for p in one.patches}
    same = [
        s
        for s in one.seams
        if s.left is not None and s.right is not None and fabric[s.left] == fabric[s.right]
    ]
    plain = render(base).truth.top
    assert len(same) > 10
    assert len(plain.patches) == len(one.patches)
