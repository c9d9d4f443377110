"""The best route that a given effort finds, and the best bound: round after round of `search`."""

import itertools
import time
from dataclasses import dataclass, field

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.pairing import Choices
from seamwalk.routing.solve.prices import Cuts
from seamwalk.routing.solve.quick import is_too_long, quick_route
from seamwalk.routing.solve.search import DEFAULT, ImproveSettings, Search
from seamwalk.routing.solve.threads import Walk


@dataclass(frozen=True, slots=True)
class Found:
    """The best route found.

    Attributes
    ----------
    walks : list of Walk
        Its threads.
    cost_s : float
        What it costs, quilt turns not counted.
    bound_s : float
        The best bound.
    cuts : list of Cuts
        Sets of passes that some pairing did not leave: where a proof may begin.
    hurried : bool
        There was no time for an exact pairing.
    """

    walks: list[Walk]
    cost_s: float
    bound_s: float
    cuts: list[Cuts] = field(default_factory=list)
    hurried: bool = False


def improved(
    given: Choices,
    machine: MachineProfile,
    *,
    time_limit_s: float | None = None,
    solver: Solver = "auto",
    settings: ImproveSettings = DEFAULT,
) -> Found:
    """Return the best route of several rounds, and the best bound.

    Parameters
    ----------
    given : Choices
        With at least one required copy.
    machine : MachineProfile
        Costs.
    time_limit_s : float, optional
        A round begins only if one like the longest so far would end in time; where the first
        would not, `quick.quick_route` stands in for all of them.  Without a limit the number of
        rounds depends on the task alone, so that a run can be repeated.
    solver, settings
        See `matching.match` and `ImproveSettings`.
    """
    begun = time.monotonic()
    until = None if time_limit_s is None else begun + settings.usable * time_limit_s
    if is_too_long(given, until):
        quick = quick_route(given, machine, until=until, solver=solver)
        return Found(*quick, hurried=True)
    longest = 0.0
    enough = 1 + settings.effort // max(1, len(given.halves))
    search = Search(given, machine, solver, settings, until)
    for done in itertools.count(1):
        search.round()
        now = time.monotonic()
        longest, begun = max(longest, now - begun), now
        if search.gap <= settings.near or done >= settings.rounds or search.is_stalled:
            break
        if until is not None:
            if now + longest > until:
                break
        elif done >= search.worth(enough):
            break
    search.finish(until)
    return Found(search.best, search.cost_s, search.bound_s, search.cuts)


def left_s(until: float | None) -> float | None:
    """Return the seconds until a time (`time.monotonic`), none below 0; None without a limit."""
    return None if until is None else max(0.0, until - time.monotonic())
