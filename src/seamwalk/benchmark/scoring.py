"""How near a measured top is to the truth.

Patches are matched one to one by intersection over union (IoU) in photo pixels, best first; F1
counts matches at or above a threshold.  Sides are compared in inches for patches matched at 0.8.

References
----------
Everingham et al., The PASCAL Visual Object Classes Challenge, IJCV 88, 2010 (matching by IoU).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, STRtree, make_valid

from seamwalk.geometry.polyline import corners
from seamwalk.geometry.projective import Points

MATCHED_IOU = 0.8
"""A patch counts as found from here on."""


@dataclass(frozen=True, slots=True, eq=False)
class Score:
    """One photo's figures.

    Attributes
    ----------
    f1 : dict of float to float
        F1 by IoU threshold.
    side_errors_in : (N,) float64
        |measured − true| of every side of every matched patch with the right number of corners.
    side_bounds_in : (N,) float64
        The stated ± of the same sides.
    width_error_in, height_error_in : float
        Signed, measured − true.
    """

    patches: int
    found: int
    f1: dict[float, float]
    side_errors_in: NDArray[np.float64]
    side_bounds_in: NDArray[np.float64]
    width_error_in: float
    height_error_in: float
    width_bound_in: float
    height_bound_in: float

    @property
    def side_p95_in(self) -> float:
        """95th percentile of the side errors, inches; NaN without matched patches."""
        return (
            float(np.percentile(self.side_errors_in, 95)) if len(self.side_errors_in) else np.nan
        )

    @property
    def coverage(self) -> float:
        """Share of sides whose true length lies within the stated ±."""
        if not len(self.side_errors_in):
            return float("nan")
        return float((self.side_errors_in <= self.side_bounds_in).mean())


def score(truth: Mapping[str, Any], top: Mapping[str, Any]) -> Score:
    """Return the score of a top.json document against a truth document.

    Parameters
    ----------
    truth : mapping
        ``patches`` with ``outline_px`` and, for sizes, ``outline`` in inches; ``size_in``.
    top : mapping
        A top.json document in inches.
    """
    wanted = [polygon_of(p["outline_px"]) for p in truth["patches"]]
    got = [polygon_of(p["outline_px"]) for p in top["patches"]]
    pairs = matched(wanted, got)
    f1 = {}
    for threshold in (0.5, MATCHED_IOU):
        hits = sum(iou >= threshold for iou, _, _ in pairs)
        f1[threshold] = 2 * hits / max(len(wanted) + len(got), 1)
    sides = _sides(truth, top, pairs)
    errors = [abs(value - true) for true, value, _ in sides]
    bounds = [bound for *_, bound in sides]
    width, height = top["size"]["width"], top["size"]["height"]
    true_width, true_height = _through_the_middle(truth)
    return Score(
        len(wanted),
        len(got),
        f1,
        np.array(errors),
        np.array(bounds),
        width["value"] - true_width,
        height["value"] - true_height,
        width["plus_minus"],
        height["plus_minus"],
    )


def side_errors(
    truth: Mapping[str, Any], top: Mapping[str, Any]
) -> list[tuple[float, float, float]]:
    """Return true length, measured length and ± of each side of each patch found, inches.

    Parameters are those of `score`.
    """
    wanted = [polygon_of(p["outline_px"]) for p in truth["patches"]]
    got = [polygon_of(p["outline_px"]) for p in top["patches"]]
    return _sides(truth, top, matched(wanted, got))


def _sides(
    truth: Mapping[str, Any], top: Mapping[str, Any], pairs: list[tuple[float, int, int]]
) -> list[tuple[float, float, float]]:
    return [
        (true_in, side["value"], side["plus_minus"])
        for iou, i, j in pairs
        if iou >= MATCHED_IOU and "outline" in truth["patches"][i]
        for true_in, side in _side_pairs(truth["patches"][i], top["patches"][j])
    ]


def polygon_of(outline: Sequence[Sequence[float]]) -> Polygon:
    """Return an outline as a valid polygon: the largest part of one that crosses itself."""
    polygon = Polygon(outline)
    if polygon.is_valid:
        return polygon
    parts = getattr(make_valid(polygon), "geoms", [])
    areas = [g for g in parts if isinstance(g, Polygon)]
    return max(areas, key=lambda g: float(g.area), default=Polygon())


def matched(wanted: Sequence[Polygon], got: Sequence[Polygon]) -> list[tuple[float, int, int]]:
    """Return (IoU, wanted index, got index), each index once, best first."""
    tree = STRtree(list(got))
    pairs = []
    for i, w in enumerate(wanted):
        for j in tree.query(w):
            common = w.intersection(got[j]).area
            if common > 0:
                pairs.append((common / (w.area + got[j].area - common), i, int(j)))
    pairs.sort(key=lambda p: (-p[0], p[1], p[2]))
    used_wanted: set[int] = set()
    used_got: set[int] = set()
    out = []
    for iou, i, j in pairs:
        if i not in used_wanted and j not in used_got:
            used_wanted.add(i)
            used_got.add(j)
            out.append((iou, i, j))
    return out


def _corners(outline: Sequence[Sequence[float]]) -> NDArray[np.intp]:
    return corners(_open(outline))


def _open(outline: Sequence[Sequence[float]]) -> Points:
    ring = np.asarray(outline, dtype=np.float64)
    return ring[:-1] if np.allclose(ring[0], ring[-1]) else ring


def _side_pairs(
    true_patch: Mapping[str, Any], patch: Mapping[str, Any]
) -> list[tuple[float, Mapping[str, float]]]:
    """Return (true length, measured side) for each side, matched by where its ends lie.

    Empty when the numbers of corners differ: the shape was not recognised.
    """
    true_px, px = _open(true_patch["outline_px"]), _open(patch["outline_px"])
    true_in = _open(true_patch["outline"])
    at_true, at = corners(true_in), _corners(patch["outline"])
    if len(at_true) != len(at) or len(at) != len(patch["sides"]) or not len(at):
        return []
    middles_true = (true_px[at_true] + true_px[np.roll(at_true, -1)]) / 2
    middles = (px[at] + px[np.roll(at, -1)]) / 2
    gap = np.hypot(*(middles_true[:, None] - middles[None]).transpose(2, 0, 1))
    nearest = gap.argmin(axis=0)
    if len(set(nearest.tolist())) != len(at):
        return []
    ends = true_in[np.roll(at_true, -1)] - true_in[at_true]
    lengths = np.hypot(ends[:, 0], ends[:, 1])
    return [(float(lengths[n]), patch["sides"][k]) for k, n in enumerate(nearest.tolist())]


def _through_the_middle(truth: Mapping[str, Any]) -> tuple[float, float]:
    """Return the true width and height through the middle, inches."""
    if "width_in" in truth and "height_in" in truth:
        return float(truth["width_in"]), float(truth["height_in"])
    width, height = truth["size_in"]
    return float(width), float(height)
