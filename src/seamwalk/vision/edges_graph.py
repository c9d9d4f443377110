"""The traced top as points and straight pieces, with what belongs to its curved seams."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.top import SeamId, Top
from seamwalk.vision.piecing_adjust import Seen
from seamwalk.vision.piecing_round import Run
from seamwalk.vision.piecing_valid import Rings

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Graph:
    """The top's points and straight pieces as arrays.

    Attributes
    ----------
    nodes : (N, 2) float64
        Inches; `keys` are the same as the top has them.
    pieces : (M, 2) int
        First and last node of each piece.
    seam : tuple of SeamId
        Of each piece.
    room_in : (M,) float64
        How far profiles may reach beside each piece.
    floor : (M,) int
        1 where floor lies beside the piece on the side of its normal, which is x towards y from
        its direction; -1 where on the other; 0 for seams.
    one_fabric, arc : (M,) bool
        The patches on both sides look alike; the piece belongs to a curved seam.
    rings : Rings
    """

    nodes: Points
    keys: tuple[tuple[float, float], ...]
    pieces: Indices
    seam: tuple[SeamId, ...]
    room_in: Floats
    floor: Indices
    one_fabric: NDArray[np.bool_]
    arc: NDArray[np.bool_]
    rings: Rings


def graph_of(top: Top) -> Graph:
    """Return the top's graph."""
    keys = list(dict.fromkeys(xy for s in top.seams for xy in s.points))
    index = {xy: k for k, xy in enumerate(keys)}
    width = {p.id: 2 * p.polygon.area / p.polygon.length for p in top.patches}
    fabric = {p.id: p.fabric for p in top.patches}
    pieces, seam, room, floor, same, arc = [], [], [], [], [], []
    for s in top.seams:
        beside = [width[p] for p in (s.left, s.right) if p is not None]
        for one, two in zip(s.points[:-1], s.points[1:], strict=True):
            pieces.append((index[one], index[two]))
            seam.append(s.id)
            room.append(0.4 * min(beside))
            floor.append((s.right is None) - (s.left is None))
            arc.append(s.sweep_rad != 0)
            same.append(
                s.left is not None
                and s.right is not None
                and fabric[s.left] == fabric[s.right] != ""
            )

    def ring(polygon: object) -> Indices:
        coords = polygon.exterior.coords[:-1]  # type: ignore[attr-defined]
        return np.array([index[c[0], c[1]] for c in coords], dtype=np.intp)

    rings = Rings(tuple(ring(p.polygon) for p in top.patches), ring(top.outline))
    return Graph(
        np.array(keys),
        tuple(keys),
        np.array(pieces, dtype=np.intp),
        tuple(seam),
        np.array(room),
        np.array(floor, dtype=np.intp),
        np.array(same),
        np.array(arc, dtype=bool),
        rings,
    )


def off_arcs(through: Indices, graph: Graph) -> Indices:
    """Return the triples of nodes (T, 3) that belong to no arc, which turns at every node."""
    round_ones = graph.pieces[graph.arc]
    on_arc = {frozenset(p) for p in round_ones.tolist()}
    keep = [not on_arc & {frozenset(t[:2]), frozenset(t[1:])} for t in through.tolist()]
    return through[np.array(keep, dtype=bool)] if len(through) else through


def runs_of(graph: Graph, seen: Seen) -> dict[SeamId, Run]:
    """Return the run of pieces of every curved seam, with what was seen along it."""
    of: dict[SeamId, list[int]] = {}
    for p in np.flatnonzero(graph.arc).tolist():
        of.setdefault(graph.seam[p], []).append(p)
    out = {}
    for seam, pieces in of.items():
        rows = np.flatnonzero(np.isin(seen.piece, pieces))
        nodes = np.append(graph.pieces[pieces, 0], graph.pieces[pieces[-1], 1])
        out[seam] = Run(nodes, seen.xy[rows], seen.sigma[rows])
    return out


def with_arcs(top: Top, arcs: dict[SeamId, tuple[float, float]]) -> Top:
    """Return the top with the sweep and the doubt of its curved seams as given."""
    return replace(
        top,
        seams=tuple(
            replace(s, sweep_rad=arcs[s.id][0], bow_sigma_in=arcs[s.id][1]) if s.id in arcs else s
            for s in top.seams
        ),
    )


def moved_to(top: Top, graph: Graph, nodes: Points) -> Top:
    """Return the top with the graph's nodes at `nodes`."""
    to = {xy: k for k, xy in enumerate(graph.keys)}
    return top.mapped(lambda points: nodes[[to[float(x), float(y)] for x, y in points]])
