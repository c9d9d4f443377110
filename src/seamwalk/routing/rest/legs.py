"""Legs of a plan: by name, by step, in the order of sewing, and where each ends."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from seamwalk.errors import UsageError
from seamwalk.model.route import Leg, Network, NodeId, Piece, PieceId, Route


@dataclass(frozen=True, slots=True)
class Row:
    """A leg of the plan: its thread, its place in the order of all legs."""

    thread: int
    at: int
    leg: Leg


def named(route: Route, names: Iterable[str]) -> list[PieceId]:
    """Return the pieces that are called so, or belong to a stroke or a step that is, in order."""
    pieces = route.network.pieces
    out: list[PieceId] = []
    for name in names:
        found = [PieceId(name)] if name in pieces else []
        found = found or [n for n, p in pieces.items() if p.stroke.id == name]
        found = found or in_step(route, name)
        if not found:
            raise UsageError(
                f"This plan has no piece, stroke or step “{name}”.",
                "Take steps from overlay.jpg, or names from “edges” in plan.json.",
            )
        out += found
    return out


def in_step(route: Route, name: str) -> list[PieceId]:
    """Return the pieces of a step, once for each pass; none if `name` is no step's number."""
    if not name.isdecimal() or any(name in (p.id, p.stroke.id) for p in _pieces(route)):
        return []
    legs = [leg for thread in route.threads for leg in thread.legs]
    return [leg.piece for leg in legs if leg.step == int(name)]


def _pieces(route: Route) -> Iterable[Piece]:
    return route.network.pieces.values()


def split_up(route: Route, sewn: Counter[PieceId]) -> tuple[Row | None, list[Row]]:
    """Return the last leg that is done, and all legs that are left."""
    count = Counter(sewn)
    every = [(t, leg) for t, thread in enumerate(route.threads) for leg in thread.legs]
    last: Row | None = None
    left = []
    for at, (t, leg) in enumerate(every):
        if count[leg.piece] > 0:
            count[leg.piece] -= 1
            last = Row(t, at, leg)
        else:
            left.append(Row(t, at, leg))
    return last, left


def joined_up(network: Network, names: Sequence[PieceId], here: NodeId) -> list[Leg]:
    """Return pieces as legs, each from where the one before ends, if it can."""
    out = []
    for k, name in enumerate(names):
        piece = network.pieces[name]
        if here in (piece.u, piece.v) and piece.u != piece.v:
            reverse = here == piece.v
        else:
            after = network.pieces[names[k + 1]] if k + 1 < len(names) else None
            reverse = after is not None and piece.v not in (after.u, after.v)
        out.append(Leg(name, reverse))
        here = ends(piece, reverse)[1]
    return out


def ends(piece: Piece, reverse: bool) -> tuple[NodeId, NodeId]:
    """Return where a piece starts and ends, sewn in one direction."""
    return (piece.v, piece.u) if reverse else (piece.u, piece.v)


def where(route: Route, leg: Leg | None) -> tuple[NodeId, float]:
    """Return where a leg ends and in which direction; without one, where the plan begins."""
    if leg is None and route.begun is not None:
        return route.begun.needle, route.begun.heading_rad
    if leg is None:
        first = next((t.legs[0] for t in route.threads if t.legs), None)
        if first is None:
            return next(iter(route.network.nodes)), 0.0
        piece = route.network.pieces[first.piece]
        curve = piece.curve.reversed() if first.reverse else piece.curve
        return ends(piece, first.reverse)[0], curve.start_heading_rad
    piece = route.network.pieces[leg.piece]
    curve = piece.curve.reversed() if leg.reverse else piece.curve
    return ends(piece, leg.reverse)[1], curve.end_heading_rad
