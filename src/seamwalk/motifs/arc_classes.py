"""Which arcs are alike: those of nearly equal chord and depth are drawn round one circle."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TypeVar

import numpy as np

from seamwalk.geometry.curve import Point
from seamwalk.model.circles import ArcClass, Over
from seamwalk.model.top import PatchId
from seamwalk.motifs.circles import diameter_for, overlap_rise, rise_for
from seamwalk.motifs.outlines import Side


@dataclass(frozen=True, slots=True)
class ClassSettings:
    """When two arcs are alike."""

    length_gap: float = 0.03
    """Chords fall into two classes where their lengths jump by more than this share: finished
    sizes differ by 1/4 in, 8 % of a 3 in patch."""
    length_span: float = 0.15
    """No class is wider than this share, or its patches would not look alike."""
    depth_gap: float = 0.06
    """The same for the depths within a length: a corner wobbles by 2° or 3 %."""
    depth_span: float = 0.25
    """No class of depths is wider than this share."""
    facing_deg: float = 15.0
    """Sides that lean no more than this towards one another face each other, degrees: logs and
    strips do, the sides of a triangle or diamond at a corner don't."""


ALIKE = ClassSettings()

SAME_SIDE = 1e-3
"""Share of a chord: nearer than this a side is the one that the chord is drawn over."""


@dataclass(frozen=True, slots=True)
class WishedArc:
    """One arc before its circle is chosen.

    Attributes
    ----------
    chord_in : float
        From end to end, inches.
    wish_in, most_in : float
        Rise that is wished for, and the greatest that its patch and the foot allow, inches.
    corner_rad : float or None
        Smaller of the corners that it starts and ends in, which an equal neighbour shares;
        None where there is no such neighbour.
    patch : PatchId or None
        Patch it belongs to.
    facing_in : float or None
        Rise at which it meets an equal arc on the facing side of its patch, inches; None where
        there is no such side.
    """

    chord_in: float
    wish_in: float
    most_in: float
    corner_rad: float | None = None
    patch: PatchId | None = None
    facing_in: float | None = None


Item = TypeVar("Item")


def alike(
    items: Iterable[Item], arc: Callable[[Item], WishedArc], settings: ClassSettings = ALIKE
) -> list[list[Item]]:
    """Return items in groups of nearly equal chord and depth."""
    out: list[list[Item]] = []
    lengths = _parted(items, lambda i: arc(i).chord_in, settings.length_gap, settings.length_span)
    for group in lengths:
        out += _parted(
            group,
            lambda i: arc(i).wish_in / arc(i).chord_in,
            settings.depth_gap,
            settings.depth_span,
        )
    return out


def _parted(
    items: Iterable[Item], key: Callable[[Item], float], gap: float, span: float
) -> list[list[Item]]:
    """Return sorted items, cut at the widest gaps until no run has a wider one or is too wide.

    Gaps and spans are shares of the value, by logarithms.
    """
    ordered = sorted(items, key=key)
    at = np.log([key(item) for item in ordered]) if ordered else np.zeros(0)
    steps = np.diff(at)
    out: list[list[Item]] = []
    waiting = [(0, len(ordered))] if ordered else []
    while waiting:
        first, last = waiting.pop()
        widest = int(steps[first : last - 1].argmax()) + first if last - first > 1 else first
        if last - first > 1 and (
            steps[widest] > math.log1p(gap) or at[last - 1] - at[first] > math.log1p(span)
        ):
            waiting += [(widest + 1, last), (first, widest + 1)]
        else:
            out.append(ordered[first:last])
    return out


def facing_rise(
    start: Point, end: Point, sides: Iterable[Side], settings: ClassSettings = ALIKE
) -> float | None:
    """Return the rise at which an arc over a chord meets an equal one on the facing side.

    That is half of the way across: two equal arcs that bow towards one another meet in the middle.
    A side faces the chord if it runs nearly the other way round the patch and is about as long.

    Parameters
    ----------
    sides : iterable of Side
        Of the patch that the arc bows into, those that get arcs.

    Returns
    -------
    float or None
        Inches; None where no side faces the chord.
    """
    chord = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    found: list[float] = []
    for side in sides:
        (ax, ay), (bx, by) = side.whole
        along = ((bx - ax) * ux + (by - ay) * uy) / side.chord_in
        across = abs(((ax + bx) / 2 - start[0]) * uy - ((ay + by) / 2 - start[1]) * ux)
        alike_long = abs(math.log(side.chord_in / chord)) <= math.log1p(settings.length_span)
        if abs(along) >= math.cos(math.radians(settings.facing_deg)) and alike_long:
            found.append(across / 2)
    # The chord's own side lies at no distance.
    return min((rise for rise in found if rise > SAME_SIDE * chord), default=None)


def free_class(
    motif: str,
    over: Over,
    wished_diameter_in: float,
    smallest_in: float,
    count: int,
    patches: Iterable[PatchId],
) -> ArcClass:
    """Return what the circle for arcs that take its size has to do.

    Parameters
    ----------
    wished_diameter_in : float
        Circle that the motif would draw them with.
    smallest_in : float
        Smallest circle that the foot goes round, inches.
    count : int
        Arcs drawn.
    """
    d = wished_diameter_in
    return ArcClass(
        motif, over, tuple(sorted(patches)), count, d, d, d / 2, smallest_in / 2, math.inf
    )


def arc_class(
    arcs: Sequence[WishedArc],
    *,
    motif: str,
    over: Over,
    wished_diameter_in: float,
    smallest_in: float,
    least_in: float,
    count: int | None = None,
) -> ArcClass:
    """Return what the circle for a group of arcs has to do.

    Parameters
    ----------
    arcs : sequence of WishedArc
        Alike.
    wished_diameter_in : float
        Circle that the motif would draw them with.
    smallest_in : float
        Smallest circle that the foot goes round, inches.
    least_in : float
        Rise below which an arc is none, inches.
    count : int, optional
        Arcs drawn; by default one for each given.
    """
    chord = float(median(a.chord_in for a in arcs))
    # The smallest circle that suits the tightest of them; a rise over half the chord is none.
    smallest = max(
        smallest_in, *(diameter_for(a.chord_in, min(a.most_in, a.chord_in / 2)) for a in arcs)
    )
    most = rise_for(chord, max(smallest, chord))
    corners = [a.corner_rad for a in arcs]
    shares = [
        overlap_rise(a.chord_in, a.corner_rad) / a.chord_in
        for a in arcs
        if a.corner_rad is not None
    ]
    facing = [chord * a.facing_in / a.chord_in for a in arcs if a.facing_in is not None]
    return ArcClass(
        motif,
        over,
        tuple(sorted({a.patch for a in arcs if a.patch is not None})),
        len(arcs) if count is None else count,
        chord,
        max(a.chord_in for a in arcs),
        min(rise_for(chord, max(wished_diameter_in, chord)), most),
        least_in,
        most,
        None if None in corners else chord * float(median(shares)),
        min(facing) if facing else None,
    )
