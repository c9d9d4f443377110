"""Pieces of a plan half sewn: what was sewn is not required, and one may be sewn half way."""

import dataclasses
import math
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.route import Leg, Network, NodeId, Piece, PieceId


@dataclass(frozen=True, slots=True)
class Done:
    """What is done of a plan and what it has left, piece by piece.

    Attributes
    ----------
    network : Network
        Pieces that were sewn are not required.
    passes : dict
        How often each was sewn.
    wanted : frozenset of PieceId
        Those sewn that had to be.
    left : tuple of tuple of Leg
        What the plan has left, by thread.
    """

    network: Network
    passes: dict[PieceId, int]
    wanted: frozenset[PieceId]
    left: tuple[tuple[Leg, ...], ...]


def with_required(
    network: Network, done: AbstractSet[PieceId], again: AbstractSet[PieceId]
) -> Network:
    """Return the network where what is `done` is not required, and what is to do `again` is."""
    pieces = {}
    for name, piece in network.pieces.items():
        must = (piece.stroke.required or name in again) and name not in done
        pieces[name] = _required(piece, must)
    return Network(network.nodes, pieces)


def _required(piece: Piece, must: bool) -> Piece:
    if piece.stroke.required == must:
        return piece
    return dataclasses.replace(piece, stroke=dataclasses.replace(piece.stroke, required=must))


@dataclass(frozen=True, slots=True)
class Split:
    """A piece cut where the needle is.

    Attributes
    ----------
    leg : Leg
        What was being stitched.
    first, second : Piece
        Its parts, in the piece's own direction.
    node : NodeId
        Where they meet.
    heading_rad : float
        Direction of stitching there.
    """

    leg: Leg
    first: Piece
    second: Piece
    node: NodeId
    heading_rad: float

    @property
    def at(self) -> Point:
        """Where the needle is."""
        return self.first.curve.end

    @property
    def parts(self) -> tuple[Piece, Piece]:
        """Both, in the piece's own direction."""
        return self.first, self.second

    @property
    def sewn(self) -> Piece:
        """The part that was stitched."""
        return self.second if self.leg.reverse else self.first

    @property
    def rest(self) -> Piece:
        """The part that is left."""
        return self.first if self.leg.reverse else self.second


def split_at(network: Network, leg: Leg, along_in: float) -> Split:
    """Return the piece of a leg cut `along_in` inches after where the leg starts."""
    piece = network.pieces[leg.piece]
    length = piece.curve.length
    s = length - along_in if leg.reverse else along_in
    one, two = piece.curve.part(0.0, s), piece.curve.part(s, length)
    # Ends must meet exactly.
    start = dataclasses.replace(two.pieces[0], start=one.end)
    two = Curve((start, *two.pieces[1:]))
    node = NodeId(_fresh("n", network.nodes))
    names = [f"{leg.piece}.{k}" for k in (1, 2)]
    while any(n in network.pieces for n in names):
        names = [f"{n}'" for n in names]
    first = dataclasses.replace(piece, id=PieceId(names[0]), v=node, curve=one)
    second = dataclasses.replace(piece, id=PieceId(names[1]), u=node, curve=two)
    heading = one.end_heading_rad
    if leg.reverse:
        heading = math.remainder(heading + math.pi, 2 * math.pi)
    return Split(leg, first, second, node, heading)


def _fresh(letter: str, taken: dict[NodeId, Point]) -> str:
    """Return the next name of a letter and a number."""
    k = len(taken) + 1
    while f"{letter}{k}" in taken:
        k += 1
    return f"{letter}{k}"


def cut_through(given: Done, cut: Split) -> Done:
    """Return everything with the piece under the needle cut: the part already sewn is done."""
    name = cut.leg.piece
    before = given.passes.get(name, 0)
    passes = {n: k for n, k in given.passes.items() if n != name}
    passes[cut.sewn.id] = before + 1
    wanted = given.wanted - {name}
    if given.network.pieces[name].stroke.required or name in given.wanted:
        wanted |= {cut.sewn.id}
    if before:
        passes[cut.rest.id] = before
        wanted |= {cut.rest.id} if name in given.wanted else frozenset()
    parts = {p.id: _required(p, p.stroke.required and p is not cut.sewn) for p in cut.parts}
    pieces: dict[PieceId, Piece] = {}
    for n, piece in given.network.pieces.items():
        pieces |= parts if n == name else {n: piece}
    network = Network({**given.network.nodes, cut.node: cut.at}, pieces)
    is_motif = cut.first.stroke.kind == "motif"
    left: list[tuple[Leg, ...]] = []
    under = True
    for thread in given.left:
        legs: list[Leg] = []
        for leg in thread:
            if leg.piece != name:
                legs.append(leg)
                continue
            # What is under the needle has only its second part left.
            if is_motif or (under and leg.reverse == cut.leg.reverse):
                legs.append(Leg(cut.rest.id, leg.reverse))
            else:
                both = reversed(cut.parts) if leg.reverse else cut.parts
                legs += [Leg(p.id, leg.reverse) for p in both]
            under = False
        left.append(tuple(legs))
    return Done(network, passes, wanted, tuple(left))
