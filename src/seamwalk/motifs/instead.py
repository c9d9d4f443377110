"""A measure that was asked for and can't be kept, and what is drawn instead."""

from collections.abc import Iterable

from seamwalk.units import Units, format_length

KEPT_IN = 1 / 32
"""What is drawn this near to what was asked for is that, inches: half the width of a mark."""

FINEST = 16
"""Such measures are told in sixteenths of an inch, or in millimetres."""


def instead(
    what: str,
    asked_in: float | None,
    drawn_in: Iterable[float],
    why: str,
    units: Units,
) -> list[str]:
    """Return the sentence on a measure that isn't kept everywhere, none if it is.

    Parameters
    ----------
    what : str
        Begins the sentence, with {} where the lengths stand.
    asked_in : float or None
        None keeps anything.
    drawn_in : iterable of float
        What is drawn.
    why : str
        A clause.
    units : {"in", "cm"}
        That lengths are told in.
    """
    if asked_in is None:
        return []
    other = [d for d in drawn_in if abs(d - asked_in) > KEPT_IN]
    if not other:
        return []
    drawn = what.format(span(other, units, FINEST))
    return [f"{drawn} instead of {format_length(asked_in, units, FINEST)}, since {why}."]


def span(lengths_in: Iterable[float], units: Units, denominator: int = 8) -> str:
    """Return lengths as people say them: ``3/4 in`` or ``3/4 to 1 1/2 in``."""
    lengths = list(lengths_in)
    low, high = (format_length(v, units, denominator) for v in (min(lengths), max(lengths)))
    return high if low == high else f"{low.removesuffix(f' {units}')} to {high}"
