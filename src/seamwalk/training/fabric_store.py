"""Swatches on the renderer's device, each at several sizes, and the tiles of noise beside them.

A store keeps every swatch as bytes at 384, 192, 96, 48, 24 and 12 pixels, in one flat table of
texels, so that a look-up is a single gather whatever swatch and size a pixel needs (mip maps).

References
----------
L. Williams, "Pyramidal parametrics", SIGGRAPH 1983.
"""

import numpy as np
import torch
from numpy.typing import NDArray

from seamwalk.training import noise

SIDE = 384
"""Side of a swatch, pixels."""

SIDES = (384, 192, 96, 48, 24, 12)
"""Sides of the kept sizes."""

STARTS = tuple(sum(side * side for side in SIDES[:level]) for level in range(len(SIDES)))
"""First texel of each size within a swatch."""

TEXELS = sum(side * side for side in SIDES)
"""Texels of one swatch, all sizes together."""

_MOST = 10_000
"""Most swatches: a texel's number must fit 32 bits."""

_AT_ONCE = 64
"""Swatches shrunk in one go, to bound memory."""


def linear_from_srgb(colour: torch.Tensor) -> torch.Tensor:
    """Light of sRGB values 0 to 1 (IEC 61966-2-1)."""
    return torch.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)


def srgb_from_linear(light: torch.Tensor) -> torch.Tensor:
    """SRGB values of light 0 to 1 (IEC 61966-2-1)."""
    curved = 1.055 * light.clamp_min(0.0031308) ** (1 / 2.4) - 0.055
    return torch.where(light <= 0.0031308, 12.92 * light, curved)


class FabricStore:
    """Swatches of one training run.

    Parameters
    ----------
    swatches : (N, 384, 384, 3) uint8
        sRGB, tileable.
    device : torch.device or str

    Raises
    ------
    ValueError
        If there are more than 10,000 swatches: texels are counted in 32 bits.

    Attributes
    ----------
    texels : (N · TEXELS, 4) uint8 tensor
        Red, green, blue and an unused byte; rows of four bytes are gathered faster than three.
    count : int
        N.
    grain : (noise.SIDE², noise.PLANES) float16 tensor
        Tile of noise, a row for each pixel.
    hills : (2, noise.HILLS, noise.HILLS) float32 tensor
        Tile of smooth hills.
    """

    def __init__(self, swatches: NDArray[np.uint8], device: torch.device | str) -> None:
        self.count = len(swatches)
        if self.count > _MOST:
            raise ValueError(f"a store holds {_MOST} swatches, not {self.count}")
        self.grain = torch.from_numpy(noise.grain().copy()).to(device).view(-1, noise.PLANES)
        self.hills = torch.from_numpy(noise.hills().copy()).to(device)
        self.texels = torch.zeros(
            (self.count * TEXELS, 4), dtype=torch.uint8, device=torch.device(device)
        )
        for start in range(0, self.count, _AT_ONCE):
            some = swatches[start : start + _AT_ONCE]
            self.replace(np.arange(start, start + len(some)), some)

    def replace(self, places: NDArray[np.integer], swatches: NDArray[np.uint8]) -> None:
        """Put new swatches in the places of old ones, all in a hundred calls to the card.

        Parameters
        ----------
        places : (n,) int
            0 to N − 1, each once.
        swatches : (n, 384, 384, 3) uint8

        Raises
        ------
        IndexError
            If there is no such place.
        ValueError
            If the swatches are of another shape or kind.
        """
        n = len(places)
        if n and not 0 <= places.min() <= places.max() < self.count:
            raise IndexError(f"the store has {self.count} swatches, not all of {places}")
        if swatches.shape != (n, SIDE, SIDE, 3) or swatches.dtype != np.uint8:
            raise ValueError(f"swatches of shape (N, {SIDE}, {SIDE}, 3) uint8 are needed")
        texels = self.texels.view(self.count, TEXELS, 4)
        where = self._brought(np.array(places, np.int64))
        bytes_ = self._brought(np.array(swatches))
        packed = texels.new_zeros((n, TEXELS, 4))
        packed[:, : SIDE * SIDE, :3] = bytes_.view(n, -1, 3)
        light = linear_from_srgb(bytes_.permute(0, 3, 1, 2).float() / 255)
        for side, first in zip(SIDES[1:], STARTS[1:], strict=True):
            light = torch.nn.functional.avg_pool2d(light, 2)
            shrunk = (srgb_from_linear(light) * 255 + 0.5).to(torch.uint8)
            packed[:, first : first + side * side, :3] = shrunk.permute(0, 2, 3, 1).reshape(
                n, -1, 3
            )
        texels.index_copy_(0, where, packed)

    def _brought(self, numbers: NDArray[np.generic]) -> torch.Tensor:
        here = torch.from_numpy(numbers)
        if self.texels.is_cuda:
            # Unpinned memory would make the caller wait for all work in hand on the card.
            here = here.pin_memory()
        return here.to(self.texels.device, non_blocking=True)
