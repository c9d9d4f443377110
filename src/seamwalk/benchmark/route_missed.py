"""A turn missed half way through a route, and how long the best rest takes to find."""

import math
import time

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Leg, Network, PieceId, Route

MISSED_AT = 0.4
"""Share of the steps that are done when the turn is missed."""


def missed_turn(route: Route) -> tuple[int, PieceId | None]:
    """Return the last step done as planned, and the piece that was sewn instead of the next.

    The piece is the one that runs most nearly straight on; where none is left at the needle she
    only wants to know the rest.
    """
    legs = [leg for thread in route.threads for leg in thread.legs]
    wanted = max(1, math.floor(max(leg.step for leg in legs) * MISSED_AT))
    done = [leg for leg in legs if leg.step <= wanted]
    network, last = route.network, done[-1]
    planned = legs[len(done)].piece
    sewn = {leg.piece for leg in done}
    here, heading = _arrival(network, last)
    ahead = []
    for piece in network.pieces.values():
        if piece.id in sewn | {planned} or piece.stroke.kind != "motif":
            continue
        if not piece.stroke.required or here not in (piece.u, piece.v):
            continue
        curve = piece.curve if piece.u == here else piece.curve.reversed()
        turn = math.remainder(curve.start_heading_rad - heading, 2 * math.pi)
        ahead.append((abs(turn), piece.id))
    return last.step, min(ahead)[1] if ahead else None


def _arrival(network: Network, leg: Leg) -> tuple[str, float]:
    piece = network.pieces[leg.piece]
    curve = piece.curve.reversed() if leg.reverse else piece.curve
    return piece.u if leg.reverse else piece.v, curve.end_heading_rad


def time_rest(route: Route, machine: MachineProfile) -> tuple[Route, dict[str, float]]:
    """Return the rest after a missed turn, with the seconds it took and what it saves."""
    from seamwalk.routing.rest.done import Said, progress
    from seamwalk.routing.rest.rest import plan_rest

    step, instead = missed_turn(route)
    start = time.perf_counter()
    so_far = progress(route, Said(done_to=step, sewed=(instead,) if instead else ()))
    rest = plan_rest(so_far.network, machine, so_far.begun, so_far.earlier)
    figures = {
        "rest_s": time.perf_counter() - start,
        "left": float(sum(p.stroke.required for p in so_far.network.pieces.values())),
        "missed": float(instead is not None),
        "kept": float(rest.kept),
    }
    if math.isfinite(rest.old_s):
        figures["saved_minutes"] = (rest.old_s - rest.new_s) / 60
    return rest.route, figures
