"""More pictures from one sketch: turned over, and clothed anew.

A square has eight ways to lie (the dihedral group of order eight); every one of them is a fair
picture. A sketch used a second time also gets other fabrics and another light, so that only its
geometry returns.
"""

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from seamwalk.training.sketch import ClothRow

WAYS = 8
"""Ways for a square to lie: bit 0 turns left to right, bit 1 top to bottom, bit 2 swaps x and y,
in this order."""

COS, SIN = 4, 5
"""Where cos and sin of the double direction stand in `sketch.TARGETS`."""


def _where(bit: Tensor, turned: Tensor, as_is: Tensor) -> Tensor:
    return torch.where(bit[:, None, None, None], turned, as_is)


def _laid(planes: Tensor, bits: Tensor) -> Tensor:
    planes = _where(bits[0], planes.flip(3), planes)
    planes = _where(bits[1], planes.flip(2), planes)
    return _where(bits[2], planes.transpose(2, 3), planes)


def turned(pictures: Tensor, truth: Tensor, ways: NDArray[np.int64]) -> tuple[Tensor, Tensor]:
    """Return pictures and truth, each picture lying its own way.

    Parameters
    ----------
    pictures : (B, 3, S, S) Tensor
    truth : (B, 6, S, S) float Tensor
        As :func:`seamwalk.training.loss.truth_planes` gives it.
    ways : (B,) int array
        0 to `WAYS` - 1; 0 leaves the picture as it is.

    Returns
    -------
    pictures : (B, 3, S, S) Tensor
    truth : (B, 6, S, S) Tensor
        Directions corrected: a line at angle t lies at -t after a flip, at 90° - t after a swap.
    """
    way = torch.from_numpy(ways.astype(np.int64)).to(pictures.device, non_blocking=True)
    bits = torch.stack([(way >> k) & 1 for k in range(3)]).bool()
    out = _laid(truth, bits)
    flipped = (bits[0] ^ bits[1]).to(out.dtype)
    swapped = bits[2].to(out.dtype)
    signs = torch.ones(len(out), out.shape[1], dtype=out.dtype, device=out.device)
    signs[:, SIN] = 1.0 - 2.0 * flipped
    signs[:, COS] = 1.0 - 2.0 * swapped
    return _laid(pictures, bits), out * signs[:, :, None, None]


def reclothed(cloth: Tensor, shifts: NDArray[np.int64], prints: int, surfaces: int) -> Tensor:
    """Return rows of cloth with other swatches: each number moved on, prints among prints.

    Fabrics that were one stay one; a shift of 0 changes nothing.

    Parameters
    ----------
    cloth : (B, L, ROW) float32 Tensor
        Left as it is.
    shifts : (B, 2) int array
        Moves of prints and of floor surfaces.
    prints, surfaces : int
        How many of each the store holds: prints first, then surfaces.
    """
    out = cloth.clone()
    shift = torch.from_numpy(shifts.astype(np.float32)).to(cloth.device, non_blocking=True)
    number = cloth[:, :, ClothRow().swatch]
    among_prints = torch.remainder(number + shift[:, :1], float(prints))
    among_surfaces = prints + torch.remainder(number - prints + shift[:, 1:], float(surfaces))
    is_print = number < prints
    out[:, :, ClothRow().swatch] = torch.where(is_print, among_prints, among_surfaces)
    return out
