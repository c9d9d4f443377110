"""The whole top: through the middle, along the edges, across the corners."""

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.polygon import oriented, ring_of, side_lengths
from seamwalk.geometry.polyline import corners
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Length, TopSize
from seamwalk.model.top import Top
from seamwalk.vision.measure_doubt import Doubt


def top_size(top: Top, doubt: Doubt) -> TopSize:
    """Return the overall sizes of the top with their ±.

    Width and height run from the middle of one raw edge to the middle of the other.
    """
    runs = edge_runs(top)
    middles = np.array([shapely.get_coordinates(_middle(run))[0] for run in runs])
    p = np.array([run[0] for run in runs])
    width, height = doubt.lengths(middles[[3, 0]], middles[[1, 2]])
    chords = doubt.lengths(p, np.roll(p, -1, axis=0))
    edges = [
        Length(float(shapely.LineString(run).length), chord.plus_minus_in)
        for run, chord in zip(runs, chords, strict=True)
    ]
    first, second = doubt.lengths(p[[0, 1]], p[[2, 3]])
    angles = doubt.angles(p, np.roll(p, 1, axis=0), np.roll(p, -1, axis=0))
    return TopSize(
        width,
        height,
        (edges[0], edges[1], edges[2], edges[3]),
        (first, second),
        (angles[0], angles[1], angles[2], angles[3]),
    )


def edge_runs(top: Top) -> list[Points]:
    """Return the top, right, bottom and left edge, each from corner to corner, clockwise."""
    ring = oriented(ring_of(top.outline))
    while len(ring) < 4:
        # A top of three corners has its fourth in the middle of its longest side.
        long = int(np.argmax(side_lengths(ring)))
        middle = (ring[long] + ring[(long + 1) % len(ring)]) / 2
        ring = np.insert(ring, long + 1, middle, axis=0)
    four = four_corners(ring)
    return [_run(ring, four[k], four[(k + 1) % 4]) for k in range(4)]


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


def _middle(run: Points) -> shapely.Point:
    return shapely.line_interpolate_point(shapely.LineString(run), 0.5, normalized=True)
