"""What is said of the rest of a plan: what is done, where the needle is, what has changed."""

import math
import textwrap

from seamwalk.model.route import Route
from seamwalk.sheets.guide_text import WIDTH, time_text
from seamwalk.units import Units, format_length

SHOWN_IN = 1 / 16
"""Nearer than this the needle is where it was said to be."""


def rest_lines(
    route: Route, *, new_s: float, old_s: float, kept: bool, off_in: float, units: Units
) -> list[str]:
    """Return sentences on the rest.

    Parameters
    ----------
    route : Route
        With `Route.begun`.
    new_s, old_s : float
        Seconds of the best rest found, and of the earlier plan's rest.
    kept : bool
        The earlier plan's rest is kept.
    off_in : float
        How far the needle was said to be from where it is taken to be.
    units : {"in", "cm"}
        Of lengths.
    """
    begun = route.begun
    if begun is None:
        return []
    pieces = route.network.pieces
    left = sum(p.stroke.required for p in pieces.values())
    x, y = (format_length(v, units) for v in route.network.nodes[begun.needle])
    done = len(begun.wanted)
    out = [f"{done} piece{' is' if done == 1 else 's are'} done, {left} left."]
    where = f"The needle is {x} from the left and {y} from the upper edge ({begun.needle})"
    out.append(f"{where}, {_thread(begun.runs, begun.goes_on)}.")
    if off_in > SHOWN_IN:
        off = format_length(off_in, units, 16)
        out.append(f"That is the nearest place on the path, {off} from what you said.")
    out.append(_compared(new_s, old_s, kept))
    out.append("Steps are numbered from 1 again.")
    return out


def with_rest(guide: str, lines: list[str]) -> str:
    """Return a guide with what is said of the rest at its head."""
    rows = [row for line in lines for row in textwrap.wrap(line, WIDTH)]
    return "\n".join(["GOING ON", *rows]) + "\n\n" + guide


def _thread(runs: bool, goes_on: bool) -> str:
    if not runs:
        return "the thread is cut"
    return "the thread runs on" if goes_on else "cut the thread there"


def _compared(new_s: float, old_s: float, kept: bool) -> str:
    """Return how the rest compares with the plan's; what it takes stands with thread and time."""
    if kept:
        return "The rest of your plan stays as it is: no better way was found."
    if not math.isfinite(old_s):
        return "This is a new way: the rest of your plan can't be sewn any more."
    saved = old_s - new_s
    if saved >= 1:
        return f"A new way takes {_short(saved)} less than the rest of your plan."
    longer = f", and takes {_short(-saved)} longer" if saved <= -1 else ""
    return f"A new way keeps to your order better than the rest of your plan{longer}."


def _short(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 99.5 else time_text(seconds / 60)
