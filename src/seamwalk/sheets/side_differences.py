"""Which side of a patch is off, named by where it lies on the page.

The file's sides are the visible ones; the finished size holds inside the binding's seam.  Here
each finished side is found again on the map and set against its finished length.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from seamwalk.geometry.cut_corners import main_corners
from seamwalk.geometry.polygon import oriented, ring_of, side_lengths
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import PatchSize, Sizes
from seamwalk.model.top import Patch, PatchId, Top
from seamwalk.trade import BINDING_SEAM_IN

_AGREES_IN = 0.03
"""The largest difference found here and the one that was measured differ by less than this, or
nothing is said of single sides: a thread's width, inches."""

_PLACES = (
    "right",
    "lower right",
    "lower",
    "lower left",
    "left",
    "upper left",
    "upper",
    "upper right",
)
"""Eighths of a turn from x towards y."""


@dataclass(frozen=True, slots=True)
class SideDifference:
    """One finished side against its finished length.

    Attributes
    ----------
    place : str
        Where the side lies as seen from the patch's middle, like ``upper left``.
    difference_in : float
        Measured minus finished, inches.
    """

    place: str
    difference_in: float


def side_differences(sizes: Sizes, top: Top) -> Mapping[PatchId, tuple[SideDifference, ...]]:
    """Return the differences of each patch's finished sides; empty where they can't be told.

    Sides can't be told apart where the patch has another number of corners than its finished
    shape, or where the largest difference is not the one that was measured.
    """
    inner = None
    if top.raw_edges:
        inner = top.outline.buffer(-BINDING_SEAM_IN, join_style="mitre")
        shapely.prepare(inner)
    by_id = {patch.id: patch for patch in top.patches}
    return {size.patch: _of_patch(size, by_id[size.patch], inner) for size in sizes.patches}


def _of_patch(
    size: PatchSize, patch: Patch, inner: shapely.Geometry | None
) -> tuple[SideDifference, ...]:
    p = _finished_corners(patch, inner)
    want = np.array(size.finished.size_in)
    if p is None or len(p) != len(want) or len(p) < 3:
        return ()
    sides = side_lengths(p)
    # The finished shape may begin at another corner; the nearest turn of it is meant.
    turns = [sides - np.roll(want, k) for k in range(len(want))]
    worst = [float(d[np.argmax(np.abs(d))]) for d in turns]
    best = int(np.argmin(np.abs(worst)))
    if abs(worst[best] - size.finished.off_in) > _AGREES_IN:
        return ()
    return tuple(
        SideDifference(place, float(d)) for place, d in zip(_places(p), turns[best], strict=True)
    )


def _finished_corners(patch: Patch, inner: shapely.Geometry | None) -> Points | None:
    """Return the corners of the patch inside the binding's seam; None if nothing is left."""
    if inner is None or shapely.covers(inner, patch.polygon):
        return main_corners(ring_of(patch.polygon))
    parts = [
        g
        for g in shapely.get_parts(shapely.intersection(patch.polygon, inner))
        if isinstance(g, shapely.Polygon) and not g.is_empty
    ]
    if not parts:
        return None
    left = max(parts, key=lambda g: g.area)
    return main_corners(ring_of(left))


def _places(p: Points) -> list[str]:
    """Name each side by the direction in which it faces."""
    d = np.roll(p, -1, axis=0) - p
    # On a page whose y points down, the outside lies left of a ring turning from x towards y.
    sign = 1.0 if np.array_equal(oriented(p), p) else -1.0
    facing = np.degrees(np.arctan2(-sign * d[:, 0], sign * d[:, 1]))
    return [_PLACES[int(k) % 8] for k in np.rint(facing / 45)]
