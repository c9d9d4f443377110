"""sRGB code values to linear light and back.

Blur, defocus and resampling mix *light*, while a picture stores gamma-coded numbers: half way
between black and white is code 188, not 128.  Whatever measures an edge to a fraction of a pixel
therefore works on the values given here.

References
----------
IEC 61966-2-1:1999, the sRGB transfer curve; ITU-R BT.709, luminance weights.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

Rgb = NDArray[np.uint8]
Light = NDArray[np.float32]

LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Share of red, green and blue in luminance (ITU-R BT.709)."""

_STEPS = 1 << 14
"""Steps of the table back to sRGB: a step near black is a fifth of a code value."""


@cache
def _decode_table() -> Light:
    v = np.arange(256) / 255.0
    table = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)
    table.setflags(write=False)
    return table


@cache
def _encode_table() -> Rgb:
    x = np.arange(_STEPS + 1) / _STEPS
    v = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    table: Rgb = np.rint(v * 255).astype(np.uint8)
    table.setflags(write=False)
    return table


def linear_from_srgb(codes: Rgb) -> Light:
    """Return linear light in [0, 1], float32, of uint8 sRGB `codes` of any shape."""
    import cv2

    if codes.ndim not in (2, 3) or codes.size == 0:
        return np.asarray(_decode_table()[codes], dtype=np.float32)
    # The library's table look-up is several times faster than indexing.
    light = cv2.LUT(np.ascontiguousarray(codes), _decode_table())
    return np.asarray(light, dtype=np.float32).reshape(codes.shape)


def srgb_from_linear(light: NDArray[np.floating]) -> Rgb:
    """Return uint8 sRGB codes of linear `light` of any shape; out of [0, 1] is clipped."""
    index = np.rint(np.clip(light, 0.0, 1.0) * _STEPS).astype(np.int32)
    codes: Rgb = _encode_table()[index].astype(np.uint8)
    return codes


def luminance(rgb: Rgb) -> Light:
    """Return the linear luminance (H, W) float32 in [0, 1] of an sRGB picture (H, W, 3)."""
    table = _decode_table()
    out: Light = (
        table[rgb[..., 0]] * np.float32(LUMINANCE[0])
        + table[rgb[..., 1]] * np.float32(LUMINANCE[1])
        + table[rgb[..., 2]] * np.float32(LUMINANCE[2])
    )
    return out
