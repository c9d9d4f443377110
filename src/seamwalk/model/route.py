"""The stitch path: threads of legs over a network of pieces."""

from dataclasses import dataclass, field
from typing import Literal, NewType

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.order import OrderFigures, OrderName
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
class OtherWay:
    """What it takes to sew the same strokes in another way.

    Attributes
    ----------
    minutes : float
        At the machine, all causes.
    threads, buried_ends : int
        How many.
    """

    minutes: float
    threads: int
    buried_ends: int


@dataclass(frozen=True, slots=True)
class Totals:
    """What the route costs; minutes by cause sum to the time at the needle.

    Attributes
    ----------
    compared : dict
        The same strokes sewn "patch by patch" and "line by line"; empty where that wasn't asked
        for.
    """

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
    compared: dict[str, OtherWay] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StepWords:
    """What to do between two stops.

    Attributes
    ----------
    step : int
        Number of the step.
    text : str
        As it is read out.
    """

    step: int
    text: str


@dataclass(frozen=True, slots=True)
class RunWords:
    """What is sewn along one line, ring or patch, whatever stops it takes.

    Attributes
    ----------
    thread : int
        From 0.
    first_step, last_step : int
        Steps of its first leg and its last; one step may belong to two runs.
    text : str
        As it is read out.
    place : str
        Where the patches lie that are named; empty where none is.
    """

    thread: int
    first_step: int
    last_step: int
    text: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class Begun:
    """What was sewn before a route begins that is the rest of an earlier one.

    Attributes
    ----------
    done : dict
        Passes sewn before, by piece; these pieces are no longer ``required``, and what a ditch
        may still get is so much less.
    wanted : frozenset of PieceId
        Those of `done` that had to be sewn.
    needle : NodeId
        Where the needle is.
    heading_rad : float
        Direction in which it came there, x towards y.
    runs : bool
        The thread was not cut there.
    goes_on : bool
        The route's first thread is that thread: it starts at the needle without an end, and
        turning off there costs what it costs.  A thread that runs and doesn't go on is cut where
        the needle is, and counts as one end.
    bobbin_in : float
        Path that the bobbin in the machine has sewn already, inches.
    """

    done: dict[PieceId, int]
    wanted: frozenset[PieceId]
    needle: NodeId
    heading_rad: float
    runs: bool
    goes_on: bool = False
    bobbin_in: float = 0.0


@dataclass(frozen=True, slots=True)
class Route:
    """The whole stitching of a top, or, where it was begun, the rest of it.

    Attributes
    ----------
    steps, runs : tuple
        The threads in words; empty where nobody asked.
    breaks : tuple of str
        Why there is more than one thread, in sentences.
    order : str or None
        Which of `orders` this is.
    orders : tuple of OrderFigures
        What each order offered comes to; empty where only the least time was asked for.
    """

    network: Network
    threads: tuple[Thread, ...]
    totals: Totals
    bobbin_changes: tuple[BobbinChange, ...] = ()
    begun: Begun | None = None
    steps: tuple[StepWords, ...] = ()
    runs: tuple[RunWords, ...] = ()
    breaks: tuple[str, ...] = ()
    order: OrderName | None = None
    orders: tuple[OrderFigures, ...] = ()
