"""Small parts of a route solved exactly, the rest left as it is.

Where the route does something else than the pairing that gives the bound, about a dozen nodes are
taken together.  What the rest of the route does is fixed: it links half-edges at the window's
rim to one another, or to a thread end.  Within, all mates are chosen anew by an integer program;
closed trails are forbidden as they appear.  So no choice within a window is left that would save
time by itself.

References
----------
Dantzig, Fulkerson and Johnson, Solution of a large-scale traveling-salesman problem, Operations
Research 2, 1954 (forbidding what is closed as it appears).
"""

import time
from dataclasses import dataclass

import numpy as np

from seamwalk.routing.solve.layout import Layout, Mates, at_nodes, exchanged
from seamwalk.routing.solve.pairing import Choices, Pairing
from seamwalk.routing.turning import END, Costs, Ints

OUTSIDE = -2
"""What a half-edge at the rim is linked to where its thread ends beyond the window."""


@dataclass(frozen=True, slots=True)
class WindowSettings:
    """How much is tried.

    Attributes
    ----------
    nodes : int
        Nodes in a window: larger ones find more and take much longer.
    windows : int
        Most windows solved without a time limit.
    tries : int
        Times that closed trails are forbidden in one window before it is given up.
    largest : int
        Transitions in a window; where many strokes meet it has fewer nodes.
    worth_s : float
        Least gain, seconds: below is rounding.
    """

    nodes: int = 14
    windows: int = 10
    tries: int = 12
    largest: int = 900
    worth_s: float = 1e-4


DEFAULT = WindowSettings()


def windowed(
    given: Choices,
    costs: Costs,
    best: Pairing,
    other: Pairing,
    *,
    until: float | None = None,
    settings: WindowSettings = DEFAULT,
) -> Pairing:
    """Return `best` with windows solved exactly where it differs from `other`.

    Parameters
    ----------
    given : Choices
        What can be chosen.
    costs : Costs
        Seconds.
    best : Pairing
        Without closed trails.
    other : Pairing
        The one whose differences show where something may be gained.
    until : float, optional
        Time (`time.monotonic`) when the last window is given up.  Without it at most `windows`
        of them are solved, so that a run can be repeated.
    settings : WindowSettings
        See there.
    """
    edges = given.edges
    node = edges.node
    differ = np.bincount(node[np.flatnonzero(best.mate != other.mate)], minlength=len(edges.nodes))
    # Where most differs first.
    wanted = np.argsort(-differ, kind="stable")[: int((differ > 0).sum())].tolist()
    if not wanted:
        return best
    window = _Windows(given, costs, settings)
    layout = Layout(edges, best)
    covered: set[int] = set()
    solved = 0
    for v in wanted:
        if v in covered:
            continue
        if time.monotonic() > until if until is not None else solved >= settings.windows:
            break
        nodes = window.around(v)
        covered |= nodes
        solved += 1
        mates = window.solved(nodes, layout, best, until)
        if mates:
            best = exchanged(edges, best, mates)
            layout = Layout(edges, best)
    return best


class _Windows:
    """The network in a form from which windows are cut quickly."""

    def __init__(self, given: Choices, costs: Costs, settings: WindowSettings) -> None:
        self.given, self.costs, self.settings = given, costs, settings
        edges = given.edges
        self.at = at_nodes(edges)
        place = edges.node[given.a]
        self.order = np.argsort(place, kind="stable")
        self.start = np.searchsorted(place[self.order], np.arange(len(edges.nodes) + 1))
        self.end = np.full(len(edges.node), -1, dtype=np.intp)
        self.end[given.halves] = np.arange(len(given.halves))
        self.spare: list[bool] = (~edges.required).tolist()

    def around(self, v: int) -> set[int]:
        """Return the nodes of the window around node `v`, nearest in steps first."""
        inside = [v]
        seen = {v}
        size = 0
        for u in inside:
            size += int(self.start[u + 1] - self.start[u])
            for h in self.at[u]:
                w = self.costs.node[h ^ 1]
                if w not in seen and len(inside) < self.settings.nodes:
                    seen.add(w)
                    inside.append(w)
            if size > self.settings.largest:
                return set(inside[: inside.index(u) + 1])
        return seen

    def solved(self, nodes: set[int], layout: Layout, best: Pairing, until: float | None) -> Mates:
        """Return new mates for a window, or none where nothing can be gained."""
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array, vstack

        given, node = self.given, self.costs.node
        halves = [
            h
            for v in sorted(nodes)
            for h in self.at[v]
            if best.used[h >> 1] or (node[h ^ 1] in nodes and self.end[h] >= 0)
        ]
        free = np.array(halves, dtype=np.intp)
        row_of = np.full(len(node), -1, dtype=np.intp)
        row_of[free] = np.arange(len(free))
        pairs = np.concatenate(
            [self.order[self.start[v] : self.start[v + 1]] for v in sorted(nodes)]
        )
        pairs = pairs[(row_of[given.a[pairs]] >= 0) & (row_of[given.b[pairs]] >= 0)]
        a, b = given.a[pairs], given.b[pairs]
        spare = free[(free % 2 == 0) & (row_of[free ^ 1] >= 0) & ~given.edges.required[free >> 1]]
        t, n, s = len(pairs), len(free), len(spare)
        price = np.concatenate([given.cost_s[pairs], given.end_s[self.end[free]], np.zeros(s)])
        rows = np.concatenate(
            [row_of[a], row_of[b], np.arange(n), row_of[spare], row_of[spare ^ 1]]
        )
        columns = np.concatenate(
            [*2 * [np.arange(t)], t + np.arange(n), *2 * [t + n + np.arange(s)]]
        )
        each = csr_array((np.ones(len(rows)), (rows, columns)), shape=(n, t + n + s))
        now_s = self._now_s(free, best)
        link = _links(halves, layout)
        demands, least = [each], [np.ones(n)]
        most = [np.ones(n)]
        for _ in range(self.settings.tries):
            left_s = np.inf if until is None else until - time.monotonic()
            if left_s <= 0:
                return {}
            answer = milp(
                price,
                integrality=np.ones(len(price), dtype=np.int64),
                bounds=Bounds(0, 1),
                constraints=LinearConstraint(
                    vstack(demands, format="csr"), np.concatenate(least), np.concatenate(most)
                ),
                options={"time_limit": left_s},
            )
            if answer.x is None or answer.fun > now_s - self.settings.worth_s:
                return {}
            chosen = answer.x > 0.5
            mates: Mates = dict.fromkeys(free[chosen[t : t + n]].tolist(), END)
            for x, y in zip(a[chosen[:t]].tolist(), b[chosen[:t]].tolist(), strict=True):
                mates[x], mates[y] = y, x
            for h in spare[chosen[t + n :]].tolist():
                mates[h], mates[h ^ 1] = h ^ 1, h
            trails = _closed(mates, link, self.spare)
            if not trails:
                return {h: m for h, m in mates.items() if best.mate[h] != m}
            for trail in trails:
                inside = np.zeros(len(node), dtype=np.bool_)
                inside[list(trail)] = True
                across = np.concatenate([inside[a] != inside[b], inside[free], np.zeros(s, bool)])
                demands.append(csr_array(across[None].astype(np.float64)))
                least.append(np.array([2.0]))
                most.append(np.array([np.inf]))
        return {}

    def _now_s(self, free: Ints, best: Pairing) -> float:
        """Return what the window costs now."""
        total = 0.0
        for h in free.tolist():
            m = int(best.mate[h])
            if best.used[h >> 1]:
                total += self.costs.turn(h, m) / (1 if m == END else 2)
                total += self.costs.sew_s[h >> 1] / 2 if self.spare[h >> 1] else 0.0
        return total


def _links(halves: list[int], layout: Layout) -> dict[int, int]:
    """Return what each half-edge is linked to along its thread without a turn in the window."""
    place = sorted((layout.place[h], h) for h in halves if h in layout.place)
    link = {h: h ^ 1 for h in halves}
    for i, (p, h) in enumerate(place):
        # Even: the thread leaves the node along it and comes back by the next; odd: the reverse.
        j = i + 1 if p % 2 == 0 else i - 1
        link[h] = OUTSIDE
        if 0 <= j < len(place) and layout.thread(p) == layout.thread(place[j][0]):
            link[h] = place[j][1]
    return link


def _closed(mates: Mates, link: dict[int, int], spare: list[bool]) -> list[set[int]]:
    """Return the closed trails as sets of half-edges at the window's nodes."""
    parent = {h: h for h in (*mates, OUTSIDE)}

    def root(x: int) -> int:
        while parent[x] != x:
            parent[x] = parent[parent[x]]
            x = parent[x]
        return x

    for h, m in mates.items():
        parent[root(h)] = root(OUTSIDE if m == END else m)
        parent[root(h)] = root(link[h])
    trails: dict[int, set[int]] = {}
    for h, m in mates.items():
        if m != h ^ 1 or not spare[h >> 1]:
            trails.setdefault(root(h), set()).add(h)
    trails.pop(root(OUTSIDE), None)
    return list(trails.values())
