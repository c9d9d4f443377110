"""Networks from published lists of nodes and lengths, where only walking costs anything."""

import csv
import importlib.util
import math
from collections.abc import Sequence
from pathlib import Path

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Network, NodeId, Piece, PieceId
from seamwalk.model.stitching import Stroke, StrokeId

END_S = 500.0
"""Dearer than any walk below, so that there is one start and one stop."""


def walker(end_s: float = END_S) -> MachineProfile:
    """Return a machine that sews an inch a second and turns for nothing."""
    return MachineProfile(
        stitch_mm=25.4,
        stitches_per_min=60.0,
        pivot_s=0.0,
        pivot_s_per_deg=0.0,
        meander_s_per_deg=0.0,
        quilt_turn_s=0.0,
        buried_end_s=end_s,
        edge_end_s=end_s,
    )


def by_lengths(lines: Sequence[tuple[str, str, float, bool]]) -> Network:
    """Return a network of (node, node, length, required), all of them ditches.

    Nodes lie on a tiny circle and each piece takes a corner, so that it can have any length.
    """
    names = sorted({n for a, b, _, _ in lines for n in (a, b)})
    tiny = 0.01
    nodes = {
        NodeId(n): (
            tiny * math.cos(2 * math.pi * i / len(names)),
            tiny * math.sin(2 * math.pi * i / len(names)),
        )
        for i, n in enumerate(names)
    }
    pieces = {}
    for k, (a, b, length, required) in enumerate(lines):
        u, v = NodeId(a), NodeId(b)
        curve = Curve.through([nodes[u], _apex(nodes[u], nodes[v], length), nodes[v]])
        stroke = Stroke(StrokeId(f"s{k}"), curve, "ditch", required)
        pieces[PieceId(f"s{k}")] = Piece(PieceId(f"s{k}"), u, v, curve, stroke)
    return Network(nodes, pieces)


def _apex(a: Point, b: Point, length: float) -> Point:
    half = math.dist(a, b) / 2
    rise = math.sqrt((length / 2) ** 2 - half**2)
    mx, my = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    if half == 0:
        return (mx, my + rise)
    return (mx - (b[1] - a[1]) / (2 * half) * rise, my + (b[0] - a[0]) / (2 * half) * rise)


def table(*parts: str) -> list[dict[str, str]]:
    """Return the rows of a list of edges in the package postman-problems 0.3."""
    found = importlib.util.find_spec("postman_problems")
    assert found is not None
    assert found.submodule_search_locations
    path = Path(found.submodule_search_locations[0], "examples", *parts)
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def seven_bridges() -> Network:
    """Return the seven bridges with lengths: 33 in all (postman-problems 0.3)."""
    rows = table("seven_bridges", "edgelist_seven_bridges.csv")
    return by_lengths([(r["node1"], r["node2"], float(r["distance"]), True) for r in rows])


def sleeping_giant(*, roads: bool) -> Network:
    """Return the Sleeping Giant trails, 26.01 required; with or without the optional ways.

    A hundredth of the published unit becomes an inch, so that all lengths are whole.
    """
    rows = table("sleeping_giant", "edgelist_sleeping_giant.csv")
    return by_lengths(
        [
            (r["node1"], r["node2"], 100 * float(r["distance"]), r["required"] == "1")
            for r in rows
            if roads or r["required"] == "1"
        ]
    )
