"""Fitting the judge of borders: its weights, where to stop joining, and what its odds are worth.

References
----------
Platt, Probabilistic outputs for support vector machines, in Advances in Large Margin Classifiers,
2000 (a scale and an offset of the log-odds, fitted on cases set aside).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import torch
from numpy.typing import NDArray
from scipy import optimize
from torch.nn import functional

from seamwalk.training.judge_borders import Cut, Met, Odds, f1_at
from seamwalk.vision.heat_features import AGAIN, MEASURES
from seamwalk.vision.heat_graph import Array
from seamwalk.vision.heat_merge import odds_of
from seamwalk.vision.heat_weights import Judge

Rows = NDArray[np.float32]

COPIES = [MEASURES.index("copies show it"), MEASURES.index("copies lack it")]
OTHERS = [*COPIES, *range(AGAIN.index("other blocks show it"), len(AGAIN))]
"""Columns of what other blocks show, in a first look and in further ones."""


@dataclass(frozen=True, slots=True)
class FitSettings:
    """How the judge is fitted."""

    hidden: int = 12
    """Hidden units of each member; twice as many gained nothing on pictures set aside."""
    members: int = 4
    """Judges whose mean log-odds are taken, each fitted on pictures drawn with replacement: one
    alone says chance things of borders unlike those it met (bagging)."""
    l2: float = 1e-4
    """Penalty on squared weights: keeps the odds of rare borders moderate."""
    steps: int = 2000
    batch: int = 4096
    rate: float = 0.02
    """Highest rate of learning; it falls to 0 along half a cosine."""
    forgotten: float = 0.12
    """Share of borders whose copies in other blocks are taken away: no block is alone in the
    training's tops as often as in real ones."""
    stops: tuple[float, ...] = (0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6)
    """Probabilities at which joining might stop."""
    island: float = 0.9
    """As `MergeSettings.island`."""


def policy(judge: Judge, settings: FitSettings | None = None) -> Odds:
    """Return how borders are judged while joining."""
    s = settings or FitSettings()
    return lambda found: odds_of(found, judge, s.island)


def log_odds(p: float | Array) -> Array:
    """Return log(p / (1 − p))."""
    out: Array = np.log(np.asarray(p, dtype=np.float64) / (1 - np.asarray(p, dtype=np.float64)))
    return out


def fit(
    mets: Sequence[Met], rng: np.random.Generator, settings: FitSettings | None = None
) -> Judge:
    """Return a judge that minimises the mean log loss over borders.

    Every picture counts the same, as it does in the figures: one with a busy print has many times
    the borders of a plain one.  The members together are one network, as wide as all of them.

    References
    ----------
    Breiman, Bagging predictors, Machine Learning 24, 1996.
    """
    s = settings or FitSettings()
    used = [m for m in mets if len(m.real)]
    found = np.concatenate([m.found for m in used])
    mean = found.mean(axis=0, dtype=np.float64)
    spread = found.std(axis=0, dtype=np.float64) + 1e-6
    forgotten = rng.random(len(found)) < s.forgotten
    for column in COPIES if found.shape[1] == len(MEASURES) else OTHERS:
        found[forgotten, column] = 0
    z = torch.from_numpy(((found - mean) / spread).astype(np.float32))
    y = torch.from_numpy(np.concatenate([m.real for m in used]).astype(np.float32))
    picture = np.repeat(np.arange(len(used)), [len(m.real) for m in used])
    each = 1 / np.bincount(picture)
    members = []
    for _ in range(s.members):
        times = np.bincount(rng.integers(0, len(used), len(used)), minlength=len(used))
        weight = (each * (times if s.members > 1 else 1))[picture]
        w = torch.from_numpy((weight / weight.mean()).astype(np.float32))
        members.append(_member(z, y, w, rng, s))
    hidden, hidden_bias, out, bias = (list(part) for part in zip(*members, strict=True))
    return Judge(
        mean,
        spread,
        np.concatenate(hidden, axis=1),
        np.concatenate(hidden_bias),
        np.concatenate(out) / s.members,
        float(np.mean(bias)),
    )


def _member(
    z: torch.Tensor, y: torch.Tensor, w: torch.Tensor, rng: np.random.Generator, s: FitSettings
) -> tuple[Array, Array, Array, float]:
    """Return weights, biases, output weights and output bias of one hidden layer.

    Parameters
    ----------
    z : (M, F) float32
        Standardised measures.
    y, w : (M,) float32
        1 for a real border; weight, mean 1.
    """
    count = z.shape[1]

    def drawn(size: tuple[int, ...], fan: int) -> torch.Tensor:
        start = torch.from_numpy(rng.normal(0, fan**-0.5, size).astype(np.float32))
        return start.requires_grad_()

    hidden, out = drawn((count, s.hidden), count), drawn((s.hidden,), s.hidden)
    hidden_bias = torch.zeros(s.hidden, requires_grad=True)
    bias = torch.zeros(1, requires_grad=True)
    moved = [hidden, hidden_bias, out, bias]
    steps = torch.optim.Adam(moved, lr=s.rate)
    rates = torch.optim.lr_scheduler.CosineAnnealingLR(steps, s.steps)
    for _ in range(s.steps):
        pick = torch.from_numpy(rng.integers(0, len(z), s.batch))
        odds = torch.relu(z[pick] @ hidden + hidden_bias) @ out + bias
        miss = functional.binary_cross_entropy_with_logits(odds, y[pick], reduction="none")
        loss = (miss * w[pick]).mean() + s.l2 * ((hidden**2).sum() + (out**2).sum())
        steps.zero_grad()
        loss.backward()  # type: ignore[no-untyped-call]
        steps.step()
        rates.step()
    a, b, c, d = (p.detach().numpy().astype(np.float64) for p in moved)
    return a, b, c, float(d[0])


def stopped(
    judge: Judge, cuts: Sequence[Cut], settings: FitSettings | None = None
) -> tuple[Judge, Array]:
    """Return the judge with the stop at which most patches of `cuts` are found.

    Returns
    -------
    judge : Judge
    f1 : (L,) float64
        Mean F1 at each of `FitSettings.stops`.
    """
    s = settings or FitSettings()
    limits = log_odds(np.array(s.stops))
    f1: Array = np.mean([f1_at(cut, policy(judge, s), limits) for cut in cuts], axis=0)
    # The curve is flat about its top, and noisy: the middle of all that are nearly best.
    good = np.flatnonzero(f1 >= f1.max() - 0.0005)
    return replace(judge, stop=s.stops[int(good[len(good) // 2])]), f1


def calibrated(judge: Judge, odds: Array, real: NDArray[np.bool_]) -> Judge:
    """Return the judge with scale and lean that fit borders left (M,) set aside."""

    def loss(x: Array) -> tuple[float, Array]:
        t = np.clip(x[0] * odds + x[1], -30, 30)
        miss = 1 / (1 + np.exp(-t)) - real
        # A gentle pull towards no change decides where all borders are real.
        pull = np.array([x[0] - 1, x[1]]) * 1e-4
        value = np.mean(np.logaddexp(0, t) - real * t) + (pull**2).sum() / 2e-4
        return float(value), np.array([np.mean(miss * odds), np.mean(miss)]) + pull

    best = optimize.minimize(
        loss, np.array([1.0, 0.0]), jac=True, method="L-BFGS-B", bounds=[(0.05, 3), (-3, 3)]
    )
    return replace(judge, scale=float(best.x[0]), lean=float(best.x[1]))


def calibration_error(sure: Array, real: NDArray[np.bool_], bins: int = 10) -> float:
    """Return the mean gap between what is said and what is so, over tenths of what is said."""
    at = np.minimum((sure * bins).astype(int), bins - 1)
    gap = np.bincount(at, sure - real, bins)
    return float(np.abs(gap).sum() / max(len(sure), 1))
