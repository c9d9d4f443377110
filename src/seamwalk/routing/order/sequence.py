"""Which pass follows which, and which way each is sewn.

Three things are weighed against one another, all in seconds: what joins cost; passes sewn before
others of their group that lie nearer to the middle; and stitching with too much of the quilt under
the arm.  For passes in a given order the directions are found exactly, by dynamic programming
along the order; so is the order of whole groups (all lines of a family in one half of the top).
From there single passes and short runs of them are moved to wherever that saves most, until
nothing does.

References
----------
Bellman, Dynamic Programming, 1957.  Held and Karp, A dynamic programming approach to sequencing
problems, J. SIAM 10, 1962 (order of groups).  Or, thesis, Northwestern University 1976 (moving
short runs).
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.routing.order.joins import Joins
from seamwalk.routing.order.passes import MIDDLE_IN, Lie
from seamwalk.routing.turning import Floats, Ints


@dataclass(frozen=True, slots=True)
class Weights:
    """What order is worth, in seconds for the whole top.

    Attributes
    ----------
    order_s : float
        If everything were sewn from the edge to the middle.
    heavy_s : float
        If everything were sewn with too much under the arm.
    change_s : float
        For each change from one group of lines to another.
    """

    order_s: float
    heavy_s: float
    change_s: float = 0.0


@dataclass(frozen=True, slots=True)
class SequenceSettings:
    """How far the search goes.

    Attributes
    ----------
    most_groups : int
        Groups ordered exactly; more are sewn as they come.
    most_run : int
        Longest run of passes moved at once.
    rounds : int
        Times that all passes are tried.
    most_moves : int
        Passes times passes looked at, altogether: the search ends there, whatever the machine.
    """

    most_groups: int = 9
    most_run: int = 7
    rounds: int = 30
    most_moves: int = 5_000_000


DEFAULT = SequenceSettings()


class Sequencer:
    """The search; states 2i and 2i + 1 are pass i and its reverse."""

    def __init__(
        self, lie: Lie, joined: Joins, weights: Weights, settings: SequenceSettings = DEFAULT
    ) -> None:
        self.lie, self.joined, self.settings = lie, joined, settings
        self.n = len(lie.length_in)
        total = float(lie.length_in.sum()) or 1.0
        self.before_s = weights.order_s * precedence(lie)
        self.heavy_s = weights.heavy_s / total * lie.heavy_in
        group = lie.group
        changes = weights.change_s * (group[:, None] != group[None, :])
        self.join_s = joined.cost_s.astype(np.float64) + np.repeat(
            np.repeat(changes, 2, axis=0), 2, axis=1
        )

    def cost_s(self, order: Ints) -> float:
        """Return what a sequence of states comes to, passes themselves not counted."""
        p = order >> 1
        wrong = np.triu(self.before_s[np.ix_(p, p)], 1).sum()
        joins = self.join_s[order[:-1], order[1:]].sum()
        ends = self.joined.start_s[order[0]] + self.joined.stop_s[order[-1]]
        return float(joins + ends + wrong + self.heavy_s[order].sum())

    def best(self, starts: Sequence[Ints] = ()) -> Ints:
        """Return the best sequence found, from groups in their best order and from `starts`."""
        found = [self.improved(s) for s in (self.by_groups(), *starts)]
        return min(found, key=self.cost_s)

    # -- whole groups --------------------------------------------------------------------------

    def by_groups(self) -> Ints:
        """Return the groups one after another, each from the middle outwards, at least cost.

        The middle line of a family is a group of its own: it may open either half.
        """
        middle = self.lie.out_in < MIDDLE_IN
        group = np.where(middle, self.lie.group // 2 * 3, self.lie.group // 2 * 3 + 1)
        group += np.where(middle, 0, self.lie.group % 2)
        out_in = np.round(self.lie.out_in, 1)
        members = []
        for g in np.unique(group):
            i = np.flatnonzero(group == g)
            members.append(i[np.argsort(out_in[i], kind="stable")])
        k = len(members)
        if k > self.settings.most_groups:
            return self.directed(np.concatenate(members))
        tables = [self._through(m) for m in members]
        wrong = np.array([[self.before_s[np.ix_(a, b)].sum() for b in members] for a in members])
        # (groups sewn, the last of them, its direction) → cost, and what came before.
        far: dict[tuple[int, int, int], tuple[float, tuple[int, int, int] | None]] = {}
        for g, a, b in itertools.product(range(k), (0, 1), (0, 1)):
            cost = self.joined.start_s[2 * members[g][0] + a] + tables[g][a, b]
            if cost < far.get((1 << g, g, b), (np.inf,))[0]:
                far[1 << g, g, b] = (cost, None)
        for mask, g, b in itertools.product(range(1, 1 << k), range(k), (0, 1)):
            here = far.get((mask, g, b))
            if here is None:
                continue
            last = 2 * members[g][-1] + b
            sewn = [i for i in range(k) if mask >> i & 1]
            for g2 in set(range(k)) - set(sewn):
                early = here[0] + wrong[sewn, g2].sum()
                for a2, b2 in itertools.product((0, 1), repeat=2):
                    first = 2 * members[g2][0] + a2
                    cost = early + self.join_s[last, first] + tables[g2][a2, b2]
                    key = (mask | 1 << g2, g2, b2)
                    if cost < far.get(key, (np.inf,))[0] - 1e-9:
                        far[key] = (cost, (mask, g, b))
        full = (1 << k) - 1
        at: tuple[int, int, int] | None = min(
            ((full, g, b) for g in range(k) for b in (0, 1)),
            key=lambda s: far[s][0] + self.joined.stop_s[2 * members[s[1]][-1] + s[2]],
        )
        blocks: list[Ints] = []
        while at is not None:
            blocks.append(members[at[1]])
            at = far[at][1]
        return self.directed(np.concatenate(blocks[::-1]))

    def _through(self, members: Ints) -> Floats:
        """Return the cost (2, 2) of a group sewn in order, by direction of first and last."""
        out = np.full((2, 2), np.inf)
        for a in (0, 1):
            far = np.full(2, np.inf)
            far[a] = self.heavy_s[2 * members[0] + a]
            for i, j in itertools.pairwise(members.tolist()):
                step = self.join_s[2 * i : 2 * i + 2, 2 * j : 2 * j + 2]
                far = (far[:, None] + step).min(axis=0) + self.heavy_s[2 * j : 2 * j + 2]
            out[a] = far
        return out

    # -- directions ----------------------------------------------------------------------------

    def directed(self, order: Ints) -> Ints:
        """Return the states of passes in a given order, each in its best direction."""
        first = 2 * int(order[0])
        far = self.joined.start_s[first : first + 2] + self.heavy_s[first : first + 2]
        came = []
        for i, j in itertools.pairwise(order.tolist()):
            steps = far[:, None] + self.join_s[2 * i : 2 * i + 2, 2 * j : 2 * j + 2]
            came.append(steps.argmin(axis=0))
            far = steps.min(axis=0) + self.heavy_s[2 * j : 2 * j + 2]
        last = 2 * int(order[-1])
        way = int((far + self.joined.stop_s[last : last + 2]).argmin())
        ways = [way]
        for step in reversed(came):
            way = int(step[way])
            ways.append(way)
        return 2 * order + np.array(ways[::-1], dtype=np.intp)

    # -- moves ---------------------------------------------------------------------------------

    def improved(self, order: Ints) -> Ints:
        """Return the sequence after moving runs of passes until nothing is saved.

        After the first round only passes are tried again beside which something has changed.
        """
        moves = 0
        best = self.cost_s(order)
        fresh = np.ones(self.n, dtype=np.bool_)
        for _ in range(self.settings.rounds):
            tried, fresh = fresh, np.zeros(self.n, dtype=np.bool_)
            for length in self._lengths():
                at = 0
                while at + length <= self.n:
                    if not tried[order[at : at + length] >> 1].any():
                        at += 1
                        continue
                    moved = self._moved(order, at, length)
                    moves += self.n
                    if moved is None:
                        at += 1
                    else:
                        changed = np.flatnonzero(moved != order)
                        for k in (changed[0], changed[-1]):
                            fresh[moved[max(0, k - 1) : k + 2] >> 1] = True
                        fresh[order[max(0, at - 1) : at + length + 1] >> 1] = True
                        order = moved
                    if moves > self.settings.most_moves:
                        return self.directed(order >> 1)
            straight = self.directed(order >> 1)
            fresh[(straight >> 1)[straight != order]] = True
            order = straight
            now = self.cost_s(order)
            if now > best - 1e-6 or not fresh.any():
                break
            best = now
        return order

    def _lengths(self) -> list[int]:
        """Return the lengths of runs to move, each half as long again as the one before."""
        out = [1]
        while out[-1] < min(self.settings.most_run, self.n - 1):
            out.append(min(out[-1] + 1 + out[-1] // 2, self.n - 1))
        return [x for x in out if x < self.n]

    def _moved(self, order: Ints, at: int, length: int) -> Ints | None:
        """Return the sequence with the run at `at` where it is best, or None if it stays."""
        run = order[at : at + length]
        rest = np.concatenate([order[:at], order[at + length :]])
        p, inside = rest >> 1, run >> 1
        # What the rest costs by lying before or after the run: place k is before rest[k].
        over = self.before_s[np.ix_(p, inside)].sum(axis=1)
        under = self.before_s[np.ix_(inside, p)].sum(axis=0)
        order_s = np.concatenate([[0.0], np.cumsum(over - under)]) + under.sum()
        opened = np.concatenate(
            [
                [-self.joined.start_s[rest[0]]],
                -self.join_s[rest[:-1], rest[1:]],
                [-self.joined.stop_s[rest[-1]]],
            ]
        )
        best: tuple[float, int, Ints] | None = None
        now = np.inf
        for way in (run, run[::-1] ^ 1):
            lead = np.concatenate([[self.joined.start_s[way[0]]], self.join_s[rest, way[0]]])
            tail = np.concatenate([self.join_s[way[-1], rest], [self.joined.stop_s[way[-1]]]])
            inner = self.join_s[way[:-1], way[1:]].sum() + self.heavy_s[way].sum()
            if length > 1:
                # Within the run, too, something may have been sewn too early.
                inner += np.triu(self.before_s[np.ix_(way >> 1, way >> 1)], 1).sum()
            costs = opened + lead + tail + order_s + inner
            if way is run:
                now = float(costs[at])
            k = int(costs.argmin())
            if best is None or costs[k] < best[0] - 1e-9:
                best = (float(costs[k]), k, way)
        assert best is not None
        if best[0] > now - 1e-6:
            return None
        return np.concatenate([rest[: best[1]], best[2], rest[best[1] :]])


def precedence(lie: Lie) -> Floats:
    """Return for passes i, j what is lost (n, n) if i is sewn before j.

    Zero where that is right: j not nearer to the middle by more than a tenth of an inch, or in
    another group.  Scaled so that everything in reverse comes to 1.
    """
    n = len(lie.length_in)
    out = np.zeros((n, n))
    total = float(lie.length_in.sum()) or 1.0
    out_in = np.round(lie.out_in, 1)
    for g in np.unique(lie.group):
        # The middle line belongs before both halves.
        near = (lie.group // 2 == g // 2) & (lie.out_in < MIDDLE_IN)
        i = np.flatnonzero((lie.group == g) | near)
        length = lie.length_in[i]
        apart = np.maximum(0.0, out_in[i][:, None] - out_in[i][None, :])
        lost = apart * length[:, None] * length[None, :]
        if lost.sum() > 0:
            out[np.ix_(i, i)] += lost / lost.sum() * length.sum() / total
    return out
