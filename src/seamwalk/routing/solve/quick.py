"""A whole route in less time than the exact pairing takes, for limits that are shorter.

Odd ends are joined along a tree (see `odd_ends`), and so are islands (see `spanning`).  The
pairing is made better tile by tile (see `tiles`) while there is time, and its trails are merged as
always.  Time that is left goes into the bound.
"""

import time
from dataclasses import dataclass

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.odd_ends import evened
from seamwalk.routing.solve.pairing import Choices
from seamwalk.routing.solve.spanning import island_count, linked
from seamwalk.routing.solve.threads import Walk, closed_trails
from seamwalk.routing.solve.tiles import bounded_s, places_of, swept, tiles
from seamwalk.routing.solve.whole import cost_s, merged
from seamwalk.routing.turning import Costs


@dataclass(frozen=True, slots=True)
class QuickSettings:
    """When an exact pairing would take too long, and what is done instead.

    Attributes
    ----------
    exact_s : float
        Seconds that the exact pairing and its merging take for each half-edge, at most: 29e-6 to
        57e-6 on made-up tops of 20,000 strokes, most where triangles are drawn at random.
    always : int
        Networks up to this many half-edges are paired exactly whatever the limit: 0.06 s.
    merging_s, joining_s : float
        Seconds that merging takes for each half-edge, and for each closed trail besides, at most:
        on those tops 4e-6 to 18e-6 for each half-edge in all, most where trails are many.
    islands : float
        Islands, as a share of all nodes, from which on a tree joins them; fewer are merged.
    tile : int
        Half-edges of a tile: of half and of twice as many sweeps take as long.
    shifts : tuple of float
        Shares of a tile by which borders lie apart from sweep to sweep.  A third sweep gains
        little.
    """

    exact_s: float = 60e-6
    always: int = 1000
    merging_s: float = 7e-6
    joining_s: float = 150e-6
    islands: float = 0.02
    tile: int = 1000
    shifts: tuple[float, ...] = (0.0, 0.5)


DEFAULT = QuickSettings()


def is_too_long(given: Choices, until: float | None, settings: QuickSettings = DEFAULT) -> bool:
    """Return whether the exact pairing, begun now, would hardly end in time."""
    count = len(given.halves)
    if until is None or count <= settings.always:
        return False
    return time.monotonic() + settings.exact_s * count > until


def quick_route(
    given: Choices,
    machine: MachineProfile,
    *,
    until: float | None,
    solver: Solver = "auto",
    settings: QuickSettings = DEFAULT,
) -> tuple[list[Walk], float, float]:
    """Return whole threads, what they cost and a bound, both in seconds.

    Parameters
    ----------
    given : Choices
        With at least one required copy.
    machine : MachineProfile
        Costs.
    until : float or None
        Time (`time.monotonic`) by which it should be done; without it every tile is paired.
        What can't be left out is done even if it is past.
    solver, settings
        See `matching.match` and `QuickSettings`.
    """
    count = len(given.halves)
    costs = Costs(given.edges, machine)
    pairing = evened(given)
    bound_s = pairing.bound_s
    task = given
    if island_count(given.edges, pairing) > settings.islands * len(given.edges.nodes):
        # What lies apart is joined along a tree, which is then taken as sewn.
        task = linked(given, machine, pairing) or given
        pairing = evened(task)
    closed = int(closed_trails(given.edges, pairing).max())
    merging_s = settings.merging_s * count + settings.joining_s * closed
    paired_by = None if until is None else until - merging_s
    parts = max(1, round(count / settings.tile))
    for shift in settings.shifts:
        if paired_by is not None and time.monotonic() > paired_by:
            break
        tile = tiles(places_of(given.edges), parts, shift)
        pairing = swept(task, pairing, tile, solver=solver, until=paired_by)
    route = merged(given.edges, machine, pairing, costs)
    if until is None or time.monotonic() < until:
        tile = tiles(places_of(given.edges), parts)
        bound_s = max(bound_s, bounded_s(given, tile, solver=solver, until=until))
    return route, cost_s(route, costs), bound_s
