"""The fitted camera against OpenCV's own projection, and its ± against many draws.

`cv2.projectPoints` is the general reference for pinhole and radial distortion; scenes here are
made with it alone.
"""

import math

import numpy as np
import pytest
from tests.vision.projected import (
    CARDS_AT,
    FOCAL,
    HEIGHT,
    IN_PLANE,
    OUTLINE,
    RGB,
    TOP,
    WIDTH,
    Scene,
    cards,
    grid,
    photo,
    seam_lines,
    worst,
)

from seamwalk.errors import ScaleUncertainError, UsageError
from seamwalk.model.picture import Photo, Reference
from seamwalk.vision.rectify import (
    align,
    corners_on,
    fit_camera,
    parse_corners,
    rectify_by_corners,
    rectify_by_known,
    refine,
)


@pytest.mark.parametrize("tilt", [0, 15, 30, 45])
def test_exact_cards_give_the_exact_plane(tilt):
    scene = Scene(tilt)
    found = fit_camera(photo(), cards(scene), settings=IN_PLANE)
    assert worst(found, scene) < 0.01
    assert found.rms_px < 0.01
    assert found.warnings == ()
    assert found.source == "card"
    assert found.reference_in == 6.0
    assert found.modes


def test_four_cards_are_surer_than_two():
    # Cards at all four corners: more of everything that the fit takes as given.
    scene = Scene(25, radial=(-0.03, 0.01, 0.0))
    places = ((-4.0, 3.0), (52.0, 57.0), (52.0, 3.0), (-4.0, 57.0))
    found = tuple(
        Reference(scene.card(np.array(at), 10 * k), 6.0, "card", k, sigma_px=0.02)
        for k, at in enumerate(places)
    )
    two = fit_camera(photo(), found[:2], settings=IN_PLANE)
    four = fit_camera(photo(), found, settings=IN_PLANE)
    assert worst(four, scene) < 0.03
    ends = scene.px(OUTLINE[[0, 2]])

    def spread(camera):
        length = np.hypot(*np.diff(camera.view.top_from_px(ends), axis=0)[0])
        moved = [np.hypot(*np.diff(m.top_from_px(ends), axis=0)[0]) for m in camera.modes]
        return float(np.sqrt(((np.array(moved) - length) ** 2).sum()))

    assert spread(four) < spread(two)


def test_lens_and_principal_point_are_within_the_plus_minus():
    scene = Scene(25, radial=(0.03, -0.01, 0.0), off=(12, -9), focal=FOCAL * 1.02)
    found = fit_camera(photo(), cards(scene))
    px = scene.px(OUTLINE)
    length = [
        float(np.hypot(*(v.top_from_px(px)[2] - v.top_from_px(px)[0])))
        for v in (found.view, *found.modes)
    ]
    sigma = math.sqrt(sum((v - length[0]) ** 2 for v in length[1:]))
    assert 0.05 < sigma < 0.5
    assert abs(length[0] - math.hypot(*TOP)) < 3 * sigma


def test_frame_is_inches_not_mirrored_x_right_in_the_picture():
    scene = Scene(20)
    found = fit_camera(photo(), cards(scene))
    middle = np.array([(WIDTH - 1) / 2, (HEIGHT - 1) / 2])
    a, b, c = found.view.top_from_px([middle, middle + [30, 0], middle + [0, 30]])
    right, down = b - a, c - a
    assert right[0] > 0
    assert abs(right[1]) < 1e-6
    assert down[1] > 0
    first = found.view.top_from_px(cards(scene)[0].corners_px).mean(axis=0)
    assert np.abs(first).max() < 0.05


@pytest.mark.parametrize(("count", "tilt"), [(2, 0), (2, 35), (1, 30)])
def test_plus_minus_covers_what_it_promises(count, tilt):
    rng = np.random.default_rng(11)
    z = []
    for _ in range(6):
        true_focal = FOCAL * math.exp(rng.normal(0, 0.03))
        scene = Scene(tilt, radial=tuple(rng.normal(0, (0.02, 0.01, 0.005))), focal=true_focal)
        side = 6.0 + rng.normal(0, 1 / 128)
        above = rng.normal(0, 0.1)
        found = fit_camera(photo(), cards(scene, rng, 0.03, count, side=side, above=above))
        px = scene.px(OUTLINE)

        def sizes(view, px=px):
            a, b, c, d = view.top_from_px(px)
            return np.array(
                [np.hypot(*(b - a)), np.hypot(*(c - b)), np.hypot(*(c - a)), np.hypot(*(d - b))]
            )

        best = sizes(found.view)
        sigma = np.sqrt(sum((sizes(m) - best) ** 2 for m in found.modes))
        true = np.array([TOP[0], TOP[1], math.hypot(*TOP), math.hypot(*TOP)])
        z.extend((best - true) / sigma)
    # 24 correlated draws: the 95 % interval must hold most of them and not be idle.
    assert np.mean(np.abs(z) < 1.96) >= 0.85
    assert np.sqrt(np.mean(np.square(z))) > 0.25


def test_a_diagonal_is_as_unsure_as_width_and_height():
    # One side is measured and typed, so a slip scales everything alike (arithmetic).
    scene = Scene(0)
    found = fit_camera(photo(), cards(scene), settings=IN_PLANE)
    px = scene.px(OUTLINE)

    def sizes(view):
        a, b, c, d = view.top_from_px(px)
        return np.array([np.hypot(*(b - a)), np.hypot(*(d - a)), np.hypot(*(c - a))])

    best = sizes(found.view)
    width, height, diagonal = np.sqrt(sum((sizes(m) - best) ** 2 for m in found.modes)) / best
    assert diagonal > 0.85 * max(width, height)
    # 1/128 in on 6 in, as a ruler leaves it: a part of 768, and the height beside it.
    assert 1 / 768 < width < 1 / 500


def test_without_focal_length_the_fit_warns_and_widens():
    scene = Scene(30)
    known = fit_camera(photo(), cards(scene, count=1))
    unknown = fit_camera(photo(None), cards(scene, count=1))
    assert any("does not say which lens" in w for w in unknown.warnings)
    px = scene.px(OUTLINE)

    def spread(found):
        best = found.view.top_from_px(px)
        return math.sqrt(sum(((m.top_from_px(px) - best) ** 2).sum() for m in found.modes))

    assert spread(unknown) > 1.3 * spread(known)


def test_another_lens_than_the_file_says_is_noticed():
    scene = Scene(35)
    found = fit_camera(photo(FOCAL / 2), cards(scene))
    assert any("focal" in w for w in found.warnings)
    assert worst(found, scene) < 0.6


def test_card_on_a_box_is_noticed():
    scene = Scene(30)
    flat, _ = cards(scene)
    raised = Reference(scene.card(np.array(CARDS_AT[1]), 90, above=9.0), 6.0, "card", 1, 0.02)
    found = fit_camera(photo(), (flat, raised))
    assert any("one flat plane" in w for w in found.warnings)


def test_steep_view_and_single_card_are_warned_about():
    scene = Scene(56)
    found = fit_camera(photo(), cards(scene, count=1))
    assert any("very flat" in w for w in found.warnings)
    assert any("Only one thing" in w for w in found.warnings)


@pytest.mark.parametrize("tilt", [28, 30])
def test_a_start_that_only_creeps_is_no_second_pose(tilt):
    # The wrong one of the two poses leads to the right one, after some 200 evaluations.
    scene = Scene(tilt)
    card = Reference(scene.card(np.array(CARDS_AT[0])), 6.0, "card", 0, sigma_px=0.05)
    found = fit_camera(photo(), (card,))
    assert not any("leaned" in warning for warning in found.warnings)


def test_no_reference_is_refused():
    with pytest.raises(ScaleUncertainError):
        fit_camera(photo(), ())


def test_warnings_of_the_references_are_kept():
    scene = Scene(10)
    a, b = cards(scene)
    noted = Reference(a.corners_px, 6.0, "card", 0, 0.02, warnings=("Card 3 is left out.",))
    assert "Card 3 is left out." in fit_camera(photo(), (noted, b)).warnings


@pytest.mark.parametrize("tilt", [0, 30])
def test_seams_tell_what_one_card_cannot(tilt):
    before, after = [], []
    for seed in range(2):
        rng = np.random.default_rng(seed)
        scene = Scene(tilt, radial=(0.04, 0.01, 0.0), focal=FOCAL * 1.02)
        marks = cards(scene, rng, 0.03, 1)
        first = fit_camera(photo(), marks)
        second = refine(first, photo(), marks, seam_lines(scene, rng))
        before.append(worst(first, scene))
        after.append(worst(second, scene))
        assert second.warnings == first.warnings
    assert np.mean(after) < 0.8 * np.mean(before)


def test_seams_do_not_spoil_two_cards():
    scene = Scene(20, radial=(0.04, 0.01, 0.0), focal=FOCAL * 1.02)
    rng = np.random.default_rng(3)
    marks = cards(scene, rng, 0.03)
    second = refine(fit_camera(photo(), marks), photo(), marks, seam_lines(scene, rng))
    # Design's target for width and height with two cards.
    assert worst(second, scene) < 0.125


def test_a_lens_that_phones_would_have_corrected_is_said_and_widens_the_doubt():
    # Radial terms as of a measured wide lens whose picture was not corrected (the size of the
    # larger ones among lensfun's profiles).
    rng = np.random.default_rng(5)
    across = np.array([[0, TOP[1] / 2], [TOP[0], TOP[1] / 2]])

    def doubt(found, scene):
        ends = scene.px(across)
        widths = [
            np.hypot(*np.diff(v.top_from_px(ends), axis=0)[0]) for v in (found.view, *found.modes)
        ]
        return np.linalg.norm(np.subtract(widths[1:], widths[0])), widths[0]

    straight, bent = Scene(20), Scene(20, radial=(-0.33, 0.1, -0.02))
    sigma = {}
    for scene in (straight, bent):
        marks = cards(scene, rng, 0.02)
        found = refine(fit_camera(photo(), marks), photo(), marks, seam_lines(scene, rng))
        said = any("bends straight lines" in w for w in found.warnings)
        assert said is (scene is bent)
        sigma[scene], width = doubt(found, scene)
        assert abs(width - TOP[0]) < 3 * sigma[scene]
    assert sigma[bent] > 1.5 * sigma[straight]


@pytest.mark.parametrize("skew", [0.0, 1.0])
def test_a_crooked_top_is_not_squared_up(skew):
    rng = np.random.default_rng(4)
    scene = Scene(20, radial=(0.02, 0.0, 0.0))
    marks = cards(scene, rng, 0.02)
    found = refine(fit_camera(photo(), marks), photo(), marks, seam_lines(scene, rng, 0.02, skew))
    lean = math.tan(math.radians(skew))
    corner = np.array([[0, 0], [TOP[0], 0], [lean * TOP[1], TOP[1]]])
    a, b, c = found.view.top_from_px(scene.px(corner))
    angle = math.degrees(math.acos((b - a) @ (c - a) / np.hypot(*(b - a)) / np.hypot(*(c - a))))
    # The design's own target: 1° of skew within 0.1° with two cards.
    assert 90 - angle == pytest.approx(skew, abs=0.1)


def test_crooked_lines_do_not_spoil_the_camera():
    rng = np.random.default_rng(6)
    scene = Scene(20)
    marks = cards(scene, rng, 0.03)
    first = fit_camera(photo(), marks)
    t = np.linspace(0, 1, 60)
    curves = [
        scene.px(np.column_stack([48 * t, y + 3 * np.sin(math.pi * t)])) for y in range(5, 55, 5)
    ]
    found = refine(first, photo(), marks, curves)
    assert worst(found, scene) <= worst(first, scene) + 0.02
    mixed = refine(first, photo(), marks, seam_lines(scene, rng) + curves[:3])
    assert worst(mixed, scene) < worst(first, scene) + 0.05


def test_lines_too_short_change_nothing():
    scene = Scene(10)
    marks = cards(scene)
    first = fit_camera(photo(), marks)
    assert refine(first, photo(), marks, [scene.px([[3, 3], [4, 3], [5, 3], [6, 3]])]) is first


def test_refining_keeps_the_frame():
    rng = np.random.default_rng(2)
    scene = Scene(20)
    marks = cards(scene, rng, 0.03)
    first = fit_camera(photo(), marks)
    first = align(first, first.view.top_from_px(scene.px(OUTLINE)))
    second = refine(first, photo(), marks, seam_lines(scene, rng))
    moved = second.view.top_from_px(scene.px(grid())) - first.view.top_from_px(scene.px(grid()))
    assert np.abs(moved).max() < 0.3
    assert np.abs(moved.mean(axis=0)).max() < 0.15


@pytest.mark.parametrize("tilt", [0, 30])
def test_corners_and_size_give_the_camera(tilt):
    scene = Scene(tilt)
    found = rectify_by_corners(photo(), scene.px(OUTLINE), TOP)
    assert found.source == "size"
    assert worst(found, scene) < 0.1
    assert found.modes
    # Seams help here too, though no card is there.
    better = refine(found, photo(), (), seam_lines(scene, np.random.default_rng(0)))
    assert worst(better, scene) < 0.25


@pytest.mark.parametrize("wrong", [0.95, 1.0, 1.06])
@pytest.mark.parametrize("tilt", [25, 40])
def test_a_wrong_size_does_not_turn_the_top_over(tilt, wrong):
    # A tape read wrongly and an unknown lens: no bent lens may be made up that shows the other of
    # the two poses (once, one side came out 25 in too short).
    scene = Scene(tilt)
    scene.t *= 0.9
    width, height = TOP[0] * wrong, TOP[1]
    found = rectify_by_corners(photo(None), scene.px(OUTLINE), (width, height))
    corners = found.view.top_from_px(scene.px(OUTLINE))
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    assert sides == pytest.approx([width, height, width, height], abs=0.1)


def test_corners_in_a_cropped_photo_still_give_a_rectangle():
    # No lens looks so far past the middle of its picture: somebody cut a part of it off.
    scene = Scene(35, off=(-500, 400))
    found = rectify_by_corners(photo(), scene.px(OUTLINE), TOP)
    assert any("cropped" in w for w in found.warnings)
    assert worst(found, scene) < 0.25


@pytest.mark.parametrize("side", ["width", "height"])
def test_one_length_and_a_rectangle_give_the_other(side):
    scene = Scene(30)
    length = TOP[0] if side == "width" else TOP[1]
    found = rectify_by_known(photo(), scene.px(OUTLINE), side, length)
    a, b, c, _ = found.view.top_from_px(scene.px(OUTLINE))
    assert np.hypot(*(b - a)) == pytest.approx(TOP[0], rel=0.02)
    assert np.hypot(*(c - b)) == pytest.approx(TOP[1], rel=0.02)
    assert found.source == "known-length"
    assert any(f"Only the {side} is known" in w for w in found.warnings)


def test_known_length_is_honest_about_the_other_side():
    scene = Scene(30)
    found = rectify_by_known(photo(None), scene.px(OUTLINE), "width", TOP[0])
    px = scene.px(OUTLINE)

    def sides(view):
        a, b, c, _ = view.top_from_px(px)
        return np.array([np.hypot(*(b - a)), np.hypot(*(c - b))])

    best = sides(found.view)
    sigma = np.sqrt(sum((sides(m) - best) ** 2 for m in found.modes))
    assert sigma[1] > 5 * sigma[0]
    assert (np.abs(best - TOP) < 3 * sigma).all()


@pytest.mark.parametrize("turn_deg", [-30.0, -3.0, 0.0, 12.0, 40.0])
def test_align_lays_the_top_along_the_axes_from_the_origin(turn_deg):
    scene = Scene(15)
    found = fit_camera(photo(), cards(scene))
    t = math.radians(turn_deg)
    turn = np.array(
        [[math.cos(t), -math.sin(t), 5.0], [math.sin(t), math.cos(t), -7.0], [0, 0, 1]]
    )
    turned = found.moved(turn)
    px = scene.px(OUTLINE)
    laid = align(turned, turned.view.top_from_px(px))
    corners = laid.view.top_from_px(px)
    assert corners.min(axis=0) == pytest.approx([0, 0], abs=0.02)
    if abs(turn_deg) < 35:
        assert corners == pytest.approx(OUTLINE, abs=0.03)
    for mode in laid.modes:
        assert np.abs(mode.top_from_px(px) - corners).max() < 1.0


def test_align_is_not_led_by_one_crooked_side():
    scene = Scene(0)
    found = fit_camera(photo(), cards(scene))
    outline = np.array([[0, 0], [48, 0], [48, 60], [24, 61.2], [0, 60]])
    laid = align(found, found.view.top_from_px(scene.px(outline)))
    corners = laid.view.top_from_px(scene.px(outline))
    assert abs(corners[1, 1] - corners[0, 1]) < 0.03


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("10,10 900,10 900,900", "3 corners"),
        ("10,10 900,10 900,900 10,900 5,5", "5 corners"),
        ("10,10 900,10 900,900 10;900", "not a list"),
        ("a b c d", "not a list"),
        ("10,10 9000,10 900,900 10,900", "outside the picture"),
        ("10,10 10,900 900,900 900,10", "wrong way"),
        ("10,10 900,900 900,10 10,900", "swapped"),
        ("10,10 500,10 900,10 10,900", "one line"),
        ("10,10 10,10 10,10 10,10", "two are the same"),
        ("900,900 10,900 10,10 900,10", "first corner"),
    ],
)
def test_each_wrong_list_of_corners_is_told_so(text, said):
    with pytest.raises(UsageError, match=said) as caught:
        corners_on(photo(), parse_corners(text))
    assert caught.value.exit_status == 2


def test_corners_are_read_as_written_on_the_files_pixels():
    text = "100,50.5  2000,60 ; 2100,3000  90,2900"
    assert corners_on(photo(), parse_corners(text)) == pytest.approx(
        np.array([[100, 50.5], [2000, 60], [2100, 3000], [90, 2900]])
    )
    halved = Photo(RGB, "x", reduction=2)
    got = corners_on(halved, parse_corners("100,50.5 2000,60 2100,3000 90,2900"))
    assert got[0] == pytest.approx([(100.5) / 2 - 0.5, 51 / 2 - 0.5])
