"""Corner arches: for each side of a patch an arc from corner to corner, bowing inwards.

Arches on both sides of a seam close to a leaf, and four leaves meet where four patches do.  Equal
shapes get arcs of one circle, so that one round thing marks them all: sides of nearly equal
length and depth form a class, and the class has one radius.

Depth: by default a share of the rise at which neighbours at a corner begin to overlap, and never
near half way to the patch's centre.  A part shape at the edge gets the arches of the whole shape,
cut at the binding line, exactly.
"""

import math
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from seamwalk.geometry.clip import clip
from seamwalk.geometry.curve import Arc, Curve, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.circles import ArcClass
from seamwalk.model.stitching import Marking, Stroke, StrokeId
from seamwalk.model.top import PatchId
from seamwalk.motifs.arc_classes import WishedArc, alike, arc_class, facing_rise
from seamwalk.motifs.circles import diameter_for, overlap_rise, rise_at_tangent, rise_for
from seamwalk.motifs.instead import KEPT_IN, instead, span
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.outlines import Outline
from seamwalk.units import format_length


@dataclass(frozen=True, slots=True)
class ArchSettings:
    """How deep arches are where nothing else is asked for."""

    fullness: float = 0.87
    """Share of the rise at which neighbours begin to overlap: near enough to close the figure,
    with room for a hand's 1/8 in on a 6 in side."""
    half_way: float = 0.6
    """Default share of the way from a side's middle to the centre that an arch may take."""
    half_way_most: float = 0.97
    """The same for a depth that was asked for: never past half way."""
    corner_most: float = 0.95
    """Share of a corner's angle that an arc may use up before it would leave the patch."""
    shortest_side_in: float = 0.5
    """Shorter sides get no arch: the foot would turn on the spot."""
    shallowest_in: float = 1 / 16
    """A flatter arch looks like a crooked seam."""
    shortest_part_in: float = 1 / 8
    """Crumbs that the binding line leaves of an arc are dropped below this."""


@dataclass(frozen=True, slots=True)
class _Arch:
    """One arch to be drawn, and where."""

    outline: Outline
    side: int
    wished: WishedArc


def arches(
    region: Region, choice: MotifChoice, settings: ArchSettings | None = None
) -> StrokePlan:
    """Return the arches of every convex patch in the region.

    `choice.depth_in` is the rise; `choice.edge` says what runs along the binding line: nothing,
    an arch like the others, or a straight line 1/4 in inside.  `choice.circles_in` gives the
    circles of the classes.  Patches that are not convex are left out.
    """
    settings = settings or ArchSettings()
    wanted: list[_Arch] = []
    left_out: list[PatchId] = []
    straight: list[Stroke] = []
    for outline in region.outlines:
        if not outline.convex:
            left_out.append(outline.patch)
            continue
        for k, side in enumerate(outline.sides):
            if side.on_binding and choice.edge == "line":
                straight += _edge_line(outline, k, choice)
            if side.chord_in < settings.shortest_side_in:
                continue
            if not side.on_binding or choice.edge == "arch":
                wanted.append(_limits(outline, k, choice, settings))
    strokes: list[Stroke] = []
    warnings: list[str] = []
    classes: list[ArcClass] = []
    smallest = region.machine.smallest_radius_in
    flat: list[float] = []
    none: list[float] = []
    drawn: list[float] = []
    for group in alike(wanted, lambda a: a.wished):
        radius, chord = _radius(group, smallest, settings)
        if radius is None:
            none.append(chord)
            continue
        if radius == smallest:
            flat.append(chord)
        classes.append(
            arc_class(
                [a.wished for a in group],
                motif=choice.motif,
                over="sides",
                wished_diameter_in=2 * radius,
                smallest_in=2 * smallest,
                least_in=settings.shallowest_in,
            )
        )
        diameter, marking = choice.circle(len(classes) - 1)
        if abs(rise_for(chord, 2 * radius) - (choice.depth_in or 0.0)) > KEPT_IN:
            # That a circle is a little larger or smaller than wished stands beside it.
            drawn.append(rise_for(chord, max(chord, diameter or 2 * radius)))
        for arch in group:
            strokes += _strokes(
                arch, diameter or 2 * radius, marking, region.area.binding, choice, settings
            )
    units = region.units
    foot = f"since the foot turns no tighter than {format_length(smallest, units)}"
    if flat:
        over = span(flat, units)
        warnings.append(f"Arches over sides of {over} are flatter than the rest, {foot}.")
    if none:
        warnings.append(f"Sides of {span(none, units)} get no arches, {foot}.")
    room = "their patches, or the foot, leave no room for more"
    warnings += instead("Arches rise by {}", choice.depth_in, drawn, room, units)
    strokes.sort(key=lambda s: (s.patch or 0, s.id))
    return StrokePlan((*strokes, *straight), tuple(warnings), tuple(left_out), tuple(classes))


def _limits(outline: Outline, k: int, choice: MotifChoice, settings: ArchSettings) -> _Arch:
    """Return the wished and the greatest rise of one arch."""
    side = outline.sides[k]
    chord = side.chord_in
    (x0, y0), (x1, y1) = side.whole
    centre = outline.centre
    if outline.part and side.on_binding:
        # The cut runs through the middle of the whole shape: it has only its own part's centre.
        middle = outline.polygon.centroid
        centre = (middle.x, middle.y)
    half_way = math.dist(((x0 + x1) / 2, (y0 + y1) / 2), centre)
    most = settings.half_way_most * half_way
    corner = min(side.start_rad, side.end_rad)
    for is_open, angle in ((side.start_open, side.start_rad), (side.end_open, side.end_rad)):
        if not is_open:
            tight = min(math.pi / 2, settings.corner_most * angle)
            most = min(most, rise_at_tangent(chord, tight))
    wish = min(
        settings.fullness * overlap_rise(chord, corner),
        settings.half_way * half_way,
    )
    if choice.depth_in is not None:
        wish = choice.depth_in
    arched = [s for s in outline.sides if not s.on_binding or choice.edge == "arch"]
    facing = facing_rise(*side.whole, arched)
    wished = WishedArc(chord, min(wish, most), most, corner, outline.patch, facing)
    return _Arch(outline, k, wished)


def _radius(
    group: list[_Arch], smallest_in: float, settings: ArchSettings
) -> tuple[float | None, float]:
    """Return the radius of a class, None if it is better without arches, and its chord."""
    chord = float(np.median([a.wished.chord_in for a in group]))
    rise = float(np.median([a.wished.wish_in for a in group]))
    radius = diameter_for(chord, rise) / 2
    if radius > smallest_in:
        return radius, chord
    if 2 * smallest_in <= chord or rise_for(chord, 2 * smallest_in) < settings.shallowest_in:
        return None, chord
    return smallest_in, chord


def _strokes(
    arch: _Arch,
    diameter: float,
    marking: Marking,
    binding: Polygon,
    choice: MotifChoice,
    settings: ArchSettings,
) -> list[Stroke]:
    """Return one arch, or what the binding line leaves of it."""
    side = arch.outline.sides[arch.side]
    chord = side.chord_in
    rise = min(rise_for(chord, max(diameter, chord)), arch.wished.most_in)
    curve = Curve((Arc.by_rise(*side.whole, rise),))
    parts = [curve]
    if arch.outline.at_edge:
        inside = clip(curve, binding)
        parts = [part for part in inside if part.length >= settings.shortest_part_in]
    name = f"arch-{arch.outline.patch}-{arch.side + 1}"
    return [
        Stroke(
            StrokeId(name if len(parts) == 1 else f"{name}-{k}"),
            part,
            "motif",
            required=True,
            motif=choice.motif,
            patch=arch.outline.patch,
            marking=marking,
        )
        for k, part in enumerate(parts, start=1)
    ]


def _edge_line(outline: Outline, k: int, choice: MotifChoice) -> list[Stroke]:
    """Return a straight line 1/4 in inside the binding line, from neighbour to neighbour."""
    from seamwalk.motifs.lines import parallel

    (x0, y0), (x1, y1) = outline.sides[k].start, outline.sides[k].end
    chord = math.dist((x0, y0), (x1, y1))
    nx, ny = -(y1 - y0) / chord, (x1 - x0) / chord
    shift: Point = (nx * 0.25, ny * 0.25)
    return [
        Stroke(
            StrokeId(f"arch-{outline.patch}-edge-{k + 1}-{i}"),
            part,
            "motif",
            required=True,
            motif=choice.motif,
            patch=outline.patch,
            marking="ruler",
        )
        for i, part in enumerate(parallel(outline, (x0, y0), (x1, y1), shift), start=1)
    ]
