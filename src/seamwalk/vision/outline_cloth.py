"""Where cloth of the top lies and where floor: what the looks of the network and colours say."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.vision.top_mask import Mask, Plane

BINS = (18, 32, 32)
"""Cells of the histograms along L*, a* and b*."""

CELL_LAB = 6.0
"""Their side, CIELAB units."""


@dataclass(frozen=True, slots=True)
class ClothSettings:
    """How much each witness is believed."""

    look_nats: float = 4.0
    """No look speaks more surely than this for cloth or floor: 0.98 against 0.02."""
    colour_nats: float = 4.0
    """Nor does a colour: as much as one look, so that two looks that agree stand."""
    sure: float = 0.5
    """Colours are learned where looks together are surer than this share of what they can be."""
    rare: float = 1e-5
    """Share of pixels added to each cell: what was seen hardly ever says hardly anything."""
    smooth_in: float = 0.15
    """Pixels this far apart speak together, inches: threads and noise average out."""
    thing: float = 0.5
    """A thing, where no cloth is seen, from this probability on."""


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """What is known of cloth and floor in a picture.

    Attributes
    ----------
    evidence : (H, W) float32
        Above zero for cloth of the top, below for floor, nats; 0 where something lies.
    hidden : (H, W) bool
        Where something lies, or the picture shows nothing.
    """

    evidence: Plane
    hidden: Mask


def cloth_of(
    looks: Sequence[tuple[Plane, Plane]],
    lab: Plane,
    px_per_in: float,
    *,
    ignore: Mask | None = None,
    seen: Mask | None = None,
    settings: ClothSettings | None = None,
) -> Cloth:
    """Return what one or more looks and the colours say together.

    Looks err each in its own way, on a floor of squares or a dark border; colours are those of
    this top and this floor, learned where the looks agree.

    Parameters
    ----------
    looks : sequence of ((H, W), (H, W)) float32
        Of each look: probability of cloth, and of a thing on or beside it.
    lab : (H, W, 3) float32
        CIELAB.
    px_per_in : float
        Resolution.
    ignore, seen : (H, W) bool or None
        Known things, such as cards; where the picture shows anything.

    References
    ----------
    Rother, Kolmogorov and Blake, GrabCut, ACM TOG 23(3), 2004 (colours of both sides learned from
    a first guess).
    """
    s = settings or ClothSettings()
    total = np.zeros(lab.shape[:2], np.float32)
    hidden = np.zeros(total.shape, np.bool_)
    for top, thing in looks:
        p = np.clip(top, 1e-4, 1 - 1e-4)
        total += np.clip(np.log(p / (1 - p)), -s.look_nats, s.look_nats)
        hidden |= (thing > s.thing) & (top <= 0.5)
    if ignore is not None:
        hidden |= ignore
    if seen is not None:
        hidden |= ~seen
    sure = s.sure * s.look_nats * len(looks)
    total += _colours(lab, (total > sure, total < -sure), hidden, px_per_in, s)
    total[hidden] = 0
    return Cloth(total, hidden)


def _colours(
    lab: Plane, sure: tuple[Mask, Mask], hidden: Mask, px_per_in: float, s: ClothSettings
) -> Plane:
    """Return the evidence (H, W) of each colour, learned where cloth and floor are sure."""
    index = cells_of(lab)
    told = [side & ~hidden for side in sure]
    if not all(side.any() for side in told):
        return np.zeros(hidden.shape, np.float32)
    cloth, floor = (share_of(index, side, s.rare) for side in told)
    ratio = np.clip(np.log(cloth / floor), -s.colour_nats, s.colour_nats)
    nats = ratio.astype(np.float32)[index]
    return np.asarray(cv2.GaussianBlur(nats, (0, 0), s.smooth_in * px_per_in), dtype=np.float32)


def cells_of(lab: Plane) -> NDArray[np.intp]:
    """Return the number of each pixel's colour (H, W) among the cells of a histogram."""
    low = np.array([0.0, -96.0, -96.0], np.float32)
    cell = np.clip((lab - low) / CELL_LAB, 0, np.array(BINS, np.float32) - 1).astype(np.intp)
    return np.asarray((cell[..., 0] * BINS[1] + cell[..., 1]) * BINS[2] + cell[..., 2])


def share_of(index: NDArray[np.intp], where: Mask, rare: float) -> NDArray[np.float64]:
    """Return the share of each cell among the pixels of a mask that is not empty."""
    count = np.bincount(index[where], minlength=int(np.prod(BINS)))
    near = ndimage.gaussian_filter(count.reshape(BINS).astype(np.float64), 0.7)
    return np.asarray(near.ravel() / count.sum() + rare)
