"""What the path saves, and how near it is to the best there can be, in plain sentences."""

from collections.abc import Iterable

from seamwalk.model.route import Totals
from seamwalk.sheets.guide_text import time_text

NOT_IN_BOUND = {"quilt turns": "turning the quilt", "bobbin changes": "changing bobbins"}
"""Causes of time that no bound is known for; they depend on the order of sewing."""


def worth_lines(totals: Totals) -> list[str]:
    """Return what is known of both, a sentence or two each."""
    return [text for text in (saving_text(totals), bound_text(totals)) if text]


def saving_text(totals: Totals) -> str:
    """Return what the same strokes take in other ways; nothing where none was tried."""
    if not totals.compared:
        return ""
    told = [
        f"{way} it would take {time_text(other.minutes)} and {_ends(other.buried_ends)}"
        for way, other in totals.compared.items()
    ]
    minutes = time_text(sum(totals.minutes.values()))
    words = f"{'; '.join(told)}; this path takes {minutes} and {_ends(totals.buried_ends)}."
    return words[0].upper() + words[1:]


def _ends(count: int) -> str:
    if not count:
        return "no thread ends to bury"
    return f"{count} thread end{'' if count == 1 else 's'} to bury"


def bound_text(totals: Totals) -> str:
    """Return how near the path is proven to be to the best; nothing where nothing is known."""
    bound = totals.lower_bounds.get("minutes")
    if not bound:
        return ""
    mine = sum(m for cause, m in totals.minutes.items() if cause not in NOT_IN_BOUND)
    least, taken = time_text(bound), time_text(mine)
    if least == taken:
        words = f"No path takes less than this one, {taken}, to the minute"
    else:
        words = f"No path takes less than {least}; this one takes {taken}"
    left = [c for c in NOT_IN_BOUND if round(totals.minutes.get(c, 0.0))]
    if not left:
        return f"{words}."
    rest = time_text(sum(totals.minutes[c] for c in left))
    come = "comes" if len(left) == 1 else "come"
    also = "that" if len(left) == 1 else "these"
    return (
        f"{words}. {_sentence(NOT_IN_BOUND[c] for c in left)} {come} on top of both: {rest} here, "
        f"and for {also} the least is not known."
    )


def _sentence(words: Iterable[str]) -> str:
    text = " and ".join(words)
    return text[0].upper() + text[1:]
