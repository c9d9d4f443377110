"""Why a top is not sewn in one thread, in sentences."""

from collections.abc import Iterable

from seamwalk.model.machine import MachineProfile
from seamwalk.model.order import OrderName
from seamwalk.model.route import Network, Thread
from seamwalk.routing.telling.reasons import Reason, fewest_threads, reasons
from seamwalk.routing.turning import half_edges
from seamwalk.units import Units, format_length

MOST_NAMED = 3
"""Places that are told one by one."""


WHY = {
    "middle": "starting anew was found better than sewing back to the middle with the bulk under "
    "the arm",
    "lines": "each line was to have a thread of its own",
}
"""Why an order takes more threads than it must."""


def breaks(
    network: Network,
    threads: Iterable[Thread],
    machine: MachineProfile,
    units: Units,
    order: OrderName | None = None,
) -> tuple[str, ...]:
    """Return why there is more than one thread; nothing where there is one or none.

    No travel goes over open fabric, so stitching that no ditch, margin or stroke joins to the
    rest needs a thread of its own, and where an odd number of strokes meet and nothing leads on,
    a thread starts or stops (see `reasons`).
    """
    count = sum(1 for _ in threads)
    if count < 2:
        return ()
    edges = half_edges(network, machine)
    found = reasons(edges)
    fewest = fewest_threads(edges, found)
    apart = [r for r in found if r.kind == "apart"]
    odd = [r for r in found if r.kind == "odd"]
    out = []
    if apart:
        apart.sort(key=lambda r: _sewn_in(r, network), reverse=True)
        out.append(
            f"The stitching is in {len(apart) + 1} pieces that no ditch joins, so it takes at "
            f"least {len(apart) + 1} threads. Apart from the largest: "
            f"{_several([_told(r, network, units) for r in apart])}."
        )
    if fewest > len(apart) + 1:
        out.append(
            f"At {len(odd)} places a stroke ends from where no ditch leads on, and at each a "
            f"thread starts or stops, so it takes at least {fewest} threads: "
            f"{_several([_told(r, network, units) for r in odd])}."
        )
    if count > fewest:
        why = WHY.get(order or "", "starting anew was found quicker than the way there")
        could = "One thread" if fewest == 1 else f"{fewest} threads"
        out.append(f"{could} could sew it all; {count} are used, since {why}.")
    return tuple(out)


def _several(told: list[str]) -> str:
    """Return the first few, and how many more there are."""
    told = list(dict.fromkeys(told))
    left = len(told) - MOST_NAMED
    return "; ".join(told[:MOST_NAMED]) + (f" and {left} more" if left > 0 else "")


def _sewn_in(reason: Reason, network: Network) -> float:
    return sum(network.pieces[p].curve.length for p in reason.pieces)


def _told(reason: Reason, network: Network, units: Units) -> str:
    """Return what a reason is about and where."""
    part = [network.pieces[p] for p in reason.pieces]
    patches = sorted({p.stroke.patch for p in part if p.stroke.patch is not None})
    motifs = dict.fromkeys(p.stroke.motif.replace("-", " ") for p in part if p.stroke.motif)
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
