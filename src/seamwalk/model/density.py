"""How much stitching there is on a square inch of the top, and how evenly it lies."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import Point
from seamwalk.geometry.projective import Points
from seamwalk.model.top import PatchId


@dataclass(frozen=True, slots=True, eq=False)
class DensityMap:
    """Stitching on the square inch round every place.

    Attributes
    ----------
    per_sq_in : ndarray (H, W)
        Inches of stitching on a square inch, every pass counted; NaN outside the binding line.
    origin : Point
        Upper left corner of the first cell, top frame, inches.
    cell_in : float
        Side of a cell.
    across_in : float
        Each value is a mean over as much cloth as a circle of this width holds.
    """

    per_sq_in: NDArray[np.float64]
    origin: Point
    cell_in: float
    across_in: float

    def middles(self) -> Points:
        """Return the middles of the cells inside the binding line, (N, 2), row by row."""
        rows, columns = np.nonzero(np.isfinite(self.per_sq_in))
        cells = np.column_stack([columns + 0.5, rows + 0.5])
        at: Points = cells * self.cell_in + np.array(self.origin)
        return at


@dataclass(frozen=True, slots=True)
class Evenness:
    """Stitching of a region on the square inch.

    Attributes
    ----------
    mean : float
        All of its stitching over all of its cloth, inches on a square inch.
    sparse, dense : float
        5 % of its cloth have less than the one, 5 % more than the other.
    variation : float
        Coefficient of variation: standard deviation over mean.
    """

    mean: float
    sparse: float
    dense: float
    variation: float

    @property
    def ratio(self) -> float:
        """How many times as dense the densest parts are as the sparsest."""
        return times(self.dense, self.sparse)


def times(dense: float, sparse: float) -> float:
    """Return how many times as dense the one is as the other; infinite where that has none."""
    if dense == sparse:
        return 1.0
    return dense / sparse if sparse > 0 else np.inf


@dataclass(frozen=True, slots=True)
class RegionDensity:
    """The stitching of the patches that one motif covers."""

    motif: str
    patches: tuple[PatchId, ...]
    area_sq_in: float
    evenness: Evenness


@dataclass(frozen=True, slots=True)
class DensityReport:
    """How evenly the stitching lies over the top.

    Attributes
    ----------
    map : DensityMap
        To draw.
    whole : Evenness
        Of the whole top.
    regions : tuple of RegionDensity
        Of each choice of motif, the densest first.
    extremes : (RegionDensity, RegionDensity) or None
        The densest and the sparsest, regions too small to pull the top left out.
    between_ends : float
        How many times as dense the densest part of the top, two blocks wide, is as the sparsest.
    densest, sparsest : Point
        Middles of these parts, inches.
    most : float
        Either of the two ratios above this counts as lopsided.
    """

    map: DensityMap
    whole: Evenness
    regions: tuple[RegionDensity, ...]
    extremes: tuple[RegionDensity, RegionDensity] | None
    between_ends: float
    densest: Point
    sparsest: Point
    most: float

    @property
    def between_regions(self) -> float:
        """How many times as dense the densest region is as the sparsest."""
        if self.extremes is None:
            return 1.0
        dense, sparse = (r.evenness.mean for r in self.extremes)
        return times(dense, sparse)

    @property
    def lopsided(self) -> bool:
        """The stitching is so uneven that it may pull the top out of shape."""
        return max(self.between_regions, self.between_ends) > self.most
