"""Arcs over a chord: rise, circle, tangent angle, and where neighbours begin to overlap.

An arch is marked by drawing round something of diameter D with both corners on its rim.  Over a
chord c the rim rises by h.

References
----------
Circle segment formulas R = c²/(8h) + h/2, θ = 4·atan(2h/c): Machinery's Handbook, 31st ed.,
pp. 50, 79.
"""

import math


def diameter_for(chord: float, rise: float) -> float:
    """Return the diameter of the circle that rises by `rise` over `chord`: c²/(4h) + h."""
    if chord <= 0 or rise <= 0:
        raise ValueError("chord and rise must be above zero")
    return chord * chord / (4 * rise) + rise


def rise_for(chord: float, diameter: float) -> float:
    """Return how far a circle rises over `chord`: (D − √(D² − c²))/2.

    Raises
    ------
    ValueError
        If the circle is too small to reach both ends of the chord.
    """
    if chord <= 0 or diameter < chord:
        raise ValueError("the circle must be at least as wide as the chord is long")
    # The same value as the textbook form, without its cancellation for large circles.
    return chord * chord / (2 * (diameter + math.sqrt(diameter * diameter - chord * chord)))


def tangent_rad(chord: float, rise: float) -> float:
    """Return the angle between chord and arc at its ends: 2·atan(2h/c)."""
    return 2 * math.atan2(2 * rise, chord)


def rise_at_tangent(chord: float, angle_rad: float) -> float:
    """Return the rise whose arc leaves the chord at `angle_rad`: (c/2)·tan(angle/2)."""
    return chord / 2 * math.tan(angle_rad / 2)


def overlap_rise(chord: float, corner_rad: float = math.pi / 2) -> float:
    """Return the rise above which equal arches cross near a corner of `corner_rad`.

    Two arches leave the corner at the same angle to their sides, so they cross when that angle
    passes half the corner's.  For a right angle c·tan(22.5°)/2 ≈ 0.2071·c.
    """
    return rise_at_tangent(chord, corner_rad / 2)
