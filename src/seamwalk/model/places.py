"""Where a patch lies, in the words of someone who looks at the top."""

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.model.top import Top

_ORDINALS = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
)

_LONG_SHARE = 0.4
"""Patches on the raw edge longer than this share of the top are called after the edge."""


class Places:
    """Words for the places of patches, counted as an eye would along rows and columns."""

    def __init__(self, top: Top) -> None:
        self.bounds: NDArray[np.float64] = shapely.bounds([p.polygon for p in top.patches])
        self.frame = np.array(top.outline.bounds)

    def words(self, place: int) -> str:
        """Return like ``third from the left, top row`` for the patch at `place` in the list."""
        edge = self._edge(place)
        if edge:
            return f"the strip along the {edge} edge"
        column, columns = self._count(place, 0)
        row, rows = self._count(place, 1)
        across = _counted(column, columns, "from the left", "from the right", "the only one")
        if rows == 1:
            return f"{across} in its row"
        if row == 0:
            return f"{across}, top row"
        if row == rows - 1:
            return f"{across}, bottom row"
        return f"{across}, {_counted(row, rows, 'row', 'row from the bottom', '')}"

    def _edge(self, place: int) -> str:
        x0, y0, x1, y1 = self.bounds[place]
        left, upper, right, lower = self.frame
        wide, high = right - left, lower - upper
        if x1 - x0 > _LONG_SHARE * wide and min(y0 - upper, lower - y1) < 0.1:
            return "upper" if y0 - upper < lower - y1 else "lower"
        if y1 - y0 > _LONG_SHARE * high and min(x0 - left, right - x1) < 0.1:
            return "left" if x0 - left < right - x1 else "right"
        return ""

    def _count(self, place: int, axis: int) -> tuple[int, int]:
        """Return how many patches come before along the line through the middle, and in all."""
        low, high = self.bounds[:, axis], self.bounds[:, axis + 2]
        middle = (low + high) / 2
        other = (self.bounds[place, 1 - axis] + self.bounds[place, 3 - axis]) / 2
        crossed = (self.bounds[:, 1 - axis] < other) & (self.bounds[:, 3 - axis] > other)
        crossed[place] = True
        # Patches one above the other in the same place count once.
        at = np.sort(middle[crossed])
        size = np.median((high - low)[crossed])
        apart = np.concatenate([[True], np.diff(at) > 0.25 * size])
        before = int((apart & (at < middle[place] - 0.125 * size)).sum())
        return before, int(apart.sum())


def _counted(k: int, n: int, first: str, last: str, alone: str) -> str:
    """Return k of n, counted from whichever end is nearer."""
    if n == 1 and alone:
        return alone
    if k <= n - 1 - k:
        return f"{_ordinal(k)} {first}"
    return f"{_ordinal(n - 1 - k)} {last}"


def _ordinal(k: int) -> str:
    return _ORDINALS[k] if k < len(_ORDINALS) else f"{k + 1}th"
