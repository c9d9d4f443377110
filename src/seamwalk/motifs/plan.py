"""From motif choices to all strokes of a top, joined so that one path can be found.

Every end of a motif stroke is a junction, a place on the binding line with a tail to the margin,
or a place in a ditch; places that are the same within a millionth of an inch are made equal to
the last bit.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from seamwalk.geometry.clip import SAME_PLACE_IN
from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.circles import CircleChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.model.sizes import Sizes
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import Top
from seamwalk.motifs.area import Area, lay_out
from seamwalk.motifs.choose import choose
from seamwalk.motifs.circle_choice import choose_circles
from seamwalk.motifs.ground import ground
from seamwalk.motifs.motif import Region, StrokePlan, find
from seamwalk.motifs.unmet import left_nothing, left_out, refuse_empty
from seamwalk.trade import BINDING_SEAM_IN
from seamwalk.units import Units

__all__ = ["StrokePlan", "choose", "make_strokes", "refuse_empty", "weld"]


def make_strokes(
    top: Top,
    sizes: Sizes,
    choices: Sequence[MotifChoice],
    machine: MachineProfile | None = None,
    *,
    binding_in: float = BINDING_SEAM_IN,
    area: Area | None = None,
    circles_in: Sequence[float] | None = None,
    units: Units = "in",
) -> StrokePlan:
    """Return all strokes of the choices together with the ground that joins them.

    Parameters
    ----------
    top : Top
        The top to be quilted.
    sizes : Sizes
        Names the patches in warnings.
    choices : sequence of MotifChoice
        No patch twice.
    machine : MachineProfile, optional
        Its smallest radius holds for every arc.
    binding_in : float
        Distance of the binding line from the raw edge, inches.
    area : Area, optional
        `lay_out(top, binding_in=…)`, if it is there already.
    circles_in : sequence of float, optional
        Diameters of the circles that there are to draw round, inches: every class of arcs gets
        one of them, as few as there can be.  Without it arcs are as the motifs wish.
    units : {"in", "cm"}
        Of lengths in warnings.

    Raises
    ------
    MotifError
        If a choice names a motif that nobody knows.
    TopologyError
        If nothing is left inside the binding line.
    """
    area = area or lay_out(top, binding_in=binding_in)
    machine = machine or MachineProfile()
    names = {s.patch: s.class_name for s in sizes.patches}
    strokes: dict[StrokeId, Stroke] = {}
    warnings: list[str] = []
    regions = [Region(area, c.patches, machine, units) for c in choices]
    plans = [find(c.motif)(region, c) for region, c in zip(regions, choices, strict=True)]
    circles = None
    if circles_in is not None:
        circles = choose_circles([k for plan in plans for k in plan.classes], circles_in)
        plans = _drawn_round(circles, plans, choices, regions)
    for region, choice, found in zip(regions, choices, plans, strict=True):
        warnings += found.warnings
        warnings += left_nothing(region, choice, found, names)
        _add(strokes, found.strokes)
        if found.left_out:
            other = replace(region, patches=found.left_out)
            warnings.append(left_out(other, choice, names))
            rest = MotifChoice(found.left_out, "ditch")
            _add(strokes, find("ditch")(other, rest).strokes)
    ends = [q for s in strokes.values() for q in (s.curve.start, s.curve.end)]
    for stroke in ground(area, ends=ends):
        strokes.setdefault(stroke.id, stroke)
    return StrokePlan(
        weld(strokes.values()),
        tuple(dict.fromkeys(warnings)),
        classes=tuple(k for plan in plans for k in plan.classes),
        circles=circles,
    )


def _drawn_round(
    circles: CircleChoice,
    plans: Sequence[StrokePlan],
    choices: Sequence[MotifChoice],
    regions: Sequence[Region],
) -> list[StrokePlan]:
    """Return the plans with their arcs drawn round the chosen circles."""
    out: list[StrokePlan] = []
    first = 0
    for region, choice, plan in zip(regions, choices, plans, strict=True):
        mine = circles.classes[first : first + len(plan.classes)]
        first += len(mine)
        if not mine:
            out.append(plan)
            continue
        found = (None if c.circle is None else c.circle.diameter_in for c in mine)
        out.append(find(choice.motif)(region, replace(choice, circles_in=tuple(found))))
    return out


def _add(strokes: dict[StrokeId, Stroke], more: Iterable[Stroke]) -> None:
    """Add strokes; one asked for twice is sewn once."""
    for stroke in more:
        strokes.setdefault(stroke.id, stroke)


def weld(strokes: Iterable[Stroke], tolerance: float = SAME_PLACE_IN) -> tuple[Stroke, ...]:
    """Return the strokes with ends closer than `tolerance` made equal to the last bit.

    Ends of ditches win over others, so that seams stay where they are.
    """
    everything = list(strokes)
    cell = 4 * tolerance
    places: dict[tuple[int, int], Point] = {}

    def place(p: Point) -> Point:
        i, j = math.floor(p[0] / cell), math.floor(p[1] / cell)
        for di in (0, -1, 1):
            for dj in (0, -1, 1):
                q = places.get((i + di, j + dj))
                if q is not None and math.dist(p, q) <= tolerance:
                    return q
        places[i, j] = p
        return p

    for stroke in everything:
        if stroke.kind == "ditch":
            place(stroke.curve.start)
            place(stroke.curve.end)
    out: list[Stroke] = []
    for stroke in everything:
        start, end = place(stroke.curve.start), place(stroke.curve.end)
        if (start, end) == (stroke.curve.start, stroke.curve.end):
            out.append(stroke)
        else:
            out.append(replace(stroke, curve=_moved(stroke.curve, start, end)))
    return tuple(out)


def _moved(curve: Curve, start: Point, end: Point) -> Curve:
    """Return the curve with its ends put at `start` and `end`, a rounding error away."""
    pieces = list(curve.pieces)
    pieces[0] = replace(pieces[0], start=start)
    pieces[-1] = replace(pieces[-1], end=end)
    return Curve(tuple(pieces))
