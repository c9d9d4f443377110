"""Which patches share a fabric: planned, scrappy, in two colours, shaded over the top."""

from dataclasses import dataclass

import numpy as np

from seamwalk.training.borders import BORDER
from seamwalk.training.pieces import FRAME, STRIPS, Ints, Pieces


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """How fabrics are dealt.

    Attributes
    ----------
    plans : tuple of (str, float)
        Each plan with its share.
    joined_share : float
        Share of tops in which some classes are cut from one fabric though the block tells them
        apart, so that seams within one fabric come about.
    scraps : tuple of int
        Least and most fabrics of a scrappy class.
    whole_share : float
        Share of one-fabric tops that stay so; the others are made of scraps.
    """

    plans: tuple[tuple[str, float], ...] = (
        ("planned", 0.32),
        ("scrappy figures", 0.28),
        ("block by block", 0.16),
        ("all scraps", 0.1),
        ("two fabrics", 0.09),
        ("shaded", 0.05),
    )
    joined_share: float = 0.6
    scraps: tuple[int, int] = (3, 40)
    whole_share: float = 0.25


SETTINGS = PlanSettings()

FAMILY = 64
"""Fabrics of one class at most: numbers of classes are spread by it."""


def dealt(pieces: Pieces, rng: np.random.Generator, settings: PlanSettings = SETTINGS) -> Ints:
    """Return the fabric of each piece (n,), numbered from 0."""
    names = [n for n, _ in settings.plans]
    plan = str(rng.choice(names, p=[s for _, s in settings.plans]))
    classes = pieces.classes.copy()
    n = len(pieces)
    frame = classes >= FRAME
    scraps = _log_integer(rng, *settings.scraps)
    if plan == "two fabrics":
        fabric = np.where(classes >= BORDER, (classes // 10) % 2, classes % 2)
        return _numbered(fabric)
    if rng.random() < settings.joined_share:
        classes = _joined(classes, rng)
    spread = np.zeros(n, dtype=np.int64)
    if plan == "scrappy figures":
        own = np.unique(classes)
        loose = own[(rng.random(len(own)) < 0.6) & (own > 0) & (own < FRAME)]
        spread = np.where(np.isin(classes, loose), rng.integers(0, scraps, n), 0)
    elif plan == "block by block":
        home = rng.integers(0, scraps, int(pieces.homes.max()) + 1)
        ground = rng.random() < 0.6
        spread = np.where(frame | (ground & (classes == 0)), 0, home[pieces.homes])
    elif plan == "all scraps":
        spread = np.where(frame, 0, rng.integers(0, scraps, n))
        if rng.random() < 0.5:
            classes = np.where(frame, classes, 0)
    elif plan == "shaded":
        middle = (pieces.low + pieces.high) / 2
        span = np.ptp(middle, axis=0).max() + 1e-9
        if rng.random() < 0.5:
            way = np.abs(middle - middle.mean(axis=0)).max(axis=1) * 2 / span
        else:
            way = (middle - middle.min(axis=0)) @ rng.uniform(0, 1, 2) / span
        bands = int(rng.integers(3, 12))
        spread = np.where(frame, 0, (way * bands).astype(np.int64) % FAMILY)
    if plan != "all scraps" and rng.random() < 0.5:
        # Strips of one place in every block are one fabric, or any of a few.
        strips = (classes >= STRIPS) & ~frame
        few = _log_integer(rng, 2, 40)
        classes = np.where(
            strips, STRIPS + (classes * 7919 + int(rng.integers(99))) % few, classes
        )
    out = _numbered(classes * FAMILY + spread % FAMILY)
    if out.max() == 0 and rng.random() < settings.whole_share:
        return out
    return out if out.max() else _numbered(rng.integers(0, scraps, n))


def _joined(classes: Ints, rng: np.random.Generator) -> Ints:
    """Return classes with some made equal."""
    own = np.unique(classes)
    to = own.copy()
    for _ in range(int(rng.integers(1, max(2, len(own) // 2 + 1)))):
        a, b = rng.integers(0, len(own), 2)
        to[a] = to[b]
    return to[np.searchsorted(own, classes)]


def _log_integer(rng: np.random.Generator, low: int, high: int) -> int:
    return int(np.exp(rng.uniform(np.log(low), np.log(high + 1))))


def _numbered(fabric: Ints) -> Ints:
    """Return the fabrics numbered 0, 1, … without gaps."""
    return np.unique(fabric, return_inverse=True)[1].astype(np.int64)
