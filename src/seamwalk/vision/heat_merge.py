"""Which borders of an over-cut top are seams.

Every border gets a probability of being a seam from what :mod:`heat_features` measures, by a small
network of one hidden layer; the weakest are dissolved in rounds, each region with at most one
other, and what that changed is judged anew, until every border left is likely enough a seam.
The weights (:mod:`heat_weights`) were fitted on the pictures that the network is trained on.

References
----------
Ren and Shakhnarovich, Image segmentation by cascaded region agglomeration, CVPR 2013 (joining in
stages by a learned judge); Borůvka's rounds, as in any textbook of graph algorithms.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from seamwalk.vision.heat_again import AgainSettings
from seamwalk.vision.heat_features import AGAIN, MEASURES, measures
from seamwalk.vision.heat_graph import Array, Indices, RegionMap
from seamwalk.vision.heat_lines import Field
from seamwalk.vision.heat_weights import Judge, fitted, fitted_again

SEEN = MEASURES.index("share above 0.5")
OUTLINE = MEASURES.index("share of the smaller outline")
SMALLER = MEASURES.index("log smaller area")
SHOWN = AGAIN.index("other blocks beyond chance")


@dataclass(frozen=True, slots=True)
class MergeSettings:
    """When a border is dissolved."""

    rounds: int = 60
    """Most rounds; some ten are used."""
    island: float = 0.9
    """A border that is so much of a region's outline goes round it."""
    judge: Judge = field(default_factory=fitted)
    """Of a first look …"""
    second: Judge = field(default_factory=fitted_again)
    """… and of further ones; each has a stop of its own."""
    shown: float = 0.83
    """A border that other blocks show by so much more than chance stays, however little of it is
    seen here: it is an offer to be confirmed …"""
    sliver: float = 0.1
    """… unless one of its regions is smaller than this share of a typical one: slivers lie along a
    seam, whose own copies are no support for them."""
    again: AgainSettings = field(default_factory=AgainSettings)
    """How far other blocks are believed, where there was a second look."""


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """A partition with what is thought of its borders.

    Attributes
    ----------
    regions : RegionMap
    found : (M, F) float64
        Measures of the borders left.
    odds : (M,) float64
        Their log-odds of being seams.
    sure : (M,) float64
        Probability of each that it is real, now that the others are dissolved.
    """

    regions: RegionMap
    found: Array
    odds: Array
    sure: Array


def merged(
    regions: RegionMap, field: Field, side: float, settings: MergeSettings | None = None
) -> Judged:
    """Return `regions` with the borders that are no seams dissolved.

    Parameters
    ----------
    field : Field
        Heat and direction on the regions' grid.
    side : float
        Side of a typical region, pixels.
    """
    s = settings or MergeSettings()
    judge = s.judge if field.found is None else s.second
    limit = np.log(judge.stop / (1 - judge.stop))
    found = measures(regions, field, side)
    odds = offered(odds_of(found, judge, s.island), found, limit, s)
    for _ in range(s.rounds):
        into = weakest(regions, odds, limit)
        if into is None:
            break
        regions = regions.joined(into)
        found = measures(regions, field, side, found)
        odds = offered(odds_of(found, judge, s.island), found, limit, s)
    return Judged(regions, found, odds, judge.sure(odds))


def odds_of(found: Array, judge: Judge, island: float) -> Array:
    """Return log-odds; a region within another is judged by the heat round it alone.

    The judge has met too few of them, and a closed line has no direction.
    """
    heat = np.clip(found[:, SEEN], 0.02, 0.98)
    return np.where(found[:, OUTLINE] > island, np.log(heat / (1 - heat)), judge.odds(found))


def offered(odds: Array, found: Array, limit: float, settings: MergeSettings) -> Array:
    """Return log-odds, at `limit` at least where nearly all other blocks show the border."""
    if found.shape[1] == len(MEASURES):
        return odds
    keep = found[:, SHOWN] >= settings.shown
    keep &= found[:, SMALLER] > np.log(settings.sliver)
    return np.where(keep, np.maximum(odds, limit), odds)


def weakest(regions: RegionMap, odds: Array, limit: float) -> Indices | None:
    """Return which region each one joins, itself where none; None where nothing is to join.

    A border is dissolved where it is below `limit` and the weakest of both its regions.
    """
    n = len(regions.size)
    best = np.full(n, np.inf)
    a, b = regions.pair.T
    np.minimum.at(best, a, odds)
    np.minimum.at(best, b, odds)
    go: NDArray[np.bool_] = (odds < limit) & (odds <= best[a]) & (odds <= best[b])
    if not go.any():
        return None
    into = np.arange(n)
    taken = np.zeros(n, dtype=bool)
    for keep, gone in regions.pair[go].tolist():
        # Equal odds may name a region twice.
        if not (taken[keep] or taken[gone]):
            taken[[keep, gone]] = True
            into[gone] = keep
    return into
