"""Half-edges: the two ends of every pass, and what it costs to run from one into another.

Terms.  A *copy* is one pass that a piece may get.  A required piece has one copy that must be
sewn; ditches and the outer edge have spare copies up to their limit of passes; a motif that is
not required has one spare copy.  Copy c has the *half-edges* 2c (at its first node) and 2c + 1
(at its last), so ``h ^ 1`` is the other end.  A *transition* pairs two half-edges at one node:
the thread arrives along one and leaves along the other.  A thread *end* leaves a half-edge
without a mate.
"""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Network, NodeId, Piece, PieceId
from seamwalk.routing.collecting import uncollected

Ints = NDArray[np.intp]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

END = -1
"""Mate of a half-edge where a thread starts or stops."""


@dataclass(frozen=True, slots=True, eq=False)
class Turning:
    """What turning the quilt costs a route, where the search shall know of it.

    The price of a joint is its pivot's or, if that is more, the quilt's.  It belongs to the joint
    alone, so that a pairing's cost stays a sum and its bound a bound.

    Attributes
    ----------
    turn_s : float
        Seconds from one required piece into another that needs the quilt turned; half of it into
        travel and half out of it.
    apart_deg : float
        Two required pieces need it where their main directions differ by more than this.
    travel_deg : float
        To and from travel the quilt is turned from here on: travel round two corners must not
        come cheaper than turning at one.
    strip : (C,) int or None
        Part of the top that each copy lies in.
    strip_s : float
        Seconds for each joint from one part into another.
    """

    turn_s: float
    apart_deg: float = 60.0
    travel_deg: float = 30.0
    strip: Ints | None = None
    strip_s: float = 0.0


MOST_PASSES = 2
"""Most passes along one ditch or edge, whatever the machine's setting (the stroke's contract)."""


@dataclass(frozen=True, slots=True, eq=False)
class HalfEdges:
    """All passes that a route may use; C copies over N nodes.

    Attributes
    ----------
    pieces : tuple of Piece
        In an order that depends on geometry only.
    nodes : tuple of NodeId
        Names of the nodes, by number.
    piece_of : (C,) int
        Piece of each copy.
    required : (C,) bool
        Must be sewn.
    node : (2C,) int
        Where each half-edge lies.
    heading_deg : (2C,) float
        Direction of leaving the node along the half-edge, x towards y.
    sew_s : (C,) float
        Seconds to stitch the copy.
    end_s : (N,) float
        Seconds for a thread end at each node.
    lies_deg : (2C,) float
        Main direction of leaving along each half-edge: from end to end; NaN where a piece closes
        on itself and has none.
    turning : Turning or None
        Price of turning the quilt; None counts pivots alone.
    """

    pieces: tuple[Piece, ...]
    nodes: tuple[NodeId, ...]
    piece_of: Ints
    required: Bools
    node: Ints
    heading_deg: Floats
    sew_s: Floats
    end_s: Floats
    lies_deg: Floats
    turning: Turning | None = None


@uncollected()
def half_edges(
    network: Network,
    machine: MachineProfile,
    turning: Turning | None = None,
    done: Mapping[PieceId, int] | None = None,
) -> HalfEdges:
    """Return every pass that a route over `network` may use.

    `done` says how often pieces were sewn before: so many passes fewer are left.

    Raises
    ------
    ValueError
        If the machine allows no pass in a ditch.
    """
    if machine.ditch_passes < 1:
        raise ValueError("a ditch needs at least one pass")
    nodes = sorted(network.nodes, key=lambda n: network.nodes[n])
    number = {n: i for i, n in enumerate(nodes)}
    pieces = _by_place(network.pieces.values(), number)
    in_margin = np.zeros(len(nodes), dtype=np.bool_)
    piece_of: list[int] = []
    required: list[bool] = []
    for i, piece in enumerate(pieces):
        kind = piece.stroke.kind
        passes = {"motif": 1, "ditch": min(machine.ditch_passes, MOST_PASSES)}.get(
            kind, MOST_PASSES
        )
        passes = max(0, passes - (done or {}).get(piece.id, 0))
        piece_of += [i] * passes
        required += [piece.stroke.required and k == 0 for k in range(passes)]
        if kind == "edge":
            in_margin[[number[piece.u], number[piece.v]]] = True
    of = np.array(piece_of, dtype=np.intp)
    ends = np.array([(number[p.u], number[p.v]) for p in pieces], dtype=np.intp).reshape(-1, 2)
    turns = np.array(
        [(p.curve.start_heading_rad, p.curve.end_heading_rad + np.pi) for p in pieces],
        dtype=np.float64,
    ).reshape(-1, 2)
    length = np.array([p.curve.length for p in pieces], dtype=np.float64)
    return HalfEdges(
        pieces=tuple(pieces),
        nodes=tuple(nodes),
        piece_of=of,
        required=np.array(required, dtype=np.bool_),
        node=ends[of].reshape(-1),
        heading_deg=np.degrees(turns[of].reshape(-1)) % 360,
        sew_s=length[of] * machine.s_per_in,
        end_s=np.where(in_margin, machine.edge_end_s, machine.buried_end_s).astype(np.float64),
        lies_deg=_lies_deg(pieces, network)[of].reshape(-1),
        turning=turning,
    )


def _lies_deg(pieces: Sequence[Piece], network: Network) -> Floats:
    """Return the direction of each piece from end to end, and back (P, 2)."""
    u = np.array([network.nodes[p.u] for p in pieces], dtype=np.float64).reshape(-1, 2)
    v = np.array([network.nodes[p.v] for p in pieces], dtype=np.float64).reshape(-1, 2)
    there = np.degrees(np.arctan2(*(v - u).T[::-1]))
    there[(u == v).all(axis=1)] = np.nan
    return np.stack([there, there + 180], axis=1) % 360


def _by_place(pieces: Iterable[Piece], number: Mapping[NodeId, int]) -> list[Piece]:
    """Return pieces ordered by what they are and where, whatever their names.

    `number` counts nodes by place.
    """
    pieces = list(pieces)
    kinds = sorted({p.stroke.kind for p in pieces})
    ends = np.array([(number[p.u], number[p.v]) for p in pieces], dtype=np.intp).reshape(-1, 2)
    kind = np.array([kinds.index(p.stroke.kind) for p in pieces], dtype=np.intp)
    required = np.array([p.stroke.required for p in pieces], dtype=np.intp)
    size = max(1, len(number))
    key = ((2 * kind + required) * size + ends.min(axis=1)) * size + ends.max(axis=1)
    order = np.argsort(key, kind="stable")
    out = [pieces[i] for i in order.tolist()]
    # Few share both ends with another; only those are looked at closely.
    starts = np.flatnonzero(np.diff(key[order], prepend=-1))
    counts = np.diff(np.append(starts, len(pieces)))
    for at, n in zip(starts[counts > 1].tolist(), counts[counts > 1].tolist(), strict=True):
        alike = out[at : at + n]
        out[at : at + n] = sorted(alike, key=lambda p: (_inside(p.curve), p.curve.length))
    return out


def _inside(curve: Curve) -> Point:
    """Return a point within the curve that tells apart curves with equal ends."""
    return curve.pieces[len(curve.pieces) // 2].at(0.5)


def turn_deg(heading_a: Floats, heading_b: Floats) -> Floats:
    """Return the turn, 0 to 180 degrees, from arriving along one half-edge to leaving on another.

    Both headings point away from the node, so straight on is a difference of 180.
    """
    d = np.abs(heading_a - heading_b) % 360
    out: Floats = 180 - np.minimum(d, 360 - d)
    return out


def pivot_cost_s(turns_deg: Floats, machine: MachineProfile) -> Floats:
    """Return `MachineProfile.pivot_cost_s` of an array of turns."""
    steer = machine.meander_s_per_deg * turns_deg
    pivot = machine.pivot_s + machine.pivot_s_per_deg * (turns_deg - machine.smooth_deg)
    # Rounding of headings must not turn an exact 30° into a pivot.
    return steer + np.where(turns_deg <= machine.smooth_deg + 1e-9, 0.0, pivot)


def turning_cost_s(edges: HalfEdges, a: Ints, b: Ints, pivots_s: Floats) -> Floats:
    """Return the cost of each joint (T,): its pivot's, or what turning the quilt costs there."""
    if edges.turning is None:
        return pivots_s
    price = edges.turning
    # No direction is within any limit: NaN compares false.
    apart = turn_deg(edges.lies_deg[a], edges.lies_deg[b])
    both = edges.required[a >> 1] & edges.required[b >> 1]
    turned = apart > np.where(both, price.apart_deg, price.travel_deg) + 1e-9
    least = np.where(turned, np.where(both, price.turn_s, price.turn_s / 2), 0.0)
    out: Floats = np.maximum(pivots_s, least)
    if price.strip is not None:
        out = out + price.strip_s * (price.strip[a >> 1] != price.strip[b >> 1])
    return out


def transitions(
    edges: HalfEdges, machine: MachineProfile, copies: Bools
) -> tuple[Ints, Ints, Floats]:
    """Return all pairs of half-edges at one node with their turn cost.

    Parameters
    ----------
    edges : HalfEdges
        C copies.
    copies : (C,) bool
        Only between these.

    Returns
    -------
    a, b : (T,) int
        Half-edges, a before b.
    cost_s : (T,) float
        Seconds.  Pairs dearer than two thread ends at their node are left out: no least-cost
        route turns there.
    """
    here = np.flatnonzero(np.repeat(copies, 2))
    here = here[np.argsort(edges.node[here], kind="stable")]
    start = np.flatnonzero(np.diff(edges.node[here], prepend=-1))
    degree = np.diff(np.append(start, len(here)))
    firsts: list[Ints] = []
    seconds: list[Ints] = []
    for d in np.unique(degree).tolist():
        if d < 2:
            continue
        table = here[start[degree == d][:, None] + np.arange(d)]
        i, j = np.triu_indices(d, 1)
        firsts.append(table[:, i].reshape(-1))
        seconds.append(table[:, j].reshape(-1))
    a, b = _joined(firsts), _joined(seconds)
    cost = pivot_cost_s(turn_deg(edges.heading_deg[a], edges.heading_deg[b]), machine)
    cost = turning_cost_s(edges, a, b, cost)
    # A spare copy that runs from a node straight back to it and closes on itself is never sewn.
    keep = (cost < 2 * edges.end_s[edges.node[a]]) & ((a ^ 1 != b) | edges.required[a >> 1])
    # Nor is it worth turning back between two spare copies of one piece: whatever comes before
    # and after could meet where they set out, and no turn costs more than turning back.
    spare = ~edges.required
    same = edges.piece_of[a >> 1] == edges.piece_of[b >> 1]
    keep &= ~(same & spare[a >> 1] & spare[b >> 1])
    return a[keep], b[keep], cost[keep]


def _joined(arrays: Iterable[Ints]) -> Ints:
    return np.concatenate([np.empty(0, dtype=np.intp), *arrays])


class Costs:
    """Seconds of walks, for the inner loops: plain lists instead of arrays."""

    def __init__(self, edges: HalfEdges, machine: MachineProfile) -> None:
        self.node: list[int] = edges.node.tolist()
        self.end_s: list[float] = edges.end_s.tolist()
        self.sew_s: list[float] = edges.sew_s.tolist()
        self.heading: list[float] = edges.heading_deg.tolist()
        self._smooth = machine.smooth_deg + 1e-9
        self._steer = machine.meander_s_per_deg
        self._slope = machine.pivot_s_per_deg
        self._pivot = machine.pivot_s - machine.pivot_s_per_deg * machine.smooth_deg
        self._turning = edges.turning
        if edges.turning is not None:
            self._lies: list[float] = edges.lies_deg.tolist()
            self._required: list[bool] = edges.required.tolist()
            strip = edges.turning.strip
            self._strip: list[int] | None = None if strip is None else strip.tolist()

    def turn(self, a: int, b: int) -> float:
        """Return the seconds from arriving on half-edge `a` to leaving on `b`.

        `END` for either is a thread end at the other's node.
        """
        if b == END:
            return self.end_s[self.node[a]]
        if a == END:
            return self.end_s[self.node[b]]
        t = abs(180.0 - abs(self.heading[a] - self.heading[b]))
        cost = self._steer * t
        if t > self._smooth:
            cost += self._pivot + self._slope * t
        return cost if self._turning is None else self._turned(a, b, cost, self._turning)

    def _turned(self, a: int, b: int, pivot_s: float, price: Turning) -> float:
        """Return `turning_cost_s` of one joint."""
        t = abs(180.0 - abs(self._lies[a] - self._lies[b]))
        a, b = a >> 1, b >> 1
        both = self._required[a] and self._required[b]
        if t > (price.apart_deg if both else price.travel_deg) + 1e-9:
            pivot_s = max(pivot_s, price.turn_s if both else price.turn_s / 2)
        if self._strip is not None and self._strip[a] != self._strip[b]:
            pivot_s += price.strip_s
        return pivot_s

    def detour(self, walk: Sequence[int], lo: int, hi: int) -> float:
        """Return the seconds that leaving out ``walk[lo:hi]`` saves; negative if it costs.

        `walk` lists the half-edges by which copies are entered, from one thread end to the other.
        """
        before = walk[lo - 1] ^ 1 if lo > 0 else END
        after = walk[hi] if hi < len(walk) else END
        span = walk[lo:hi]
        total = sum(self.sew_s[h >> 1] for h in span)
        total += sum(self.turn(a ^ 1, b) for a, b in itertools.pairwise(span))
        total += self.turn(before, span[0]) + self.turn(span[-1] ^ 1, after)
        return total - (0.0 if before == after == END else self.turn(before, after))

    def thread(self, walk: Sequence[int]) -> float:
        """Return the seconds of a whole thread, its two ends included."""
        return self.detour(walk, 0, len(walk))
