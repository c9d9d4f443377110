"""The pieced top as a planar map: junctions, seams, patches.

Trade ↔ geometry ↔ graph: patch = face, seam = edge, junction = vertex.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal, NewType

import numpy as np
from shapely import Polygon

from seamwalk.geometry.arc_fit import arc_over, fitted_sweep, sampled_arc
from seamwalk.geometry.curve import Curve
from seamwalk.geometry.projective import Points

PatchId = NewType("PatchId", int)
SeamId = NewType("SeamId", int)
JunctionId = NewType("JunctionId", int)


@dataclass(frozen=True, slots=True)
class Junction:
    """Where seams meet, or where the outer edge or a seam turns a corner.

    Attributes
    ----------
    xy : (x, y)
        Inches.
    sigma_in : float
        Standard deviation of its place, inches; 0 where that is not known.
    """

    id: JunctionId
    xy: tuple[float, float]
    sigma_in: float = 0.0


@dataclass(frozen=True, slots=True)
class Seam:
    """One seam between two junctions, or one piece of the outer edge.

    Attributes
    ----------
    ends : (JunctionId, JunctionId)
        First and last junction.
    points : tuple of (x, y)
        From the first junction to the last, both included, inches.
    left, right : PatchId or None
        Patch on the left and right of the way from first to last as seen on the page (y down):
        right is the side that x turned towards y points to.  None is outside the top.
    confidence : float
        0 to 1: how sure it is that there is a seam.  An outer edge has the outline's confidence.
    inferred : bool
        True when construction demands the seam and the picture does not show it.
    """

    id: SeamId
    ends: tuple[JunctionId, JunctionId]
    points: tuple[tuple[float, float], ...]
    left: PatchId | None
    right: PatchId | None
    confidence: float = 1.0
    inferred: bool = False
    sweep_rad: float = 0.0
    """0 for a seam drawn through its points; else the seam is one circular arc between its ends
    that turns by this much, x towards y positive, and `points` lie on it."""
    bow_sigma_in: float = 0.0
    """Standard deviation of an arc's middle across it, inches; 0 where that is not known."""

    @property
    def curve(self) -> Curve:
        """The seam as an exact curve: one arc, or straight pieces through its points."""
        if self.sweep_rad:
            return Curve((arc_over(self.points[0], self.points[-1], self.sweep_rad),))
        return Curve.through(self.points)

    @property
    def kind(self) -> Literal["seam", "edge"]:
        """``edge`` on the outside of the top, else ``seam``."""
        return "edge" if self.left is None or self.right is None else "seam"


@dataclass(frozen=True, slots=True)
class Patch:
    """One piece of fabric.

    Attributes
    ----------
    polygon : shapely Polygon
        Inches, no holes; its vertices are junctions and the inner points of its seams.
    seams : tuple of SeamId
        Round the outline.
    fabric : str
        Patches with the same word look like the same fabric; empty when not known.
    """

    id: PatchId
    polygon: Polygon
    seams: tuple[SeamId, ...]
    fabric: str = ""


@dataclass(frozen=True, slots=True)
class Top:
    """A whole top.  Patches tile `outline`; V − E + F = 1 over its three lists.

    Attributes
    ----------
    outline : shapely Polygon
        Raw edge, inches, one ring.
    raw_edges : bool
        True for a bare top, whose outermost patches still show their seam allowance.
    """

    outline: Polygon
    junctions: tuple[Junction, ...]
    seams: tuple[Seam, ...]
    patches: tuple[Patch, ...]
    raw_edges: bool = True

    def mapped(self, move: Callable[[Points], Points]) -> "Top":
        """Return the same map with every point moved by `move` ((N, 2) to (N, 2), inches).

        Each different point is moved once, so that shared points stay shared exactly.  An arc
        becomes the arc between its moved ends that comes nearest to its moved points.
        """
        rings = [self.outline.exterior.coords, *(p.polygon.exterior.coords for p in self.patches)]
        every = [tuple(c) for ring in rings for c in ring]
        every += [xy for s in self.seams for xy in s.points]
        every += [j.xy for j in self.junctions]
        old = list(dict.fromkeys(every))
        new = move(np.array(old, dtype=np.float64))
        to = dict(zip(old, ((float(x), float(y)) for x, y in new), strict=True))
        sweeps: dict[SeamId, float] = {}
        for s in self.seams:
            if s.sweep_rad:
                first, *inner, last = (to[xy] for xy in s.points)
                sweeps[s.id] = fitted_sweep(inner, first, last)[0]
                on_arc = sampled_arc(first, last, sweeps[s.id], len(s.points) - 1)[1:-1]
                to.update(
                    zip(s.points[1:-1], ((float(x), float(y)) for x, y in on_arc), strict=True)
                )

        def ring(polygon: Polygon) -> Polygon:
            return Polygon([to[(c[0], c[1])] for c in polygon.exterior.coords])

        return replace(
            self,
            outline=ring(self.outline),
            junctions=tuple(replace(j, xy=to[j.xy]) for j in self.junctions),
            seams=tuple(
                replace(
                    s,
                    points=tuple(to[xy] for xy in s.points),
                    sweep_rad=sweeps.get(s.id, 0.0),
                )
                for s in self.seams
            ),
            patches=tuple(replace(p, polygon=ring(p.polygon)) for p in self.patches),
        )
