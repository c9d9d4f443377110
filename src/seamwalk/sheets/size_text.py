"""Sizes in words: what stands on a patch and in the tables."""

import math
from collections.abc import Sequence

import numpy as np

from seamwalk.geometry import polyline
from seamwalk.model.sizes import Angle, Length, PatchSize
from seamwalk.model.top import Patch
from seamwalk.units import CM_PER_IN, Units, format_inches

_PLUS_MINUS_DENOMINATOR = 16
"""± is written in sixteenths: half of the eighths that sizes are written in."""

_ALIKE_IN = 0.25
"""More than four sides that differ by less than this are told by their range, inches."""


def short_length(value_in: float, units: Units) -> str:
    """Return a length without its unit: nearest 1/8 in, or 0.1 cm."""
    if units == "cm":
        return f"{round(value_in * CM_PER_IN, 1) + 0.0:.1f}"
    return format_inches(value_in)


def plus_minus(value_in: float, units: Units) -> str:
    """Return a doubt, rounded up so that it never promises too much."""
    if units == "cm":
        return f"{max(1, math.ceil(value_in * CM_PER_IN * 10 - 1e-9)) / 10:.1f}"
    steps = max(1, math.ceil(value_in * _PLUS_MINUS_DENOMINATOR - 1e-9))
    return format_inches(steps / _PLUS_MINUS_DENOMINATOR, _PLUS_MINUS_DENOMINATOR)


def length_text(length: Length, units: Units) -> str:
    """Return ``40 1/8 ± 1/16`` without a unit."""
    return f"{short_length(length.value_in, units)} ± {plus_minus(length.plus_minus_in, units)}"


def angle_text(angle: Angle) -> tuple[str, str]:
    """Return the angle and its ± in degrees, the latter rounded up."""
    pm = max(1, math.ceil(angle.plus_minus_deg * 10 - 1e-9)) / 10
    return f"{angle.value_deg:.1f}°", f"± {pm:.1f}°"


def sides_text(sides: Sequence[float], units: Units, *, upright_first: bool = False) -> str:
    """Return the sides of a patch, inches, in few words.

    Four sides whose opposite ones read the same become ``3 × 4 1/2``, more than four that are
    about the same ``6 sides of 2`` or ``6 sides of 2 to 2 1/8``; others are listed in order.

    Parameters
    ----------
    upright_first : bool
        The first side runs down the page, so that width × height needs the second one first.
    """
    words = [short_length(s, units) for s in sides]
    if len(sides) == 4:
        across = (sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2
        if all(abs(sides[k] - sides[k + 2]) < _same(units) for k in (0, 1)):
            a, b = (short_length(v, units) for v in across)
            return f"{b} × {a}" if upright_first else f"{a} × {b}"
    elif len(sides) > 4 and max(sides) - min(sides) < _ALIKE_IN:
        low, high = (short_length(v, units) for v in (min(sides), max(sides)))
        return f"{len(words)} sides of {low}" + (f" to {high}" if high != low else "")
    return " · ".join(words)


def _same(units: Units) -> float:
    """Opposite sides that differ by less than this read as one, inches."""
    return 0.1 / CM_PER_IN if units == "cm" else 0.125


def patch_text(size: PatchSize, patch: Patch, units: Units) -> str:
    """Return the measured sides of one patch as it lies on the page."""
    return sides_text(
        [s.value_in for s in size.sides], units, upright_first=_upright_first(size, patch)
    )


def _upright_first(size: PatchSize, patch: Patch) -> bool:
    """Tell whether a four-sided patch's first side runs more down than across."""
    ring = np.array(patch.polygon.exterior.coords[:-1])
    at = polyline.corners(ring)
    if len(size.sides) != 4 or len(at) != 4:
        return False
    dx, dy = np.abs(ring[at[1]] - ring[at[0]])
    return bool(dy > dx)


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
