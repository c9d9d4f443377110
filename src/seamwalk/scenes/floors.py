"""Floors, with lines of their own, as repeating textures in linear light."""

import itertools
from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.scenes.prints import clouds, grain

Texture = NDArray[np.float32]

TILE_IN = 72.0
"""Side of the repeat, inches."""

PX_PER_IN = 24.0
"""Resolution, below the photo's: floors are a little soft, as out of the plane of interest."""

_N = int(TILE_IN * PX_PER_IN)


def plain(rng: np.random.Generator) -> Texture:
    """Return a painted floor, hardly mottled."""
    tone = np.float32(rng.uniform(0.12, 0.4)) * np.array([1.0, 0.97, 0.92], np.float32)
    mottle = 1 + 0.12 * (clouds(_N, 9, rng) - 0.5) + 0.06 * (clouds(_N, 90, rng) - 0.5)
    return _toned(mottle, tone)


def wood(rng: np.random.Generator) -> Texture:
    """Return boards 4 1/2 in wide, ends staggered, with grain and dark joints."""
    board, out = 4.5, np.empty((_N, _N, 3), np.float32)
    tone = np.array([0.34, 0.19, 0.09], np.float32) * np.float32(rng.uniform(0.6, 1.3))
    rows = round(TILE_IN / board)
    edges = np.round(np.linspace(0, _N, rows + 1)).astype(int)
    for y0, y1 in itertools.pairwise(edges):
        ends = np.sort(rng.choice(np.arange(4, 68), 2, replace=False)) * PX_PER_IN
        band = np.empty((y1 - y0, _N), np.float32)
        cuts = [0, *ends.astype(int), _N]
        # The first and the last part are one board that runs over the joint of the repeat.
        shade = rng.uniform(0.8, 1.2, 3)
        shade[2] = shade[0]
        for k in range(3):
            band[:, cuts[k] : cuts[k + 1]] = shade[k]
        fine = grain(band.shape, (y1 - y0, 14), rng)
        coarse = grain(band.shape, (5, 6), rng)
        band *= 0.86 + 0.16 * fine + 0.14 * coarse
        band[:2] *= 0.35
        for x in ends.astype(int):
            band[:, x : x + 2] *= 0.4
        out[y0:y1] = band[..., None] * tone
    return out


def tiles(rng: np.random.Generator) -> Texture:
    """Return square tiles of 12 in with pale joints."""
    side = round(12 * PX_PER_IN)
    n = _N // side
    tone = np.array([0.42, 0.38, 0.33], np.float32) * np.float32(rng.uniform(0.5, 1.2))
    each = np.kron(rng.uniform(0.9, 1.1, (n, n)), np.ones((side, side))).astype(np.float32)
    m = each * (1 + 0.25 * (clouds(_N, 40, rng) - 0.5))
    out = _toned(m, tone)
    line = np.zeros(_N, bool)
    for k in range(n):
        line[k * side : k * side + 5] = True
    joint = np.array([0.55, 0.53, 0.5], np.float32)
    out[line] = joint
    out[:, line] = joint
    return out


def carpet(rng: np.random.Generator) -> Texture:
    """Return loop carpet: coarse grain, softly uneven."""
    tone = np.array([0.2, 0.21, 0.24], np.float32) * np.float32(rng.uniform(0.6, 1.6))
    pad = 8
    loops = np.pad(rng.random((_N, _N), dtype=np.float32), pad, mode="wrap")
    soft = cv2.GaussianBlur(loops, (0, 0), 1.5)[pad:-pad, pad:-pad]
    m = 1 + 2.2 * (soft - 0.5) + 0.3 * (clouds(_N, 12, rng) - 0.5)
    return _toned(np.clip(m, 0.2, 2.0), tone)


def checked(rng: np.random.Generator) -> Texture:
    """Return a floor of light and dark squares, 9 in."""
    side = round(9 * PX_PER_IN)
    n = _N // side
    board = np.kron(np.indices((n, n)).sum(axis=0) % 2, np.ones((side, side))).astype(np.float32)
    dark, light = (
        np.array([0.06, 0.06, 0.07], np.float32),
        np.array([0.55, 0.52, 0.46], np.float32),
    )
    m = 1 + 0.15 * (clouds(_N, 60, rng) - 0.5)
    return _toned(m * (1 - board), dark) + _toned(m * board, light)


def _toned(plane: NDArray[np.float32], tone: NDArray[np.float32]) -> Texture:
    """Return the plane of light in one colour."""
    return np.asarray(plane[..., None] * tone, dtype=np.float32)


FLOORS: dict[str, Callable[[np.random.Generator], Texture]] = {
    "plain": plain,
    "wood": wood,
    "tiles": tiles,
    "carpet": carpet,
    "checked": checked,
}
"""Every floor by its name."""
