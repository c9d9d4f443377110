"""Fabrics: what is printed on the cloth, as repeating swatches in linear light at true scale."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Colour = tuple[float, float, float]
Kind = Literal["solid", "tonal", "dots", "gingham", "stripe", "floral", "geometric"]
Swatch = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Fabric:
    """One fabric.

    Attributes
    ----------
    name : str
        Patches cut from it carry this name.
    kind : str
        What is on it.
    colours : tuple of (r, g, b)
        Ground first, then inks, linear light 0 to 1.
    scale_in : float
        Size of what is printed: distance of dots, width of a check …, inches.
    seed : int
        For what is drawn at random.
    """

    name: str
    kind: Kind
    colours: tuple[Colour, ...]
    scale_in: float = 0.5
    seed: int = 0


def linear_from_lch(lightness: float, chroma: float, hue_deg: float) -> Colour:
    """Return linear sRGB of a colour in OKLCh, clipped to the gamut.

    Parameters
    ----------
    lightness : float
        0 black to 1 white.
    chroma : float
        0 grey to about 0.3.

    References
    ----------
    Ottosson, A perceptual color space for image processing, 2020 (matrices from memory; a test
    compares white, black and hue order).
    """
    a, b = chroma * np.cos(np.radians(hue_deg)), chroma * np.sin(np.radians(hue_deg))
    lab_to_lms = np.array(
        [
            [1, 0.3963377774, 0.2158037573],
            [1, -0.1055613458, -0.0638541728],
            [1, -0.0894841775, -1.2914855480],
        ]
    )
    lms_to_rgb = np.array(
        [
            [4.0767416621, -3.3077115913, 0.2309699292],
            [-1.2684380046, 2.6097574011, -0.3413193965],
            [-0.0041960863, -0.7034186147, 1.7076147010],
        ]
    )
    rgb = lms_to_rgb @ (lab_to_lms @ np.array([lightness, a, b])) ** 3
    r, g, b_ = np.clip(rgb, 0.004, 0.92)
    return (float(r), float(g), float(b_))


ROLE_LIGHTNESS = {
    "background": 0.93,
    "light": 0.84,
    "medium": 0.62,
    "dark": 0.40,
    "accent": 0.55,
    "border": 0.33,
}
"""Lightness (OKLCh) for each role of a design, so that a design reads; scraps vary freely."""

SETS: dict[str, tuple[Kind, ...]] = {
    "solids": ("solid",),
    "tonals": ("tonal", "solid"),
    "small prints": ("dots", "tonal", "gingham", "solid", "geometric"),
    "prints": ("floral", "dots", "gingham", "stripe", "geometric", "tonal"),
    "florals": ("floral",),
    "stripes": ("stripe", "gingham"),
}
"""Kinds of fabric in each set."""


def choose(
    roles: list[str], fabric_set: str, rng: np.random.Generator, *, contrast: float = 1.0
) -> dict[str, Fabric]:
    """Return a fabric for every role.

    Parameters
    ----------
    roles : list of str
        Roles of the design, in a fixed order.
    fabric_set : str
        A key of `SETS`.
    contrast : float
        1 for roles that stand apart clearly, towards 0 for fabrics that hardly differ.
    """
    kinds = SETS[fabric_set]
    home = float(rng.uniform(0, 360))
    out: dict[str, Fabric] = {}
    for k, role in enumerate(roles):
        scrap = role.startswith("scrap")
        want = float(rng.uniform(0.35, 0.93)) if scrap else ROLE_LIGHTNESS[role]
        light = 0.66 + contrast * (want - 0.66) + float(rng.uniform(-0.02, 0.02))
        hue = home + (float(rng.uniform(0, 360)) if scrap else (0, 150, 35, 200, 80, 240)[k % 6])
        chroma = float(rng.uniform(0.03, 0.13)) * (0.35 if light > 0.88 else 1.0)
        ground = linear_from_lch(light, chroma, hue)
        kind = kinds[int(rng.integers(len(kinds)))]
        step = float(rng.uniform(0.10, 0.22)) * (1 if light < 0.6 else -1)
        inks = (
            linear_from_lch(light + step, chroma + 0.03, hue + float(rng.uniform(-30, 30))),
            linear_from_lch(light + 0.6 * step, 0.12, hue + float(rng.uniform(60, 300))),
            linear_from_lch(light - 0.5 * step, 0.10, hue + 120),
        )
        out[role] = Fabric(
            f"{role} {kind}",
            kind,
            (ground, *inks),
            scale_in=_SCALE_IN[kind] * float(rng.uniform(0.7, 1.4)),
            seed=int(rng.integers(2**31)),
        )
    return out


_SCALE_IN: dict[Kind, float] = {
    "solid": 1.0,
    "tonal": 1.2,
    "dots": 0.45,
    "gingham": 0.25,
    "stripe": 0.3,
    "floral": 0.9,
    "geometric": 0.4,
}


def swatch(fabric: Fabric, px_per_in: float) -> Swatch:
    """Return a repeat of the fabric, (H, W, 3) float32 linear light, at that resolution.

    Left meets right and top meets bottom.
    """
    from seamwalk.scenes.prints import DRAWN

    return DRAWN[fabric.kind](fabric, px_per_in)
