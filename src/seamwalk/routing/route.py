"""From a network to a whole route: pair, merge, improve, order, number, add up."""

import time
from dataclasses import replace

from seamwalk.model.machine import MachineProfile
from seamwalk.model.order import OrderFigures, OrderName, OrderWish
from seamwalk.model.route import Network, Route
from seamwalk.routing.bobbins import bobbin_changes
from seamwalk.routing.order.choice import as_threads, chosen
from seamwalk.routing.order.middle_out import middle_out
from seamwalk.routing.solve.exact import proven
from seamwalk.routing.solve.improve import improved, left_s
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.pairing import choices
from seamwalk.routing.totals import joints_deg, numbered, totals
from seamwalk.routing.turning import half_edges

FINISHING = 2.7
"""Numbering, totals and bobbins take so many times as long as making the network's passes, at
most: 1.4 to 2.6 times on tops of 1,000 and 20,000 strokes; 4.7 on islands, which are soon done."""


def plan_route(
    network: Network,
    machine: MachineProfile,
    *,
    order: OrderWish | None = None,
    time_limit_s: float | None = None,
    solver: Solver = "auto",
) -> Route:
    """Return threads that stitch everything required, at little more than the least time.

    Parameters
    ----------
    network : Network
        As `graph.network` makes it.
    machine : MachineProfile
        Costs and limits.
    order : OrderWish, optional
        What order is worth; without it, the least time alone.
    time_limit_s : float, optional
        For finding a route, improving it and, on small tops, proving the best one, seconds.
        Where it is too short for the exact pairing of large tops, the first route is a quick one
        (see `solve.quick`), which is always finished.  Without a limit the effort depends on the
        task alone, so that the same strokes always give the same route.
    solver : {"auto", "pymatching", "rustworkx"}
        See `matching.match`.

    Returns
    -------
    Route
        Valid: each thread runs on without a jump, each required piece is sewn, motifs at most
        once, ditches and edges at most twice.  ``totals.lower_bounds`` has "minutes" (no route
        takes less; turning the quilt and changing bobbins not counted), "threads" (no route has
        fewer) and "stitched_in" (required length, inches).
    """
    start = time.monotonic()
    edges = half_edges(network, machine)
    if not edges.required.any():
        none = {"minutes": 0.0, "threads": 0, "stitched_in": 0.0}
        return Route(network, (), totals(network, (), machine, none))
    given = choices(edges, machine)
    until = None
    if time_limit_s is not None:
        begun_s = time.monotonic() - start
        until = start + max(0.0, time_limit_s - FINISHING * begun_s)
    found = improved(given, machine, time_limit_s=left_s(until), solver=solver)
    found = proven(given, machine, found, time_limit_s=left_s(until))
    where = [network.nodes[n] for n in edges.nodes]
    walks = middle_out(found.walks, edges, where)
    orders: tuple[OrderFigures, ...] = ()
    taken: OrderName | None = None
    if order is not None:
        best, orders = chosen(
            network, machine, walks, order, until=until, hurried=found.hurried, solver=solver
        )
        walks, taken = best.walks, best.figures.name
    threads = as_threads(walks, edges)
    joints = [joints_deg(network, thread) for thread in threads]
    threads = numbered(network, threads, machine, joints)
    bounds = {
        "minutes": found.bound_s / 60,
        "threads": given.parts,
        "stitched_in": float(edges.sew_s[edges.required].sum()) / machine.s_per_in,
    }
    changes = bobbin_changes(network, threads, machine)
    sums = totals(network, threads, machine, bounds, changes, joints=joints)
    if found.hurried:
        # Every order is this one path; its bobbins were not counted before.
        orders = tuple(replace(f, minutes=sum(sums.minutes.values())) for f in orders)
    return Route(
        network,
        tuple(threads),
        sums,
        changes,
        order=taken,
        orders=orders,
    )
