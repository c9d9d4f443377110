"""Lens, sensor, tone, compression, and the tiles of noise."""

import io
import math

import cv2
import numpy as np
import pytest
import scipy.fft
from PIL import Image

torch = pytest.importorskip("torch")

from tests.training.plain_sketches import SMALL, packed, print_store, prints  # noqa: E402

from seamwalk.training import camera_effects  # noqa: E402
from seamwalk.training.fabric_store import linear_from_srgb, srgb_from_linear  # noqa: E402
from seamwalk.training.noise import HILLS, PLANES, SIDE, grain, hills  # noqa: E402


def test_block_transform_equals_scipy_dctn():
    planes = np.random.default_rng(7).normal(0, 40, (2, 1, 16, 24))
    matrix = camera_effects.cosines(torch.device("cpu"))
    got = camera_effects.block_dct(torch.from_numpy(planes).float(), matrix)
    blocks = planes.reshape(2, 1, 2, 8, 3, 8)
    want = scipy.fft.dctn(blocks, axes=(3, 5), norm="ortho").reshape(planes.shape)
    assert np.abs(got.numpy() - want).max() < 1e-3
    back = camera_effects.block_dct(got, matrix.T)
    assert np.abs(back.numpy() - planes).max() < 1e-3


@pytest.mark.parametrize("quality", [20, 50, 85, 95])
def test_grey_compression_equals_file_steps_and_scipy(quality):
    # A third of a grey level off: sums of whole levels can lie exactly between two steps.
    grey = prints(9, 1)[0, :80, :80, 0] * 0.9 + 1 / 3
    image = torch.from_numpy(grey).float().expand(1, 3, 80, 80) / 255
    got = camera_effects.compress(image, packed(quality=quality))[0, 0].numpy() * 255
    # Reference: the steps that OpenCV's JPEG library writes into its files, SciPy's transform.
    _, file = cv2.imencode(".jpg", grey.astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, quality])
    with Image.open(io.BytesIO(file.tobytes())) as opened:
        steps = np.reshape(opened.quantization[0], (8, 1, 8))
    blocks = scipy.fft.dctn(grey.reshape(10, 8, 10, 8) - 128.0, axes=(1, 3), norm="ortho")
    blocks = np.round(blocks / steps) * steps
    want = scipy.fft.idctn(blocks, axes=(1, 3), norm="ortho").reshape(80, 80) + 128
    assert np.abs(got - want.clip(0, 255)).max() < 0.01


def test_compression_harms_more_at_low_quality():
    image = torch.from_numpy(prints(4, 1)[0, :80, :80]).permute(2, 0, 1)[None].float() / 255
    harm = [
        float((camera_effects.compress(image, packed(quality=q)) - image).abs().mean())
        for q in (0, 95, 60, 20)
    ]
    assert harm[0] == 0
    assert 0 < harm[1] < 0.006
    assert harm[1] < harm[2] < harm[3]


def test_halved_colour_blurs_colour_but_not_brightness():
    image = torch.full((1, 3, 80, 80), 0.2)
    image[:, 0, :, 41:] = 0.8
    image[:, 2, :, 41:] = 0.0
    whole = camera_effects.compress(image, packed(quality=98))[0]
    halved = camera_effects.compress(image, packed(quality=98, chroma_halved=1.0))[0]
    luma = torch.tensor((0.299, 0.587, 0.114)).view(3, 1, 1)
    assert float((whole - image[0]).abs().max()) < 0.03
    assert float(((halved - image[0]) * luma).sum(0).abs().max()) < 0.03
    assert float((halved - image[0]).abs().max()) > 0.1


@pytest.mark.parametrize("spread", [0.0, 0.5, 1.0])
@pytest.mark.parametrize(("shot", "read"), [(0.0, 0.01), (0.002, 0.003)])
def test_noise_has_the_stated_sigma(spread, shot, read):
    light = packed(noise_shot=shot, noise_read=read, noise_spread=spread, noise_place=777.0)
    noise = camera_effects.grain_at(print_store().grain, light, 256)
    noisy = camera_effects.add_noise(torch.full((1, 3, 256, 256), 0.4), noise, light)
    assert float(noisy.std()) == pytest.approx(math.sqrt(shot * 0.4 + read**2), rel=0.03)
    assert float(noisy.mean()) == pytest.approx(0.4, abs=read * 0.1)


def test_tiles_are_fixed_even_and_wrap():
    assert grain().shape == (SIDE, SIDE, PLANES)
    assert hills().shape == (2, HILLS, HILLS)
    planes = grain().astype(float)
    assert np.abs(planes.mean((0, 1))).max() < 0.01
    assert np.abs(planes.std((0, 1)) - 1).max() < 0.01
    # Independent grain; the demosaiced planes hang together with their neighbours.
    near = [np.mean(planes[:, 1:, k] * planes[:, :-1, k]) for k in range(7)]
    assert max(np.abs(near[:4])) < 0.02
    assert min(near[4:]) > 0.5
    for tile in (hills()[0], hills()[1]):
        inside = np.abs(np.diff(tile, axis=1)).mean()
        assert np.abs(tile[:, 0] - tile[:, -1]).mean() < 1.3 * inside


def test_camera_with_nothing_to_do_keeps_a_ramp():
    at = torch.linspace(0.1, 0.6, SMALL)
    received = at.view(1, 1, SMALL, 1).expand(1, SMALL, SMALL, 3)
    light = packed(shift_x=5.0, shift_y=11.0)
    noise = camera_effects.grain_at(print_store().grain, light, camera_effects.canvas_side(SMALL))
    got = camera_effects.photograph(received, noise, light)[0, 1, 30]
    assert torch.allclose(got[2:-2], srgb_from_linear(at)[2:-2], atol=1e-3)


def taken(received, **numbers):
    light = packed(**numbers)
    noise = camera_effects.grain_at(
        print_store().grain, light, camera_effects.canvas_side(received.shape[1])
    )
    return linear_from_srgb(camera_effects.photograph(received, noise, light))[0, 0].numpy()


@pytest.mark.parametrize("shrink", [0.4, 0.7])
def test_small_file_loses_detail_but_not_place(shrink):
    rows, columns = np.indices((SMALL, SMALL))
    blob = np.exp(-0.5 * ((rows - 40) ** 2 + (columns - 20) ** 2) / 16)
    stripes = 0.5 + 0.4 * np.cos(columns * 2 * np.pi / 2.5)
    see = [torch.from_numpy(np.repeat(m[None, ..., None], 3, -1)).float() for m in (blob, stripes)]
    got = taken(see[0], shrink=shrink, shift_x=3.0)
    got /= got.sum()
    assert (got * columns).sum() == pytest.approx(20, abs=0.1)
    assert (got * rows).sum() == pytest.approx(40, abs=0.1)
    sharp, soft = (taken(see[1], shrink=f)[8:-8, 8:-8].std() for f in (1.0, shrink))
    assert soft < 0.6 * sharp


def test_blur_and_shake_widen_along_their_axes():
    spot = torch.zeros((1, SMALL, SMALL, 3))
    spot[0, 32, 32] = 0.5

    def spread(**numbers):
        got = taken(spot, **numbers)
        got = (got - got.min()) / (got - got.min()).sum()
        rows, columns = np.indices(got.shape) - 32
        return (got * rows**2).sum(), (got * columns**2).sum()

    down, across = spread(blur_sigma_px=2.0)
    assert down == pytest.approx(across, rel=1e-3)
    # The lens's own variance, the sensor's 0.3² and the box of one pixel, 1/12.
    assert down == pytest.approx(4.0 + 0.09 + 1 / 12, rel=0.03)
    down, across = spread(motion_x_px=6.0)
    assert across == pytest.approx(36 / 12 + 0.09, rel=0.05)
    assert down < 0.3


def test_meter_brings_the_mean_to_its_target():
    received = torch.full((1, 3, SMALL, SMALL), 0.04)
    light = packed(exposure_target=0.2, exposure_share=1.0)
    assert float(camera_effects.expose(received, light).mean()) == pytest.approx(0.2, rel=1e-5)
    light = packed(exposure_target=0.2, exposure_share=0.5)
    assert float(camera_effects.expose(received, light).mean()) == pytest.approx(
        math.sqrt(0.04 * 0.2), rel=1e-5
    )
