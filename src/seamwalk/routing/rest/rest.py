"""The best rest of a route that was begun: what was done stays, the thread runs on.

The rest is a route like any other, over what is left: strokes that were sewn are gone, ditches
that were sewn are only there for travel, with fewer passes left, and a thread may hang at the
needle (`rest_edges`).  Several rests are found: the quickest, and some that stay close to the
earlier route (`rest_earlier`).  What that still has to sew is a rest too.  All are measured in the
same way, quilt turns and order included, and the earlier one is kept where the others gain next to
nothing: a path that she knows is worth a second.
"""

import dataclasses
import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.model.order import OrderWish
from seamwalk.model.route import Begun, Network, Route, Thread
from seamwalk.routing.bobbins import bobbin_changes
from seamwalk.routing.order.bulk import heavy_share
from seamwalk.routing.order.choice import DEFAULT as ORDERS
from seamwalk.routing.order.choice import as_threads, disorder
from seamwalk.routing.order.measures import order_measures
from seamwalk.routing.order.middle_out import middle_out
from seamwalk.routing.rest.earlier import close_to, earlier_rest
from seamwalk.routing.rest.edges import edges_left, parted
from seamwalk.routing.solve.exact import proven
from seamwalk.routing.solve.improve import improved, left_s
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.pairing import choices
from seamwalk.routing.solve.search import ImproveSettings
from seamwalk.routing.solve.threads import Walk
from seamwalk.routing.solve.windows import WindowSettings
from seamwalk.routing.totals import numbered, quilt_turns, totals
from seamwalk.routing.turning import Costs, HalfEdges


@dataclass(frozen=True, slots=True)
class RestSettings:
    """How long to look, and what is worth a change.

    Attributes
    ----------
    search : ImproveSettings
        As for a whole route, but she stands at the machine and waits: a tenth of the effort,
        three rounds even where the gap is wide, and three parts solved exactly.
    gain_s : float
        A new rest that saves less than this is not worth learning, seconds.
    stay_s : tuple of float
        What a joint of the earlier route is worth in the rests that stay close to it, seconds: a
        turn of the quilt, and a pivot.
    stay_in_lines_s : float
        The same where all else would run lines together that she sews one by one: as much as
        two buried ends.
    fewer : int
        Line by line, so many threads fewer than the earlier route has left still are lines:
        those near the needle are joined anew.
    """

    search: ImproveSettings = dataclasses.field(
        default_factory=lambda: ImproveSettings(
            effort=8_000, least=3, windows=WindowSettings(windows=3)
        )
    )
    gain_s: float = 1.0
    stay_s: tuple[float, ...] = (25.0, 5.0)
    stay_in_lines_s: float = 240.0
    fewer: int = 2


DEFAULT = RestSettings()


@dataclass(frozen=True, slots=True)
class Rest:
    """What is still to be sewn, and how it compares with the earlier plan.

    Attributes
    ----------
    route : Route
        With `Route.begun`.
    new_s, old_s : float
        What the best new rest and the earlier plan's would take at the machine, seconds;
        changing bobbins not counted.  `old_s` is infinite where the earlier rest can't be sewn
        any more.
    kept : bool
        The route is the earlier plan's rest.
    """

    route: Route
    new_s: float
    old_s: float
    kept: bool


def plan_rest(
    network: Network,
    machine: MachineProfile,
    begun: Begun,
    earlier: Sequence[Thread] = (),
    *,
    order: OrderWish | None = None,
    time_limit_s: float | None = None,
    solver: Solver = "auto",
    settings: RestSettings = DEFAULT,
) -> Rest:
    """Return the best rest from where the needle is, or the earlier one where that is as good.

    Parameters
    ----------
    network : Network
        All pieces; those in ``begun.done`` not required.
    machine : MachineProfile
        Costs and limits.
    begun : Begun
        What was sewn and where the needle is.
    earlier : sequence of Thread
        What the earlier route has left, in its order; the first one goes on from the needle if
        it starts there.
    order : OrderWish, optional
        What order is worth; without it, the least time alone.  Line by line only rests close to
        the earlier route are looked at.
    time_limit_s, solver
        See `route.plan_route`.
    settings : RestSettings
        See there.

    Raises
    ------
    ValueError
        If nothing is left that must be sewn.
    """
    until = None if time_limit_s is None else time.monotonic() + time_limit_s
    edges, stub = edges_left(network, machine, begun)
    must = edges.required.copy()
    if stub is not None:
        must[stub] = False
    if not must.any():
        raise ValueError("everything that must be sewn is done")
    given = choices(edges, machine)
    scale = _Scale(network, machine, edges, stub, order)
    old = earlier_rest(earlier, edges, stub, begun, must)
    in_lines = bool(earlier) and order is not None and order.name == "lines"
    stay_s = (settings.stay_in_lines_s, *settings.stay_s) if in_lines else settings.stay_s
    ways = [
        close_to(old, given, machine, stub, stay_s=s, solver=solver) for s in stay_s if earlier
    ]
    found = improved(
        given, machine, time_limit_s=left_s(until), solver=solver, settings=settings.search
    )
    if until is not None:
        found = proven(given, machine, found, time_limit_s=left_s(until))
    if in_lines:
        least = min(len(old.walks) - settings.fewer, max(map(len, ways)))
        ways = [w for w in ways if len(w) >= least]
    else:
        running, others = parted(found.walks, stub)
        first = [] if stub is None else [[2 * stub, *running]]
        ways.insert(0, first + middle_out(others, edges, scale.where))
    give_s = 0.0
    if order is not None and order.name != "quickest":
        least_s = min(scale.seconds(w) for w in ways)
        give_s = order.give_share * least_s if order.give_min is None else 60 * order.give_min
    best = min(ways, key=lambda w: round(scale.price(w, give_s), 6))
    kept = old.whole and scale.price(old.walks, give_s) <= (
        scale.price(best, give_s) + settings.gain_s
    )
    running, others = parted(old.walks if kept else best, stub)
    threads = numbered(
        network, as_threads(([running] if running else []) + others, edges), machine
    )
    begun = dataclasses.replace(begun, goes_on=bool(running))
    bounds = {
        "minutes": found.bound_s / 60,
        "threads": len(np.unique(given.part[must])),
        "stitched_in": float(edges.sew_s[must].sum()) / machine.s_per_in,
    }
    changes = bobbin_changes(network, threads, machine, begun)
    sums = totals(network, threads, machine, bounds, changes, begun)
    return Rest(
        Route(
            network,
            tuple(threads),
            sums,
            changes,
            begun,
            order=None if order is None else order.name,
        ),
        scale.seconds(best),
        scale.seconds(old.walks) if old.whole else math.inf,
        kept,
    )


class _Scale:
    """What rests come to, all measured in the same way."""

    def __init__(
        self,
        network: Network,
        machine: MachineProfile,
        edges: HalfEdges,
        stub: int | None,
        order: OrderWish | None,
    ) -> None:
        self.network, self.machine, self.edges = network, machine, edges
        self.stub, self.order = stub, order
        self.costs = Costs(edges, machine)
        # The stub's own node stands for the needle's.
        needle = None if stub is None else int(edges.node[2 * stub + 1])
        self.where = [
            network.nodes.get(n) or network.nodes[edges.nodes[needle or 0]] for n in edges.nodes
        ]
        xy = np.array(self.where, dtype=np.float64)
        self.heavy = heavy_share(machine, xy.min(axis=0), xy.max(axis=0))

    def seconds(self, walks: Sequence[Walk]) -> float:
        """Return the time at the machine, changing bobbins not counted."""
        turns = quilt_turns(self.network, as_threads(self._sewn(walks), self.edges), self.machine)
        sewing_s = math.fsum(self.costs.thread(w) for w in walks)
        return sewing_s + turns * self.machine.quilt_turn_s

    def price(self, walks: Sequence[Walk], give_s: float) -> float:
        """Return the time, and what lacks in order, of which all is worth what she gives."""
        if not give_s:
            return self.seconds(walks)
        lengths_in = self.edges.sew_s / self.machine.s_per_in
        m = order_measures(self._sewn(walks), self.edges, self.where, lengths_in, self.heavy)
        wrong = disorder(m.outwards, m.heavy)
        return self.seconds(walks) + give_s / ORDERS.worth_minutes * wrong

    def _sewn(self, walks: Sequence[Walk]) -> list[Walk]:
        running, others = parted(walks, self.stub)
        return ([running] if running else []) + others
