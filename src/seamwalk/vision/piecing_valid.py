"""Moves of a map's points that keep it valid."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.planar import tiles
from seamwalk.geometry.polygon import signed_area
from seamwalk.geometry.projective import Points

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """The rings of a map as indices into its points.

    Attributes
    ----------
    patches : tuple of (N,) int
        Round each patch, turning from x towards y.
    outline : (N,) int
        Round the top, turning likewise.
    """

    patches: tuple[Indices, ...]
    outline: Indices

    def are_valid(self, points: Points) -> bool:
        """Return whether the patches tile the top with its points at `points` (N, 2)."""
        every = [points[r] for r in (*self.patches, self.outline)]
        return all(len(r) >= 3 for r in every) and tiles(every[:-1], every[-1])

    def slivers(self, points: Points, narrowest: float) -> list[int]:
        """Return which patches are nowhere as wide as `narrowest`."""
        which = np.repeat(np.arange(len(self.patches)), [len(r) for r in self.patches])
        loops = shapely.linearrings(points[np.concatenate(self.patches)], indices=which)
        inner = shapely.buffer(shapely.polygons(loops), -narrowest / 2)
        return np.flatnonzero(shapely.is_empty(inner)).tolist()

    def broken(self, points: Points) -> list[int]:
        """Return which rings cross themselves or turn the wrong way; the outline comes last."""
        out = []
        for k, index in enumerate((*self.patches, self.outline)):
            ring = points[index]
            if len(ring) < 3 or signed_area(ring) <= 0 or not shapely.LinearRing(ring).is_simple:
                out.append(k)
        return out


def allowed(
    rings: Rings,
    before: Points,
    after: Points,
    *,
    narrowest: float = 0.0,
    halvings: int = 5,
) -> Points:
    """Return `after`, with moves that would break the map halved until none does.

    Parameters
    ----------
    before, after : (N, 2)
        Points where the map is valid, and where they should go.
    narrowest : float
        Nor may a patch become narrower than this, in the unit of the points.
    halvings : int
        After so many halvings a point stays where it was.
    """
    share = np.ones(len(before))
    every = (*rings.patches, rings.outline)
    while True:
        points = before + share[:, None] * (after - before)
        if not rings.are_valid(points):
            bad = rings.broken(points) or list(range(len(every)))
        else:
            bad = rings.slivers(points, narrowest) if narrowest else []
            if not bad:
                return points
        touched = np.unique(np.concatenate([every[k] for k in bad]))
        if not share[touched].any():
            return before
        share[touched] = np.where(share[touched] > 0.5**halvings, share[touched] / 2, 0.0)
