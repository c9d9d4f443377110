"""Seam lines: maximal chains of seams that run straight on through junctions.

At each junction the seams that leave it in most nearly opposite directions are paired, straightest
pair first, as long as they bend by no more than a limit.  Paired seams follow one another in a
line, so that every seam belongs to exactly one line.  The same holds for any other segments that
meet end to end, like the diagonals of squares.
"""

import math
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from seamwalk.geometry.curve import Point
from seamwalk.model.top import Seam, SeamId
from seamwalk.motifs.area import Area

STRAIGHT_ON_DEG = 15.0
"""Largest bend at a junction that still counts as straight on, degrees: half of what is steered
through without a pivot."""

Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Segment:
    """Something straight between two places.

    Attributes
    ----------
    ends : (Hashable, Hashable)
        What the places are called; segments with an end in common meet there.
    start, end : Point
        Where the places are.
    """

    ends: tuple[Hashable, Hashable]
    start: Point
    end: Point

    @property
    def heading_rad(self) -> float:
        """Direction from start to end."""
        return math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])


@dataclass(frozen=True, slots=True)
class StraightLine(Generic[Key]):
    """Segments in the order of the line.

    Attributes
    ----------
    segments : tuple of (key, bool)
        True when the segment is run from its last end to its first.
    closed : bool
        The last segment runs on into the first.
    """

    segments: tuple[tuple[Key, bool], ...]
    closed: bool = False


def seam_lines(
    area: Area, seams: Iterable[Seam], *, straight_on_deg: float = STRAIGHT_ON_DEG
) -> tuple[StraightLine[SeamId], ...]:
    """Return the maximal straight-on chains over `seams`, each seam in exactly one of them."""
    at = area.junctions
    segments = {s.id: Segment(s.ends, at[s.ends[0]].xy, at[s.ends[1]].xy) for s in seams}
    return straight_lines(segments, straight_on_deg=straight_on_deg)


def straight_lines(
    segments: Mapping[Key, Segment], *, straight_on_deg: float = STRAIGHT_ON_DEG
) -> tuple[StraightLine[Key], ...]:
    """Return the maximal straight-on chains, each segment in exactly one of them.

    Parameters
    ----------
    segments : mapping of key to Segment
        In an order that decides nothing but the order and direction of the lines.
    straight_on_deg : float
        Largest bend at a junction, degrees.
    """
    at: dict[Hashable, list[tuple[Key, float]]] = {}
    for key, segment in segments.items():
        at.setdefault(segment.ends[0], []).append((key, segment.heading_rad))
        at.setdefault(segment.ends[1], []).append((key, segment.heading_rad + math.pi))
    follows: dict[tuple[Key, Hashable], Key] = {}
    for place, leaving in at.items():
        for one, other in _pairs(leaving, math.radians(straight_on_deg)):
            follows[one, place] = other
            follows[other, place] = one
    lines: list[StraightLine[Key]] = []
    done: set[Key] = set()
    for key in segments:
        if key not in done:
            line = _line_through(key, segments, follows)
            done.update(k for k, _ in line.segments)
            lines.append(line)
    return tuple(lines)


def _pairs(leaving: list[tuple[Key, float]], limit_rad: float) -> list[tuple[Key, Key]]:
    """Return pairs that leave one place in opposite directions, straightest first."""
    bends = sorted(
        (
            (abs(math.remainder(h1 - h0 - math.pi, 2 * math.pi)), s0, s1)
            for i, (s0, h0) in enumerate(leaving)
            for s1, h1 in leaving[i + 1 :]
            if s0 != s1
        ),
        key=lambda pair: pair[0],
    )
    taken: set[Key] = set()
    out: list[tuple[Key, Key]] = []
    for bend, s0, s1 in bends:
        if bend <= limit_rad and not taken & {s0, s1}:
            taken |= {s0, s1}
            out.append((s0, s1))
    return out


def _line_through(
    first: Key,
    segments: Mapping[Key, Segment],
    follows: dict[tuple[Key, Hashable], Key],
) -> StraightLine[Key]:
    """Return the line that `first` belongs to, run so that `first` keeps its own direction."""
    ahead: list[tuple[Key, bool]] = [(first, False)]
    here, place = first, segments[first].ends[1]
    while (here, place) in follows:
        here = follows[here, place]
        if here == first:
            return StraightLine(tuple(ahead), closed=True)
        backwards = segments[here].ends[1] == place
        ahead.append((here, backwards))
        place = segments[here].ends[0 if backwards else 1]
    behind: list[tuple[Key, bool]] = []
    here, place = first, segments[first].ends[0]
    while (here, place) in follows:
        here = follows[here, place]
        backwards = segments[here].ends[0] == place
        behind.append((here, backwards))
        place = segments[here].ends[1 if backwards else 0]
    return StraightLine((*reversed(behind), *ahead))
