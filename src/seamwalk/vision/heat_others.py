"""What a further look judges a border by besides: what the last look found, and other blocks.

So far as other blocks are believed (:mod:`heat_again`); all is 0 where none is.
"""

import numpy as np

from seamwalk.vision.heat_graph import BELIEF, BEYOND, FOUND, HOT, SHARE, Array, N
from seamwalk.vision.heat_lines import Field, fits

OF_OTHERS = (
    "found before",
    "found along the whole line",
    "other blocks show it",
    "other blocks lack it",
    "heat of other blocks",
    "other blocks beyond chance",
)
"""Columns of :func:`of_others`."""

FARTHEST = 7.0
"""How far beyond its ends a line is looked at, sides of a typical region."""

STEP_PX = 3.0
"""Steps along it; a line found is three pixels wide."""


def of_others(sums: Array, field: Field, side: float) -> Array:
    """Return what is measured of borders with `RegionMap.sums` (M, ·), (M, len(OF_OTHERS)).

    Parameters
    ----------
    field : Field
        With what the last look found.
    side : float
        Side of a typical region, pixels.
    """
    n = sums[:, N]
    line = fits(sums)
    half = line.way * line.length[:, None] / 2
    t = np.arange(2.0, FARTHEST * side, STEP_PX)
    found = []
    for sign in (1, -1):
        end, way = line.middle + sign * half, sign * line.way[:, None]
        found.append(field.found_at(end[:, None] + way * t[None, :, None]).mean(axis=1))
    share = sums[:, SHARE] / n
    return np.column_stack(
        [
            sums[:, FOUND] / n,
            (found[0] + found[1]) / 2,
            share,
            sums[:, BELIEF] / n - share,
            sums[:, HOT] / n,
            sums[:, BEYOND] / n,
        ]
    )
