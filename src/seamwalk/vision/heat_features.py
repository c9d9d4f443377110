"""What a border is judged by, as numbers about −1 to 1 or a few units.

Each measure is one column; the model in :mod:`heat_merge` weighs them.  Lengths are measured in
sides of a typical region, so that they mean the same at every resolution and size of patch.
"""

import numpy as np

from seamwalk.vision.heat_graph import (
    DRAWN,
    HEAT,
    JUNCTION,
    REPEAT,
    STEPS,
    TRUST,
    Array,
    Indices,
    N,
    RegionMap,
)
from seamwalk.vision.heat_lines import Field, fits
from seamwalk.vision.heat_others import FARTHEST, OF_OTHERS, of_others
from seamwalk.vision.hulls import hull_of

OF_BORDERS = (
    "mean heat",
    "share with a trace",
    "share above 0.2",
    "share above 0.35",
    "share above 0.5",
    "share above 0.7",
    "heat along the line",
    "heat beyond the nearer end",
    "heat beyond the farther end",
    "heat far beyond",
    "heat along the whole line",
    "log length",
    "bend",
    "jaggedness",
    "share drawn",
    "copies show it",
    "copies lack it",
    "junction heat",
    "junction heat at the lesser end",
    "junction heat at the greater end",
)
OF_REGIONS = (
    "colour contrast",
    "colour difference",
    "texture difference",
    "busyness",
    "log smaller area",
    "log larger area",
    "relative length",
    "share of the smaller outline",
    "least convexity",
    "joint convexity",
    "gain in convexity",
)
OF_THE_TOP = (
    "heat against the strongest beside",
    "heat against the whole top's",
    "regions like the smaller",
    "regions like the larger",
    "regions like both joined",
)
MEASURES = OF_BORDERS + OF_REGIONS + OF_THE_TOP
"""Columns of :func:`measures`: what depends on a border alone, on its regions, on all others."""

AGAIN = MEASURES + OF_OTHERS
"""The same in a further look, with what other blocks say."""

LEVEL = 0.75
"""A top's own level is the quantile of its cracks' heat at this share: most seams of any top show
clearly, and pictures differ in how clearly."""

NEAR, FAR = 0.5, 2.2
"""How far, besides `FARTHEST`, beyond its ends a line is looked at, sides of a typical region."""

END_PX = 4
"""A junction may lie this far off the end of a border's line."""

ALIKE = np.array([0.12, 0.25, 0.25])
"""Regions are alike whose logarithms of area, and of largest and least spread over area, differ by
no more: a pixel all round a small patch, or a seam sewn 1/16 in too wide."""


def measures(regions: RegionMap, field: Field, side: float, last: Array | None = None) -> Array:
    """Return what every border of `regions` is judged by, (M, F), F as in `MEASURES`.

    In a further look, when `field` has what the last one found, they are those of `AGAIN`.

    Parameters
    ----------
    field : Field
        Heat and its direction on the regions' grid.
    side : float
        Side of a typical region, pixels.
    last : (M', F) float64 or None
        The measures of the map that `regions` was joined from: what did not change is kept.
    """
    old = regions.before if last is not None else np.full(len(regions.pair), -1, dtype=np.intp)
    fresh = np.flatnonzero(old < 0)
    again = field.found is not None
    out = np.zeros((len(regions.pair), len(AGAIN if again else MEASURES)))
    if last is not None:
        out[old >= 0] = last[old[old >= 0]]
    borders, both = len(OF_BORDERS), len(OF_BORDERS) + len(OF_REGIONS)
    out[fresh, :borders] = _of_borders(regions.sums[fresh], field, side)
    out[fresh, borders:both] = _of_regions(regions, fresh, side)
    out[:, both : len(MEASURES)] = _of_the_top(regions, out[:, 0])
    if again:
        out[fresh, len(MEASURES) :] = of_others(regions.sums[fresh], field, side)
    return out


def _of_the_top(regions: RegionMap, heat: Array) -> Array:
    a, b = regions.pair.T
    strongest = np.zeros(len(regions.size))
    np.maximum.at(strongest, a, heat)
    np.maximum.at(strongest, b, heat)
    return np.column_stack(
        [
            heat / np.maximum(np.maximum(strongest[a], strongest[b]), 0.05),
            heat / max(_level(heat, regions.sums[:, N]), 0.05),
            *_alike(regions),
        ]
    )


def _alike(regions: RegionMap) -> tuple[Array, Array, Array]:
    """Return log counts of other regions of the size and shape of either region, and of both.

    Few sizes are cut for a top, so what a real seam parts are two shapes that come again.
    """
    from scipy.spatial import KDTree

    if len(regions.size) < 2:
        nothing = np.zeros(len(regions.pair))
        return nothing, nothing, nothing
    shape = _shape(regions.size, regions.moments)[1:] / ALIKE
    tree = KDTree(shape)

    def count(at: Array) -> Array:
        found = tree.query_ball_point(at, 1.0, p=np.inf, return_length=True)
        return np.asarray(found, dtype=np.float64)

    own = count(shape) - 1
    a, b = (regions.pair - 1).T
    swap = regions.size[a + 1] > regions.size[b + 1]
    small, large = np.where(swap, b, a), np.where(swap, a, b)
    one, two = regions.pair.T
    joint = _shape(
        regions.size[one] + regions.size[two], regions.moments[one] + regions.moments[two]
    )
    return np.log1p(own[small]), np.log1p(own[large]), np.log1p(count(joint / ALIKE))


def _shape(size: Array, moments: Array) -> Array:
    """Return logarithms of area, and of largest and least spread over area, (K, 3)."""
    n = np.maximum(size, 1.0)
    x, y, xx, xy, yy = (moments / n[:, None]).T
    xx, xy, yy = xx - x * x + 1 / 12, xy - x * y, yy - y * y + 1 / 12
    half = np.sqrt(((xx - yy) / 2) ** 2 + xy**2)
    middle = (xx + yy) / 2
    spread = np.stack([middle + half, np.maximum(middle - half, 1 / 12)], axis=1)
    out: Array = np.log(np.column_stack([n, spread / n[:, None]]))
    return out


def _level(heat: Array, cracks: Array) -> float:
    """Return the heat that three quarters of all cracks' borders stay below."""
    if not len(heat):
        return 1.0
    order = np.argsort(heat)
    share = np.cumsum(cracks[order]) / cracks.sum()
    return float(heat[order][np.searchsorted(share, LEVEL)])


def _of_borders(sums: Array, field: Field, side: float) -> Array:
    n = sums[:, N]
    line = fits(sums)
    share = np.cumsum(sums[:, STEPS][:, ::-1], axis=1)[:, ::-1] / n[:, None]
    half = line.way * line.length[:, None] / 2
    t = np.arange(5.0, FAR * side + 5, 3.0)
    near = t < NEAR * side + 5
    farther = np.arange(FAR * side + 5, FARTHEST * side + 5, 6.0)
    beyond, junction = [], []
    for sign in (1, -1):
        end = line.middle + sign * half
        way = sign * line.way[:, None]
        own, _ = field.along(end[:, None] + way * t[None, :, None], line.way, 2.0)
        rest, _ = field.along(end[:, None] + way * farther[None, :, None], line.way, 2.0)
        whole = np.concatenate([own, np.repeat(rest, 2, axis=1)], axis=1)
        beyond.append((own[:, near].mean(axis=1), own.mean(axis=1), whole.mean(axis=1)))
        junction.append(field.junction_at(end, END_PX))
    (near_a, far_a, whole_a), (near_b, far_b, whole_b) = beyond
    trust = sums[:, TRUST] / n
    return np.column_stack(
        [
            sums[:, HEAT] / n,
            share[:, 1:],
            line.along * sums[:, HEAT] / n,
            np.minimum(near_a, near_b),
            np.maximum(near_a, near_b),
            np.maximum(far_a, far_b),
            (whole_a + whole_b) / 2,
            np.log(line.length / side),
            np.minimum(line.bend / line.length, 0.3) * 3,
            np.minimum(n / line.length, 3.0) - 1,
            sums[:, DRAWN] / n,
            sums[:, REPEAT] / n,
            trust - sums[:, REPEAT] / n,
            sums[:, JUNCTION] / n,
            np.minimum(*junction),
            np.maximum(*junction),
        ]
    )


def _of_regions(regions: RegionMap, rows: Indices, side: float) -> Array:
    a, b = regions.pair[rows].T
    count = np.maximum(regions.cloth[:, 0], 1)
    mean = regions.cloth[:, 1:4] / count[:, None]
    spread = np.maximum(regions.cloth[:, 4] / count - (mean**2).sum(axis=1), 0)
    apart = np.linalg.norm(mean[a] - mean[b], axis=1)
    noise = np.sqrt(spread[a]) + np.sqrt(spread[b]) + 2
    fine = regions.cloth[:, 5] / count
    small, large = (
        np.minimum(regions.size[a], regions.size[b]),
        np.maximum(regions.size[a], regions.size[b]),
    )
    around = regions.outer.copy()
    np.add.at(around, regions.pair[:, 0], regions.sums[:, N])
    np.add.at(around, regions.pair[:, 1], regions.sums[:, N])
    convex = np.minimum(regions.size / regions.hull_area, 1)
    joint = np.array(
        [
            (regions.size[i] + regions.size[j])
            / hull_of(np.concatenate([regions.hull[i], regions.hull[j]]))[1]
            for i, j in zip(a.tolist(), b.tolist(), strict=True)
        ]
    )
    joint = np.minimum(joint, 1)
    least = np.minimum(convex[a], convex[b])
    length = fits(regions.sums[rows]).length
    return np.column_stack(
        [
            np.log1p(apart / noise),
            np.log1p(apart / 10),
            np.log1p(np.abs(fine[a] - fine[b])),
            np.log1p(fine[a] + fine[b]),
            np.log(small / side**2 + 1e-3),
            np.log(large / side**2 + 1e-3),
            np.minimum(length / np.sqrt(small), 2),
            regions.sums[rows, N] / np.minimum(around[a], around[b]),
            least,
            joint,
            joint - least,
        ]
    )
