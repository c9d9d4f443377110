"""Irregular tops: a patchwork of cells and one of triangles, drawn at random."""

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.benchmark.route_sheet import Sheet, bow
from seamwalk.geometry.curve import Point

PER_CELL = 3.4
"""Strokes that a cell of the patchwork has, roughly."""

PER_TRIANGLE = 1.06
"""Strokes that a triangle has, roughly."""

DIGITS = 5
"""Corners of neighbouring cells are told alike by this many digits, in sides of a patch."""


def patchwork(strokes: int, rng: np.random.Generator) -> Sheet:
    """Return cells round points that were spread evenly, half of them with arches all round.

    A seventh of the seams is sewn in the ditch.

    References
    ----------
    Lloyd, Least squares quantization in PCM, IEEE Trans. Information Theory 28, 1982: points
    move to the middles of their cells, twice.
    """
    n = max(3, round(strokes / PER_CELL))
    side = math.sqrt(n)
    points = rng.uniform(0, side, (n, 2))
    for _ in range(2):
        points = np.array([c.centroid.coords[0] for c in _cells(points, side)])
    sheet = Sheet()
    rings = [_ring(cell) for cell in _cells(points, side)]
    arched = rng.random(len(rings)) < 0.5
    owners: dict[tuple[Point, Point], int] = {}
    for ring in rings:
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            owners[min(a, b), max(a, b)] = owners.get((min(a, b), max(a, b)), 0) + 1
    for (a, b), count in sorted(owners.items()):
        wanted = bool(rng.random() < 0.15) and count == 2
        sheet.straight(a, b, "ditch" if count == 2 else "edge", required=wanted)
    for k, ring in enumerate(rings):
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            if arched[k] and owners[min(a, b), max(a, b)] == 2:
                sheet.add(bow(a, b, 0.15), "motif", required=True, motif="arches", patch=k)
    return sheet


def _cells(points: NDArray[np.float64], side: float) -> list[shapely.Polygon]:
    """Return the cell of each point within the square."""
    # Mirror images across the sides make cells end there.
    x, y = points.T
    images = [(x, y), (-x, y), (2 * side - x, y), (x, -y), (x, 2 * side - y)]
    every = np.concatenate([np.stack(p, axis=1) for p in images])
    cells = shapely.voronoi_polygons(shapely.multipoints(every), ordered=True)
    return list(shapely.get_parts(cells))[: len(points)]


def _ring(cell: shapely.Polygon) -> list[Point]:
    """Return the corners of a cell, rounded, clockwise on the page."""
    turned = shapely.orient_polygons(cell)
    out: list[Point] = []
    for x, y in np.round(np.asarray(turned.exterior.coords)[:-1], DIGITS).tolist():
        # Minus nought would name another corner.
        point = (max(x, 0.0), max(y, 0.0))
        if point not in out:
            out.append(point)
    return out


def triangles(strokes: int, rng: np.random.Generator) -> Sheet:
    """Return triangles between shaken points, a quarter of the seams left out.

    Half of the rest is sewn in the ditch; half of the triangles have a bow along one side.
    """
    from scipy.spatial import Delaunay

    n = max(2, round(math.sqrt(strokes / PER_TRIANGLE / 2)))
    points = np.array([(i, j) for i in range(n + 1) for j in range(n + 1)], dtype=np.float64)
    inner = ((points > 0) & (points < n)).all(axis=1)
    points[inner] += rng.uniform(-0.35, 0.35, (int(inner.sum()), 2))
    xy: list[Point] = [(x, y) for x, y in points.tolist()]
    sheet = Sheet()
    seen: set[tuple[int, int]] = set()
    for k, corners in enumerate(Delaunay(points).simplices.tolist()):
        for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
            a, b = min(p, q), max(p, q)
            if (a, b) in seen:
                continue
            seen.add((a, b))
            if any(xy[a][d] == xy[b][d] and xy[a][d] in (0, n) for d in (0, 1)):
                sheet.straight(xy[a], xy[b], "edge")
            elif rng.random() < 0.75:
                sheet.straight(xy[a], xy[b], "ditch", required=bool(rng.random() < 0.5))
        if rng.random() < 0.5:
            a, b = corners[:2]
            rise = 0.15 if rng.random() < 0.5 else -0.15
            sheet.add(bow(xy[a], xy[b], rise), "motif", required=True, motif="bows", patch=k)
    return sheet
