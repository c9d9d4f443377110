"""Floors repeat without a joint and keep their lines at true scale (scale: by design)."""

import numpy as np
import pytest

from seamwalk.scenes.floors import FLOORS, PX_PER_IN, TILE_IN


@pytest.mark.parametrize("name", FLOORS)
def test_floors_are_repeating_light(name: str) -> None:
    floor = FLOORS[name](np.random.default_rng(1))
    n = int(TILE_IN * PX_PER_IN)
    assert floor.shape == (n, n, 3)
    assert floor.dtype == np.float32
    assert floor.min() >= 0
    assert floor.max() < 1.2
    for axis in (0, 1):
        inside = np.abs(np.diff(floor, axis=axis)).mean(axis=tuple({0, 1, 2} - {axis}))
        joint = np.abs(np.take(floor, 0, axis=axis) - np.take(floor, -1, axis=axis)).mean()
        assert joint <= 1.1 * inside.max() + 1e-6


def test_checked_floor_has_nine_inch_squares() -> None:
    floor = FLOORS["checked"](np.random.default_rng(1))[..., 0]
    side = int(9 * PX_PER_IN)
    np.testing.assert_array_equal(floor[side // 2 :: side, side // 2] > 0.3, np.arange(8) % 2 == 1)
