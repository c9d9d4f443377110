"""Printed cottons and floors: they repeat, come out the same again, and vary as cloth does."""

from collections.abc import Callable
from itertools import pairwise

import cv2
import numpy as np
import pytest

from seamwalk.training import floor_surfaces, prints
from seamwalk.training.floor_surfaces import floor_surface
from seamwalk.training.print_colours import dye, palette, srgb_from_lch
from seamwalk.training.print_grounds import noise
from seamwalk.training.prints import HARD_KINDS, KINDS, choose, finished, swatch

Surface = Callable[[np.random.Generator, int], np.ndarray]

EVERY = [kind for kind, _ in KINDS + HARD_KINDS + floor_surfaces.SURFACES]


def _lab(rgb: np.ndarray) -> np.ndarray:
    """CIELAB of sRGB colours (N, 3), by OpenCV: a general reference."""
    return cv2.cvtColor(rgb.reshape(1, -1, 3).astype(np.float32) / 255, cv2.COLOR_RGB2LAB)[0]


def _steps(picture: np.ndarray, axis: int) -> np.ndarray:
    """Mean jump from each line to the next along `axis`, the last one across the wrap."""
    p = picture.astype(np.float32)
    return np.abs(np.roll(p, -1, axis) - p).mean(axis=(1 - axis, 2))


@pytest.mark.parametrize("kind", EVERY, ids=lambda kind: kind.__name__)
def test_every_kind_wraps_round(kind: Surface) -> None:
    # The jump across the wrap ranks among the jumps inside: were there a joint, it would be above
    # nearly all. Prints with rules and tiles with grout have strong jumps of their own, at the
    # wrap too, so the largest inside counts, over several swatches.
    worse = 0
    for seed in range(6):
        picture = kind(np.random.default_rng(seed), prints.SIDE)
        assert picture.shape == (384, 384, 3)
        assert picture.dtype == np.uint8
        for axis in (0, 1):
            steps = _steps(picture, axis)
            worse += bool(steps[-1] > 1.15 * steps[:-1].max() + 0.5)
    assert worse <= 1


def test_a_joint_would_be_seen() -> None:
    ramp = np.repeat(np.arange(384) // 2, 384).reshape(384, 384, 1).repeat(3, axis=2)
    steps = _steps(ramp.astype(np.uint8), 0)
    assert steps[-1] > 1.15 * steps[:-1].max() + 0.5


@pytest.mark.parametrize("make", [swatch, floor_surface])
def test_wrap_ranks_among_the_jumps_inside(make: Callable[..., np.ndarray]) -> None:
    # Were the wrap like any other place, its rank would be even between 0 and 1: mean 1/2 with
    # standard deviation 1/sqrt(12 n) = 0.029 for n = 100. Grids begin at the edge, which raises
    # it; a joint in every picture would give nearly 1.
    ranks = []
    for seed in range(50):
        picture = make(np.random.default_rng(seed))
        for axis in (0, 1):
            steps = _steps(picture, axis)
            less, same = (steps[:-1] < steps[-1]).mean(), (steps[:-1] == steps[-1]).mean()
            ranks.append(less + same / 2)
    assert 0.3 < np.mean(ranks) < 0.75


@pytest.mark.parametrize("make", [swatch, floor_surface])
def test_same_seed_same_picture(make: Callable[..., np.ndarray]) -> None:
    first = [make(np.random.default_rng(seed)) for seed in range(12)]
    again = [make(np.random.default_rng(seed)) for seed in range(12)]
    assert all(np.array_equal(a, b) for a, b in zip(first, again, strict=True))
    assert all(p.shape == (384, 384, 3) and p.dtype == np.uint8 for p in first)
    assert not any(np.array_equal(a, b) for a, b in pairwise(first))


def test_swatch_draws_nothing_but_from_its_generator() -> None:
    state = np.random.get_state()  # noqa: NPY002 — looked at, to see that nothing draws from it
    swatch(np.random.default_rng(3))
    after = np.random.get_state()  # noqa: NPY002
    assert np.array_equal(state[1], after[1])
    assert state[2] == after[2]


def test_hard_kinds_come_only_when_asked_for() -> None:
    hard = {kind for kind, _ in HARD_KINDS}
    rng = np.random.default_rng(5)
    drawn = [choose(rng) for _ in range(3000)]
    easy = [choose(rng, hard=False) for _ in range(3000)]
    assert hard <= set(drawn)
    assert {kind for kind, _ in KINDS} == set(easy)
    share = sum(w for _, w in HARD_KINDS) / sum(w for _, w in KINDS + HARD_KINDS)
    seen = np.mean([kind in hard for kind in drawn])
    # Five standard deviations of a binomial share.
    assert abs(seen - share) < 5 * np.sqrt(share * (1 - share) / 3000)


def test_plain_floors_are_plain() -> None:
    for seed in range(20):
        picture = floor_surface(np.random.default_rng(seed), varied=False)
        assert picture.std(axis=(0, 1)).max() < 8


def test_dyes_are_those_of_quilting_cotton() -> None:
    # Shares of whites and creams 20 %, near-blacks 10 %: common practice, no source.
    rng = np.random.default_rng(1)
    lab = _lab(srgb_from_lch(np.array([dye(rng) for _ in range(4000)])))
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    assert 0.18 < np.mean((lab[:, 0] > 85) & (chroma < 17)) < 0.30
    assert 0.08 < np.mean(lab[:, 0] < 23) < 0.20
    hues = np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))[chroma > 20] % 360
    counted = np.histogram(hues, 12, (0, 360))[0] / len(hues)
    assert counted.min() > 0.04
    assert (chroma > 70).mean() > 0.05


@pytest.fixture(scope="module")
def shelf() -> list[np.ndarray]:
    return [swatch(np.random.default_rng(seed)) for seed in range(150)]


def test_mean_colours_of_swatches_cover_lab(shelf: list[np.ndarray]) -> None:
    lab = _lab(np.array([cloth.reshape(-1, 3).mean(axis=0) for cloth in shelf]))
    assert lab[:, 0].std() > 18
    assert lab[:, 1].std() > 10
    assert lab[:, 2].std() > 10
    assert np.ptp(lab[:, 0]) > 75
    # Every quarter of the plane of hues is there.
    far = lab[np.hypot(lab[:, 1], lab[:, 2]) > 12]
    quarters = {(bool(a > 0), bool(b > 0)) for _, a, b in far}
    assert len(quarters) == 4


def test_contrast_runs_from_hardly_seen_to_black_on_white(shelf: list[np.ndarray]) -> None:
    spread = []
    for cloth in shelf:
        small = cv2.resize(cloth, (192, 192))
        lightness = _lab(small)[:, 0]
        spread.append(np.percentile(lightness, 98) - np.percentile(lightness, 2))
    assert np.percentile(spread, 15) < 8
    assert np.percentile(spread, 85) > 40


def test_tonal_inks_stay_near_the_ground() -> None:
    rng = np.random.default_rng(2)
    for _ in range(200):
        colours = palette(rng, 4, tonal=True)
        lab = _lab(np.array([colours.ground, *colours.inks]))
        # The largest step times the widest spread of a print's inks.
        assert np.abs(lab[1:, 0] - lab[0, 0]).max() < 24 * 1.6 + 2


def test_colours_keep_lightness_and_hue() -> None:
    # Only the chroma gives way to the gamut; checked by OpenCV's conversion back.
    rng = np.random.default_rng(4)
    lch = np.column_stack(
        [rng.uniform(5, 95, 300), rng.uniform(0, 130, 300), rng.uniform(0, 360, 300)]
    )
    lab = _lab(srgb_from_lch(lch))
    assert np.abs(lab[:, 0] - lch[:, 0]).max() < 1.5
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    assert (chroma < lch[:, 1] + 2.0).all()
    turn = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) - lch[:, 2]
    off = np.abs((turn + 180) % 360 - 180)[chroma > 15]
    assert off.max() < 6


def test_noise_is_a_torus_of_unit_spread() -> None:
    rng = np.random.default_rng(6)
    for bumps in (2, 3, 7, 40, 192):
        field = np.stack([noise(rng, 384, bumps) for _ in range(12)])
        assert 0.6 < field.std() < 1.4
        inside = np.abs(np.diff(field, axis=1)).mean()
        across = np.abs(field[:, 0] - field[:, -1]).mean()
        assert across < 2.0 * inside


def test_finished_cloth_keeps_its_colour() -> None:
    flat = np.full((384, 384, 3), (120, 90, 60), np.uint8)
    means = [
        finished(np.random.default_rng(s), flat).reshape(-1, 3).mean(axis=0) for s in range(30)
    ]
    # Only fading moves the mean, in about one swatch of eight.
    near = np.abs(np.array(means) - flat[0, 0]).max(axis=1) < 4
    assert near.mean() > 0.7
