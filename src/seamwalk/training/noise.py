"""Fixed tiles of noise: every grain, weave and fold in the training pictures is cut from them.

The renderer draws no random numbers; it moves these tiles by the offsets in
:class:`seamwalk.training.light.Light`, so that the same sketch gives the same picture on every
machine. All tiles wrap round.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

SIDE = 512
"""Side of the noise tile, pixels; a power of two so that wrapping is a bit mask."""

PLANES = 8
"""Planes of the noise tile: 0-2 independent grain of red, green, blue; 3 grain common to the
colours; 4-6 grain spread over neighbours as by a demosaicing filter; 7 weave."""

HILLS = 128
"""Side of the tile of smooth hills, cells."""


def _spread(white: NDArray[np.float64], sigma_y: float, sigma_x: float) -> NDArray[np.float64]:
    """White noise blurred with wrap-round by a Gaussian, brought back to mean 0 and σ 1."""
    fy = np.fft.fftfreq(white.shape[-2])[:, None]
    fx = np.fft.rfftfreq(white.shape[-1])[None, :]
    pass_ = np.exp(-2 * np.pi**2 * ((fy * sigma_y) ** 2 + (fx * sigma_x) ** 2))
    soft = np.fft.irfft2(np.fft.rfft2(white) * pass_, s=white.shape[-2:])
    soft -= soft.mean(axis=(-2, -1), keepdims=True)
    spread: NDArray[np.float64] = soft / soft.std(axis=(-2, -1), keepdims=True)
    return spread


@cache
def grain() -> NDArray[np.float16]:
    """Noise of mean 0 and σ 1, always the same.

    Returns
    -------
    (SIDE, SIDE, PLANES) float16
        Wraps round; read-only.
    """
    white = np.random.default_rng(7_640_891).standard_normal((PLANES + 1, SIDE, SIDE))
    planes = np.empty((PLANES, SIDE, SIDE))
    planes[:4] = _spread(white[:4], 0.0, 0.0)
    planes[4:7] = _spread(white[4:7], 0.9, 0.9)
    # Yarns: streaks along both directions of the cloth.
    planes[7] = (_spread(white[7], 0.4, 2.5) + _spread(white[8], 2.5, 0.4)) / np.sqrt(2)
    tile = np.ascontiguousarray(planes.transpose(1, 2, 0)).astype(np.float16)
    tile.setflags(write=False)
    return tile


@cache
def hills() -> NDArray[np.float32]:
    """Smooth hills, two planes of mean 0 and σ 1, one hill about two cells wide.

    Returns
    -------
    (2, HILLS, HILLS) float32
        Wraps round; read-only.
    """
    white = np.random.default_rng(2_905_113).standard_normal((2, HILLS, HILLS))
    tile = _spread(white, 0.8, 0.8).astype(np.float32)
    tile.setflags(write=False)
    return tile
