"""Light, lens and sensor, step by step.

Sources: sRGB as in IEC 61966-2-1: linear 0.5 is 188, linear 0.0031308 the joint of its two parts.
"""

import cv2
import numpy as np
import pytest

from seamwalk.scenes import degrade


def flat(level: float, shape: tuple[int, int] = (300, 400)) -> np.ndarray:
    return np.full((*shape, 3), level, np.float32)


def test_half_the_light_is_188_in_srgb() -> None:
    assert (degrade.encoded(flat(0.5)) == 188).all()


def test_a_fine_check_looks_like_half_the_light() -> None:
    """Averaging in pixel values instead of light would give 128."""
    check = np.indices((400, 400)).sum(axis=0) % 2
    light = np.repeat(check[..., None], 3, axis=2).astype(np.float32)
    small = cv2.resize(light, (100, 100), interpolation=cv2.INTER_AREA)
    assert (degrade.encoded(small) == 188).all()
    # Blur acts on light as well.
    soft = degrade.encoded(degrade.blur(light, 6.0))[50:-50, 50:-50]
    assert (np.abs(soft.astype(int) - 188) <= 1).all()


def test_encoding_is_the_standards_own_table() -> None:
    # Every 8-bit value decoded by the standard's formula comes back as itself.
    v = np.arange(256) / 255
    linear = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    row = np.repeat(linear[None, :, None], 3, axis=2).astype(np.float32)
    np.testing.assert_array_equal(degrade.encoded(row)[0, :, 0], np.arange(256))


@pytest.mark.parametrize("encoding", ["gamma 1.8", "gamma 2.2", "gamma 2.6", "s-curve"])
def test_other_tone_curves_rise_from_black_to_white(encoding: degrade.Encoding) -> None:
    ramp = np.repeat(np.linspace(0, 1, 500)[None, :, None], 3, axis=2).astype(np.float32)
    out = degrade.encoded(ramp, encoding)[0, :, 0].astype(int)
    assert out[0] == 0
    assert out[-1] == 255
    assert (np.diff(out) >= 0).all()
    assert not np.array_equal(out, degrade.encoded(ramp)[0, :, 0])


def test_noise_has_the_variance_it_says() -> None:
    for level in (0.05, 0.4):
        out = degrade.noise(flat(level), 0.02, 0.004, np.random.default_rng(1))
        assert out.mean() == pytest.approx(level, rel=1e-3)
        assert out.var() == pytest.approx(0.02**2 * level + 0.004**2, rel=0.02)


def test_falloff_is_smooth_and_darkest_away_from_the_light() -> None:
    out = degrade.falloff(flat(1.0), 0.5, 0.0)[..., 0]
    assert out[150, 390] > out[150, 10]
    assert 0.4 < out.min() < out.max() <= 1.0
    assert np.abs(np.diff(out, axis=1)).max() < 0.01


def test_cast_scales_channels() -> None:
    out = degrade.cast(flat(0.5), (1.1, 1.0, 0.8))
    np.testing.assert_allclose(out[0, 0], [0.55, 0.5, 0.4], rtol=1e-6)


def test_sharpening_rims_an_edge_and_leaves_it_in_place() -> None:
    edge = flat(0.2)
    edge[:, 200:] = 0.6
    soft = degrade.blur(edge, 1.0)
    row = degrade.sharpened(soft, 0.8)[150, :, 0]
    assert row.max() > 0.62
    assert row.min() < 0.18
    np.testing.assert_allclose(row + row[::-1], 0.8, atol=1e-5)
    np.testing.assert_allclose(row[[5, -5]], [0.2, 0.6], atol=1e-5)


def test_blur_has_its_standard_deviation() -> None:
    """The second moment of a blurred edge's slope is the blur's variance."""
    edge = flat(0.0)
    edge[:, 200:] = 1.0
    slope = np.diff(degrade.blur(edge, 2.0)[150, :, 0].astype(np.float64))
    x = np.arange(len(slope)) + 0.5
    mean = (slope * x).sum()
    assert mean == pytest.approx(199.5, abs=1e-3)
    assert np.sqrt((slope * (x - mean) ** 2).sum()) == pytest.approx(2.0, rel=0.02)
