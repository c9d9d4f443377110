"""The path as it is read: one line a run, threads apart, what is done again told once.

Runs are alike whose words differ only in the numbers that say where.  Where the same few come
again and again only the first are written out; the others are named by their lines or patches.
"""

import itertools
import re
import textwrap
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from seamwalk.model.route import RunWords
from seamwalk.sheets.walk import numbered_every

WIDTH = 78
"""Columns: what a terminal and a printed page hold."""

LONGEST = 6
"""Most runs that are looked at as one figure which comes again: more are not kept in mind."""

MOST_NAMED = 8
"""Most numbers in one list; of more the first and the last ones are given."""

MOST_STARTS = 4
"""Most places in one list; more are found by their stops on the picture."""

HOW_COUNTED = (
    "Lines that run across are counted from the top, all others from the left; patches as in "
    "sizes.csv."
)

HOW_PLACED = " Where a patch lies stands in brackets, unless it is as just before."

_NUMBER = re.compile(r"\d+(?: \d+/\d+|/\d+|\.\d+)?")

_KEPT = re.compile(r" (?:(?:in|cm) of it|pivots?|junctions?)\b(?! travel)")
"""What follows a number that tells what to do, not where: how much of a line, how many pivots."""

_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Again(Generic[Item]):
    """Items that come again.

    Attributes
    ----------
    count : int
        How many items make it up.
    times : tuple of tuple of Item
        Each time that they come, the first, which is written out, included.
    """

    count: int
    times: tuple[tuple[Item, ...], ...]


def path_lines(runs: Sequence[RunWords], breaks: Sequence[str] = ()) -> list[str]:
    """Return the path in lines that fit a page; none where nothing was put into words.

    Parameters
    ----------
    runs : sequence of RunWords
        In the order of sewing.
    breaks : sequence of str
        Why there is more than one thread.
    """
    if not runs:
        return []
    threads = [tuple(mine) for _, mine in itertools.groupby(runs, key=lambda r: r.thread)]
    stops = runs[-1].last_step - runs[0].first_step + 1 - len(threads)
    placed = HOW_PLACED if any(r.place for r in runs) else ""
    out = _wrapped(f"{_numbers(numbered_every(stops))} {HOW_COUNTED}{placed}", "")
    for sentence in breaks:
        out += _wrapped(sentence, "")
    for found in folded(threads, lambda mine: tuple(_shape(r) for r in mine)):
        if not isinstance(found, Again):
            out += _thread(found, len(threads))
            continue
        count, rest = found.count, found.times[1:]
        first, last = rest[0][0][0].thread + 1, rest[-1][-1][0].thread + 1
        to = "to" if last > first + 1 else "and"
        which = f"Threads {first} {to} {last}" if last > first else f"Thread {first}"
        what = "alike" if count == 1 else f"as the {_word(count)} before"
        names = _names([[r for mine in time for r in mine] for time in found.times])
        names = names or _starts([mine for time in rest for mine in time])
        told = f"{which} {what}" + (f": {names}" if names else "")
        out += ["", *_wrapped(told, "")]
    return out


def _thread(runs: Sequence[RunWords], count: int) -> list[str]:
    out = ["", f"Thread {runs[0].thread + 1} of {count}"] if count > 1 else [""]
    here = ""
    for found in folded(runs, _shape):
        if not isinstance(found, Again):
            where = f" ({found.place})" if found.place not in ("", here) else ""
            here = found.place or here
            out += _wrapped(found.text + where, _stops(found, found))
            continue
        rest = found.times[1:]
        names = _names(found.times)
        here = ""
        told = (
            f"the next {_word(len(rest))} alike"
            if found.count == 1
            else f"these {_word(found.count)} again, {_times(len(rest))}"
        )
        told += f": {names}" if names else ""
        out += _wrapped(told, _stops(rest[0][0], rest[-1][-1]))
    return out


def _numbers(every: int) -> str:
    """Return what the numbers at the left are."""
    if every == 1:
        return "Numbers at the left are stops, as on overlay.jpg."
    which = "second one" if every == 2 else f"{every}th"
    return f"Numbers at the left are stops; every {which} stands on overlay.jpg."


def _stops(first: RunWords, last: RunWords) -> str:
    a, b = first.first_step, last.last_step
    return f"{a}" if a == b else f"{a}-{b}"


def folded(items: Sequence[Item], shape: Callable[[Item], Hashable]) -> list[Item | Again[Item]]:
    """Return the items, and in place of what comes again right after itself an `Again`.

    The first time is returned as single items, before its `Again`.  Of several ways to look at a
    place the one that takes in most is chosen, then the one with the shortest figure.
    """
    shapes = [shape(item) for item in items]
    out: list[Item | Again[Item]] = []
    at = 0
    while at < len(items):
        best = (0, 0)
        for count in range(1, LONGEST + 1):
            times = 1
            while shapes[at + times * count : at + (times + 1) * count] == shapes[at : at + count]:
                times += 1
            if at + times * count > len(items):
                break
            if (times - 1) * count > 1 and times * count > best[0] * best[1]:
                best = (count, times)
        count, times = best
        if not times:
            out.append(items[at])
            at += 1
            continue
        found = tuple(tuple(items[at + k * count : at + (k + 1) * count]) for k in range(times))
        out += found[0]
        out.append(Again(count, found))
        at += count * times
    return out


def _shape(run: RunWords) -> str:
    """Return the words without the numbers that may differ where the hands do the same."""

    def without(found: re.Match[str]) -> str:
        kept = _KEPT.match(run.text, found.end())
        return found[0] if kept else "#"

    return _NUMBER.sub(without, run.text)


def _names(times: Sequence[Sequence[RunWords]]) -> str:
    """Return which lines or patches are meant the other times, where they are not the same."""
    out: dict[str, None] = {}
    for place in zip(*times, strict=True):
        heads = [r.text.split(",")[0] for r in place]
        numbers = [_NUMBER.findall(head) for head in heads]
        if heads[0].startswith(("start", "end", "travel", "change")) or len(set(heads)) == 1:
            continue
        if all(len(n) == 1 and n[0].isdigit() for n in numbers):
            before, _, after = heads[0].partition(numbers[0][0])
            told = _listed([int(n[0]) for n in numbers[1:]])
            out[f"{before}{told}{after}"] = None
        else:
            out[_some(heads[1:])] = None
    return "; ".join(out)


def _starts(threads: Sequence[Sequence[RunWords]]) -> str:
    """Return where threads start that nothing else tells apart."""
    starts = [r.text for mine in threads for r in mine if r.text.startswith("start ")]
    places = [text.removeprefix("start ") for text in starts]
    return "; ".join(places) if len(places) <= MOST_STARTS else ""


def _listed(numbers: Sequence[int]) -> str:
    """Return numbers in words; "8 to 11" where they follow one another."""
    if len(numbers) > 2:
        steps = {b - a for a, b in itertools.pairwise(numbers)}
        if steps in ({1}, {-1}):
            return f"{numbers[0]} to {numbers[-1]}"
    return _some([str(n) for n in numbers])


def _some(words: Sequence[str]) -> str:
    if len(words) > MOST_NAMED:
        return f"{', '.join(words[: MOST_NAMED - 2])} … {words[-1]}"
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _word(number: int) -> str:
    return _WORDS[number] if number < len(_WORDS) else str(number)


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{_word(number)} times")


def _wrapped(text: str, label: str) -> list[str]:
    indent = 9 if label else 0
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=f"{label:>7}  " if label else "",
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
