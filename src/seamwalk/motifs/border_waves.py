"""Waves along borders and strips: rows that turn the corners as one smooth line.

At a corner the rows of two sides end one *arm* before it, and one arc joins them.  It leaves the
one side in the direction in which that side's last arc arrives, and meets the other as its mirror
image in the corner's bisector; a place and a direction and their mirror images are joined by
exactly one arc.  With the arm a, the border's turn τ and the angle θ between waves and their line
its radius is a·cos(τ/2)/sin(τ/2 + θ).

A corner's arc bows outwards, so the arcs next to it bow inwards; at an open end the last one bows
outwards.  So a side between two corners or two open ends has an odd number of arcs, one with a
single corner an even number.  All waves of a border that turns meet their lines at one angle,
rather than rise equally high, so that every joint is smooth.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from seamwalk.geometry.curve import Arc, Curve, Piece
from seamwalk.model.top import PatchId
from seamwalk.motifs.border_rows import Row, rows_of, shortened
from seamwalk.motifs.borders import Border
from seamwalk.motifs.circles import rise_at_tangent, tangent_rad
from seamwalk.motifs.outlines import Outline
from seamwalk.motifs.wave_shape import Wave, WaveSettings, fitting_wave, serpentine, shortest_chord

_ROUNDS = 4
"""A shorter arm makes longer, flatter waves, which need one shorter still: a few rounds end it."""


@dataclass(frozen=True, slots=True)
class WaveWish:
    """What is asked of a border's waves.

    Attributes
    ----------
    depth_in, spacing_in : float
        Greatest height of crests, and widest distance of rows.
    smallest_in : float
        The foot's smallest radius.
    asked : bool
        The depth was asked for, so that it is kept if a single arc allows it.
    """

    depth_in: float
    spacing_in: float
    smallest_in: float
    asked: bool


@dataclass(frozen=True, slots=True)
class WaveRows:
    """Waves of one border.

    Attributes
    ----------
    rows : tuple of tuple of Curve
        For each row, from the outside inwards, its curves: one that turns the corners, or one for
        each side.
    highest_in : float
        Greatest rise, corners not counted.
    """

    rows: tuple[tuple[Curve, ...], ...]
    highest_in: float


def border_waves(
    border: Border, outlines: Mapping[PatchId, Outline], wish: WaveWish, settings: WaveSettings
) -> WaveRows:
    """Return rows of waves along a border, round its corners where there is room for that."""
    widths = [s.width_in for s in border.sides]
    gaps = max(2, math.ceil(max(widths) / wish.spacing_in - settings.slack))
    depth = min(wish.depth_in, settings.share * min(widths) / gaps)
    for share in (1.0,) if wish.asked else settings.lowered:
        lower = replace(wish, depth_in=depth * share)
        found = _turning(border, outlines, gaps, lower, settings)
        if found is not None:
            return found
    wish = replace(wish, depth_in=depth)
    return _side_by_side(border, outlines, gaps, wish, settings)


def _side_by_side(
    border: Border,
    outlines: Mapping[PatchId, Outline],
    gaps: int,
    wish: WaveWish,
    settings: WaveSettings,
) -> WaveRows:
    """Return rows that end where their side ends."""
    rows: list[list[Curve]] = [[] for _ in range(gaps - 1)]
    highest = 0.0
    for side in border.sides:
        lines = rows_of(side, gaps, outlines)
        shortest = min(math.dist(*line) for line in lines)
        wave = fitting_wave(shortest, wish.depth_in, wish.smallest_in, settings, asked=wish.asked)
        highest = max(highest, wave.rise_in)
        for row, line in zip(rows, lines, strict=True):
            row.append(serpentine(*line, wave, left_first=True))
    return WaveRows(tuple(map(tuple, rows)), highest)


def _turning(
    border: Border,
    outlines: Mapping[PatchId, Outline],
    gaps: int,
    wish: WaveWish,
    settings: WaveSettings,
) -> WaveRows | None:
    """Return rows that turn the corners, None if there are no corners or no room."""
    sides, count = border.sides, len(border.sides)
    turning = [
        (border.corners[k - 1] != "open", border.corners[k] != "open") for k in range(count)
    ]
    halves = [
        math.remainder(sides[(k + 1) % count].heading_rad - sides[k].heading_rad, 2 * math.pi) / 2
        for k in range(count)
        if turning[k][1]
    ]
    steepest, radius = math.radians(settings.steepest_deg), settings.room * wish.smallest_in
    chord = shortest_chord(wish.depth_in, radius, steepest)
    if not halves or wish.depth_in < settings.straight_in:
        return None
    least = max(
        settings.least_arm * chord,
        *(radius * math.sin(min(math.pi / 2, t + steepest)) / math.cos(t) for t in halves),
    )
    lines = [
        rows_of(side, gaps, outlines, turning=ends)
        for side, ends in zip(sides, turning, strict=True)
    ]
    lengths = [[math.dist(*line) for line in mine] for mine in lines]
    arcs: list[int] = []
    arm = math.inf
    for mine, ends in zip(lengths, turning, strict=True):
        corners, shortest = sum(ends), min(mine)
        n = math.floor((shortest - corners * least) / chord + 1e-9)
        n -= (n + corners + 1) % 2
        if n < 1:
            return None
        arcs.append(n)
        if corners:
            arm = min(arm, shortest / (n + corners), (shortest - n * chord) / corners)
    room = settings.share * min(s.width_in for s in sides) / gaps
    for _ in range(_ROUNDS):
        arm = max(arm, least)
        longest = max(
            (max(mine) - sum(ends) * arm) / n
            for mine, ends, n in zip(lengths, turning, arcs, strict=True)
        )
        angle = min(steepest, tangent_rad(longest, wish.depth_in))
        most = min(_longest_arm(room, t, angle) for t in halves)
        if arm <= most:
            break
        arm = most
    else:
        return None
    rows = tuple(
        (_turned([mine[k] for mine in lines], turning, arcs, arm, angle),) for k in range(gaps - 1)
    )
    return WaveRows(rows, rise_at_tangent(longest, angle))


def _longest_arm(room: float, half: float, angle: float) -> float:
    """Return the arm at which a corner's arc fills the room inside the row's lines.

    Its middle lies a·(sin(τ/2) − cos(τ/2)·tan((τ/2 + θ)/2)) from the lines' corner, on the
    bisector; what is d from both lines is d/cos(τ/2) from it.
    """
    inside = math.sin(half) - math.cos(half) * math.tan((half + angle) / 2)
    return room / math.cos(half) / inside if inside > 0 else math.inf


def _turned(
    lines: list[Row], turning: list[tuple[bool, bool]], arcs: list[int], arm: float, angle: float
) -> Curve:
    """Return one row along all sides, closed if the border is."""
    pieces: list[Piece] = []
    for line, ends, n in zip(lines, turning, arcs, strict=True):
        start, end = shortened(*line, *(arm if e else 0.0 for e in ends))
        rise = rise_at_tangent(math.dist(start, end) / n, angle)
        run = serpentine(start, end, Wave(n, rise), left_first=not ends[0])
        if pieces:
            pieces.append(_corner(pieces[-1], run.pieces[0]))
        pieces += run.pieces
    if turning[-1][1]:
        pieces.append(_corner(pieces[-1], pieces[0]))
    return Curve(tuple(pieces))


def _corner(before: Piece, after: Piece) -> Arc:
    """Return the arc that goes on from one piece to another."""
    start, end = before.end, after.start
    chord = math.atan2(end[1] - start[1], end[0] - start[0])
    half = math.remainder(chord - before.heading_rad(1.0), 2 * math.pi)
    return Arc.by_rise(start, end, -math.dist(start, end) / 2 * math.tan(half / 2))
