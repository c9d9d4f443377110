"""The order of the stages: photo → camera → seams → top → sizes → strokes → route.

Only this module knows which stage follows which; every stage is a pure function over the nouns
of :mod:`seamwalk.model`.  Nothing is written here.
"""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from seamwalk.errors import PhotoError, ScaleUncertainError
from seamwalk.framing import PictureSettings, fine_picture, framed, shown_extent
from seamwalk.geometry.blur import STEP_WIDTH
from seamwalk.geometry.projective import Points
from seamwalk.model.block import BlockPlan
from seamwalk.model.density import DensityReport
from seamwalk.model.gaps import GapReport
from seamwalk.model.largest import too_large
from seamwalk.model.machine import MachineProfile
from seamwalk.model.marking import MarkingGuide
from seamwalk.model.order import OrderWish
from seamwalk.model.picture import FlatPicture, Photo, Rectification, Reference
from seamwalk.model.route import Route
from seamwalk.model.settings import Batting
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import Top
from seamwalk.scale import ScaleChoice, first_camera, read_scale
from seamwalk.trade import BINDING_SEAM_IN
from seamwalk.units import Units

if TYPE_CHECKING:
    from seamwalk.motifs.area import Area
    from seamwalk.motifs.plan import StrokePlan

MIDDLE_OUT = OrderWish()
"""What a plan is ordered by unless she says otherwise."""

Progress = Callable[[str], None]


def _silent(stage: str) -> None:
    del stage


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
    """A measured top with its strokes, route and marking guide.

    Attributes
    ----------
    gaps, density
        Whether the stitching holds the batting, and how evenly it lies; None where that wasn't
        asked for.
    """

    measured: MeasuredTop
    strokes: "StrokePlan"
    route: Route
    guide: MarkingGuide
    settings: dict[str, object] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    gaps: GapReport | None = None
    density: DensityReport | None = None


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
    from seamwalk.vision.heat import partition_of, seam_map
    from seamwalk.vision.lie import lie_of, with_cards_beside, with_cards_on_top
    from seamwalk.vision.lie_heights import heights_of
    from seamwalk.vision.measure import measure
    from seamwalk.vision.measure_doubt import DoubtSettings, camera_place
    from seamwalk.vision.measure_top import four_corners
    from seamwalk.vision.photo import read_photo
    from seamwalk.vision.piecing import trace
    from seamwalk.vision.rectify import refine
    from seamwalk.vision.tape import TapeMeasure, believed, tape_evidence

    settings = settings or PictureSettings()
    # A slip of the pen is said before the photo is read, not after.
    said = read_scale(scale)
    progress("reading the photo")
    photo = read_photo(path)
    progress("finding the scale")
    camera = first_camera(photo, said)
    progress("finding the top")
    frame = framed(photo, camera, settings)
    rectification = frame.rectification
    progress("finding the seams")
    fine = fine_picture(photo, frame, settings)
    regions = partition_of(fine.evidence, fine.flat, fine.mask, fine.hidden)
    top = trace(regions, fine.flat, seam_map(regions, fine.evidence, fine.mask))
    if sentence := too_large(top.outline, scale.units):
        raise ScaleUncertainError(
            sentence, "Measure what gives the scale again; --square is its true side."
        )
    progress("measuring")
    top, lines = locate(photo, rectification, top)
    seen_px = [line.points_px for line in lines]
    seen_sigma = [line.sigma_px for line in lines]
    lie = lie_of(seen_px, seen_sigma, rectification, camera_place(rectification.view))
    ring = np.array(top.outline.exterior.coords)[:-1]
    tapes = said.tapes
    if said.known is not None and camera.references:
        tapes = (*tapes, TapeMeasure(*said.known))
    evidence = tape_evidence(tapes, ring[four_corners(ring)], rectification.view)
    evidence, contradicted = believed(tapes, evidence, rectification, scale.units)
    rest = with_cards_on_top if fine.by_cards.any() else with_cards_beside
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
        grain_in=said.grain_in,
        cards=len(camera.references),
        settings=DoubtSettings(bump_in=heights.left_in + lie.doubt_in),
    )
    shown = shown_extent(top, settings)
    notes = photo.warnings + camera.warnings + refined.warnings
    notes += contradicted
    blur_px = max((one.blur_px for one in camera.references), default=0.0)
    if blur_px > settings.blurred_px:
        notes += (
            f"The photo is blurred (edges are {STEP_WIDTH * blur_px:.0f} pixels wide), so seams "
            "are placed less certainly. Hold the phone still, tap on the top to focus, and give "
            "it more light.",
        )
    if fine.burnt > settings.most_burnt:
        notes += (
            f"{100 * fine.burnt:.0f} % of the top is burned out to white, and its seams with it. "
            "Tap on the lightest patch before you take the photo, or take it out of the sun.",
        )
    if fine.by_photo:
        notes += (
            "From close by, the floor beside the top looks like more of it: see whether the "
            "outline in measured.png is right, or lay a plain sheet under the edge.",
        )
    if fine.by_cards.any():
        notes += ("A card lies on the top: what it covers is inferred, not seen.",)
    elif fine.hidden.any():
        notes += (
            "Something lies on the top: what it covers is inferred, not seen. Clear the top and "
            "take the photo again if sizes there matter.",
        )
    return MeasuredTop(
        top,
        sizes,
        scale.units,
        photo=photo,
        rectification=refined,
        flat=flatten(photo, refined, shown, fine.flat.px_per_in),
        references=camera.references,
        warnings=tuple(dict.fromkeys(notes)),
    )


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
    extent = shown_extent(stored.top, settings)
    # The file speaks of the photo's own pixels; a large photo was averaged on reading.
    rectification = stored.rectification.enlarged(1 / photo.reduction)
    flat = flatten(photo, rectification, extent, settings.fine_px_per_in)
    return replace(measured, photo=photo, rectification=rectification, flat=flat)


def told_in(measured: MeasuredTop, units: Units) -> MeasuredTop:
    """Return a top from a file with its lengths told in `units`, and a word on what can't be."""
    if units == measured.units:
        return measured
    notes = measured.warnings
    if measured.sizes.advice:
        name = {"in": "inches", "cm": "centimetres"}[measured.units]
        notes += (f"What to do was written when the top was measured: it stays in {name}.",)
    return replace(measured, units=units, warnings=notes)


def plan_top(
    measured: MeasuredTop,
    motifs: tuple[str, ...] = (),
    machine: MachineProfile | None = None,
    *,
    usual: Sequence[str] = (),
    circles_in: Sequence[float] | None = None,
    binding_in: float = BINDING_SEAM_IN,
    time_limit_s: float | None = None,
    order: OrderWish | None = MIDDLE_OUT,
    batting: Batting | None = None,
    area: "Area | None" = None,
    blocks: BlockPlan | None = None,
    progress: Progress = _silent,
) -> PlannedTop:
    """Return the strokes and the route for a measured top.

    Parameters
    ----------
    motifs : tuple of str
        Wishes such as ``square=arches``; what is not named gets a sensible default.
    usual : sequence of str
        Wishes for what `motifs` do not name, where the top has their place.
    circles_in : sequence of float, optional
        Diameters of the circles to choose from for arcs, inches; without it arcs are as the
        motifs wish.
    binding_in : float
        Distance of the binding's seam from the raw edge, inches.
    order : OrderWish, optional
        What order is worth; None asks for the least time alone.
    batting : Batting, optional
        Gaps are compared with what it stands; without it neither gaps nor density are judged.
    area, blocks : optional
        What `lay_out` and `find_blocks` give, if they are there already.

    Raises
    ------
    MotifError, UsageError
        If a wish is not understood, or nothing would be stitched in the whole top.
    """
    from seamwalk.motifs.area import lay_out
    from seamwalk.motifs.density import density_report, every_pass
    from seamwalk.motifs.gap_closing import with_closings
    from seamwalk.motifs.gaps import gap_report, sewn_curves
    from seamwalk.motifs.marking import marking_guide
    from seamwalk.motifs.plan import choose, make_strokes, refuse_empty
    from seamwalk.routing.audit import audit
    from seamwalk.routing.graph import network
    from seamwalk.routing.route import plan_route
    from seamwalk.routing.telling.told import told
    from seamwalk.vision.blocks import find_blocks

    machine = machine or MachineProfile()
    progress("choosing motifs")
    area = area or lay_out(measured.top, binding_in=binding_in)
    if (motifs or usual) and blocks is None:
        blocks = find_blocks(measured.top, measured.sizes)
    choices = choose(
        measured.top,
        measured.sizes,
        motifs,
        usual=usual,
        area=area,
        blocks=blocks,
        units=measured.units,
    )
    strokes = make_strokes(
        measured.top,
        measured.sizes,
        choices,
        machine,
        area=area,
        circles_in=circles_in,
        units=measured.units,
    )
    refuse_empty(strokes)
    progress("finding the path")
    route = plan_route(network(strokes.strokes), machine, order=order, time_limit_s=time_limit_s)
    report = audit(route, machine)
    if not report.valid:
        # The auditor shares no code with the router: a disagreement is a bug, not bad input.
        raise AssertionError("the route fails its audit: " + "; ".join(report.errors[:3]))
    settings: dict[str, object] = {
        "machine": asdict(machine),
        "motifs": list(motifs),
        "usual_motifs": list(usual),
        "binding_in": binding_in,
        "circles_in": None if circles_in is None else list(circles_in),
        "order": None if order is None else asdict(order),
    }
    guide = marking_guide(strokes.strokes)
    planned = PlannedTop(measured, strokes, route, guide, settings, strokes.warnings)
    if batting is None:
        return planned
    progress("putting the path into words")
    words = told(route, machine, measured.units, measured.sizes.block)
    planned = replace(planned, route=words)
    progress("judging gaps and density")
    gaps = gap_report(sewn_curves(route), area, measured.sizes, choices, batting.gap_in)
    gaps = with_closings(
        gaps,
        area,
        measured.sizes,
        choices,
        machine,
        circles_in=circles_in,
        units=measured.units,
    )
    return replace(
        planned,
        gaps=replace(gaps, assumed=not batting.named),
        density=density_report(every_pass(route), area, choices),
    )
