"""Threads cut into runs: legs in a row that one name tells.

Each leg has the names of all figures that it belongs to; a run goes on as long as its legs share
one.  Whatever part of a run is looked at shares that name too, so that taking each run as long as
it goes gives the fewest runs.  Pivots do not end a run, nor does a short way between two pieces
of one figure: they would shred what the hands do as one.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from seamwalk.geometry.curve import Curve
from seamwalk.model.route import Network, Piece, PieceId, Thread
from seamwalk.routing.telling.figure_names import Key
from seamwalk.routing.telling.figures import TRAVEL, Figures

RANK = {"line": 0, "fan": 0, "chain": 1, "patch": 2, "stream": 3, "travel": 4}
"""Which name is told where several hold: the one that tells most exactly where."""


SWEEP: Key = ("sweep", 0)
"""Arcs that run straight on through junctions, along no line and in no one patch."""

FEW = 2
"""Legs of a run that tells little by itself."""


DITCHES: Key = ("ditches", 0)
"""Short ditches in a row that have no number, as in a log cabin."""


@dataclass(frozen=True, slots=True, eq=False)
class Pass:
    """A leg with what is told of it.

    Attributes
    ----------
    curve : Curve
        In the direction of sewing.
    travel : bool
        Sewn only to get elsewhere: not required, or once more.
    step : int
        Number of its step.
    """

    piece: Piece
    curve: Curve
    travel: bool
    step: int


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Legs in a row, and the figure that they share."""

    key: Key
    passes: tuple[Pass, ...]


def passes_of(
    network: Network, threads: Iterable[Thread], sewn: Iterable[PieceId] = ()
) -> list[list[Pass]]:
    """Return the legs of each thread; pieces of `sewn` were sewn before."""
    before = set(sewn)
    out = []
    for thread in threads:
        mine = []
        for leg in thread.legs:
            piece = network.pieces[leg.piece]
            travel = not piece.stroke.required or leg.piece in before
            before.add(leg.piece)
            curve = piece.curve.reversed() if leg.reverse else piece.curve
            mine.append(Pass(piece, curve, travel, leg.step))
        out.append(mine)
    return out


def runs_of(thread: Sequence[Pass], known: Figures) -> list[Run]:
    """Return the fewest runs that a thread falls into."""
    keys = _shared_over_gaps(thread, [_keys(p, known) for p in thread])
    out: list[Run] = []
    shared: frozenset[tuple[Key, int]] = frozenset()
    first = 0
    for i, mine in enumerate(keys):
        if i > first and not shared & mine:
            out.append(_run(thread[first:i], shared))
            first = i
        shared = mine if i == first else shared & mine
    if thread:
        out.append(_run(thread[first:], shared))
    return _swept(out)


def gathered(runs: Sequence[Run], known: Figures) -> list[Run]:
    """Return the runs with ditches that have no number, more than a few in a row, as one."""

    def is_ditch(run: Run) -> bool:
        figure = known.figure.get(run.key)
        return figure is not None and figure.name == "ditch"

    out: list[Run] = []
    for alike, group in itertools.groupby(runs, key=lambda r: is_ditch(r) or r.key == TRAVEL):
        mine = list(group)
        places = [i for i, run in enumerate(mine) if is_ditch(run)]
        if not alike or len(places) <= FEW:
            out += mine
            continue
        first, last = places[0], places[-1] + 1
        whole = Run(DITCHES, tuple(p for run in mine[first:last] for p in run.passes))
        out += [*mine[:first], whole, *mine[last:]]
    return out


def _swept(runs: Sequence[Run]) -> list[Run]:
    """Return the runs with short ones that follow without a stop as one sweep.

    Where a path goes straight on at every junction, that is all she needs to know.
    """
    out: list[Run] = []
    for _, group in itertools.groupby(runs, key=_sweep_of):
        mine = list(group)
        if _sweep_of(mine[0]) is None or len(mine) <= FEW:
            out += mine
        else:
            out.append(Run(SWEEP, tuple(p for run in mine for p in run.passes)))
    return out


def _sweep_of(run: Run) -> tuple[str, int] | None:
    """Return the motif and step of a short run of arcs that are told by patch or line alone."""
    first, last = run.passes[0], run.passes[-1]
    short = len(run.passes) <= FEW and first.step == last.step
    if not short or run.key[0] not in ("patch", "chain"):
        return None
    if any(p.travel or p.piece.stroke.kind != "motif" for p in run.passes):
        return None
    return first.piece.stroke.motif, first.step


def _run(passes: Sequence[Pass], shared: frozenset[tuple[Key, int]]) -> Run:
    single = sum(not p.travel for p in passes) == 1

    def rank(entry: tuple[Key, int]) -> tuple[bool, int, str]:
        sort = entry[0][0]
        # One arch alone is told by its patch: it runs along no line yet.
        alone = single and sort == "chain" and passes[0].piece.stroke.patch is not None
        return alone, RANK[sort], str(entry)

    return Run(min(shared, key=rank)[0], tuple(passes))


def _keys(one: Pass, known: Figures) -> frozenset[tuple[Key, int]]:
    """Return the figures of a leg, each with the sense in which it is run along."""
    out: list[tuple[Key, int]] = []
    if one.travel:
        out.append((TRAVEL, 0))
    for key in known.of[one.piece.id]:
        # Travel along a ditch that was sewn is travel, not that ditch again.
        if one.travel and key[0] != "patch":
            continue
        axis = known.figure[key].axis
        sense = 0
        if key[0] == "stream":
            # Across rows: down all the time, or up.
            sense = 1 if one.curve.end[1] > one.curve.start[1] else -1
        elif axis is not None and key[0] in ("line", "chain"):
            (x0, y0), (x1, y1) = one.curve.start, one.curve.end
            ahead = (x1 - x0) * axis.along[0] + (y1 - y0) * axis.along[1]
            sense = 1 if ahead > 0 else -1
        out.append((key, sense))
    return frozenset(out)


def _shared_over_gaps(
    thread: Sequence[Pass], keys: list[frozenset[tuple[Key, int]]]
) -> list[frozenset[tuple[Key, int]]]:
    """Return the keys with short ways between two pieces of one figure counted to it."""
    out = list(keys)
    wanted = [i for i, p in enumerate(thread) if not p.travel]
    for a, b in itertools.pairwise(wanted):
        gap = thread[a + 1 : b]
        if not gap:
            continue
        shared = keys[a] & keys[b]
        way = sum(p.curve.length for p in gap)
        if shared and way <= thread[a].curve.length + thread[b].curve.length:
            for i in range(a + 1, b):
                out[i] = out[i] | shared
    return out
