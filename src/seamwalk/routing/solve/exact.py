"""The optimum of small tops, proven.

The pairing as an integer program: a variable for each transition, each thread end and each spare
copy left out.  What must hang together is demanded only where a solution falls apart: a closed
trail's passes must be left at least twice.  First in fractions, where least cuts find what falls
apart (see `separation`), then in whole numbers (HiGHS, branch and cut), again and again until
nothing is closed; then the solution is the best route.

References
----------
Dantzig, Fulkerson and Johnson, Solution of a large-scale traveling-salesman problem, Operations
Research 2, 1954 (cutting off closed trails as they appear).
"""

import itertools
import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.solve.improve import Found
from seamwalk.routing.solve.pairing import Choices, Pairing
from seamwalk.routing.solve.separation import like, violated
from seamwalk.routing.solve.threads import closed_trails
from seamwalk.routing.solve.whole import merged
from seamwalk.routing.turning import END, Bools, Costs, Floats

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult
    from scipy.sparse import csr_array


@dataclass(frozen=True, slots=True)
class ExactSettings:
    """When to stop.

    Attributes
    ----------
    largest : int
        Networks with more half-edges are left alone: proofs would take minutes.
    always : int
        Networks up to this many half-edges, about 100 strokes, are proven without a time limit
        too: a second or two.
    branches : int
        Most nodes of the solver's search tree in each step without a time limit, so that a run
        can be repeated.
    rounds : int
        Most times that the program is solved in fractions.
    steps : int
        Times that closed trails are forbidden without a time limit.
    near : float
        A route this close to its bound, as a share, is proven: rounding of weights.
    close : float
        Without a time limit a route this close is left as it is: two seconds in three hours at
        the machine are not worth ten here.
    """

    largest: int = 2500
    always: int = 600
    branches: int = 200
    rounds: int = 30
    steps: int = 20
    near: float = 1e-5
    close: float = 2e-4


DEFAULT = ExactSettings()


def proven(
    given: Choices,
    machine: MachineProfile,
    found: Found,
    *,
    time_limit_s: float | None,
    settings: ExactSettings = DEFAULT,
) -> Found:
    """Return the best route with its proof, or, out of time, the best so far with its bound.

    Parameters
    ----------
    given : Choices
        As for `improve.improved`, with `opening`.
    machine : MachineProfile
        Costs.
    found : Found
        A route to start from.
    time_limit_s : float or None
        Seconds; None proves small networks only, by an effort that depends on the task alone.
    settings : ExactSettings
        See there.

    Notes
    -----
    Exponential in the worst case.  Choices leave out turns that no best route makes, so the
    optimum over them is the optimum.
    """
    if len(given.halves) > (settings.always if time_limit_s is None else settings.largest):
        return found
    if time_limit_s is None and found.cost_s - found.bound_s <= settings.close * found.cost_s:
        return found
    until = np.inf if time_limit_s is None else time.monotonic() + time_limit_s
    costs = Costs(given.edges, machine)
    program = _Program(given)
    for family in found.cuts:
        for k in np.flatnonzero(family.price_s >= 0)[1:].tolist():
            program.demand(family.label == k)
    best = found
    for _ in range(settings.rounds):
        left_s = until - time.monotonic()
        if best.cost_s - best.bound_s <= settings.near * best.cost_s or left_s <= 0:
            return best
        answer = program.solved(whole=False, time_limit_s=left_s)
        if answer.x is None or answer.status:
            break
        best = replace(best, bound_s=max(best.bound_s, min(program.cost_s(answer), best.cost_s)))
        broken = violated(given, *program.shares(answer.x))
        # All are demanded before any is asked.
        new = [program.demand(inside) for inside in broken]
        if not any(new):
            break
    branches = settings.branches if time_limit_s is None else np.iinfo(np.int32).max
    for step in itertools.count():
        left_s = until - time.monotonic()
        if best.cost_s - best.bound_s <= settings.near * best.cost_s or left_s <= 0:
            break
        if time_limit_s is None and step >= settings.steps:
            break
        answer = program.solved(
            whole=True, time_limit_s=left_s, gap=settings.near / 10, branches=branches
        )
        if answer.mip_dual_bound is not None:
            bound = program.base_s + float(answer.mip_dual_bound)
            best = replace(best, bound_s=max(best.bound_s, min(bound, best.cost_s)))
        if answer.x is None:
            break
        pairing = program.pairing(answer.x > 0.5)
        route = merged(given.edges, machine, pairing, costs)
        cost = sum(costs.thread(w) for w in route)
        if cost < best.cost_s:
            best = Found(route, cost, min(best.bound_s, cost), found.cuts)
        trails = closed_trails(given.edges, pairing)
        if not trails.any():
            break
        for k in range(1, int(trails.max()) + 1):
            program.demand(trails == k)
            for other in like(given, trails == k):
                program.demand(other)
    return best


class _Program:
    """The pairing as an integer program.

    Variables are, in this order, the T pairs, the V thread ends and the S spare copies left out.
    """

    def __init__(self, given: Choices) -> None:
        from scipy.sparse import csr_array

        self.given = given
        copies = given.halves[::2] >> 1
        self.spare = copies[~given.edges.required[copies]]
        t, v, s = len(given.a), len(given.halves), len(self.spare)
        self.price = np.concatenate([given.cost_s, given.end_s, np.zeros(s)])
        self.base_s = float(given.edges.sew_s[given.edges.required].sum())
        self.rows = [
            csr_array(_each_once(given, self.spare)),
            csr_array(_openings(given, t, s)),
        ]
        self.lower = [np.ones(v), np.full(given.parts, 2.0)]
        self.upper = [np.ones(v), np.full(given.parts, np.inf)]
        self.known: set[bytes] = set()

    def demand(self, inside: Bools) -> bool:
        """Demand that a set of copies (C,) is left twice, unless that is demanded already."""
        from scipy.sparse import csr_array

        given = self.given
        key = np.packbits(inside).tobytes()
        if key in self.known:
            return False
        self.known.add(key)
        across = inside[given.a >> 1] != inside[given.b >> 1]
        none = np.zeros(len(self.spare), dtype=np.bool_)
        row = np.concatenate([across, inside[given.halves >> 1], none])
        self.rows.append(csr_array(row[None].astype(np.float64)))
        self.lower.append(np.array([2.0]))
        self.upper.append(np.array([np.inf]))
        return True

    def solved(
        self, *, whole: bool, time_limit_s: float, gap: float = 0.0, branches: int = 1
    ) -> "OptimizeResult":
        """Return the cheapest solution, in whole numbers or in fractions."""
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import vstack

        return milp(
            self.price,
            integrality=np.full(len(self.price), int(whole)),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(
                vstack(self.rows, format="csr"),
                np.concatenate(self.lower),
                np.concatenate(self.upper),
            ),
            options={
                "time_limit": time_limit_s,
                "mip_rel_gap": gap,
                "node_limit": int(branches),
            },
        )

    def cost_s(self, answer: "OptimizeResult") -> float:
        """Return what a solution costs, seconds."""
        return self.base_s + float(answer.fun)

    def shares(self, x: Floats) -> tuple[Floats, Floats]:
        """Return the parts of a solution that are pairs and thread ends."""
        t, v = len(self.given.a), len(self.given.halves)
        return x[:t], x[t : t + v]

    def pairing(self, chosen: NDArray[np.bool_]) -> Pairing:
        """Return the pairing that the chosen variables stand for."""
        given = self.given
        t, v = len(given.a), len(given.halves)
        mate = np.arange(len(given.edges.node), dtype=np.intp) ^ 1
        a, b = given.a[chosen[:t]], given.b[chosen[:t]]
        mate[a], mate[b] = b, a
        mate[given.halves[chosen[t : t + v]]] = END
        used = given.edges.required.copy()
        used[self.spare] = ~chosen[t + v :]
        return Pairing(mate, used, 0.0)


def _each_once(given: Choices, spare: NDArray[np.intp]) -> "csr_array[np.float64]":
    """Return the rows that give each half-edge one mate, one end, or leave its copy out."""
    from scipy.sparse import coo_array

    t, v, s = len(given.a), len(given.halves), len(spare)
    index = np.zeros(len(given.edges.node), dtype=np.intp)
    index[given.halves] = np.arange(v)
    row = np.concatenate(
        [index[given.a], index[given.b], np.arange(v), index[2 * spare], index[2 * spare + 1]]
    )
    column = np.concatenate(
        [np.arange(t), np.arange(t), t + np.arange(v), *2 * [t + v + np.arange(s)]]
    )
    return coo_array((np.ones(len(row)), (row, column)), shape=(v, t + v + s)).tocsr()


def _openings(given: Choices, t: int, s: int) -> NDArray[np.float64]:
    """Return the rows that count the thread ends of each part."""
    part = given.part[given.halves >> 1]
    ends = (np.unique(part)[:, None] == part[None]).astype(np.float64)
    return np.hstack([np.zeros((len(ends), t)), ends, np.zeros((len(ends), s))])
