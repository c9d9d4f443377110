"""Finds places for numbers beside a path where they hide as little as possible.

Greedy and deterministic: labels are placed in the order given, each at the cheapest of a ring of
places round its point.  Cost counts path and marks that would be hidden, and distance.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_DIRECTIONS = 16
_RINGS = (0.75, 1.3, 2.0, 2.9)
"""Distances tried from the point to the label's box, in heights of the label."""

_TAKEN_COST = 12.0
"""Hiding another label costs as much as hiding twelve times its area in lines."""
_DISTANCE_COST = 0.06
"""One label height further away weighs as much as 6 % of the label lying on lines."""


@dataclass(slots=True)
class Occupied:
    """How much of each cell of a picture is taken; cells are `cell_px` pixels square."""

    cell_px: int
    cost: NDArray[np.float32]

    @classmethod
    def blank(cls, width_px: int, height_px: int, cell_px: int) -> "Occupied":
        """Return a picture with nothing on it."""
        shape = (-(-height_px // cell_px), -(-width_px // cell_px))
        return cls(cell_px, np.zeros(shape, np.float32))

    def add_points(self, px: NDArray[np.float64]) -> None:
        """Mark the cells that hold `px` (N, 2); points outside are left out."""
        ok = np.isfinite(px).all(axis=1)
        col, row = (np.floor(px[ok] / self.cell_px)).astype(np.int64).T
        h, w = self.cost.shape
        inside = (col >= 0) & (row >= 0) & (col < w) & (row < h)
        self.cost[row[inside], col[inside]] = np.maximum(self.cost[row[inside], col[inside]], 1)

    def take(self, x: float, y: float, w: float, h: float) -> None:
        """Mark a box of pixels as taken by a label."""
        rows, cols = self._cells(x, y, w, h)
        self.cost[rows, cols] = _TAKEN_COST

    def share(self, x: float, y: float, w: float, h: float) -> float:
        """Return the mean cost under a box of pixels; outside the picture is infinite."""
        height, width = self.cost.shape
        if x < 0 or y < 0 or x + w > width * self.cell_px or y + h > height * self.cell_px:
            return float("inf")
        rows, cols = self._cells(x, y, w, h)
        return float(self.cost[rows, cols].mean())

    def _cells(self, x: float, y: float, w: float, h: float) -> tuple[slice, slice]:
        c = self.cell_px
        return (
            slice(max(0, int(y // c)), max(1, int(-(-(y + h) // c)))),
            slice(max(0, int(x // c)), max(1, int(-(-(x + w) // c)))),
        )


def place(
    occupied: Occupied,
    at_px: tuple[float, float],
    size_px: tuple[float, float],
    most_cost: float = float("inf"),
) -> tuple[float, float] | None:
    """Return the best middle for a label near `at_px`, and take the place.

    Parameters
    ----------
    size_px : (float, float)
        Width and height of the label.
    most_cost : float
        None comes back if every place costs more than this, or lies outside the picture.
    """
    w, h = size_px
    best: tuple[tuple[float, float], float] = (at_px, float("inf"))
    for ring in _RINGS:
        for k in range(_DIRECTIONS):
            a = 2 * np.pi * (k + 0.5) / _DIRECTIONS
            x = at_px[0] + np.cos(a) * (ring * h + w / 2)
            y = at_px[1] + np.sin(a) * (ring * h + h / 2)
            cost = occupied.share(x - w / 2, y - h / 2, w, h) + _DISTANCE_COST * ring
            if cost < best[1]:
                best = ((float(x), float(y)), cost)
    (x, y), cost = best
    if cost > most_cost or not np.isfinite(cost):
        return None
    occupied.take(x - w / 2, y - h / 2, w, h)
    return x, y
