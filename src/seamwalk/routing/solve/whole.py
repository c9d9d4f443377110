"""From a pairing to whole threads, and what they cost."""

from collections.abc import Iterable

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.collecting import uncollected
from seamwalk.routing.solve.leads import with_leads
from seamwalk.routing.solve.merge import merge
from seamwalk.routing.solve.pairing import Pairing
from seamwalk.routing.solve.threads import Walk, tidied, walks
from seamwalk.routing.turning import Costs, HalfEdges


@uncollected()
def merged(
    edges: HalfEdges, machine: MachineProfile, pairing: Pairing, costs: Costs
) -> list[Walk]:
    """Return the threads that a pairing comes to when all of it is made to hang together."""
    whole = merge(edges, machine, with_leads(edges, machine, pairing))
    return tidied(walks(whole), edges, costs)


def cost_s(route: Iterable[Walk], costs: Costs) -> float:
    """Return the seconds of all threads together."""
    return sum(costs.thread(walk) for walk in route)
