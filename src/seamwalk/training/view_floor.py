"""What lies under and round the top: floors, rugs, boards, walls and the edges between them."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training.view_bumps import Bumps
from seamwalk.training.view_camera import Camera
from seamwalk.training.view_fabrics import COLUMN, dyed, plain_row, surface_row
from seamwalk.training.view_raster import SHIFT, fixed

Array = NDArray[np.float64]
Labels = NDArray[np.uint16]


@dataclass(frozen=True, slots=True)
class FloorSettings:
    """How often floors are hard to tell from the top; common practice, no source.

    Attributes
    ----------
    more : float
        Share of pictures with more than one surface round the top.
    alike : float
        Share of pictures whose floor has the colours of one of the top's fabrics.
    white : float
        Share of surfaces as white as sheets and batting.
    """

    more: float = 0.4
    alike: float = 0.07
    white: float = 0.15


SETTINGS = FloorSettings()


def draw_floors(
    rng: np.random.Generator, swatches: int, surfaces: int, *, varied: bool
) -> NDArray[np.float32]:
    """Return the rows (F, ROW) of the floor, first, and of rugs, boards and walls on it.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    swatches, surfaces : int
        Numbers of prints and, after them, of floor surfaces in the renderer's store.
    varied : bool
        False gives one plain floor.
    """
    if not varied or surfaces == 0:
        grey = np.full(3, rng.uniform(0.05, 1.0))
        return plain_row(np.clip(grey + rng.normal(0.0, 0.05, 3), 0, 1), 0)[None]
    count = 1
    if rng.random() < SETTINGS.more:
        count += 1 + int(3 * rng.random() ** 2)
    rows = []
    for _ in range(count):
        scale = float(np.exp(rng.uniform(np.log(5.0), np.log(40.0))))
        chance = rng.random()
        if chance < 0.08:
            rows.append(plain_row(rng.random(3) ** rng.uniform(0.3, 2.0), 0))
        elif chance < 0.2:
            rows.append(surface_row(rng, int(rng.integers(swatches)), 3.0 * scale, 0))
        else:
            rows.append(surface_row(rng, swatches + int(rng.integers(surfaces)), scale, 0))
        if rng.random() < SETTINGS.white:
            tone = np.full((1, 3), rng.uniform(0.8, 1.0)) - rng.uniform(0.0, 0.05) * np.arange(3)
            spread = np.array([rng.uniform(0.01, 0.2)])
            rows[-1][COLUMN.colour] = dyed(tone, spread).reshape(12)
    return np.array(rows, np.float32)


def liken(
    rng: np.random.Generator, floors: NDArray[np.float32], patches: NDArray[np.float32]
) -> None:
    """Give the first of `floors` (F, ROW), in place, the colours of a patch now and then."""
    if len(patches) == 0 or rng.random() > SETTINGS.alike:
        return
    patch = patches[int(rng.integers(len(patches)))]
    floors[0, COLUMN.colour] = patch[COLUMN.colour]
    if rng.random() < 0.6:
        floors[0, COLUMN.swatch] = patch[COLUMN.swatch]
        floors[0, COLUMN.affine] = patch[COLUMN.affine]


def floor_labels(
    rng: np.random.Generator,
    count: int,
    low: Array,
    high: Array,
    camera: Camera,
    bumps: Bumps | None,
    side_px: int,
) -> Labels | None:
    """Return labels (2S, 2S) of the floor's `count` surfaces, or None where there is one only.

    Rugs, tables and beds are boxes round the top, with its corners `low`, `high` (2,) in inches;
    walls and boards are half planes along one of its sides.
    """
    if count < 2:
        return None
    labels = np.zeros((2 * side_px, 2 * side_px), np.uint16)
    middle, half = (low + high) / 2, (high - low) / 2
    reach = 30.0 * float(half.max())
    gauge = np.linspace(-1.0, 1.0, 9)
    for row in range(1, count):
        style = rng.random()
        lean = float(rng.normal(0.0, 0.05)) if rng.random() < 0.7 else float(rng.uniform(0, 1.5))
        if style < 0.5:
            grow = 1.0 + rng.uniform(-0.5, 0.8, 2)
            if style < 0.12:
                # Batting and backing look out all round.
                grow, lean = 1.0 + rng.uniform(0.01, 0.12, 2), 0.2 * lean
            corners = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
            off = rng.normal(0.0, 0.02 if style < 0.12 else 0.2, 2)
            box = np.array(corners, float) * half * grow + off * half
            ring = _split(box)
        else:
            edge = float(half.max()) * float(rng.uniform(0.4, 1.4))
            wide = reach if style < 0.8 else float(np.exp(rng.uniform(0.5, 2.5)))
            near = np.column_stack([gauge * 4.0 * half.max(), np.full(9, edge)])
            ring = np.concatenate([near, near[::-1] + (0.0, wide)])
            lean += float(rng.integers(0, 4)) * np.pi / 2
        c, s = np.cos(lean), np.sin(lean)
        ring = ring @ np.array([[c, s], [-s, c]]) + middle
        px = camera.px_from_cloth(ring, bumps)
        points = fixed(px, 2.0, side_px)
        cv2.fillPoly(labels, [points], row, cv2.LINE_8, SHIFT)
    return labels


def _split(ring: Array, pieces: int = 6) -> Array:
    """Return a closed chain with every side split evenly, so that lens and bumps bend it."""
    t = np.arange(pieces)[None, :, None] / pieces
    after = np.roll(ring, -1, axis=0)
    out: Array = (ring[:, None] + t * (after - ring)[:, None]).reshape(-1, 2)
    return out
