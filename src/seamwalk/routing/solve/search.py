"""Better routes and better bounds by pricing what falls apart.

The pairing forgets that what is sewn must hang together, so it closes trails that no route can
close.  Prices on leaving sets of passes (see `prices`) make it leave them; each pairing, merged,
is a new route, from which the best one takes what is better (see `recombine`).  Prices start from
what it costs to join the trails (see `nesting`) and then follow the subgradient with Polyak's
step.

References
----------
Polyak, Minimization of unsmooth functionals, USSR Computational Mathematics and Mathematical
Physics 9, 1969.
"""

import itertools
from dataclasses import dataclass, field

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.solve.matching import Solver
from seamwalk.routing.solve.nesting import Prices
from seamwalk.routing.solve.pairing import Choices, Pairing, pair
from seamwalk.routing.solve.partitions import partitions
from seamwalk.routing.solve.prices import Cuts, Partition, fresh, moats, relief, reprice
from seamwalk.routing.solve.quick import is_too_long
from seamwalk.routing.solve.recombine import recombined
from seamwalk.routing.solve.spanning import spanned
from seamwalk.routing.solve.threads import Walk, paired, tidied, walks
from seamwalk.routing.solve.whole import cost_s, merged
from seamwalk.routing.solve.windows import WindowSettings, windowed
from seamwalk.routing.turning import Costs, Floats


@dataclass(frozen=True, slots=True)
class ImproveSettings:
    """How long to go on.

    Attributes
    ----------
    rounds : int
        Most rounds of prices.
    effort : int
        Half-edges paired in all rounds together: about a second of one core.
    wide : float
        A route further than this from its bound, as a share, is worth `least` rounds whatever
        its size: hours at the machine against seconds here.
    least : int
        Rounds.
    levels : int
        Nested sets priced at once; costs of joins take few values.
    starts : int
        Rounds that price nested sets of trails before the subgradient is followed: each lifts
        the bound at once, but later ones disturb what the first have settled.
    stretches : int
        Times that the first prices are all made greater, while that lifts the bound: turns on
        the way from trail to trail are not in them.
    longer : float
        By this factor.
    far : float
        Only where the first route is further than this from its bound, as a share.
    step : float
        First share of Polyak's step; halved, from the best prices on, when `patience` rounds
        bring no better bound.
    reach : float
        Largest gap that Polyak's step reckons with, as a share of the bound.
    patience : int
        Rounds.
    shortest : float
        Share of Polyak's step at which the bound is taken to stand still.
    progress : float
        Share of the gap that counts as a better bound.
    small : int
        Networks up to this many half-edges get no windows: their proof does more (see `exact`).
    provable : int
        Up to this many half-edges rounds go on where the bound stands still: they are quick, and
        each finds sets that a proof needs.
    usable : float
        Share of a time limit that is planned for: rounds and windows take different times.
    near : float
        A route this close to its bound, as a share, is as good as proven: rounding of weights.
    windows : WindowSettings
        Parts that are solved exactly in the end.
    """

    rounds: int = 60
    effort: int = 60_000
    wide: float = 0.003
    least: int = 10
    levels: int = 12
    starts: int = 2
    stretches: int = 3
    longer: float = 1.3
    far: float = 0.05
    step: float = 0.7
    reach: float = 0.1
    patience: int = 4
    shortest: float = 0.04
    progress: float = 0.01
    small: int = 1000
    provable: int = 700
    usable: float = 0.95
    near: float = 1e-5
    windows: WindowSettings = field(default_factory=WindowSettings)


DEFAULT = ImproveSettings()


class Search:
    """Prices, the best route and the best bound, round by round."""

    def __init__(
        self,
        given: Choices,
        machine: MachineProfile,
        solver: Solver,
        settings: ImproveSettings,
        until: float | None = None,
    ) -> None:
        self.given, self.machine, self.solver, self.settings = given, machine, solver, settings
        self.until = until
        self.costs = Costs(given.edges, machine)
        self.best: list[Walk] = []
        self.cost_s = float("inf")
        self.bound_s = float("-inf")
        self.prices: Prices | None = None
        self.partitions: list[Partition] = []
        self.cuts: list[Cuts] = []
        self.known: set[bytes] = set()
        self.kept: tuple[Pairing, list[Floats]] | None = None
        self.share, self.waited = settings.step, 0
        self.starts, self.stretch = settings.starts, 0
        self.pairing: Pairing | None = None

    @property
    def gap(self) -> float:
        """How far the route is from the bound, as a share."""
        return (self.cost_s - self.bound_s) / self.cost_s

    @property
    def is_stalled(self) -> bool:
        """Whether prices hardly move the bound any more, and more sets would help no proof."""
        large = len(self.given.halves) > self.settings.provable
        return large and self.share < self.settings.shortest

    def worth(self, enough: int) -> int:
        """Return how many rounds the top is worth, where `enough` are for its size."""
        settings = self.settings
        if self.gap > settings.far and len(self.given.halves) > settings.provable:
            # Prices that are far from right make pairing many times slower.
            return settings.least
        return max(enough, settings.least) if self.gap > settings.wide else enough

    def round(self) -> None:
        """Set new prices, pair, and take from the new route what is better."""
        if self.pairing is not None:
            self.price(self.pairing)
        off = relief(self.given, self.cuts, self.partitions)
        # Small tops are to be proven: there the price of a thread end is found anew each time.
        large = len(self.given.halves) > self.settings.provable
        known_s = self.pairing.opening_s if large and self.pairing is not None else None
        self.pairing = pair(self.given, relief=off, solver=self.solver, opening_s=known_s)
        least = self.settings.progress * (self.cost_s - self.bound_s)
        self.waited = 0 if self.pairing.bound_s > self.bound_s + least else self.waited + 1
        if self.pairing.bound_s >= self.bound_s:
            self.bound_s = self.pairing.bound_s
            self.kept = self.pairing, [f.price_s.copy() for f in self.cuts]
        route = merged(self.given.edges, self.machine, self.pairing, self.costs)
        if not self.best:
            self.keep(route)
            self.span(self.pairing)
            return
        self.take(paired(route, self.given.edges, self.bound_s))
        # Where the pairing falls apart it may be opened more cheaply within the best route.
        self.take(self.pairing)

    def span(self, pairing: Pairing) -> None:
        """Join what lies apart along a tree, if that is better than there and back."""
        if self.gap <= self.settings.far or is_too_long(self.given, self.until):
            return
        linked = spanned(self.given, self.machine, pairing, solver=self.solver)
        if linked is not None:
            self.keep(merged(self.given.edges, self.machine, linked, self.costs))

    def finish(self, until: float | None) -> None:
        """Solve parts of the best route exactly, where the best bound goes another way."""
        small = len(self.given.halves) <= self.settings.small
        if small or self.gap <= self.settings.near or self.kept is None:
            return
        best = paired(self.best, self.given.edges, self.bound_s)
        how = self.settings.windows
        other = self.kept[0]
        self.use(windowed(self.given, self.costs, best, other, until=until, settings=how), best)

    def take(self, other: Pairing) -> None:
        """Make the best route better by what another pairing does better."""
        best = paired(self.best, self.given.edges, self.bound_s)
        self.use(recombined(self.given.edges, self.costs, best, other), best)

    def use(self, new: Pairing, best: Pairing) -> None:
        """Make a pairing that is better than the best one the best route."""
        if new is not best:
            self.keep(tidied(walks(new), self.given.edges, self.costs))

    def keep(self, route: list[Walk]) -> None:
        """Make a route the best one if it is cheaper."""
        total_s = cost_s(route, self.costs)
        if total_s < self.cost_s:
            self.best, self.cost_s = route, total_s

    def price(self, pairing: Pairing) -> None:
        """Set new prices after a pairing."""
        given, settings = self.given, self.settings
        if self.prices is None:
            self.prices = Prices(given)
            self.partitions = partitions(given, pairing, self.prices, settings.levels)
            if self.partitions:
                return
        if self.partitions and not self.cuts and pairing.bound_s < self.bound_s:
            # Sets that meet three at a node may be united more cheaply than two by two.
            self.partitions = []
            assert self.kept is not None
            pairing = self.kept[0]
        if self.stretch > 0 and self.kept is not None:
            if pairing.bound_s >= self.bound_s:
                self.stretch -= 1
                for f in self.cuts:
                    f.price_s = settings.longer * f.price_s
                return
            self.stretch = 0
            pairing = self.back()
        if self.starts > 0 and pairing.bound_s >= self.bound_s:
            off = relief(given, self.cuts, self.partitions)
            far = self.gap > settings.far
            new = moats(given, pairing, self.prices, off, settings.levels, over_ditches=far)
            # What is saved by leaving sets is not known of ditches: no second start from them.
            self.starts = 0 if far else self.starts - 1
            self.stretch = settings.stretches if far else 0
            self.cuts += new
            if new:
                return
        self.starts = self.stretch = 0
        new_cuts = fresh(given, pairing, self.known)
        if new_cuts is not None:
            self.cuts.append(new_cuts)
        if self.waited >= settings.patience and self.kept is not None:
            # Too far: back to the best prices, and on from there by a shorter step.
            self.share, self.waited = self.share / 2, 0
            pairing = self.back()
        # A first route may be far off: prices that move by all of that gap would go astray.
        gap_s = min(self.cost_s - pairing.bound_s, settings.reach * self.bound_s)
        reprice(self.cuts, pairing, self.share * gap_s)

    def back(self) -> Pairing:
        """Go back to the best prices, and return their pairing."""
        assert self.kept is not None
        pairing, prices = self.kept
        for f, price_s in itertools.zip_longest(self.cuts, prices):
            f.price_s = 0 * f.price_s if price_s is None else price_s.copy()
        return pairing
