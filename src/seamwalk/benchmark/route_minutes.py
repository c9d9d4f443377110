"""The minutes of a route when turning the quilt is priced at every joint.

So the price is a sum over joints, for which the least can be bounded: between required pieces
whose headings differ by over 60°, the pivot or the turn of the quilt, whichever takes longer; to
and from travel, half a turn from 30° on.  A turn between two threads counts too.
"""

import math

import numpy as np

from seamwalk.benchmark.route_legs import Legs, legs_of, turned
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Route

TURNED_DEG = 60.0
"""Between required pieces the quilt is turned beyond this."""

TRAVEL_DEG = 30.0
"""To and from travel, beyond this: round two corners must not be cheaper than round one."""


def priced_minutes(route: Route, machine: MachineProfile) -> float:
    """Return stitching, pivots, thread ends and turns of the quilt, minutes."""
    legs = legs_of(route)
    sew_s = float(legs.length.sum()) * machine.s_per_in
    joints_s = sum(_joint_s(legs, k, machine) for k in np.flatnonzero(~legs.start).tolist())
    between = _turns_between_threads(legs) * machine.quilt_turn_s
    return (sew_s + joints_s + between + _ends_s(route, legs, machine)) / 60


def _joint_s(legs: Legs, k: int, machine: MachineProfile) -> float:
    before, after = legs.curves[k - 1], legs.curves[k]
    turn = math.remainder(after.start_heading_rad - before.end_heading_rad, 2 * math.pi)
    pivot_s = machine.pivot_cost_s(round(abs(math.degrees(turn)), 9))
    if not (legs.along[k - 1] and legs.along[k]):
        return pivot_s
    both = bool(legs.first[k - 1] and legs.first[k])
    apart = abs(math.degrees(math.remainder(legs.heading[k] - legs.heading[k - 1], 2 * math.pi)))
    if apart <= (TURNED_DEG if both else TRAVEL_DEG) + 1e-9:
        return pivot_s
    return max(pivot_s, machine.quilt_turn_s if both else machine.quilt_turn_s / 2)


def _turns_between_threads(legs: Legs) -> int:
    """Count threads whose first required piece lies another way than the last one before."""
    some = np.flatnonzero(legs.first & legs.along)
    thread = np.cumsum(legs.start)[some]
    apart = np.abs(turned(np.diff(legs.heading[some]))) > math.radians(TURNED_DEG) + 1e-9
    return int(np.sum(apart & (np.diff(thread) > 0)))


def _ends_s(route: Route, legs: Legs, machine: MachineProfile) -> float:
    margin = {
        point
        for piece in route.network.pieces.values()
        if piece.stroke.kind == "edge"
        for point in (piece.curve.start, piece.curve.end)
    }
    starts = np.flatnonzero(legs.start)
    stops = np.append(starts[1:], len(legs.start)) - 1
    ends = [legs.curves[k].start for k in starts] + [legs.curves[k].end for k in stops]
    return sum(machine.edge_end_s if e in margin else machine.buried_end_s for e in ends)
