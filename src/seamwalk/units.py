"""Lengths as quilters write them, inside always inches.

Inches are the trade's unit and the only one used inside; centimetres exist only here, where
people and files come in.  One inch is 25.4 mm exactly (international yard and pound agreement,
1959).
"""

import math
import re
from collections.abc import Callable
from fractions import Fraction
from typing import Literal

from seamwalk.errors import UsageError

Units = Literal["in", "cm"]

CM_PER_IN = 2.54
MM_PER_IN = 25.4

_NUMBER = r"(?:\d+(?:\.\d+)?|\.\d+)"
_LENGTH = re.compile(
    rf"""^\s*
    (?:(?P<whole>{_NUMBER})(?:\s+|\s*-\s*|(?=[¼½¾⅛⅜⅝⅞])|$|(?=\s*[a-z"”″'])))?
    (?:(?P<num>\d+)\s*/\s*(?P<den>\d+)|(?P<glyph>[¼½¾⅛⅜⅝⅞]))?
    \s*(?P<unit>in|inch|inches|"|”|″|cm|mm|m|ft|foot|feet|yd|yds|yard|yards)?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)
_GLYPHS = {
    "¼": Fraction(1, 4),
    "½": Fraction(1, 2),
    "¾": Fraction(3, 4),
    "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8),
    "⅝": Fraction(5, 8),
    "⅞": Fraction(7, 8),
}
_DECIMAL_COMMA = re.compile(r"(?<![\d,])(\d*),(\d+)(?![\d,])")
_READS = "Write it like 12, 12 1/2, 12.5in or 32cm."
_IN_PER = {
    "in": 1.0,
    "inch": 1.0,
    "inches": 1.0,
    '"': 1.0,
    "”": 1.0,
    "″": 1.0,
    "cm": 1 / CM_PER_IN,
    "mm": 1 / MM_PER_IN,
    "m": 100 / CM_PER_IN,
    "ft": 12.0,
    "foot": 12.0,
    "feet": 12.0,
    "yd": 36.0,
    "yds": 36.0,
    "yard": 36.0,
    "yards": 36.0,
}


def parse_length(text: str, *, default: Units = "in") -> float:
    """Return the length written in `text`, in inches.

    Parameters
    ----------
    text : str
        ``12``, ``12 1/2``, ``12-1/2``, ``12½``, ``12.5in``, ``32cm``, ``3/8"``; ``21,5cm`` where
        the comma can only be a decimal one.
    default : {"in", "cm"}
        Unit of a bare number.

    Raises
    ------
    UsageError
        If the text is not a length, or the length is not above zero.
    """
    if not text.strip():
        raise UsageError("A length is missing.", _READS)
    match = _LENGTH.match(_with_point(text))
    if match is None or not (match["whole"] or match["num"] or match["glyph"]):
        if "," in text:
            raise UsageError(
                f"“{text}” has a comma where I can't read one.",
                "Write decimals with a point, like 21.5cm.",
            )
        raise UsageError(f"“{text}” is not a length I can read.", _READS)
    amount = Fraction(match["whole"] or 0)
    if match["num"]:
        if int(match["den"]) == 0:
            raise UsageError(f"“{text}” divides by zero.", "Write it like 12 1/2.")
        amount += Fraction(int(match["num"]), int(match["den"]))
    elif match["glyph"]:
        amount += _GLYPHS[match["glyph"]]
    value = float(amount) * _IN_PER[(match["unit"] or default).lower()]
    if not (math.isfinite(value) and value > 0):
        raise UsageError(f"“{text}” is not above zero.", "Give a length above zero.")
    return value


def _with_point(text: str) -> str:
    """Return a length with a point for its decimal comma.

    Raises
    ------
    UsageError
        If the comma may part thousands as well: ``1,500`` is 1500 to some and 1.5 to others.
    """
    if text.count(",") != 1 or (found := _DECIMAL_COMMA.search(text)) is None:
        return text
    whole, part = found.groups()
    if len(part) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0"):
        raise UsageError(
            f"The comma of “{text}” can be read in two ways: {whole}.{part} or {whole}{part}.",
            "Write decimals with a point, and thousands without a comma.",
        )
    return _DECIMAL_COMMA.sub(r"\1.\2", text)


def parse_length_between(text: str, low: str, high: str, *, default: Units = "in") -> float:
    """Return the length written in `text`, in inches, if it lies between two others.

    Parameters
    ----------
    low, high : str
        The least and the largest, with their units, as `parse_length` reads them.
    default : {"in", "cm"}
        Unit of a bare number.

    Raises
    ------
    UsageError
        If the text is not a length, or the length lies outside.
    """
    value = parse_length(text, default=default)
    # A hair more, for limits in one unit and lengths in the other.
    if not parse_length(low) - 1e-9 <= value <= parse_length(high) + 1e-9:
        least, most = _told(low, default, math.ceil), _told(high, default, math.floor)
        raise UsageError(
            f"“{text}” is not between {least} and {most}.", f"Give one from {least} to {most}."
        )
    return value


def _told(limit: str, units: Units, rounded: Callable[[float], int]) -> str:
    """Return a limit as it is written, or one in inches in whole millimetres that keep it."""
    if units == "in" or not limit.endswith(" in"):
        return limit
    return f"{rounded(parse_length(limit) * MM_PER_IN - 1e-9) / 10:g} cm"


def parse_size(text: str, *, default: Units = "in") -> tuple[float, float]:
    """Return (width, height) in inches from text such as ``40 x 48`` or ``100cm × 120cm``.

    A unit given once counts for both.

    Raises
    ------
    UsageError
        If the text is not two lengths with an x between them.
    """
    parts = re.split(r"\s*[xX×]\s*", text.strip())
    if len(parts) != 2 or not all(parts):
        raise UsageError(f"“{text}” is not a size.", "Write width x height, like 40 x 48.")
    unit = re.search(r"[a-zA-Z\"”″]+\s*$", parts[1])
    if unit and not re.search(r"[a-zA-Z\"”″]\s*$", parts[0]):
        parts[0] += unit.group().strip()
    return parse_length(parts[0], default=default), parse_length(parts[1], default=default)


def format_inches(value_in: float, denominator: int = 8) -> str:
    """Return inches as a whole number and reduced fraction, ``12 1/2``.

    Parameters
    ----------
    value_in : float
        Length in inches, may be negative.
    denominator : int
        Finest fraction, 8 for eighths.
    """
    eighths = math.floor(abs(value_in) * denominator + 0.5)
    sign = "-" if value_in < 0 and eighths else ""
    whole, rest = divmod(eighths, denominator)
    if rest == 0:
        return f"{sign}{whole}"
    part = Fraction(rest, denominator)
    text = f"{part.numerator}/{part.denominator}"
    return f"{sign}{whole} {text}" if whole else f"{sign}{text}"


def format_length(value_in: float, units: Units = "in", denominator: int = 8) -> str:
    """Return a length with its unit: ``12 1/2 in`` or, converted, ``31.8 cm``."""
    if units == "cm":
        return f"{value_in * CM_PER_IN:.1f} cm"
    return f"{format_inches(value_in, denominator)} in"


def format_exact(value_in: float, units: Units = "in") -> str:
    """Return a length so that reading it gives the same one again, in `units` if that goes."""
    return format_whole(value_in, units) or f"{round(from_inches(value_in, units), 4):g} {units}"


def format_whole(value_in: float, units: Units = "in") -> str | None:
    """Return a length of whole sixteenths of an inch or whole millimetres, None for others.

    The one stays a fraction, the other metric: a circle of 21 cm is ``21 cm`` to those who work
    in inches too.
    """
    cm = value_in * CM_PER_IN
    as_fraction = abs(value_in * 16 - round(value_in * 16)) < 1e-6
    as_metric = abs(cm * 10 - round(cm * 10)) < 1e-6
    if as_fraction and (units == "in" or not as_metric):
        return f"{format_inches(value_in, 16)} in"
    return f"{round(cm, 1):g} cm" if as_metric else None


def format_small(value_in: float, units: Units = "in", denominator: int = 16) -> str:
    """Return a difference with its unit, never none at all: ``1/16 in``, ``0.1 cm``.

    Parameters
    ----------
    value_in : float
        Difference in inches, not negative.
    """
    if units == "cm":
        return f"{max(value_in * CM_PER_IN, 0.1):.1f} cm"
    return f"{format_inches(max(value_in, 1 / denominator), denominator)} in"


def pattern_units(grain_in: float, units: Units) -> Units:
    """Return the units of a pattern whose sizes are multiples of `grain_in`.

    Sixteenths, tenths and other parts of an inch are of a pattern in inches, whole and half
    millimetres of a metric one; `units` for any other.
    """
    for found, parts in (("in", grain_in * 16), ("in", 1 / grain_in), ("cm", grain_in * 50.8)):
        if math.isclose(parts, round(parts), abs_tol=1e-6):
            return "in" if found == "in" else "cm"
    return units


def from_inches(value_in: float, units: Units) -> float:
    """Return the same length as a number in `units`."""
    return value_in * CM_PER_IN if units == "cm" else value_in


def to_inches(value: float, units: Units) -> float:
    """Return a number in `units` as inches."""
    return value / CM_PER_IN if units == "cm" else value
