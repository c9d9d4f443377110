"""The cheapest way to pair all half-edges: a start for the route and a bound under every route.

Every half-edge gets a mate at its node (a transition), or is a thread end, or belongs to a spare
copy that is not sewn, whose two halves are then paired with each other.  A route is such a
pairing, so the cheapest pairing costs at most as much as the cheapest route.  Only one thing is
forgotten: that what is sewn must hang together.  The pairing is a minimum-weight perfect
matching and is found exactly.

Every part of the network that has something to stitch needs one thread with a start and an end:
see `opening`.
"""

import math
from dataclasses import dataclass

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.solve.matching import LARGEST_WEIGHT, Problem, Solver, large_for, match
from seamwalk.routing.solve.opening import Opened, Solved, opened
from seamwalk.routing.turning import END, Bools, Floats, HalfEdges, Ints, transitions


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """A mate for every half-edge.

    Attributes
    ----------
    mate : (2C,) int
        The half-edge that the thread goes on with, or `END`.  For a copy that is not used: its
        own other half.
    used : (C,) bool
        Copies that are sewn.
    bound_s : float
        No route costs less (stitching, turns at nodes and thread ends; turning the quilt not
        counted), seconds.
    opening_s : (P,) float, optional
        Price of a thread end, by part with something to stitch, at which the bound was found.
    """

    mate: Ints
    used: Bools
    bound_s: float
    opening_s: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Choices:
    """All that a pairing can choose from, in seconds.

    Attributes
    ----------
    edges : HalfEdges
        The passes.
    part : (C,) int
        Connected part of the network that each copy lies in.
    halves : (V,) int
        Half-edges of parts with something to stitch; these are paired.
    a, b : (T,) int
        Half-edges that may follow one another.
    cost_s : (T,) float
        Turn, and half the stitching of each spare copy.
    end_s : (V,) float
        Thread end at each of `halves`, and half the stitching of a spare copy.
    opening : bool
        Each part needs a thread's start and end.
    """

    edges: HalfEdges
    part: Ints
    halves: Ints
    a: Ints
    b: Ints
    cost_s: Floats
    end_s: Floats
    opening: bool

    @property
    def parts(self) -> int:
        """How many separate parts have something to stitch: no route has fewer threads."""
        return len(np.unique(self.part[self.halves >> 1]))


@dataclass(frozen=True, slots=True, eq=False)
class Relief:
    """Prices taken off, for bounds that know more (see `search`).

    Attributes
    ----------
    cost_s : (T,) float
        Off each of the choices' pairs.
    end_s : (V,) float
        Off each thread end.
    back_s : float
        Added to the bound: at least this much is taken off any route.
    """

    cost_s: Floats
    end_s: Floats
    back_s: float


def choices(edges: HalfEdges, machine: MachineProfile, *, opening: bool = True) -> Choices:
    """Return what a pairing over `edges` can choose from.

    Parameters
    ----------
    edges : HalfEdges
        The passes.
    machine : MachineProfile
        Costs.
    opening : bool
        Count the start and the end that each separate part needs.  False leaves parts that
        close up closed: the least closed tour, connection forgotten.
    """
    part = _parts(edges)
    within = np.isin(part, part[edges.required])
    halves = np.flatnonzero(np.repeat(within, 2))
    a, b, turn_s = transitions(edges, machine, within)
    half_s = np.repeat(np.where(edges.required, 0.0, edges.sew_s / 2), 2)
    return Choices(
        edges=edges,
        part=part,
        halves=halves,
        a=a,
        b=b,
        cost_s=turn_s + half_s[a] + half_s[b],
        end_s=edges.end_s[edges.node[halves]] + half_s[halves],
        opening=opening,
    )


def _parts(edges: HalfEdges) -> Ints:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n = len(edges.nodes)
    u, v = edges.node[0::2], edges.node[1::2]
    graph = coo_array((np.ones(len(u), dtype=np.int8), (u, v)), shape=(n, n))
    _, of_node = connected_components(graph, directed=False)
    out: Ints = of_node[u].astype(np.intp)
    return out


def pair(
    given: Choices,
    *,
    relief: Relief | None = None,
    solver: Solver = "auto",
    opening_s: Floats | None = None,
) -> Pairing:
    """Return the cheapest pairing of all half-edges.

    Parameters
    ----------
    given : Choices
        See `choices`.
    relief : Relief, optional
        Prices taken off.
    solver : {"auto", "pymatching", "rustworkx"}
        See `matching.match`.
    opening_s : (P,) float, optional
        `Pairing.opening_s` of a task much like this one; see `opening.opened`.

    Returns
    -------
    Pairing
        With its bound, never rounded up.
    """
    edges, halves, count = given.edges, given.halves, len(given.halves)
    cost_s, end_s = given.cost_s, given.end_s
    if relief is not None:
        cost_s, end_s = cost_s - relief.cost_s, end_s - relief.end_s
    task = _Task(given, cost_s, end_s, solver)
    if given.opening and count:
        whole = opened(task.solved, task.part, end_s, opening_s)
    else:
        plain = task.solved(np.zeros(task.parts))
        whole = Opened(plain.partner, plain.bound_s, np.zeros(task.parts))
    ends = whole.partner == END
    mate = np.arange(len(edges.node), dtype=np.intp) ^ 1
    mate[halves] = np.where(ends, END, halves[np.where(ends, 0, whole.partner)])
    used = edges.required | (mate[0::2] != np.arange(1, len(mate), 2))
    bound_s = float(edges.sew_s[edges.required].sum()) + float(whole.bound_s.sum())
    if relief is not None:
        bound_s += relief.back_s
    return Pairing(mate, used, bound_s, whole.price_s)


class _Task:
    """The matching behind a pairing, in whole numbers."""

    def __init__(self, given: Choices, cost_s: Floats, end_s: Floats, solver: Solver) -> None:
        self.cost_s, self.end_s, self.solver = cost_s, end_s, solver
        halves, self.count = given.halves, len(given.halves)
        number = np.zeros(len(given.edges.node), dtype=np.intp)
        number[halves] = np.arange(self.count)
        firsts = halves[halves % 2 == 0]
        spare = firsts[~given.edges.required[firsts >> 1]]
        self.a = np.concatenate([number[given.a], number[spare]])
        self.b = np.concatenate([number[given.b], number[spare + 1]])
        self.pairs_s = np.concatenate([cost_s, np.zeros(len(spare))])
        _, of_half = np.unique(given.part[halves >> 1], return_inverse=True)
        self.part: Ints = of_half.astype(np.intp)
        self.parts = int(self.part.max(initial=-1)) + 1

    def solved(self, price_s: Floats) -> Solved:
        """Return the cheapest pairing with a price (P,) off each thread end."""
        alone_s = self.end_s - price_s[self.part]
        scale = scale_of(self.pairs_s, alone_s)
        problem = Problem(
            count=self.count,
            a=self.a,
            b=self.b,
            # Rounded down, so that the bound stays a bound.
            weight=np.floor(self.pairs_s * scale).astype(np.int64),
            open_to=np.arange(self.count),
            alone=np.floor(alone_s * scale).astype(np.int64),
        )
        chosen = match(problem, self.solver)
        a, b = self.a[chosen], self.b[chosen]
        partner = np.full(self.count, END, dtype=np.intp)
        partner[a], partner[b] = b, a
        share_s = self.end_s.astype(np.float64, copy=True)
        share_s[a] = share_s[b] = self.pairs_s[chosen] / 2
        alone = partner == END
        weight = np.concatenate([problem.weight[chosen], problem.alone[alone]])
        where = np.concatenate([self.part[a], self.part[alone]])
        total = np.bincount(where, weight, self.parts).astype(np.float64)
        return Solved(
            partner,
            share_s,
            bound_s=total / scale,
            ends=np.bincount(self.part[alone], minlength=self.parts),
            slack_s=np.bincount(self.part, minlength=self.parts) / scale,
        )


def scale_of(pair_s: Floats, end_s: Floats) -> float:
    """Return the weight of one second: a power of two, which keeps whole seconds exact."""
    most = 1 + max(np.abs(pair_s).max(initial=0.0), 2 * np.abs(end_s).max(initial=0.0))
    with_large = most + large_for(pair_s.min(initial=0.0), end_s.min(initial=0.0), most)
    return float(2.0 ** math.floor(math.log2(LARGEST_WEIGHT / with_large)))
