"""Outline: the patch's own shape again, 1/4 in inside its seams, once or as often as it fits.

A ring touches nothing, so two short leads join one of its corners to the patch's corner and to
the ditch beside it: the path can come in by one and go out by the other.  Each further ring hangs
on the one outside it, by one lead that is there twice.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import shapely

from seamwalk.geometry.clip import insets
from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import PatchId
from seamwalk.motifs.instead import FINEST, instead
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.outlines import Outline
from seamwalk.trade import OUTLINE_INSET_IN
from seamwalk.units import format_length

SMALLEST_RING_IN = 2.0
"""A ring shorter than this is a blob of thread, inches (1/2 in square)."""

CLOSEST_IN = 1 / 8
"""Rings are not laid closer together than this, inches: two would be one thick line."""


def outline(region: Region, choice: MotifChoice) -> StrokePlan:
    """Return a ring inside every patch, `choice.depth_in` from its seams (1/4 in unless set).

    With `choice.spacing_in` further rings follow inwards, that far apart, as long as there is
    room.  Patches too narrow for a ring are left out.
    """
    depth = OUTLINE_INSET_IN if choice.depth_in is None else choice.depth_in
    strokes: list[Stroke] = []
    left_out: list[PatchId] = []
    rings = _rings(region, depth, choice.spacing_in)
    for shape, mine in zip(region.outlines, rings, strict=True):
        found = _joined(shape, mine, choice)
        strokes += found
        if not found:
            left_out.append(shape.patch)
    warnings: list[str] = []
    if choice.spacing_in is not None and max(map(len, rings), default=0) > 1:
        drawn = (max(choice.spacing_in, CLOSEST_IN),)
        thick = "closer ones would be one thick line"
        warnings = instead("Rings lie {} apart", choice.spacing_in, drawn, thick, region.units)
    elif choice.spacing_in is not None and strokes:
        asked = format_length(choice.spacing_in, region.units, FINEST)
        warnings = [f"Each patch has one ring only: there is no room for more {asked} apart."]
    return StrokePlan(tuple(strokes), tuple(warnings), tuple(left_out))


def _joined(shape: Outline, rings: Sequence[list[Point]], choice: MotifChoice) -> list[Stroke]:
    """Return the rings of a patch with their leads, from the outside in."""
    out: list[Stroke] = []
    node: Point | None = None
    for number, ring in enumerate(rings, start=1):
        # A corner inside the top is reached by ditches from more sides than one.
        sides = [s for s in shape.sides if not s.start_cut] or list(shape.sides)
        froms = [s.start for s in sides] if node is None else [node]
        _, first, outer = min((math.dist(q, p), k, p) for p in froms for k, q in enumerate(ring))
        name = f"outline-{shape.patch}-" + ("" if node is None else f"{number}-")
        start = ring[first]
        closed = [*ring[first:], *ring[:first], start]
        leads = [outer, _beside(shape, outer, start) if node is None else outer]
        out.append(_stroke(f"{name}ring", closed, shape.patch, choice, required=True))
        out += [
            _stroke(f"{name}lead-{k}", [start, end], shape.patch, choice, required=False)
            for k, end in enumerate(leads, start=1)
            if end != start
        ]
        node = start
    return out


def _rings(region: Region, depth: float, spacing: float | None) -> list[list[list[Point]]]:
    """Return the corners of every ring that there is room for, for each of the outlines."""
    out: list[list[list[Point]]] = [[] for _ in region.outlines]
    left = list(range(len(out)))
    while left:
        found = insets([region.outlines[k].polygon for k in left], depth)
        rings = zip(left, found, strict=True)
        kept = [(k, p) for k, p in rings if p is not None and p.length >= SMALLEST_RING_IN]
        for k, polygon in kept:
            coordinates = shapely.get_coordinates(polygon.exterior)[:-1].tolist()
            out[k].append([(x, y) for x, y in coordinates])
        if spacing is None:
            break
        left = [k for k, _ in kept]
        depth += max(spacing, CLOSEST_IN)
    return out


def _stroke(
    name: str, points: list[Point], patch: PatchId, choice: MotifChoice, *, required: bool
) -> Stroke:
    return Stroke(
        StrokeId(name),
        Curve.through(points),
        "motif",
        required=required,
        motif=choice.motif,
        patch=patch,
        marking="eye" if required else "none",
    )


def _beside(shape: Outline, corner: Point, node: Point) -> Point:
    """Return the foot of `node` on the nearest seam next to `corner`."""
    ring = [*map(tuple, shape.ring.tolist()), tuple(shape.ring[0].tolist())]
    best: tuple[float, Point] | None = None
    for a, b in pairwise(ring):
        if corner not in (a, b):
            continue
        dx, dy = b[0] - a[0], b[1] - a[1]
        t = ((node[0] - a[0]) * dx + (node[1] - a[1]) * dy) / (dx * dx + dy * dy)
        foot = (a[0] + t * dx, a[1] + t * dy)
        gap = math.dist(foot, node)
        if 0 < t < 1 and (best is None or gap < best[0]):
            best = (gap, foot)
    return corner if best is None else best[1]
