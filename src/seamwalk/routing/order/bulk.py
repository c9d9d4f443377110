"""How much of the quilt lies under the arm, and how much of it may."""

import math

import numpy as np

from seamwalk.model.machine import MachineProfile
from seamwalk.routing.turning import Floats

HALF_AND_A_BIT = 0.55
"""Share of the top under the arm from which on it is more than half of it: lines beside the
middle one have a little more than half on one hand whichever way they are sewn."""

LEAST_IN = 1e-3
"""Spreads below this count as this: two nearly equal integrals are divided by it, inches."""


def heavy_share(machine: MachineProfile, low: Floats, high: Floats) -> float:
    """Return the share of a top (low to high, inches) that is too much under the arm.

    Half of it, or what rolls up into the throat if that is less.
    """
    wide = float((high - low).max())
    return min(HALF_AND_A_BIT, rolled_in(machine) / wide) if wide > 0 else HALF_AND_A_BIT


def rolled_in(machine: MachineProfile) -> float:
    """Return the width of quilt, inches, that rolls into the throat.

    A roll of width w and packed thickness t has the area w·t and the diameter d = 2·√(w·t/π).
    """
    return math.pi * machine.throat_in**2 / 4 / (machine.packed_mm / 25.4)


def share_right(at: Floats, heading_deg: Floats, low: Floats, high: Floats) -> Floats:
    """Return the share of a rectangle (low to high) that lies under the arm (n,).

    Sewing at `at` (n, 2) in a direction, the quilt under the arm is what lies on the left hand of
    one who walks along the path drawn on the top (x right, y down): cloth is fed away from her,
    so the path comes towards her, and her right is the walker's left.

    Notes
    -----
    The half-plane's share of a rectangle in closed form: with a, b ≥ 0 the spread of the signed
    distance in x and y, it is distributed as the sum of two independent uniform variables.
    """
    t = np.radians(heading_deg)
    normal = np.stack([np.sin(t), -np.cos(t)], axis=1)
    half = (high - low) / 2
    a, b = np.abs(normal[:, 0]) * half[0], np.abs(normal[:, 1]) * half[1]
    wide = np.maximum(np.maximum(a, b), LEAST_IN)
    slim = np.maximum(np.minimum(a, b), LEAST_IN)
    # The middle lies this far towards the arm of the line that is sewn.
    d = (((low + high) / 2 - at) * normal).sum(axis=1)

    def integral(z: Floats) -> Floats:
        """Integral of the distribution of the wider variable, uniform on −wide … wide."""
        inside = np.clip(z, -wide, wide)
        out: Floats = (inside + wide) ** 2 / (4 * wide) + np.maximum(z - wide, 0.0)
        return out

    share = (integral(d + slim) - integral(d - slim)) / (2 * slim)
    out: Floats = np.clip(share, 0.0, 1.0)
    return out
