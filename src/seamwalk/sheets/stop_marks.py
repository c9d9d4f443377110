"""Marks and numbers of the places where stitching starts, pauses and ends."""

from dataclasses import replace

import numpy as np

from seamwalk.geometry.curve import Curve, Point
from seamwalk.sheets.drawing import InkLine, Item, Label, Pen, Projection
from seamwalk.sheets.palette import INK, WHITE
from seamwalk.sheets.path import PATH, mark_items
from seamwalk.sheets.placing import Occupied, place
from seamwalk.sheets.raster import label_box
from seamwalk.sheets.walk import Run, Stop, numbered_every, stops

_MANY_THREADS = 12
"""With more threads than this marks are smaller and not every one has its name."""
_TOO_CROWDED = 2.0
"""A label that would cost more than this (see `placing`) hides more than it tells."""


def stop_items(
    walk: tuple[Run, ...],
    projection: Projection,
    occupied: Occupied,
    line_in: float,
    text_px: float,
    most_numbers: int,
) -> list[Item]:
    """Return marks and numbers: every start and end, and steps as far as they stay readable.

    Parameters
    ----------
    walk : tuple of Run
        The whole path.
    projection : Projection
        Where the top lies in the picture.
    occupied : Occupied
        What the labels should not hide; their places are added to it.
    line_in : float
        Width of the path's line, inches.
    text_px : float
        Size of the largest text, pixels.
    most_numbers : int
        With more steps than this only every 2nd, 5th, 10th … has its number.
    """
    every = stops(walk)
    threads = sum(s.kind == "start" for s in every)
    crowded = threads > _MANY_THREADS
    mark_in = PATH.mark * line_in * (0.7 if crowded else 1.0)
    text_px *= 0.8 if crowded else 1.0
    steps = [s for s in every if s.kind == "step"]
    keep = numbered_every(len(steps), most_numbers)
    shown = [s for s in every if s.kind != "step" or s.step % keep == 0]
    at = {id(s): _clear_of(s, shown, mark_in) for s in shown}
    marks: list[Item] = []
    numbers: list[Item] = []
    for stop in shown:
        if stop.kind != "step":
            _take_mark(occupied, projection, at[id(stop)], mark_in)
    # Starts and ends choose their places first; marks of starts lie over those of steps.
    for stop in sorted(shown, key=lambda s: s.kind == "step"):
        marks = mark_items(stop, at[id(stop)], mark_in) + marks
        # Starts and ends keep their names unless there are too many to read anyway.
        most_cost = _TOO_CROWDED if crowded or stop.kind == "step" else float("inf")
        text = str(stop.step)
        if stop.kind != "step":
            text = stop.kind if threads == 1 else f"{stop.kind} {stop.thread + 1}"
        size_in = text_px * (1.0 if stop.kind == "start" else 0.85) / projection.px_per_in
        numbers += _number(stop, text, at[id(stop)], size_in, projection, occupied, most_cost)
    return marks + numbers


def _clear_of(stop: Stop, shown: list[Stop], size_in: float) -> Point:
    """Where to draw a mark: ends that meet a start step back along their thread."""
    back = 0.0
    if stop.kind == "end" and any(
        s.kind == "start" and np.hypot(s.at[0] - stop.at[0], s.at[1] - stop.at[1]) < size_in
        for s in shown
    ):
        back = 2.3 * size_in
    return (
        stop.at[0] - back * float(np.cos(stop.heading_rad)),
        stop.at[1] - back * float(np.sin(stop.heading_rad)),
    )


def _take_mark(occupied: Occupied, projection: Projection, at: Point, size_in: float) -> None:
    x, y = projection.px_from_in(np.array([at]))[0]
    r = size_in * projection.px_per_in
    if np.isfinite([x, y]).all():
        occupied.take(x - r, y - r, 2 * r, 2 * r)


def _number(
    stop: Stop,
    text: str,
    at: Point,
    size_in: float,
    projection: Projection,
    occupied: Occupied,
    most_cost: float,
) -> list[Item]:
    """The label of a stop and the line that leads to it; nothing where there is no room."""
    px = projection.px_from_in(np.array([at]))[0]
    if not np.isfinite(px).all():
        return []
    label = Label(text, at, size_in, INK, bold=True, ground=WHITE, rim=INK, layer=stop.kind)
    size_px = label_box(label, projection.px_per_in)
    middle = place(occupied, (float(px[0]), float(px[1])), size_px, most_cost)
    if middle is None:
        return []
    x, y = projection.in_from_px(np.array([middle]))[0]
    centre = (float(x), float(y))
    leader = InkLine(Curve.through([at, centre]), Pen(INK, size_in * 0.08), "leader")
    return [leader, replace(label, at=centre)]
