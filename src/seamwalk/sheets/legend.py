"""The small key that explains the lines and marks of an overlay."""

import itertools

import numpy as np

from seamwalk.geometry.curve import Arc, Curve, Line
from seamwalk.model.picture import Rgb
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Item, Label, Pen, box
from seamwalk.sheets.palette import GREY, INK, WHITE, against, sequence_colour
from seamwalk.sheets.path import PATH, done_pens, mark_items
from seamwalk.sheets.raster import picture
from seamwalk.sheets.walk import Run, Stop

_EM = 1.0
"""The key is drawn in units of its own text size."""
_ROW = 1.75
_SAMPLE = 5.2
_GAP = 0.8
_SHORTEST_BAR = 14.0
_PAD = 0.8
_LINE = 0.36

_MEANING = {
    "first": "stitch, first pass",
    "second": "second pass",
    "travel": "travel in the ditch or margin",
}


def legend(
    walk: tuple[Run, ...], note: str, em_px: float, room_px: float = 0.0, *, done: bool = False
) -> Rgb:
    """Return the key as a picture, with only what the path has.

    Parameters
    ----------
    walk : tuple of Run
        The whole path.
    note : str
        One line at the foot, such as the length of the path.
    em_px : float
        Size of its text, pixels.
    room_px : float
        Zero for a column; otherwise a strip of this width, pixels.
    done : bool
        Something was sewn before the path begins.
    """
    rows: list[tuple[str, str]] = [("start", "start"), ("end", "end")]
    rows += [(s, text) for s, text in _MEANING.items() if any(r.style == s for r in walk)]
    if any(a.step != b.step for a, b in itertools.pairwise(walk)):
        rows.append(("step", "next step starts"))
    if done:
        rows.append(("done", "sewn already"))
    widths = [_SAMPLE + _GAP + lettering.width(text, _EM) for _, text in rows]
    bar = 0.0 if room_px else max(*widths, _SHORTEST_BAR)
    cells = [*widths, bar or _SHORTEST_BAR, lettering.width(note, _EM, bold=True)]
    limit = room_px / em_px if room_px else 2 * _PAD + max(cells)
    places = _flow(cells, limit, columns=not room_px)
    w = limit
    h = 2 * _PAD + _ROW * (1 + max(row for _, row in places))
    frame = [] if room_px else [Fill(box(0, 0, w, h), WHITE, Pen(GREY, 0.1))]
    items: list[Item] = [*frame]
    for (x, row), (kind, text) in zip(places, rows, strict=False):
        y = _PAD + _ROW * (row + 0.5)
        items += _sample(kind, x, y)
        items.append(Label(text, (x + _SAMPLE + _GAP, y), _EM, anchor="left"))
    (x, row), (note_x, note_row) = places[-2:]
    items += _bar(x, _PAD + _ROW * (row + 0.5), cells[-2])
    at = (note_x, _PAD + _ROW * (note_row + 0.5))
    items.append(Label(note, at, _EM, bold=True, anchor="left"))
    return picture(Drawing((0.0, 0.0, w, h), tuple(items)), em_px)


def _flow(widths: list[float], limit: float, *, columns: bool) -> list[tuple[float, int]]:
    """Return (x, row) of each cell: one under the other, or side by side as far as they go."""
    if columns:
        return [(_PAD, row) for row in range(len(widths))]
    out: list[tuple[float, int]] = []
    x, row = _PAD, 0
    for w in widths:
        if x > _PAD and x + w > limit - _PAD:
            x, row = _PAD, row + 1
        out.append((x, row))
        x += w + 2.2
    return out


def _sample(kind: str, x: float, y: float) -> list[Item]:
    middle = (x + _SAMPLE / 2, y)
    if kind in ("start", "end", "step"):
        stop = Stop(middle, 0.0, kind, 0, 1)  # type: ignore[arg-type]
        marks = mark_items(stop, (middle[0] - 0.9, y) if kind == "step" else middle, 0.62)
        if kind == "step":
            marks.append(Label("7", (middle[0] + 0.6, y), 0.95, bold=True, ground=WHITE, rim=INK))
        return marks
    colour = sequence_colour(0.25)
    case = against(colour)
    ends = ((x, y), (x + _SAMPLE, y))
    if kind == "travel":
        width = _LINE * PATH.travel
        dots = (PATH.dot[0] * width, PATH.dot[1] * width)
        line = Curve((Line(*ends),))
        return [
            InkLine(line, Pen(INK, width + 1.4 * _LINE * PATH.casing, dots)),
            InkLine(line, Pen(colour, width, dots)),
        ]
    if kind == "done":
        line = Curve((Line(*ends),))
        pen, casing = done_pens(_LINE)
        return [InkLine(line, casing), InkLine(line, pen)]
    curve = Curve((Arc.by_rise(*ends, -0.45 if kind == "first" else 0.45),))
    dashes = (PATH.dash[0] * _LINE, PATH.dash[1] * _LINE) if kind == "second" else ()
    return [
        InkLine(curve, Pen(GREY, _LINE * (1 + 2 * PATH.casing) + 0.1)),
        InkLine(curve, Pen(case, _LINE * (1 + 2 * PATH.casing))),
        InkLine(curve, Pen(colour, _LINE, dashes)),
    ]


def _bar(x: float, y: float, w: float) -> list[Item]:
    """The sequence of colours with its two ends named."""
    first, last = "first", "last"
    left = x + lettering.width(first, _EM) + 0.5
    right = x + w - lettering.width(last, _EM) - 0.5
    edges = np.linspace(left, right, 33)
    items: list[Item] = [
        Fill(box(float(a), y - 0.4, float(b) + 0.02, y + 0.4), sequence_colour((k + 0.5) / 32))
        for k, (a, b) in enumerate(itertools.pairwise(edges))
    ]
    items.append(Fill(box(left, y - 0.4, right, y + 0.4), WHITE, Pen(INK, 0.08), opacity=0.0))
    items.append(Label(first, (x, y), _EM, anchor="left"))
    items.append(Label(last, (x + w, y), _EM, anchor="right"))
    return items
