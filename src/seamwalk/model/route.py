"""The stitch path: threads of legs over a network of pieces."""

from dataclasses import dataclass, field
from typing import Literal, NewType

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.stitching import Stroke

BobbinPlace = Literal["thread end", "margin", "inside"]

NodeId = NewType("NodeId", str)
PieceId = NewType("PieceId", str)


@dataclass(frozen=True, slots=True)
class Piece:
    """A stroke, or the part of one between two nodes.

    Attributes
    ----------
    u, v : NodeId
        Where the curve starts and ends; ``curve.start`` equals node u's position exactly.
    stroke : Stroke
        What it belongs to; kind and ``required`` are the stroke's.
    """

    id: PieceId
    u: NodeId
    v: NodeId
    curve: Curve
    stroke: Stroke


@dataclass(frozen=True, slots=True)
class Network:
    """Nodes and the pieces between them: a multigraph drawn in the plane."""

    nodes: dict[NodeId, Point]
    pieces: dict[PieceId, Piece]


@dataclass(frozen=True, slots=True)
class Leg:
    """One piece stitched in one direction.

    Attributes
    ----------
    reverse : bool
        From v to u.
    step : int
        Number on the step sheet, from 1; legs that run on without a stop share it.
    """

    piece: PieceId
    reverse: bool
    step: int = 0


@dataclass(frozen=True, slots=True)
class Thread:
    """Legs sewn without cutting; each starts where the one before ends."""

    legs: tuple[Leg, ...]


@dataclass(frozen=True, slots=True)
class BobbinChange:
    """Where the bobbin is changed before it runs out.

    Attributes
    ----------
    thread, leg : int
        Before which leg of which thread, both counted from 0.
    step : int
        Number of that leg's step.
    at : Point
        Start of the leg; a leg too long for a bobbin is interrupted on its way.
    sewn_in : float
        Stitched until then, over all threads, inches.
    where : {"thread end", "margin", "inside"}
        Between two threads; in the margin, where the ends vanish under the binding; or inside
        the top, where they have to be buried.
    """

    thread: int
    leg: int
    step: int
    at: Point
    sewn_in: float
    where: BobbinPlace


@dataclass(frozen=True, slots=True)
class Totals:
    """What the route costs; minutes by cause sum to the time at the needle."""

    threads: int
    buried_ends: int
    edge_ends: int
    stitched_in: float
    doubled_in: float
    travel_in: float
    pivots: int
    turning_deg: float
    quilt_turns: int
    minutes: dict[str, float]
    thread_yd: float
    bobbins: int
    lower_bounds: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Route:
    """The whole stitching of a top."""

    network: Network
    threads: tuple[Thread, ...]
    totals: Totals
    bobbin_changes: tuple[BobbinChange, ...] = ()
