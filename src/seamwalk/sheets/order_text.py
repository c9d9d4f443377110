"""In which order the path goes, what that costs, and what another order would take."""

from collections.abc import Sequence

from seamwalk.model.order import OrderFigures, OrderName
from seamwalk.sheets.guide_text import time_text

NAMES: dict[OrderName, str] = {
    "quickest": "The quickest of all orders",
    "middle": "From the middle outwards",
    "lines": "One after another, each on its own thread",
}

OUTWARDS = 0.5
"""Below this much order from the middle outwards the path is said to come and go."""

NOT_WORTH_SAYING_MIN = 0.5


def order_lines(taken: OrderName | None, offered: Sequence[OrderFigures]) -> list[str]:
    """Return a sentence on the order taken and one on each other one that differs."""
    found = {f.name: f for f in offered}
    if taken is None or taken not in found:
        return []
    mine = found[taken]
    out = [f"{NAMES[taken]}: {_figures(mine)}. {_manner(mine)}"]
    for other in offered:
        if other.name == taken or _alike(other, mine):
            continue
        more = other.minutes - mine.minutes
        how = "as long" if abs(more) < NOT_WORTH_SAYING_MIN else _difference(more)
        out.append(f"--order {other.name} takes {how}: {_figures(other)}. {_manner(other)}")
    return out


def _figures(f: OrderFigures) -> str:
    threads = f"{f.threads} thread{'' if f.threads == 1 else 's'}"
    turns = f"the quilt turned {f.quilt_turns} time{'' if f.quilt_turns == 1 else 's'}"
    return f"{time_text(f.minutes)}, {threads}, {turns}"


def _manner(f: OrderFigures) -> str:
    way = "It comes and goes" if f.outwards < OUTWARDS else "It goes outwards"
    percent = round(100 * f.heavy)
    bulk = (
        "never too much of the quilt is under the arm"
        if percent == 0
        else f"for {percent} % of it more than half of the quilt, or than the throat takes, is "
        "under the arm"
    )
    return f"{way}, and {bulk}."


def _alike(a: OrderFigures, b: OrderFigures) -> bool:
    """Return whether two orders come to the same path, as far as she would notice."""
    return (
        abs(a.minutes - b.minutes) < NOT_WORTH_SAYING_MIN
        and (a.threads, a.quilt_turns) == (b.threads, b.quilt_turns)
        and abs(a.heavy - b.heavy) < 0.01
        and abs(a.outwards - b.outwards) < 0.05
    )


def _difference(minutes: float) -> str:
    return f"{time_text(abs(minutes))} {'longer' if minutes > 0 else 'less'}"
