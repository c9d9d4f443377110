"""Curved seams: which of the true arcs a map has, which it invented, and how round they are.

An arc is found where one of the map and it run along most of each other; each counts once.
Radius and length along the seam are those of the patches on both sides of it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree

from seamwalk.benchmark.seam_comparison import (
    beside,
    found_seams,
    sampled,
    true_seams,
    true_top,
)
from seamwalk.geometry.polygon import ring_of
from seamwalk.geometry.polyline import corners
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import View
from seamwalk.model.sizes import PatchSize, SideCurve, Sizes
from seamwalk.model.top import Patch, Seam, Top

MOST = 2 / 3
"""An arc is found where at least this share of it and of the map's arc run along each other: one
along two, or half of one, is not that arc."""

REAL = 0.5
"""An arc of the map is real where more of it runs along true ones, as a seam is."""


@dataclass(frozen=True, slots=True, eq=False)
class ArcScore:
    """What became of one picture's curved seams.

    Attributes
    ----------
    arcs, found : int
        True arcs, and those of them that were found.
    invented : int
        Arcs of the map that do not run along true ones.
    seams, seams_found : int
        Seams between two patches, straight or not: true ones, and those of the map.
    radius, along : list of (error, ±)
        Measured minus true, inches: of the two patches beside each arc found.
    """

    arcs: int = 0
    found: int = 0
    invented: int = 0
    seams: int = 0
    seams_found: int = 0
    radius: list[tuple[float, float]] = field(default_factory=list)
    along: list[tuple[float, float]] = field(default_factory=list)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "ArcScore":
        """Return the score from its part of a line of a file of results."""
        pairs = {n: [(float(e), float(u)) for e, u in data[n]] for n in ("radius", "along")}
        return cls(**{**data, **pairs})


def unmapped_arcs(truth: Mapping[str, Any]) -> ArcScore | None:
    """Return the score of a picture that was refused: no arc is found."""
    if "arcs" not in truth:
        return None
    wanted, _, _, group, _ = true_top(truth)
    return ArcScore(len(truth["arcs"]), seams=len(true_seams(wanted, group)[0]))


def arc_score(truth: Mapping[str, Any], top: Top, sizes: Sizes, view: View) -> ArcScore | None:
    """Return the score of a top's arcs against a truth document, None where that lists none.

    Parameters
    ----------
    truth : mapping
        As for `seam_score`, and ``arcs`` with ``points_px``, ``radius`` and ``along``.
    top : Top
        In the frame of `view`.
    sizes : Sizes
        Of the same patches.
    """
    if "arcs" not in truth:
        return None
    wanted, region, _, group, side = true_top(truth)
    reach = 0.08 * side
    found = found_seams(top, view, region, reach)
    lines = [line for line, seam in found if seam.sweep_rad]
    seams = [seam for _, seam in found if seam.sweep_rad]
    true = [shapely.LineString(arc["points_px"]) for arc in truth["arcs"]]
    pairs, invented = _matched(true, lines, reach)
    size_of = {size.patch: size for size in sizes.patches}
    patch_of = {patch.id: patch for patch in top.patches}
    radius, along = [], []
    for i, j in pairs:
        for name in (seams[j].left, seams[j].right):
            assert name is not None  # found seams lie between two patches
            curve = _curve_at(seams[j], patch_of[name], size_of[name])
            if curve is not None:
                r, n = curve.radius, curve.along
                radius.append((r.value_in - truth["arcs"][i]["radius"], r.plus_minus_in))
                along.append((n.value_in - truth["arcs"][i]["along"], n.plus_minus_in))
    seams_true = len(true_seams(wanted, group)[0])
    return ArcScore(len(true), len(pairs), invented, seams_true, len(found), radius, along)


def _matched(
    true: Sequence[shapely.LineString], found: Sequence[shapely.LineString], reach_px: float
) -> tuple[list[tuple[int, int]], int]:
    """Return (true, found) arcs that run along most of each other, and how many found ones do not
    run along true arcs.
    """
    true_at = [_points(line) for line in true]
    found_at = [_points(line) for line in found]
    tree = STRtree(list(true))
    pairs, invented = [], 0
    for j, line in enumerate(found):
        mine = found_at[j]
        real = np.zeros(len(mine[0]), dtype=np.bool_)
        for i in tree.query(line, predicate="dwithin", distance=reach_px).tolist():
            other = true_at[int(i)]
            on_true = beside(*mine, *other, reach_px)
            on_found = beside(*other, *mine, reach_px)
            real |= on_true
            both = min(_share(on_true), _share(on_found))
            if both >= MOST:
                pairs.append((both, i, j))
        invented += _share(real) <= REAL
    pairs.sort(key=lambda p: (-p[0], p[1], p[2]))
    used: tuple[set[int], set[int]] = (set(), set())
    out = []
    for _, i, j in pairs:
        if i not in used[0] and j not in used[1]:
            used[0].add(i)
            used[1].add(j)
            out.append((i, j))
    return out, invented


def _points(line: shapely.LineString) -> tuple[Points, NDArray[np.float64]]:
    """Return points along a line and their directions, as `sampled` does."""
    at, way, _ = sampled([line], [0])
    return at, way


def _share(hit: NDArray[np.bool_]) -> float:
    return float(hit.mean()) if len(hit) else 0.0


def _curve_at(seam: Seam, patch: Patch, size: PatchSize) -> SideCurve | None:
    """Return what was measured of a patch's side that is this seam; None where no side is it."""
    ring = ring_of(patch.polygon)
    at = [(float(x), float(y)) for x, y in ring[corners(ring)]]
    if len(at) != len(size.sides):
        return None
    ends = {seam.points[0], seam.points[-1]}
    mine = (c for c in size.curves if {at[c.side], at[(c.side + 1) % len(at)]} == ends)
    return next(mine, None)
