"""What the seam heat shows in the same place of other blocks.

Blocks repeat, shifted, turned and mirrored.  A seam that is faint here and clear in the same place
of other blocks is likely real, and a ridge that no other block has is likely print.  The ways in
which a top repeats are the peaks of the correlation of its heat with itself, turned and mirrored
in all eight ways; nothing is assumed of a lattice.  Every copy is believed only where it agrees
with the heat round about, so a top that does not repeat, or does so in parts, speaks for itself.

References
----------
Padfield, Masked object registration in the Fourier domain, IEEE Trans. Image Processing 21(5),
2012 (correlation of pictures with masks).
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.vision.heat_copies import CopySettings, copies

Float = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class RepeatSettings:
    """How far copies are believed."""

    reach: int = 2
    """Half-resolution pixels that a seam may lie off its place: piecing, bumps, the shift's own
    rounding."""
    window: float = 0.12
    """Side of the window in which copy and heat must agree, share of the longer side: about a
    block."""
    wide: float = 0.3
    """And of a wider one: where a block hides its own seams, its neighbours tell which copy is
    the right one."""
    agreement_power: int = 3
    """How much more a copy counts that agrees better close by."""
    wide_power: int = 8
    """And in the wide window, where copies of a plain lattice agree halfway already."""
    enough: float = 0.1
    """Weight of all copies from which they are believed as far as they agree: one that agrees to
    four fifths."""
    copies: CopySettings = field(default_factory=CopySettings)


@dataclass(frozen=True, slots=True, eq=False)
class Repeat:
    """Heat in the same place of other blocks.

    Attributes
    ----------
    heat : (h, w) float32
        Weighted mean over the copies, 0 to 1; 0 where no copy reaches.
    trust : (h, w) float32
        How well the best copies agree round about, 0 (no copies) to 1.
    """

    heat: Float
    trust: Float


def repeats(heat: Float, mask: Mask, settings: RepeatSettings | None = None) -> Repeat:
    """Return what other blocks show at every pixel of `heat` (h, w) at half resolution."""
    s = settings or RepeatSettings()
    own = np.where(mask, heat, 0).astype(np.float32)
    near = thick(own, s.reach)
    sides = [max(3, round(k * max(mask.shape))) for k in (s.window, s.wide)]
    total = np.zeros(heat.shape, dtype=np.float32)
    weight = np.full(heat.shape, 1e-6, dtype=np.float32)
    square = np.zeros(heat.shape, dtype=np.float32)
    for way in copies(own, mask, s.copies):
        copy, shown = way.of(own), way.shown
        wide = thick(copy, s.reach)
        either = np.where(shown, np.maximum(own, copy), 0)
        common = np.minimum(either, np.minimum(near, wide))
        agree, around = (
            cv2.blur(common, (k, k)) / (cv2.blur(either, (k, k)) + np.float32(1e-3)) for k in sides
        )
        w = cv2.pow(agree, s.agreement_power) * cv2.pow(around, s.wide_power)
        w[~shown] = 0
        total += w * wide
        weight += w
        square += w * agree * around
    trust = np.sqrt(square / weight) * np.minimum(1, weight / s.enough)
    return Repeat(total / weight, np.where(mask, trust, 0).astype(np.float32))


def thick(plane: Float, reach: int) -> Float:
    """Return each pixel's largest neighbour within `reach`."""
    size = 2 * reach + 1
    return np.asarray(cv2.dilate(plane, np.ones((size, size), np.uint8)))
