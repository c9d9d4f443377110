"""Drawings as pictures, smooth at the edges.

Lines and fills are painted on a canvas enlarged by `OVERSAMPLE` and averaged down, texts are set
at the final size.  Enlarging by whole pixels and averaging back leaves an untouched photo exactly
as it was.
"""

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from seamwalk.geometry import polyline
from seamwalk.geometry.curve import Curve
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Rgb
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Label, Pen, Projection
from seamwalk.sheets.palette import WHITE, Colour, components

OVERSAMPLE = 2
"""Canvas pixels per picture pixel; with the drawing library's own smoothing this shows no
steps, and a 12 MP canvas stays under 150 MB."""

SAMPLE_IN = 0.5
"""Longest straight run between points: over half an inch a phone's lens bends a line by less
than a hundredth of a pixel."""

_SUBPIXEL_BITS = 4
_FAR_PX = 1e6
"""Points further out than this are cut: behind the horizon of a slanted photo, or overflow."""

def paint(drawing: Drawing, ground: Rgb, projection: Projection) -> Rgb:
    """Return a copy of `ground` with the drawing painted on it.

    Parameters
    ----------
    ground : (H, W, 3) uint8
        Photo or blank paper.
    projection : Projection
        Where the drawing lies in the picture.
    """
    px_from_in, px_per_in = projection.px_from_in, projection.px_per_in
    k = OVERSAMPLE
    canvas = np.repeat(np.repeat(ground, k, axis=0), k, axis=1)
    labels = []
    for item in drawing.items:
        if isinstance(item, InkLine):
            px = px_from_in(_samples(item.curve))
            _line(canvas, px, item.pen, px_per_in)
        elif isinstance(item, Fill):
            _fill(canvas, px_from_in(np.array(item.ring)), item, px_per_in)
        else:
            labels.append((item, px_from_in(np.array([item.at]))[0]))
    for label, at in labels:
        _ground_of(canvas, label, at, px_per_in)
    out = cv2.resize(canvas, None, fx=1 / k, fy=1 / k, interpolation=cv2.INTER_AREA)
    picture = Image.fromarray(out)
    pencil = ImageDraw.Draw(picture)
    for label, at in labels:
        _text(picture, pencil, label, at, px_per_in)
    return np.asarray(picture, dtype=np.uint8)


def picture(drawing: Drawing, px_per_in: float, paper: Colour = WHITE) -> Rgb:
    """Return the drawing on blank paper, its extent filling the picture (nearest pixel)."""
    w, h = round(drawing.width_in * px_per_in), round(drawing.height_in * px_per_in)
    ground = np.full((h, w, 3), components(paper), dtype=np.uint8)
    return paint(drawing, ground, Projection.flat(drawing.extent_in[:2], px_per_in))


def label_box(label: Label, px_per_in: float) -> tuple[float, float]:
    """Return the width and height in pixels that a label takes up, its ground included."""
    size = label.size_in * px_per_in
    w = lettering.width(label.text, size, label.bold) + 2 * _pad_px(label, px_per_in)
    h = 1.3 * size
    return (w, h) if label.turn_deg == 0 else (h, w)


def _samples(curve: Curve) -> Points:
    """Points close enough for a lens to bend the line between them."""
    points = curve.sampled()
    longest = float(np.hypot(*np.diff(points, axis=0).T).max())
    if longest <= SAMPLE_IN:
        return points
    pieces = [polyline.resample(points[i : i + 2], SAMPLE_IN)[1:] for i in range(len(points) - 1)]
    return np.vstack([points[:1], *pieces])


def _pad_px(label: Label, px_per_in: float) -> float:
    """Room left and right of a text that has a ground, pixels."""
    return 0.25 * label.size_in * px_per_in if label.ground is not None else 0.0


def _fixed(px: Points) -> NDArray[np.int32]:
    """Canvas coordinates with sub-pixel bits, from picture pixels (centres at integers)."""
    k = OVERSAMPLE
    on_canvas = (np.clip(px, -_FAR_PX, _FAR_PX) + 0.5) * k - 0.5
    return np.rint(on_canvas * (1 << _SUBPIXEL_BITS)).astype(np.int32)


def _polyline(canvas: Rgb, px: Points, colour: Colour, width_px: float) -> None:
    cv2.polylines(
        canvas,
        [_fixed(px).reshape(-1, 1, 2)],
        False,
        components(colour),
        max(1, round(width_px * OVERSAMPLE)),
        cv2.LINE_AA,
        _SUBPIXEL_BITS,
    )


def _line(canvas: Rgb, px: Points, pen: Pen, px_per_in: float) -> None:
    px = px[np.isfinite(px).all(axis=1)]
    if len(px) < 2:
        return
    width_px = pen.width_in * px_per_in
    if pen.casing is not None:
        _polyline(canvas, px, pen.casing, width_px + 2 * pen.casing_in * px_per_in)
    if width_px <= 0:
        return
    if not pen.dash_in:
        _polyline(canvas, px, pen.colour, width_px)
        return
    for dash in _dashes(px, [d * px_per_in for d in pen.dash_in], width_px):
        _polyline(canvas, dash, pen.colour, width_px)


def _dashes(px: Points, pattern: list[float], width_px: float) -> list[Points]:
    """Cut a polyline into dashes, stretched so that it begins and ends with one.

    Round ends add half a width at each side, so each dash is cut that much shorter.
    """
    step = np.hypot(*np.diff(px, axis=0).T)
    s = np.concatenate([[0.0], np.cumsum(step)])
    total = float(s[-1])
    on, off = pattern[0], pattern[1]
    n = max(1, round((total + off) / (on + off)))
    stretch = total / (n * on + (n - 1) * off)
    on, off = on * stretch, off * stretch
    trim = min(width_px / 2, 0.45 * on)
    out = []
    for i in range(n):
        a, b = i * (on + off) + trim, i * (on + off) + on - trim
        inner = (s > a) & (s < b)
        t = np.concatenate([[a], s[inner], [b]])
        out.append(np.column_stack([np.interp(t, s, px[:, 0]), np.interp(t, s, px[:, 1])]))
    return out


def _fill(canvas: Rgb, px: Points, fill: Fill, px_per_in: float) -> None:
    if not np.isfinite(px).all():
        return
    ring = _fixed(px).reshape(-1, 1, 2)
    if fill.opacity >= 1:
        cv2.fillPoly(canvas, [ring], components(fill.colour), cv2.LINE_AA, _SUBPIXEL_BITS)
    elif fill.opacity > 0:
        k = OVERSAMPLE
        (x0, y0), (x1, y1) = px.min(axis=0) * k - 2, px.max(axis=0) * k + 4
        h, w = canvas.shape[:2]
        rows = slice(int(np.clip(y0, 0, h)), int(np.clip(y1, 0, h)))
        cols = slice(int(np.clip(x0, 0, w)), int(np.clip(x1, 0, w)))
        if rows.stop > rows.start and cols.stop > cols.start:
            under = canvas[rows, cols].copy()
            cv2.fillPoly(canvas, [ring], components(fill.colour), cv2.LINE_AA, _SUBPIXEL_BITS)
            canvas[rows, cols] = cv2.addWeighted(
                canvas[rows, cols], fill.opacity, under, 1 - fill.opacity, 0
            )
    if fill.edge is not None:
        _line(canvas, np.vstack([px, px[:1]]), fill.edge, px_per_in)


def _left_top(label: Label, at: NDArray[np.float64], px_per_in: float) -> tuple[float, float]:
    """Upper left corner of the label's box, pixels."""
    w, h = label_box(label, px_per_in)
    if label.turn_deg == 0:
        share = {"left": 0.0, "middle": 0.5, "right": 1.0}[label.anchor]
        return float(at[0] - share * w), float(at[1] - h / 2)
    share = {"left": 0.0, "middle": 0.5, "right": 1.0}[label.anchor]
    if label.turn_deg == 270:
        share = 1 - share
    return float(at[0] - w / 2), float(at[1] - share * h)


def _ground_of(canvas: Rgb, label: Label, at: NDArray[np.float64], px_per_in: float) -> None:
    if label.ground is None or not np.isfinite(at).all():
        return
    x, y = _left_top(label, at, px_per_in)
    w, h = label_box(label, px_per_in)
    r = min(w, h) * 0.3
    rounded = shapely.box(x + r, y + r, x + w - r, y + h - r).buffer(r)
    ring = np.array(rounded.exterior.coords)
    cv2.fillPoly(
        canvas,
        [_fixed(ring).reshape(-1, 1, 2)],
        components(label.ground),
        cv2.LINE_AA,
        _SUBPIXEL_BITS,
    )
    if label.rim is not None:
        _polyline(canvas, ring, label.rim, max(1.0, 0.07 * min(w, h)))


def _text(
    sheet: Image.Image,
    pencil: ImageDraw.ImageDraw,
    label: Label,
    at: NDArray[np.float64],
    px_per_in: float,
) -> None:
    if not label.text or not np.isfinite(at).all():
        return
    size = max(1, round(label.size_in * px_per_in))
    font = lettering.face(size, label.bold)
    x, y = _left_top(label, at, px_per_in)
    w, h = label_box(label, px_per_in)
    colour = components(label.colour)
    pad = _pad_px(label, px_per_in)
    base = h / 2 + lettering.CAP_HEIGHT * size / 2
    if label.turn_deg == 0:
        pencil.text((x + pad, y + base), label.text, fill=colour, font=font, anchor="ls")
        return
    mask = Image.new("L", (round(h), round(w)), 0)
    ImageDraw.Draw(mask).text(
        (pad, w / 2 + lettering.CAP_HEIGHT * size / 2), label.text, fill=255, font=font, anchor="ls"
    )
    mask = mask.rotate(-label.turn_deg, expand=True)
    sheet.paste(colour, (round(x), round(y)), mask)
