"""Better routes from what two pairings do differently.

Laid over one another, two pairings of the same half-edges fall into alternating cycles and paths
that share nothing (Berge), so each of them may be exchanged by itself and the gains add up.  An
exchange that saves time is made if every thread still has two ends; one that would close a trail
is made together with another, or with the swap at a node that opens it most cheaply, if both save
time together.
Routes that are good in different places so become one that is good in all of them.

References
----------
Berge, Two theorems in graph theory, Proceedings of the National Academy of Sciences 43, 1957.
"""

from dataclasses import dataclass

import numpy as np

from seamwalk.routing.solve.layout import Layout, Mates, at_nodes, exchanged
from seamwalk.routing.solve.pairing import Pairing
from seamwalk.routing.turning import END, Costs, Floats, HalfEdges, Ints


@dataclass(frozen=True, slots=True)
class RecombineSettings:
    """How much is tried.

    Attributes
    ----------
    batch : int
        Half-edges exchanged before the threads are laid out anew: trying takes time in
        proportion to them, laying out to the whole route.
    partners : int
        Other exchanges tried with one that closes a trail, the best ones first.
    worth_s : float
        Least gain, seconds: below is rounding.
    """

    batch: int = 240
    partners: int = 12
    worth_s: float = 1e-6


DEFAULT = RecombineSettings()


@dataclass(frozen=True, slots=True)
class _Exchange:
    """New mates for some half-edges, those before, and the seconds that the new ones save."""

    rank: int
    gain_s: float
    mates: Mates
    before: Mates


def recombined(
    edges: HalfEdges,
    costs: Costs,
    best: Pairing,
    other: Pairing,
    *,
    settings: RecombineSettings = DEFAULT,
) -> Pairing:
    """Return `best` with everything from `other` that saves time and closes no trail.

    Parameters
    ----------
    edges : HalfEdges
        The passes.
    costs : Costs
        Seconds.
    best : Pairing
        Without closed trails.
    other : Pairing
        Any pairing of the same half-edges.
    settings : RecombineSettings
        See there.
    """
    exchanges = _exchanges(edges, costs, best, other)
    if not any(e.gain_s > settings.worth_s for e in exchanges):
        return best
    layout = Layout(edges, best)
    at = at_nodes(edges)
    done: Mates = {}
    owner = {h: e for e in exchanges for h in e.mates}
    for exchange in exchanges:
        if exchange.gain_s <= settings.worth_s:
            break
        if not _fits(layout, done, exchange):
            continue
        mates = done | exchange.mates
        closed = layout.closed(mates)
        if closed:
            least_s = settings.worth_s - exchange.gain_s
            inside = layout.halves(min(closed, key=len), mates)
            near = {owner[h].rank: owner[h] for h in inside if h in owner}
            found = next(
                (
                    p
                    for _, p in sorted(near.items())[: settings.partners]
                    if p.gain_s > least_s
                    and _fits(layout, mates, p)
                    and not layout.closed(mates | p.mates)
                ),
                None,
            )
            opened = layout.opened(mates, at, costs, -least_s)
            if found is not None:
                opened = mates | found.mates
            if opened is None:
                continue
            mates = opened
        done = mates
        if len(done) > settings.batch:
            best = exchanged(edges, best, done)
            layout, done = Layout(edges, best), {}
    return exchanged(edges, best, done)


def _fits(layout: Layout, done: Mates, exchange: _Exchange) -> bool:
    """Return whether none of the half-edges of the exchange has been mated anew meanwhile."""
    return done.keys().isdisjoint(exchange.mates) and all(
        layout.mate[h] == m for h, m in exchange.before.items()
    )


def _exchanges(edges: HalfEdges, costs: Costs, best: Pairing, other: Pairing) -> list[_Exchange]:
    """Return the alternating cycles and paths between two pairings, the best first."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    differ = np.flatnonzero(best.mate != other.mate)
    if not len(differ):
        return []
    number = np.zeros(len(best.mate), dtype=np.intp)
    number[differ] = np.arange(len(differ))
    a = np.tile(differ, 2)
    b = np.concatenate([best.mate[differ], other.mate[differ]])
    a, b = a[b != END], b[b != END]
    graph = coo_array(
        (np.ones(len(a), dtype=np.int8), (number[a], number[b])), shape=(len(differ),) * 2
    )
    count, of = connected_components(graph, directed=False)
    gain = np.bincount(
        of,
        weights=_halves_s(edges, costs, best, differ) - _halves_s(edges, costs, other, differ),
        minlength=count,
    )
    order = np.argsort(of, kind="stable")
    groups = np.split(differ[order], np.flatnonzero(np.diff(of[order])) + 1)
    ranked = sorted(zip(gain.tolist(), groups, strict=True), key=lambda r: (-r[0], int(r[1][0])))
    return [
        _Exchange(
            rank,
            g,
            dict(zip(halves.tolist(), other.mate[halves].tolist(), strict=True)),
            dict(zip(halves.tolist(), best.mate[halves].tolist(), strict=True)),
        )
        for rank, (g, halves) in enumerate(ranked)
    ]


def _halves_s(edges: HalfEdges, costs: Costs, pairing: Pairing, halves: Ints) -> Floats:
    """Return the seconds of each half-edge: half its turn or its thread end, half its copy."""
    sewn_s = np.where(edges.required | ~pairing.used, 0.0, edges.sew_s / 2)
    turns = [
        0.0 if not used else costs.turn(h, m) / (1 if m == END else 2)
        for h, m, used in zip(
            halves.tolist(),
            pairing.mate[halves].tolist(),
            pairing.used[halves >> 1].tolist(),
            strict=True,
        )
    ]
    out: Floats = np.array(turns) + sewn_s[halves >> 1]
    return out
