"""Drawings as pictures, smooth at the edges.

Lines and fills are painted on a canvas enlarged by `OVERSAMPLE` and averaged down, texts are set
at the final size.  Enlarging by whole pixels and averaging back leaves an untouched photo exactly
as it was.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw

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
_GROWTH_PX = 0.33
"""OpenCV's smoothed fill reaches this much further than the shape, in picture pixels (measured:
1.3 canvas pixels over the width of bars at any angle); shapes are made smaller by it."""

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
    px_per_in = projection.px_per_in
    k = OVERSAMPLE
    canvas = np.asarray(
        cv2.resize(ground, None, fx=k, fy=k, interpolation=cv2.INTER_NEAREST), np.uint8
    )
    labels = []
    shapes: list[_Shape] = []
    for item, px in zip(drawing.items, _in_pixels(drawing, projection), strict=True):
        if isinstance(item, InkLine):
            shapes += _line(px, item.pen, px_per_in)
        elif isinstance(item, Fill):
            shapes += _fill(px, item, px_per_in)
        elif np.isfinite(px).all():
            labels.append((item, px[0]))
    for label, at in labels:
        shapes += _ground_of(label, at, px_per_in)
    _ink(canvas, shapes)
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
    """Points close enough for a lens to bend the line between them, corners kept."""
    points = curve.sampled()
    step = np.diff(points, axis=0)
    n = np.maximum(1, np.ceil(np.hypot(step[:, 0], step[:, 1]) / SAMPLE_IN)).astype(np.intp)
    if n.max() == 1:
        return points
    of = np.repeat(np.arange(len(n)), n)
    share = (np.arange(len(of)) - np.repeat(np.cumsum(n) - n, n)) / n[of]
    out: Points = np.vstack([points[of] + step[of] * share[:, None], points[-1:]])
    return out


def _pad_px(label: Label, px_per_in: float) -> float:
    """Room left and right of a text that has a ground, pixels."""
    return 0.25 * label.size_in * px_per_in if label.ground is not None else 0.0


def _fixed(px: Points) -> NDArray[np.int32]:
    """Canvas coordinates with sub-pixel bits, from picture pixels (centres at integers)."""
    k = OVERSAMPLE
    on_canvas = (px + 0.5) * k - 0.5
    return np.rint(on_canvas * (1 << _SUBPIXEL_BITS)).astype(np.int32)


@dataclass(frozen=True, slots=True)
class _Shape:
    """Something to be covered with one colour: a line or area, widened or narrowed."""

    base: shapely.Geometry
    reach_px: float
    colour: Colour
    opacity: float = 1.0


def _in_pixels(drawing: Drawing, projection: Projection) -> list[Points]:
    """The points of every item, taken through the projection in one go."""
    parts = [
        _samples(item.curve)
        if isinstance(item, InkLine)
        else np.array(item.ring if isinstance(item, Fill) else [item.at], dtype=np.float64)
        for item in drawing.items
    ]
    if not parts:
        return []
    px = projection.px_from_in(np.vstack(parts))
    return np.split(px, np.cumsum([len(p) for p in parts])[:-1])


def _ink(canvas: Rgb, shapes: list[_Shape]) -> None:
    """Paint shapes in order; their outlines are found for all at once."""
    if not shapes:
        return
    areas = shapely.buffer(
        np.array([s.base for s in shapes], dtype=object),
        np.array([s.reach_px for s in shapes]),
        quad_segs=4,
    )
    polygons, of_shape = shapely.get_parts(areas, return_index=True)
    rings, of_polygon = shapely.get_rings(polygons, return_index=True)
    points, of_ring = shapely.get_coordinates(rings, return_index=True)
    outlines = np.split(_fixed(points), np.flatnonzero(np.diff(of_ring)) + 1)
    shape_of_ring = of_shape[of_polygon]
    # Rings come in the shapes' order, so each shape's rings are a stretch of them.
    first = np.searchsorted(shape_of_ring, np.arange(len(shapes) + 1))
    for k, shape in enumerate(shapes):
        mine = outlines[first[k] : first[k + 1]]
        if mine:
            _cover(canvas, mine, shape)


def _cover(canvas: Rgb, outlines: list[NDArray[np.int32]], shape: _Shape) -> None:
    colour = components(shape.colour)
    if shape.opacity >= 1:
        cv2.fillPoly(canvas, outlines, colour, cv2.LINE_AA, _SUBPIXEL_BITS)
        return
    points = np.vstack(outlines) >> _SUBPIXEL_BITS
    (x0, y0), (x1, y1) = points.min(axis=0) - 2, points.max(axis=0) + 4
    h, w = canvas.shape[:2]
    part = canvas[max(0, y0) : min(h, max(0, y1)), max(0, x0) : min(w, max(0, x1))]
    under = part.copy()
    cv2.fillPoly(canvas, outlines, colour, cv2.LINE_AA, _SUBPIXEL_BITS)
    if part.size:
        part[:] = cv2.addWeighted(part, shape.opacity, under, 1 - shape.opacity, 0)


def _line(px: Points, pen: Pen, px_per_in: float) -> list[_Shape]:
    """A line as the areas it covers: true widths, round ends and corners."""
    px = px[np.isfinite(px).all(axis=1)]
    if len(px) < 2:
        return []
    px = np.clip(px, -_FAR_PX, _FAR_PX)
    width_px = pen.width_in * px_per_in
    out = []
    if pen.casing is not None:
        reach = _reach_px(width_px + 2 * pen.casing_in * px_per_in)
        out.append(_Shape(shapely.LineString(px), reach, pen.casing))
    if width_px <= 0:
        return out
    reach = _reach_px(width_px)
    if pen.dash_in:
        dashes = _dashes(px, [d * px_per_in for d in pen.dash_in], width_px)
        out.append(_Shape(shapely.MultiLineString(dashes), reach, pen.colour))
    else:
        out.append(_Shape(shapely.LineString(px), reach, pen.colour))
    return out


def _reach_px(width_px: float) -> float:
    return max(width_px / 2 - _GROWTH_PX, 0.1)


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


def _fill(px: Points, fill: Fill, px_per_in: float) -> list[_Shape]:
    if not np.isfinite(px).all():
        return []
    px = np.clip(px, -_FAR_PX, _FAR_PX)
    out = []
    if fill.opacity > 0:
        out.append(_Shape(shapely.Polygon(px), -_GROWTH_PX, fill.colour, fill.opacity))
    if fill.edge is not None:
        out += _line(np.vstack([px, px[:1]]), fill.edge, px_per_in)
    return out


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


def _ground_of(label: Label, at: NDArray[np.float64], px_per_in: float) -> list[_Shape]:
    if label.ground is None:
        return []
    x, y = _left_top(label, at, px_per_in)
    w, h = label_box(label, px_per_in)
    r = min(w, h) * 0.3
    rounded = shapely.box(x + r, y + r, x + w - r, y + h - r).buffer(r)
    out = [_Shape(rounded, -_GROWTH_PX, label.ground)]
    if label.rim is not None:
        width_px = max(1.0, 0.07 * min(w, h))
        out.append(_Shape(rounded.exterior, _reach_px(width_px), label.rim))
    return out


def _text(
    sheet: Image.Image,
    pencil: ImageDraw.ImageDraw,
    label: Label,
    at: NDArray[np.float64],
    px_per_in: float,
) -> None:
    if not label.text:
        return
    size = max(1, round(label.size_in * px_per_in))
    font = lettering.face(size, label.bold)
    x, y = _left_top(label, at, px_per_in)
    w, h = label_box(label, px_per_in)
    colour = components(label.colour)
    pad = _pad_px(label, px_per_in)
    base = h / 2 + lettering.CAP_HEIGHT * size / 2
    # Pillow counts from a pixel's corner, we from its centre.
    x, y = x + 0.5, y + 0.5
    if label.turn_deg == 0:
        pencil.text((x + pad, y + base), label.text, fill=colour, font=font, anchor="ls")
        return
    mask = Image.new("L", (round(h), round(w)), 0)
    ImageDraw.Draw(mask).text(
        (pad, w / 2 + lettering.CAP_HEIGHT * size / 2),
        label.text,
        fill=255,
        font=font,
        anchor="ls",
    )
    mask = mask.rotate(-label.turn_deg, expand=True)
    sheet.paste(colour, (round(x), round(y)), mask)
