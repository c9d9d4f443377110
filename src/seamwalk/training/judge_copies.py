"""Evidence made worse, as pictures unlike the training's own may make it.

The network is surer of the training's pictures than of any others. So the judge also learns on
copies of the evidence with seams between patches of one fabric made faint, each for itself or all
that lie alike; with stray ridges; and with places where hardly anything is seen.
"""

from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import SeamEvidence
from seamwalk.training.judge_strays import StraySettings, cloud, laid, strays, strays_alike

Float = NDArray[np.float32]
Labels = NDArray[np.int32]

KINDS = ("faint", "faint alike", "stray", "stray alike", "blind")
"""Ways of making evidence worse."""


@dataclass(frozen=True, slots=True)
class CopySettings:
    """How much worse."""

    share: tuple[float, float] = (0.25, 0.75)
    """Share of the seams between patches of one fabric that fade."""
    left: tuple[float, float] = (0.02, 0.5)
    """Share of their heat that is left."""
    turns_deg: float = 45.0
    """Seams of one fabric lie alike where directions agree to half of this and lengths to a
    quarter: they are the same seam of other blocks, and look alike in a photo."""
    strays: StraySettings = field(default_factory=StraySettings)
    blind: tuple[float, float] = (0.08, 0.4)
    """Half-axes of blind places, share of the picture's side."""
    reach_px: int = 4
    """Half the width of a ridge of heat, pixels."""


def worse(
    rng: np.random.Generator,
    evidence: SeamEvidence,
    truth: Labels,
    fabric: NDArray[np.int32],
    kind: str,
    settings: CopySettings | None = None,
) -> SeamEvidence:
    """Return a worse copy of `evidence`.

    Parameters
    ----------
    truth : (H, W) int32
        0 outside, else the patch.
    fabric : (n + 1,) int32
        Of each value of `truth`.
    kind : str
        One of `KINDS`.

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    s = settings or CopySettings()
    if kind == "stray":
        return laid(rng, evidence, strays(rng, truth, s.strays))
    if kind == "stray alike":
        return laid(rng, evidence, strays_alike(rng, truth, fabric, s.strays))
    if kind == "blind":
        left = _blind(rng, truth.shape, s)
    elif kind in ("faint", "faint alike"):
        left = _faint(rng, truth, fabric, kind == "faint alike", s)
    else:
        raise ValueError(f"kind must be one of {KINDS}, not {kind!r}")
    return replace(evidence, seam=evidence.seam * left, junction=evidence.junction * left)


def same_fabric_cracks(
    truth: Labels, fabric: NDArray[np.int32]
) -> tuple[NDArray[np.int64], NDArray[np.intp], NDArray[np.intp], NDArray[np.bool_]]:
    """Return where patches of one fabric meet.

    Returns
    -------
    seam : (M,) int64
        Number of the pair of patches, 0 … K − 1.
    y, x : (M,) intp
    others : (H, W) bool
        Pixels at any other line.
    """
    key, rows, columns = [], [], []
    others = np.zeros(truth.shape, dtype=np.bool_)
    h, w = truth.shape
    for dy, dx in ((1, 0), (0, 1)):
        a, b = truth[: h - dy, : w - dx], truth[dy:, dx:]
        same = (a != b) & (fabric[a] == fabric[b]) & (a > 0) & (b > 0)
        others[: h - dy, : w - dx] |= (a != b) & ~same
        y, x = np.nonzero(same)
        pair = np.minimum(a, b)[y, x].astype(np.int64) * len(fabric) + np.maximum(a, b)[y, x]
        key.append(pair)
        rows.append(y)
        columns.append(x)
    _, seam = np.unique(np.concatenate(key), return_inverse=True)
    return seam, np.concatenate(rows), np.concatenate(columns), others


def _faint(
    rng: np.random.Generator,
    truth: Labels,
    fabric: NDArray[np.int32],
    alike: bool,
    s: CopySettings,
) -> Float:
    """Return what is left (H, W) of the heat."""
    seam, y, x, others = same_fabric_cracks(truth, fabric)
    left = np.ones(truth.shape, dtype=np.float32)
    if not len(seam):
        return left
    n = int(seam.max()) + 1
    group = _alike(seam, y, x, fabric[truth[y, x]], s) if alike else np.arange(n)
    fades = rng.random(n) < rng.uniform(*s.share)
    each = np.where(fades, rng.uniform(*s.left, n), 1.0)
    left[y, x] = each[group][seam]
    size = 2 * s.reach_px + 1
    left = np.asarray(cv2.erode(left, np.ones((size, size), np.uint8)))
    # Uneven along the seam, as folds and light make it.
    left += (left < 1) * cloud(rng, truth.shape, 24) * np.float32(0.15)
    far = np.asarray(cv2.distanceTransform(1 - others.astype(np.uint8), cv2.DIST_L2, 5))
    left = np.where(far > s.reach_px, np.clip(left, 0, 1), 1).astype(np.float32)
    return np.asarray(cv2.GaussianBlur(left, (0, 0), 1.0), dtype=np.float32)


def _alike(
    seam: NDArray[np.int64],
    y: NDArray[np.intp],
    x: NDArray[np.intp],
    fabric: NDArray[np.int32],
    s: CopySettings,
) -> NDArray[np.intp]:
    """Return a number for each seam, the same for seams that are alike."""
    count = np.bincount(seam)
    at = np.stack([x, y]).astype(np.float64)
    mean = np.stack([np.bincount(seam, v) for v in at]) / count
    off = at - mean[:, seam]
    xx, xy, yy = (np.bincount(seam, off[i] * off[j]) / count for i, j in ((0, 0), (0, 1), (1, 1)))
    angle = np.degrees(np.arctan2(2 * xy, xx - yy) / 2) % 180
    length = np.log2(np.sqrt(12 * (xx + yy)) + 1)
    turns = round(180 / s.turns_deg)
    cloth = np.zeros(len(count), np.int64)
    cloth[seam] = fabric
    words = np.stack([cloth, np.round(angle / s.turns_deg) % turns, np.round(3 * length)])
    _, number = np.unique(words, axis=1, return_inverse=True)
    return np.asarray(number, dtype=np.intp).reshape(-1)


def _blind(rng: np.random.Generator, shape: tuple[int, ...], s: CopySettings) -> Float:
    h, w = shape
    # A picture that shows all seams fainter, and places that show none.
    left = np.full(shape, np.float32(rng.uniform(0.5, 1.0)))
    for _ in range(int(rng.integers(1, 3))):
        spot = np.zeros(shape, np.uint8)
        at = (int(rng.uniform(0, w)), int(rng.uniform(0, h)))
        axes = (int(rng.uniform(*s.blind) * w), int(rng.uniform(*s.blind) * h))
        cv2.ellipse(spot, at, axes, 0.0, 0.0, 360.0, 1.0, -1)
        left[spot > 0] *= np.float32(rng.uniform(*s.left))
    return np.asarray(cv2.GaussianBlur(left, (0, 0), 15.0), dtype=np.float32)
