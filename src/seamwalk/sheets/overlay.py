"""The stitch path over the photo itself, in the photo's own perspective.

The path is drawn where the camera would have seen it: every curve is taken through the fitted
view, lens included.  `overlay_plain` draws the same on the bare map of the patches, for a plan
that was made without a photo.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry import polyline
from seamwalk.geometry.curve import Curve
from seamwalk.model.picture import Photo, Rectification, Rgb
from seamwalk.model.route import Route
from seamwalk.model.top import Top
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Item, Pen, Projection
from seamwalk.sheets.legend import legend
from seamwalk.sheets.palette import GREY, INK
from seamwalk.sheets.path import done_items, path_items
from seamwalk.sheets.placing import Occupied
from seamwalk.sheets.raster import paint
from seamwalk.sheets.stop_marks import stop_items
from seamwalk.sheets.walk import MOST_NUMBERS, Run, length_in, runs
from seamwalk.units import Units, from_inches


@dataclass(frozen=True, slots=True)
class OverlaySettings:
    """How the overlay is laid out."""

    longest_px: int = 4000
    """Larger photos are reduced to this: sharp on a 12 MP tablet and quick to send."""
    line_share: float = 1 / 480
    """Width of the line over the picture's longer side: 2.1 px of 1000 on a phone."""
    line_in_limit: float = 0.22
    """Nor wider than this on the cloth, inches: arches of small patches must stay apart."""
    line_px_least: float = 2.0
    """Nor thinner than this, pixels."""
    number_share: float = 1 / 62
    """Text of the numbers over the picture's longer side."""
    most_numbers: int = MOST_NUMBERS
    """More steps than this are numbered every 2nd, 5th, 10th …"""
    key_share: float = 1 / 85
    """Text of the key over the picture's longer side."""
    plain_px: int = 3000
    """Longer side of a picture drawn without a photo."""


OVERLAY = OverlaySettings()


def overlay(
    photo: Photo,
    rectification: Rectification,
    top: Top,
    route: Route,
    *,
    units: Units = "in",
    settings: OverlaySettings = OVERLAY,
) -> Rgb:
    """Return the photo with the stitch path drawn on it, (H, W, 3) uint8.

    Parameters
    ----------
    photo : Photo
        The same that `rectification` was fitted to.
    units : {"in", "cm"}
        For the length named in the key.

    Notes
    -----
    The picture has the photo's proportions, its longer side at most ``settings.longest_px``;
    a white strip is added below only if no corner is free for the key.
    """
    k = min(1.0, settings.longest_px / max(photo.width_px, photo.height_px))
    w, h = round(photo.width_px * k), round(photo.height_px * k)
    ground = photo.rgb
    if k < 1:
        ground = np.asarray(cv2.resize(ground, (w, h), interpolation=cv2.INTER_AREA), np.uint8)
    scale = np.array([w / photo.width_px, h / photo.height_px])
    view = rectification.view

    def px_from_in(points: NDArray[np.float64]) -> NDArray[np.float64]:
        out: NDArray[np.float64] = (view.px_from_top(points) + 0.5) * scale - 0.5
        return out

    def in_from_px(pixels: NDArray[np.float64]) -> NDArray[np.float64]:
        return view.top_from_px((pixels + 0.5) / scale - 0.5)

    centre = np.array(top.outline.centroid.coords)
    projection = Projection(px_from_in, in_from_px, float(rectification.px_per_in(centre)[0]) * k)
    return _drawn(ground, projection, [], top, route, units, settings)


def overlay_plain(
    top: Top, route: Route, *, units: Units = "in", settings: OverlaySettings = OVERLAY
) -> Rgb:
    """Return the stitch path on a plain map of the patches, for a plan without its photo."""
    x0, y0, x1, y1 = top.outline.bounds
    margin = 0.04 * max(x1 - x0, y1 - y0)
    px_per_in = settings.plain_px / (max(x1 - x0, y1 - y0) + 2 * margin)
    size = [round((b - a + 2 * margin) * px_per_in) for a, b in ((y0, y1), (x0, x1))]
    ground = np.full((*size, 3), 255, np.uint8)
    projection = Projection.flat((x0 - margin, y0 - margin), px_per_in)
    seam = Pen(GREY, 1.5 / px_per_in)
    tints = _tints(top)
    items: list[Item] = []
    for patch in top.patches:
        ring = tuple((x, y) for x, y in patch.polygon.exterior.coords[:-1])
        items.append(Fill(ring, tints[patch.fabric], seam, layer="patch"))
    outline = Curve.through(top.outline.exterior.coords)
    items.append(InkLine(outline, Pen(INK, 3 / px_per_in), "outline"))
    return _drawn(ground, projection, items, top, route, units, settings)


def _tints(top: Top) -> dict[str, str]:
    """A light grey for each fabric: the path must stay the strongest thing on the page."""
    fabrics = sorted({p.fabric for p in top.patches})
    levels = np.linspace(0xF4, 0xD2, max(2, len(fabrics))).astype(int)
    return {f: f"#{v:02X}{v:02X}{v:02X}" for f, v in zip(fabrics, levels, strict=False)}


def _drawn(
    ground: Rgb,
    projection: Projection,
    base: list[Item],
    top: Top,
    route: Route,
    units: Units,
    settings: OverlaySettings,
) -> Rgb:
    h, w = ground.shape[:2]
    longest = max(h, w)
    px_per_in = projection.px_per_in
    line_px = min(longest * settings.line_share, settings.line_in_limit * px_per_in)
    line_in = max(line_px, settings.line_px_least) / px_per_in
    walk = runs(route)
    path = path_items(walk, line_in)
    occupied = _occupied(path, projection, w, h, line_in * px_per_in)
    note, em_px = _note(route, walk, units), longest * settings.key_share
    begun = route.begun is not None
    key = legend(walk, note, em_px, done=begun)
    corner = _free_corner(occupied, ground, top, projection, key.shape[1], key.shape[0])
    if corner is not None:
        occupied.take(*corner, key.shape[1], key.shape[0])
    marks = stop_items(
        walk, projection, occupied, line_in, longest * settings.number_share, settings.most_numbers
    )
    drawing = Drawing((0.0, 0.0, 0.0, 0.0), (*base, *done_items(route, line_in), *path, *marks))
    out = np.array(paint(drawing, ground, projection))
    if corner is None:
        return np.vstack([out, legend(walk, note, em_px, room_px=w, done=begun)])
    x, y = corner
    out[y : y + key.shape[0], x : x + key.shape[1]] = key
    return out


def _gap(longest_px: int) -> int:
    return max(2, longest_px // 160)


def _note(route: Route, walk: tuple[Run, ...], units: Units) -> str:
    n = len(route.threads)
    length = from_inches(length_in(walk), units)
    long = f"{length / 100:.1f} m" if units == "cm" else f"{length / 36:.1f} yd"
    return f"{n} thread{'s' if n != 1 else ''}, {long} of stitching"


def _occupied(
    path: list[Item], projection: Projection, w: int, h: int, line_px: float
) -> Occupied:
    occupied = Occupied.blank(w, h, max(2, round(line_px)))
    spacing = occupied.cell_px / projection.px_per_in
    lines = [
        polyline.resample(item.curve.sampled(), spacing)
        for item in path
        if isinstance(item, InkLine) and item.layer != "casing"
    ]
    if lines:
        occupied.add_points(projection.px_from_in(np.vstack(lines)))
    return occupied


def _free_corner(
    occupied: Occupied, ground: Rgb, top: Top, projection: Projection, kw: int, kh: int
) -> tuple[int, int] | None:
    """Return where the key hides least: never a stitch, and the top only if no floor is left.

    Between equals the plainest corner wins, so that a reference card stays in sight.
    """
    h, w = ground.shape[:2]
    gap = _gap(max(w, h))
    outline = projection.px_from_in(np.array(top.outline.exterior.coords))
    covered = np.zeros(occupied.cost.shape, np.uint8)
    ring = np.rint(np.nan_to_num(outline) / occupied.cell_px).astype(np.int32)
    cv2.fillPoly(covered, [ring.reshape(-1, 1, 2)], 1)
    best: tuple[float, tuple[int, int]] | None = None
    for x, y in (
        (w - kw - gap, h - kh - gap),
        (gap, h - kh - gap),
        (w - kw - gap, gap),
        (gap, gap),
    ):
        if occupied.share(x, y, kw, kh) > 0:
            continue
        c = occupied.cell_px
        cloth = float(covered[y // c : (y + kh) // c, x // c : (x + kw) // c].mean())
        busy = float(ground[y : y + kh : c, x : x + kw : c].std()) / 255
        if best is None or cloth + busy < best[0]:
            best = (cloth + busy, (x, y))
    return best[1] if best else None
