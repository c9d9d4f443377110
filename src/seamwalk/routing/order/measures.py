"""How well a route keeps to the order of the trade: outwards from the middle, bulk outside."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.geometry.curve import Point
from seamwalk.routing.order.bulk import share_right
from seamwalk.routing.order.parts import ring_distance
from seamwalk.routing.order.passes import MIDDLE_IN, frame_deg
from seamwalk.routing.solve.threads import Walk
from seamwalk.routing.turning import Bools, Floats, HalfEdges, Ints

FEWEST = 6
"""Pieces that a half must have to have an order."""


@dataclass(frozen=True, slots=True)
class OrderMeasures:
    """See `OrderFigures`."""

    outwards: float
    heavy: float


def order_measures(
    walks: Sequence[Walk],
    edges: HalfEdges,
    where: Sequence[Point],
    lengths_in: Floats,
    heavy: float,
) -> OrderMeasures:
    """Return the measures of threads in their order.

    ``outwards`` is the best of four readings: by the lines' own families, by strips along one
    side of the top, by strips along the other, by rings.
    """
    h = np.array([g for w in walks for g in w], dtype=np.intp)
    if not len(h):
        return OrderMeasures(1.0, 0.0)
    xy = np.array(where, dtype=np.float64)
    low, high = xy.min(axis=0), xy.max(axis=0)
    span = lengths_in[h >> 1]
    lies = np.where(np.isnan(edges.lies_deg[h]), edges.heading_deg[h], edges.lies_deg[h])
    at = (xy[edges.node[h]] + xy[edges.node[h ^ 1]]) / 2
    right = share_right(at, lies, low, high)
    total = float(span.sum()) or 1.0
    too_much = float(span[right > heavy].sum()) / total
    wanted = _first_passes(h, edges)
    off = at - (low + high) / 2
    time = np.cumsum(span)
    frame = frame_deg(lies, span, wanted)
    family = np.round(((lies - frame) % 180) / 45).astype(np.intp) % 4
    along = np.radians(frame + 45 * family)
    across = -off[:, 0] * np.sin(along) + off[:, 1] * np.cos(along)
    zero = np.zeros(len(h), dtype=np.intp)
    readings = [
        _in_halves(time, across, family, span, wanted),
        _in_halves(time, off[:, 0], zero, span, wanted),
        _in_halves(time, off[:, 1], zero, span, wanted),
        # Rings have no halves: all of it lies on one side.
        _in_halves(time, MIDDLE_IN + ring_distance(at, low, high), zero, span, wanted),
    ]
    return OrderMeasures(max(readings), too_much)


def _first_passes(h: Ints, edges: HalfEdges) -> Bools:
    """Return where a required piece is sewn for the first time."""
    piece = edges.piece_of[h >> 1]
    _, first = np.unique(piece, return_index=True)
    out = np.zeros(len(h), dtype=np.bool_)
    out[first] = True
    must = np.zeros(len(edges.pieces), dtype=np.bool_)
    must[edges.piece_of[edges.required]] = True
    out &= must[piece]
    return out


def _in_halves(time: Floats, off: Floats, family: Ints, span: Floats, wanted: Bools) -> float:
    """Return the rank correlation of time and distance, averaged by length over the halves."""
    values, weights = [], []
    for f in np.unique(family):
        for side in (-1, 1):
            # The middle line belongs to both halves.
            here = wanted & (family == f) & (off * side > -MIDDLE_IN)
            far = np.round(np.abs(off[here]), 1)
            if here.sum() < FEWEST or np.ptp(far) == 0:
                continue
            alike = np.corrcoef(ranks(time[here]), ranks(far))
            values.append(float(alike[0, 1]))
            weights.append(float(span[here].sum()))
    return float(np.average(values, weights=weights)) if values else 1.0


def ranks(values: Floats) -> Floats:
    """Return the ranks of values, ties sharing their mean.

    As scipy.stats.rankdata does, which takes a second to import.
    """
    _, place, count = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(count)
    out: Floats = (last - (count - 1) / 2)[place]
    return out
