"""Floor that looks like cloth, told by its colours: a whole top leaves the rim of the photo free.

A floor of squares can pass for patches.  But the top lies within the photo, so that the rim shows
floor; where cloth seems to reach it, its colours are those of floor, or the photo cuts the top.
Which of the two it is shows in what is left: a top hardly shares its colours with the rim, and
lies in one compact piece that leaves the rim free; a top that is cut shows the same fabrics there.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from seamwalk.model.picture import Rgb
from seamwalk.vision.outline_cloth import cells_of, share_of
from seamwalk.vision.top_mask import Mask, MaskSettings, on_rim
from seamwalk.vision.workpicture import lab_of


@dataclass(frozen=True, slots=True)
class RimSettings:
    """When cloth at the rim of a photo is floor."""

    touching: float = MaskSettings().touching
    """Share of the mask's own rim on the photo's from which its colours are asked: with less it
    is a whole top's mask already."""
    band: float = 0.03
    """Width of the rim, share of the photo's shorter side."""
    rounds: int = 8
    """Most times that colours are learned and pixels told by them."""
    smooth: float = 0.006
    """Pixels this far apart speak together, share of the photo's longer side."""
    rare: float = 1e-4
    """Share added to every colour: one seen hardly ever says hardly anything."""
    compact: float = 0.85
    """Least share of its convex hull that a top fills; a block's corner set on point fills .9."""
    least: float = 0.1
    """Least share of the cloth seen that is left."""


def without_floor(
    mask: Mask, rgb: Rgb, hidden: Mask, settings: RimSettings | None = None
) -> Mask | None:
    """Return the mask (H, W) without floor of the rim's colours, or None if that tells nothing.

    Parameters
    ----------
    mask : (H, W) bool
        What looks like cloth.
    rgb : (H, W, 3) uint8
        The photo; its colours are only looked at where cloth reaches the rim.
    hidden : (H, W) bool
        Cards and things.

    References
    ----------
    Wei, Wen, Zhu and Sun, Geodesic saliency using background priors, ECCV 2012 (what the rim of a
    photo shows is background).  Rother, Kolmogorov and Blake, GrabCut, ACM TOG 23(3), 2004.
    """
    s = settings or RimSettings()
    if on_rim(mask, np.ones_like(mask)) <= s.touching:
        return None
    h, w = mask.shape
    band = max(2, round(s.band * min(h, w)))
    rim = np.ones_like(mask)
    rim[band:-band, band:-band] = False
    index = cells_of(lab_of(rgb, (w, h)))
    floor = share_of(index, rim & ~hidden, s.rare)
    open_cloth = mask & ~hidden
    left = open_cloth & ~rim
    for _ in range(s.rounds):
        if left.sum() <= s.least * open_cloth.sum():
            return None
        nats = np.log(share_of(index, left, s.rare) / floor).astype(np.float32)[index]
        near = np.asarray(cv2.GaussianBlur(nats, (0, 0), s.smooth * max(h, w)))
        told = open_cloth & (near > 0)
        if np.array_equal(told, left):
            break
        left = told
    return left if _compact(left | (mask & hidden), s) else None


def _compact(left: Mask, s: RimSettings) -> bool:
    """Return whether the largest piece of a mask may be a whole top."""
    close = cv2.morphologyEx(left.astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    rings, _ = cv2.findContours(close, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not rings:
        return False
    ring = max(rings, key=cv2.contourArea)
    piece = np.zeros(left.shape, np.uint8)
    cv2.drawContours(piece, [ring], -1, 1, -1)
    filled = cv2.contourArea(ring) / max(1.0, cv2.contourArea(cv2.convexHull(ring)))
    return filled >= s.compact and on_rim(piece > 0, np.ones_like(left)) <= s.touching
