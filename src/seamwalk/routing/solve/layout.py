"""Threads laid end to end, so that a few new mates are judged without walking them.

Positions 2i and 2i + 1 are the two halves of the i-th copy sewn.  New mates cut the line into
stretches; only how the stretches are linked has to be looked at.
"""

import itertools
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from seamwalk.routing.solve.pairing import Pairing
from seamwalk.routing.solve.threads import walks
from seamwalk.routing.turning import END, Costs, HalfEdges

OUTSIDE = -1
"""The stretch that all thread ends belong to."""

MOST_OPENED = 3
"""Closed trails opened after one exchange: more of them cost more than any exchange saves."""

LONGEST = 1500
"""Half-edges of a closed trail that are looked at for where to open it: the time that takes."""

Mates = dict[int, int]


class Layout:
    """The threads of a pairing without closed trails."""

    def __init__(self, edges: HalfEdges, pairing: Pairing) -> None:
        self.required: list[bool] = edges.required.tolist()
        self.mate: list[int] = pairing.mate.tolist()
        self.line: list[int] = []
        self.starts: list[int] = []
        for walk in walks(pairing):
            self.starts.append(len(self.line))
            for h in walk:
                self.line += (h, h ^ 1)
        self.starts.append(len(self.line))
        self.place = {h: p for p, h in enumerate(self.line)}

    def thread(self, position: int) -> int:
        """Return the number of the thread at a position."""
        return bisect_right(self.starts, position) - 1

    def closed(self, mates: Mates) -> list[list[int]]:
        """Return the closed trails that new mates make, each as its stretches.

        A stretch goes by its first position; a copy that is not in the line by -2 - copy.
        """
        cuts = self._cuts(mates)
        parent: dict[int, int] = {OUTSIDE: OUTSIDE}

        def root(x: int) -> int:
            while parent[x] != x:
                parent[x] = parent[parent[x]]
                x = parent[x]
            return x

        for q, following in itertools.pairwise(cuts):
            # An end that has not been exchanged is the end of a thread.
            loose = self.line[q] in mates and self.line[following - 1] in mates
            parent[q] = q if loose else OUTSIDE
        for h in mates:
            if h not in self.place:
                parent.setdefault(-2 - (h >> 1), -2 - (h >> 1))
        left_out = set()
        for h, m in mates.items():
            here = self._stretch(h, cuts)
            if m == END:
                parent[root(here)] = root(OUTSIDE)
            elif m == h ^ 1 and not self.required[h >> 1]:
                left_out.add(here)
            elif h < m:
                parent[root(here)] = root(self._stretch(m, cuts))
        trails: dict[int, list[int]] = {}
        for s in parent:
            if s not in left_out:
                trails.setdefault(root(s), []).append(s)
        trails.pop(root(OUTSIDE))
        return list(trails.values())

    def stretches(self, mates: Mates) -> Callable[[int], int]:
        """Return a function that names the stretch of a half-edge once `mates` are made."""
        cuts = self._cuts(mates)
        return lambda h: self._stretch(h, cuts)

    def opened(
        self, mates: Mates, at: list[list[int]], costs: Costs, most_s: float
    ) -> Mates | None:
        """Return `mates` with the cheapest swaps at nodes that open every closed trail.

        None where that would cost `most_s` or more.
        """
        for _ in range(MOST_OPENED):
            trails = self.closed(mates)
            if not trails:
                return mates
            inside = min((self.halves(t, mates) for t in trails), key=len)
            if not inside or len(inside) > LONGEST:
                return None
            cost_s, new = self._swap(inside, mates, at, costs)
            most_s -= cost_s
            if most_s <= 0:
                return None
            mates = mates | new
        return None if self.closed(mates) else mates

    def halves(self, trail: list[int], mates: Mates) -> set[int]:
        """Return the half-edges of a trail that `mates` close."""
        cuts = self._cuts(mates)
        out: set[int] = set()
        for s in trail:
            if s <= -2:
                out |= {2 * (-2 - s), 2 * (-2 - s) + 1}
            else:
                out.update(self.line[s : cuts[bisect_right(cuts, s)]])
        return out

    def _swap(
        self, inside: set[int], mates: Mates, at: list[list[int]], costs: Costs
    ) -> tuple[float, Mates]:
        """Return what it costs to join the trail `inside` to another at a node, and how."""
        best_s: float = float("inf")
        best: Mates = {}
        for a in sorted(inside):
            b = mates.get(a, self.mate[a])
            if b < a:
                continue
            old_s = costs.turn(a, b)
            for c in at[costs.node[a]]:
                d = mates.get(c, self.mate[c])
                if c in inside or (d == c ^ 1 and not self.required[c >> 1]):
                    continue
                cost_s = costs.turn(a, c) + costs.turn(b, d) - old_s - costs.turn(c, d)
                if cost_s < best_s - 1e-9:
                    best_s, best = cost_s, {a: c, c: a, b: d}
                    if d != END:
                        best[d] = b
        return best_s, best

    def _cuts(self, mates: Mates) -> list[int]:
        """Return where stretches begin, and the end of the line last."""
        cuts = {(self.place[h] + 1) & ~1 for h in mates if h in self.place}
        ends = set()
        for q in cuts:
            i = bisect_right(self.starts, q) - 1
            ends |= {self.starts[i], self.starts[min(i + 1, len(self.starts) - 1)]}
            if self.starts[i] == q and i > 0:
                # The cut may be at the end of the thread before.
                ends.add(self.starts[i - 1])
        return sorted(cuts | ends | {len(self.line)})

    def _stretch(self, h: int, cuts: list[int]) -> int:
        """Return the stretch of half-edge `h`."""
        p = self.place.get(h)
        if p is None:
            return -2 - (h >> 1)
        i = bisect_right(cuts, p) - 1
        # What lies before all cuts is not exchanged, so it stays open.
        return cuts[i] if i >= 0 else OUTSIDE


def at_nodes(edges: HalfEdges) -> list[list[int]]:
    """Return the half-edges at each node."""
    out: list[list[int]] = [[] for _ in edges.nodes]
    for h, v in enumerate(edges.node.tolist()):
        out[v].append(h)
    return out


def exchanged(edges: HalfEdges, pairing: Pairing, mates: Mates) -> Pairing:
    """Return the pairing with some half-edges mated anew."""
    if not mates:
        return pairing
    mate = pairing.mate.copy()
    mate[list(mates)] = list(mates.values())
    used = edges.required | (mate[0::2] != np.arange(1, len(mate), 2))
    return replace(pairing, mate=mate, used=used)
