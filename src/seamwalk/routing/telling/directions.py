"""Where and which way, as she sees the top: left to right, clockwise, at the upper edge."""

import math
from collections.abc import Sequence
from typing import Literal

from seamwalk.geometry.curve import Curve, Point
from seamwalk.units import Units, format_length

WAYS = (
    "left to right",
    "down to the right",
    "downwards",
    "down to the left",
    "right to left",
    "up to the left",
    "upwards",
    "up to the right",
)
"""Eighths of a circle, from x towards y."""

CORNER_IN = 2.0
"""As near to two edges as this is at their corner, inches: the width of two fingers."""

STRAIGHT = 0.02
"""Share of its chord that a curve must rise to count as an arc: 1/16 in on 3 in, hardly seen."""

Box = tuple[float, float, float, float]
Side = Literal["above", "below", "left", "right"]


def way(start: Point, end: Point) -> str:
    """Return the direction from one place to another; "round" where they are one."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    if math.hypot(dx, dy) < 1e-6:
        return "round"
    return WAYS[round(math.atan2(dy, dx) / (math.pi / 4)) % 8]


def sense(curves: Sequence[Curve]) -> str:
    """Return which way curves run round, joined end to end and closed by a straight line."""
    area = 0.0
    places: list[Point] = []
    for curve in curves:
        for section in curve:
            places += [section.start, section.at(1 / 3), section.at(2 / 3)]
    places.append(curves[-1].end)
    for i in range(len(places)):
        (x0, y0), (x1, y1) = places[i - 1], places[i]
        area += x0 * y1 - x1 * y0
    return "clockwise" if area > 0 else "anticlockwise"


def bow(curve: Curve) -> int:
    """Return the side that a curve bows to: 1 right of the way, -1 left, 0 straight."""
    (x0, y0), (x1, y1) = curve.start, curve.end
    dx, dy = x1 - x0, y1 - y0
    chord = math.hypot(dx, dy)
    if chord == 0:
        return 0
    middle = curve.pieces[len(curve.pieces) // 2].at(0.5 if len(curve.pieces) % 2 else 0.0)
    off = (dx * (middle[1] - y0) - dy * (middle[0] - x0)) / chord / chord
    return (off > STRAIGHT) - (off < -STRAIGHT)


def side(
    start: Point, end: Point, right_of_way: bool
) -> Literal["above", "below", "left", "right"]:
    """Return on which side of a way something lies, as seen on the page."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    x, y = (-dy, dx) if right_of_way else (dy, -dx)
    if WAYS[round(math.atan2(dy, dx) / (math.pi / 4)) % 8] in ("downwards", "upwards"):
        return "right" if x > 0 else "left"
    return "below" if y > 0 else "above"


def place(at: Point, box: Box, units: Units, *, in_margin: bool) -> str:
    """Return where on the top a thread starts or ends.

    Parameters
    ----------
    box : (left, top, right, bottom)
        Of the outermost nodes, inches.
    in_margin : bool
        At the edge, where the end vanishes under the binding.
    """
    left, top, right, bottom = box
    x, y = at
    down, across = format_length(y - top, units), format_length(x - left, units)
    if not in_margin:
        return f"inside, {across} from the left, {down} from the top"
    gaps = {"left": x - left, "upper": y - top, "right": right - x, "lower": bottom - y}
    level = min(("upper", "lower"), key=lambda name: gaps[name])
    hand = min(("left", "right"), key=lambda name: gaps[name])
    if max(gaps[level], gaps[hand]) <= CORNER_IN:
        return f"at the {level} {hand} corner"
    edge = min(gaps, key=lambda name: gaps[name])
    far = f"{down} from the top" if edge in ("left", "right") else f"{across} from the left"
    return f"at the {edge} edge, {far}"


def corner(at: Point, box: Box) -> str:
    """Return the corner or side of a box that a place is nearest to."""
    left, top, right, bottom = box
    x = (at[0] - left) / (right - left) if right > left else 0.5
    y = (at[1] - top) / (bottom - top) if bottom > top else 0.5
    hand = "left" if x < 1 / 3 else "right" if x > 2 / 3 else ""
    level = "upper" if y < 1 / 3 else "lower" if y > 2 / 3 else ""
    if hand and level:
        return f"{level} {hand} corner"
    if not hand and not level:
        return "middle"
    return f"middle of the {hand or level} side"
