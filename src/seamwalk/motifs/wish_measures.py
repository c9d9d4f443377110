"""The measures of a wish: which ones a motif has, and what lengths make sense for them.

Lines closer than can be sewn are no quilting, and would take hours to lay out; so one lower and
one upper limit hold for every length, whatever the motif.
"""

from seamwalk.errors import UsageError
from seamwalk.model.choice import MotifChoice
from seamwalk.trade import CLOSEST_SEWN_IN, LARGEST_TOP_IN
from seamwalk.units import Units, format_length, parse_length

MEASURES = ("depth", "spacing", "angle", "edge")
"""All that a wish may give, as it is written."""

_OF_MOTIF = {
    "arches": ("depth", "edge"),
    "cable": ("depth", "spacing"),
    "clamshells": ("depth", "spacing", "angle"),
    "crosshatch": ("spacing", "angle"),
    "ditch": (),
    "fans": ("depth", "spacing", "angle"),
    "leaf-diagonals": ("depth",),
    "leaf-lines": ("depth",),
    "lines": ("spacing", "angle"),
    "none": (),
    "outline": ("depth", "spacing"),
    "piano-keys": ("spacing",),
    "spiral": ("spacing", "angle"),
    "three-strand-cable": ("depth", "spacing"),
    "waves": ("depth", "spacing", "angle"),
}
"""What each motif heeds; one of an installed package may heed everything."""


def wished_length(said: str, units: Units) -> float:
    """Return the length of a wish, inches.

    Raises
    ------
    UsageError
        If it is no length, or one that nothing can be sewn with.
    """
    length = parse_length(said, default=units)
    if length < CLOSEST_SEWN_IN:
        least = format_length(CLOSEST_SEWN_IN, units, 16)
        raise UsageError(f"“{said}” is closer than can be sewn.", f"Give {least} or more.")
    if length > LARGEST_TOP_IN:
        most = format_length(LARGEST_TOP_IN, units)
        raise UsageError(f"“{said}” is larger than any top.", f"Give {most} or less.")
    return length


def check_measures(like: MotifChoice) -> None:
    """Refuse a measure that the motif would not heed.

    Raises
    ------
    UsageError
        If there is one.
    """
    heeded = _OF_MOTIF.get(like.motif, MEASURES)
    given = {
        "depth": like.depth_in is not None,
        "spacing": like.spacing_in is not None,
        "angle": like.angle_deg is not None,
        "edge": like.edge != "none",
    }
    for name in MEASURES:
        if given[name] and name not in heeded:
            has = " and ".join(heeded)
            raise UsageError(
                f"A wish for {like.motif} can't give {_A[name]}.",
                f"It takes {has}." if has else f"Write {like.motif} alone.",
            )


_A = {"depth": "a depth", "spacing": "a spacing", "angle": "an angle", "edge": "an edge"}
