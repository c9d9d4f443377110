"""Ways from pass to pass over ditches and margin that are still free."""

import copy
import heapq
from collections.abc import Iterable, Iterator

import numpy as np

from seamwalk.routing.solve.threads import Walk
from seamwalk.routing.turning import Bools, Costs, Floats, HalfEdges, Ints


class Travel:
    """Ways over copies that no pass uses.

    A vertex for each direction of each free copy, joined where one may follow the other; a way
    counts stitching and turning, so it is the cheapest there is.
    """

    def __init__(self, edges: HalfEdges, costs: Costs, used: Bools) -> None:
        from scipy.sparse import csr_array

        self.edges, self.costs = edges, costs
        # One free copy of a piece stands for all: none is travelled twice on one way.
        every = np.flatnonzero(~used & ~edges.required)
        free = every[np.sort(np.unique(edges.piece_of[every], return_index=True)[1])]
        by_piece: dict[int, list[int]] = {}
        for c, p in zip(every.tolist(), edges.piece_of[every].tolist(), strict=True):
            by_piece.setdefault(p, []).append(c)
        self.spare = {
            c: by_piece[p]
            for c, p in zip(free.tolist(), edges.piece_of[free].tolist(), strict=True)
        }
        self.halves = np.stack([2 * free, 2 * free + 1], axis=1).reshape(-1)
        self.at: list[list[int]] = [[] for _ in edges.nodes]
        for i, h in enumerate(self.halves.tolist()):
            self.at[costs.node[h]].append(i)
        rows, columns, weights = self._after((h ^ 1) for h in self.halves.tolist())
        n = len(self.halves)
        self.graph = csr_array((weights, (rows, columns)), shape=(n, n))

    def fresh(self) -> "Travel":
        """Return the same ways with nothing taken, whatever is taken of either later."""
        out = copy.copy(self)
        out.spare = {c: list(free) for c, free in self.spare.items()}
        return out

    def _after(self, arriving: Iterable[int]) -> tuple[list[int], list[int], list[float]]:
        """Return (row, vertex, seconds) for going on from each half-edge arrived on."""
        rows, columns, weights = [], [], []
        halves: list[int] = self.halves.tolist()
        turn, sew_s, node = self.costs.turn, self.costs.sew_s, self.costs.node
        for row, a in enumerate(arriving):
            for i in self.at[node[a]]:
                b = halves[i]
                if b != a:
                    rows.append(row)
                    columns.append(i)
                    weights.append(turn(a, b) + sew_s[b >> 1])
        return rows, columns, weights

    def between(
        self, last: Ints, first: Ints, limit_s: float, most_cells: int
    ) -> Iterator[tuple[Ints, Ints, Floats]]:
        """Yield (x, y, seconds) of ways from arriving on last[x] to leaving on first[y]."""
        from scipy.sparse import block_array, csr_array
        from scipy.sparse.csgraph import dijkstra

        n, m = len(self.halves), len(last)
        if not n:
            return
        rows, columns, weights = self._after(last.tolist())
        leave = csr_array((weights, (rows, columns)), shape=(m, n))
        # Arriving at a pass: from a vertex whose far end lies at the pass's first node.
        columns, rows, weights = self._entries(first.tolist())
        enter = csr_array((weights, (rows, columns)), shape=(n, m))
        graph = block_array(
            [
                [self.graph, None, enter],
                [leave, csr_array((m, m)), None],
                [None, None, csr_array((m, m))],
            ],
            format="csr",
        )
        step = max(1, most_cells // (n + 2 * m))
        for at in range(0, m, step):
            source = np.arange(at, min(at + step, m))
            far = dijkstra(graph, indices=n + source, limit=limit_s)[:, n + m :]
            x, y = np.nonzero(far <= limit_s)
            yield source[x], y, far[x, y]

    def _entries(self, first: list[int]) -> tuple[list[int], list[int], list[float]]:
        columns, rows, weights = [], [], []
        halves: list[int] = self.halves.tolist()
        turn, node = self.costs.turn, self.costs.node
        for y, b in enumerate(first):
            for i in self.at[node[b]]:
                a = halves[i]
                # The copy that leaves here, sewn the other way, arrives here.
                if a != b:
                    columns.append(y)
                    rows.append(i ^ 1)
                    weights.append(turn(a, b))
        return columns, rows, weights

    def ends(self, halves: Ints) -> Floats:
        """Return what a thread end costs after arriving on each half-edge (m,).

        Right there, or after travel to a cheaper place.
        """
        from scipy.sparse import csr_array, hstack, vstack
        from scipy.sparse.csgraph import dijkstra

        out = self.edges.end_s[self.edges.node[halves]].astype(np.float64)
        n = len(self.halves)
        if not n or not len(halves):
            return out
        end_s = self.edges.end_s[self.edges.node[self.halves ^ 1]]
        to_end = csr_array(end_s[:, None])
        graph = vstack([hstack([self.graph, to_end]), csr_array((1, n + 1))], format="csr")
        far = dijkstra(graph.T.tocsr(), indices=[n], limit=float(out.max()), min_only=False)[0, :n]
        rows, columns, weights = self._after(halves.tolist())
        np.minimum.at(out, rows, np.array(weights) + far[columns])
        return out

    def way_out(self, last: int) -> Walk:
        """Return the travel from arriving on `last` to where a thread end is cheapest; take it."""
        here = self.costs.end_s[self.costs.node[last]]
        return self._way(last, None, here) or []

    def way(self, last: int, first: int, limit_s: float) -> Walk | None:
        """Return the cheapest way from arriving on `last` to leaving on `first`, and take it.

        Copies once taken are gone.  None where there is no way below `limit_s`.
        """
        return self._way(last, first, limit_s)

    def _way(self, last: int, first: int | None, limit_s: float) -> Walk | None:
        halves: list[int] = self.halves.tolist()
        turn, sew_s, node = self.costs.turn, self.costs.sew_s, self.costs.node
        end_s = self.costs.end_s
        best: dict[int, float] = {}
        came: dict[int, int] = {}
        queue: list[tuple[float, int, int]] = []

        def push(cost: float, i: int, before: int) -> None:
            if cost < best.get(i, limit_s) - 1e-9:
                best[i], came[i] = cost, before
                heapq.heappush(queue, (cost, i, before))

        for i in self.at[node[last]]:
            if halves[i] != last and self.spare[halves[i] >> 1]:
                push(turn(last, halves[i]) + sew_s[halves[i] >> 1], i, -1)
        goal = -2
        while queue:
            cost, i, _ = heapq.heappop(queue)
            if cost > best[i]:
                continue
            if i == goal:
                out: Walk = []
                i = came[i]
                while i >= 0:
                    h = halves[i]
                    out.append(2 * self.spare[h >> 1].pop() + (h & 1))
                    i = came[i]
                return out[::-1]
            a = halves[i] ^ 1
            if first is None:
                push(cost + end_s[node[a]], goal, i)
            elif node[a] == node[first]:
                push(cost + turn(a, first), goal, i)
            for j in self.at[node[a]]:
                b = halves[j]
                if self.spare[b >> 1] and b != a:
                    push(cost + turn(a, b) + sew_s[b >> 1], j, i)
        return None
