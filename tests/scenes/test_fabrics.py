"""Fabrics repeat without a joint, at true scale, in linear light."""

import numpy as np
import pytest

from seamwalk.scenes.fabrics import ROLE_LIGHTNESS, SETS, Fabric, choose, linear_from_lch, swatch
from seamwalk.scenes.prints import DRAWN

COLOURS = ((0.7, 0.6, 0.5), (0.1, 0.2, 0.3), (0.4, 0.05, 0.05), (0.05, 0.3, 0.1))
PX = 40.0


def cut(kind: str, scale_in: float = 0.5, seed: int = 4) -> np.ndarray:
    return swatch(Fabric("cloth", kind, COLOURS, scale_in, seed), PX)


@pytest.mark.parametrize("kind", DRAWN)
def test_left_meets_right_and_top_meets_bottom(kind: str) -> None:
    s = cut(kind)
    for axis in (0, 1):
        inside = np.abs(np.diff(s, axis=axis)).max(axis=axis).mean()
        joint = np.abs(np.take(s, 0, axis=axis) - np.take(s, -1, axis=axis)).mean()
        assert joint <= inside + 1e-6


@pytest.mark.parametrize("kind", DRAWN)
def test_colours_stay_between_ground_and_inks(kind: str) -> None:
    s = cut(kind)
    assert s.dtype == np.float32
    assert (s.min(axis=(0, 1)) >= np.min(COLOURS, axis=0) - 1e-5).all()
    assert (s.max(axis=(0, 1)) <= np.max(COLOURS, axis=0) + 1e-5).all()
    if kind != "solid":
        assert s.std(axis=(0, 1)).max() > 0.01


@pytest.mark.parametrize(
    ("kind", "repeat_in"), [("dots", 0.5), ("geometric", 0.5), ("gingham", 1.0), ("stripe", 1.0)]
)
def test_prints_repeat_at_true_scale(kind: str, repeat_in: float) -> None:
    s = cut(kind)[..., 0]
    step = round(repeat_in * PX)
    np.testing.assert_allclose(s, np.roll(s, step, axis=1), atol=1e-5)
    # And at nothing shorter, along the row where it varies most.
    for shorter in range(2, step - 1):
        assert np.abs(s - np.roll(s, shorter, axis=1)).max() > 0.05


def test_dots_cover_what_geometry_says() -> None:
    """Two dots of radius 0.24 step to a square of one step: 2 π 0.24² of it."""
    s = cut("dots", 1.0)[..., 0]
    share = (COLOURS[0][0] - s.mean()) / (COLOURS[0][0] - COLOURS[1][0])
    assert share == pytest.approx(2 * np.pi * 0.24**2, rel=0.01)


def test_gingham_is_a_quarter_full_and_half_half() -> None:
    s = cut("gingham")[..., 0]
    share = (COLOURS[0][0] - s) / (COLOURS[0][0] - COLOURS[1][0])
    assert share.mean() == pytest.approx(0.5, abs=1e-3)
    assert np.isclose(share, 1, atol=1e-3).mean() == pytest.approx(0.25, abs=0.01)


def test_colour_space_ends_and_hues() -> None:
    """White, black and mid grey (OKLab lightness 0.5 is linear 0.125, its cube)."""
    np.testing.assert_allclose(linear_from_lch(0.5, 0.0, 0.0), 0.125, atol=1e-3)
    r, g, b = linear_from_lch(0.6, 0.12, 25.0)
    assert r > g
    assert r > b
    r, g, b = linear_from_lch(0.6, 0.12, 145.0)
    assert g > r
    assert g > b
    r, g, b = linear_from_lch(0.5, 0.12, 260.0)
    assert b > r
    assert b > g


def luminance(f: Fabric) -> float:
    return float(np.dot(f.colours[0], [0.2126, 0.7152, 0.0722]))


@pytest.mark.parametrize("name", SETS)
def test_roles_read_as_light_and_dark(name: str) -> None:
    for seed in range(10):
        made = choose(sorted(ROLE_LIGHTNESS), name, np.random.default_rng(seed))
        assert luminance(made["dark"]) < luminance(made["medium"]) < luminance(made["light"])
        assert len({f.name for f in made.values()}) == len(made)
        assert {f.kind for f in made.values()} <= set(SETS[name])


def test_low_contrast_brings_fabrics_together() -> None:
    def spread(contrast: float) -> float:
        made = choose(
            sorted(ROLE_LIGHTNESS), "solids", np.random.default_rng(2), contrast=contrast
        )
        return float(np.std([luminance(f) for f in made.values()]))

    assert spread(0.1) < 0.25 * spread(1.0)
