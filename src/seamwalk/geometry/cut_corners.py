"""The corners that a patch is meant to have.

The map shows where seams were seen to meet.  Two junctions that should be one leave a stub, a
side far too short to have been cut; a junction pulled a little out of line bends a side.  Neither
changes what the quilter cut, so shapes and classes are told from the ring with stubs run out and
slight bends taken straight.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.polyline import CORNER_DEG, turning_rad
from seamwalk.geometry.projective import Points


@dataclass(frozen=True, slots=True)
class CornerSettings:
    """What of a ring was not cut on purpose."""

    stub_in: float = 3 / 16
    """Shorter sides are stubs, inches: the smallest patch in use finishes at 1/2 in."""
    stub_share: float = 0.35
    """… unless they are longer than this share of the shorter side next to them."""
    tip_in: float = 5 / 8
    """Where many seams meet, whole tips are lost to a neighbour: a side up to this long …"""
    tip_share: float = 0.16
    """… is a lost tip if it is shorter than this share of both sides next to it."""
    spike_deg: float = 10.0
    """Corners sharper than this were not cut; the sharpest in use is 15°, degrees."""
    bend_deg: float = 20.0
    """The flattest corner that is cut turns by 45° (an octagon); junctions out of place bend a
    side by less than this."""
    bend_in: float = 3 / 16
    """… and move it by less than this, inches."""


def main_corners(ring: Points, settings: CornerSettings | None = None) -> Points:
    """Return the corners (M, 2) that a ring (N, 2) is meant to have, in its order.

    Never fewer than three; the ring itself where it has no corners.
    """
    s = settings or CornerSettings()
    turn = np.abs(turning_rad(ring, closed=True))
    p: Points = ring[turn > np.radians(CORNER_DEG)]
    if len(p) < 3:
        return ring
    # Nearly all patches are clean, and tops have hundreds.
    side = p - p[np.arange(len(p)) - 1]
    clean = len(p) == len(ring) and float(np.hypot(side[:, 0], side[:, 1]).min()) > s.tip_in
    if clean and turn.min() > np.radians(s.bend_deg) and turn.max() < np.radians(150):
        return p
    p = _straightened(_without_stubs(_without_spikes(p, s), s), s)
    return p if len(p) >= 3 else ring


def _without_stubs(ring: Points, s: CornerSettings) -> Points:
    """Return the ring with every stub run out to the point where its neighbours meet."""
    p = ring
    while len(p) > 3:
        d = np.roll(p, -1, axis=0) - p
        size = np.hypot(d[:, 0], d[:, 1])
        beside = np.minimum(np.roll(size, 1), np.roll(size, -1))
        stub = (size < s.stub_in) & (size < s.stub_share * beside)
        stub |= (size < s.tip_in) & (size < s.tip_share * beside)
        for k in np.flatnonzero(stub)[np.argsort(size[stub])].tolist():
            run_out = _run_out(p, d, size, k, s)
            if run_out is not None:
                p = run_out
                break
        else:
            break
    return p


def _without_spikes(ring: Points, s: CornerSettings) -> Points:
    """Return the ring without corners too sharp to have been cut, the sharpest first."""
    p = ring
    while len(p) > 3:
        turn = np.abs(turning_rad(p, closed=True))
        k = int(np.argmax(turn))
        if turn[k] < np.radians(180 - s.spike_deg):
            break
        p = np.delete(p, k, axis=0)
    return p


def _run_out(
    p: Points, d: Points, size: NDArray[np.float64], k: int, s: CornerSettings
) -> Points | None:
    """Return the ring without side k; None where that side is the end of a narrow strip."""
    after_k = (k + 1) % len(p)
    before, after = d[k - 1], d[after_k]
    cross = float(before[0] * after[1] - before[1] * after[0])
    turn = abs(float(np.arctan2(cross, before @ after)))
    out = p.copy()
    if turn < np.radians(s.bend_deg):
        # A jog: the side runs on from one corner to the next but one.
        kept = np.delete(p, [k, after_k], axis=0)
        if len(kept) >= 3:
            return kept
        out[k] = (p[k] + p[after_k]) / 2
        return np.delete(out, after_k, axis=0)
    if turn > np.radians(180 - s.bend_deg):
        return None
    w = p[after_k] - p[k]
    met = p[k] + before * ((w[0] * after[1] - w[1] * after[0]) / cross)
    if float(np.hypot(*(met - (p[k] + p[after_k]) / 2))) > 2 * size[k]:
        return None
    out[k] = met
    return np.delete(out, after_k, axis=0)


def _straightened(ring: Points, s: CornerSettings) -> Points:
    """Return the ring without corners that bend a side but slightly, the flattest first."""
    p = ring
    while len(p) > 3:
        turn = np.abs(turning_rad(p, closed=True))
        a, b = np.roll(p, 1, axis=0), np.roll(p, -1, axis=0)
        chord = b - a
        long = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-12)
        off = np.abs(chord[:, 0] * (p - a)[:, 1] - chord[:, 1] * (p - a)[:, 0]) / long
        flat = np.flatnonzero((turn < np.radians(s.bend_deg)) & (off < s.bend_in))
        if not len(flat):
            break
        p = np.delete(p, flat[np.argmin(turn[flat])], axis=0)
    return p
