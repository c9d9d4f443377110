"""What the path saves, and how near it is to the best there can be, in plain sentences."""

import math

from seamwalk.model.route import Totals
from seamwalk.sheets.guide_text import time_text

NOT_IN_BOUND = {"quilt turns": "turning the quilt", "bobbin changes": "changing bobbins"}
"""Causes of time that no bound is known for; they depend on the order of sewing."""

LEAST_TOLD_MIN = 0.5
"""Less than this is no minute that could be saved."""


def worth_lines(totals: Totals) -> list[str]:
    """Return what is known of both, a sentence or two each."""
    return [text for text in (saving_text(totals), bound_text(totals)) if text]


def saving_text(totals: Totals) -> str:
    """Return what the same strokes take in other ways; nothing where none was tried."""
    if not totals.compared:
        return ""
    ways: dict[tuple[str, int], list[str]] = {}
    for way, other in totals.compared.items():
        ways.setdefault((time_text(other.minutes), other.buried_ends), []).append(way)
    told = [
        f"{' or '.join(names)} the same stitching takes {minutes} and leaves {_ends(ends)}"
        if not k
        else f"{' or '.join(names)} {minutes} and {ends or 'none'}"
        for k, ((minutes, ends), names) in enumerate(ways.items())
    ]
    minutes = time_text(sum(totals.minutes.values()))
    return (
        f"What this path saves: {'; '.join(told)}. Here it is {minutes} and "
        f"{totals.buried_ends or 'none'}."
    )


def _ends(count: int) -> str:
    if not count:
        return "no thread ends to bury"
    return f"{count} thread end{'' if count == 1 else 's'} to bury"


def bound_text(totals: Totals) -> str:
    """Return how near the path is proven to be to the best; nothing where nothing is known.

    Only the difference is told: a time without turns and bobbins beside the whole time would be
    taken for another time of the same path.
    """
    bound = totals.lower_bounds.get("minutes")
    if not bound:
        return ""
    mine = sum(m for cause, m in totals.minutes.items() if cause not in NOT_IN_BOUND)
    more = mine - bound
    if more < LEAST_TOLD_MIN:
        words = "No other path saves a minute of stitching, pivots and thread ends"
    else:
        # Rounded up: it must not promise too much.
        saved = time_text(math.ceil(more))
        words = f"No other path saves more than {saved} of stitching, pivots and thread ends"
    left = [words for cause, words in NOT_IN_BOUND.items() if round(totals.minutes.get(cause, 0))]
    rest = f"; how little {' and '.join(left)} could take is not known" if left else ""
    return f"{words}{rest}."
