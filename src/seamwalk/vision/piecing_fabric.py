"""Which patches look cut from the same fabric."""

import string
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.cluster.hierarchy import fcluster, linkage

from seamwalk.model.picture import Rgb


@dataclass(frozen=True, slots=True)
class FabricSettings:
    """When two patches count as one fabric."""

    apart: float = 7.0
    """Patches closer than this in the feature space are one fabric, CIELAB units (about three
    just noticeable differences: light across a top changes by as much)."""
    light_share: float = 0.6
    """Weight of lightness against hue: it changes with the light across the top."""
    texture_share: float = 0.6
    """Weight of the spread within a patch, which tells prints from plain cloth."""
    inset_px: int = 2
    """Pixels beside a seam left out: they mix two fabrics."""
    most: int = 4000
    """More patches than this are not compared pairwise."""


def fabrics(
    rgb: Rgb, labels: NDArray[np.int32], settings: FabricSettings | None = None
) -> list[str]:
    """Return a word for each label 1 … n: the same word for patches that look alike.

    Words are A, B, … in the order of the area they cover.  Empty words where there are too many
    patches to compare.
    """
    settings = settings or FabricSettings()
    n = int(labels.max())
    if n > settings.most:
        return [""] * n
    features = _features(rgb, labels, settings)
    group = np.ones(1, dtype=np.intp)
    if n > 1:
        tree = linkage(features, "average")
        group = np.asarray(fcluster(tree, settings.apart, "distance"), dtype=np.intp)
    area = np.bincount(labels.ravel(), minlength=n + 1)[1:]
    covered = np.bincount(group, weights=area)
    rank = {g: i for i, g in enumerate(np.argsort(-covered, kind="stable").tolist())}
    return [_word(rank[g]) for g in group.tolist()]


def _features(
    rgb: Rgb, labels: NDArray[np.int32], settings: FabricSettings
) -> NDArray[np.float64]:
    """Return mean and spread of the colour inside each label, (n, 6)."""
    from skimage.color import rgb2lab

    n = int(labels.max())
    inner = _inner(labels, settings.inset_px)
    # A patch too narrow for the inset keeps all its pixels.
    have = np.bincount(inner.ravel(), minlength=n + 1)
    thin = have < 9
    use = np.where(thin[labels], labels, inner)
    lab = rgb2lab(rgb)
    index = np.arange(1, n + 1)
    # A top that fills the picture leaves no pixel outside, whose mean is then 0/0 and not used.
    with np.errstate(invalid="ignore"):
        parts = _statistics(lab, use, index, settings)
    return np.column_stack(parts)


def _statistics(
    lab: NDArray[np.float64],
    use: NDArray[np.int32],
    index: NDArray[np.intp],
    settings: FabricSettings,
) -> list[NDArray[np.float64]]:
    """Return the weighted mean and spread of each channel for every label of `index`."""
    parts = []
    for channel, share in ((0, settings.light_share), (1, 1.0), (2, 1.0)):
        parts.append(np.asarray(ndimage.mean(lab[..., channel], use, index)) * share)
    for channel in range(3):
        spread = np.asarray(ndimage.standard_deviation(lab[..., channel], use, index))
        parts.append(spread * settings.texture_share)
    return parts


def _inner(labels: NDArray[np.int32], inset: int) -> NDArray[np.int32]:
    """Return the labels without the pixels near a border."""
    size = 2 * inset + 1
    low: NDArray[np.int32] = ndimage.minimum_filter(labels, size)
    high: NDArray[np.int32] = ndimage.maximum_filter(labels, size)
    return np.where(low == high, labels, 0).astype(np.int32)


def _word(rank: int) -> str:
    """Return A … Z, AA, AB …"""
    word = ""
    rank += 1
    while rank:
        rank, letter = divmod(rank - 1, 26)
        word = string.ascii_uppercase[letter] + word
    return word
