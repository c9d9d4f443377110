"""From judged borders to a partition that can be traced.

What is too small or thin for a patch goes to the neighbour that it is parted from least; corners
of one kind are cut alike; regions round others are cut where the heat shows it best; each seam
left gets its confidence, and those that the picture hardly shows are marked as inferred.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import Partition
from seamwalk.vision import rings
from seamwalk.vision.heat_corners import alike_cut
from seamwalk.vision.heat_graph import HEAT, Indices, N, RegionMap
from seamwalk.vision.heat_lines import Field
from seamwalk.vision.heat_merge import Judged
from seamwalk.vision.heat_under import under
from seamwalk.vision.piecing_regions import tidy

Labels = NDArray[np.int32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class FinishSettings:
    """What is no patch, and what counts as seen."""

    least_area_in2: float = 0.12
    """Nothing smaller is a patch, square inches: a 3/8 in square, finished."""
    sliver_in2: float = 0.5
    """Nor anything smaller that comes out under a card or a thing, square inches."""
    unseen: float = 0.25
    """A seam with less heat in the mean is inferred: the picture hardly shows it."""
    unseen_confidence: float = 0.5
    """It is never surer than this, however many blocks speak for it: an offer to be confirmed."""
    cut_confidence: float = 0.3
    """Confidence of a cut through a region that surrounds another."""
    alike_confidence: float = 0.8
    """Confidence of a corner that is cut as all others of its kind are: those say a lot, the
    picture itself hardly anything."""
    reach_px: int = 2
    """Confidence is written this far on both sides of a seam, pixels."""


@dataclass(frozen=True, slots=True, eq=False)
class OverCut:
    """The top cut too much, with all that decides what is joined again.

    Attributes
    ----------
    labels : (H, W) int32
        0 outside, 1 … n.
    regions : RegionMap
        Of `labels`.
    field : Field
        Heat and direction on their grid.
    side : float
        Side of a typical region, pixels.
    """

    labels: Labels
    regions: RegionMap
    field: Field
    side: float


def finished(
    judged: Judged,
    cut: OverCut,
    px_per_in: float,
    settings: FinishSettings,
    hidden: Mask,
    lab: NDArray[np.float32],
) -> Partition:
    """Return the partition of judged regions.

    Parameters
    ----------
    hidden : (H, W) bool
        What of the top is covered: seams there are inferred.
    lab : (H, W, 3) float32
        CIELAB.

    Raises
    ------
    TopologyError
        If no region is large enough for a patch.
    """
    s = settings
    least = s.least_area_in2 * px_per_in**2
    home = _without_crumbs(judged, least)
    labels = home[judged.regions.home[cut.labels]].astype(np.int32)
    labels = under(labels, hidden, judged.regions, s.sliver_in2 * px_per_in**2)
    alike = alike_cut(labels, cut.field.heat, lab)
    settled = _lines(alike) & ~_lines(labels)
    labels, opened = rings.cut_rings(alike, cut.field.heat, px_per_in)
    labels, forced = tidy(labels, px_per_in)
    confidence, unseen = _confidence(labels, judged, cut, s)
    guessed = opened | forced | (hidden & _lines(labels))
    confidence[guessed] = np.minimum(confidence[guessed], np.float32(s.cut_confidence))
    settled &= _lines(labels) & ~guessed
    size = 2 * s.reach_px + 1
    near = cv2.dilate(settled.astype(np.uint8), np.ones((size, size), np.uint8)) > 0
    confidence[near] = np.maximum(confidence[near], np.float32(s.alike_confidence))
    inferred = (unseen | guessed | settled) & (labels > 0)
    return Partition(labels, inferred if inferred.any() else None, confidence)


def _without_crumbs(judged: Judged, least_px: float) -> Indices:
    """Return for each region the one that it goes to, the smallest first."""
    regions = judged.regions
    into = np.arange(len(regions.size))
    size = regions.size.copy()
    beside: list[list[int]] = [[] for _ in into]
    for k, (a, b) in enumerate(regions.pair.tolist()):
        beside[a].append(k)
        beside[b].append(k)

    def root(r: int) -> int:
        while into[r] != r:
            r = int(into[r])
        return r

    for r in sorted(np.flatnonzero(size < least_px).tolist(), key=lambda r: (size[r], r)):
        if r == 0 or size[root(r)] >= least_px:
            continue
        for k in sorted(beside[r], key=lambda k: (judged.odds[k], k)):
            a, b = regions.pair[k].tolist()
            other = root(b if a == r else a)
            if other != root(r):
                mine = root(r)
                into[mine] = other
                size[other] += size[mine]
                break
    return np.array([root(r) for r in range(len(into))], dtype=np.intp)


def _lines(labels: Labels) -> Mask:
    """Return the pixels on both sides of the lines between regions."""
    out = np.zeros(labels.shape, dtype=np.bool_)
    for low, high in (
        ((slice(0, -1), slice(None)), (slice(1, None), slice(None))),
        ((slice(None), slice(0, -1)), (slice(None), slice(1, None))),
    ):
        differs = (labels[low] != labels[high]) & (labels[low] > 0) & (labels[high] > 0)
        out[low] |= differs
        out[high] |= differs
    return out


def _confidence(
    labels: Labels, judged: Judged, cut: OverCut, s: FinishSettings
) -> tuple[NDArray[np.float32], Mask]:
    """Return the probability of a seam near the lines of `labels`, and where it is unseen."""
    regions = judged.regions
    unseen = regions.sums[:, HEAT] / regions.sums[:, N] < s.unseen
    sure = np.where(unseen, np.minimum(judged.sure, s.unseen_confidence), judged.sure)
    value, faint = along(labels, regions.home[cut.labels], regions, (sure, unseen))
    size = 2 * s.reach_px + 1
    value = np.asarray(cv2.dilate(value, np.ones((size, size), np.uint8)))
    return value, np.asarray(cv2.dilate(faint, np.ones((3, 3), np.uint8))) > 0


def along(
    labels: Labels, before: Indices, regions: RegionMap, values: Sequence[NDArray[Any]]
) -> list[NDArray[np.float32]]:
    """Return planes (H, W) with values (M,) of borders on both sides of the lines of `labels`.

    Parameters
    ----------
    before : (H, W) intp
        Region of each pixel in `regions`; borders that `labels` does not have are left out.
    """
    n = len(regions.size)
    key = regions.pair[:, 0] * n + regions.pair[:, 1]
    order = np.argsort(key)
    key = key[order]
    out = [np.zeros(labels.shape, dtype=np.float32) for _ in values]
    for low, high in (
        ((slice(0, -1), slice(None)), (slice(1, None), slice(None))),
        ((slice(None), slice(0, -1)), (slice(None), slice(1, None))),
    ):
        a, b = before[low], before[high]
        y, x = np.nonzero((a != b) & (labels[low] != labels[high]) & (a > 0) & (b > 0))
        if not len(y):
            continue
        p, q = a[y, x], b[y, x]
        wanted = np.minimum(p, q) * n + np.maximum(p, q)
        at = order[np.clip(np.searchsorted(key, wanted), 0, len(key) - 1)]
        for plane, value in zip(out, values, strict=True):
            for part in (low, high):
                np.maximum.at(plane[part], (y, x), value[at].astype(np.float32))
    return out
