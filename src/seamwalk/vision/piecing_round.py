"""Runs of short pieces laid on the exact arcs that they stand for.

In the net an arc is a run of short straight pieces, adjusted like all others.  Once its ends are
settled, one number is left, its sweep, which everything seen along the run decides; the run's
inner points then move on to the arc, and the junctions stay where they are.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.arc_fit import fitted_sweep, off_arc, sampled_arc
from seamwalk.geometry.curve import Point
from seamwalk.geometry.projective import Points
from seamwalk.vision.piecing_valid import Rings, allowed

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class RoundSettings:
    """What is still an arc once it has been looked at closely."""

    least_turn_deg: float = 15.0
    """What turns by less, degrees, may as well be a straight seam that puckers."""
    scatter: float = 4.0
    """The middle distance of what was seen from the arc is below this many of its own σ."""
    least_seen: int = 5
    """Fewer points leave the arc to the run's own nodes."""


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """The nodes of one arc in order, ends included, and what was seen along it.

    Attributes
    ----------
    nodes : (K,) int
        K > 2.
    seen : (N, 2) float64
        Points, in the unit of the nodes.
    sigma : (N,) float64
        Standard deviation of each across the arc.
    """

    nodes: Indices
    seen: Points
    sigma: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Rounded:
    """The nodes with every run on its arc.

    Attributes
    ----------
    nodes : (N, 2) float64
    sweep_rad : (R,) float64
        Of each run, x towards y positive; 0 where it is no arc after all.
    bow_sigma : (R,) float64
        Standard deviation of its middle across the arc, in the unit of the nodes; 0 where the
        points do not tell.
    """

    nodes: Points
    sweep_rad: Floats
    bow_sigma: Floats


def rounded(
    rings: Rings,
    nodes: Points,
    runs: Sequence[Run],
    *,
    narrowest: float = 0.0,
    settings: RoundSettings | None = None,
) -> Rounded:
    """Return the nodes (N, 2) with the inner ones of every run on its arc, the map still valid.

    Parameters
    ----------
    narrowest : float
        No patch becomes narrower, in the unit of the nodes.
    """
    s = settings or RoundSettings()
    sweep, bow = np.zeros(len(runs)), np.zeros(len(runs))
    wanted = nodes.copy()
    for k, run in enumerate(runs):
        start, end = _point(nodes[run.nodes[0]]), _point(nodes[run.nodes[-1]])
        told = len(run.seen) >= s.least_seen
        seen, sigma = (run.seen, run.sigma) if told else (nodes[run.nodes[1:-1]], np.ones(1))
        found, doubt = fitted_sweep(seen, start, end, sigma)
        off = np.abs(off_arc(seen, start, end, found)) / sigma
        if abs(found) < math.radians(s.least_turn_deg) or (
            told and float(np.median(off)) > s.scatter
        ):
            continue
        sweep[k] = found
        if told:
            # A change of the sweep moves the middle by an eighth of the chord, flat arcs nearly.
            bow[k] = doubt * math.dist(start, end) / (8 * math.cos(found / 4) ** 2)
        wanted[run.nodes[1:-1]] = sampled_arc(start, end, found, len(run.nodes) - 1)[1:-1]
    out = allowed(rings, nodes, wanted, narrowest=narrowest) if sweep.any() else nodes
    for k, run in enumerate(runs):
        if not np.array_equal(out[run.nodes], wanted[run.nodes]):
            sweep[k] = bow[k] = 0.0
    return Rounded(out, sweep, bow)


def _point(xy: Points) -> Point:
    return float(xy[0]), float(xy[1])
