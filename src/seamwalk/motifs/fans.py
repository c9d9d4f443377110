"""Fans (Baptist fan): rows of concentric arcs, each fan leaning on the one before it.

All fans are equal, of outer radius R, and their centres form a lattice of equilateral triangles
with side R: along a row they are R apart, the rows lie R·√3/2 apart, and every other row is
shifted by R/2.  A fan is what of its circles lies outside three outer arcs: that of the fan before
it in its row, and those of the two fans below.  Two circles of radii r and R whose centres are R
apart meet where the angle at r's centre is acos(r / 2R) from the line of centres, so an arc of
radius r runs from acos(r/2R) − 60° to 180° − acos(r/2R), against the clock from the row: 120° of
the outermost circle, hardly more than 60° of a small one.  The first row stands on the region's
edge, and there all arcs start square to it.

The way along an outer arc from one end to the next is offered for travel, as a second line of
stitching on top of the first: every place where an arc ends on another has three strokes, and
no path could pass such places otherwise.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from seamwalk.geometry.curve import Arc, Curve, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.motifs.instead import FINEST, instead
from seamwalk.motifs.laid_over import Laid, laid_over
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.rows import RowAxes, row_axes
from seamwalk.units import format_length


@dataclass(frozen=True, slots=True)
class FanSettings:
    """Size of fans where nothing else is asked for."""

    spacing_in: float = 1.0
    """Distance from arc to arc, inches: a hand's habit with an elbow as the compass, and well
    within what battings stand (common practice, no source)."""
    arcs: int = 6
    """Arcs in a fan: 6 in with arcs 1 in apart suits a lap quilt (common practice, no source)."""
    below_deg: float = 30.0
    """How far the first row's arcs are drawn on below the row's line, to be cut at an edge that
    isn't quite straight."""


@dataclass(frozen=True, slots=True)
class _Arc:
    """One arc of a fan whose centre is at 0, 0; places as on the top.

    Attributes
    ----------
    name, line : str
        Of the arc within its fan, and of what it belongs to.
    outer : bool
        It is part of the outermost arc.
    """

    name: str
    line: str
    start: Point
    end: Point
    sweep_rad: float
    outer: bool


def fans(region: Region, choice: MotifChoice, settings: FanSettings | None = None) -> StrokePlan:
    """Return fans over the whole region.

    `choice.spacing_in` is the distance from arc to arc, `choice.depth_in` the radius of the
    outermost one, and `choice.angle_deg` the direction of the rows (0 unless set).  Where the
    radius is no whole number of spacings, the spacing gives way.
    """
    settings = settings or FanSettings()
    if not region.outlines:
        return StrokePlan(())
    spacing, count = _measures(choice, settings)
    foot, units = region.machine.smallest_radius_in, region.units
    # Rounding must not cost an arc that is exactly as tight as the foot turns.
    first = max(1, math.ceil(foot / spacing - 1e-9))
    so_tight = f"since the foot turns no tighter than {format_length(foot, units)}"
    if first > count:
        asked = format_length(count * spacing, units, FINEST)
        warning = f"Fans of {asked} are not possible, {so_tight}: ask for a larger depth."
        return StrokePlan((), (warning,), tuple(o.patch for o in region.outlines))
    axes = row_axes(region, choice.angle_deg or 0.0)
    arcs = range(first, count + 1)
    below = math.radians(settings.below_deg)
    fan = {
        first_row: _fan(axes, spacing, arcs, below if first_row else None)
        for first_row in (True, False)
    }
    laid = [
        one
        for row, number in _places(axes, spacing * count)
        for one in _moved(fan[row == 0], axes, spacing * count, row, number)
    ]
    whole = f"a whole number of them makes fans of {format_length(spacing * count, units)}"
    what = "The fans' arcs lie {} apart"
    warnings = instead(what, choice.spacing_in, (spacing,), whole, units)
    if first > 1:
        small = format_length((first - 1) * spacing, units)
        which = f"arc of {small} is" if first == 2 else f"arcs up to {small} are"
        warnings.append(f"The fans' innermost {which} left out, {so_tight}.")
    return StrokePlan(laid_over(region, laid, choice), tuple(warnings))


def _measures(choice: MotifChoice, settings: FanSettings) -> tuple[float, int]:
    """Return the distance from arc to arc and the number of arcs."""
    spacing = choice.spacing_in or settings.spacing_in
    if choice.depth_in is None:
        return spacing, settings.arcs
    count = max(1, round(choice.depth_in / spacing))
    return choice.depth_in / count, count


def _places(axes: RowAxes, radius: float) -> Iterator[tuple[int, int]]:
    """Yield row and number of every fan that may reach into the region."""
    for row in range(math.ceil((axes.height + radius) / (radius * math.sqrt(3) / 2)) + 1):
        for number in range(-2, math.ceil(axes.width / radius) + 2):
            yield row, number


def _fan(axes: RowAxes, spacing: float, arcs: range, below_rad: float | None) -> list[_Arc]:
    """Return the arcs of one fan; `below_rad` is where those of the first row start."""
    outer = arcs[-1]

    def arc(name: str, k: int, start: float, end: float) -> _Arc:
        a, b = (
            axes.way(k * spacing * math.cos(t), k * spacing * math.sin(t)) for t in (start, end)
        )
        # The axes' y points up the page, so their angles turn against the top's.
        return _Arc(name, f"{k}", a, b, start - end, k == outer)

    out: list[_Arc] = []
    for k in arcs[:-1]:
        half = math.acos(k / (2 * outer))
        start = half - math.pi / 3 if below_rad is None else -below_rad
        out.append(arc(f"arc-{k}", k, start, math.pi - half))
    # The next fan's arc of radius r ends at 2·asin(r/2R), where its base angle meets R's circle;
    # that of the fan above to the left starts as far back from 120°.
    turns = [2 * math.asin(k / (2 * outer)) for k in arcs]
    angles = [0.0 if below_rad is None else -below_rad, *turns]
    angles += [2 * math.pi / 3 - t for t in reversed(turns[:-1])] + [2 * math.pi / 3]
    for k, (start, end) in enumerate(pairwise(angles), start=1):
        out.append(arc(f"arc-{outer}-{k}", outer, start, end))
    return out


def _moved(fan: list[_Arc], axes: RowAxes, radius: float, row: int, number: int) -> Iterator[Laid]:
    """Yield a fan at its place."""
    x, y = axes.place((number + 0.5 * (row % 2)) * radius, row * radius * math.sqrt(3) / 2)
    name = f"fan-{row + 1}-{number}"
    for a in fan:
        start, end = (x + a.start[0], y + a.start[1]), (x + a.end[0], y + a.end[1])
        curve = Curve((Arc(start, end, (x, y), a.sweep_rad),))
        yield Laid(f"{name}-{a.name}", curve, f"{name}-{a.line}", "template", again=a.outer)
