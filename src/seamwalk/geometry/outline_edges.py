"""The four edges of a top's outline, and the lines through its middle."""

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.polygon import oriented, side_lengths
from seamwalk.geometry.polyline import corners
from seamwalk.geometry.projective import Points


def four_edges(ring: Points) -> list[Points]:
    """Return the top, right, bottom and left edge, each from corner to corner, clockwise.

    Parameters
    ----------
    ring : (N, 2)
        Outline, the first point not repeated at the end.
    """
    ring = oriented(ring)
    while len(ring) < 4:
        # A top of three corners has its fourth in the middle of its longest side.
        long = int(np.argmax(side_lengths(ring)))
        middle = (ring[long] + ring[(long + 1) % len(ring)]) / 2
        ring = np.insert(ring, long + 1, middle, axis=0)
    four = four_corners(ring)
    return [_run(ring, four[k], four[(k + 1) % 4]) for k in range(4)]


def edge_middles(edges: list[Points]) -> Points:
    """Return the middle of each edge, half way along it, (4, 2)."""
    lines = [shapely.LineString(run) for run in edges]
    return shapely.get_coordinates(shapely.line_interpolate_point(lines, 0.5, normalized=True))


def four_corners(ring: Points) -> NDArray[np.intp]:
    """Return the indices of the upper left, upper right, lower right and lower left corner.

    Of an outline with more corners than four, or rounded ones, the vertices nearest to those of
    the smallest rectangle round it.
    """
    turned = corners(ring, corner_deg=30.0)
    candidates = turned if len(turned) >= 4 else np.arange(len(ring))
    if len(turned) != 4:
        box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.MultiPoint(ring)))[
            :4
        ]
        reach = np.hypot(*(ring[candidates][None] - box[:, None]).transpose(2, 0, 1))
        candidates = np.unique(candidates[np.argmin(reach, axis=1)])
    if len(candidates) < 4:
        candidates = np.unique(np.linspace(0, len(ring) - 1, 4).round().astype(np.intp))
    p = ring[candidates]
    first = int(np.argmin((p - p.min(axis=0)).sum(axis=1)))
    return np.roll(candidates, -first)


def _run(ring: Points, a: int, b: int) -> Points:
    """Return the points of the ring from index a on to index b."""
    n = len(ring)
    return ring[np.arange(a, a + (b - a) % n + 1) % n]
