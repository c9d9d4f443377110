"""From many trails to few threads: open every closed trail at the least extra cost.

The cheapest pairing may fall into trails that close on themselves.  Each of them must be joined
to a thread, or become one.  As in Kruskal's spanning tree, the cheapest join is made first, over
three kinds of join:

- two trails that pass through one node swap mates there;
- a closed trail is cut at a node, which gives a thread start and a thread end;
- two trails that share no node are joined by a path of unused ditches, there and back.

After a join the candidates at its nodes are made anew.  Nothing that was valid becomes invalid:
no copy is used twice, so no piece gets more passes than it may have.

References
----------
Kruskal, Proceedings of the AMS 7, 1956; Mehlhorn, A faster approximation algorithm for the
Steiner problem in graphs, Information Processing Letters 27, 1988 (paths between regions).
"""

import heapq
import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.solve.pairing import Pairing
from seamwalk.routing.turning import END, Costs, HalfEdges

Pair = tuple[int, int]
"""Two half-edges that are mates at a node; the second is `END` at a thread end."""


@dataclass(frozen=True, slots=True)
class _Swap:
    """Trails through one node joined: pairs (a, b), (c, d) become (a, c), (b, d).

    With no second pair, (a, b) is cut into two thread ends.
    """

    node: int
    version: int
    first: Pair
    second: Pair | None


@dataclass(frozen=True, slots=True)
class _Path:
    """Trails at nodes `start` and `stop` joined by `pieces`, sewn there and back."""

    start: int
    stop: int
    pieces: tuple[int, ...]


def merge(edges: HalfEdges, machine: MachineProfile, pairing: Pairing) -> Pairing:
    """Return the pairing with every trail open: each is a thread with two ends.

    Parameters
    ----------
    edges : HalfEdges
        The passes.
    machine : MachineProfile
        Costs.
    pairing : Pairing
        As `pairing.pair` or `leads.with_leads` gives it.

    Returns
    -------
    Pairing
        Same bound; no closed trails.

    Notes
    -----
    Greedy: near the bound where joins are many and cheap, not always the least.  O(n d² log n)
    for n nodes of degree d.
    """
    trails = _Trails(edges, machine, pairing)
    trails.run()
    mate = np.array(trails.mate, dtype=np.intp)
    used = np.array(trails.used, dtype=np.bool_)
    return replace(pairing, mate=mate, used=used)


class _Trails:
    """Trails while they are being merged: mates, and which copies hang together."""

    def __init__(self, edges: HalfEdges, machine: MachineProfile, pairing: Pairing) -> None:
        self.mate: list[int] = pairing.mate.tolist()
        self.used: list[bool] = pairing.used.tolist()
        costs = Costs(edges, machine)
        self.turn, self.node = costs.turn, costs.node
        self.end_s, self.sew_s = costs.end_s, costs.sew_s
        self.at: list[list[int]] = [[] for _ in edges.nodes]
        for h, v in enumerate(self.node):
            self.at[v].append(h)
        self.piece_of = edges.piece_of
        self.copies: list[list[int]] = [[] for _ in edges.pieces]
        for c, p in enumerate(edges.piece_of.tolist()):
            self.copies[p].append(c)
        # The outside is one more member: all open trails hang together there.
        self.outside = len(self.used)
        self.parent = list(range(self.outside + 1))
        self.version = [0] * len(self.at)
        self.heap: list[tuple[float, int, _Swap | _Path]] = []
        self.count = itertools.count()

    def run(self) -> None:
        """Merge until every trail is open."""
        for c, used in enumerate(self.used):
            if used:
                for h in (2 * c, 2 * c + 1):
                    self.unite(c, self.outside if self.mate[h] == END else self.mate[h] >> 1)
        trails = {self.root(c) for c, used in enumerate(self.used) if used}
        closed = len(trails - {self.root(self.outside)})
        if closed:
            for v in range(len(self.at)):
                self.push_swaps(v)
            self.push_paths()
        while closed:
            key, _, join = heapq.heappop(self.heap)
            if isinstance(join, _Path):
                closed -= self.try_path(key, join)
            elif join.version == self.version[join.node] and self.is_apart(join):
                self.swap(join)
                self.touch(join.node)
                closed -= 1

    # -- what hangs together ------------------------------------------------------------------

    def root(self, c: int) -> int:
        """Return the representative of the trail that copy `c` is in."""
        parent = self.parent
        while parent[c] != c:
            parent[c] = parent[parent[c]]
            c = parent[c]
        return c

    def unite(self, a: int, b: int) -> None:
        """Note that copies `a` and `b` hang together."""
        self.parent[self.root(a)] = self.root(b)

    def is_apart(self, join: _Swap) -> bool:
        """Return whether the join still joins two different trails."""
        other = self.outside if join.second is None else max(join.second) >> 1
        return self.root(join.first[0] >> 1) != self.root(other)

    def pairs(self, v: int) -> list[Pair]:
        """Return the mates at node `v`."""
        out: list[Pair] = []
        for h in self.at[v]:
            if self.used[h >> 1]:
                m = self.mate[h]
                if m == END or h < m:
                    out.append((h, m))
        return out

    def roots(self, v: int) -> set[int]:
        """Return the representatives of the trails through node `v`."""
        return {self.root(h >> 1) for h in self.at[v] if self.used[h >> 1]}

    # -- swaps at a node ----------------------------------------------------------------------

    def push_swaps(self, v: int) -> None:
        """Put the cheapest join of each two trails at node `v` on the heap."""
        pairs = self.pairs(v)
        roots = [self.root(a >> 1) for a, _ in pairs]
        outside = self.root(self.outside)
        if roots.count(outside) == len(roots):
            return
        best: dict[Pair, tuple[float, Pair, Pair | None]] = {}
        for i, (a, b) in enumerate(pairs):
            ab = self.turn(a, b)
            if roots[i] != outside:
                self.note(best, (roots[i], END), 2 * self.end_s[v] - ab, (a, b), None)
            for j in range(i):
                if roots[i] == roots[j]:
                    continue
                c, d = pairs[j]
                old = ab + self.turn(c, d)
                key = (min(roots[i], roots[j]), max(roots[i], roots[j]))
                self.note(best, key, self.turn(a, c) + self.turn(b, d) - old, (a, b), (c, d))
                self.note(best, key, self.turn(a, d) + self.turn(b, c) - old, (a, b), (d, c))
        for delta, first, second in best.values():
            swap = _Swap(v, self.version[v], first, second)
            heapq.heappush(self.heap, (delta, next(self.count), swap))

    @staticmethod
    def note(
        best: dict[Pair, tuple[float, Pair, Pair | None]],
        key: Pair,
        delta: float,
        first: Pair,
        second: Pair | None,
    ) -> None:
        """Keep the join if it is the cheapest of its key."""
        if key not in best or delta < best[key][0] - 1e-9:
            best[key] = (delta, first, second)

    def swap(self, join: _Swap) -> None:
        """Carry out a join at a node."""
        a, b = join.first
        if join.second is None:
            self.mate[a] = self.mate[b] = END
            self.unite(a >> 1, self.outside)
        else:
            c, d = join.second
            self.link(a, c)
            self.link(b, d)
            self.unite(a >> 1, max(c, d) >> 1)

    def link(self, a: int, b: int) -> None:
        """Make two half-edges mates; either may be `END`."""
        if a != END:
            self.mate[a] = b
        if b != END:
            self.mate[b] = a

    def touch(self, v: int) -> None:
        """Make the candidates at node `v` anew."""
        self.version[v] += 1
        self.push_swaps(v)

    # -- paths of unused ditches --------------------------------------------------------------

    def push_paths(self) -> None:
        """Put the paths between neighbouring touched nodes on the heap."""
        used = np.array(self.used, dtype=np.bool_)
        count = np.bincount(self.piece_of, minlength=len(self.copies))
        sewn = np.bincount(self.piece_of[used], minlength=len(self.copies))
        free = {p: self.copies[p][0] for p in np.flatnonzero((count > 1) & (sewn == 0)).tolist()}
        ends = {p: (self.node[2 * c], self.node[2 * c + 1]) for p, c in free.items()}
        cost = {p: 2 * self.sew_s[c] for p, c in free.items()}
        near: list[list[tuple[int, int]]] = [[] for _ in self.at]
        for p, (u, w) in ends.items():
            near[u].append((w, p))
            near[w].append((u, p))
        far = [math.inf] * len(self.at)
        source = [END] * len(self.at)
        way: list[tuple[int, ...]] = [()] * len(self.at)
        queue: list[tuple[float, int]] = []
        touched = np.unique(np.array(self.node, dtype=np.intp)[np.repeat(used, 2)])
        for v in touched.tolist():
            far[v], source[v] = 0.0, v
            queue.append((0.0, v))
        while queue:
            d, v = heapq.heappop(queue)
            if d > far[v]:
                continue
            for w, p in near[v]:
                if d + cost[p] < far[w] - 1e-9:
                    far[w], source[w], way[w] = d + cost[p], source[v], (*way[v], p)
                    heapq.heappush(queue, (far[w], w))
        # Two buried ends open any trail; a dearer path is never taken.
        most = 2 * max(self.end_s)
        for p, (u, w) in ends.items():
            total = far[u] + cost[p] + far[w]
            if source[u] != source[w] and total < most:
                path = _Path(source[u], source[w], (*way[u], p, *reversed(way[w])))
                heapq.heappush(self.heap, (total, next(self.count), path))

    def try_path(self, key: float, path: _Path) -> bool:
        """Carry out a join by a path, or put it back with what it would really cost.

        Returns whether it was carried out.
        """
        there: list[int] = []
        back: list[int] = []
        v = path.start
        for p in path.pieces:
            free = [c for c in self.copies[p] if not self.used[c]]
            if len(free) < 2:
                return False
            side = 0 if self.node[2 * free[0]] == v else 1
            # Both copies run alike, so both halves at a node head the same way.
            there.append(2 * free[0] + side)
            back.append(2 * free[1] + side)
            v = self.node[there[-1] ^ 1]
        if len(self.roots(path.start) | self.roots(path.stop)) == 1:
            return False
        first, last = there[0], there[-1] ^ 1
        joins = [
            (cost_a + cost_b, a, b)
            for root_a, (cost_a, a) in self.openings(path.start, first).items()
            for root_b, (cost_b, b) in self.openings(path.stop, last).items()
            if root_a != root_b
        ]
        if not joins:
            return False
        turns, at_start, at_stop = min(joins)
        turns += 2 * sum(self.turn(h ^ 1, g) for h, g in itertools.pairwise(there))
        exact = turns + 2 * sum(self.sew_s[h >> 1] for h in there)
        if exact > key + 1e-9:
            heapq.heappush(self.heap, (exact, next(self.count), path))
            return False
        for line in (there, back):
            for h in line:
                self.used[h >> 1] = True
                self.unite(h >> 1, first >> 1)
            for h, g in itertools.pairwise(line):
                self.link(h ^ 1, g)
        for (a, b), x, y in (
            (at_start, first, back[0]),
            (at_stop, last, back[-1] ^ 1),
        ):
            self.link(a, x)
            self.link(y, b)
            self.unite(a >> 1, x >> 1)
        for v in {self.node[h] for h in there} | {path.stop}:
            self.touch(v)
        return True

    def openings(self, v: int, h: int) -> dict[int, tuple[float, Pair]]:
        """Return for each trail through node `v` where it is opened best towards half-edge `h`."""
        best: dict[int, tuple[float, Pair]] = {}
        for a, b in self.pairs(v):
            cost = self.turn(a, h) + self.turn(h, b) - self.turn(a, b)
            root = self.root(a >> 1)
            if root not in best or cost < best[root][0]:
                best[root] = (cost, (a, b))
        return best
