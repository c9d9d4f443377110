"""Routes of one task in several orders, from which one is chosen.

The quickest route forgets about order.  Others are put together from passes: whole lines, where
the top has them; else what the quickest route sews in each ring or strip of the top.  How much
order weighs against time differs from one to the next; what each comes to is measured, not
estimated, and the quilter's wish decides.
"""

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from seamwalk.geometry.curve import Point
from seamwalk.model.machine import MachineProfile
from seamwalk.model.order import OrderFigures, OrderName, OrderWish
from seamwalk.model.route import Leg, Network, Thread
from seamwalk.routing.bobbins import bobbin_changes
from seamwalk.routing.collecting import uncollected
from seamwalk.routing.order.bulk import heavy_share, share_right
from seamwalk.routing.order.directions import directed_trails
from seamwalk.routing.order.joins import joins, threaded
from seamwalk.routing.order.measures import order_measures
from seamwalk.routing.order.parts import Parts, rings, strips
from seamwalk.routing.order.passes import lie_of, passes, trails
from seamwalk.routing.order.reversals import turned_round
from seamwalk.routing.order.sequence import Sequencer, Weights
from seamwalk.routing.order.travel import Travel
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.pairing import choices, pair
from seamwalk.routing.solve.threads import Walk, tidied
from seamwalk.routing.solve.whole import merged
from seamwalk.routing.telling.length import words_length
from seamwalk.routing.totals import change_s, quilt_turns
from seamwalk.routing.turning import Costs, Floats, HalfEdges, Turning, half_edges


@dataclass(frozen=True, slots=True)
class OrderSettings:
    """Which orders are tried.

    Attributes
    ----------
    most_passes : int
        With more passes than this their order is not searched: two tables of twice as many rows
        and columns, and work that grows with their square.
    weights : tuple of (float, float, float)
        For passes along lines: what order and bulk are worth, as shares of the quickest route's
        time, and a change of family, seconds.
    part_weights : tuple
        The same for passes in strips or rings.
    strict : (float, float, float)
        So much that only order counts, and bulk more than a thread end in the margin, but less
        than one that has to be buried.
    ring_s, strip_s : tuple of float
        Prices tried of each joint from one ring, or strip, into another, seconds.
    strict_part_s : float
        The same where only order counts.
    heavy_s_per_in : float
        What it is worth in pivots to keep the bulk outside, seconds an inch: about what
        `worth_heavy` and `worth_minutes` make of it.
    worth_outwards, worth_heavy : float
        What a path without order lacks, one that comes and goes and has nearly half of its
        stitching with too much under the arm, comes to 1.
    worth_minutes : float
        What it is worth to spend none of the minutes given: small, or nobody would be glad of
        having given them.
    as_good : float
        Orders that lack this much more than the best are as good.
    as_long : float
        Of those within this of the least time, the one that takes fewest words is taken.
    orderly : float
        A top that gets this much order by its lines is not tried in parts.
    lined : float
        Where at least this share of the stitching is in passes half as long as the top, it is
        tried by lines.
    """

    most_passes: int = 500
    weights: tuple[tuple[float, float, float], ...] = (
        (0.03, 0.03, 0.0),
        (0.1, 0.1, 30.0),
        (0.3, 0.3, 60.0),
    )
    part_weights: tuple[tuple[float, float, float], ...] = ((0.3, 0.03, 0.0), (1.0, 0.1, 0.0))
    strict: tuple[float, float, float] = (3.0, 0.3, 60.0)
    ring_s: tuple[float, ...] = (2.0, 8.0)
    strip_s: tuple[float, ...] = (8.0,)
    strict_part_s: float = 20.0
    heavy_s_per_in: float = 0.45
    worth_outwards: float = 0.75
    worth_heavy: float = 0.55
    worth_minutes: float = 0.25
    as_good: float = 0.02
    as_long: float = 1.01
    orderly: float = 0.9
    lined: float = 0.5


DEFAULT = OrderSettings()


@dataclass(frozen=True, slots=True)
class Ordered:
    """Threads in their order, what it comes to, and how many phrases tell it."""

    walks: list[Walk]
    figures: OrderFigures
    to_tell: int


def chosen(
    network: Network,
    machine: MachineProfile,
    quickest: Sequence[Walk],
    wish: OrderWish,
    *,
    until: float | None = None,
    hurried: bool = False,
    solver: Solver = "auto",
    settings: OrderSettings = DEFAULT,
) -> tuple[Ordered, tuple[OrderFigures, ...]]:
    """Return the route that the wish asks for, and what each kind of order comes to.

    Parameters
    ----------
    network, machine
        The task.
    quickest : sequence of Walk
        Threads over `half_edges(network, machine)`, as `middle_out` orders them.
    wish : OrderWish
        What order is worth.
    until : float, optional
        No further order is tried after this time (`time.monotonic`).
    hurried : bool
        There is no time for an exact pairing, and so for no other order, nor for its bobbins:
        they are not in its minutes.
    solver
        See `matching.match`.
    settings : OrderSettings
        See there.
    """
    task = _Task(network, machine, solver, settings)
    plain = task.measured("quickest", list(quickest), bobbins=not hurried)
    found = [plain]
    fast, middle = _weighed(found, wish, settings)
    for orders in () if hurried else (task.by_lines, task.by_parts):
        for name, walks in orders(plain):
            found.append(task.measured(name, walks))
            if until is not None and time.monotonic() > until:
                break
        fast, middle = _weighed(found, wish, settings)
        late = until is not None and time.monotonic() > until
        if late or middle.figures.outwards >= settings.orderly:
            break
    lines = [o for o in found if o.figures.name == "lines"]
    offered = [fast, middle, *sorted(lines, key=lambda o: o.figures.minutes)[:1]]
    by_name = {o.figures.name: o for o in offered}
    return by_name.get(wish.name, middle), tuple(o.figures for o in offered)


def _weighed(
    found: Sequence[Ordered], wish: OrderWish, settings: OrderSettings
) -> tuple[Ordered, Ordered]:
    """Return the quickest and, within what she gives, the one in the best order."""
    fast = min(found, key=lambda o: round(o.figures.minutes, 6))
    fast = replace(fast, figures=replace(fast.figures, name="quickest"))
    give = wish.give_min
    if give is None:
        give = wish.give_share * fast.figures.minutes
    affordable = [o for o in found if o.figures.minutes <= fast.figures.minutes + give + 1e-6]
    lacks = [lack(o.figures, fast.figures, give, settings) for o in affordable]
    near = [
        o for o, x in zip(affordable, lacks, strict=True) if x <= min(lacks) + settings.as_good
    ]
    most = settings.as_long * min(o.figures.minutes for o in near)
    middle = min((o for o in near if o.figures.minutes <= most), key=lambda o: o.to_tell)
    return fast, replace(middle, figures=replace(middle.figures, name="middle"))


def lack(
    f: OrderFigures, fast: OrderFigures, give_min: float, settings: OrderSettings = DEFAULT
) -> float:
    """Return what an order lacks, the minutes spent on it counting a little, too."""
    spent = (f.minutes - fast.minutes) / give_min if give_min > 0 else 0.0
    return round(disorder(f.outwards, f.heavy, settings) + settings.worth_minutes * spent, 6)


def disorder(outwards: float, heavy: float, settings: OrderSettings = DEFAULT) -> float:
    """Return how far an order is from the one wished for: 0 is perfect, about 1 is none."""
    return settings.worth_outwards * (1 - outwards) + settings.worth_heavy * heavy


class _Task:
    """What all orders of one network have in common."""

    def __init__(
        self, network: Network, machine: MachineProfile, solver: Solver, settings: OrderSettings
    ) -> None:
        self.network, self.machine = network, machine
        self.solver, self.settings = solver, settings
        self.edges = half_edges(network, machine)
        self.costs = Costs(self.edges, machine)
        self.where: list[Point] = [network.nodes[n] for n in self.edges.nodes]
        self.lengths_in: Floats = self.edges.sew_s / machine.s_per_in
        xy = np.array(self.where, dtype=np.float64)
        self.low, self.high = xy.min(axis=0), xy.max(axis=0)
        self.heavy = heavy_share(machine, self.low, self.high)
        self.ends: Floats = xy[self.edges.node].reshape(-1, 2, 2)
        self.heavy_in = self._heavy_in()

    def _heavy_in(self) -> Floats:
        """Return the inches with too much under the arm, by the half-edge a copy is entered by."""
        edges = self.edges
        at = np.repeat(self.ends.mean(axis=1), 2, axis=0)
        lies = np.where(np.isnan(edges.lies_deg), edges.heading_deg, edges.lies_deg)
        right = share_right(at, lies, self.low, self.high)
        return np.where(right > self.heavy, np.repeat(self.lengths_in, 2), 0.0)

    def measured(self, name: OrderName, walks: list[Walk], *, bobbins: bool = True) -> Ordered:
        """Return threads with what they come to."""
        cost_s = sum(self.costs.thread(w) for w in walks)
        threads = as_threads(walks, self.edges)
        if bobbins:
            changes = bobbin_changes(self.network, threads, self.machine)
            cost_s += sum(change_s(c.where, self.machine) for c in changes)
        turns = quilt_turns(self.network, threads, self.machine)
        m = order_measures(walks, self.edges, self.where, self.lengths_in, self.heavy)
        minutes = (cost_s + turns * self.machine.quilt_turn_s) / 60
        figures = OrderFigures(name, minutes, len(walks), turns, m.outwards, m.heavy)
        return Ordered(walks, figures, words_length(self.network, threads))

    def by_lines(self, plain: Ordered) -> Iterator[tuple[OrderName, list[Walk]]]:
        """Yield routes of whole lines, if the top has them."""
        most, s = 60 * plain.figures.minutes, self.settings
        turning = half_edges(self.network, self.machine, Turning(self.machine.quilt_turn_s))
        pairing = pair(choices(turning, self.machine), solver=self.solver)
        units = passes(*trails(pairing), turning, Costs(turning, self.machine))
        if self._has_lines(units) and len(units) <= s.most_passes:
            yield from self._sequenced(units, turning, most, s.weights)

    def by_parts(self, plain: Ordered) -> Iterator[tuple[OrderName, list[Walk]]]:
        """Yield routes that sew what the quickest would, ring by ring or strip by strip.

        Always that way round that keeps the bulk outside.
        """
        most, s = 60 * plain.figures.minutes, self.settings
        required = self.edges.required
        for parts, prices in (
            (rings(self.ends, required), s.ring_s),
            (strips(self.ends, required, 0), s.strip_s),
            (strips(self.ends, required, 1), s.strip_s),
        ):
            tried = [(x, s.part_weights) for x in prices]
            for part_s, weights in (*tried, (s.strict_part_s, ())):
                turning = Turning(0.0, strip=parts.number, strip_s=part_s)
                priced = replace(self.edges, turning=turning)
                costs = Costs(priced, self.machine)
                pairing = pair(choices(priced, self.machine), solver=self.solver)
                sewn = np.zeros(len(self.edges.required), dtype=np.bool_)
                for walk in merged(priced, self.machine, pairing, costs):
                    sewn[[h >> 1 for h in walk]] = True
                found = directed_trails(sewn, self.heavy_in, priced, costs)
                units = passes(*found, priced, costs, strip=parts.number)
                price_s = s.heavy_s_per_in * self.heavy_in
                units = [turned_round(w, price_s, costs) for w in units]
                if len(units) <= s.most_passes:
                    yield from self._sequenced(units, self.edges, most, weights, parts)

    def _has_lines(self, units: list[Walk]) -> bool:
        """Return whether most of the stitching runs through the top."""
        length = np.array([self.lengths_in[[h >> 1 for h in w]].sum() for w in units])
        through = length >= float((self.high - self.low).min()) / 2
        return bool(length[through].sum() >= self.settings.lined * length.sum())

    def _sequenced(
        self,
        units: list[Walk],
        edges: HalfEdges,
        most_s: float,
        weights: Sequence[tuple[float, float, float]],
        parts: Parts | None = None,
    ) -> Iterator[tuple[OrderName, list[Walk]]]:
        """Yield routes of passes: for each weight, or, without any, as strictly as can be."""
        costs = Costs(edges, self.machine)
        used = np.zeros(len(edges.required), dtype=np.bool_)
        used[[h >> 1 for w in units for h in w]] = True
        off_in = None if parts is None else parts.off_in
        lie = lie_of(units, edges, self.where, self.lengths_in, heavy=self.heavy, off_in=off_in)
        travel = Travel(edges, costs, used)
        joined = joins(units, edges, costs, travel)
        names: list[tuple[OrderName, tuple[float, float, float]]] = [
            ("middle", w) for w in weights
        ]
        if not weights or parts is None:
            names.append(("lines", self.settings.strict))
        for name, (order, heavy, change) in names:
            search = Sequencer(lie, joined, Weights(order * most_s, heavy * most_s, change))
            # What the pairing gave them in is a start, too: neighbours there join cheaply.
            given = 2 * np.arange(len(units))
            order_of = search.by_groups() if name == "lines" else search.best([given])
            walks = threaded(order_of.tolist(), units, costs, joined, travel.fresh())
            yield name, tidied(walks, self.edges, self.costs)


@uncollected()
def as_threads(walks: Sequence[Walk], edges: HalfEdges) -> list[Thread]:
    """Return walks as threads of legs."""
    ids = [p.id for p in edges.pieces]
    of = edges.piece_of.tolist()
    return [Thread(tuple(Leg(ids[of[h >> 1]], bool(h & 1)) for h in walk)) for walk in walks]
