"""The rest of a route that was begun, checked from first principles: part of the audit.

Like the rest of the audit it shares no code with what plans it.
"""

from seamwalk.model.route import NodeId, PieceId, Route


def sewn_before(route: Route, name: PieceId) -> int:
    """Return how often a piece was sewn before the route begins."""
    return 0 if route.begun is None else route.begun.done.get(name, 0)


def begun_errors(route: Route) -> list[str]:
    """Return what is wrong with what the route says was there before it."""
    begun = route.begun
    if begun is None:
        return []
    pieces = route.network.pieces
    errors = [f"Piece {n} was sewn before, but is not there." for n in begun.done.keys() - pieces]
    for name, passes in begun.done.items():
        if passes < 1:
            errors.append(f"Piece {name} was sewn before {passes} times.")
        if name in pieces and pieces[name].stroke.required:
            errors.append(f"Piece {name} was sewn before and must be stitched again.")
    errors += [f"Piece {n} is called done and isn't." for n in begun.wanted - begun.done.keys()]
    if begun.needle not in route.network.nodes:
        errors.append(f"The needle is at a node {begun.needle} that is not there.")
    if not begun.goes_on:
        return errors
    if not begun.runs:
        errors.append("The thread goes on, but it was cut.")
    first = route.threads[0].legs[0] if route.threads and route.threads[0].legs else None
    if first is None:
        errors.append("The thread goes on, but there is none.")
    elif first.piece in pieces:
        piece = pieces[first.piece]
        start = piece.v if first.reverse else piece.u
        if start != begun.needle:
            errors.append(f"The thread goes on from {start}, but the needle is at {begun.needle}.")
    return errors


def ends_to_pay(route: Route, ends: list[NodeId]) -> list[NodeId]:
    """Return the thread ends that are still to be made.

    Parameters
    ----------
    ends : list of NodeId
        Start and end of each thread, in order.
    """
    if route.begun is None:
        return ends
    if route.begun.goes_on:
        return ends[1:]
    return [*ends, route.begun.needle] if route.begun.runs else ends
