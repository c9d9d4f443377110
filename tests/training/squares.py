"""The plainest recipe: tops of squares on a plain floor, for tests of what learns from them."""

import numpy as np
from numpy.typing import NDArray

from seamwalk.training.feed import Recipe
from seamwalk.training.light import Light
from seamwalk.training.sketch import GRID, ROW, Ingredients, Sketch


def squares(
    rng: np.random.Generator, side_px: int, ingredients: Ingredients, prints: int, surfaces: int
) -> Sketch:
    """A top of squares, 16 px wide, that leaves a margin of 16 px; 8 px an inch."""
    half = np.arange(2 * side_px) // 32
    count = side_px // 16
    inside = (half > 0) & (half < count - 1)
    across = np.where(inside, half, 0)
    labels = across[:, None] * (count - 2) + across[None, :]
    labels = np.where(inside[:, None] & inside[None, :], labels - count + 2, 0)
    rows = (count - 2) ** 2 + 1
    cloth = np.zeros((rows, ROW), np.float32)
    cloth[:, 0] = rng.integers(0, prints, rows)
    cloth[0, 0] = prints + rng.integers(0, surfaces)
    cloth[:, 1] = cloth[:, 5] = 40.0
    cloth[:, 7] = cloth[:, 12] = cloth[:, 17] = 1.0
    cloth[1:, 20] = 1.0
    # Pixel centres lie half a pixel inside, so a seam at 16 k lies between two of them.
    at = np.arange(side_px) + 0.5
    seam = np.arange(16, side_px - 15, 16)
    line = np.exp(-0.5 * np.min(np.abs(at[:, None] - seam[None]), axis=1) ** 2)
    on = (at > 15) & (at < side_px - 15)
    upright, level = np.where(on[:, None], line[None], 0), np.where(on[None], line[:, None], 0)
    targets = np.zeros((side_px, side_px, 6), np.uint8)
    targets[:, :, 0] = 255 * np.maximum(upright, level)
    targets[:, :, 1] = 255 * (labels[::2, ::2] > 0)
    targets[:, :, 3] = 255 * upright * level
    targets[:, :, 4:] = 128
    targets[:, :, 4] = np.where(level > upright, 255, np.where(upright > level, 1, 128))
    inches = np.linspace(0, side_px / 8, GRID, dtype=np.float32)
    flat = np.zeros((side_px, side_px), np.uint8)
    return Sketch(
        labels=labels.astype(np.uint16),
        relief=flat,
        grooves=flat,
        shade=flat + 255,
        targets=targets,
        plane=np.stack(np.meshgrid(inches, inches), axis=-1),
        cloth=cloth,
        light=Light().pack(),
    )


def plain(rng: np.random.Generator, ingredients: Ingredients) -> NDArray[np.uint8]:
    """One colour."""
    return np.broadcast_to(rng.integers(20, 236, 3, np.uint8), (384, 384, 3)).copy()


SQUARES = Recipe(squares, plain, plain)
