"""The order of the stages: photo → camera → seams → top → sizes → strokes → route.

Only this module knows which stage follows which; every stage is a pure function over the nouns
of :mod:`seamwalk.model`.  Nothing is written here.
"""

from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from seamwalk.errors import PhotoError
from seamwalk.geometry.projective import Points
from seamwalk.model.machine import MachineProfile
from seamwalk.model.picture import FlatPicture, Photo, Rectification, Reference
from seamwalk.model.route import Route
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import Top
from seamwalk.scale import (
    FirstCamera,
    ScaleChoice,
    first_camera,
    parse_grain,
    parse_known,
)
from seamwalk.units import Units

if TYPE_CHECKING:
    from seamwalk.motifs.plan import StrokePlan

Progress = Callable[[str], None]


def _silent(stage: str) -> None:
    del stage


@dataclass(frozen=True, slots=True)
class PictureSettings:
    """Resolutions that the stages work at."""

    coarse_px_per_in: float = 8.0
    """Finding the top: a seam's width is below one pixel, floor and cloth are told apart."""
    fine_px_per_in: float = 16.0
    """Finding seams: a 1 in strip is 16 pixels wide, a 60 × 80 in top 1.2 MP."""
    largest_fine_mp: float = 6.0
    """The fine picture is made coarser rather than larger than this, megapixels."""
    margin_in: float = 1.5
    """Floor shown round the top in the fine picture, inches."""
    least_covered_in2: float = 1.0
    """A card that touches the top with less than this covers nothing worth a word, square
    inches."""
    reach_in: float = 150.0
    """The cloth is looked for no further than this from the reference, inches."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredTop:
    """Everything known after measuring.

    Attributes
    ----------
    photo, rectification, flat
        None where the top was read from a file and its photo was not found.
    """

    top: Top
    sizes: Sizes
    units: Units
    photo: Photo | None = None
    rectification: Rectification | None = None
    flat: FlatPicture | None = None
    references: tuple[Reference, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class PlannedTop:
    """A measured top with its strokes and route."""

    measured: MeasuredTop
    strokes: "StrokePlan"
    route: Route
    settings: dict[str, object] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()


def measure_photo(
    path: Path,
    scale: ScaleChoice,
    *,
    settings: PictureSettings | None = None,
    progress: Progress = _silent,
) -> MeasuredTop:
    """Return the measured top in the photo at `path`.

    Raises
    ------
    SeamwalkError
        If the picture, the reference or the top cannot be used; see :mod:`seamwalk.errors`.
    """
    from seamwalk.vision.camera_fit import FitSettings
    from seamwalk.vision.edges import locate
    from seamwalk.vision.flatten import flatten
    from seamwalk.vision.lie import lie_of, with_cards_beside, with_cards_on_top
    from seamwalk.vision.lie_heights import heights_of
    from seamwalk.vision.measure import measure
    from seamwalk.vision.measure_doubt import DoubtSettings, camera_place
    from seamwalk.vision.measure_top import four_corners
    from seamwalk.vision.partition import partition
    from seamwalk.vision.photo import read_photo
    from seamwalk.vision.piecing import trace
    from seamwalk.vision.rectify import refine
    from seamwalk.vision.seams import find_seams
    from seamwalk.vision.tape import TapeMeasure, contradictions, parse_tape, tape_evidence

    settings = settings or PictureSettings()
    tapes = parse_tape(scale.tape, scale.units)
    known = None if scale.known is None else parse_known(scale.known, scale.units)
    grain_in = None if scale.grain is None else parse_grain(scale.grain, scale.units)
    progress("reading the photo")
    photo = read_photo(path)
    progress("finding the scale")
    camera = first_camera(photo, scale)
    progress("finding the top")
    rectification, outline_in, sheets_px = _framed(photo, camera, settings)
    flat, mask, covered = _fine_picture(photo, rectification, sheets_px, outline_in, settings)
    progress("finding the seams")
    seams = find_seams(flat, mask)
    if covered.any():
        seams = replace(seams, strength=np.where(covered, 0, seams.strength).astype(np.float32))
    top = trace(partition(flat, seams), flat, seams)
    progress("measuring")
    top, lines = locate(photo, rectification, top)
    seen_px = [line.points_px for line in lines]
    seen_sigma = [line.sigma_px for line in lines]
    lie = lie_of(seen_px, seen_sigma, rectification, camera_place(rectification.view))
    ring = np.array(top.outline.exterior.coords)[:-1]
    if known is not None and camera.references:
        tapes = (*tapes, TapeMeasure(*known))
    evidence = tape_evidence(tapes, ring[four_corners(ring)], rectification.view)
    rest = with_cards_on_top if covered.any() else with_cards_beside
    refined = refine(
        rectification,
        photo,
        camera.references,
        seen_px,
        tapes=evidence,
        settings=rest(lie, FitSettings()),
    )
    refined, top = _seen_by(refined, rectification, top)
    heights = heights_of(seen_px, seen_sigma, refined, camera_place(refined.view), lie)
    sizes = measure(
        _flattened(top, heights.flattened),
        refined,
        units=scale.units,
        grain_in=grain_in,
        cards=len(camera.references),
        settings=DoubtSettings(bump_in=heights.left_in + lie.doubt_in),
    )
    shown = _shown_extent(top, settings)
    notes = photo.warnings + camera.warnings + refined.warnings
    notes += contradictions(tapes, evidence, rectification, scale.units)
    if covered.any():
        notes += ("A card lies on the top: what it covers is inferred, not seen.",)
    return MeasuredTop(
        top,
        sizes,
        scale.units,
        photo=photo,
        rectification=refined,
        flat=flatten(photo, refined, shown, flat.px_per_in),
        references=camera.references,
        warnings=tuple(dict.fromkeys(notes)),
    )


def _framed(
    photo: Photo, camera: FirstCamera, settings: PictureSettings
) -> tuple[Rectification, Points, tuple[Points, ...]]:
    """Return the camera in the top's own frame, the outline (N, 2) in it, and the cards' sheets.

    Sheets are corners (4, 2) in photo pixels.
    """
    from seamwalk.vision.flatten import flatten, visible_extent
    from seamwalk.vision.outline import find_top, outline_polygon
    from seamwalk.vision.rectify import align
    from seamwalk.vision.sheet import find_sheets, sheet_mask

    rectification = camera.rectification
    sheets_px: tuple[Points, ...] = ()
    outline_px = camera.corners_px
    if outline_px is None or camera.references:
        extent = visible_extent(photo, rectification, settings.reach_in)
        flat = flatten(photo, rectification, extent, settings.coarse_px_per_in)
        sheets_px = find_sheets(flat, camera.references)
        if outline_px is None:
            mask = find_top(flat.rgb, ignore=sheet_mask(flat, sheets_px), seen=flat.seen)
            found_in = flat.in_from_px(outline_polygon(mask))
            outline_px = rectification.view.px_from_top(found_in)
    aligned = align(rectification, rectification.view.top_from_px(outline_px))
    return aligned, aligned.view.top_from_px(outline_px), sheets_px


def _fine_picture(
    photo: Photo,
    rectification: Rectification,
    sheets_px: tuple[Points, ...],
    outline_in: Points,
    settings: PictureSettings,
) -> tuple[FlatPicture, NDArray[np.bool_], NDArray[np.bool_]]:
    """Return the flat picture to look for seams in, the top's mask and what cards cover of it."""
    import cv2

    from seamwalk.vision.flatten import flatten
    from seamwalk.vision.sheet import sheet_mask

    size = np.ptp(outline_in, axis=0) + 2 * settings.margin_in
    ppi = min(
        settings.fine_px_per_in, float(np.sqrt(settings.largest_fine_mp * 1e6 / size.prod()))
    )
    low, high = outline_in.min(axis=0), outline_in.max(axis=0)
    m = settings.margin_in
    extent = (low[0] - m, low[1] - m, high[0] + m, high[1] + m)
    flat = flatten(photo, rectification, extent, ppi)
    mask = np.zeros(flat.seen.shape, np.uint8)
    ring = np.round(flat.px_from_in(outline_in) * 16).astype(np.int32)
    cv2.fillPoly(mask, [ring], 1, shift=4)
    covered = sheet_mask(flat, sheets_px) & (mask > 0)
    if covered.sum() < settings.least_covered_in2 * ppi**2:
        covered = np.zeros_like(covered)
    else:
        rgb = cv2.inpaint(flat.rgb, covered.astype(np.uint8), 5, cv2.INPAINT_TELEA)
        flat = replace(flat, rgb=np.asarray(rgb, dtype=np.uint8))
    return flat, mask > 0, covered


def _seen_by(camera: Rectification, old: Rectification, top: Top) -> tuple[Rectification, Top]:
    """Return `camera` in the frame of the top, and the top, measured with `old`, seen by it.

    Where a needle-thin corner would turn inside out, the old camera is kept: the two differ by
    less than such a corner is wide.
    """
    from seamwalk.vision.rectify import align

    outline_px = old.view.px_from_top(np.array(top.outline.exterior.coords)[:-1])
    aligned = align(camera, camera.view.top_from_px(outline_px))
    moved = top.mapped(lambda xy: aligned.view.top_from_px(old.view.px_from_top(xy)))
    if camera is not old and not _is_valid(moved):
        return _seen_by(old, old, top)
    return aligned, moved


def _flattened(top: Top, flatten: Callable[[Points], Points]) -> Top:
    """Return the top as if its cloth lay flat, for lengths; the map keeps where things are seen.

    Unchanged where a needle-thin corner would turn inside out.
    """
    moved = top.mapped(flatten)
    return moved if _is_valid(moved) else top


def _is_valid(top: Top) -> bool:
    from seamwalk.geometry.planar import tiles

    rings = [np.array(p.polygon.exterior.coords)[:-1] for p in top.patches]
    return tiles(rings, np.array(top.outline.exterior.coords)[:-1])


def _shown_extent(top: Top, settings: PictureSettings) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = top.outline.bounds
    m = settings.margin_in
    return x0 - m, y0 - m, x1 + m, y1 + m


def measured_from_file(path: Path, *, photo_path: Path | None = None) -> MeasuredTop:
    """Return the measured top stored in a top.json, with its photo where that is found.

    The photo is looked for at `photo_path`, else beside the file under its own name, and is
    used only if its bytes are the ones that the file was made from.

    Raises
    ------
    FileFormatError
        If the file is not a valid top.json.
    """
    from seamwalk.files.top_file import read_top
    from seamwalk.vision.flatten import flatten
    from seamwalk.vision.photo import read_photo

    stored = read_top(path)
    measured = MeasuredTop(
        stored.top,
        stored.sizes,
        stored.units,
        rectification=stored.rectification,
        warnings=stored.warnings,
    )
    at = photo_path or path.parent / (stored.photo_name or "-")
    if stored.rectification is None or not at.is_file():
        if photo_path is not None:
            raise PhotoError(f"I can't find the photo {photo_path}.", "Check its name.")
        return measured
    photo = read_photo(at)
    if photo.sha256 != stored.photo_sha256:
        note = f"{at.name} is not the photo that this top was measured in: it is left out."
        return replace(measured, warnings=(*measured.warnings, note))
    settings = PictureSettings()
    extent = _shown_extent(stored.top, settings)
    # The file speaks of the photo's own pixels; a large photo was averaged on reading.
    rectification = stored.rectification.enlarged(1 / photo.reduction)
    flat = flatten(photo, rectification, extent, settings.fine_px_per_in)
    return replace(measured, photo=photo, rectification=rectification, flat=flat)


def plan_top(
    measured: MeasuredTop,
    motifs: tuple[str, ...] = (),
    machine: MachineProfile | None = None,
    *,
    time_limit_s: float | None = None,
    progress: Progress = _silent,
) -> PlannedTop:
    """Return the strokes and the route for a measured top.

    Parameters
    ----------
    motifs : tuple of str
        Wishes such as ``square=arches``; what is not named gets a sensible default.

    Raises
    ------
    MotifError, UsageError
        If a wish is not understood.
    """
    from seamwalk.motifs.plan import choose, make_strokes
    from seamwalk.routing.audit import audit
    from seamwalk.routing.graph import network
    from seamwalk.routing.route import plan_route

    machine = machine or MachineProfile()
    progress("choosing motifs")
    choices = choose(measured.top, measured.sizes, motifs)
    strokes = make_strokes(measured.top, measured.sizes, choices, machine)
    progress("finding the path")
    route = plan_route(network(strokes.strokes), machine, time_limit_s=time_limit_s)
    report = audit(route, machine)
    if not report.valid:
        # The auditor shares no code with the router: a disagreement is a bug, not bad input.
        raise AssertionError("the route fails its audit: " + "; ".join(report.errors[:3]))
    settings: dict[str, object] = {"machine": asdict(machine), "motifs": list(motifs)}
    return PlannedTop(measured, strokes, route, settings, strokes.warnings)
