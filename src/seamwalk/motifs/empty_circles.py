"""The largest circles that lie between lines of stitching and hold none of it.

How far a place is from the nearest stitch changes by no more than the way that one goes: over a
square cell it is nowhere more than its value in the middle and half the cell's diagonal.  Nor is
it more than the distance from the nearer of any two stitches, which is greatest in a corner of
the cell or where its sides are as far from both: along a row between two lines, that bound is far
closer.  Cells that can't beat the best place known near them are dropped, others are cut in four,
until none can beat it by more than 0.6 % (branch and bound).  Distances are taken from points
along the stitching, r/6 apart, which makes them up to r/288, 0.35 %, too long; the radius that
comes back is the exact one at the place found.  So it is never too large, and at most 1 % too
small.

A coarse raster of distances begins it: it tells which cells can matter, and which of them belong
to one gap.  What the circles found leave uncovered is gone through again.  Where no gap is as
wide as asked for, only the few hundred that look widest on the raster are gone into: one that
looks narrower than all of these can be wider by what the raster is off, 1/8 in in radius, and no
more.

References
----------
A. H. Land and A. G. Doig, An automatic method of solving discrete programming problems,
Econometrica 28, 1960, 497-520 (branch and bound).
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from seamwalk.geometry.along import Pieces
from seamwalk.geometry.curve import Curve
from seamwalk.geometry.projective import Points
from seamwalk.motifs.furthest_places import Stitches, furthest, last_of_each
from seamwalk.motifs.gap_raster import Bounds, Raster, gaps_of, raster_of, wanted_cells

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class CircleSearch:
    """How finely empty circles are sought."""

    tolerance: float = 0.006
    """Share of its radius by which another place in the same gap may be better."""
    per_radius: float = 6.0
    """Points to a radius along the stitching: distances up to 0.35 % too long."""
    raster_in: float = 0.25
    """Cells of the coarse raster, inches."""
    finest_in: float = 0.1
    """The raster is made finer where all gaps are small, but not below this, inches: a king-size
    top then has 1.5 million cells."""
    likely: int = 200
    """Cells whose true distance is taken for a first bound."""
    passes: int = 5
    """Rounds over what the circles found so far leave uncovered: a gap of a winding shape has one
    circle in the first, and seldom one in the fourth."""
    most: int = 400
    """Gaps that are gone into where none is as wide as asked for."""


SEARCH = CircleSearch()


def empty_circles(
    curves: Iterable[Curve],
    inside: Polygon,
    from_in: float,
    search: CircleSearch = SEARCH,
) -> tuple[Points, Floats]:
    """Return the largest empty circle of each gap inside a polygon, the largest first.

    Parameters
    ----------
    curves : iterable of Curve
        All stitching.
    inside : Polygon
        Where centres may lie.  Its outline holds as well: the binding is sewn along it.
    from_in : float
        Gaps of this radius or more are wanted, inches; if there is none, the largest is.

    Returns
    -------
    centres : ndarray (N, 2)
        None lies in a larger circle of the list.
    radii : ndarray (N,)
        Inches.
    """
    ring = Curve.through(shapely.get_coordinates(inside.exterior))
    return circles_between(Pieces.of([*curves, ring]), inside, from_in, search=search)


def circles_between(
    pieces: Pieces,
    inside: Polygon | MultiPolygon,
    from_in: float,
    *,
    around_in: float = 0.0,
    search: CircleSearch = SEARCH,
) -> tuple[Points, Floats]:
    """Return what `empty_circles` does, for a shape whose own outline does not hold.

    Parameters
    ----------
    pieces : Pieces
        Of all lines that hold the layers together; at least one.
    around_in : float
        How far beyond the shape there are lines that count, inches.
    """
    shapely.prepare(inside)
    x0, y0, x1, y1 = inside.bounds
    bounds = (x0 - around_in, y0 - around_in, x1 + around_in, y1 + around_in)
    raster, widest = _coarse(pieces, inside, bounds, search)
    least = min(from_in, widest)
    stitches = Stitches.along(pieces, least / search.per_radius)
    rows, columns = wanted_cells(raster, least)
    centres, radii = np.zeros((0, 2)), np.zeros(0)
    for _ in range(search.passes):
        if not len(rows):
            break
        gaps, seem = gaps_of(raster, rows, columns)
        places = raster.middles(rows, columns)
        # Both the cell and the gap's widest are off by the raster's error at most.
        may = raster.gap_in[rows, columns] + 2 * raster.error_in >= seem[gaps]
        cells = (places[may], gaps[may])
        if widest < from_in:
            cells = _widest_gaps(cells, stitches, search.most)
        best, at = furthest(cells, raster.cell_in, stitches, inside, least, search.tolerance)
        centres = np.vstack([centres, at[best >= least]])
        radii = np.append(radii, stitches.exact(at[best >= least]))
        if widest < from_in:
            break
        left = (best >= least)[gaps] & ~_covered(places, centres, radii)
        rows, columns = rows[left], columns[left]
    order = np.argsort(-radii, kind="stable")
    order = order[_apart(centres[order], radii[order])]
    keep = radii[order] >= min(from_in, float(radii.max(initial=0.0)))
    return centres[order][keep], radii[order][keep]


def _coarse(
    pieces: Pieces, inside: Polygon | MultiPolygon, bounds: Bounds, search: CircleSearch
) -> tuple[Raster, float]:
    """Return a raster fine enough for the largest circle, and a radius that this reaches."""
    cell = search.raster_in
    while True:
        raster = raster_of(pieces.samples(cell)[0], inside, bounds, cell)
        most = min(search.likely, raster.gap_in.size)
        likely = np.argpartition(raster.gap_in.ravel(), -most)[-most:]
        places = raster.middles(*np.unravel_index(likely, raster.gap_in.shape))
        widest = float(Stitches.along(pieces, cell).exact(places).max(initial=0.0))
        finer = max(search.finest_in, widest / 4)
        if cell <= finer:
            break
        cell = finer
    return raster, widest


def _widest_gaps(
    cells: tuple[Points, Whole], stitches: Stitches, most: int
) -> tuple[Points, Whole]:
    """Return the cells of those gaps that have the furthest of all cells, renumbered."""
    places, gaps = cells
    count = int(gaps.max(initial=-1)) + 1
    if count <= most:
        return cells
    far, _ = stitches.nearest(places)
    last = last_of_each(gaps, far)
    chosen = np.full(count, -1)
    kept = last[np.argsort(-far[last], kind="stable")][:most]
    chosen[gaps[kept]] = np.arange(len(kept))
    mine = chosen[gaps] >= 0
    return places[mine], chosen[gaps[mine]]


def _covered(places: Points, centres: Points, radii: Floats) -> NDArray[np.bool_]:
    """Return which places lie in one of the circles whose centres are nearest to them."""
    from scipy.spatial import cKDTree

    if not len(centres):
        return np.zeros(len(places), dtype=bool)
    k = min(8, len(centres))
    away, found = cKDTree(centres).query(places, k=k)
    shape = (len(places), k)
    inside = np.reshape(away, shape) <= radii[np.reshape(found, shape)]
    return np.asarray(inside.any(axis=1))


def _apart(centres: Points, radii: Floats) -> Whole:
    """Return which circles, the largest first, have their centre in none of those before."""
    from scipy.spatial import cKDTree

    taken = np.zeros(len(centres), dtype=bool)
    tree = cKDTree(centres) if len(centres) else None
    out: list[int] = []
    for k in range(len(centres)):
        if tree is not None and not taken[k]:
            out.append(k)
            taken[tree.query_ball_point(centres[k], radii[k])] = True
    return np.array(out, dtype=np.intp)
