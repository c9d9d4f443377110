"""The bobbins of any route, checked from first principles: part of the audit.

Like the rest of the audit it shares no code with what places the changes.
"""

import math

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import BobbinChange, NodeId, PieceId, Route

NEAR_IN = 1e-6
"""Places agree within this, inches."""

ALONG_IN = 1e-3
"""Ways along the path agree within this, inches, a hundredth of a stitch: an arc whose ends were
welded to others has two radii that differ in the seventh digit, and a path has thousands."""


def bobbin_errors(
    route: Route, machine: MachineProfile, length_in: dict[PieceId, float], margin: set[NodeId]
) -> list[str]:
    """Return what is wrong with the changes of bobbin.

    Parameters
    ----------
    route : Route
        Its legs are known to be sound.
    machine : MachineProfile
        The bobbin, and what it must keep in reserve.
    length_in : dict
        Length of each piece.
    margin : set
        Nodes in the margin.
    """
    # Thread metres per inch of path, from the bobbin's half of all thread.
    per_in = machine.thread_per_path / 2 * (1 + machine.thread_waste) * 0.0254
    full = machine.bobbin_m * (1 - machine.bobbin_reserve)
    errors = []
    starts: dict[tuple[int, int], float] = {}
    sewn = 0.0
    for t, thread in enumerate(route.threads):
        for k, leg in enumerate(thread.legs):
            starts[t, k] = sewn
            sewn += length_in[leg.piece]
    # The bobbin in the machine may have sewn before; more than all of it is no more than all.
    used = 0.0 if route.begun is None else route.begun.bobbin_in
    changed_at = -min(used, full / per_in)
    for number, change in enumerate(route.bobbin_changes, start=1):
        start = starts.get((change.thread, change.leg))
        if start is None:
            return [f"Bobbin change {number} is at a leg that is not there."]
        errors += _place_errors(number, change, route, margin, start, length_in)
        if (change.sewn_in - changed_at) * per_in > full * (1 + NEAR_IN):
            errors.append(f"The bobbin runs out before change {number}.")
        if change.sewn_in <= changed_at:
            errors.append(f"Bobbin change {number} does not come after the one before.")
        changed_at = change.sewn_in
    if (sewn - changed_at) * per_in > full * (1 + NEAR_IN):
        errors.append("The last bobbin runs out.")
    return errors


def _place_errors(
    number: int,
    change: BobbinChange,
    route: Route,
    margin: set[NodeId],
    start_in: float,
    length_in: dict[PieceId, float],
) -> list[str]:
    """Return what a change says of its place that is not so."""
    leg = route.threads[change.thread].legs[change.leg]
    piece = route.network.pieces[leg.piece]
    errors = []
    if change.step != leg.step:
        errors.append(f"Bobbin change {number} names step {change.step}, not {leg.step}.")
    on_way = change.sewn_in - start_in
    if not -ALONG_IN <= on_way < length_in[leg.piece] + ALONG_IN:
        errors.append(f"Bobbin change {number} is not on its leg.")
    if on_way > ALONG_IN:
        true = "inside"
    else:
        node = piece.v if leg.reverse else piece.u
        if math.dist(route.network.nodes[node], change.at) > NEAR_IN:
            errors.append(f"Bobbin change {number} is not where its leg starts.")
        true = "margin" if node in margin else "inside"
        runs_in = change.thread == 0 and route.begun is not None and route.begun.goes_on
        if change.leg == 0 and not runs_in:
            true = "thread end"
    if change.where != true:
        errors.append(f"Bobbin change {number} is called {change.where}, but it is {true}.")
    return errors


def bobbin_minutes(route: Route, machine: MachineProfile) -> float:
    """Return what all changes take, the ends that they make included."""
    total_s = 0.0
    for change in route.bobbin_changes:
        total_s += machine.bobbin_change_s
        if change.where == "margin":
            total_s += machine.edge_end_s + machine.edge_end_s
        elif change.where == "inside":
            total_s += machine.buried_end_s + machine.buried_end_s
    return total_s / 60
