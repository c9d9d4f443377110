"""Outline: the patch's own shape again, 1/4 in inside its seams.

A ring touches nothing, so two short leads join one of its corners to the patch's corner and to
the ditch beside it: the path can come in by one and go out by the other.
"""

import math
from itertools import pairwise

import numpy as np

from seamwalk.geometry.clip import inset
from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import PatchId
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.outlines import Outline
from seamwalk.trade import OUTLINE_INSET_IN

SMALLEST_RING_IN = 2.0
"""A ring shorter than this is a blob of thread, inches (1/2 in square)."""


def outline(region: Region, choice: MotifChoice) -> StrokePlan:
    """Return a ring inside every patch, `choice.depth_in` from its seams (1/4 in unless set).

    Patches too narrow for a ring are left out.
    """
    depth = OUTLINE_INSET_IN if choice.depth_in is None else choice.depth_in
    strokes: list[Stroke] = []
    left_out: list[PatchId] = []
    for shape in region.outlines:
        found = _ring(shape, depth, choice)
        strokes += found
        if not found:
            left_out.append(shape.patch)
    return StrokePlan(tuple(strokes), left_out=tuple(left_out))


def _ring(shape: Outline, depth: float, choice: MotifChoice) -> list[Stroke]:
    inner = inset(shape.polygon, depth)
    if inner is None or inner.exterior.length < SMALLEST_RING_IN:
        return []
    ring = [(float(x), float(y)) for x, y in inner.exterior.coords[:-1]]
    # A corner inside the top is reached by ditches from more sides than one at the binding line.
    sides = [s for s in shape.sides if not s.start_cut] or list(shape.sides)
    gap, first, corner = min(
        (math.dist(q, side.start), k, side.start) for side in sides for k, q in enumerate(ring)
    )
    del gap
    node = ring[first]
    closed = [*ring[first:], *ring[:first], node]
    leads = [corner, _beside(shape, corner, node)]

    def stroke(name: str, points: list[Point], *, required: bool) -> Stroke:
        return Stroke(
            StrokeId(f"outline-{shape.patch}-{name}"),
            Curve.through(points),
            "motif",
            required=required,
            motif=choice.motif,
            patch=shape.patch,
            marking="eye" if required else "none",
        )

    return [
        stroke("ring", closed, required=True),
        *(
            stroke(f"lead-{k}", [node, end], required=False)
            for k, end in enumerate(leads, start=1)
            if end != node
        ),
    ]


def _beside(shape: Outline, corner: Point, node: Point) -> Point:
    """Return the foot of `node` on the nearest seam next to `corner`."""
    ring = [*map(tuple, shape.ring.tolist()), tuple(shape.ring[0].tolist())]
    best: tuple[float, Point] | None = None
    for a, b in pairwise(ring):
        if corner not in (a, b):
            continue
        p, d = np.array(a), np.array(b) - np.array(a)
        t = float((np.array(node) - p) @ d / (d @ d))
        foot = (a[0] + t * float(d[0]), a[1] + t * float(d[1]))
        gap = math.dist(foot, node)
        if 0 < t < 1 and (best is None or gap < best[0]):
            best = (gap, foot)
    return corner if best is None else best[1]
