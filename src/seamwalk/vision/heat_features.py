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
from seamwalk.vision.hulls import hull_of

MEASURES = (
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
    "log length",
    "bend",
    "jaggedness",
    "share drawn",
    "copies show it",
    "copies lack it",
    "junction heat",
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
    "heat against the strongest beside",
    "heat against the whole top's",
)
"""Columns of :func:`measures`."""

LEVEL = 0.75
"""A top's own level is the quantile of its cracks' heat at this share: most seams of any top show
clearly, and pictures differ in how clearly."""

NEAR, FAR = 0.5, 2.2
"""How far beyond its ends a line is looked at, sides of a typical region."""


def measures(regions: RegionMap, field: Field, side: float, last: Array | None = None) -> Array:
    """Return what every border of `regions` is judged by, (M, len(MEASURES)).

    Parameters
    ----------
    field : Field
        Heat and its direction on the regions' grid.
    side : float
        Side of a typical region, pixels.
    last : (M', len(MEASURES)) float64 or None
        The measures of the map that `regions` was joined from: what did not change is kept.
    """
    old = regions.before if last is not None else np.full(len(regions.pair), -1, dtype=np.intp)
    fresh = np.flatnonzero(old < 0)
    out = np.zeros((len(regions.pair), len(MEASURES)))
    if last is not None:
        out[old >= 0] = last[old[old >= 0]]
    out[fresh, :17] = _of_borders(regions.sums[fresh], field, side)
    out[fresh, 17:28] = _of_regions(regions, fresh, side)
    a, b = regions.pair.T
    strongest = np.zeros(len(regions.size))
    np.maximum.at(strongest, a, out[:, 0])
    np.maximum.at(strongest, b, out[:, 0])
    out[:, 28] = out[:, 0] / np.maximum(np.maximum(strongest[a], strongest[b]), 0.05)
    out[:, 29] = out[:, 0] / max(_level(out[:, 0], regions.sums[:, N]), 0.05)
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
    beyond = []
    t = np.arange(5.0, FAR * side + 5, 3.0)
    near = t < NEAR * side + 5
    for sign in (1, -1):
        at = line.middle[:, None] + sign * (half[:, None] + line.way[:, None] * t[None, :, None])
        own, _ = field.along(at, line.way, 2.0)
        beyond.append((own[:, near].mean(axis=1), own.mean(axis=1)))
    (near_a, far_a), (near_b, far_b) = beyond
    trust = sums[:, TRUST] / n
    return np.column_stack(
        [
            sums[:, HEAT] / n,
            share[:, 1:],
            line.along * sums[:, HEAT] / n,
            np.minimum(near_a, near_b),
            np.maximum(near_a, near_b),
            np.maximum(far_a, far_b),
            np.log(line.length / side),
            np.minimum(line.bend / line.length, 0.3) * 3,
            np.minimum(n / line.length, 3.0) - 1,
            sums[:, DRAWN] / n,
            sums[:, REPEAT] / n,
            trust - sums[:, REPEAT] / n,
            sums[:, JUNCTION] / n,
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
