"""The shape of a wave: a chain of equal arcs on alternating sides of its middle line.

References
----------
Circle segments, R = c²/(8h) + h/2, tangent angle 2·atan(2h/c): Machinery's Handbook, 31st ed.,
pp. 50, 79.
"""

import math
from dataclasses import dataclass

from seamwalk.geometry.curve import Arc, Curve, Line, Point
from seamwalk.motifs.circles import rise_at_tangent


@dataclass(frozen=True, slots=True)
class WaveSettings:
    """Shape of waves where nothing else is asked for."""

    depth_in: float = 0.5
    """Height of a crest over the middle line, inches: a soft arc along a seam is as high (common
    practice, no source).  Where nothing is asked for, it may be less."""
    least_in: float = 0.2
    """Nothing lower is drawn of one's own accord, inches: it would look like a crooked line."""
    fewest: int = 3
    """Arcs of a row, where crests can be lowered for that: one alone is no wave."""
    spacing_in: float = 2.0
    """Distance of rows over a region, inches: what most battings stand is 3 to 4 in."""
    strip_spacing_in: float = 1.5
    """Widest distance of rows along a strip, inches."""
    slack: float = 0.1
    """A strip too wide for its rows by this share of their distance gets no more of them: a
    border is never sewn to the thread, and opposite ones should match."""
    steepest_deg: float = 30.0
    """Angle at which waves cross their middle line, at most, degrees: the walking foot steers
    through 30° without a stop."""
    room: float = 1.5
    """No arc is tighter than this times the foot's smallest radius."""
    share: float = 0.75
    """A crest takes at most this share of the way to a strip's side or a region's edge."""
    least_arm: float = 0.75
    """A corner's arc begins at least this share of a chord before the corner: it shouldn't look
    sharper than the waves."""
    lowered: tuple[float, ...] = (1.0, 0.85, 0.7)
    """Shares of the depth tried in turn, where none is asked for, until a border's rows have room
    to turn its corners."""
    clear_in: float = 0.25
    """Distance of the outermost crests from a region's edge, at least, inches."""
    straight_in: float = 1 / 32
    """A flatter wave is a straight line to the hand."""
    strip: float = 3.0
    """A four-sided patch this many times as long as wide is a strip."""


@dataclass(frozen=True, slots=True)
class Wave:
    """One row's measures.

    Attributes
    ----------
    arcs : int
        Odd, so that the row looks the same from both ends.
    rise_in : float
        Height of each over the middle line; 0 for a straight row.
    """

    arcs: int
    rise_in: float


def shortest_chord(depth: float, radius: float, steepest: float) -> float:
    """Return the shortest chord over which an arc rises by `depth`, not too steep or too tight.

    Parameters
    ----------
    radius : float
        Smallest radius, inches.
    steepest : float
        Greatest angle between arc and chord, radians.

    Notes
    -----
    An arc of radius R that meets its chord at the angle θ has the chord 2·R·sin θ and rises by
    R·(1 − cos θ).  A rise h takes the chord 2·h/tan(θ/2) at the steepest angle and, where that
    has a radius below R, the chord 2·√(h·(2·R − h)) of a circle of radius R.
    """
    if depth < radius * (1 - math.cos(steepest)):
        return 2 * math.sqrt(depth * (2 * radius - depth))
    return 2 * depth / math.tan(steepest / 2)


def fitting_wave(
    length: float, depth: float, smallest: float, settings: WaveSettings, *, asked: bool
) -> Wave:
    """Return the wave with most arcs in a length that is neither too steep nor too tight.

    Parameters
    ----------
    length, depth : float
        Of the row, and of the crests over its middle line, inches.
    smallest : float
        The foot's smallest radius, inches.
    asked : bool
        The depth must be kept if a single arc allows it.
    """
    steepest = math.radians(settings.steepest_deg)
    radius = settings.room * smallest
    arcs = max(1, math.floor(length / shortest_chord(depth, radius, steepest) + 1e-9))
    arcs -= 1 - arcs % 2

    def rise(arcs: int) -> float:
        chord = length / arcs
        angle = min(steepest, math.asin(min(1.0, chord / (2 * radius))))
        return min(depth, rise_at_tangent(chord, angle))

    if arcs < settings.fewest and not asked and rise(settings.fewest) >= settings.least_in:
        arcs = settings.fewest
    found = rise(arcs)
    return Wave(arcs, found if found >= settings.straight_in else 0.0)


def serpentine(start: Point, end: Point, wave: Wave, *, left_first: bool = False) -> Curve:
    """Return the wave from `start` to `end`, its first arc to the right of the way or the left."""
    if not wave.rise_in:
        return Curve((Line(start, end),))
    (x0, y0), (x1, y1) = start, end
    n = wave.arcs
    at = [start]
    at += [(x0 + (x1 - x0) * k / n, y0 + (y1 - y0) * k / n) for k in range(1, n)]
    at.append(end)
    rise = -wave.rise_in if left_first else wave.rise_in
    return Curve(
        tuple(Arc.by_rise(at[k], at[k + 1], rise if k % 2 == 0 else -rise) for k in range(n))
    )
