"""The passes that are left of a route that was begun, and the thread that hangs at the needle.

The thread enters the search as a *stub*: a piece without length that must be sewn, runs into the
needle's node in the direction in which the needle came, and whose other end is free.  So starting
there costs no thread end, turning off there costs what it costs, cutting there costs one end, and
a pairing's cost remains a bound.
"""

import dataclasses
import math
from collections.abc import Container, Sequence

import numpy as np

from seamwalk.geometry.curve import Curve, Line
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Begun, Network, NodeId, Piece, PieceId
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.solve.threads import Walk, reversed_walk
from seamwalk.routing.turning import HalfEdges, half_edges

STUB_IN = 0.01
"""Drawn length of the stub, inches: only its direction counts."""


def edges_left(
    network: Network, machine: MachineProfile, begun: Begun
) -> tuple[HalfEdges, int | None]:
    """Return the passes that are left, and which copy is the stub, if the thread runs."""
    if not begun.runs:
        return half_edges(network, machine, done=begun.done), None
    x, y = network.nodes[begun.needle]
    behind = (
        x - STUB_IN * math.cos(begun.heading_rad),
        y - STUB_IN * math.sin(begun.heading_rad),
    )
    node = NodeId(_unused("begun", network.nodes))
    name = PieceId(_unused("begun", network.pieces))
    curve = Curve((Line(behind, (x, y)),))
    stroke = Stroke(StrokeId(name), curve, "motif", required=True)
    whole = Network(
        {**network.nodes, node: behind},
        {**network.pieces, name: Piece(name, node, begun.needle, curve, stroke)},
    )
    edges = half_edges(whole, machine, done=begun.done)
    number = next(i for i, p in enumerate(edges.pieces) if p.id == name)
    stub = int(np.flatnonzero(edges.piece_of == number)[0])
    sew_s, end_s = edges.sew_s.copy(), edges.end_s.copy()
    sew_s[stub] = end_s[edges.node[2 * stub]] = 0.0
    heading = edges.heading_deg.copy()
    # From so short a line the direction would be a rounding off.
    heading[2 * stub] = math.degrees(begun.heading_rad) % 360
    heading[2 * stub + 1] = (math.degrees(begun.heading_rad) + 180) % 360
    return dataclasses.replace(edges, sew_s=sew_s, end_s=end_s, heading_deg=heading), stub


def _unused(name: str, taken: Container[str]) -> str:
    while name in taken:
        name += "'"
    return name


def parted(walks: Sequence[Walk], stub: int | None) -> tuple[Walk, list[Walk]]:
    """Return what the running thread goes on with, without the stub, and all other threads."""
    running: Walk = []
    others = []
    for walk in walks:
        if stub is not None and walk[-1] >> 1 == stub:
            walk = reversed_walk(walk)
        if stub is not None and walk[0] >> 1 == stub:
            running = list(walk[1:])
        else:
            others.append(walk)
    return running, others
