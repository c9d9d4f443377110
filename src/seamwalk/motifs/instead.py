"""A measure that was asked for and can't be kept, and what is drawn instead."""

from collections.abc import Iterable

from seamwalk.units import format_inches

KEPT_IN = 1 / 32
"""What is drawn this near to what was asked for is that, inches: half the width of a mark."""

FINEST = 16
"""Such measures are told in sixteenths of an inch."""


def instead(what: str, asked_in: float | None, drawn_in: Iterable[float], why: str) -> list[str]:
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
    """
    if asked_in is None:
        return []
    other = [d for d in drawn_in if abs(d - asked_in) > KEPT_IN]
    if not other:
        return []
    low, high = (format_inches(d, FINEST) for d in (min(other), max(other)))
    drawn = what.format(f"{low} in" if low == high else f"{low} to {high} in")
    return [f"{drawn} instead of {format_inches(asked_in, FINEST)} in, since {why}."]
