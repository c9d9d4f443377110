"""True seams and found ones as lines to be compared, in pixels of the photo."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import Polygon, STRtree

from seamwalk.benchmark.scoring import polygon_of
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import View
from seamwalk.model.top import Seam, Top

TOUCH_PX = 0.6
"""Outlines this near to each other touch: truth is rounded to tenths of a pixel."""

Area = Polygon | shapely.MultiPolygon

GRID_PX = 1e-3
"""Joined cloth is rounded to this."""

NEAR_PX = 3.0
"""A seam is found where one runs within this many pixels (Martin, Fowlkes and Malik, PAMI 26(5),
2004, compare boundaries so)."""

SAME_DEG = 20.0
"""A seam lies along another where their directions differ by less, degrees."""


def true_top(
    truth: Mapping[str, Any],
) -> tuple[list[Polygon], Area, list[Polygon], list[int], float]:
    """Return the true patches, their union, cloth joined by fabric, each one's place in that,
    and the side of a typical patch, pixels.
    """
    wanted = [polygon_of(p["outline_px"]) for p in truth["patches"]]
    region = _closed(wanted)
    fabrics = [str(p.get("fabric", k)) for k, p in enumerate(truth["patches"])]
    side = float(np.median(np.sqrt([p.area for p in wanted])))
    return wanted, region, *joined_by_fabric(wanted, fabrics), side


def joined_by_fabric(
    polygons: Sequence[Polygon], fabrics: Sequence[str]
) -> tuple[list[Polygon], list[int]]:
    """Return touching polygons of one fabric joined, and each one's place among them."""
    parts: list[Polygon] = []
    group = [-1] * len(polygons)
    members: dict[str, list[int]] = defaultdict(list)
    for k, name in enumerate(fabrics):
        members[name].append(k)
    for of_fabric in members.values():
        for part in touching([polygons[k] for k in of_fabric]):
            if part.area > 1:
                for k in of_fabric:
                    if part.contains(polygons[k].representative_point()):
                        group[k] = len(parts)
                parts.append(part)
    return parts, group


def touching(polygons: Sequence[Polygon]) -> list[Polygon]:
    """Return the polygons, those that touch along a side joined."""
    return [p for p in shapely.get_parts(_closed(polygons)) if isinstance(p, Polygon)]


def _closed(polygons: Sequence[Polygon]) -> Area:
    """Return the union of polygons that may lie a hair apart.

    Grown by a hair, they join; shrunk back by as much, those that touch at a corner only fall
    apart again.
    """
    grown = shapely.union_all([p.buffer(TOUCH_PX, join_style="mitre") for p in polygons])
    back = grown.buffer(-TOUCH_PX, join_style="mitre")
    # Mitres leave edges of a rounding error's length, which GEOS trips over: here or later.
    return cast("Area", shapely.set_precision(shapely.make_valid(back), GRID_PX))


Seams = tuple[NDArray[np.object_], NDArray[np.bool_]]


def true_seams(polygons: Sequence[Polygon], group: Sequence[int]) -> Seams:
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


def found_seams(
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


def sampled(
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


def beside(
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


@dataclass(frozen=True, slots=True, eq=False)
class Differences:
    """What a seam map missed and invented, in pixels of the photo.

    Attributes
    ----------
    right, invented : tuple of (N, 2)
        Seams found between patches: along a true one, along none.
    missed : (N, 2)
        Points along true seams that nothing was found beside.
    bounds : (x0, y0, x1, y1)
        Of the true top.
    """

    right: tuple[Points, ...]
    invented: tuple[Points, ...]
    missed: Points
    bounds: tuple[float, float, float, float]


def differences(truth: Mapping[str, Any], top: Top, view: View) -> Differences:
    """Return where a seam map and a truth document differ, as `seam_score` counts it."""
    wanted, region, _, group, side = true_top(truth)
    lines, _ = true_seams(wanted, group)
    found = found_seams(top, view, region, 0.0)
    true_xy, true_way, _ = sampled(list(lines), [0] * len(lines), 9.0)
    xy, way, owner = sampled([line for line, _ in found], list(range(len(found))))
    dense_xy, dense_way, _ = sampled(list(lines), [0] * len(lines))
    hit = beside(xy, way, dense_xy, dense_way, 0.08 * side)
    real = [bool(len(mine := hit[owner == k])) and mine.mean() > 0.5 for k in range(len(found))]
    drawn = [shapely.get_coordinates(line) for line, _ in found]
    x0, y0, x1, y1 = region.bounds
    return Differences(
        tuple(d for d, r in zip(drawn, real, strict=True) if r),
        tuple(d for d, r in zip(drawn, real, strict=True) if not r),
        true_xy[~beside(true_xy, true_way, xy, way, 0.08 * side)] if len(xy) else true_xy,
        (x0, y0, x1, y1),
    )
