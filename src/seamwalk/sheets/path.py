"""The stitch path as items of a drawing: lines, arrows, starts and ends.

Order shows as colour along a sequential map, and again as arrows and numbers; style of line tells
first passes, second passes and travel apart without any colour.
"""

import math
from dataclasses import dataclass

import numpy as np

from seamwalk.geometry import polyline
from seamwalk.geometry.curve import Curve, Point
from seamwalk.geometry.projective import Points
from seamwalk.model.route import Route
from seamwalk.sheets.drawing import Fill, InkLine, Item, Pen
from seamwalk.sheets.palette import GREEN, GREY, INK, VERMILION, WHITE, against, sequence_colour
from seamwalk.sheets.walk import Run, Stop, chopped, length_in


@dataclass(frozen=True, slots=True)
class PathSettings:
    """Proportions of the drawn path; lengths are in widths of its line."""

    colours: int = 48
    """Steps of colour over the whole path: finer steps are not told apart."""
    casing: float = 0.38
    """How far the casing shows on each side: enough to part the line from any fabric."""
    travel: float = 0.62
    """Travel is drawn this much thinner."""
    done: float = 0.55
    """What was sewn before the path begins is drawn this much thinner, in grey."""
    dash: tuple[float, float] = (4.2, 2.4)
    """Second pass: stroke and gap."""
    dot: tuple[float, float] = (1.0, 1.5)
    """Travel: dot and gap, in widths of the travel line."""
    aside: float = 0.9
    """How far each of two passes in one place moves aside: half a line with its casing."""
    ease: float = 5.0
    """A line moved aside comes back to its ends over this length."""
    arrow: float = 4.2
    """Length of an arrow head; its width is 0.9 of it."""
    arrow_every: float = 46.0
    """Stitched length between arrows, where legs are long enough."""
    arrow_leg: float = 9.0
    """A leg shorter than this has no arrow."""
    mark: float = 3.6
    """Radius of the start's ring; the end's square has this half side."""


PATH = PathSettings()


def path_items(walk: tuple[Run, ...], line_in: float, settings: PathSettings = PATH) -> list[Item]:
    """Return lines and arrows of the whole path, in painting order.

    Parameters
    ----------
    walk : tuple of Run
        In the order of stitching.
    line_in : float
        Width of the main line, inches.

    Notes
    -----
    All casings come first: a casing drawn later would bite into the line it continues.
    """
    total = length_in(walk)
    under: list[Item] = []
    over: list[Item] = []
    for run in walk:
        for curve, share in chopped(run, total, settings.colours):
            drawn = _aside(curve, run, line_in, settings)
            pen, casing = _pens(run, share, line_in, settings)
            under.append(InkLine(drawn, casing, "casing"))
            over.append(InkLine(drawn, pen, run.style))
    return under + over + list(_arrows(walk, line_in, settings))


def done_items(route: Route, line_in: float, settings: PathSettings = PATH) -> list[Item]:
    """Return what was sewn before a rest begins: thin grey lines, under everything else."""
    if route.begun is None:
        return []
    pen, casing = done_pens(line_in, settings)
    curves = [route.network.pieces[p].curve for p in sorted(route.begun.done)]
    return [
        *(InkLine(c, casing, "casing") for c in curves),
        *(InkLine(c, pen, "done") for c in curves),
    ]


def done_pens(line_in: float, settings: PathSettings = PATH) -> tuple[Pen, Pen]:
    """Return the pens of a line that was sewn before, and of its casing."""
    width = settings.done * line_in
    return Pen(GREY, width), Pen(WHITE, width + 2 * settings.casing * line_in)


def _pens(run: Run, share: float, line_in: float, settings: PathSettings) -> tuple[Pen, Pen]:
    # One colour for each step of the sequence.
    colour = sequence_colour((math.floor(share * settings.colours) + 0.5) / settings.colours)
    case = line_in * settings.casing
    dark_or_light = against(colour)
    if run.style == "travel":
        width = line_in * settings.travel
        dots = (settings.dot[0] * width, settings.dot[1] * width)
        return Pen(colour, width, dots), Pen(dark_or_light, width + 1.4 * case, dots)
    dashes = (
        (settings.dash[0] * line_in, settings.dash[1] * line_in) if run.style == "second" else ()
    )
    return Pen(colour, line_in, dashes), Pen(dark_or_light, line_in + 2 * case)


def _aside(curve: Curve, run: Run, line_in: float, settings: PathSettings) -> Curve:
    """Move one of two passes in the same place aside, back to the shared ends."""
    if run.side == 0:
        return curve
    points = polyline.resample(curve.sampled(), line_in)
    step = np.hypot(*np.diff(points, axis=0).T)
    s = np.concatenate([[0.0], np.cumsum(step)])
    far = min(settings.ease * line_in, 0.3 * s[-1])
    share = np.clip(np.minimum(s, s[-1] - s) / far, 0, 1)
    along = np.gradient(points, axis=0)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    right = np.column_stack([-along[:, 1], along[:, 0]])
    moved = (
        points + right * (run.side * settings.aside * line_in * np.sin(share * np.pi / 2))[:, None]
    )
    return Curve.through(moved)


def _arrows(walk: tuple[Run, ...], line_in: float, settings: PathSettings) -> list[Item]:
    """Arrow heads at even distances, in the middle of short legs."""
    total = length_in(walk)
    every, shortest = settings.arrow_every * line_in, settings.arrow_leg * line_in
    out: list[Item] = []
    last = -every
    for i, run in enumerate(walk):
        if i == 0 or run.thread != walk[i - 1].thread:
            last = run.from_in - every
        length = run.to_in - run.from_in
        if length < shortest:
            continue
        n = max(1, math.floor(length / every))
        for k in range(n):
            at = length * (k + 0.5) / n
            if run.from_in + at - last < 0.75 * every:
                continue
            last = run.from_in + at
            drawn = _aside(run.curve, run, line_in, settings)
            share = (run.from_in + at) / total
            size = line_in * (0.8 if run.style == "travel" else 1.0)
            out.append(_arrow(drawn, at / length, share, size, settings))
    return out


def _arrow(
    curve: Curve, share: float, of_path: float, line_in: float, settings: PathSettings
) -> Fill:
    a = settings.arrow * line_in
    s = curve.length * share
    part = curve.part(max(0.0, s - 0.5 * a), min(curve.length, s + 0.5 * a)).sampled()
    heading = math.atan2(*(part[-1] - part[0])[::-1])
    centre = tuple(part.mean(axis=0)) if len(part) == 2 else _middle(part)
    colour = sequence_colour(of_path)
    shape = ((0.62, 0.0), (-0.42, 0.46), (-0.2, 0.0), (-0.42, -0.46))
    ring = _placed(shape, (float(centre[0]), float(centre[1])), heading, a)
    return Fill(ring, colour, Pen(against(colour), 0.35 * line_in), layer="arrow")


def _middle(points: Points) -> Point:
    step = np.hypot(*np.diff(points, axis=0).T)
    s = np.concatenate([[0.0], np.cumsum(step)])
    return (
        float(np.interp(s[-1] / 2, s, points[:, 0])),
        float(np.interp(s[-1] / 2, s, points[:, 1])),
    )


def _placed(
    shape: tuple[tuple[float, float], ...], at: Point, heading: float, size: float
) -> tuple[Point, ...]:
    c, s = math.cos(heading) * size, math.sin(heading) * size
    return tuple((at[0] + x * c - y * s, at[1] + x * s + y * c) for x, y in shape)


def mark_items(stop: Stop, at: Point, size_in: float) -> list[Item]:
    """Return the mark of a stop: a ringed triangle to start, a square to end, a dot for a step.

    Parameters
    ----------
    at : Point
        Where to draw it, inches.
    size_in : float
        Radius of the start's ring.
    """
    dark = Pen(INK, 0.16 * size_in)
    if stop.kind == "step":
        return [Fill(_disc(at, 0.42 * size_in), WHITE, dark, layer="step")]
    if stop.kind == "end":
        outer = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
        return [
            Fill(_placed(outer, at, 0.0, 0.95 * size_in), WHITE, dark, layer="end"),
            Fill(_placed(outer, at, 0.0, 0.6 * size_in), VERMILION, layer="end"),
        ]
    triangle = ((0.78, 0.0), (-0.45, 0.62), (-0.45, -0.62))
    return [
        Fill(_disc(at, 1.1 * size_in), WHITE, dark, layer="start"),
        Fill(_placed(triangle, at, stop.heading_rad, size_in), GREEN, layer="start"),
    ]


def _disc(at: Point, radius: float) -> tuple[Point, ...]:
    turn = np.linspace(0, 2 * np.pi, 33)[:-1]
    return tuple(
        (at[0] + radius * float(np.cos(a)), at[1] + radius * float(np.sin(a))) for a in turn
    )
