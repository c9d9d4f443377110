"""The route as it is drawn: runs in the order of stitching, and the places to stop.

A piece that is stitched twice gives two runs.  What tells runs apart is their *style*:

``first``   stitching for its look, a first pass
``second``  the second pass of a seam line, or of a piece that is stitched again
``travel``  stitched only to get elsewhere, in the ditch or in the margin
"""

import itertools
import math
from collections import Counter
from dataclasses import dataclass
from typing import Literal

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.route import Piece, PieceId, Route
from seamwalk.model.stitching import StrokeKind

Style = Literal["first", "second", "travel"]

MOST_NUMBERS = 30
"""With more steps than this only every 2nd, 5th, 10th … has its number on a picture."""


@dataclass(frozen=True, slots=True)
class Run:
    """One leg as drawn.

    Attributes
    ----------
    curve : Curve
        In the direction of stitching.
    side : {-1, 0, 1}
        Which way to move the line aside where the same piece is stitched twice: 1 to the right
        of the stitching direction on the page, 0 when it is stitched once.
    thread : int
        From 0.
    step : int
        As numbered in the plan; 0 when it has no numbers.
    from_in, to_in : float
        Distance stitched at its start and end, over all threads, inches.
    """

    curve: Curve
    piece: PieceId
    kind: StrokeKind
    style: Style
    side: Literal[-1, 0, 1]
    thread: int
    step: int
    from_in: float
    to_in: float


@dataclass(frozen=True, slots=True)
class Stop:
    """A thread's start or end, or the start of a numbered step."""

    at: Point
    heading_rad: float
    kind: Literal["start", "step", "end"]
    thread: int
    step: int


def runs(route: Route) -> tuple[Run, ...]:
    """Return every leg of every thread, in order."""
    pieces = route.network.pieces
    times = Counter(leg.piece for thread in route.threads for leg in thread.legs)
    seen: Counter[PieceId] = Counter()
    out: list[Run] = []
    done = 0.0
    for number, thread in enumerate(route.threads):
        for leg in thread.legs:
            piece = pieces[leg.piece]
            seen[leg.piece] += 1
            side = 0
            if times[leg.piece] > 1:
                # Fixed to the piece, not to the direction: two passes never share a side.
                side = 1 if seen[leg.piece] % 2 else -1
                side = -side if leg.reverse else side
            curve = piece.curve.reversed() if leg.reverse else piece.curve
            length = curve.length
            out.append(
                Run(
                    curve,
                    leg.piece,
                    piece.stroke.kind,
                    _style(piece, seen[leg.piece]),
                    side,  # type: ignore[arg-type]
                    number,
                    leg.step,
                    done,
                    done + length,
                )
            )
            done += length
    return tuple(out)


def _style(piece: Piece, time: int) -> Style:
    if not piece.stroke.required:
        return "travel"
    return "second" if piece.stroke.pass_no > 1 or time > 1 else "first"


def stops(walk: tuple[Run, ...]) -> tuple[Stop, ...]:
    """Return where threads start and end and where each step begins, in order."""
    out: list[Stop] = []
    for i, run in enumerate(walk):
        before = walk[i - 1] if i else None
        after = walk[i + 1] if i + 1 < len(walk) else None
        begins = before is None or before.thread != run.thread
        if begins or (before is not None and before.step != run.step):
            kind: Literal["start", "step"] = "start" if begins else "step"
            heading = run.curve.start_heading_rad
            out.append(Stop(run.curve.start, heading, kind, run.thread, run.step))
        if after is None or after.thread != run.thread:
            heading = run.curve.end_heading_rad
            out.append(Stop(run.curve.end, heading, "end", run.thread, run.step))
    return tuple(out)


def numbered_every(steps: int, most: int = MOST_NUMBERS) -> int:
    """Return k where every k-th step has its number on a picture: 1, 2, 5, 10 …

    Parameters
    ----------
    steps : int
        All but the starts of threads, which are marked anyway.
    """
    every = (k * int(10**e) for e in itertools.count() for k in (1, 2, 5))
    return next(k for k in every if steps <= most * k)


def length_in(walk: tuple[Run, ...]) -> float:
    """Return the whole stitched length, inches."""
    return walk[-1].to_in if walk else 0.0


def chopped(run: Run, total_in: float, steps: int) -> list[tuple[Curve, float]]:
    """Return the run cut where the sequence colour changes: (curve, share of the way) pairs.

    Parameters
    ----------
    total_in : float
        Length of the whole path, inches.
    steps : int
        Number of colours over the whole path.
    """
    if run.to_in - run.from_in <= 0 or total_in <= 0:
        return []
    first = math.floor(run.from_in / total_in * steps)
    last = math.ceil(run.to_in / total_in * steps)
    cuts = [k * total_in / steps for k in range(first + 1, last)]
    edges = [run.from_in, *cuts, run.to_in]
    out = []
    for a, b in itertools.pairwise(edges):
        if b - a > 1e-9 * total_in:
            whole = a == run.from_in and b == run.to_in
            curve = run.curve if whole else run.curve.part(a - run.from_in, b - run.from_in)
            out.append((curve, (a + b) / 2 / total_in))
    return out
