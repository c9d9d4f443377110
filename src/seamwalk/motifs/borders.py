"""Borders: sides that run round the top, and how their corners are sewn.

Where one side ends and another starts round to the right, the corner is *mitred* if they share the
end's seam, *butted* if one ends on the other's long side, flush with its end, and has a *corner
square* if both end on the same four-sided patch of the region, in a border that goes all the way
round.  A side may seem to turn into two others, where borders lie inside one another: it turns
into the one of its own level and width.
"""

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import shapely

from seamwalk.model.top import PatchId
from seamwalk.motifs.border_sides import (
    Beyond,
    BorderSide,
    Piece,
    between,
    beyond_sides,
    crossing,
    flush,
    meeting,
    runs_of,
    side_of,
)
from seamwalk.motifs.motif import Region

Corner = Literal["open", "butted", "mitred", "corner square"]

TURN_DEG = (30.0, 150.0)
"""How much a border turns at a corner, degrees."""

ALIKE = 0.75
"""Strips whose level and width differ by more than this share of the wider one belong to different
borders."""


@dataclass(frozen=True, slots=True)
class Border:
    """Strips that follow one another.

    Attributes
    ----------
    sides : tuple of BorderSide
        In their way round.
    corners : tuple of Corner
        What comes after each strip; after the last ``open``, or the corner to the first.
    squares : tuple of PatchId
        Corner squares between them.
    """

    sides: tuple[BorderSide, ...]
    corners: tuple[Corner, ...]
    squares: tuple[PatchId, ...] = ()

    @property
    def closed(self) -> bool:
        """True when the last strip turns into the first."""
        return self.corners[-1] != "open"

    @property
    def patches(self) -> frozenset[PatchId]:
        """All pieces and corner squares."""
        return frozenset([*self.squares, *(p for s in self.sides for p in s.patches)])


@dataclass(frozen=True, slots=True)
class _Turn:
    """A strip that may turn into another one, by their numbers."""

    cost: float
    one: int
    other: int
    corner: Corner
    square: PatchId | None = None


def borders(region: Region) -> tuple[Border, ...]:
    """Return the borders and single strips that the region's patches make."""
    neighbours = beyond_sides(region)
    runs = list(runs_of(region, neighbours))
    sides = [side_of(run) for run in runs]
    turns = sorted(_turns(region, runs, sides, neighbours), key=lambda t: t.cost)
    after: dict[int, _Turn] = {}
    before: set[int] = set()
    for turn in turns:
        if turn.one not in after and turn.other not in before:
            after[turn.one] = turn
            before.add(turn.other)
    out: list[Border] = []
    done: set[int] = set()
    # Open borders first: what is left then goes round.
    for first in sorted(range(len(sides)), key=lambda k: k in before):
        if first in done:
            continue
        order, links = [first], list[_Turn]()
        while order[-1] in after:
            links.append(after[order[-1]])
            if links[-1].other == first:
                break
            order.append(links[-1].other)
        done.update(order)
        out += _borders([sides[k] for k in order], links)
    return tuple(out)


def _borders(sides: list[BorderSide], turns: list[_Turn]) -> Iterator[Border]:
    """Yield the border that sides make, in parts between corner squares if it is open."""
    if len(turns) == len(sides):
        yield _border(sides, turns)
        return
    first = 0
    for k, turn in enumerate(turns):
        if turn.corner == "corner square":
            yield _border(sides[first : k + 1], turns[first:k])
            first = k + 1
    yield _border(sides[first:], turns[first:])


def _turns(
    region: Region,
    runs: list[list[Piece]],
    sides: list[BorderSide],
    neighbours: Beyond,
) -> Iterator[_Turn]:
    """Yield every way in which a side may turn into another one of its level and width."""
    level = [_off_line(region, side) for side in sides]
    low, high = (math.radians(a) for a in TURN_DEG)
    for one, other, corner, square in _meetings(region, runs, sides, neighbours):
        a, b = sides[one], sides[other]
        turn = math.remainder(b.heading_rad - a.heading_rad, 2 * math.pi)
        cost = abs(level[one] - level[other]) + abs(a.width_in - b.width_in)
        if one != other and low < turn < high and cost < ALIKE * max(a.width_in, b.width_in):
            yield _Turn(cost, one, other, corner, square)


def _meetings(
    region: Region,
    runs: list[list[Piece]],
    sides: list[BorderSide],
    neighbours: Beyond,
) -> Iterator[tuple[int, int, Corner, PatchId | None]]:
    """Yield which side's end meets which side's start, how, and in which corner square."""
    starts = {run[0].patch: k for k, run in enumerate(runs)}
    ends = {run[-1].patch: k for k, run in enumerate(runs)}
    # What lies beyond the ends of pieces, and which pieces end there.
    crossed: dict[PatchId, set[PatchId]] = {}
    for piece in (p for run in runs for p in run):
        for patch in piece.before | piece.after:
            crossed.setdefault(patch, set()).add(piece.patch)
    for k, run in enumerate(runs):
        last, first = run[-1], run[0]
        for other in sorted(last.after):
            if other in starts:
                meets = runs[starts[other]][0]
                if last.patch in meets.before:
                    yield k, starts[other], "mitred", None
                elif last.patch in meets.beyond and flush(sides[k].outer[1], meets.inner[0]):
                    yield k, starts[other], "butted", None
            elif other in region.patches:
                round_to = _turned(neighbours.get(other, {}), last.patch, crossed.get(other, ()))
                for p in round_to:
                    if p in starts:
                        yield k, starts[p], "corner square", other
        for other in sorted(first.before):
            if other in ends:
                meets = runs[ends[other]][-1]
                if first.patch in meets.beyond and flush(sides[k].outer[0], meets.inner[1]):
                    yield ends[other], k, "butted", None


def _turned(
    beyond: dict[int, set[PatchId]], patch: PatchId, ending: Collection[PatchId]
) -> list[PatchId]:
    """Return what starts round to the right of a corner square that `patch` ends on.

    Nothing does where a strip goes on straight beyond the square: that is a cornerstone of
    sashing.
    """
    side = next((k for k, p in beyond.items() if patch in p), None)
    if side is None or beyond.get((side + 2) % 4, set()) & set(ending):
        return []
    return sorted(beyond.get((side - 1) % 4, ()))


def _off_line(region: Region, side: BorderSide) -> float:
    """Return how far inside the binding line a side's outer side lies."""
    spot = shapely.Point(between(*side.outer))
    return float(region.area.binding.exterior.distance(spot))


def _border(sides: list[BorderSide], turns: list[_Turn]) -> Border:
    """Return the border with each strip's lines run on to where they meet the next one's."""
    out = list(sides)
    for k in range(len(turns)):
        i = (k + 1) % len(out)
        a, b = sides[k], sides[i]
        outer = meeting(a.outer, b.outer)
        inner = meeting(a.inner, b.inner)
        centre = crossing(a.centre, b.centre)
        out[k] = replace(
            out[k],
            outer=(out[k].outer[0], outer),
            inner=(out[k].inner[0], inner),
            centre=(out[k].centre[0], centre),
        )
        out[i] = replace(
            out[i],
            outer=(outer, out[i].outer[1]),
            inner=(inner, out[i].inner[1]),
            centre=(centre, out[i].centre[1]),
        )
    corners: list[Corner] = [t.corner for t in turns]
    if len(corners) < len(sides):
        corners.append("open")
    squares = tuple(t.square for t in turns if t.square is not None)
    return Border(tuple(out), tuple(corners), squares)
