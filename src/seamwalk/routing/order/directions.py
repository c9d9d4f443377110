"""Which way round: every pass in the direction that leaves the bulk of the quilt outside.

Whatever hangs together can be sewn in many directions without one more stitch.  With a price on
each inch that has too much of the quilt under the arm, the cheapest directions in which as many
passes arrive at every node as leave it are a minimum-cost flow, found exactly.  At each node the
arriving passes are then paired with the leaving ones at the least cost of turning, an assignment,
and trails that close on themselves are joined where that costs least.

References
----------
Ford and Fulkerson, Flows in Networks, 1962.  Guan, On the windy postman problem, Discrete Applied
Mathematics 9, 1984 (costs that depend on the direction; over a graph whose passes are fixed it is
a flow).  Kuhn, The Hungarian method for the assignment problem, Naval Research Logistics 2, 1955.
"""

import heapq
import itertools
from dataclasses import dataclass

import numpy as np

from seamwalk.routing.solve.threads import Walk
from seamwalk.routing.turning import Bools, Costs, Floats, HalfEdges, Ints


@dataclass(frozen=True, slots=True)
class DirectionSettings:
    """What directions are worth.

    Attributes
    ----------
    heavy_s_per_in : float
        Price of an inch with too much of the quilt under the arm, seconds.
    most_join_s : float
        A closed trail is joined to another for no more than this; else it is left closed.
    """

    heavy_s_per_in: float = 3.0
    most_join_s: float = 40.0


DEFAULT = DirectionSettings()


def directed_trails(
    used: Bools,
    heavy_in: Floats,
    edges: HalfEdges,
    costs: Costs,
    settings: DirectionSettings = DEFAULT,
) -> tuple[list[Walk], list[Walk]]:
    """Return trails over the used copies with the bulk outside: open ones, then closed ones.

    Parameters
    ----------
    used : (C,) bool
        Copies to be sewn, each once.
    heavy_in : (2C,) float
        Inches of a copy entered by each half-edge that have too much under the arm.
    edges, costs
        The passes, and what turning from one into another costs.
    settings : DirectionSettings
        See there.
    """
    entered = _directions(used, settings.heavy_s_per_in * heavy_in, edges)
    after, arriving = _paired(entered.tolist(), costs)
    opened, closed = _trails(entered.tolist(), after)
    return _joined(opened, closed, after, arriving, costs, settings.most_join_s)


def _directions(used: Bools, price_s: Floats, edges: HalfEdges) -> Ints:
    """Return the half-edges by which copies are entered, at the least price and thread ends.

    With x = 1 for a copy sewn forwards, what leaves a node less what arrives is 2 Σ ± x less a
    number known beforehand.  At nodes where an odd number of passes meet it is 1 or −1; whatever
    goes beyond that takes two more thread ends.  The matrix is that of a flow, so the solution is
    whole.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    copies = np.flatnonzero(used)
    m, n = len(copies), len(edges.nodes)
    u, v = edges.node[2 * copies], edges.node[2 * copies + 1]
    from_u, from_v = np.bincount(u, minlength=n), np.bincount(v, minlength=n)
    odd = (from_u + from_v) % 2
    at_odd = np.flatnonzero(odd)
    k = len(at_odd)
    every = np.arange(n)
    rows = np.concatenate([u, v, at_odd, every, every])
    columns = np.concatenate([np.arange(m), np.arange(m), m + np.arange(k + 2 * n)])
    signs = np.repeat([1.0, -1.0, 1.0, -1.0, 1.0], [m, m, k, n, n])
    flow = coo_array((signs, (rows, columns)), shape=(n, m + k + 2 * n)).tocsr()
    net = (from_u - from_v + odd) / 2
    more_s = 2 * edges.end_s
    answer = milp(
        np.concatenate(
            [price_s[2 * copies] - price_s[2 * copies + 1], np.zeros(k), more_s, more_s]
        ),
        bounds=Bounds(0, np.repeat([1.0, np.inf], [m + k, 2 * n])),
        constraints=LinearConstraint(flow, net, net),
    )
    if answer.x is None:
        # Forwards everywhere is a solution, so this is the solver's failure, not the task's.
        raise RuntimeError(f"no directions found: {answer.message}")
    out: Ints = np.where(answer.x[:m] > 0.5, 2 * copies, 2 * copies + 1).astype(np.intp)
    return out


def _paired(entered: list[int], costs: Costs) -> tuple[dict[int, int], dict[int, list[int]]]:
    """Return what follows after arriving on each half-edge, and the arrivals at each node."""
    from scipy.optimize import linear_sum_assignment

    leaving: dict[int, list[int]] = {}
    arriving: dict[int, list[int]] = {}
    for h in entered:
        leaving.setdefault(costs.node[h], []).append(h)
        arriving.setdefault(costs.node[h ^ 1], []).append(h ^ 1)
    after: dict[int, int] = {}
    for v, there in arriving.items():
        here = leaving.get(v, [])
        a, b = len(there), len(here)
        # Whoever gets no mate starts or stops a thread; two such meet in the corner for nothing.
        table = np.zeros((a + b, a + b))
        table[:a, b:] = table[a:, :b] = costs.end_s[v]
        for i, j in itertools.product(range(a), range(b)):
            # A copy that closes on itself can't follow itself.
            loop = there[i] ^ 1 == here[j]
            table[i, j] = 2 * costs.end_s[v] if loop else costs.turn(there[i], here[j])
        row, column = linear_sum_assignment(table)
        for i, j in zip(row.tolist(), column.tolist(), strict=True):
            if i < a and j < b and there[i] ^ 1 != here[j]:
                after[there[i]] = here[j]
    return after, arriving


def _trails(entered: list[int], after: dict[int, int]) -> tuple[list[Walk], list[Walk]]:
    """Return the open and the closed trails that `after` makes of half-edges entered."""
    followers = set(after.values())
    seen: set[int] = set()

    def followed(h: int | None) -> Walk:
        walk: Walk = []
        while h is not None and h not in seen:
            walk.append(h)
            seen.add(h)
            h = after.get(h ^ 1)
        return walk

    opened = [followed(h) for h in entered if h not in followers]
    return opened, [followed(h) for h in entered if h not in seen]


def _joined(
    opened: list[Walk],
    closed: list[Walk],
    after: dict[int, int],
    arriving: dict[int, list[int]],
    costs: Costs,
    most_s: float,
) -> tuple[list[Walk], list[Walk]]:
    """Return the trails with closed ones joined to others, the cheapest join first (Kruskal).

    Two trails through one node swap what follows; directions stay.
    """
    label = {h: k for k, walk in enumerate([*opened, *closed], start=1) for h in walk}
    # All open trails count as one, 0: joining two of them would only exchange their ends.
    parent = [0] * (len(opened) + 1) + list(range(len(opened) + 1, len(opened) + len(closed) + 1))

    def root(x: int) -> int:
        while parent[x] != x:
            parent[x] = parent[parent[x]]
            x = parent[x]
        return x

    heap: list[tuple[float, int, int, int, int]] = []

    def push(v: int) -> None:
        here = [a for a in arriving[v] if a in after]
        for a, c in itertools.combinations(here, 2):
            if root(label[a ^ 1]) != root(label[c ^ 1]):
                b, d = after[a], after[c]
                swapped = costs.turn(a, d) + costs.turn(c, b)
                heapq.heappush(heap, (swapped - costs.turn(a, b) - costs.turn(c, d), a, b, c, d))

    for v in arriving:
        push(v)
    while heap:
        delta, a, b, c, d = heapq.heappop(heap)
        if delta > most_s:
            break
        one, other = root(label[a ^ 1]), root(label[c ^ 1])
        if one == other or after[a] != b or after[c] != d:
            continue
        after[a], after[c] = d, b
        parent[max(one, other)] = min(one, other)
        push(costs.node[a])
    return _trails([h for walk in [*opened, *closed] for h in walk], after)
