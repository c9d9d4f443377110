"""Light on ridges, ditches, folds and grooves, and cast shadows."""

import math

import numpy as np
import pytest
import scipy.ndimage

torch = pytest.importorskip("torch")

from tests.training.plain_sketches import (  # noqa: E402
    SMALL,
    cloth_row,
    packed,
    plain_store,
    quarters,
    rendered,
    sketch_of,
)

from seamwalk.training import shading  # noqa: E402
from seamwalk.training.fabric_store import linear_from_srgb  # noqa: E402
from seamwalk.training.light import Light  # noqa: E402


def ridge_sketch(light):
    relief = np.zeros((SMALL, SMALL), np.uint8)
    relief[:, 28:36] = 16
    labels = np.zeros((2 * SMALL, 2 * SMALL))
    return sketch_of(labels, [cloth_row()], light, relief=relief)


@pytest.mark.parametrize(("turn", "bright"), [(math.pi, 28), (0.0, 36)])
def test_ridge_is_bright_towards_the_light(turn, bright):
    light = Light(side_rad=turn, side_tangent=1.0, layer_px=0.5, relief_sigma_px=1.0)
    picture = rendered(ridge_sketch(light), plain_store((128, 128, 128)))[..., 0]
    row = picture[32]
    dark = 64 - bright
    assert row[bright - 1 : bright + 1].mean() > row[10] + 0.03
    assert row[dark - 1 : dark + 1].mean() < row[10] - 0.03
    assert np.abs(picture - picture[:1]).max() < 1e-4


def test_slope_light_follows_lambert():
    # A plane rising 0.3 to the right under a lamp from the left at 45°: n·l / l_z by hand.
    rises = torch.stack((torch.full((1, 9, 9), 0.3), torch.zeros(1, 9, 9)))
    lit = shading.slope_light(rises, packed(side_rad=math.pi, side_tangent=1.0))
    normal = np.array([-0.3, 0, 1]) / math.hypot(0.3, 1)
    want = normal @ np.array([-1, 0, 1])
    assert torch.allclose(lit, torch.tensor(want).float(), atol=1e-5)


def test_ditch_is_a_thin_dark_line_between_rows_of_cloth():
    light = Light(ditch=0.8, ditch_sigma_px=0.7)
    store = plain_store((180, 180, 180))
    rows = [cloth_row() for _ in range(4)]
    picture = rendered(sketch_of(quarters(), rows, light), store)[..., 0]
    across = picture[10]
    assert across[31:33].mean() < across[5] - 0.05
    assert abs(across[26] - across[5]) < 0.005
    floor = [cloth_row(kind=0) for _ in range(4)]
    picture = rendered(sketch_of(quarters(), floor, light), store)[..., 0]
    assert np.ptp(picture) < 1e-4


def test_each_seam_has_one_strength_and_seams_differ():
    labels = torch.zeros((1, 2 * SMALL, 2 * SMALL), dtype=torch.int16)
    for k in range(8):
        labels[:, :, 16 * k :] = 3 * k + 1
    labels[:, SMALL:] += 1
    lines = shading.meetings(labels)[0]
    upper = lines[:30, [8 * k for k in range(1, 8)]] + lines[:30, [8 * k - 1 for k in range(1, 8)]]
    assert float(upper.std(0).max()) < 1e-6
    assert float(upper.min()) >= 0.29
    assert float(upper.max()) <= 1.001
    assert len(np.unique(upper[0].numpy().round(3))) >= 6
    assert float(lines[5, 2:6].max()) == 0


def test_drawn_in_seam_is_a_valley():
    # Light from the left: the slope going down to the right lies in shade, the one beyond is lit.
    light = Light(loft_px=4.0, loft_sigma_px=4.0, side_rad=math.pi)
    rows = [cloth_row() for _ in range(4)]
    picture = rendered(sketch_of(quarters(), rows, light), plain_store((120, 120, 120)))[10, :, 0]
    assert picture[28] < picture[10] - 0.02
    assert picture[36] > picture[10] + 0.02


def test_folds_end_at_the_edge_of_the_top_without_a_rim():
    light = Light(fold_px=8.0, fold_cells=3.0, fold_x=20.0, fold_y=31.0)
    labels = np.zeros((2 * SMALL, 2 * SMALL))
    labels[:, SMALL:] = 1
    rows = [cloth_row(kind=2), cloth_row(kind=1)]
    store = plain_store((120, 120, 120))
    picture = rendered(sketch_of(labels, rows, light), store)[..., 0]
    assert picture[:, 33:].std() > 0.02
    assert np.ptp(picture[:, :31]) < 1e-3
    steps = np.abs(np.diff(picture[:, 32:], axis=1))
    assert steps[:, :4].max() < 2 * steps[:, 4:].max()


def test_gaussian_matrix_equals_scipy():
    signal = np.random.default_rng(2).normal(size=(SMALL, SMALL))
    for sigma in (0.6, 1.7, 4.0):
        blur = shading.gaussian(torch.tensor([sigma]), SMALL)
        got = shading.both_axes(blur, torch.from_numpy(signal).float()[None])[0].numpy()
        want = scipy.ndimage.gaussian_filter(signal, sigma, truncate=8)
        inside = slice(20, -20)
        assert np.abs(got - want)[inside, inside].max() < 1e-5
        assert np.allclose(blur.sum(-1), 1, atol=1e-6)


def test_grooves_darken_and_thread_covers_only_deep_ones():
    grooves = np.zeros((SMALL, SMALL), np.uint8)
    grooves[:, 16] = 255
    grooves[:, 48] = 50
    light = Light(groove_dark=0.3, thread_share=0.9, thread_red=1, thread_green=0, thread_blue=0)
    labels = np.zeros((2 * SMALL, 2 * SMALL))
    sketch = sketch_of(labels, [cloth_row()], light, grooves=grooves)
    picture = rendered(sketch, plain_store((120, 120, 120)))
    assert picture[32, 16, 0] > 1.5 * picture[32, 16, 2]
    assert np.ptp(picture[32, 48]) < 1e-3
    assert picture[32, 48, 0] < picture[32, 32, 0] - 0.01


def test_cast_shadow_darkens_its_place():
    shade = np.full((SMALL, SMALL), 255, np.uint8)
    shade[:, :32] = 0
    labels = np.zeros((2 * SMALL, 2 * SMALL))
    light = Light(shade_depth=0.5, shade_sigma_px=1.0)
    store = plain_store((200, 200, 200))
    picture = rendered(sketch_of(labels, [cloth_row()], light, shade=shade), store)
    light_left = linear_from_srgb(torch.from_numpy(picture[32, [10, 54], 0]))
    assert float(light_left[0] / light_left[1]) == pytest.approx(0.5, abs=0.01)
