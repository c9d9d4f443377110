"""The place in each gap that is furthest from all stitching, by branch and bound on square cells.

See :mod:`seamwalk.motifs.empty_circles` for the bounds and what they guarantee.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from seamwalk.geometry.along import Pieces
from seamwalk.geometry.projective import Points

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]

CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
"""Of a square about its middle, in order, in half sides."""


@dataclass(frozen=True, slots=True, eq=False)
class Stitches:
    """Points along stitching, to ask for distances."""

    pieces: Pieces
    of: Whole
    tree: "cKDTree"

    @classmethod
    def along(cls, pieces: Pieces, spacing: float) -> "Stitches":
        """Return points at most `spacing` apart, inches."""
        from scipy.spatial import cKDTree

        points, of, _ = pieces.samples(spacing)
        return cls(pieces, of, cKDTree(points, balanced_tree=False, compact_nodes=False))

    def nearest(self, places: Points) -> tuple[Floats, Points]:
        """Return the distances of places (N, 2) from the nearest point, and that point."""
        far, found = self.tree.query(places)
        return np.asarray(far, dtype=np.float64), np.asarray(self.tree.data[found])

    def exact(self, places: Points, nearest: int = 8) -> Floats:
        """Return the distances of places from the pieces that the nearest points lie on."""
        if not len(places):
            return np.zeros(0)
        _, found = self.tree.query(places, k=min(nearest, self.tree.n))
        found = np.asarray(found).reshape(len(places), -1)
        again = np.repeat(places, found.shape[1], axis=0)
        exact = self.pieces.distance(again, self.of[found.ravel()])
        return np.asarray(exact.reshape(found.shape).min(axis=1), dtype=np.float64)


def furthest(
    cells: tuple[Points, Whole],
    side_in: float,
    stitches: Stitches,
    inside: Polygon | MultiPolygon,
    least_in: float,
    tolerance: float,
) -> tuple[Floats, Points]:
    """Return how far the place of each gap that is furthest from all stitching is, and that place.

    Gaps that turn out to be narrower than `least_in` have a shorter distance, whatever it is.
    """
    places, gaps = cells
    count = int(gaps.max(initial=-1)) + 1
    best, at = np.zeros(count), np.zeros((count, 2))

    def better(gap: Whole, tried: Points, reached: Floats) -> None:
        more = reached > best[gap]
        best[gap[more]], at[gap[more]] = reached[more], tried[more]

    while len(places):
        inner = shapely.contains_xy(inside, places[:, 0], places[:, 1])
        places, gaps = places[inner], gaps[inner]
        far, stitch = stitches.nearest(places)
        last = last_of_each(gaps, far)
        better(gaps[last], places[last], far[last])
        middle = _midway(places[last], far[last], stitch[last], side_in, stitches)
        within = shapely.contains_xy(inside, middle[:, 0], middle[:, 1])
        better(gaps[last], middle, np.where(within, stitches.nearest(middle)[0], 0.0))
        bound = np.maximum(best, least_in) * (1 + tolerance)
        may = np.nonzero(far + side_in / 2**0.5 > bound[gaps])[0]
        most = _most_between(places[may], far[may], stitch[may], side_in, stitches)
        may = may[most > bound[gaps[may]]]
        side_in /= 2
        places = (places[may][:, None] + CORNERS * side_in / 2).reshape(-1, 2)
        gaps = np.repeat(gaps[may], 4)
    return best, at


def _midway(
    places: Points, far: Floats, stitch: Points, side_in: float, stitches: Stitches
) -> Points:
    """Return places moved away from their nearest stitch until another one is as near.

    The other one is the nearest to the place half a diagonal further away.
    """
    step = side_in / 2**0.5
    away = (places - stitch) / np.maximum(far, 1e-12)[:, None]
    other, _ = stitches.nearest(places + away * step)
    out: Points = places + away * np.clip((other + step - far) / 2, 0, step)[:, None]
    return out


def _most_between(
    places: Points, far: Floats, stitch: Points, side_in: float, stitches: Stitches
) -> Floats:
    """Return how far at most any place of each cell is from the nearer of two stitches.

    Parameters
    ----------
    places, far, stitch : ndarray (N, 2), (N,), (N, 2)
        Middles of the cells, with the distance of the nearest stitch and its place.  The other
        one is the nearest to the place half a diagonal further away from it.
    """
    away = (places - stitch) / np.maximum(far, 1e-12)[:, None]
    _, other = stitches.nearest(places + away * side_in / 2**0.5)
    corners = places[:, None] + CORNERS * side_in / 2
    to_one = np.hypot(*np.moveaxis(corners - stitch[:, None], 2, 0))
    to_other = np.hypot(*np.moveaxis(corners - other[:, None], 2, 0))
    # Along a side of the cell the difference of the squares is linear.
    lead = to_one**2 - to_other**2
    following = np.roll(lead, -1, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.where(lead * following < 0, lead / (lead - following), 0.0)
    crossing = corners + t[:, :, None] * (np.roll(corners, -1, axis=1) - corners)
    to_both = np.hypot(*np.moveaxis(crossing - stitch[:, None], 2, 0))
    to_both[lead * following >= 0] = 0
    return np.asarray(np.maximum(np.minimum(to_one, to_other), to_both).max(axis=1))


def last_of_each(gaps: Whole, far: Floats) -> Whole:
    """Return for each gap which of its cells is the furthest from stitching."""
    order = np.lexsort((far, gaps))
    return order[np.append(np.diff(gaps[order]) > 0, True)] if len(order) else order
