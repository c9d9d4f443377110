"""From what is visible of a patch to its finished shape.

The outermost patches of a bare top still show their seam allowance.  The binding's seam will run
1/4 in inside the raw edge, so the finished patch is what lies inside that line: a square on the
edge loses 1/4 in of one side, a triangle with its long side on the edge becomes smaller in all
three.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from seamwalk.geometry.cut_corners import main_corners
from seamwalk.geometry.polygon import oriented, ring_of, signed_area
from seamwalk.geometry.polyline import corners
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Shape
from seamwalk.model.top import Top
from seamwalk.trade import SEAM_ALLOWANCE_IN
from seamwalk.vision.shapes import name_shape

ON_EDGE_IN = 0.05
"""A side whose middle is nearer to the raw edge than this lies on it, inches."""


@dataclass(frozen=True, slots=True, eq=False)
class FinishedShape:
    """One patch, as visible and as it will be when bound.

    Attributes
    ----------
    corners : (N, 2) float64
        Visible corners, in the polygon's order from its first corner.
    finished : (M, 2) float64
        Finished corners as they were meant, stubs run out (:mod:`cut_corners`); M equals N
        except there and where the allowance adds or hides a side.
    raw_edges : int
        Visible sides on the raw edge.
    """

    name: Shape
    corners: Points
    finished: Points
    raw_edges: int


def finished_shapes(top: Top) -> list[FinishedShape]:
    """Return the finished shape of each patch, in the top's order."""
    inner = None
    within = np.ones(len(top.patches), dtype=np.bool_)
    if top.raw_edges:
        inner = top.outline.buffer(-SEAM_ALLOWANCE_IN, join_style="mitre")
        shapely.prepare(inner)
        within = shapely.covers(inner, [p.polygon for p in top.patches])
    rings = []
    for patch in top.patches:
        ring = ring_of(patch.polygon)
        turning = corners(ring)
        rings.append(ring[turning] if len(turning) >= 3 else ring)
    middles = np.concatenate([(r + np.roll(r, -1, axis=0)) / 2 for r in rings])
    edge = top.outline.exterior
    shapely.prepare(edge)
    on_edge = shapely.dwithin(shapely.points(middles), edge, ON_EDGE_IN)
    raw = np.split(on_edge, np.cumsum([len(r) for r in rings])[:-1])
    out = []
    for k, (patch, seen) in enumerate(zip(top.patches, rings, strict=True)):
        if inner is None or within[k]:
            done = main_corners(seen)
        else:
            done = _inside(patch.polygon, inner, seen)
        out.append(FinishedShape(name_shape(done), seen, done, int(raw[k].sum())))
    return out


def _inside(polygon: Polygon, inner: shapely.Geometry, seen: Points) -> Points:
    """Return the corners of the patch inside the binding's seam, starting near its first."""
    parts = [
        g for g in shapely.get_parts(polygon & inner) if isinstance(g, Polygon) and g.area > 0
    ]
    if not parts:
        return main_corners(seen)
    ring = oriented(ring_of(max(parts, key=lambda g: g.area)))
    if signed_area(seen) < 0:
        ring = ring[::-1]
    done = main_corners(ring)
    reach = [
        np.hypot(*(np.roll(done, -k, axis=0)[: len(seen)] - seen[: len(done)]).T).sum()
        for k in range(len(done))
    ]
    return np.roll(done, -int(np.argmin(reach)), axis=0)
