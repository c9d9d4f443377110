"""A finished route with all that is told of it: its words, what it saves, why it has breaks."""

import dataclasses

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Route
from seamwalk.model.sizes import BlockSize
from seamwalk.routing.telling.breaks import breaks
from seamwalk.routing.telling.compare import compared
from seamwalk.routing.telling.words import in_words
from seamwalk.units import Units


def told(
    route: Route, machine: MachineProfile, units: Units, block: BlockSize | None = None
) -> Route:
    """Return the same route with its words; patches are told by the top's `block`, if it has one.

    The rest of a route that was begun is not compared with other ways: they would have been
    begun elsewhere.
    """
    steps, runs = in_words(route, units, block)
    totals = route.totals
    if route.begun is None:
        totals = dataclasses.replace(totals, compared=compared(route.network, machine))
    return dataclasses.replace(
        route,
        totals=totals,
        steps=steps,
        runs=runs,
        breaks=breaks(route.network, route.threads, machine, units, route.order),
    )
