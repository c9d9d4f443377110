"""Fabrics as they lie: look-ups, sizes, colours, inches."""

import numpy as np
import pytest
import scipy.ndimage

torch = pytest.importorskip("torch")

from tests.training.plain_sketches import (  # noqa: E402
    SMALL,
    cloth_row,
    flat_plane,
    plain_store,
    print_store,
    prints,
    quarters,
    rendered,
    sketch_of,
    srgb,
)

from seamwalk.training import laid_cloth  # noqa: E402
from seamwalk.training.fabric_store import SIDES, STARTS, TEXELS, FabricStore, linear_from_srgb  # noqa: E402
from seamwalk.training.render import batch_of  # noqa: E402
from seamwalk.training.sketch import GRID, ClothRow  # noqa: E402

_ROW = ClothRow()


def test_plain_red_cloth_is_red():
    labels = np.zeros((2 * SMALL, 2 * SMALL))
    picture = rendered(sketch_of(labels, [cloth_row()]), plain_store((200, 10, 30)))
    assert np.abs(picture * 255 - (200, 10, 30)).max() < 0.5


@pytest.mark.parametrize("level", range(len(SIDES)))
def test_sample_equals_scipy_wrapped_linear_interpolation(level):
    swatches = prints()
    store = FabricStore(swatches, "cpu")
    side = SIDES[level]
    kept = store.texels.view(2, TEXELS, 4)[1, STARTS[level] :][: side * side, :3]
    rng = np.random.default_rng(5)
    u, v = rng.uniform(-900, 900, (2, 400)).astype(np.float32)
    got = laid_cloth.sample(
        store,
        torch.ones(400, dtype=torch.int32),
        torch.from_numpy(u),
        torch.from_numpy(v),
        torch.full((400,), level, dtype=torch.int32),
    ).numpy()
    # Reference: scipy.ndimage.map_coordinates, pixel centres at integers, period = side.
    places = np.stack((v, u)).astype(float) * side / 384 - 0.5
    texels = kept.numpy().reshape(side, side, 3).astype(float)
    want = np.stack(
        [
            scipy.ndimage.map_coordinates(texels[..., c], places, order=1, mode="grid-wrap")
            for c in range(3)
        ],
        -1,
    )
    assert np.abs(got * 255 - want).max() < 0.05


def test_print_repeats_after_one_swatch():
    labels = np.zeros((2 * SMALL, 2 * SMALL))
    store = print_store()
    here = rendered(sketch_of(labels, [cloth_row(1, (30, 5, 7, -5, 30, 3))]), store)
    far = rendered(sketch_of(labels, [cloth_row(1, (30, 5, 7 - 768, -5, 30, 3 + 384))]), store)
    assert here.std() > 0.05
    assert np.abs(here - far).max() < 1e-3


def test_laid_print_equals_direct_look_up():
    swatches = prints(3)
    affine = (40.0, 12.0, 100.0, -12.0, 40.0, 50.0)
    width = 4.0  # 41.8 swatch pixels per inch over 128 half pixels: 1.3 each, the finest size
    labels = torch.zeros((1, 2 * SMALL, 2 * SMALL), dtype=torch.int16)
    plane = torch.from_numpy(flat_plane(width))[None]
    rows = torch.from_numpy(cloth_row(1, affine))[None, None]
    laid = laid_cloth.lay(labels, plane, rows, FabricStore(swatches, "cpu"))
    at = (np.arange(2 * SMALL) + 0.5) * width / (2 * SMALL)
    x, y = np.meshgrid(at, at)
    a, b, c, d, e, f = affine
    places = np.stack((d * x + e * y + f, a * x + b * y + c)) - 0.5
    fine = np.stack(
        [
            scipy.ndimage.map_coordinates(
                swatches[1, ..., k].astype(float), places, order=1, mode="grid-wrap"
            )
            for k in range(3)
        ],
        -1,
    )
    light = linear_from_srgb(torch.from_numpy(fine) / 255).numpy()
    want = light.reshape(SMALL, 2, SMALL, 2, 3).mean((1, 3))
    got = laid.light[0].numpy()
    # At log2(1.3) = 0.39, two of the four half pixels may read the next smaller size.
    assert np.abs(srgb(got) - srgb(want)).mean() < 1 / 255
    assert np.abs(srgb(got) - srgb(want)).max() < 4 / 255


def test_fine_print_far_away_is_even():
    checks = np.indices((384, 384)).sum(0) // 2 % 2 * 255
    store = FabricStore(np.repeat(checks[None, ..., None], 3, -1).astype(np.uint8), "cpu")
    labels = np.zeros((2 * SMALL, 2 * SMALL))
    sketch = sketch_of(labels, [cloth_row(0, (80, 3, 0, -3, 80, 0))], width_in=30)
    picture = rendered(sketch, store)
    # Half the light of white: sRGB 0.735 (IEC 61966-2-1).
    assert np.abs(picture - 0.735).max() < 0.02


def test_colour_matrix_and_kinds():
    swap = cloth_row()
    swap[_ROW.colour] = np.float32([0, 0, 1, 0, 0, 1, 0, 0, 1, 0, 0, 0]).ravel()
    brighter = cloth_row()
    brighter[_ROW.colour] = np.float32([1, 0, 0, 0.1, 0, 1, 0, 0.1, 0, 0, 1, 2.0])
    rows = [cloth_row(kind=0), swap, brighter, cloth_row(kind=2)]
    batch = batch_of([sketch_of(quarters(), rows)])
    laid = laid_cloth.lay(batch.labels, batch.plane, batch.cloth, plain_store((51, 102, 153)))
    colours = srgb(laid.light[0])
    assert np.allclose(colours[10, 10], (0.2, 0.4, 0.6), atol=1e-3)
    assert np.allclose(colours[50, 10], (0.6, 0.4, 0.2), atol=1e-3)
    assert np.allclose(colours[10, 50], (0.3, 0.5, 1.0), atol=1e-3)
    assert [float(laid.floor[0, y, x]) for y, x in ((10, 10), (50, 10), (50, 50))] == [1, 0, 0]
    assert [float(laid.cloth[0, y, x]) for y, x in ((10, 10), (50, 10), (50, 50))] == [0, 1, 0]


def test_store_replaces_in_place_and_keeps_light():
    swatches = prints(1)
    store = FabricStore(swatches[[0, 0]], "cpu")
    store.replace(np.array([1]), swatches[[1]])
    assert torch.equal(store.texels, FabricStore(swatches, "cpu").texels)
    levels = store.texels.view(2, TEXELS, 4)[0, :, :3].float() / 255
    means = [
        linear_from_srgb(levels[first : first + side * side]).mean()
        for side, first in zip(SIDES, STARTS, strict=True)
    ]
    assert max(means) - min(means) < 0.003
    with pytest.raises(IndexError):
        store.replace(np.array([0, 2]), swatches)
    store.replace(np.array([1, 0]), swatches[[0, 1]])
    assert torch.equal(store.texels, FabricStore(swatches[::-1], "cpu").texels)
    with pytest.raises(ValueError, match="384"):
        FabricStore(swatches[:, :100], "cpu")


def test_inches_run_from_edge_to_edge_and_follow_curves():
    nodes = np.linspace(0, 1, GRID, dtype=np.float32)
    x, y = np.meshgrid(nodes, nodes)
    plane = np.stack((3 + 50 * x + 4 * x * y, 8 * y - 6 * x * x), -1)
    for row, column in ((0, 0), (1, 0), (1, 1)):
        got = laid_cloth.inches(torch.from_numpy(plane)[None], SMALL, row, column)[0].numpy()
        at_x = (np.arange(SMALL) * 2 + column + 0.5) / (2 * SMALL)
        at_y = (np.arange(SMALL) * 2 + row + 0.5) / (2 * SMALL)
        x, y = np.meshgrid(at_x, at_y)
        want = np.stack((3 + 50 * x + 4 * x * y, 8 * y - 6 * x * x), -1)
        # Keys 1981: cubic convolution reproduces polynomials of second degree inside.
        inside = slice(4, -4)
        assert np.abs(got - want)[inside, inside].max() < 2e-4
        assert np.abs(got - want).max() < 5e-3
