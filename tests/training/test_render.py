"""Whole pictures, and the recipe of their light."""

from dataclasses import replace

import numpy as np
import pytest

torch = pytest.importorskip("torch")

from tests.training.plain_sketches import (  # noqa: E402
    SMALL,
    cloth_row,
    print_store,
    prints,
    quarters,
    rendered,
    sketch_of,
)

from seamwalk.training.fabric_store import FabricStore  # noqa: E402
from seamwalk.training.light import COLUMN, NUMBERS, Light, draw  # noqa: E402
from seamwalk.training.render import batch_of, render  # noqa: E402
from seamwalk.training.sketch import Ingredients  # noqa: E402


def test_light_packs_by_name():
    assert len(COLUMN) <= NUMBERS
    light = draw(np.random.default_rng(1))
    numbers = light.pack()
    assert numbers.shape == (NUMBERS,)
    assert numbers.dtype == np.float32
    for name, column in COLUMN.items():
        assert numbers[column] == np.float32(getattr(light, name))


def test_same_seed_same_light_and_wide_ranges():
    lights = [draw(np.random.default_rng(seed)) for seed in range(300)]
    assert lights[7] == draw(np.random.default_rng(7))
    numbers = np.stack([light.pack() for light in lights])
    assert np.isfinite(numbers).all()
    assert (numbers[:, : len(COLUMN)].std(0) > 0).all()


def busy_sketch(seed, ingredients=None, side=SMALL):
    rng = np.random.default_rng(seed)
    light = draw(rng, ingredients or Ingredients())
    rows = [
        cloth_row(k % 2, (*rng.uniform(-40, 40, 2), 9, *rng.uniform(-40, 40, 2), 5), min(k, 1))
        for k in range(4 + seed % 3)
    ]
    relief = np.zeros((side, side), np.uint8)
    relief[28:36] = 16
    grooves = np.zeros((side, side), np.uint8)
    grooves[:, 20] = 255
    return sketch_of(quarters(side), rows, light, relief=relief, grooves=grooves)


@pytest.mark.parametrize("seed", range(4))
def test_ingredients_leave_out_what_they_say(seed):
    store = print_store()
    bare = np.zeros((SMALL, SMALL), np.uint8)
    for name, field in (("relief", "relief"), ("lines", "grooves")):
        sketch = busy_sketch(seed, Ingredients(**{name: False}))
        without = replace(sketch, **{field: bare})
        assert np.array_equal(rendered(sketch, store), rendered(without, store))
    numbers = draw(np.random.default_rng(seed), Ingredients(sharpness=False))
    still = Light()
    for name in ("quality", "shrink", "noise_shot", "noise_read", "sharpen", "motion_x_px"):
        assert getattr(numbers, name) == getattr(still, name)
    assert numbers.blur_sigma_px == 0.5
    # What is left in is drawn as ever, so that ablations differ in one thing alone.
    whole = draw(np.random.default_rng(seed))
    assert numbers.layer_px == whole.layer_px
    assert numbers.exposure_share == whole.exposure_share


def test_relief_shows_when_it_is_in():
    store = print_store()
    sketch = busy_sketch(1)
    assert sketch.light[COLUMN["layer_px"]] > 0
    without = replace(sketch, relief=np.zeros((SMALL, SMALL), np.uint8))
    assert np.abs(rendered(sketch, store) - rendered(without, store)).max() > 0.01


def test_batch_of_two_equals_two_batches_of_one():
    store = print_store()
    sketches = [busy_sketch(2), busy_sketch(4)]
    both = render(batch_of(sketches), store)
    assert both.shape == (2, 3, SMALL, SMALL)
    assert both.dtype == torch.float32
    assert float(both.min()) >= 0
    assert float(both.max()) <= 1
    for k, sketch in enumerate(sketches):
        alone = render(batch_of([sketch]), store)[0]
        apart = (both[k] - alone).abs()
        # Rounding of a sum may tip a compressed coefficient; hence nearly all, not all.
        assert float(apart.mean()) < 0.5 / 255
        assert float((apart > 2 / 255).float().mean()) < 0.002


def test_a_batch_needs_one_size():
    with pytest.raises(ValueError, match="one size"):
        batch_of([busy_sketch(0), busy_sketch(0, side=128)])
    with pytest.raises(ValueError, match="one size"):
        batch_of([])


@pytest.mark.skipif(not torch.cuda.is_available(), reason="needs a graphics card")
def test_graphics_card_gives_the_same_picture():
    swatches = prints()
    batch = batch_of([busy_sketch(k) for k in range(6)])
    here = render(batch, FabricStore(swatches, "cpu"))
    there = render(batch, FabricStore(swatches, "cuda")).cpu()
    assert float(((here - there).abs() > 2 / 255).float().mean()) < 0.002
