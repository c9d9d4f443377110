"""How near a seam map is to the truth: patches, junctions, outline, and seam by seam.

Truth and result are compared in photo pixels, since truth drawn by hand has no inches.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import Polygon, STRtree

from seamwalk.benchmark.scoring import matched, polygon_of
from seamwalk.benchmark.seam_comparison import (
    NEAR_PX,
    Area,
    Seams,
    beside,
    found_seams,
    sampled,
    touching,
    true_seams,
    true_top,
)
from seamwalk.geometry.polygon import ring_of
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import View
from seamwalk.model.top import Seam, Top

_Frp = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class SeamCheck:
    """One seam found between two patches, and whether there is one.

    Attributes
    ----------
    confidence : float
        As stated.
    inferred : bool
        Said not to be seen.
    same : bool
        Both its sides are of one fabric in truth.
    real : bool
        A true seam runs along most of it.
    length_px : float
    """

    confidence: float
    inferred: bool
    same: bool
    real: bool
    length_px: float


@dataclass(frozen=True, slots=True)
class SeamScore:
    """One picture's figures.

    Attributes
    ----------
    f1, visible : dict
        F1 of patches by IoU; `visible` with neighbours of one fabric joined on both sides.
    junctions_px : list of float
        Distance of each true junction from the nearest one found, pixels; infinite beyond 0.15
        of the median patch's side.
    mask_iou : float
        Of the outlines.
    checks : list of SeamCheck
        Of seams found between patches.
    recall : dict
        Share of the length of true seams that was found: "same" fabric, "other" fabrics.
    lengths : dict
        Of the same seams, in samples.
    boundary, roughly : (float, float, float)
        F, precision and recall of seams within `NEAR_PX`, and within twice that, by length.
    """

    patches: int
    found: int
    f1: dict[float, float]
    visible: dict[float, float]
    junctions_px: list[float]
    mask_iou: float
    checks: list[SeamCheck] = field(default_factory=list)
    recall: dict[str, float] = field(default_factory=dict)
    lengths: dict[str, float] = field(default_factory=dict)
    boundary: _Frp = (0.0, 0.0, 0.0)
    roughly: _Frp = (0.0, 0.0, 0.0)


def seam_score(truth: Mapping[str, Any], top: Top, view: View) -> SeamScore:
    """Return the score of a top seen by a camera against a truth document.

    Parameters
    ----------
    truth : mapping
        ``patches`` with ``outline_px`` and ``fabric``, ``junctions_px``; pixels of the photo.
    top : Top
        In the frame of `view`.
    """
    rings = [view.px_from_top(ring_of(p.polygon)) for p in top.patches]
    outlines = [polygon_of(ring.tolist()) for ring in rings]
    wanted, region, joined, group, side = true_top(truth)
    got = _inside(outlines, region)
    shown = shapely.union_all(outlines)
    seams = true_seams(wanted, group)
    found = found_seams(top, view, region, 0.08 * side)
    return SeamScore(
        len(wanted),
        len(got),
        _f1(wanted, got),
        _f1(joined, _joined_into(got, joined)),
        _junctions(truth, view.px_from_top([j.xy for j in top.junctions]), region, side),
        float(shown.intersection(region).area / max(shown.union(region).area, 1e-9)),
        *_seam_by_seam(seams, found, _Cloth(STRtree(wanted), group, 0.12 * side), 0.08 * side),
    )


def _f1(wanted: Sequence[Polygon], got: Sequence[Polygon]) -> dict[float, float]:
    pairs = matched(wanted, got)
    return {
        at: 2 * sum(iou >= at for iou, _, _ in pairs) / max(len(wanted) + len(got), 1)
        for at in (0.5, 0.8)
    }


def _inside(polygons: Sequence[Polygon], region: Area) -> list[Polygon]:
    """Return the polygons clipped to the annotated region, those mostly outside left out."""
    parts = [(p, _largest(shapely.intersection(p, region))) for p in polygons]
    return [part for p, part in parts if p.area > 4 and part.area >= 0.5 * p.area]


def _joined_into(polygons: Sequence[Polygon], regions: Sequence[Polygon]) -> list[Polygon]:
    """Return the polygons, those that lie in one region (80 % of their area) joined."""
    tree = STRtree(list(regions))
    home: dict[tuple[bool, int], list[Polygon]] = defaultdict(list)
    for k, polygon in enumerate(polygons):
        best = max(
            ((float(polygon.intersection(regions[i]).area), int(i)) for i in tree.query(polygon)),
            default=(0.0, -1),
        )
        inside = best[0] >= 0.8 * polygon.area
        home[(inside, best[1] if inside else k)].append(polygon)
    out: list[Polygon] = []
    for members in home.values():
        if len(members) == 1:
            out += members
            continue
        out += [p for p in touching(members) if p.area > 4]
    return out


def _junctions(truth: Mapping[str, Any], got: Points, region: Area, side: float) -> list[float]:
    wanted = np.asarray(truth.get("junctions_px", []), dtype=np.float64).reshape(-1, 2)
    wanted = wanted[shapely.contains_xy(region.buffer(6), wanted)]
    if not len(wanted) or not len(got):
        return [float("inf")] * len(wanted)
    gap = np.asarray(cKDTree(got).query(wanted)[0])
    return [float(g) if g <= 0.15 * side else float("inf") for g in gap.tolist()]


@dataclass(frozen=True, slots=True)
class _Cloth:
    """True patches, which of them are joined cloth, and how far beside a seam to look, pixels."""

    tree: STRtree
    group: Sequence[int]
    beside_px: float

    def same_beside(self, line: shapely.LineString) -> bool:
        """Tell whether both sides of a line's middle are of one fabric in truth."""
        a, b = shapely.get_coordinates(line.interpolate([0.45, 0.55], normalized=True))
        way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        off = self.beside_px * np.array([-way[1], way[0]])
        middle = shapely.points([(a + b) / 2 + off, (a + b) / 2 - off])
        point, patch = self.tree.query(middle, predicate="within")
        groups = [{self.group[k] for k in patch[point == side].tolist()} for side in (0, 1)]
        return bool(groups[0] & groups[1])


def _seam_by_seam(
    seams: Seams,
    found: Sequence[tuple[shapely.LineString, Seam]],
    cloth: _Cloth,
    reach_px: float,
) -> tuple[list[SeamCheck], dict[str, float], dict[str, float], _Frp, _Frp]:
    lines, same = seams
    true_xy, true_way, true_same = sampled(list(lines), list(same))
    if not found or not len(true_xy):
        return [], {}, {}, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    xy, way, owner = sampled([line for line, _ in found], list(range(len(found))))
    hit = beside(xy, way, true_xy, true_way, reach_px)
    checks = []
    for k, (line, seam) in enumerate(found):
        mine = hit[owner == k]
        real = bool(mine.mean() > 0.5) if len(mine) else False
        same_cloth = cloth.same_beside(line)
        checks.append(
            SeamCheck(seam.confidence, seam.inferred, same_cloth, real, float(line.length))
        )
    seen = beside(true_xy, true_way, xy, way, reach_px)
    recall, lengths = {}, {}
    for name, which in (("same", true_same == 1), ("other", true_same == 0)):
        lengths[name] = float(which.sum())
        recall[name] = float(seen[which].mean()) if which.any() else float("nan")
    found_at, true_at = (xy, way), (true_xy, true_way)
    near, roughly = (_agreeing(found_at, true_at, r) for r in (NEAR_PX, 2 * NEAR_PX))
    return checks, recall, lengths, near, roughly


def _agreeing(found: tuple[Points, Points], true: tuple[Points, Points], reach_px: float) -> _Frp:
    """Return F, precision and recall of seams, both as places and directions."""
    precise = float(beside(*found, *true, reach_px).mean())
    complete = float(beside(*true, *found, reach_px).mean())
    return 2 * precise * complete / max(precise + complete, 1e-9), precise, complete


def _largest(shape: shapely.Geometry) -> Polygon:
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon)]
    return max(parts, key=lambda p: float(p.area), default=Polygon())
