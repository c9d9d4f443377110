"""The arcs of a cable: how high, how long and how many, so that they fit a border's sides.

An arc over a chord c with rise h leaves the chord at θ = 2·atan(2h/c) and has the radius
R = c / (2·sin θ).  Every strand leaves a side at distance d from the corner and comes back as its
mirror image in the corner's bisector.  A strand that leaves outwards at θ, where the border turns
by τ, does so in an arc over the chord 2d·cos(τ/2), which it meets at θ + τ/2: with
d = R·sin(θ + τ/2) / cos(τ/2) that arc has radius R, and rises as far as all others.

References
----------
Circle segment formulas R = c²/(8h) + h/2, θ = 4·atan(2h/c): Machinery's Handbook, 31st ed.,
pp. 50, 79.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from seamwalk.model.choice import MotifChoice
from seamwalk.motifs.borders import Border


@dataclass(frozen=True, slots=True)
class CableSettings:
    """Shape of a cable where nothing else is asked for."""

    rise: float = 1 / 3
    """Rise of an arc as a share of the border's width: the cable fills two thirds of it."""
    rise_of_three: float = 0.28
    """The same for three strands, whose inner ones need more room at a corner."""
    tangent_deg: float = 65.0
    """Angle between a strand and the middle line where it crosses it: plump arcs, short enough
    for the inner strand of a corner to stay clear of the seam there."""
    steepest_deg: float = 80.0
    """Steeper strands would turn back on themselves soon."""
    shallowest_deg: float = 20.0
    """Flatter strands look like wavering lines."""
    lowest: float = 0.4
    """A rise below this share of the one asked for isn't tried any more."""
    near: float = 0.25
    """Arcs that differ by less than this share from those asked for are these: along a side of
    two arcs whole ones differ by as much."""
    clear_in: float = 1 / 8
    """A strand stays this far from the border's long sides, inches: what piecing is off."""
    narrowest_in: float = 1.0
    """A cable in a narrower border would be a row of blobs, inches."""


@dataclass(frozen=True, slots=True)
class CableShape:
    """The arcs of one border's strands.

    Attributes
    ----------
    tangent_rad : float
        Between strand and middle line where they cross.
    counts : tuple of int
        Arcs along each side.
    corners_in : tuple of float
        Distance d from the corner after each side at which strands leave it, and come back on
        the next; 0 at an open end.
    """

    tangent_rad: float
    counts: tuple[int, ...]
    corners_in: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Wish:
    """What arcs ought to be like, and what they must keep to.

    Attributes
    ----------
    rise, tangent : float
        Inches, radians.
    width, most : float
        The border's narrowest width, and the highest rise that stays clear of its sides.
    foot_in : float
        Smallest radius.
    """

    rise: float
    tangent: float
    width: float
    most: float
    foot_in: float
    clear: float
    strands: int

    @property
    def chord(self) -> float:
        return 2 * self.rise / math.tan(self.tangent / 2)

    @property
    def radius(self) -> float:
        return self.chord / 2 / math.sin(self.tangent)


def fitted(
    border: Border, choice: MotifChoice, foot_in: float, strands: int, settings: CableSettings
) -> tuple[CableShape, bool] | None:
    """Return the arcs that suit a border, and whether they are flatter than asked for or usual.

    Flatter and lower arcs are tried where those asked for are too tight for the foot, would leave
    the border in a corner, or are too long for a side.  None if no arcs fit.
    """
    width = min(side.width_in for side in border.sides)
    if width < settings.narrowest_in:
        return None
    most = width / 2 - settings.clear_in
    usual = (settings.rise if strands == 2 else settings.rise_of_three) * width
    rise = min(choice.depth_in or usual, most)
    tangent = math.radians(settings.tangent_deg)
    if choice.spacing_in is not None:
        steepest = math.radians(settings.steepest_deg)
        tangent = min(steepest, 2 * math.atan2(2 * rise, choice.spacing_in))
    shallowest = min(tangent, math.radians(settings.shallowest_deg))
    for share in (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, settings.lowest):
        angle = tangent
        while angle >= shallowest:
            wish = _Wish(share * rise, angle, width, most, foot_in, settings.clear_in, strands)
            shape = _shape(border, wish)
            if shape is not None:
                return shape, share * rise < (choice.depth_in or 0) or angle < tangent
            angle -= math.radians(2.5)
    return None


def drawn_round(
    border: Border, shape: CableShape, radius_in: float, strands: int, settings: CableSettings
) -> CableShape | None:
    """Return arcs of one radius that fill a single strip, as near to `shape` as there are.

    n arcs over the length L have chords L/n, and the radius R if sin θ = L/(2nR).  None where no
    number of arcs is steep and flat enough, and stays inside the strip.
    """
    (side,) = border.sides
    most = side.width_in / 2 - settings.clear_in
    low, high = math.radians(settings.shallowest_deg), math.radians(settings.steepest_deg)
    wished = side.length_in / (2 * radius_in * math.sin(shape.tangent_rad))
    step = 2 if strands % 2 else 1
    nearest = _nearest(wished, strands)
    found: list[CableShape] = []
    for count in (nearest - step, nearest, nearest + step):
        share = side.length_in / (2 * radius_in * count) if count > 0 else 1.0
        tangent = math.asin(min(1.0, share))
        rise = radius_in * (1 - math.cos(tangent))
        if low <= tangent <= high and rise <= most * (1 + 1e-9):
            found.append(CableShape(tangent, (count,), (0.0,)))
    return min(found, key=lambda s: abs(s.tangent_rad - shape.tangent_rad), default=None)


def _shape(border: Border, wish: _Wish) -> CableShape | None:
    """Return whole arcs along each side, None if they don't fit."""
    half_turns = [_half_turn(border, k) for k in range(len(border.sides))]
    # A corner takes up as many chords, however long these are.
    shares = [
        0.0 if h is None else math.sin(wish.tangent + h) / math.cos(h) / 2 / math.sin(wish.tangent)
        for h in half_turns
    ]
    if min(shares) < 0:
        return None
    # On the longest side arcs and corners are drawn round one circle.
    k = max(range(len(shares)), key=lambda i: border.sides[i].length_in)
    corners = shares[k - 1] + shares[k]
    wished = border.sides[k].length_in / wish.chord - corners
    for count in (_nearest(wished, wish.strands), _nearest(wished + 1, wish.strands)):
        chord = border.sides[k].length_in / (count + corners)
        shape = _whole(border, replace(wish, rise=wish.rise * chord / wish.chord), half_turns)
        if shape is not None:
            return shape
    return None


def _nearest(count: float, strands: int) -> int:
    """Return a whole number of arcs: an odd one for an odd number of strands.

    These look alike from both ends after an odd number of arcs only.
    """
    if strands % 2:
        return max(1, 2 * math.floor(count / 2) + 1)
    return max(1, round(count))


def _whole(border: Border, wish: _Wish, half_turns: Sequence[float | None]) -> CableShape | None:
    """Return whole arcs of about the wished chord along each side, None if they don't fit."""
    if wish.radius < wish.foot_in * (1 - 1e-9) or wish.rise > wish.most * (1 + 1e-9):
        return None
    corners: list[float] = []
    for half_turn in half_turns:
        if half_turn is None:
            corners.append(0.0)
            continue
        d = wish.radius * math.sin(wish.tangent + half_turn) / math.cos(half_turn)
        if not _turns_inside(wish, half_turn, d):
            return None
        corners.append(d)
    counts: list[int] = []
    for k, side in enumerate(border.sides):
        length = side.length_in - corners[k - 1] - corners[k]
        if length <= 0:
            return None
        # The fewest arcs that stay inside the border, the most that the foot can follow.
        fewest = max(1, math.ceil(length * math.tan(wish.tangent / 2) / 2 / wish.most - 1e-9))
        highest = math.floor(length / 2 / math.sin(wish.tangent) / wish.foot_in + 1e-9)
        if wish.strands % 2:
            fewest, highest = fewest + (fewest % 2 == 0), highest - (highest % 2 == 0)
        if fewest > highest:
            return None
        counts.append(min(highest, max(fewest, _nearest(length / wish.chord, wish.strands))))
    return CableShape(wish.tangent, tuple(counts), tuple(corners))


def _half_turn(border: Border, k: int) -> float | None:
    """Return half the angle by which the border turns after a side, None if it is open there."""
    if border.corners[k] == "open":
        return None
    following = border.sides[(k + 1) % len(border.sides)]
    turn = following.heading_rad - border.sides[k].heading_rad
    return math.remainder(turn, 2 * math.pi) / 2


def _turns_inside(wish: _Wish, half_turn: float, d: float) -> bool:
    """Return whether every strand's arc round a corner suits the foot and stays in the border."""
    r = wish.radius
    room = wish.width / 2 / math.cos(half_turn)
    for j in range(wish.strands):
        # The arcs that a strand has behind it at a corner, the last two of them counting.
        behind = 2 * j / wish.strands
        k = math.floor(behind)
        side = 1 if k % 2 == 0 else -1
        turned = math.asin((behind - k - 0.5) * wish.chord / r)
        out = side * r * (math.cos(turned) - math.cos(wish.tangent))
        angle = half_turn - side * turned
        half_chord = d * math.cos(half_turn) + out * math.sin(half_turn)
        if half_chord <= 0 or half_chord < wish.foot_in * abs(math.sin(angle)) * (1 - 1e-9):
            return False
        # How far in from the corner of the middle lines the arc reaches, along the bisector.
        reach = d * math.sin(half_turn) - out * math.cos(half_turn)
        reach = max(reach, reach - half_chord * math.tan(angle / 2))
        if reach > room - wish.clear:
            return False
    return True
