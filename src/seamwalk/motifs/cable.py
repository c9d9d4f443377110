"""Cable: strands of arcs that cross one another along a border and turn its corners.

A strand is a row of equal arcs on alternating sides of the border's middle line; each takes over
in the direction in which the one before it arrives.  The other strands are the same, shifted by an
equal share of two arcs; they cross in passing, without stops.  Chords are fitted to each side so
that whole arcs fill it.

Corners are turned by one arc for each strand.  A strand leaves a side at some distance from the
corner and comes back on the next side as its mirror image in the corner's bisector, at the same
distance; a place and a direction are joined to their mirror images by exactly one arc, and it
goes on smoothly at both ends.  Strands off the middle line may need a biarc, since the arcs of two
sides are not quite alike.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from seamwalk.geometry.arc_fit import arc_over
from seamwalk.geometry.biarc import biarc
from seamwalk.geometry.curve import Arc, Curve, Line, Piece, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.circles import ArcClass
from seamwalk.model.stitching import Marking, Stroke
from seamwalk.motifs.arc_classes import WishedArc, alike, free_class
from seamwalk.motifs.border_sides import BorderSide
from seamwalk.motifs.borders import Border, borders
from seamwalk.motifs.cable_shape import CableSettings, CableShape, drawn_round, fitted
from seamwalk.motifs.circles import rise_at_tangent
from seamwalk.motifs.instead import instead
from seamwalk.motifs.laid_over import Laid, laid_over
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.units import Units

BEYOND = 0.15
"""How far strands are drawn on past an open end, to be cut at the seam there, in chords."""

ALIKE_RAD = 1e-6
"""Directions that differ by less are one, radians: rounding."""


@dataclass(frozen=True, slots=True)
class _Run:
    """The middle line of a side between the places where strands turn into and out of it."""

    start: Point
    heading_rad: float
    chord: float
    count: int
    tangent_rad: float

    @property
    def radius(self) -> float:
        return self.chord / 2 / math.sin(self.tangent_rad)

    def place(self, along: float, out: float) -> Point:
        """Return the place at a distance along the run, and outwards from it."""
        c, s = math.cos(self.heading_rad), math.sin(self.heading_rad)
        return (self.start[0] + along * c + out * s, self.start[1] + along * s - out * c)

    def arcs(self, phase: float, low: float, high: float) -> list[Piece]:
        """Return the arcs of a strand between two distances along the run.

        Parameters
        ----------
        phase : float
            How many chords the strand has behind it at 0; even ones bow outwards.
        low, high : float
            Distances, inches.
        """
        out: list[Piece] = []
        r, c = self.radius, self.chord
        first, last = math.floor(low / c + phase + 1e-9), math.ceil(high / c + phase - 1e-9)
        for k in range(first, last):
            middle = (k + 0.5 - phase) * c
            side = 1 if k % 2 == 0 else -1
            turn = [
                math.asin(min(1.0, max(-1.0, (x - middle) / r)))
                for x in (max(low, middle - c / 2), min(high, middle + c / 2))
            ]
            sunk = r * math.cos(self.tangent_rad)
            ends = [
                self.place(middle + r * math.sin(t), side * (r * math.cos(t) - sunk)) for t in turn
            ]
            start = out[-1].end if out else ends[0]
            centre = self.place(middle, -side * sunk)
            out.append(Arc(start, ends[1], centre, side * (turn[1] - turn[0])))
        return out


@dataclass(frozen=True, slots=True)
class _Fitted:
    """A border with the arcs that suit it, and what they are marked with."""

    border: Border
    shape: CableShape
    marking: Marking = "circle"

    @property
    def wished(self) -> WishedArc:
        """The circle of the first side's arcs, as an arc that is half of it."""
        diameter = self.chord_in / math.sin(self.shape.tangent_rad)
        return WishedArc(diameter, diameter / 2, math.inf)

    @property
    def chord_in(self) -> float:
        """From one crossing of the middle line to the next, along the first side."""
        length = self.border.sides[0].length_in - self.shape.corners_in[0]
        return (length - self.shape.corners_in[-1]) / self.shape.counts[0]

    @property
    def rise_in(self) -> float:
        """How far the first side's arcs rise over the middle line."""
        return rise_at_tangent(self.chord_in, self.shape.tangent_rad)


def _round_circles(
    found: list[_Fitted],
    choice: MotifChoice,
    foot_in: float,
    strands: int,
    settings: CableSettings,
) -> tuple[list[_Fitted], tuple[ArcClass, ...]]:
    """Return the strips drawn round the chosen circles, and the classes of their arcs.

    A border that turns corners has arcs of several radii, fitted to its sides, and no class.
    """
    single = [k for k, f in enumerate(found) if f.border.corners == ("open",)]
    out = list(found)
    classes: list[ArcClass] = []
    for group in alike(single, lambda k: found[k].wished):
        mine = [found[k] for k in group]
        count = strands * sum(f.shape.counts[0] for f in mine)
        patches = [p for f in mine for p in f.border.patches]
        wished = float(np.median([f.wished.chord_in for f in mine]))
        diameter, marking = choice.circle(len(classes))
        classes.append(free_class(choice.motif, "strands", wished, 2 * foot_in, count, patches))
        for k in group:
            border, shape = found[k].border, found[k].shape
            fit = diameter and drawn_round(border, shape, diameter / 2, strands, settings)
            out[k] = _Fitted(border, fit or shape, marking if fit or not diameter else "template")
    return out, tuple(classes)


def cable(
    region: Region,
    choice: MotifChoice,
    settings: CableSettings | None = None,
    *,
    strands: int = 2,
) -> StrokePlan:
    """Return a cable along every border and strip in the region.

    `choice.depth_in` is the rise of an arc, `choice.spacing_in` its chord: the distance from one
    crossing to the next.  `choice.circles_in` gives the circles of strips without corners.
    Patches that are no part of a strip are left out.
    """
    settings = settings or CableSettings()
    foot = region.machine.smallest_radius_in
    found: list[_Fitted] = []
    flat = False
    for border in borders(region):
        fit = fitted(border, choice, foot, strands, settings)
        if fit is not None:
            found.append(_Fitted(border, fit[0]))
            flat = flat or fit[1]
    found, classes = _round_circles(found, choice, foot, strands, settings)
    strokes: list[Stroke] = []
    served: set[int] = set()
    for one in found:
        outlines = [o for o in region.outlines if o.patch in one.border.patches]
        served.update(o.patch for o in outlines)
        laid = list(_strands(one.border, one.shape, strands, one.marking))
        strokes += laid_over(region, laid, choice, outlines)
    warnings: list[str] = []
    if flat:
        warnings.append(
            "The cable is flatter than asked for or usual, so that the foot can follow it and its "
            "strands stay inside the border."
        )
    warnings += _not_as_asked(found, choice, settings, region.units)
    left_out = tuple(o.patch for o in region.outlines if o.patch not in served)
    return StrokePlan(tuple(strokes), tuple(warnings), left_out, classes)


def _not_as_asked(
    found: list[_Fitted], choice: MotifChoice, settings: CableSettings, units: Units
) -> Iterator[str]:
    """Yield what rise and chord the arcs have where these aren't nearly as asked for."""
    why = "whole arcs must fill each side, stay inside the border and suit the foot"
    for what, asked, drawn in (
        ("The cable's arcs rise by {}", choice.depth_in, [f.rise_in for f in found]),
        ("The cable's crossings lie {} apart", choice.spacing_in, [f.chord_in for f in found]),
    ):
        if asked is not None:
            most = settings.near * asked
            other = [d for d in drawn if abs(d - asked) > most]
            yield from instead(what, asked, other, why, units)


def three_strand_cable(region: Region, choice: MotifChoice) -> StrokePlan:
    """Return a cable of three strands; see `cable`."""
    return cable(region, choice, strands=3)


def _strands(border: Border, shape: CableShape, strands: int, marking: Marking) -> Iterator[Laid]:
    """Yield every strand as one curve from end to end, or once or more round the border."""
    runs = [
        _run(side, shape, k, (shape.corners_in[k - 1], shape.corners_in[k]))
        for k, side in enumerate(border.sides)
    ]
    # With whole arcs along each side, an odd number of strands comes to every corner alike: one
    # of them on the middle line, on its way out.
    waiting = [(1 + 2 * j / strands) % 2 for j in range(strands)]
    number = 0
    while waiting:
        number += 1
        phase = waiting.pop(0)
        pieces: list[Piece] = []
        while True:
            phase = _round(border, runs, phase, pieces)
            came = min(waiting, key=lambda p: _apart(p, phase), default=None)
            # A strand that comes round as another one runs on in it.
            if not border.closed or came is None or _apart(came, phase) > 0.01:
                break
            waiting.remove(came)
            phase = came
        if border.closed:
            pieces += _turning(pieces[-1], pieces[0])
        name = f"cable-{border.sides[0].patches[0]}-{number}"
        yield Laid(name, Curve(tuple(pieces)), name, marking)


def _apart(one: float, other: float) -> float:
    return abs(math.remainder(one - other, 2))


def _run(side: BorderSide, shape: CableShape, k: int, ends: tuple[float, float]) -> _Run:
    (x, y), heading = side.centre[0], side.heading_rad
    start = (x + ends[0] * math.cos(heading), y + ends[0] * math.sin(heading))
    length = side.length_in - sum(ends)
    return _Run(start, heading, length / shape.counts[k], shape.counts[k], shape.tangent_rad)


def _round(border: Border, runs: list[_Run], phase: float, pieces: list[Piece]) -> float:
    """Add one round of a strand to `pieces`; return the phase at which the next one begins."""
    for k, run in enumerate(runs):
        length = run.chord * run.count
        opens = border.corners[k] == "open", border.corners[k - 1] == "open"
        low = -_past(border.sides[k], 0) - BEYOND * run.chord if opens[1] else 0.0
        high = length
        if opens[0]:
            high += _past(border.sides[k], 1) + BEYOND * run.chord
        arcs = run.arcs(phase, low, high)
        if pieces:
            pieces += _turning(pieces[-1], arcs[0])
        pieces += arcs
        # The mirror image of a strand has its arcs in the other order.
        phase = (1 - phase - run.count) % 2
    return phase


def _past(side: BorderSide, end: int) -> float:
    """Return how far a slanting end reaches past its middle, along the side."""
    (x0, y0), (x1, y1) = side.outer[end], side.inner[end]
    c, s = math.cos(side.heading_rad), math.sin(side.heading_rad)
    return abs((x1 - x0) * c + (y1 - y0) * s) / 2


def _turning(before: Piece, after: Piece) -> tuple[Piece, ...]:
    """Return the arc from the end of one piece to the start of another, on smoothly at both ends.

    Where the arcs of two sides differ a little in height, strands off the middle line are not
    quite mirror images of one another, and need two arcs.
    """
    start, end = before.end, after.start
    chord = math.atan2(end[1] - start[1], end[0] - start[0])
    leaving = math.remainder(chord - before.heading_rad(1.0), 2 * math.pi)
    arriving = math.remainder(after.heading_rad(0.0) - chord, 2 * math.pi)
    if abs(leaving - arriving) > ALIKE_RAD:
        return biarc(start, before.heading_rad(1.0), end, after.heading_rad(0.0))
    if abs(leaving) < ALIKE_RAD:
        return (Line(start, end),)
    return (arc_over(start, end, 2 * leaving),)
