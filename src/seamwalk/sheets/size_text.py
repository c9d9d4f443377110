"""Sizes in words: what stands on a patch and in the tables."""

import math
from collections.abc import Callable

from seamwalk.model.sizes import Angle, Length, PatchSize
from seamwalk.units import CM_PER_IN, Units, format_inches

_PLUS_MINUS_STEPS = ((0.5, 16), (1.0, 8), (math.inf, 4))
"""± up to so many inches is written in such parts of an inch: in half of the eighths that sizes
are written in; a large one is no exact number itself."""


def short_length(value_in: float, units: Units) -> str:
    """Return a length without its unit: nearest 1/8 in, or 0.1 cm."""
    if units == "cm":
        return f"{round(value_in * CM_PER_IN, 1) + 0.0:.1f}"
    return format_inches(value_in)


def plus_minus(value_in: float, units: Units) -> str:
    """Return a doubt, rounded up so that it never promises too much."""
    if units == "cm":
        return f"{max(1, math.ceil(value_in * CM_PER_IN * 10 - 1e-9)) / 10:.1f}"
    parts = next(parts for most, parts in _PLUS_MINUS_STEPS if value_in <= most)
    return format_inches(max(1, math.ceil(value_in * parts - 1e-9)) / parts, 16)


def length_text(length: Length, units: Units) -> str:
    """Return ``40 1/8 ± 1/16`` without a unit."""
    return f"{short_length(length.value_in, units)} ± {plus_minus(length.plus_minus_in, units)}"


def in_pattern(words: Callable[[Units], str], units: Units, pattern: Units) -> str:
    """Return a size in the pattern's units, and in the maker's behind it where they differ.

    Parameters
    ----------
    words : callable
        Gives the size in some units, without them.
    """
    if pattern == units:
        return words(units)
    return f"{words(pattern)} {pattern} ({words(units)} {units})"


def angle_text(angle: Angle) -> tuple[str, str]:
    """Return the angle and its ± in degrees, the latter rounded up."""
    pm = max(1, math.ceil(angle.plus_minus_deg * 10 - 1e-9)) / 10
    return f"{angle.value_deg:.1f}°", f"± {pm:.1f}°"


def same(units: Units) -> float:
    """Sides meant to be equal that differ by less than this are told by their mean, inches.

    One and a half of the steps that sizes are written in: the patch's width through its middle.
    """
    return 0.4 / CM_PER_IN if units == "cm" else 0.1875


def off_text(size: PatchSize, units: Units) -> str:
    """Return by how much a patch is off: ``1/4 large``, ``3/8 small``."""
    word = "large" if size.finished.off_in > 0 else "small"
    return f"{short_length(abs(size.finished.off_in), units)} {word}"


def letters(index: int) -> str:
    """Return the code of the class at `index`: A to Z, then AA, AB …"""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("A") + rest) + text
    return text
