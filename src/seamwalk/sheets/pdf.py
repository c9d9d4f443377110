"""Drawings as PDF pages, exact to the vector.

PDF units are 1/72 in with y up (ISO 32000-1, 8.3.2); this is the only file that turns the page
over.  The viewer is asked not to scale when printing; several ignore it, so sheets carry check
bars as well.
"""

import math
from collections.abc import Sequence
from os import PathLike
from typing import Any, BinaryIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Label, Pen
from seamwalk.sheets.palette import components

PT_PER_IN = 72.0

_QUARTER_RAD = math.pi / 2
"""Arcs are cut into Bézier pieces no longer than this; a quarter circle's error is 0.03 %."""


def write_pdf(
    pages: Sequence[Drawing], target: str | PathLike[str] | BinaryIO, title: str
) -> None:
    """Write drawings as the pages of one PDF, each page the size of its drawing.

    Parameters
    ----------
    pages : sequence of Drawing
        At least one.
    target : path or binary file
        Where to write.
    title : str
        Shown by viewers.
    """
    for bold in (False, True):
        name = lettering.BOLD if bold else lettering.REGULAR
        pdfmetrics.registerFont(TTFont(name, lettering.face_file(bold)))
    where = target if hasattr(target, "write") else str(target)
    # The same drawing always gives the same bytes.
    page = Canvas(where, invariant=1, pageCompression=1)
    page.setTitle(title)
    page.setCreator("seamwalk")
    page.setViewerPreference("PrintScaling", "None")
    for drawing in pages:
        _page(page, drawing)
        page.showPage()
    page.save()


def _page(page: Any, drawing: Drawing) -> None:
    page.setPageSize((drawing.width_in * PT_PER_IN, drawing.height_in * PT_PER_IN))
    x0, _, _, y1 = drawing.extent_in

    def pt(p: tuple[float, float]) -> tuple[float, float]:
        return (p[0] - x0) * PT_PER_IN, (y1 - p[1]) * PT_PER_IN

    for item in drawing.items:
        if isinstance(item, InkLine):
            _line(page, item.curve, item.pen, pt)
        elif isinstance(item, Fill):
            _fill(page, item, pt)
    for label in drawing.labels:
        _text(page, label, pt)


def _line(page: Any, curve: Curve, pen: Pen, pt: Any) -> None:
    path = page.beginPath()
    path.moveTo(*pt(curve.start))
    for piece in curve:
        if isinstance(piece, Arc):
            n = max(1, math.ceil(abs(piece.sweep_rad) / _QUARTER_RAD - 1e-9))
            for i in range(n):
                part = piece.part(i / n, (i + 1) / n)
                # Control points of the standard cubic for a circular arc.
                k = 4 / 3 * math.tan(part.sweep_rad / 4)
                (ax, ay), (bx, by), (cx, cy) = part.start, part.end, part.centre
                c1 = (ax - k * (ay - cy), ay + k * (ax - cx))
                c2 = (bx + k * (by - cy), by - k * (bx - cx))
                path.curveTo(*pt(c1), *pt(c2), *pt(part.end))
        else:
            path.lineTo(*pt(piece.end))
    page.saveState()
    page.setLineCap(1)
    page.setLineJoin(1)
    if pen.casing is not None:
        _pen(page, pen.casing, pen.width_in + 2 * pen.casing_in)
        page.drawPath(path, stroke=1, fill=0)
    if pen.width_in > 0:
        _pen(page, pen.colour, pen.width_in)
        if pen.dash_in:
            page.setLineCap(0)
            page.setDash([d * PT_PER_IN for d in pen.dash_in])
        page.drawPath(path, stroke=1, fill=0)
    page.restoreState()


def _pen(page: Any, colour: str, width_in: float) -> None:
    page.setStrokeColorRGB(*(v / 255 for v in components(colour)))
    page.setLineWidth(width_in * PT_PER_IN)


def _fill(page: Any, fill: Fill, pt: Any) -> None:
    path = page.beginPath()
    path.moveTo(*pt(fill.ring[0]))
    for p in fill.ring[1:]:
        path.lineTo(*pt(p))
    path.close()
    page.saveState()
    if fill.opacity > 0:
        page.setFillColorRGB(*(v / 255 for v in components(fill.colour)), alpha=fill.opacity)
        page.drawPath(path, stroke=0, fill=1)
    if fill.edge is not None:
        _pen(page, fill.edge.colour, fill.edge.width_in)
        if fill.edge.dash_in:
            page.setDash([d * PT_PER_IN for d in fill.edge.dash_in])
        page.drawPath(path, stroke=1, fill=0)
    page.restoreState()


def _text(page: Any, label: Label, pt: Any) -> None:
    size = label.size_in * PT_PER_IN
    pad = 0.25 * size if label.ground is not None else 0.0
    w = lettering.width(label.text, size, label.bold) + 2 * pad
    h = 1.3 * size
    share = {"left": 0.0, "middle": 0.5, "right": 1.0}[label.anchor]
    page.saveState()
    page.translate(*pt(label.at))
    if label.turn_deg:
        page.rotate(-label.turn_deg)
    left = -share * w
    if label.ground is not None:
        page.setFillColorRGB(*(v / 255 for v in components(label.ground)))
        if label.rim is not None:
            _pen(page, label.rim, 0.07 * label.size_in)
        page.roundRect(left, -h / 2, w, h, 0.3 * h, stroke=int(label.rim is not None), fill=1)
    page.setFillColorRGB(*(v / 255 for v in components(label.colour)))
    page.setFont(lettering.BOLD if label.bold else lettering.REGULAR, size)
    page.drawString(left + pad, -lettering.CAP_HEIGHT * size / 2, label.text)
    page.restoreState()
