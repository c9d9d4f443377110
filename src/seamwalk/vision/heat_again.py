"""A second opinion on a map that is cut and joined already: what its other blocks say of it.

Once a top is cut into regions its seams are clean lines, and the ways in which it repeats show far
better than in the heat.  So the lines are laid over themselves (:mod:`heat_copies`), and of every
place it is asked what the places show that look the same round about: how many have a seam there,
and how much heat.  A seam that most of them show and this one hides is offered again; a ridge that
they do not have is likely print.  A judge of its own weighs what is said here
(:mod:`heat_others`); it counts nothing where no copy fits: a scrappy top speaks for itself.

References
----------
Tversky, Features of similarity, Psychological Review 84(4), 1977 (likeness that weighs what only
one side has differently from what only the other has).  Cohen, A coefficient of agreement for
nominal scales, Educational and Psychological Measurement 20(1), 1960 (agreement beyond chance).
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.vision.heat_copies import Copy, CopySettings, copies
from seamwalk.vision.heat_repeat import thick

Float = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class AgainSettings:
    """How far the other blocks are believed; fitted by eye on rendered scenes 100 to 117."""

    reach: int = 1
    """Half-resolution pixels that a line, two of them wide, may lie off its place."""
    window: float = 0.12
    """Side of the window in which lines must agree, share of the longer side: about a block."""
    wide: float = 0.3
    """And of a wider one, where several blocks tell which copy is the right one."""
    coarse: int = 4
    """Half-resolution pixels to one of those that agreement is measured on."""
    hidden: float = 0.3
    """Weight of lines that only the copy has, against lines that only this place has: seams may
    be hidden here."""
    agreement_power: int = 6
    """How much more a copy counts that agrees better close by …"""
    wide_power: int = 16
    """… and farther about: one that agrees to 0.8 counts a twentieth of one to 0.95."""
    enough: float = 0.1
    """Weight of all copies from which they are believed as far as they agree."""
    least: float = 0.75
    """Agreement up to which copies are not believed; tops of mixed sizes reach 0.85 …"""
    full: float = 0.92
    """… and from which they are believed fully; tops of equal blocks reach 0.97."""
    scrappy: float = 0.55
    """Where the mean of that over the whole top is below this, nothing is believed: blocks that
    agree are chance then …"""
    regular: float = 0.85
    """… and from here on it is left as it is."""
    copies: CopySettings = field(default_factory=CopySettings)


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """What the same places of other blocks say, all (h, w) float32.

    Attributes
    ----------
    found : 0 to 1, probability of the seams found here, on their lines
    seam : 0 to 1, share of the others that have a seam there, weighted
    hot : 0 to 1, their mean heat
    beyond_chance : 0 to 1, mean of both less what chance would give
    belief : 0 (no place looks the same) to 1
    """

    found: Float
    seam: Float
    hot: Float
    beyond_chance: Float
    belief: Float


def support(
    lines: Float, heat: Float, mask: Mask, settings: AgainSettings | None = None
) -> Support:
    """Return what other blocks say of every pixel at half resolution.

    Parameters
    ----------
    lines : (h, w) float32
        Probability of the seams found, on their lines.
    heat : (h, w) float32
    mask : (h, w) bool
        The top.
    """
    s = settings or AgainSettings()
    own, warm = (np.where(mask, p, 0).astype(np.float32) for p in (lines, heat))
    near = thick(own, s.reach)
    seam, hot, square = (np.zeros(own.shape, dtype=np.float32) for _ in range(3))
    weight = np.full(own.shape, 1e-6, dtype=np.float32)
    for way in copies(own, mask, s.copies):
        there = way.of(own)
        wide = thick(there, s.reach)
        close, around = _agreement(own, near, there, wide, way, s)
        w = cv2.pow(close, s.agreement_power) * cv2.pow(around, s.wide_power)
        w[~way.shown] = 0
        seam += w * wide
        hot += w * thick(way.of(warm), s.reach)
        weight += w
        square += w * close * around
    seam, hot = seam / weight, hot / weight
    agreed = np.sqrt(square / weight) * np.minimum(1, weight / s.enough)
    belief = np.where(mask, np.clip((agreed - s.least) / (s.full - s.least), 0, 1), 0)
    usual = float(belief[mask].mean()) if mask.any() else 0.0
    belief *= np.clip((usual - s.scrappy) / (s.regular - s.scrappy), 0, 1)
    beyond = (_beyond_chance(seam, mask, s) + _beyond_chance(hot, mask, s)) / 2
    return Support(own, seam, hot, beyond.astype(np.float32), belief.astype(np.float32))


def _agreement(
    own: Float, near: Float, there: Float, wide: Float, way: Copy, s: AgainSettings
) -> tuple[Float, Float]:
    """Return how well a copy agrees with the lines round about, close by and farther, 0 to 1."""
    base = np.where(way.shown, own, 0)
    both = np.where(way.shown, np.minimum(own, wide), 0)
    more = np.where(way.shown, np.maximum(there - near, 0), 0)
    # Windows are wide: means over a few pixels are as good as pixels, and sixteen times faster.
    h, w = own.shape
    size = (max(1, w // s.coarse), max(1, h // s.coarse))
    small = [cv2.resize(p, size, interpolation=cv2.INTER_AREA) for p in (both, base, more)]
    out = []
    for share in (s.window, s.wide):
        k = max(3, round(share * max(size)))
        common, mine, theirs = (np.asarray(cv2.blur(p, (k, k))) for p in small)
        # Where there are no lines at all, copies agree by half: that proves nothing.
        agree = (common + np.float32(1e-3)) / (mine + s.hidden * theirs + np.float32(2e-3))
        agree = np.minimum(agree, 1).astype(np.float32)
        fine = np.asarray(cv2.resize(agree, (w, h), interpolation=cv2.INTER_LINEAR))
        out.append(fine.astype(np.float32))
    return out[0], out[1]


def _beyond_chance(share: Float, mask: Mask, s: AgainSettings) -> Float:
    """Return by how much `share` (h, w) exceeds its mean round about, of what it could."""
    k = max(3, round(s.wide * max(mask.shape)))
    inside = np.asarray(cv2.blur(mask.astype(np.float32), (k, k))) + np.float32(1e-3)
    chance = np.asarray(cv2.blur(np.where(mask, share, 0).astype(np.float32), (k, k))) / inside
    out: Float = np.clip((share - chance) / np.maximum(1 - chance, np.float32(0.05)), 0, 1)
    return out.astype(np.float32)
