"""Stray ridges of heat where no seam is, one by one or in the same place of all like patches.

Prints, folds and shadows make single ones. Many at the same place come about where a print lies
in every patch the same way, and where the network takes a seam beside a patch to go on through it.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.model.picture import SeamEvidence

Array = NDArray[np.float64]
Float = NDArray[np.float32]
Labels = NDArray[np.int32]
Box = tuple[slice, slice]


@dataclass(frozen=True, slots=True)
class StraySettings:
    """How many strays, and how strong."""

    each: float = 0.8
    """Most single ridges for every patch."""
    heat: tuple[float, float] = (0.08, 0.75)
    kinds: float = 0.4
    """Share of the kinds of patches that get ridges all alike."""
    least: int = 4
    """Patches from which they are a kind."""
    there: tuple[float, float] = (0.3, 1.0)
    """Share of the patches of such a kind that show it …"""
    uneven: tuple[float, float] = (0.3, 1.2)
    """… and how strongly, of the kind's own heat."""
    astray: float = 0.01
    """Standard deviation of its ends, share of the patch's sides."""


@dataclass(frozen=True, slots=True, eq=False)
class Strays:
    """Heat and direction (cos and sin of twice the angle) of strays, (H, W) float32 each."""

    heat: Float
    cos: Float
    sin: Float

    @staticmethod
    def none(shape: tuple[int, ...]) -> "Strays":
        """Return planes without any."""
        return Strays(*(np.zeros(shape, np.float32) for _ in range(3)))

    def line(self, a: Array, b: Array, heat: float) -> None:
        """Draw a ridge from a (x, y) to b."""
        angle = float(np.arctan2(b[1] - a[1], b[0] - a[0]))
        start, end = ((int(p[0]), int(p[1])) for p in (a, b))
        cv2.line(self.heat, start, end, heat, 2)
        cv2.line(self.cos, start, end, float(np.cos(2 * angle)), 5)
        cv2.line(self.sin, start, end, float(np.sin(2 * angle)), 5)

    def give(self, other: "Strays", box: Box, inside: NDArray[np.bool_]) -> None:
        """Move what lies in `inside`, a part of `box`, to `other`, and forget the rest of it."""
        for mine, theirs in (
            (self.heat, other.heat),
            (self.cos, other.cos),
            (self.sin, other.sin),
        ):
            theirs[box] = np.where(inside, mine[box], theirs[box])
            mine[box] = 0


def strays(rng: np.random.Generator, truth: Labels, settings: StraySettings) -> Strays:
    """Return ridges anywhere on a top whose patches are `truth` (H, W), 0 outside."""
    h, w = truth.shape
    n = max(1, int(truth.max()))
    side = float(np.sqrt((truth > 0).sum() / n))
    out = Strays.none(truth.shape)
    for _ in range(int(rng.uniform(0, settings.each) * n)):
        at = rng.uniform(0, 1, 2) * (w, h)
        # Prints and folds run along the grain more often than not.
        angle = float(rng.choice([0.0, np.pi / 2, rng.uniform(0, np.pi)]))
        to = at + np.array([np.cos(angle), np.sin(angle)]) * side * rng.uniform(0.2, 1.5)
        out.line(at, to, float(rng.uniform(*settings.heat)))
    return out


def strays_alike(
    rng: np.random.Generator, truth: Labels, fabric: NDArray[np.int32], settings: StraySettings
) -> Strays:
    """Return ridges through patches of one cloth and size, in all of them at the same place.

    Parameters
    ----------
    truth : (H, W) int32
        0 outside, else the patch.
    fabric : (n + 1,) int32
        Of each value of `truth`.
    """
    s = settings
    drawn, out = Strays.none(truth.shape), Strays.none(truth.shape)
    for same in _kinds(truth, fabric):
        if len(same) < s.least or rng.random() > s.kinds:
            continue
        # Halfway, from corner to corner, or anywhere along the grain.
        t = float(rng.choice([0.5, rng.uniform(0.15, 0.85)]))
        ways = [((t, 0), (t, 1)), ((0, t), (1, t)), ((0, 0), (1, 1)), ((0, 1), (1, 0))]
        ends = np.array(ways[int(rng.choice(4, p=[0.35, 0.35, 0.15, 0.15]))], dtype=np.float64)
        level, there = rng.uniform(*s.heat), rng.uniform(*s.there)
        for box in same:
            if rng.random() > there:
                continue
            low = np.array([box[1].start, box[0].start], dtype=np.float64)
            sides = np.array([box[1].stop, box[0].stop], dtype=np.float64) - low
            a, b = low + sides * (ends + rng.normal(0, s.astray, 2))
            drawn.line(a, b, float(np.clip(level * rng.uniform(*s.uneven), 0, 1)))
            patch = truth[box]
            drawn.give(out, box, patch == patch[patch.shape[0] // 2, patch.shape[1] // 2])
    return out


def _kinds(truth: Labels, fabric: NDArray[np.int32]) -> list[list[Box]]:
    """Return the boxes round patches, those of one fabric and size together."""
    kinds: dict[tuple[int, int, int], list[Box]] = {}
    for patch, box in enumerate(ndimage.find_objects(truth), start=1):
        if box is None:
            continue
        rows, columns = box
        tall, wide = (round(4 * np.log2(k.stop - k.start)) for k in (rows, columns))
        kinds.setdefault((int(fabric[patch]), tall, wide), []).append((rows, columns))
    return [kinds[key] for key in sorted(kinds)]


def laid(rng: np.random.Generator, evidence: SeamEvidence, over: Strays) -> SeamEvidence:
    """Return the evidence with strays on it, uneven as prints make them."""
    drawn = over.heat * np.clip(0.8 + 0.5 * cloud(rng, over.heat.shape, 8), 0, 1.3)
    drawn = np.asarray(cv2.GaussianBlur(drawn, (0, 0), 0.8))
    wins = drawn > evidence.seam
    return replace(
        evidence,
        seam=np.where(wins, drawn, evidence.seam).astype(np.float32),
        cos2=np.where(wins, over.cos, evidence.cos2).astype(np.float32),
        sin2=np.where(wins, over.sin, evidence.sin2).astype(np.float32),
    )


def cloud(rng: np.random.Generator, shape: tuple[int, ...], cell_px: int) -> Float:
    """Return smooth noise (H, W) with a standard deviation of about 1 at its nodes."""
    h, w = shape
    nodes = rng.normal(0, 1, (max(3, h // cell_px), max(3, w // cell_px))).astype(np.float32)
    grown = cv2.resize(nodes, (w, h), interpolation=cv2.INTER_CUBIC)
    return np.asarray(grown, dtype=np.float32)
