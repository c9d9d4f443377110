"""Better routes and better bounds by pricing closed trails.

The pairing forgets that what is sewn must hang together, so it closes trails that no route can
close.  A route must leave any set of passes that has something to stitch at least twice: into
another pass or into a thread end.  Each closed trail seen gives such a set; a price per leaving,
taken off the pairing and counted back twice, makes the pairing leave it.  For any prices the
result is a bound under every route (Lagrange relaxation), and each pairing, merged, is a new
route.  Prices follow the subgradient with Polyak's step.

References
----------
Held and Karp, The traveling-salesman problem and minimum spanning trees: part II, Mathematical
Programming 1, 1971.  Polyak, Minimization of unsmooth functionals, USSR Computational Mathematics
and Mathematical Physics 9, 1969.
"""

import itertools
import time
from dataclasses import dataclass

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.leads import with_leads
from seamwalk.routing.matching import Solver
from seamwalk.routing.merge import merge
from seamwalk.routing.pairing import Choices, Pairing, Relief, pair
from seamwalk.routing.threads import Walk, closed_trails, tidied, walks
from seamwalk.routing.turning import END, Bools, Costs, Floats, HalfEdges, Ints


@dataclass(frozen=True, slots=True)
class ImproveSettings:
    """How long to go on.

    Attributes
    ----------
    rounds : int
        Most rounds of prices.
    effort : int
        Half-edges paired in all rounds together: about half a second of one core.
    wide : float
        A route further than this from its bound, as a share, is worth `least` rounds whatever
        its size: hours at the machine against seconds here.
    least : int
        Rounds.
    step : float
        First share of Polyak's step; halved, from the best prices on, when `patience` rounds
        bring no better bound.
    patience : int
        Rounds.
    progress : float
        Share of the gap that counts as a better bound.
    near : float
        A route this close to its bound, as a share, is as good as proven: rounding of weights.
    """

    rounds: int = 60
    effort: int = 40_000
    wide: float = 0.005
    least: int = 12
    step: float = 1.0
    patience: int = 3
    progress: float = 0.05
    near: float = 1e-5


DEFAULT = ImproveSettings()


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
    """

    walks: list[Walk]
    cost_s: float
    bound_s: float


@dataclass(slots=True, eq=False)
class _Family:
    """Disjoint sets of copies, each with its price; 0 is no set.

    Attributes
    ----------
    label : (C,) int
        Set of each copy.
    price_s : (K + 1,) float
        First entry always 0.
    """

    label: Ints
    price_s: Floats

    def leavings(self, pairing: Pairing) -> Ints:
        """Return how often each set is left (K + 1,)."""
        h = np.flatnonzero(np.repeat(pairing.used, 2))
        here = self.label[h >> 1]
        mate = pairing.mate[h]
        there = np.where(mate == END, -1, self.label[np.maximum(mate, 0) >> 1])
        out: Ints = np.bincount(here[here != there], minlength=len(self.price_s))
        return out


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
        No new round begins after this; the first is always finished.  Without it the number of
        rounds depends on the task alone, so that a run can be repeated.
    solver, settings
        See `matching.match` and `ImproveSettings`.
    """
    until = None if time_limit_s is None else time.monotonic() + time_limit_s
    enough = 1 + settings.effort // max(1, len(given.halves))
    costs = Costs(given.edges, machine)
    families: list[_Family] = []
    known: set[bytes] = set()
    best: Found | None = None
    kept: tuple[Pairing, list[Floats]]
    share, waited = settings.step, 0
    for done in range(1, settings.rounds + 1):
        pairing = pair(given, relief=_relief(given, families), solver=solver)
        route = merged(given.edges, machine, pairing, costs)
        cost = sum(costs.thread(w) for w in route)
        if best is None:
            best = Found(route, cost, pairing.bound_s)
        else:
            least = settings.progress * (best.cost_s - best.bound_s)
            waited = 0 if pairing.bound_s > best.bound_s + least else waited + 1
            if cost < best.cost_s - 1e-9:
                best = Found(route, cost, best.bound_s)
            best = Found(best.walks, best.cost_s, max(best.bound_s, pairing.bound_s))
        gap = (best.cost_s - best.bound_s) / best.cost_s
        if gap <= settings.near:
            break
        if until is not None:
            if time.monotonic() > until:
                break
        elif done >= (max(enough, settings.least) if gap > settings.wide else enough):
            break
        fresh = _fresh(given, pairing, known)
        if fresh is not None:
            families.append(fresh)
        if pairing.bound_s >= best.bound_s:
            kept = pairing, [f.price_s.copy() for f in families]
        if waited >= settings.patience:
            # Too far: back to the best prices, and on from there by a shorter step.
            share, waited = share / 2, 0
            pairing, prices = kept
            for f, price_s in itertools.zip_longest(families, prices):
                f.price_s = np.zeros_like(f.price_s) if price_s is None else price_s.copy()
        _reprice(families, pairing, share * (best.cost_s - pairing.bound_s))
    assert best is not None
    return best


def merged(
    edges: HalfEdges, machine: MachineProfile, pairing: Pairing, costs: Costs
) -> list[Walk]:
    """Return the threads that a pairing comes to when all of it is made to hang together."""
    whole = merge(edges, machine, with_leads(edges, machine, pairing))
    return tidied(walks(whole), edges, costs)


def _relief(given: Choices, families: list[_Family]) -> Relief | None:
    """Return the prices of all families together."""
    if not families:
        return None
    cost, end, back = np.zeros(len(given.a)), np.zeros(len(given.halves)), 0.0
    for f in families:
        a, b = f.label[given.a >> 1], f.label[given.b >> 1]
        cost += np.where(a != b, f.price_s[a] + f.price_s[b], 0.0)
        end += f.price_s[f.label[given.halves >> 1]]
        back += 2 * float(f.price_s.sum())
    return Relief(cost, end, back)


def _fresh(given: Choices, pairing: Pairing, known: set[bytes]) -> _Family | None:
    """Return the closed trails of a pairing that were not seen before, unpriced."""
    trails = closed_trails(given.edges, pairing)
    label = np.zeros(len(trails), dtype=np.intp)
    count = 0
    for t in range(1, int(trails.max(initial=0)) + 1):
        inside: Bools = trails == t
        key = np.packbits(inside).tobytes()
        if key not in known:
            known.add(key)
            count += 1
            label[inside] = count
    return _Family(label, np.zeros(count + 1)) if count else None


def _reprice(families: list[_Family], pairing: Pairing, step: float) -> None:
    """Move all prices along the subgradient: up where a set is left too seldom."""
    slopes = [2.0 - f.leavings(pairing) for f in families]
    for f, slope in zip(families, slopes, strict=True):
        slope[0] = 0.0
        slope[(f.price_s <= 0) & (slope < 0)] = 0.0
    total = sum(float((s * s).sum()) for s in slopes)
    if total > 0:
        for f, slope in zip(families, slopes, strict=True):
            f.price_s = np.maximum(0.0, f.price_s + step / total * slope)
