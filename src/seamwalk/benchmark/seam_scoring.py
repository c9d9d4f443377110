"""How near a seam map is to the truth: patches, junctions, outline, and seam by seam.

Truth and result are compared in photo pixels, since truth drawn by hand has no inches.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import Polygon, STRtree

from seamwalk.benchmark.scoring import matched, polygon_of
from seamwalk.geometry.polygon import ring_of
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import View
from seamwalk.model.top import Seam, Top

TOUCH_PX = 0.6
"""Outlines this near to each other touch: truth is rounded to tenths of a pixel."""

Area = Polygon | shapely.MultiPolygon

NEAR_PX = 3.0
"""A seam is found where one runs within this many pixels (Martin, Fowlkes and Malik, PAMI 26(5),
2004, compare boundaries so)."""

SAME_DEG = 20.0
"""A seam lies along another where their directions differ by less, degrees."""


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
    boundary : (float, float, float)
        F, precision and recall of seams within `NEAR_PX`, by length.
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
    boundary: tuple[float, float, float] = (0.0, 0.0, 0.0)


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
    wanted = [polygon_of(p["outline_px"]) for p in truth["patches"]]
    region = shapely.union_all([p.buffer(TOUCH_PX, join_style="mitre") for p in wanted]).buffer(
        -TOUCH_PX, join_style="mitre"
    )
    got = _inside(outlines, region)
    joined, group = _joined_by_fabric(
        wanted, [str(p.get("fabric", k)) for k, p in enumerate(truth["patches"])]
    )
    side = float(np.median(np.sqrt([p.area for p in wanted])))
    shown = shapely.union_all(outlines)
    seams = _true_seams(wanted, group)
    found = _found_seams(top, view, region, 0.08 * side)
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


def _joined_by_fabric(
    polygons: Sequence[Polygon], fabrics: Sequence[str]
) -> tuple[list[Polygon], list[int]]:
    """Return touching polygons of one fabric joined, and each one's place among them."""
    parts: list[Polygon] = []
    group = [-1] * len(polygons)
    members: dict[str, list[int]] = defaultdict(list)
    for k, name in enumerate(fabrics):
        members[name].append(k)
    for of_fabric in members.values():
        for part in _touching([polygons[k] for k in of_fabric]):
            if part.area > 1:
                for k in of_fabric:
                    if part.contains(polygons[k].representative_point()):
                        group[k] = len(parts)
                parts.append(part)
    return parts, group


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
        out += [p for p in _touching(members) if p.area > 4]
    return out


def _touching(polygons: Sequence[Polygon]) -> list[Polygon]:
    """Return the polygons, those that touch along a side joined.

    Shrunk by more than they were grown, polygons that touch at a corner only fall apart again.
    """
    grown = shapely.union_all([p.buffer(TOUCH_PX) for p in polygons])
    back = shapely.buffer(shapely.buffer(grown, -2 * TOUCH_PX), TOUCH_PX)
    return [p for p in shapely.get_parts(back) if isinstance(p, Polygon)]


def _junctions(truth: Mapping[str, Any], got: Points, region: Area, side: float) -> list[float]:
    wanted = np.asarray(truth.get("junctions_px", []), dtype=np.float64).reshape(-1, 2)
    wanted = wanted[shapely.contains_xy(region.buffer(6), wanted)]
    if not len(wanted) or not len(got):
        return [float("inf")] * len(wanted)
    gap = np.asarray(cKDTree(got).query(wanted)[0])
    return [float(g) if g <= 0.15 * side else float("inf") for g in gap.tolist()]


Seams = tuple[NDArray[np.object_], NDArray[np.bool_]]


def _true_seams(polygons: Sequence[Polygon], group: Sequence[int]) -> Seams:
    """Return the lines between touching patches, and whether both are of one fabric."""
    tree = STRtree(list(polygons))
    lines, same = [], []
    for i, polygon in enumerate(polygons):
        near = polygon.buffer(TOUCH_PX)
        for j in tree.query(near):
            if j <= i:
                continue
            shared = near.intersection(polygons[j].boundary)
            if shared.length > 4 * TOUCH_PX:
                lines.append(shared)
                same.append(group[i] == group[j])
    return np.array(lines, dtype=object), np.array(same, dtype=bool)


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


def _found_seams(
    top: Top, view: View, region: Area, clear_px: float
) -> list[tuple[shapely.LineString, Seam]]:
    """Return the seams found between two patches well inside the annotated region."""
    inner = region.buffer(-clear_px)
    lines = [
        (shapely.LineString(view.px_from_top(seam.points)), seam)
        for seam in top.seams
        if seam.left is not None and seam.right is not None
    ]
    return [(n, s) for n, s in lines if inner.contains(n.interpolate(0.5, normalized=True))]


def _seam_by_seam(
    seams: Seams,
    found: Sequence[tuple[shapely.LineString, Seam]],
    cloth: _Cloth,
    reach_px: float,
) -> tuple[list[SeamCheck], dict[str, float], dict[str, float], tuple[float, float, float]]:
    lines, same = seams
    true_xy, true_way, true_same = _sampled(list(lines), list(same))
    if not found or not len(true_xy):
        return [], {}, {}, (0.0, 0.0, 0.0)
    xy, way, owner = _sampled([line for line, _ in found], list(range(len(found))))
    hit = _beside(xy, way, true_xy, true_way, reach_px)
    checks = []
    for k, (line, seam) in enumerate(found):
        mine = hit[owner == k]
        real = bool(mine.mean() > 0.5) if len(mine) else False
        same_cloth = cloth.same_beside(line)
        checks.append(
            SeamCheck(seam.confidence, seam.inferred, same_cloth, real, float(line.length))
        )
    seen = _beside(true_xy, true_way, xy, way, reach_px)
    recall, lengths = {}, {}
    for name, which in (("same", true_same == 1), ("other", true_same == 0)):
        lengths[name] = float(which.sum())
        recall[name] = float(seen[which].mean()) if which.any() else float("nan")
    precise = float(_beside(xy, way, true_xy, true_way, NEAR_PX).mean())
    complete = float(_beside(true_xy, true_way, xy, way, NEAR_PX).mean())
    f = 2 * precise * complete / max(precise + complete, 1e-9)
    return checks, recall, lengths, (f, precise, complete)


def _sampled(
    lines: Sequence[shapely.Geometry], tags: Sequence[int | bool], step_px: float = 3.0
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.intp]]:
    """Return points along lines, their directions (doubled angle), and their line's tag."""
    points, ways, owners = [], [], []
    for line, tag in zip(lines, tags, strict=True):
        for part in shapely.get_parts(
            line if isinstance(line, shapely.LineString) else shapely.line_merge(line)
        ):
            if not isinstance(part, shapely.LineString) or part.length < step_px:
                continue
            n = max(2, round(part.length / step_px))
            at = np.linspace(0.02, 0.98, n) * part.length
            p = shapely.get_coordinates(shapely.line_interpolate_point(part, at))
            q = shapely.get_coordinates(
                shapely.line_interpolate_point(part, np.minimum(at + 1, part.length))
            )
            b = shapely.get_coordinates(
                shapely.line_interpolate_point(part, np.maximum(at - 1, 0))
            )
            d = q - b
            points.append(p)
            ways.append(2 * np.arctan2(d[:, 1], d[:, 0]))
            owners.append(np.full(n, int(tag)))
    if not points:
        return np.zeros((0, 2)), np.zeros(0), np.zeros(0, dtype=np.intp)
    return np.concatenate(points), np.concatenate(ways), np.concatenate(owners)


def _beside(
    xy: NDArray[np.float64],
    way: NDArray[np.float64],
    other_xy: NDArray[np.float64],
    other_way: NDArray[np.float64],
    reach_px: float,
) -> NDArray[np.bool_]:
    """Return whether a point of the same direction lies within reach of each point."""
    tree = cKDTree(other_xy)
    hit = np.zeros(len(xy), dtype=np.bool_)
    near = tree.query_ball_point(xy, reach_px)
    for k, which in enumerate(near):
        if which:
            turn = np.abs(np.angle(np.exp(1j * (other_way[which] - way[k])))) / 2
            hit[k] = bool((turn < np.radians(SAME_DEG)).any())
    return hit


def _largest(shape: shapely.Geometry) -> Polygon:
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon)]
    return max(parts, key=lambda p: float(p.area), default=Polygon())
