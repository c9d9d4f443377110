"""Published colours that stay apart for colour-blind eyes.

Colour is never the only cue: shape, line style or text says the same.

References
----------
Okabe and Ito, Color Universal Design, 2008: the eight colours.  Van der Walt and Smith, viridis,
2015: the sequential map, dark to light with even steps of lightness; written here as every
sixteenth of its 256 published values, linear in between (never further than 6/255 off).
"""

from functools import lru_cache

import numpy as np

Colour = str
"""``#RRGGBB``, sRGB."""

BLACK: Colour = "#000000"
ORANGE: Colour = "#E69F00"
SKY: Colour = "#56B4E9"
GREEN: Colour = "#009E73"
YELLOW: Colour = "#F0E442"
BLUE: Colour = "#0072B2"
VERMILION: Colour = "#D55E00"
PURPLE: Colour = "#CC79A7"

WHITE: Colour = "#FFFFFF"
INK: Colour = "#1A1A1A"
"""Text and dark outlines."""
GREY: Colour = "#6B6B6B"
"""Second-rank lines; 5.3 : 1 against white."""
PALE: Colour = "#E8E8E8"
"""Grounds behind text."""

_VIRIDIS = (
    "440154",
    "48186A",
    "472D7B",
    "424086",
    "3B528B",
    "33638D",
    "2C728E",
    "26828E",
    "21918C",
    "1FA088",
    "28AE80",
    "3FBC73",
    "5EC962",
    "84D44B",
    "ADDC30",
    "D8E219",
    "FDE725",
)


def components(colour: Colour) -> tuple[int, int, int]:
    """Return red, green and blue, 0 to 255."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def sequence_colour(share: float) -> Colour:
    """Return the viridis colour at `share` of the way, 0 (first, dark) to 1 (last, light)."""
    at = min(max(share, 0.0), 1.0) * (len(_VIRIDIS) - 1)
    i = min(int(at), len(_VIRIDIS) - 2)
    a, b = (np.array(components(f"#{h}")) for h in (_VIRIDIS[i], _VIRIDIS[i + 1]))
    r, g, blue = np.rint(a + (b - a) * (at - i)).astype(int)
    return f"#{r:02X}{g:02X}{blue:02X}"


def luminance(colour: Colour) -> float:
    """Return the relative luminance, 0 (black) to 1 (white).

    References
    ----------
    IEC 61966-2-1 (sRGB); Web Content Accessibility Guidelines 2.2, "relative luminance".
    """
    v = np.array(components(colour)) / 255
    linear = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(a: Colour, b: Colour) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, "contrast ratio")."""
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


@lru_cache(maxsize=1024)
def against(colour: Colour) -> Colour:
    """Return near-black or white, whichever stands out more from `colour`."""
    return max((INK, WHITE), key=lambda c: contrast(c, colour))
