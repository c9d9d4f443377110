"""Where to change the bobbin, so that it never runs out and its ends cost the least time.

A change between two threads costs only itself; one in the margin makes two ends that vanish under
the binding; one inside the top makes two that have to be buried.  Between changes the path is no
longer than a bobbin reaches.  The best places are a shortest path over the joints of the route,
in order: fewest seconds, then fewest changes where the foot would have run straight on, then
nearest to the edge.  The least of all places within reach comes from a queue kept sorted, so that
the work grows with the number of legs alone.

References
----------
R. Bellman, On a routing problem, Quarterly of Applied Mathematics 16, 1958 (shortest paths).
"""

import math
from collections import deque
from collections.abc import Sequence
from typing import NamedTuple, get_args

import numpy as np
import shapely

from seamwalk.geometry.curve import Point
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Begun, BobbinChange, BobbinPlace, Network, Thread
from seamwalk.routing.collecting import uncollected
from seamwalk.routing.totals import TIE, change_s, curve_of, margin_nodes

Cost = tuple[float, int, float]


class _Place(NamedTuple):
    """A place where the bobbin may be changed."""

    change: BobbinChange
    runs_on: bool


@uncollected()
def bobbin_changes(
    network: Network,
    threads: Sequence[Thread],
    machine: MachineProfile,
    begun: Begun | None = None,
) -> tuple[BobbinChange, ...]:
    """Return the changes of bobbin in the order of stitching.

    Parameters
    ----------
    network : Network
        Pieces.
    threads : sequence of Thread
        In the order of stitching, steps numbered.
    machine : MachineProfile
        Its bobbin, reserve, and seconds.
    begun : Begun, optional
        What was sewn before: its bobbin is not full any more.
    """
    reach = machine.in_per_bobbin
    used = 0.0 if begun is None else min(begun.bobbin_in, reach)
    places, total = _places(network, threads, machine, reach, begun)
    if used + total <= reach + TIE:
        return ()
    away = _from_edge(network, [p.change.at for p in places])
    sewn = [-used, *(p.change.sewn_in for p in places), total]
    wheres: tuple[BobbinPlace, ...] = get_args(BobbinPlace)
    own_s = {where: change_s(where, machine) for where in wheres}
    own: list[Cost] = [(0.0, 0, 0.0)]
    own += [(own_s[p.change.where], int(p.runs_on), d) for p, d in zip(places, away, strict=True)]
    own.append((0.0, 0, 0.0))
    best: list[Cost] = [own[0]]
    came = [0]
    # Places in reach whose best is less than that of all later ones in reach.
    waiting: deque[int] = deque([0])
    for k in range(1, len(sewn)):
        while sewn[waiting[0]] < sewn[k] - reach - TIE:
            waiting.popleft()
        i = waiting[0]
        best.append(_sum(best[i], own[k]))
        came.append(i)
        while waiting and best[k] <= best[waiting[-1]]:
            waiting.pop()
        waiting.append(k)
    out: list[BobbinChange] = []
    k = came[-1]
    while k > 0:
        out.append(places[k - 1].change)
        k = came[k]
    return tuple(reversed(out))


def _sum(a: Cost, b: Cost) -> Cost:
    # Rounded, so that sums in another order tie.
    return (round(a[0] + b[0], 6), a[1] + b[1], round(a[2] + b[2], 6))


def _places(
    network: Network,
    threads: Sequence[Thread],
    machine: MachineProfile,
    reach: float,
    begun: Begun | None,
) -> tuple[list[_Place], float]:
    """Return all places to change, in order, and the length of the whole path."""
    goes_on = begun is not None and begun.goes_on
    margin = margin_nodes(network)
    out: list[_Place] = []
    sewn = 0.0
    for t, thread in enumerate(threads):
        step = 0
        for k, leg in enumerate(thread.legs):
            piece = network.pieces[leg.piece]
            node = piece.v if leg.reverse else piece.u
            where: BobbinPlace = "margin" if node in margin else "inside"
            if k == 0 and not (t == 0 and goes_on):
                where = "thread end"
            if t or k or (begun is not None and begun.bobbin_in > 0):
                runs_on = k > 0 and leg.step == step
                change = BobbinChange(t, k, leg.step, network.nodes[node], sewn, where)
                out.append(_Place(change, runs_on))
            length = piece.curve.length
            parts = math.ceil(length / reach)
            for i in range(1, parts):
                on_way = length * i / parts
                at = curve_of(network, leg).part(0.0, on_way).end
                change = BobbinChange(t, k, leg.step, at, sewn + on_way, "inside")
                out.append(_Place(change, runs_on=True))
            sewn += length
            step = leg.step
    return out, sewn


def _from_edge(network: Network, at: Sequence[Point]) -> list[float]:
    """Return how far each place is from the margin, inches; 0 where there is none."""
    edges = [p.curve.sampled() for p in network.pieces.values() if p.stroke.kind == "edge"]
    if not edges or not at:
        return [0.0] * len(at)
    tree = shapely.STRtree(np.array([shapely.LineString(q) for q in edges]))
    # The path comes to most places several times.
    number = {p: i for i, p in enumerate(dict.fromkeys(at))}
    points = shapely.points(np.array(list(number)))
    _, away = tree.query_nearest(points, return_distance=True, all_matches=False)
    far: list[float] = away.tolist()
    return [far[number[p]] for p in at]
