"""A coarse raster of distances from stitching, and which of its cells belong to one gap."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from seamwalk.geometry.projective import Points

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Raster:
    """Distances of cells from the nearest cell with stitching, over an extent.

    Attributes
    ----------
    gap_in : ndarray (H, W)
        Between middles of cells, inches; 0 in cells with stitching, −1 in those whose middle lies
        outside the polygon.
    origin : ndarray (2,)
        Upper left corner.
    """

    gap_in: Floats
    origin: Floats
    cell_in: float

    @property
    def error_in(self) -> float:
        """No place of a cell is further from the stitching than `gap_in` and this, inches."""
        # Half a diagonal from the place to the cell's middle, and again from cell to stitch.
        return self.cell_in * 2**0.5

    def middles(self, rows: Whole, columns: Whole) -> Points:
        """Return the middles of cells, (N, 2)."""
        at: Points = self.origin + (np.column_stack([columns, rows]) + 0.5) * self.cell_in
        return at


def raster_of(
    points: Points, inside: Polygon | MultiPolygon, bounds: Bounds, cell_in: float
) -> Raster:
    """Return the raster of distances from points no further apart than a cell.

    Parameters
    ----------
    inside : Polygon or MultiPolygon
        Where distances are wanted.
    bounds : (float, float, float, float)
        Where points count.
    """
    from scipy.ndimage import distance_transform_edt

    x0, y0, x1, y1 = bounds
    h, w = int((y1 - y0) / cell_in) + 2, int((x1 - x0) / cell_in) + 2
    origin = np.array([x0, y0]) - cell_in / 2
    at = np.floor((points - origin) / cell_in).astype(np.intp)
    at = at[((at >= 0) & (at < (w, h))).all(axis=1)]
    free = np.ones((h, w), dtype=bool)
    free[at[:, 1], at[:, 0]] = False
    gap = np.asarray(distance_transform_edt(free), dtype=np.float64)
    gap *= cell_in
    raster = Raster(gap, origin, cell_in)
    rows, columns = np.nonzero(free)
    places = raster.middles(rows, columns)
    outside = ~shapely.contains_xy(inside, places[:, 0], places[:, 1])
    gap[rows[outside], columns[outside]] = -1
    return raster


def wanted_cells(raster: Raster, least_in: float) -> tuple[Whole, Whole]:
    """Return rows and columns of the cells that may hold a centre."""
    rows, columns = np.nonzero(
        (raster.gap_in >= 0) & (raster.gap_in + raster.error_in >= least_in)
    )
    return rows, columns


def gaps_of(raster: Raster, rows: Whole, columns: Whole) -> tuple[Whole, Floats]:
    """Return the number of the gap that each cell belongs to, and how wide each gap seems.

    The widest place takes all cells inside its circle, then the widest of those left, and so on.

    Returns
    -------
    gaps : ndarray (N,)
    widest : ndarray (M,)
        By the raster, inches.
    """
    from scipy.ndimage import maximum_filter

    gap = raster.gap_in[rows, columns]
    gaps = _Gaps(raster, np.full(raster.gap_in.shape, -2, dtype=np.intp), [])
    gaps.of[rows, columns] = -1
    # Peaks take nearly all cells, so that few are left to be gone through one by one.
    peak = gap >= maximum_filter(raster.gap_in, 3)[rows, columns]
    gaps.take(rows[peak], columns[peak])
    left = gaps.of[rows, columns] == -1
    gaps.take(rows[left], columns[left])
    return gaps.of[rows, columns], np.array(gaps.widest)


@dataclass(frozen=True, slots=True, eq=False)
class _Gaps:
    """Which cells belong to one gap.

    Attributes
    ----------
    of : ndarray (H, W)
        The gap of each cell: -1 while it is free, -2 where it can't matter.
    widest : list of float
        Greatest distance of each gap by the raster, inches.
    """

    raster: Raster
    of: Whole
    widest: list[float]

    def take(self, rows: Whole, columns: Whole) -> None:
        """Give each of these cells that is still free a gap, with all free ones in its circle."""
        gap = self.raster.gap_in[rows, columns]
        discs: dict[int, NDArray[np.bool_]] = {}
        order = np.argsort(-gap, kind="stable")
        for row, column, wide in zip(
            rows[order].tolist(), columns[order].tolist(), gap[order].tolist(), strict=True
        ):
            if self.of[row, column] != -1:
                continue
            reach = max(1, int(wide / self.raster.cell_in))
            if reach not in discs:
                away = np.arange(-reach, reach + 1)
                discs[reach] = np.hypot(away[:, None], away) <= reach
            top, left = max(0, row - reach), max(0, column - reach)
            window = self.of[top : row + reach + 1, left : column + reach + 1]
            disc = discs[reach][top - row + reach :, left - column + reach :]
            mine = disc[: window.shape[0], : window.shape[1]] & (window == -1)
            window[mine] = len(self.widest)
            self.widest.append(wide)
