"""What of a top can be stitched: everything inside the binding line, cut exactly.

The *binding line* runs 1/4 in inside the raw edge: the binding's seam lies there and hides what
goes beyond.  The *margin ring* runs half way between the two.  A patch's *finished outline* is
what of it lies inside the binding line: on a bare top that is just the patch as the binding will
leave it, so an edge patch gets the motif of its equals in the middle.
"""

from dataclasses import dataclass

import shapely
from shapely import Polygon

from seamwalk.errors import TopologyError
from seamwalk.geometry.clip import clip, inset, turned_right
from seamwalk.geometry.curve import Curve
from seamwalk.model.top import Junction, JunctionId, PatchId, Seam, SeamId, Top
from seamwalk.motifs.outlines import Outline, finished_outline
from seamwalk.motifs.parts import with_wholes
from seamwalk.trade import BINDING_SEAM_IN


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """A top with its binding line: what can be stitched.

    Attributes
    ----------
    binding, margin : Polygon
        Inside the binding line, and inside the ring in the margin.
    ditches : dict
        Each seam's parts inside the binding line; seams wholly outside are left out.
    outlines : dict
        Finished outline of each patch that reaches inside the binding line.
    """

    top: Top
    binding: Polygon
    margin: Polygon
    ditches: dict[SeamId, tuple[Curve, ...]]
    outlines: dict[PatchId, Outline]
    junctions: dict[JunctionId, Junction]
    seams: dict[SeamId, Seam]


def lay_out(top: Top, *, binding_in: float = BINDING_SEAM_IN) -> Area:
    """Return what of `top` lies inside the binding line.

    Parameters
    ----------
    top : Top
        Its patches' corners are junctions.
    binding_in : float
        Distance of the binding line from the raw edge, inches, above zero.

    Raises
    ------
    TopologyError
        If nothing is left inside the binding line.
    """
    binding = inset(top.outline, binding_in)
    margin = inset(top.outline, binding_in / 2)
    if binding is None or margin is None:
        raise TopologyError(
            "The top is so small that nothing is left inside the binding.",
            "Check its size, or set a narrower binding.",
        )
    shapely.prepare(binding)
    ditches = _ditches(top, binding)
    return Area(
        top,
        binding,
        margin,
        ditches,
        _outlines(top, binding, ditches),
        {j.id: j for j in top.junctions},
        {s.id: s for s in top.seams},
    )


def _ditches(top: Top, binding: Polygon) -> dict[SeamId, tuple[Curve, ...]]:
    inner = [s for s in top.seams if s.kind == "seam"]
    covered = shapely.covers(binding, [shapely.LineString(s.points) for s in inner])
    out: dict[SeamId, tuple[Curve, ...]] = {}
    for seam, whole in zip(inner, covered, strict=True):
        curve = Curve.through(seam.points)
        parts = [curve] if whole else clip(curve, binding)
        if parts:
            out[seam.id] = tuple(parts)
    return out


def _outlines(
    top: Top, binding: Polygon, ditches: dict[SeamId, tuple[Curve, ...]]
) -> dict[PatchId, Outline]:
    """Return the finished outlines, those of part shapes run on as in the whole shape."""
    shapes = [p.polygon for p in top.patches]
    inside = shapely.covers(binding, shapes)
    outer = {p for s in top.seams if s.kind == "edge" for p in (s.left, s.right)}
    raw = turned_right(top.outline)
    out: dict[PatchId, Outline] = {}
    bases: dict[PatchId, Outline] = {}
    for patch, whole in zip(top.patches, inside, strict=True):
        known = [q for s in patch.seams for c in ditches.get(s, ()) for q in (c.start, c.end)]
        found = finished_outline(patch.id, patch.polygon, None if whole else binding, known)
        if found is None:
            continue
        out[patch.id] = found
        if top.raw_edges and found.at_edge:
            bases[patch.id] = found
        elif not top.raw_edges and patch.id in outer:
            base = finished_outline(patch.id, patch.polygon, raw)
            if base is not None:
                bases[patch.id] = base
    return with_wholes(out, bases, binding if top.raw_edges else raw)
