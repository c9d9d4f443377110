"""Why a top is not sewn in one thread, in sentences."""

from collections.abc import Iterable

from seamwalk.model.order import OrderName
from seamwalk.model.route import Network, NodeId, Piece, Thread
from seamwalk.units import Units, format_length

MOST_NAMED = 3
"""Separate pieces that are told one by one."""


WHY = {
    "middle": "sewing from the middle outwards with the bulk out of the arm, to start anew was "
    "found better than the way there",
    "lines": "each line was to have a thread of its own",
}
"""Why an order takes more threads than it must."""


def breaks(
    network: Network, threads: Iterable[Thread], units: Units, order: OrderName | None = None
) -> tuple[str, ...]:
    """Return why there is more than one thread; nothing where there is one or none.

    A piece of stitching stands apart where no ditch, margin or stroke leads to it.  No travel
    goes over open fabric, so each such piece needs a thread of its own.
    """
    count = sum(1 for _ in threads)
    if count < 2:
        return ()
    parts = [p for p in _parts(network) if any(x.stroke.required for x in p)]
    out = []
    if len(parts) > 1:
        parts.sort(key=_sewn, reverse=True)
        apart = [_told(part, network, units) for part in parts[1 : MOST_NAMED + 1]]
        left = len(parts) - 1 - len(apart)
        more = f" and {left} more" if left else ""
        out.append(
            f"The stitching is in {len(parts)} pieces that no ditch joins, so it takes at least "
            f"{len(parts)} threads. Apart from the largest: {'; '.join(apart)}{more}."
        )
    if count > len(parts):
        why = WHY.get(order or "", "to start anew was found better than the way there")
        out.append(f"It is sewn in {count} threads where {len(parts)} could do: {why}.")
    return tuple(out)


def _parts(network: Network) -> list[list[Piece]]:
    """Return the pieces of each connected part of the network."""
    root: dict[NodeId, NodeId] = {n: n for n in network.nodes}

    def found(node: NodeId) -> NodeId:
        while root[node] != node:
            root[node] = root[root[node]]
            node = root[node]
        return node

    for piece in network.pieces.values():
        root[found(piece.u)] = found(piece.v)
    out: dict[NodeId, list[Piece]] = {}
    for piece in network.pieces.values():
        out.setdefault(found(piece.u), []).append(piece)
    return list(out.values())


def _sewn(part: list[Piece]) -> float:
    return sum(p.curve.length for p in part if p.stroke.required)


def _told(part: list[Piece], network: Network, units: Units) -> str:
    """Return what a part is and where."""
    wanted = [p.stroke for p in part if p.stroke.required]
    patches = sorted({s.patch for s in wanted if s.patch is not None})
    motifs = dict.fromkeys(s.motif.replace("-", " ") for s in wanted if s.motif)
    what = " and ".join(motifs) or "stitching"
    if len(patches) == 1:
        return f"{what} in patch {patches[0]}"
    places = [network.nodes[n] for p in part for n in (p.u, p.v)]
    left, top = min(x for x, _ in places), min(y for _, y in places)
    across = max(x for x, _ in places) - left
    return (
        f"{what}, {format_length(across, units)} across, {format_length(left, units)} from the "
        f"left and {format_length(top, units)} from the top"
    )
