"""Light, camera and file of one training picture, drawn at random from wide ranges.

All that happens to colours between the cloth and the file is named here; the renderer draws
nothing itself. Ranges are log-uniform wherever a quantity spans more than a factor of three: faint
ridges and slight noise are then as common as strong ones.
"""

import math
from dataclasses import astuple, dataclass, fields

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.blur import STEP_WIDTH
from seamwalk.training.noise import HILLS, SIDE
from seamwalk.training.sketch import Ingredients

NUMBERS = 64
"""Numbers in a packed light."""

GRID_PX = 16
"""Side of JPEG's compression grid with halved colour, pixels."""


@dataclass(frozen=True, slots=True)
class Light:
    """How one picture is lit, taken and stored; the defaults leave the cloth's colours alone.

    Lengths ending in `_px` are picture pixels; shares run from 0 to 1; colours are linear light.

    Attributes
    ----------
    side_rad : float
        Direction in the picture that the light comes from, x towards y.
    side_tangent : float
        Horizontal part of the light over its vertical part: large is raking light.
    relief_sigma_px : float
        Softness of ridges and grooves.
    layer_px : float
        Height of one layer of cloth.
    ditch, ditch_sigma_px : float
        Share of light lost in the seam's ditch (negative: a light line) and the ditch's width.
    loft_px, loft_sigma_px : float
        How deep the cloth is drawn in along seams, and how far to both sides: the puff of wadding
        or of tight stitches. Quilting lines draw it in likewise, half their own depth.
    groove_px, groove_dark : float
        Depth of a full quilting line, and the share of light lost in it.
    thread_share, thread_red, thread_green, thread_blue : float
        Cover and colour of quilting thread in a full groove.
    stitch_px, stitch_gap : float
        Length of one stitch, and how much of the thread dips out of sight between stitches.
    fold_px, fold_cells, fold_stretch, fold_turn_rad, fold_x, fold_y, fold_crease : float
        Height of large folds, hills across the picture, their stretch along the second axis,
        direction, place in the tile, and share of sharp creases.
    wrinkle_px, wrinkle_cells : float
        Height of small wrinkles and hills across the picture.
    weave, least_light : float
        Contrast of the cloth's yarns, and the share of light that the blackest cloth gives back.
    shade_sigma_px, shade_depth, shade_blue : float
        Softness of cast shadows, light lost in them, and share of that loss that blue is spared.
    gradient_x, gradient_y : float
        Natural logarithm of the light from one edge of the picture to the other.
    mottle : float
        Contrast of uneven light.
    vignette : float
        Light lost in the corners.
    light_red, light_green, light_blue : float
        Colour of the light after white balance.
    haze, haze_grey : float
        Share and brightness of veiling light.
    hot, hot_x, hot_y, hot_size : float
        Lamp or flash: extra light, centre and radius as shares of the picture.
    exposure_target, exposure_share : float
        Mean light aimed at by the meter, and how far the meter has its way.
    gamma, s_curve, lift, saturation : float
        Tone curve of the camera: exponent and S-shape on sRGB, brightness of black, colour.
    blur_sigma_px, motion_x_px, motion_y_px, aberration : float
        Lens and hand: blur, shake along both axes, and lateral colour error as a scale.
    shrink, shift_x, shift_y : float
        File pixels per picture pixel; below 1 the file was small and has been enlarged. Whole
        pixels from the compression grid.
    sharpen, sharpen_sigma_px : float
        Halo of sharpening, at file pixels.
    noise_shot, noise_read, noise_spread, noise_place : float
        Variance of the noise per unit of light, σ in the dark, share spread by demosaicing, and
        pixel of the noise tile at the upper left.
    quality : float
        JPEG quality; 0 is none.
    chroma_halved : float
        1 where the file keeps colour at half size.
    """

    side_rad: float = 0.0
    side_tangent: float = 1.0
    relief_sigma_px: float = 1.0
    layer_px: float = 0.0
    ditch: float = 0.0
    ditch_sigma_px: float = 0.6
    loft_px: float = 0.0
    loft_sigma_px: float = 4.0
    groove_px: float = 0.0
    groove_dark: float = 0.0
    thread_share: float = 0.0
    thread_red: float = 0.8
    thread_green: float = 0.8
    thread_blue: float = 0.8
    stitch_px: float = 4.0
    stitch_gap: float = 0.0
    fold_px: float = 0.0
    fold_cells: float = 4.0
    fold_stretch: float = 1.0
    fold_turn_rad: float = 0.0
    fold_x: float = 0.0
    fold_y: float = 0.0
    fold_crease: float = 0.0
    wrinkle_px: float = 0.0
    wrinkle_cells: float = 20.0
    weave: float = 0.0
    least_light: float = 0.0
    shade_sigma_px: float = 1.0
    shade_depth: float = 0.6
    shade_blue: float = 0.0
    gradient_x: float = 0.0
    gradient_y: float = 0.0
    mottle: float = 0.0
    vignette: float = 0.0
    light_red: float = 1.0
    light_green: float = 1.0
    light_blue: float = 1.0
    haze: float = 0.0
    haze_grey: float = 0.7
    hot: float = 0.0
    hot_x: float = 0.5
    hot_y: float = 0.5
    hot_size: float = 0.3
    exposure_target: float = 0.2
    exposure_share: float = 0.0
    gamma: float = 1.0
    s_curve: float = 0.0
    lift: float = 0.0
    saturation: float = 1.0
    blur_sigma_px: float = 0.0
    motion_x_px: float = 0.0
    motion_y_px: float = 0.0
    aberration: float = 0.0
    shrink: float = 1.0
    shift_x: float = 0.0
    shift_y: float = 0.0
    sharpen: float = 0.0
    sharpen_sigma_px: float = 1.0
    noise_shot: float = 0.0
    noise_read: float = 0.0
    noise_spread: float = 0.0
    noise_place: float = 0.0
    quality: float = 0.0
    chroma_halved: float = 0.0

    def pack(self) -> NDArray[np.float32]:
        """Numbers of the light in the order of `COLUMN`, zeros after them.

        Returns
        -------
        (64,) float32
        """
        packed = np.zeros(NUMBERS, np.float32)
        packed[: len(COLUMN)] = astuple(self)
        return packed


COLUMN: dict[str, int] = {field.name: column for column, field in enumerate(fields(Light))}
"""Place of each number of a :class:`Light` in its packed form."""


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(math.exp(rng.uniform(math.log(low), math.log(high))))


def _chance(rng: np.random.Generator, share: float) -> bool:
    return bool(rng.random() < share)


def draw(rng: np.random.Generator, ingredients: Ingredients | None = None) -> Light:
    """Draw light, camera and file for one picture.

    Parameters
    ----------
    rng : numpy.random.Generator
    ingredients : Ingredients, optional
        Without `relief`, layers of cloth have no height, and seams draw nothing in and are no
        darker than the cloth; without `lines`, grooves leave no trace; without `sharpness`, the
        picture has a mild blur and neither shake, noise, enlarging, sharpening nor compression.

    Returns
    -------
    Light
        Heights are drawn as contrasts: what the picture shows is slope × tangent of the light.
    """
    ingredients = ingredients or Ingredients()
    drawn: dict[str, float] = {}
    for part in (_relief, _thread, _folds, _lamp, _exposure, _lens, _file):
        drawn |= part(rng)
    if not ingredients.relief:
        drawn |= {"layer_px": 0.0, "ditch": 0.0, "loft_px": 0.0}
    if not ingredients.lines:
        drawn |= {"groove_px": 0.0, "groove_dark": 0.0, "thread_share": 0.0}
    if not ingredients.sharpness:
        plain = Light()
        drawn |= {name: getattr(plain, name) for name in (*_lens(rng), *_file(rng))}
        drawn["blur_sigma_px"] = 0.5
    return Light(**drawn)


def _relief(rng: np.random.Generator) -> dict[str, float]:
    """Draw ridges, ditches and grooves under side light."""
    tangent = _log_uniform(rng, 0.3, 3.0)
    sigma = _log_uniform(rng, 0.5, 3.5)
    spread = _log_uniform(rng, 1.0, 14.0)
    per_contrast = STEP_WIDTH * sigma / tangent
    ditch = _log_uniform(rng, 0.02, 0.6)
    if _chance(rng, 0.15):
        ditch = -0.3 * ditch if _chance(rng, 0.5) else 0.0
    return {
        "side_rad": rng.uniform(0, 2 * math.pi),
        "side_tangent": tangent,
        "relief_sigma_px": sigma,
        "layer_px": _log_uniform(rng, 0.01, 0.4) * per_contrast * _chance(rng, 0.92),
        "ditch": ditch,
        "ditch_sigma_px": _log_uniform(rng, 0.3, 1.3),
        "loft_px": _log_uniform(rng, 0.02, 0.5)
        * STEP_WIDTH
        * spread
        / tangent
        * _chance(rng, 0.5),
        "loft_sigma_px": spread,
        "groove_px": _log_uniform(rng, 0.03, 0.6) * per_contrast,
        "groove_dark": _log_uniform(rng, 0.02, 0.5),
    }


def _thread(rng: np.random.Generator) -> dict[str, float]:
    """Draw the thread's colour: white, dark or any."""
    kind = rng.random()
    if kind < 0.4:
        colour = rng.uniform(0.5, 0.9) * np.exp(rng.normal(0, 0.06, 3))
    elif kind < 0.55:
        colour = rng.uniform(0.01, 0.06, 3)
    else:
        colour = rng.uniform(0, 1, 3) ** 2.2
    red, green, blue = (float(share) for share in np.clip(colour, 0, 1))
    return {
        "thread_share": rng.uniform(0.15, 0.9) * _chance(rng, 0.6),
        "thread_red": red,
        "thread_green": green,
        "thread_blue": blue,
        "stitch_px": _log_uniform(rng, 1.6, 9.0),
        "stitch_gap": rng.uniform(0, 0.9) * _chance(rng, 0.5),
    }


def _folds(rng: np.random.Generator) -> dict[str, float]:
    """Draw folds and wrinkles."""
    cells = _log_uniform(rng, 1.5, 9.0)
    small = _log_uniform(rng, 9.0, 45.0)
    stretch = _log_uniform(rng, 0.33, 2.0)
    # A hill of height h and n across 640 pixels has slopes near h n / 640.
    low = 640 / max(1.0, stretch)
    return {
        "fold_px": _log_uniform(rng, 0.008, 0.2) * low / cells * _chance(rng, 0.75),
        "fold_cells": cells,
        "fold_stretch": stretch,
        "fold_turn_rad": rng.uniform(0, math.pi),
        "fold_x": rng.uniform(0, HILLS),
        "fold_y": rng.uniform(0, HILLS),
        "fold_crease": rng.uniform(0, 1) * _chance(rng, 0.4),
        "wrinkle_px": _log_uniform(rng, 0.006, 0.12) * low / small * _chance(rng, 0.6),
        "wrinkle_cells": small,
        "weave": _log_uniform(rng, 0.004, 0.06) * _chance(rng, 0.5),
        # Black cotton gives back a few hundredths; files of prints say zero.
        "least_light": _log_uniform(rng, 0.004, 0.04),
    }


def _lamp(rng: np.random.Generator) -> dict[str, float]:
    """Draw shadows, uneven and coloured light."""
    warmth = rng.normal(0, 0.1) * (3.0 if _chance(rng, 0.15) else 1.0)
    return {
        "shade_sigma_px": _log_uniform(rng, 0.5, 16.0),
        "shade_depth": rng.uniform(0.2, 0.9),
        "shade_blue": rng.uniform(0, 0.3),
        "gradient_x": rng.normal(0, 0.3),
        "gradient_y": rng.normal(0, 0.3),
        "mottle": _log_uniform(rng, 0.01, 0.25) * _chance(rng, 0.7),
        "vignette": rng.uniform(0, 0.6) * _chance(rng, 0.5),
        "light_red": math.exp(warmth + rng.normal(0, 0.03)),
        "light_green": math.exp(rng.normal(0, 0.04)),
        "light_blue": math.exp(-warmth + rng.normal(0, 0.03)),
        "haze": rng.uniform(0, 0.3) * _chance(rng, 0.25),
        "haze_grey": rng.uniform(0.3, 0.9),
        "hot": _log_uniform(rng, 0.05, 2.0) * _chance(rng, 0.25),
        "hot_x": rng.uniform(-0.2, 1.2),
        "hot_y": rng.uniform(-0.2, 1.2),
        "hot_size": _log_uniform(rng, 0.1, 0.6),
    }


def _exposure(rng: np.random.Generator) -> dict[str, float]:
    """Draw the meter and the tone curve."""
    return {
        "exposure_target": _log_uniform(rng, 0.08, 0.48),
        "exposure_share": rng.uniform(0.2, 1.0),
        "gamma": math.exp(rng.normal(0, 0.1)),
        "s_curve": rng.uniform(-0.3, 0.8) * _chance(rng, 0.6),
        "lift": rng.uniform(0, 0.12) * _chance(rng, 0.3),
        "saturation": 0.0 if _chance(rng, 0.03) else rng.uniform(0.55, 1.4),
    }


def _lens(rng: np.random.Generator) -> dict[str, float]:
    """Draw blur, shake and the size of the file."""
    shake = _log_uniform(rng, 1.2, 6.0) * _chance(rng, 0.15)
    along_x = rng.uniform(0, 1)
    return {
        "blur_sigma_px": _log_uniform(rng, 0.25, 1.2)
        if _chance(rng, 0.85)
        else _log_uniform(rng, 1.2, 2.5),
        "motion_x_px": shake * along_x,
        "motion_y_px": shake * (1 - along_x),
        "aberration": rng.normal(0, 0.0012) * _chance(rng, 0.4),
        "shrink": _log_uniform(rng, 0.35, 1.0) if _chance(rng, 0.35) else 1.0,
        "sharpen": _log_uniform(rng, 0.1, 1.8) * _chance(rng, 0.55),
        "sharpen_sigma_px": _log_uniform(rng, 0.6, 2.5),
    }


def _file(rng: np.random.Generator) -> dict[str, float]:
    """Draw noise and compression."""
    return {
        "shift_x": float(rng.integers(GRID_PX)),
        "shift_y": float(rng.integers(GRID_PX)),
        "noise_shot": _log_uniform(rng, 1e-6, 3e-3),
        "noise_read": _log_uniform(rng, 2e-4, 0.015),
        "noise_spread": rng.uniform(0, 1),
        "noise_place": float(rng.integers(SIDE * SIDE)),
        "quality": 100 - _log_uniform(rng, 3, 75) if _chance(rng, 0.8) else 0.0,
        "chroma_halved": float(_chance(rng, 0.75)),
    }
