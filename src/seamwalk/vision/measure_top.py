"""The whole top: through the middle, along the edges, across the corners."""

import numpy as np
import shapely

from seamwalk.geometry.outline_edges import edge_middles, four_corners, four_edges
from seamwalk.geometry.polygon import ring_of
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Length, TopSize
from seamwalk.model.top import Top
from seamwalk.vision.measure_doubt import Doubt

__all__ = ["edge_runs", "four_corners", "top_size"]


def top_size(top: Top, doubt: Doubt) -> TopSize:
    """Return the overall sizes of the top with their ±.

    Width and height run from the middle of one raw edge to the middle of the other.
    """
    runs = edge_runs(top)
    middles = edge_middles(runs)
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
    return four_edges(ring_of(top.outline))
