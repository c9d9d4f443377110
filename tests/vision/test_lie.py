"""How flat cloth lies, found again from seams bent by bumps of known height.

Bumps and camera come from the scenes, which share no code with the camera that measures.
"""

from dataclasses import replace

import numpy as np
import pytest

from seamwalk.model.picture import Photo, Reference
from seamwalk.scenes.bumps import bumps
from seamwalk.scenes.camera import focal_px, framed, looking
from seamwalk.scenes.cards import CardPlace, centre_in, outline_in
from seamwalk.vision.camera_fit import FitSettings
from seamwalk.vision.lie import Lie, lie_of, with_cards_beside, with_cards_on_top
from seamwalk.vision.lie_heights import heights_of
from seamwalk.vision.measure_doubt import camera_place
from seamwalk.vision.rectify import fit_camera, refine

SIZE = (4000, 3000)
TOP = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 45.0], [0.0, 45.0]])


def seen(seed, tilt, height):
    """Return the photo's cards, seam lines in it, and the cloth's height, (photo, refs, …)."""
    rng = np.random.default_rng(seed)
    places = [CardPlace(0, at="upper left"), CardPlace(1, at="lower right")]
    at = [centre_in(p, TOP) for p in places]
    focal = focal_px(26.0, *SIZE)
    show = np.concatenate(
        [TOP, *(outline_in(p, a, 0.75) for p, a in zip(places, at, strict=True))]
    )
    camera = framed(
        show,
        size_px=SIZE,
        focal=focal,
        radial=(0.0, 0.0, 0.0),
        rotation=looking(tilt, rng.uniform(0, 360), 0.0),
        margin=0.04,
        centre_px=((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2),
    )
    lift = bumps(height, rng)
    lines = []
    for k in (0, 1):
        across, along = (60, 45) if k == 0 else (45, 60)
        for x in np.arange(3.0, across - 2, 6.0):
            s = np.arange(1.0, along - 1, 0.75)
            joints = np.arange(0, along + 6, 6)
            sewn = np.interp(s, joints, rng.normal(0, 1 / 32, len(joints)))
            p = np.column_stack([x + sewn, s] if k == 0 else [s, x + sewn])
            lines.append(camera.px_from_top(p, lift.height_in(p)) + rng.normal(0, 0.2, p.shape))
    refs = tuple(
        Reference(camera.px_from_top(outline_in(p, a)), 6.0, "card", p.id, 0.01)
        for p, a in zip(places, at, strict=True)
    )
    picture = Photo(np.zeros((4, 4, 3), np.uint8), "scene", focal_px=focal, native=SIZE)
    picture = replace(picture, rgb=np.broadcast_to(np.zeros(3, np.uint8), (*SIZE[::-1], 3)))
    grid = rng.uniform(0, 1, (2000, 2)) * TOP[2]
    return picture, refs, lines, camera, lift, lift.height_in(grid)


def found(seed, tilt, height):
    photo, refs, lines, camera, lift, heights = seen(seed, tilt, height)
    first = fit_camera(photo, refs)
    lie = lie_of(lines, [np.full(len(p), 0.2) for p in lines], first, camera_place(first.view))
    return lie, heights, (photo, refs, lines, camera, lift, first)


@pytest.mark.parametrize("tilt", [10, 30])
def test_bumps_are_found_to_a_third(tilt):
    ratios = []
    for seed in range(6):
        lie, heights, _ = found(seed, tilt, 0.4)
        ratios.append(lie.bump_in / heights.std())
    assert 0.67 < np.median(ratios) < 1.5


@pytest.mark.parametrize("tilt", [10, 30])
def test_a_flat_top_looks_flat(tilt):
    assert np.median([found(seed, tilt, 0.0)[0].bump_in for seed in range(6)]) < 0.03


def test_knowing_the_bumps_takes_most_of_their_bias_off_the_size():
    plain, informed = [], []
    for seed in range(8):
        lie, _, (photo, refs, lines, camera, lift, first) = found(seed, 25, 0.4)
        px = camera.px_from_top(TOP, lift.height_in(TOP))
        rest = with_cards_beside(lie, FitSettings())
        better = refine(first, photo, refs, lines, settings=rest)
        for to, r in ((plain, first), (informed, better)):
            p = r.view.top_from_px(px)
            to.append(np.hypot(*(p[2] - p[0])) - np.hypot(*(TOP[2] - TOP[0])))
    assert np.mean(plain) > 0.15
    assert abs(np.mean(informed)) < np.mean(plain) / 2


def test_without_seams_the_prior_speaks():
    photo, refs, *_ = seen(0, 10, 0.0)
    first = fit_camera(photo, refs)
    lie = lie_of([], [], first, camera_place(first.view))
    # Mean of a half-normal: σ √(2/π).
    assert lie.bump_in == pytest.approx(0.06 * np.sqrt(2 / np.pi), rel=0.1)


def test_cards_on_the_top_ride_on_it():
    lie = Lie(0.1, 0.02)
    beside, on = (f(lie, FitSettings()) for f in (with_cards_beside, with_cards_on_top))
    assert beside.height_in < -0.1
    assert on.height_in == 0.0
    assert on.height_sigma_in == pytest.approx(0.1, rel=0.05)


def test_heights_from_seams_take_half_of_what_bumps_do_to_short_lengths():
    # Sides of 3 in anywhere on the top; the error is that of bumps alone: ends are exact.
    before, after = [], []
    for seed in range(6):
        lie, _, (_photo, _refs, lines, camera, lift, first) = found(seed, 35, 0.4)
        sigmas = [np.full(len(p), 0.2) for p in lines]
        heights = heights_of(lines, sigmas, first, camera_place(first.view), lie)
        rng = np.random.default_rng(seed)
        a = rng.uniform(0, 1, (200, 2)) * (TOP[2] - 5) + 1
        b = a + np.where(rng.random((200, 1)) < 0.5, [[3.0, 0.0]], [[0.0, 3.0]])
        seen_a, seen_b = (
            first.view.top_from_px(camera.px_from_top(p, lift.height_in(p))) for p in (a, b)
        )
        before.append(np.hypot(*(seen_b - seen_a).T) - 3)
        flat_a, flat_b = heights.flattened(seen_a), heights.flattened(seen_b)
        after.append(np.hypot(*(flat_b - flat_a).T) - 3)
        assert heights.left_in < lie.bump_in
    assert np.std(after) < 0.6 * np.std(before)


def test_flat_cloth_is_not_moved_and_crooked_sewing_is_not_straightened():
    # One seam of many sewn 1/4 in crooked: its neighbours don't confirm a bump there.
    lie, _, (_photo, _refs, lines, camera, _lift, first) = found(3, 30, 0.0)
    s = np.arange(1.0, 44.0, 0.75)
    crooked = np.column_stack([33 + 0.25 * np.sin(s / 44 * np.pi * 3), s])
    lines = [*lines, camera.px_from_top(crooked)]
    sigmas = [np.full(len(p), 0.2) for p in lines]
    heights = heights_of(lines, sigmas, first, camera_place(first.view), lie)
    places = np.random.default_rng(0).uniform(0, 1, (500, 2)) * TOP[2]
    assert np.hypot(*(heights.flattened(places) - places).T).max() < 1 / 32


def test_without_bumps_or_seams_nothing_moves():
    photo, refs, _lines, *_ = seen(0, 20, 0.0)
    first = fit_camera(photo, refs)
    none = heights_of([], [], first, camera_place(first.view), Lie(0.1, 0.01))
    assert (none.flattened(TOP) == TOP).all()
    assert none.left_in == 0.1
