"""The picture of density: how much stitching there is everywhere, and the widest gaps.

Colours go from dark (sparse) to light (dense); lines of equal density carry their numbers, so
that nothing rests on colour.  The widest circles without a stitch are drawn with their widths.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.curve import Arc, Curve, Point
from seamwalk.geometry.polyline import length
from seamwalk.geometry.projective import Points
from seamwalk.model.density import DensityMap, DensityReport
from seamwalk.model.gaps import EmptyCircle, GapReport
from seamwalk.model.picture import Rgb
from seamwalk.model.route import Route
from seamwalk.model.top import Top
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Item, Label, Pen, Projection, box
from seamwalk.sheets.lettering import wrapped
from seamwalk.sheets.palette import INK, VERMILION, WHITE, components, sequence_colour
from seamwalk.sheets.raster import paint
from seamwalk.units import CM_PER_IN, Units, format_length

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DensityPictureSettings:
    """How the picture is laid out."""

    longest_px: int = 1800
    """Longer side of the top on the picture."""
    em_px: float = 30.0
    """Size of the text."""
    floor: float = 0.01
    """White round the top, as a share of its longer side."""
    key_em: float = 11.0
    """Width of the key beside the top, in sizes of its text."""
    levels: tuple[float, ...] = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0)
    """Steps between lines of equal density, in the picture's units."""
    most_levels: int = 6
    """More lines than this can't be told apart."""
    shortest_in: float = 8.0
    """A shorter line of equal density gets no number, inches."""
    circles: int = 5
    """Widest gaps that are drawn, one for each kind of place."""


SETTINGS = DensityPictureSettings()


def density_picture(
    top: Top,
    route: Route,
    density: DensityReport,
    gaps: GapReport,
    units: Units = "in",
    settings: DensityPictureSettings = SETTINGS,
) -> Rgb:
    """Return the picture, (H, W, 3) uint8."""
    x0, y0, x1, y1 = top.outline.bounds
    longest = max(x1 - x0, y1 - y0)
    px_per_in = settings.longest_px / longest
    em = settings.em_px / px_per_in
    floor = settings.floor * longest
    extent = (x0 - floor, y0 - floor, x1 + floor + settings.key_em * em, y1 + floor)
    projection = Projection.flat(extent[:2], px_per_in)
    shape = (
        round((extent[3] - extent[1]) * px_per_in),
        round((extent[2] - extent[0]) * px_per_in),
    )
    factor = 1.0 if units == "in" else 1 / CM_PER_IN
    steps = _levels(density.map, factor, settings)
    span = (steps[0], steps[-1])
    ground = _coloured(density.map, top, projection, shape, span, factor)
    items: list[Item] = [
        *_lines(top, route, px_per_in),
        *_contours(density.map, steps, factor, em, px_per_in, settings),
        *_circles(gaps, units, em, settings),
        *_key((x1 + 2 * floor, y0), steps, density, units, em),
    ]
    return paint(Drawing(extent, tuple(items)), ground, projection)


def _levels(found: DensityMap, factor: float, settings: DensityPictureSettings) -> list[float]:
    """Return round numbers from below the sparsest to above the densest."""
    values = found.per_sq_in[np.isfinite(found.per_sq_in)] * factor
    low, high = float(values.min()), float(values.max())
    for step in settings.levels:
        first, last = int(np.floor(low / step)), int(np.ceil(high / step))
        if last - first <= settings.most_levels:
            break
    last = max(last, first + 1)
    return [round(k * step, 3) for k in range(first, last + 1)]


def _coloured(
    found: DensityMap,
    top: Top,
    projection: Projection,
    shape: tuple[int, int],
    span: tuple[float, float],
    factor: float,
) -> Rgb:
    """Return the ground: white paper, the map in colours where the top is."""
    share = np.nan_to_num((found.per_sq_in * factor - span[0]) / (span[1] - span[0]))
    known = np.isfinite(found.per_sq_in).astype(np.float32)
    # Outside the binding line the nearest value goes on, so that colours don't fade there.
    filled = _run_out(share.astype(np.float32), known > 0)
    h, w = shape
    step = projection.px_per_in * found.cell_in
    (x, y), *_ = projection.px_from_in(np.array([found.origin]) + found.cell_in / 2)
    to_cells = np.array([[1 / step, 0, -x / step], [0, 1 / step, -y / step]])
    large = cv2.warpAffine(
        filled,
        to_cells,
        (w, h),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    table = np.array([components(sequence_colour(k / 255)) for k in range(256)], dtype=np.uint8)
    colours = table[np.clip(np.rint(large * 255), 0, 255).astype(np.uint8)]
    ring = projection.px_from_in(shapely.get_coordinates(top.outline.exterior))
    mask = np.zeros(shape, dtype=np.uint8)
    cv2.fillPoly(mask, [np.rint(ring).astype(np.int32)], 1)
    out = np.full((h, w, 3), components(WHITE), dtype=np.uint8)
    out[mask > 0] = colours[mask > 0]
    return out


def _run_out(values: NDArray[np.float32], known: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return the values with the nearest known one wherever none is known."""
    from scipy.ndimage import distance_transform_edt

    _, at = distance_transform_edt(~known, return_indices=True)
    return np.asarray(values[tuple(at)], dtype=np.float32)


def _lines(top: Top, route: Route, px_per_in: float) -> Iterator[Item]:
    """Yield the seams, thin and dark, and the stitching, thin and white."""
    seam = Pen(INK, 0.8 / px_per_in)
    for patch in top.patches:
        ring = shapely.get_coordinates(patch.polygon.exterior)
        yield InkLine(Curve.through(ring), seam)
    thread = Pen(WHITE, 1.3 / px_per_in)
    sewn = dict.fromkeys(leg.piece for t in route.threads for leg in t.legs)
    for piece in sewn:
        if route.network.pieces[piece].stroke.kind != "edge":
            yield InkLine(route.network.pieces[piece].curve, thread)


def _contours(
    found: DensityMap,
    steps: list[float],
    factor: float,
    em: float,
    px_per_in: float,
    settings: DensityPictureSettings,
) -> list[Item]:
    """Return lines of equal density with their numbers."""
    from skimage.measure import find_contours

    out: list[Item] = []
    labels: list[Item] = []
    taken: list[Point] = []
    pen = Pen(INK, 1.5 / px_per_in, (), WHITE, 1.2 / px_per_in)
    for level in steps[1:-1]:
        for line in find_contours(found.per_sq_in * factor, level):
            at = (line[:, ::-1] + 0.5) * found.cell_in + np.array(found.origin)
            if len(at) < 3 or length(at) < settings.shortest_in:
                continue
            out.append(InkLine(Curve.through(at), pen))
            spot = _clear_spot(at, taken, 3 * em)
            if spot is not None:
                taken.append(spot)
                labels.append(Label(f"{level:g}", spot, 0.85 * em, ground=WHITE))
    return [*out, *labels]


def _clear_spot(line: Points, taken: list[Point], room: float) -> Point | None:
    """Return a place on a line with room for a number, near its middle; None if there is none."""
    n = len(line)
    for k in sorted(range(n), key=lambda k: abs(k - n // 2)):
        x, y = float(line[k, 0]), float(line[k, 1])
        if all(abs(x - a) > room or abs(y - b) > room / 2 for a, b in taken):
            return (x, y)
    return None


def _circles(
    gaps: GapReport, units: Units, em: float, settings: DensityPictureSettings
) -> Iterator[Item]:
    """Yield the widest circle of each kind of place, and of the whole top."""
    shown = dict.fromkeys([gaps.largest, *(p.largest for p in gaps.places[: settings.circles])])
    for circle in shown:
        wide = circle.across_in > gaps.limit_in and not gaps.holds
        pen = Pen(VERMILION, 0.22 * em, () if wide else (0.6 * em, 0.45 * em), WHITE, 0.1 * em)
        yield InkLine(_round(circle), pen)
        text = format_length(circle.across_in, units)
        yield Label(text, circle.centre, em, bold=True, ground=WHITE, rim=INK)


def _round(circle: EmptyCircle) -> Curve:
    (x, y), r = circle.centre, circle.radius_in
    left, right = (x - r, y), (x + r, y)
    return Curve((Arc(left, right, circle.centre, np.pi), Arc(right, left, circle.centre, np.pi)))


def _key(
    at: Point, steps: list[float], density: DensityReport, units: Units, em: float
) -> Iterator[Item]:
    """Yield the scale of colours with its numbers, and what lines and circles mean."""
    x, y = at
    across = format_length(density.map.across_in, units)
    title = f"{units} of stitching on a square {units}, averaged over {across}"
    y += em
    for line in wrapped(title, 0.85 * em, 9.5 * em):
        yield Label(line, (x, y), 0.85 * em, anchor="left")
        y += 1.15 * em
    high = 14 * em
    n = 64
    for k in range(n):
        upper = y + high * (1 - (k + 1) / n)
        cell = box(x, upper, x + 1.6 * em, upper + high / n + 0.02 * em)
        yield Fill(cell, sequence_colour((k + 0.5) / n))
    yield Fill(box(x, y, x + 1.6 * em, y + high), WHITE, Pen(INK, 0.06 * em), opacity=0.0)
    for level in steps:
        at_y = y + high * (1 - (level - steps[0]) / (steps[-1] - steps[0]))
        yield Label(f"{level:g}", (x + 2.1 * em, at_y), 0.85 * em, anchor="left")
    y += high + 1.6 * em
    for text in (
        "dark: little stitching; light: much. Thin lines with a number: equal density.",
        "thick circles: the widest without a stitch, and how wide; dashed: the batting stands it.",
    ):
        for line in wrapped(text, 0.85 * em, 9.5 * em):
            yield Label(line, (x, y), 0.85 * em, anchor="left")
            y += 1.15 * em
        y += 0.6 * em
