"""Whether a pattern's sizes are in inches or metric, where nobody said.

Sizes in inch patterns fall on eighths, in metric ones on half centimetres.  On the wrong grain
what is left to the nearest size is anything, on the right one it is small: each kind's mean is
held against both, and by Bayes' rule the two together with how often such patterns are sewn give
a chance.

What moves all kinds alike, the camera's scale and the maker's seam allowance, must not pass for
many witnesses.  The two strongest of these errors are integrated over; what remains counts to
each kind's own.  A dimension that several kinds share is one witness too.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.model.sizes import Shape
from seamwalk.trade import GRAIN_CM, GRAIN_IN
from seamwalk.units import CM_PER_IN, Units, pattern_units, to_inches
from seamwalk.vision.measure_classes import KindSize
from seamwalk.vision.measure_meant import MeantSettings, how_common

Floats = NDArray[np.float64]

TELLING: tuple[Shape, ...] = ("square", "rectangle", "half-square triangle")
"""Shapes whose dimensions a pattern gives; setting triangles follow from a diagonal."""

USUAL_GRAIN_IN: dict[Units, float] = {"in": GRAIN_IN, "cm": to_inches(GRAIN_CM, "cm")}
"""Grain of patterns in inches and of metric ones, inches."""


@dataclass(frozen=True, slots=True)
class GrainSettings:
    """What is known of makers' patterns, and what a kind must be to tell of them."""

    inch_patterns: float = 0.5
    """Share of the tops of makers who work in centimetres that are sewn from patterns in inches
    (common practice, no source: many patterns come from where inches are used)."""
    metric_patterns: float = 0.05
    """Share of the tops of makers who work in inches that are sewn from metric patterns (common
    practice, no source)."""
    clear: float = 0.8
    """The grain of the other units is taken from this chance on; below, her own stays."""
    fewest: int = 3
    """Kinds of fewer patches may be misread ones."""
    tells_in: float = 0.1
    """Dimensions with a larger σ tell nothing, inches: half the step of 5 mm."""
    kind_in: float = 1 / 64
    """σ of what pressing and piecing do to all patches of one kind alike, inches (common
    practice, no source)."""
    same_in: float = 1 / 16
    """Dimensions that differ by no more than this are one in the pattern, inches: half the grain
    of inch patterns."""
    odd: float = 0.1
    """Share of dimensions on no grain: misread, or not meant to be on one."""
    reach: float = 4.0
    """The shared errors are followed so many σ to both sides …"""
    step: float = 0.2
    """… in steps of this many σ."""


@dataclass(frozen=True, slots=True)
class Grain:
    """The step of finished sizes.

    Attributes
    ----------
    grain_in : float
        Finished sizes are multiples of this, inches.
    units : {"in", "cm"}
        Of the pattern.
    chance : float
        Probability that this grain, not the other, is the pattern's; 1 where it was given.
    other_in : float or None
        The other grain, inches; None where the grain was given.
    """

    grain_in: float
    units: Units
    chance: float = 1.0
    other_in: float | None = None


def grain_of(
    sized: list[KindSize],
    units: Units,
    grain_in: float | None = None,
    settings: GrainSettings | None = None,
    meant: MeantSettings | None = None,
) -> Grain:
    """Return the grain that was given, else the one that the sizes fit.

    Parameters
    ----------
    units : {"in", "cm"}
        The maker's own: their grain stays unless the other one fits clearly better.
    grain_in : float or None
        The grain that was given, inches.
    """
    if grain_in is not None:
        return Grain(grain_in, pattern_units(grain_in, units))
    s, m = settings or GrainSettings(), meant or MeantSettings()
    other: Units = "cm" if units == "in" else "in"
    prior = s.metric_patterns if units == "in" else s.inch_patterns
    mean, own, shared = _dimensions(sized, s)
    log = [_log_likelihood(mean, own, shared, USUAL_GRAIN_IN[u], s, m) for u in (units, other)]
    odds = np.exp(np.clip(log[1] - log[0], -50, 50)) * prior / (1 - prior)
    chance = float(odds / (1 + odds))
    if chance >= s.clear:
        return Grain(USUAL_GRAIN_IN[other], other, chance, USUAL_GRAIN_IN[units])
    return Grain(USUAL_GRAIN_IN[units], units, 1 - chance, USUAL_GRAIN_IN[other])


def _dimensions(sized: list[KindSize], s: GrainSettings) -> tuple[Floats, Floats, Floats]:
    """Return the N dimensions that tell: mean (N,), own variance (N,), shared errors (N, 2)."""
    telling = [
        one for one in sized if one.kind.shape in TELLING and len(one.kind.true) >= s.fewest
    ]
    if not telling:
        return np.zeros(0), np.zeros(0), np.zeros((0, 2))
    mean = np.concatenate([one.mean_in for one in telling])
    own = np.concatenate([one.own_in2 for one in telling]) + s.kind_in**2
    shared = np.concatenate([one.shared_in for one in telling])
    sure = own + (shared**2).sum(axis=1) <= s.tells_in**2
    mean, own, shared = _once(mean[sure], own[sure], shared[sure], s)
    # Errors that weigh most beside what is each kind's own come first.
    scale = np.sqrt(own)[:, None]
    turned, strength, _ = np.linalg.svd(shared / scale, full_matrices=False)
    turned = turned * strength * scale
    left = (turned[:, 2:] ** 2).sum(axis=1)
    two = np.zeros((len(mean), 2))
    two[:, : min(2, turned.shape[1])] = turned[:, :2]
    return mean, own + left, two


def _once(
    mean: Floats, own: Floats, shared: Floats, s: GrainSettings
) -> tuple[Floats, Floats, Floats]:
    """Return dimensions that are meant to be equal as one: a width that all logs have."""
    groups: list[list[int]] = []
    for k in np.argsort(mean, kind="stable").tolist():
        if groups and mean[k] - mean[groups[-1][0]] <= s.same_in:
            groups[-1].append(k)
        else:
            groups.append([k])
    share = np.zeros((len(groups), len(mean)))
    for row, group in zip(share, groups, strict=True):
        row[group] = 1 / own[group]
    share /= share.sum(axis=1, keepdims=True)
    return share @ mean, share**2 @ own, share @ shared


def _log_likelihood(
    mean: Floats, own: Floats, shared: Floats, grain_in: float, s: GrainSettings, m: MeantSettings
) -> float:
    """Return the logarithm of how likely these dimensions are if they were meant on a grain."""
    if not len(mean):
        return 0.0
    steps = np.arange(-s.reach, s.reach + s.step / 2, s.step)
    nodes = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    weight = -0.5 * (nodes**2).sum(axis=1)
    log = weight - np.logaddexp.reduce(weight)
    for value, variance, way in zip(mean, own, shared, strict=True):
        reach = s.reach * (np.abs(way).sum() + np.sqrt(variance)) + grain_in
        low = max(1, int(np.ceil((value - reach) / grain_in)))
        sizes = np.arange(low, int(np.floor((value + reach) / grain_in)) + 1) * grain_in
        off = (value - nodes @ way)[:, None] - sizes
        near = np.exp(-0.5 * off**2 / variance) / np.sqrt(2 * np.pi * variance)
        density = near @ (how_common(sizes, grain_in, m) / _common_per_inch(grain_in, m))
        log += np.log((1 - s.odd) * density + s.odd)
    return float(np.logaddexp.reduce(log))


def _common_per_inch(grain_in: float, m: MeantSettings) -> float:
    """Return the sum of how common the sizes of a grain are, for each inch of length."""
    unit_in = 1 / CM_PER_IN if pattern_units(grain_in, "cm") == "cm" else 1.0
    steps = np.arange(1, round(unit_in / grain_in) + 1) * grain_in
    return float(how_common(steps, grain_in, m).sum() / unit_in)
