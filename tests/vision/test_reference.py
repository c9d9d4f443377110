"""Cards and squares against pictures drawn from exact geometry.

The bias limit, 0.01 % of the size under blur and tone curves, is the design's own target.
"""

import numpy as np
import pytest
from tests.vision.drawn_cards import (
    area,
    camera_over,
    coded,
    corners_in,
    light_of,
    photo_of,
    through,
)

from seamwalk.errors import ReferenceNotFoundError, ScaleUncertainError
from seamwalk.geometry.projective import apply
from seamwalk.model.picture import Photo
from seamwalk.vision.linear_light import linear_from_srgb, luminance, srgb_from_linear
from seamwalk.vision.reference import find_cards, find_square

SIZE = (430, 430)
MIDDLE = (215.3, 214.6)


def test_srgb_decodes_as_the_standard_says():
    # IEC 61966-2-1: code 188 is half the light; 0 and 255 are the ends.
    codes = np.array([0, 10, 188, 255], dtype=np.uint8)
    light = linear_from_srgb(codes)
    assert light[0] == 0
    assert light[3] == 1
    assert light[1] == pytest.approx(10 / 255 / 12.92, rel=1e-6)
    assert light[2] == pytest.approx(0.5, abs=0.004)


def test_every_code_comes_back():
    codes = np.arange(256, dtype=np.uint8)
    assert (srgb_from_linear(linear_from_srgb(codes)) == codes).all()
    assert luminance(np.full((2, 2, 3), 255, np.uint8)) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    ("tilt", "turn", "blur", "gamma"),
    [
        (0, 2, 0, None),
        (0, 33, 1, None),
        (25, 200, 2, None),
        (35, 75, 3, None),
        (30, 120, 1, 1.8),
        (30, 310, 1, 2.6),
    ],
)
def test_card_size_keeps_to_a_ten_thousandth_under_blur_and_tone_curve(tilt, turn, blur, gamma):
    h = camera_over(36, tilt, turn, MIDDLE)
    light = light_of(h, SIZE, card=2, blur_px=blur)
    (card,) = find_cards(photo_of(light, gamma=gamma))
    true = through(h, corners_in())
    assert card.card_id == 2
    assert card.side_in == 6.0
    assert np.abs(card.corners_px - true).max() < 0.04
    assert abs(np.sqrt(area(card.corners_px) / area(true)) - 1) < 1.1e-4


def test_corners_come_in_the_cards_own_order_whichever_way_it_lies():
    for turn in (0, 90, 180, 270):
        h = camera_over(24, 5, turn + 4, (150, 150))
        (card,) = find_cards(photo_of(light_of(h, (300, 300), samples=3)))
        assert np.abs(card.corners_px - through(h, corners_in())).max() < 0.05


def test_sigma_covers_the_error_in_noise():
    rng = np.random.default_rng(3)
    h = camera_over(20, 30, 50, (110.2, 109.7))
    light = light_of(h, (220, 220), blur_px=1.0, samples=4)
    true = through(h, corners_in())
    errors, sigmas = [], []
    for _ in range(6):
        noisy = light + rng.normal(0, 0.02, light.shape)
        (card,) = find_cards(photo_of(noisy))
        errors.append(card.corners_px - true)
        sigmas.append(card.sigma_px)
    rms = float(np.sqrt(np.mean(np.square(errors))))
    assert rms < 0.1
    assert rms / 2.5 < np.mean(sigmas) < rms * 2.5


def test_two_cards_are_told_apart_and_sorted():
    a = light_of(camera_over(22, 0, 10, (110, 120)), (500, 240), card=3, samples=2)
    b = light_of(camera_over(22, 0, -20, (380, 120)), (500, 240), card=1, samples=2)
    both = np.where(np.arange(500)[None, :] < 250, a, b)
    assert [c.card_id for c in find_cards(photo_of(both))] == [1, 3]


def test_same_number_twice_is_refused():
    a = light_of(camera_over(22, 0, 10, (110, 120)), (500, 240), card=1, samples=2)
    b = light_of(camera_over(22, 0, -20, (380, 120)), (500, 240), card=1, samples=2)
    both = np.where(np.arange(500)[None, :] < 250, a, b)
    with pytest.raises(ScaleUncertainError, match="number 1 is in the photo 2 times"):
        find_cards(photo_of(both))


def test_mirrored_photo_is_named_so():
    light = light_of(camera_over(24, 0, 10, (130, 130)), (260, 260), samples=2)
    with pytest.raises(ReferenceNotFoundError, match="mirrored"):
        find_cards(photo_of(light[:, ::-1]))


def test_no_card_is_named_so():
    blank = Photo(np.full((300, 400, 3), 120, np.uint8), "blank")
    with pytest.raises(ReferenceNotFoundError, match="whole card"):
        find_cards(blank)


def test_card_cut_off_by_the_picture_is_named_so():
    h = camera_over(24, 0, 2, (200, 62))
    # The marker is whole, the frame's upper side is outside.
    assert through(h, corners_in())[:2, 1].max() < 0.0
    with pytest.raises(ReferenceNotFoundError, match="cut off"):
        find_cards(photo_of(light_of(h, (400, 400), samples=3)))


def test_small_card_is_told_to_come_closer():
    h = camera_over(6.4, 0, 0, (130.2, 130.1))
    with pytest.raises(ScaleUncertainError, match="too small") as caught:
        find_cards(photo_of(light_of(h, (260, 260), samples=6)))
    assert "closer" in caught.value.advice


def test_blurred_card_is_named_so():
    h = camera_over(30, 0, 4, (240, 240))
    with pytest.raises(ScaleUncertainError, match="blurred"):
        find_cards(photo_of(light_of(h, (480, 480), blur_px=6.3, samples=2)))
    h = camera_over(30, 0, 4, (240, 240))
    with pytest.raises(ScaleUncertainError, match="blurred"):
        find_cards(photo_of(light_of(h, (480, 480), blur_px=12, samples=2)))


def test_a_card_that_cannot_be_used_is_left_out_and_said():
    a = light_of(camera_over(22, 0, 10, (110, 120)), (500, 240), card=0, samples=2)
    h = camera_over(22, 0, 0, (447, 120))
    b = light_of(h, (500, 240), card=1, samples=2)
    both = np.where(np.arange(500)[None, :] < 250, a, b)
    (card,) = find_cards(photo_of(both))
    assert card.card_id == 0
    assert "cut off" in card.warnings[0]


def test_something_lying_on_the_frame_is_named_so():
    h = camera_over(24, 0, 0, (130, 130))
    light = light_of(h, (260, 260), samples=3)
    at = apply(h, [[0.25, 3.0]])[0]
    light[int(at[1]) - 55 : int(at[1]) + 55, int(at[0]) - 8 : int(at[0]) + 8] = 0.8
    with pytest.raises(ReferenceNotFoundError, match="frame of card 0"):
        find_cards(photo_of(light))


@pytest.mark.parametrize(("ink", "floor"), [(0.03, 0.4), (0.8, 0.2)])
def test_plain_square_is_measured_by_its_edges(ink, floor):
    h = camera_over(14, 20, 30, (120, 120), focal_px=900)
    light = light_of(h, (800, 600), plain=True, ink=ink, floor=floor, blur_px=0.8, samples=4)
    square = find_square(photo_of(light, focal_px=900), 6.0)
    true = through(h, corners_in())
    # Any corner may come first: a plain square has no upper left.
    best = min(np.abs(np.roll(square.corners_px, k, axis=0) - true).max() for k in range(4))
    assert best < 0.15
    assert square.source == "square"
    assert square.sigma_px >= 0.15


def test_two_plain_squares_are_not_guessed_between():
    a = light_of(camera_over(14, 0, 5, (110, 120), focal_px=900), (900, 600), plain=True)
    b = light_of(camera_over(14, 0, 20, (780, 480), focal_px=900), (900, 600), plain=True)
    both = np.where(np.arange(900)[None, :] < 450, a, b)
    with pytest.raises(ScaleUncertainError, match="2 plain squares"):
        find_square(photo_of(both, focal_px=900), 6.0)


def test_patches_of_a_top_are_not_taken_for_the_square():
    rng = np.random.default_rng(5)
    colours = rng.integers(40, 230, (8, 10, 3), dtype=np.uint8)
    top = np.kron(colours, np.ones((60, 60, 1), np.uint8))
    floor = np.full((700, 900, 3), 110, np.uint8)
    floor[110:590, 150:750] = top
    with pytest.raises(ReferenceNotFoundError, match="plain square"):
        find_square(Photo(floor, "top", focal_px=900), 6.0)


def test_an_oblong_is_no_square():
    picture = coded(np.full((600, 800), 0.3))
    picture[60:140, 60:190] = 20
    with pytest.raises(ReferenceNotFoundError, match="plain square"):
        find_square(Photo(picture, "oblong", focal_px=900), 6.0)
