"""Where the needle is: at a node, or part-way along the piece that is being stitched."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from seamwalk.errors import UsageError
from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.route import Leg, Network, NodeId
from seamwalk.units import Units, format_length


@dataclass(frozen=True, slots=True)
class NeedleSettings:
    """How well she can say where the needle is.

    Attributes
    ----------
    at_node_in : float
        Closer than this to a node, the needle is there, inches: some two stitches, and finer
        than a place is read off a top (common practice, no source).
    on_piece_in : float
        Further than this from a piece the needle isn't on it, inches: what a tape laid on a
        bulky quilt tells (common practice, no source).
    off_quilt_in : float
        Further than this outside everything, the place is a slip of the pen, inches.
    """

    at_node_in: float = 0.25
    on_piece_in: float = 0.5
    off_quilt_in: float = 1.0


DEFAULT = NeedleSettings()


@dataclass(frozen=True, slots=True)
class Needle:
    """Where the needle is taken to be.

    Attributes
    ----------
    node : NodeId
        The nearest node.
    off_in : float
        How far that, or the place on `leg`, is from what was said, inches.
    leg : Leg or None
        What is being stitched, where the needle is part-way along it.
    along_in : float
        Stitched of that, inches.
    """

    node: NodeId
    off_in: float
    leg: Leg | None = None
    along_in: float = 0.0


def needle_at(
    network: Network,
    said: Point | NodeId,
    stitching: Sequence[Leg],
    planned: Leg | None = None,
    settings: NeedleSettings = DEFAULT,
    units: Units = "in",
) -> Needle:
    """Return where the needle is.

    Parameters
    ----------
    network : Network
        Pieces and nodes.
    said : (x, y) or NodeId
        Place, inches, or name of a node.
    stitching : sequence of Leg
        What may be under the needle.
    planned : Leg or None
        Which of them the plan has next.
    settings : NeedleSettings
        Tolerances.
    units : {"in", "cm"}
        That places are told in.

    Raises
    ------
    UsageError
        If there is no such node, or the place is off the quilt.
    """
    if isinstance(said, str):
        if said not in network.nodes:
            raise UsageError(
                f"This plan has no node “{said}”.", "Take its name from “nodes” in plan.json."
            )
        return Needle(said, 0.0)
    xs = [x for x, _ in network.nodes.values()]
    ys = [y for _, y in network.nodes.values()]
    over = settings.off_quilt_in
    if not (
        min(xs) - over <= said[0] <= max(xs) + over and min(ys) - over <= said[1] <= max(ys) + over
    ):
        raise UsageError(
            f"The needle at {_place(said, units)} would be off the quilt, whose path goes from "
            f"{_place((min(xs), min(ys)), units)} to {_place((max(xs), max(ys)), units)}.",
            "Measure from the left edge, then from the upper edge.",
        )
    node = min(network.nodes, key=lambda n: (math.dist(network.nodes[n], said), n))
    off_in = math.dist(network.nodes[node], said)
    if off_in <= settings.at_node_in:
        return Needle(node, off_in)
    found = []
    for leg in stitching:
        curve = network.pieces[leg.piece].curve
        along, off = _nearest(curve.reversed() if leg.reverse else curve, said)
        left = curve.length - along
        if off <= settings.on_piece_in and min(along, left) > settings.at_node_in:
            # What the plan has next wins over what runs close beside it.
            ahead = settings.at_node_in if leg == planned else 0.0
            found.append((off - ahead, off, along, leg))
    best = min(found, key=lambda f: f[0], default=None)
    if best is None or best[1] >= off_in:
        return Needle(node, off_in)
    return Needle(node, best[1], best[3], best[2])


def _place(at: Point, units: Units) -> str:
    x, y = (format_length(v, units) for v in at)
    return f"{x.removesuffix(f' {units}')}, {y}"


def _nearest(curve: Curve, place: Point) -> tuple[float, float]:
    """Return how far along the curve its nearest point to `place` is, and how far off."""
    line = shapely.LineString(curve.sampled())
    at = shapely.Point(place)
    # Chords are a little shorter than their arcs.
    return float(line.project(at)) * curve.length / line.length, float(line.distance(at))
