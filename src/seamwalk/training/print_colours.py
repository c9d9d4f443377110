"""Colours of printed cotton: single dyes and the palettes that one print is made of.

Colours are drawn in CIE L*C*h (D65), where steps look alike, and brought into the gamut of sRGB by
lowering the chroma alone, so that hue and lightness stay as drawn.

References
----------
IEC 61966-2-1 (sRGB, its primaries and transfer curve); CIE 15 (L*a*b*).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Lch = NDArray[np.float64]
Ink = tuple[int, int, int]

_WHITE = np.array([0.95047, 1.0, 1.08883])
_RGB_FROM_XYZ = np.array(
    [
        [3.2404542, -1.5371385, -0.4985314],
        [-0.9692660, 1.8760108, 0.0415560],
        [0.0556434, -0.2040259, 1.0572252],
    ]
)


@dataclass(frozen=True, slots=True)
class DyeSettings:
    """How often each family of dyes is drawn.

    Attributes
    ----------
    white, dark, grey : float
        Shares of whites and creams, of blacks and near-blacks, of greys and taupes, among
        the grounds of quilting cotton; the rest is coloured.
    strongest : float
        Chroma before it is brought into the gamut; above what any sRGB colour has, so that
        fully saturated dyes come often.
    least_step, tone_step : float
        Lightness between a ground and its inks in a tone-on-tone print, from hardly seen to plain.
    """

    white: float = 0.20
    dark: float = 0.10
    grey: float = 0.08
    strongest: float = 120.0
    least_step: float = 2.0
    tone_step: float = 24.0


SETTINGS = DyeSettings()


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours of one print, sRGB 0 to 255.

    Attributes
    ----------
    ground : tuple of 3 int
        Colour of the cloth.
    inks : tuple of Ink
        What is printed on it, at least one.
    """

    ground: Ink
    inks: tuple[Ink, ...]


def srgb_from_lch(lch: Lch) -> NDArray[np.uint8]:
    """Return sRGB colours (N, 3) of `lch` (N, 3): L* 0–100, chroma, hue in degrees.

    Chroma is lowered, in steps of a twelfth, as far as the gamut demands.
    """
    lch = np.atleast_2d(np.asarray(lch, np.float64))
    share = np.linspace(1.0, 0.0, 13)[:, None]
    hue = np.radians(lch[:, 2])
    light = np.clip(lch[:, 0], 0.0, 100.0)
    f_y = (light + 16.0) / 116.0
    f = np.stack(
        [
            f_y + share * lch[:, 1] * np.cos(hue) / 500.0,
            np.broadcast_to(f_y, (13, len(lch))),
            f_y - share * lch[:, 1] * np.sin(hue) / 200.0,
        ],
        axis=-1,
    )
    xyz = _WHITE * np.where(f > 6 / 29, f**3, (f - 16 / 116) * 3 * (6 / 29) ** 2)
    linear = xyz @ _RGB_FROM_XYZ.T
    inside = ((linear > -0.002) & (linear < 1.002)).all(axis=-1)
    inside[-1] = True
    linear = np.clip(linear[inside.argmax(axis=0), np.arange(len(lch))], 0.0, 1.0)
    rgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(rgb * 255.0), np.uint8)


def inks_of(lch: Lch) -> tuple[Ink, ...]:
    """Return the colours of `lch` (N, 3) as plain tuples, as OpenCV takes them."""
    return tuple((int(r), int(g), int(b)) for r, g, b in srgb_from_lch(lch))


def dye(rng: np.random.Generator) -> Lch:
    """Draw the colour of a ground: L*, chroma, hue in degrees, (3,)."""
    u, hue = rng.random(), rng.uniform(0.0, 360.0)
    if u < SETTINGS.white:
        cream = rng.random() < 0.6
        hue = rng.uniform(60.0, 105.0) if cream else hue
        return np.array([rng.uniform(86.0, 99.0), rng.uniform(0.0, 16.0 if cream else 6.0), hue])
    u -= SETTINGS.white
    if u < SETTINGS.dark:
        return np.array([rng.uniform(2.0, 22.0), rng.uniform(0.0, 26.0), hue])
    u -= SETTINGS.dark
    if u < SETTINGS.grey:
        return np.array([rng.uniform(22.0, 85.0), rng.uniform(0.0, 12.0), hue])
    return coloured(rng, hue)


def coloured(rng: np.random.Generator, hue: float | None = None) -> Lch:
    """Draw a coloured dye of any saturation, (3,): L*, chroma, hue in degrees."""
    hue = rng.uniform(0.0, 360.0) if hue is None else hue
    chroma = 8.0 + SETTINGS.strongest * rng.random()
    return np.array([rng.uniform(18.0, 92.0), chroma, hue])


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Draw a number between `low` and `high`, every octave as likely as the next."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def tones(rng: np.random.Generator, base: Lch, count: int, most: float) -> Lch:
    """Return `count` neighbours (count, 3) of `base`, up to `most` lighter or darker."""
    step = log_uniform(rng, SETTINGS.least_step, most)
    way = 1.0 if base[0] + step * (rng.random() - 0.5) < 50.0 else -1.0
    if 2 * most < base[0] < 100 - 2 * most and rng.random() < 0.5:
        way = -way
    out = np.repeat(base[None], count, axis=0)
    out[:, 0] += way * step * np.linspace(1.0, rng.uniform(0.2, 1.6), count)
    out[:, 1] *= rng.uniform(0.8, 1.25)
    out[:, 2] += rng.normal(0.0, 6.0)
    return out


def palette(rng: np.random.Generator, count: int = 5, *, tonal: bool = False) -> Palette:
    """Draw the colours of one print.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    count : int
        Number of inks.
    tonal : bool
        Inks are tones of the ground.
    """
    ground = dye(rng)
    style = rng.random()
    if tonal or style < 0.12:
        inks = tones(rng, ground, count, SETTINGS.tone_step)
    elif style < 0.30:
        inks = _one_contrast(rng, ground, count)
    else:
        inks = _related(rng, count)
        if style < 0.45:
            ground = inks[0] * [1.0, 0.6, 1.0]
            ground[0] = rng.choice([rng.uniform(8, 30), rng.uniform(75, 95)])
        if style > 0.75:
            inks[rng.integers(count)] = [rng.uniform(88, 98), rng.uniform(0, 10), 90.0]
        if style > 0.9:
            inks[rng.integers(count)] = [rng.uniform(4, 22), rng.uniform(0, 20), inks[0, 2]]
    every = inks_of(np.vstack([ground[None], inks]))
    return Palette(every[0], every[1:])


def _one_contrast(rng: np.random.Generator, ground: Lch, count: int) -> Lch:
    """Return tones of one ink that stands clearly off the ground."""
    ink = dye(rng)
    if abs(ink[0] - ground[0]) < 25.0:
        ink[0] = ground[0] + (40.0 if ground[0] < 50.0 else -40.0)
    inks = np.repeat(ink[None], count, axis=0)
    inks[1:, 0] += rng.normal(0.0, rng.uniform(0.0, 14.0), count - 1)
    return inks


def _related(rng: np.random.Generator, count: int) -> Lch:
    """Return inks of one mood: neighbours, opposites or all hues; pastel, muted or bright."""
    hue = rng.uniform(0.0, 360.0)
    harmony = rng.integers(4)
    if harmony == 0:
        hues = hue + rng.uniform(-35.0, 35.0, count)
    elif harmony == 1:
        hues = hue + rng.choice([0.0, 180.0], count) + rng.normal(0.0, 14.0, count)
    elif harmony == 2:
        hues = hue + rng.choice([0.0, 120.0, 240.0], count) + rng.normal(0.0, 12.0, count)
    else:
        hues = rng.uniform(0.0, 360.0, count)
    low, high, chroma = [
        (72.0, 95.0, 30.0),
        (25.0, 75.0, 30.0),
        (35.0, 85.0, 110.0),
        (10.0, 95.0, 60.0),
    ][int(rng.integers(4))]
    return np.column_stack(
        [rng.uniform(low, high, count), chroma * rng.uniform(0.5, 1.0, count), hues]
    )
