"""A path in words: what she would tell a friend who sits at the machine.

A *step* is what is done between two stops.  A *run* is all that is sewn along one line, ring or
patch, whatever stops it takes (`words_runs`).  Names are the trade's, directions those of the top
as she sees it, lines are counted from the top or from the left.
"""

import itertools
from collections.abc import Iterator, Sequence

from seamwalk.model.route import NodeId, Route, RunWords, StepWords, Thread
from seamwalk.model.sizes import BlockSize
from seamwalk.routing.telling.bobbin_words import bobbin_words
from seamwalk.routing.telling.directions import place
from seamwalk.routing.telling.figures import figures
from seamwalk.routing.telling.patch_places import patch_places
from seamwalk.routing.telling.phrases import Told, and_back, run_place, run_words
from seamwalk.routing.telling.runs import Run, gathered, passes_of, runs_of
from seamwalk.units import Units

MOST_PARTS = 4
"""Runs told of one step; more cannot be kept in mind."""


def in_words(
    route: Route, units: Units, block: BlockSize | None = None
) -> tuple[tuple[StepWords, ...], tuple[RunWords, ...]]:
    """Return every step and every run of a route as sentences, in the order of sewing.

    Parameters
    ----------
    route : Route
        With numbered steps.
    units : {"in", "cm"}
        Of all lengths.
    block : BlockSize, optional
        What the top repeats: patches are told by their blocks.

    Returns
    -------
    steps : tuple of StepWords
        One for each step number.
    runs : tuple of RunWords
        Each thread's start, its runs, its end, and the changes of bobbin before what they precede.
    """
    known = figures(route.network)
    told = Told(known, units, patch_places(route.network, known.box, units, block))
    sewn = route.begun.done if route.begun is not None else ()
    threads = passes_of(route.network, route.threads, sewn)
    changes = bobbin_words(route, units)
    steps: list[StepWords] = []
    runs: list[RunWords] = []
    margin = _margin(route)
    for number, (thread, passes) in enumerate(zip(route.threads, threads, strict=True)):
        if not passes:
            continue
        mine = {leg: words for (at, leg), words in changes.items() if at == number}
        first, last = passes[0].step, passes[-1].step
        goes_on = number == 0 and route.begun is not None and route.begun.goes_on
        start, end = _ends(route, thread, margin, told, goes_on=goes_on)
        runs += [RunWords(number, first, first, words) for words in mine.get(0, ())]
        runs.append(RunWords(number, first, first, start))
        found: list[Run] = []
        # A run that goes on after a change of bobbin is told in two parts.
        for a, b in itertools.pairwise(sorted({0, *mine, len(passes)})):
            part = runs_of(passes[a:b], told.known)
            if a:
                runs += [RunWords(number, passes[a].step, passes[a].step, w) for w in mine[a]]
            runs += _runs(number, gathered(part, told.known), told)
            found += part
        runs.append(RunWords(number, last, last, end))
        texts = dict(_steps(found, told))
        for leg, words in mine.items():
            step = passes[leg].step
            begins = leg == 0 or passes[leg - 1].step != step
            order = (*words, texts[step]) if begins else (texts[step], *words)
            texts[step] = (", then " if begins else ", on the way ").join(order)
        steps += [StepWords(s, text) for s, text in texts.items()]
    return tuple(steps), tuple(runs)


def _runs(number: int, long: Sequence[Run], told: Told) -> Iterator[RunWords]:
    """Yield the runs of a thread, a line sewn there and back as one."""
    i = 0
    while i < len(long):
        run = long[i]
        after = long[i + 1] if i + 1 < len(long) else None
        first, last = run.passes[0].step, run.passes[-1].step
        if after is not None and (text := and_back(run, after, told)):
            yield RunWords(number, first, after.passes[-1].step, text)
            i += 2
            continue
        yield RunWords(number, first, last, run_words(run, told, after), run_place(run, told))
        i += 1


def _margin(route: Route) -> set[NodeId]:
    pieces = route.network.pieces.values()
    return {n for p in pieces if p.stroke.kind == "edge" for n in (p.u, p.v)}


def _ends(
    route: Route, thread: Thread, margin: set[NodeId], told: Told, *, goes_on: bool
) -> tuple[str, str]:
    """Return how a thread starts and ends."""
    network = route.network
    first, last = thread.legs[0], thread.legs[-1]
    a, b = network.pieces[first.piece], network.pieces[last.piece]
    u, v = (a.v if first.reverse else a.u), (b.u if last.reverse else b.v)
    where = [
        place(network.nodes[n], told.known.box, told.units, in_margin=n in margin) for n in (u, v)
    ]
    start = "go on from where the needle is" if goes_on else f"start {where[0]}"
    if v in margin:
        return start, f"end in the margin, {where[1]}"
    return start, f"end {where[1]}: bury the thread"


def _steps(found: Sequence[Run], told: Told) -> Iterator[tuple[int, str]]:
    """Yield each step of a thread with the runs, or parts of runs, that it holds."""
    parts = [
        (step, Run(run.key, tuple(mine)))
        for run in found
        for step, mine in itertools.groupby(run.passes, key=lambda p: p.step)
    ]
    for step, group in itertools.groupby(parts, key=lambda part: part[0]):
        runs = [run for _, run in group]
        words = [run_words(run, told, None) for run in runs[:MOST_PARTS]]
        if len(runs) > MOST_PARTS:
            words.append(f"and on through {len(runs) - MOST_PARTS} more")
        yield step, ", then ".join(words)
