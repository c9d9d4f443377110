"""What light, lens and sensor do to a picture: separate steps, all in linear light."""

import math
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

Light = NDArray[np.float32]
Encoding = Literal["srgb", "gamma 1.8", "gamma 2.2", "gamma 2.6", "s-curve"]


def falloff(photo: Light, strength: float, towards_deg: float) -> Light:
    """Return the picture lit from one side, with dark corners.

    Parameters
    ----------
    strength : float
        Share of light lost at the far corner, 0 to 1.
    towards_deg : float
        Direction on the picture from which the light comes, x towards y.
    """
    if strength == 0:
        return photo
    h, w = photo.shape[:2]
    y = np.linspace(-1, 1, h, dtype=np.float32)[:, None]
    x = np.linspace(-1, 1, w, dtype=np.float32)[None, :]
    a = math.radians(towards_deg)
    for r in range(0, h, 256):
        part, yy = photo[r : r + 256], y[r : r + 256]
        side = (math.cos(a) * x + math.sin(a) * yy) / math.sqrt(2)
        gain = 1 - strength * (0.35 * (1 - side) + 0.15 * (x * x + yy * yy))
        cv2.multiply(part, cv2.merge([gain] * 3), dst=part)
    return photo


def cast(photo: Light, gains: tuple[float, float, float]) -> Light:
    """Return the picture under coloured light: each channel times its gain."""
    if gains != (1.0, 1.0, 1.0):
        photo *= np.array(gains, np.float32)
    return photo


def blur(photo: Light, sigma_px: float) -> Light:
    """Return the picture through a soft lens: Gaussian of that standard deviation, pixels."""
    if sigma_px == 0:
        return photo
    return np.asarray(cv2.GaussianBlur(photo, (0, 0), sigma_px), dtype=np.float32)


def sharpened(photo: Light, amount: float, sigma_px: float = 1.5) -> Light:
    """Return the picture sharpened as phones do: what a blur takes away is added `amount` times.

    Edges get a bright and a dark rim; the middle of an edge stays where it is.
    """
    if amount == 0:
        return photo
    soft = cv2.GaussianBlur(photo, (0, 0), sigma_px)
    return np.asarray(cv2.addWeighted(photo, 1 + amount, soft, -amount, 0), dtype=np.float32)


def noise(photo: Light, shot: float, read: float, rng: np.random.Generator) -> Light:
    """Return the picture with shot and read noise.

    Parameters
    ----------
    shot : float
        Standard deviation of shot noise at full light; falls with the root of the light.
    read : float
        Standard deviation of read noise, all over.
    """
    if shot == 0 and read == 0:
        return photo
    for r in range(0, len(photo), 256):
        part = photo[r : r + 256]
        sigma = np.sqrt(np.maximum(part, 0) * np.float32(shot**2) + np.float32(read**2))
        part += sigma * rng.standard_normal(part.shape, dtype=np.float32)
    return photo


def encoded(photo: Light, encoding: Encoding = "srgb") -> NDArray[np.uint8]:
    """Return the picture as 8-bit pixels.

    References
    ----------
    sRGB: IEC 61966-2-1.  The others are tone curves as cameras' pictures have them.
    """
    steps = 8192
    v = np.linspace(0, 1, steps)
    curve = {
        "srgb": lambda x: np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055),
        "gamma 1.8": lambda x: x ** (1 / 1.8),
        "gamma 2.2": lambda x: x ** (1 / 2.2),
        "gamma 2.6": lambda x: x ** (1 / 2.6),
    }
    if encoding == "s-curve":
        base = curve["srgb"](v)
        out = base + 0.12 * np.sin(2 * np.pi * (base - 0.5)) / 2
    else:
        out = curve[encoding](v)
    table = np.clip(np.round(out * 255), 0, 255).astype(np.uint8)
    result = np.empty(photo.shape, np.uint8)
    for r in range(0, len(photo), 256):
        k = np.clip(photo[r : r + 256] * (steps - 1) + 0.5, 0, steps - 1).astype(np.uint16)
        result[r : r + 256] = table[k]
    return result
