"""The stitch path as SVG in real units.

One user unit is one millimetre and the width and height say so, because readers guess
differently when a file has no unit (SVG 2, chapter 8).  Arcs stay arcs.  There is one plain group
for each kind of stroke, so a plotter or projector program can show or skip it:

``outline``  raw edge of the top
``motif``    stitching inside the patches
``ditch``    stitching in a seam that the plan asks for
``travel``   stitching only to get elsewhere, in the ditch or in the margin
``stops``    numbered starts, and ends
"""

import itertools
import math
import xml.etree.ElementTree as ET

from seamwalk.geometry.curve import Arc, Curve, Point
from seamwalk.model.route import Route
from seamwalk.model.top import Top
from seamwalk.sheets.palette import BLACK, BLUE, GREEN, GREY, INK, VERMILION
from seamwalk.sheets.walk import Run, Stop, runs, stops
from seamwalk.units import MM_PER_IN, Units, format_length

LAYERS: dict[str, tuple[str, str]] = {
    "outline": (GREY, "Raw edge of the top"),
    "motif": (BLUE, "Motifs"),
    "ditch": (BLACK, "Stitching in the ditch"),
    "travel": (VERMILION, "Travel: stitched only to get elsewhere"),
    "stops": (INK, "Starts (numbered triangles) and ends (squares) of threads"),
}
"""Colour and title of each layer; laser and plotter programs tell layers by colour."""

MOST_TURN_RAD = 0.8 * math.pi
"""Longest turn of one A command: there an error of the radius is six times as large in the turn's
arc, at half a circle it is its square root."""

LINE_MM = 0.8
MARK_MM = 5.0
_DASH = {"first": None, "second": "4 2.5", "travel": "0.8 2.4"}
_DECIMALS = 4
"""A ten-thousandth of a millimetre: far below a thread, and stable between machines."""


def path_svg(route: Route, top: Top, units: Units = "in") -> str:
    """Return the whole path as an SVG document.

    Parameters
    ----------
    route : Route
        What to draw, in order; every run of one kind inside a step is one ``path`` with its
        place in the order as ``data-order``.
    top : Top
        For the raw edge and the size.
    units : {"in", "cm"}
        Of the size in its description.
    """
    x0, y0, x1, y1 = top.outline.bounds
    w, h = (x1 - x0) * MM_PER_IN, (y1 - y0) * MM_PER_IN
    svg = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{_number(w)}mm",
            "height": f"{_number(h)}mm",
            "viewBox": " ".join(map(_number, (x0 * MM_PER_IN, y0 * MM_PER_IN, w, h))),
        },
    )
    walk = runs(route)
    ET.SubElement(svg, "title").text = "Stitch path"
    ET.SubElement(svg, "desc").text = (
        f"Top {format_length(x1 - x0, units)} x {format_length(y1 - y0, units)}. "
        f"One user unit is 1 mm. Threads: {len(route.threads)}. Dashed: second pass. "
        f"Dotted: travel."
    )
    groups = {name: _group(svg, name, *LAYERS[name]) for name in LAYERS}
    edge = Curve.through(top.outline.exterior.coords)
    ET.SubElement(groups["outline"], "path", {"d": f"{path_data(edge)} Z"})
    for order, (key, some) in enumerate(itertools.groupby(walk, _stretch), start=1):
        layer, style, thread, step = key
        curve = _joined(list(some))
        attributes = {
            "d": path_data(curve),
            "data-order": str(order),
            "data-thread": str(thread + 1),
            "data-step": str(step),
            "data-style": style,
        }
        dash = _DASH[style]
        if dash:
            attributes["stroke-dasharray"] = dash
        ET.SubElement(groups[layer], "path", attributes)
    for stop in stops(walk):
        _stop(groups["stops"], stop)
    ET.indent(svg)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(svg, encoding="unicode") + "\n"


def path_data(curve: Curve) -> str:
    """Return a curve, inches, as SVG path commands in millimetres: M, L and A."""
    out = [f"M {_point(curve.start)}"]
    for piece in curve:
        if isinstance(piece, Arc):
            # From ends and a rounded radius a reader cannot tell the turn of a half circle well,
            # nor that of a closed one at all; so a long arc comes in parts.
            count = max(1, math.ceil(abs(piece.sweep_rad) / MOST_TURN_RAD))
            for i in range(count):
                part = piece.part(i / count, (i + 1) / count)
                r = _number(part.radius * MM_PER_IN)
                clockwise = int(part.sweep_rad > 0)
                out.append(f"A {r} {r} 0 0 {clockwise} {_point(part.end)}")
        else:
            out.append(f"L {_point(piece.end)}")
    return " ".join(out)


def _group(svg: ET.Element, name: str, colour: str, title: str) -> ET.Element:
    attributes = {"id": name, "data-kind": name, "fill": "none", "stroke": colour}
    attributes |= {"stroke-width": _number(LINE_MM), "stroke-linecap": "round"}
    attributes["stroke-linejoin"] = "round"
    group = ET.SubElement(svg, "g", attributes)
    ET.SubElement(group, "title").text = title
    return group


def _stretch(run: Run) -> tuple[str, str, int, int]:
    """What stays the same along one drawn path."""
    layer = "travel" if run.style == "travel" else "motif" if run.kind == "motif" else "ditch"
    return layer, run.style, run.thread, run.step


def _joined(some: list[Run]) -> Curve:
    return Curve(tuple(piece for run in some for piece in run.curve.pieces))


def _stop(group: ET.Element, stop: Stop) -> None:
    x, y = stop.at[0] * MM_PER_IN, stop.at[1] * MM_PER_IN
    half = MARK_MM / 2
    if stop.kind == "end":
        ET.SubElement(
            group,
            "rect",
            {
                "x": _number(x - half),
                "y": _number(y - half),
                "width": _number(MARK_MM),
                "height": _number(MARK_MM),
                "stroke": VERMILION,
                "data-thread": str(stop.thread + 1),
                "data-stop": "end",
            },
        )
        return
    if stop.kind == "start":
        corners = [
            (x + MARK_MM * r * math.cos(stop.heading_rad + a), y + MARK_MM * r * s)
            for r, a in ((1.0, 0.0), (0.6, 2.2), (0.6, -2.2))
            for s in (math.sin(stop.heading_rad + a),)
        ]
        ET.SubElement(
            group,
            "polygon",
            {
                "points": " ".join(f"{_number(a)},{_number(b)}" for a, b in corners),
                "stroke": GREEN,
                "data-thread": str(stop.thread + 1),
                "data-stop": "start",
            },
        )
    text = ET.SubElement(
        group,
        "text",
        {
            "x": _number(x + MARK_MM),
            "y": _number(y - MARK_MM * 0.6),
            "font-family": "sans-serif",
            "font-size": _number(MARK_MM * (1.4 if stop.kind == "start" else 0.8)),
            "fill": INK,
            "stroke": "none",
            "data-stop": stop.kind,
        },
    )
    text.text = str(stop.step or stop.thread + 1)


def _point(p: Point) -> str:
    return f"{_number(p[0] * MM_PER_IN)} {_number(p[1] * MM_PER_IN)}"


def _number(value: float) -> str:
    text = f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
