"""What the same stitching takes patch by patch, or line by line: what a path saves.

Each patch, or each line, row or ring, is looked at alone: its strokes are paired in the cheapest
way, with the ditches between its own nodes as travel, and its threads start and end in the margin
or are buried.  All groups are solved at once, as one network in which each group has nodes of its
own, so that no thread can run from one group into another.  A pass of a ditch that two groups
might use is given to one of them, so that both ways are routes like any other.
"""

import dataclasses
from collections.abc import Hashable, Mapping
from typing import Literal

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import (
    Leg,
    Network,
    NodeId,
    OtherWay,
    Piece,
    PieceId,
    Route,
    Thread,
)
from seamwalk.routing.bobbins import bobbin_changes
from seamwalk.routing.order.middle_out import middle_out
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.pairing import choices, pair
from seamwalk.routing.solve.whole import merged
from seamwalk.routing.telling.figures import Figures, figures
from seamwalk.routing.telling.seam_chains import is_single
from seamwalk.routing.totals import margin_nodes, numbered, totals
from seamwalk.routing.turning import Costs, half_edges

Way = Literal["patch by patch", "line by line"]
WAYS: tuple[Way, ...] = ("patch by patch", "line by line")


def compared(
    network: Network, machine: MachineProfile, *, solver: Solver = "auto"
) -> dict[str, OtherWay]:
    """Return what each other way takes; none where nothing is to be stitched."""
    if not any(p.stroke.required for p in network.pieces.values()):
        return {}
    out: dict[str, OtherWay] = {}
    known = figures(network)
    solved: dict[tuple[int, ...], OtherWay] = {}
    for way in WAYS:
        number: dict[Hashable, int] = {}
        groups = _groups(network, way, known)
        # Where nothing lies in a patch, both ways may be the same.
        parted = tuple(number.setdefault(key, len(number)) for key in groups.values())
        if parted not in solved:
            sums = group_by_group(network, machine, way, known, solver=solver).totals
            solved[parted] = OtherWay(sum(sums.minutes.values()), sums.threads, sums.buried_ends)
        out[way] = solved[parted]
    return out


def group_by_group(
    network: Network,
    machine: MachineProfile,
    way: Way,
    known: Figures | None = None,
    *,
    solver: Solver = "auto",
) -> Route:
    """Return a valid route in which every thread keeps to one patch, or one line.

    Parameters
    ----------
    network : Network
        With something to stitch.
    machine : MachineProfile
        Costs.
    way : {"patch by patch", "line by line"}
        What has neither patch nor line goes by the seam line that it lies in, and what lies in
        none is a group of its own.
    known : Figures, optional
        Of the network, where they are there already.
    solver : {"auto", "pymatching", "rustworkx"}
        See `matching.match`.
    """
    parted, origin = _parted(network, _groups(network, way, known or figures(network)), machine)
    edges = half_edges(parted, machine)
    margin = margin_nodes(network)
    at_edge = np.array([_origin_node(n) in margin for n in edges.nodes], dtype=np.bool_)
    end_s = np.where(at_edge, machine.edge_end_s, machine.buried_end_s).astype(np.float64)
    edges = dataclasses.replace(edges, end_s=end_s)
    found = merged(
        edges, machine, pair(choices(edges, machine), solver=solver), Costs(edges, machine)
    )
    where = [parted.nodes[n] for n in edges.nodes]
    threads = [
        Thread(
            tuple(Leg(origin[edges.pieces[edges.piece_of[h >> 1]].id], bool(h & 1)) for h in walk)
        )
        for walk in middle_out(found, edges, where)
    ]
    threads = numbered(network, threads, machine)
    changes = bobbin_changes(network, threads, machine)
    return Route(network, tuple(threads), totals(network, threads, machine, {}, changes), changes)


def _groups(network: Network, way: Way, known: Figures) -> dict[PieceId, Hashable]:
    """Return the group of every piece that is stitched for its look, leads with their ring."""
    out: dict[PieceId, Hashable] = {}
    for piece in network.pieces.values():
        stroke = piece.stroke
        if not stroke.required and stroke.kind != "motif":
            continue
        keys = dict(known.of[piece.id])
        line = keys.get("fan", keys.get("line"))
        # A line's ditch and the arcs along it are one line, whatever they are called.
        chain = keys["chain"][1] if "chain" in keys and is_single(piece) else None  # type: ignore[index]
        found: tuple[tuple[str, object], ...] = (("line", line), ("chain", chain))
        patch = (("patch", stroke.patch),)
        order = patch + found if way == "patch by patch" else found + patch
        told = (entry for entry in order if entry[1] is not None)
        out[piece.id] = next(told, ("stroke", str(stroke.id)))
    return out


def _parted(
    network: Network, group: Mapping[PieceId, Hashable], machine: MachineProfile
) -> tuple[Network, dict[PieceId, PieceId]]:
    """Return a network in which groups share no node, and which piece each of its pieces was."""
    number: dict[Hashable, int] = {}
    at: dict[NodeId, dict[int, None]] = {}
    for name, key in group.items():
        k = number.setdefault(key, len(number))
        piece = network.pieces[name]
        for node in (piece.u, piece.v):
            at.setdefault(node, {})[k] = None
    nodes = {}
    pieces: dict[PieceId, Piece] = {}
    origin: dict[PieceId, PieceId] = {}

    def put(piece: Piece, k: int) -> None:
        u, v = (NodeId(f"{k}:{n}") for n in (piece.u, piece.v))
        nodes[u], nodes[v] = network.nodes[piece.u], network.nodes[piece.v]
        name = PieceId(f"{k}:{piece.id}")
        pieces[name] = dataclasses.replace(piece, id=name, u=u, v=v)
        origin[name] = piece.id

    for name, piece in network.pieces.items():
        if name in group:
            put(piece, number[group[name]])
            continue
        here = [k for k in at.get(piece.u, ()) if k in at.get(piece.v, ())]
        if len(here) > 1:
            # Of the passes there are, one each: what a motif gets that need not be sewn.
            most = machine.ditch_passes if piece.stroke.kind == "ditch" else 2
            once = dataclasses.replace(piece.stroke, kind="motif")
            piece = dataclasses.replace(piece, stroke=once)
            here = here[: min(2, most)]
        for k in here:
            put(piece, k)
    return Network(nodes, pieces), origin


def _origin_node(node: NodeId) -> NodeId:
    """Return the node that a group's own node stands for."""
    return NodeId(node.split(":", 1)[1])
