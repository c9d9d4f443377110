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
"""Below this much order from the middle outwards the path is said to go back and forth."""

NOT_WORTH_SAYING_MIN = 0.5


def order_lines(taken: OrderName | None, offered: Sequence[OrderFigures]) -> list[str]:
    """Return a sentence on the order taken and one on each other one that differs."""
    found = {f.name: f for f in offered}
    if taken is None or taken not in found:
        return []
    mine = found[taken]
    turned = f"the quilt turned {_times(mine.quilt_turns, 'time')}"
    out = [
        f"{NAMES[taken]}: {time_text(mine.minutes)}, {_times(mine.threads, 'thread')}, {turned}. "
        f"{_manner(mine)}"
    ]
    for other in offered:
        if other.name == taken or _alike(other, mine):
            continue
        more = other.minutes - mine.minutes
        how = "as long" if abs(more) < NOT_WORTH_SAYING_MIN else _difference(more)
        out.append(f"--order {other.name}: {how}, {_in_short(other)}.")
    return out


def _times(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _in_short(f: OrderFigures) -> str:
    """Return what another order comes to, in one line: what is the same for all is said above."""
    percent = round(100 * f.heavy)
    bulk = f"bulk under the arm {percent} %" if percent else "bulk never under the arm"
    return f"{_times(f.threads, 'thread')}, {_times(f.quilt_turns, 'turn')}, {bulk}"


def _manner(f: OrderFigures) -> str:
    way = (
        "It goes back and forth between middle and edge"
        if f.outwards < OUTWARDS
        else "It works steadily outwards"
    )
    percent = round(100 * f.heavy)
    if percent == 0:
        return f"{way}, never with too much of the quilt under the arm."
    return (
        f"{way}; for {percent} % of the stitching more than half of the quilt, or more than your "
        "machine's throat takes, has to lie under the arm."
    )


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
