"""Read top.json back, and say clearly what is wrong with one that cannot be used."""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from pydantic import ValidationError
from shapely import Polygon

from seamwalk.errors import FileFormatError
from seamwalk.files.document_reading import parsed, wrong_in
from seamwalk.files.top_checks import wrong_outline, wrong_seams, wrong_tiling
from seamwalk.files.top_corners import on_junctions
from seamwalk.files.top_mending import mended
from seamwalk.files.top_schema import (
    SCHEMA,
    AnglePart,
    BlockPart,
    LengthPart,
    PatchPart,
    SignedLengthPart,
    StraightnessPart,
    TopFile,
    ViewPart,
)
from seamwalk.geometry.lens import Lens
from seamwalk.model.largest import too_large
from seamwalk.model.picture import Rectification, View
from seamwalk.model.sizes import (
    Angle,
    BlockSize,
    Finished,
    Length,
    PatchSize,
    SideCurve,
    Sizes,
    Straightness,
    TopSize,
)
from seamwalk.model.top import Junction, JunctionId, Patch, PatchId, Seam, SeamId, Top
from seamwalk.trade import GRAIN_CM, GRAIN_IN
from seamwalk.units import CM_PER_IN, Units, to_inches

SWEEP_DIGITS = 6
"""Decimals of an arc's sweep: on a radius of 10 in a tenth of a millionth of an inch."""

_TOLERANCE_IN = 0.125
"""Files that do not state their tolerance were judged by this, inches."""


@dataclass(frozen=True, slots=True, eq=False)
class TopDocument:
    """What a top.json holds, in inches.

    Attributes
    ----------
    rectification : Rectification or None
        The camera, by which the photo can be drawn over; None for a top without a photo.
    photo_name, photo_sha256 : str
        Empty without a photo.
    """

    top: Top
    sizes: Sizes
    units: Units
    rectification: Rectification | None
    photo_name: str
    photo_sha256: str
    warnings: tuple[str, ...]


def read_top(path: Path) -> TopDocument:
    """Return what the top.json at `path` holds.

    Raises
    ------
    FileFormatError
        If the file cannot be read, is not a top.json of this version, or contradicts itself.
    """
    document = _parsed(path)
    units: Units = document.units
    top, moved = _checked(_top(document, path), path.name, units)
    top, sizes, notes = mended(top, _sizes(document), units)
    rectification, photo = None, document.photo
    if photo is not None:
        rectification = Rectification(
            _view_in(photo.camera, units),
            tuple(_view_in(mode, units) for mode in photo.camera.modes),
            document.scale.source,
            to_inches(document.scale.size, units),
            photo.camera.rms_px,
        )
    return TopDocument(
        top,
        sizes,
        units,
        rectification,
        photo.file if photo else "",
        photo.sha256 if photo else "",
        (*document.warnings, *moved, *notes),
    )


def units_of(path: Path) -> Units:
    """Return the units of the top.json at `path`.

    Raises
    ------
    FileFormatError
        If the file cannot be read, or is not a top.json of this version.
    """
    return _parsed(path).units


def _parsed(path: Path) -> TopFile:
    again = "Measure the photo again to make a new one."
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise FileFormatError(f"I can't find {path}.", "Check its name.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise FileFormatError(f"I can't read {path.name} as text.", again) from error
    try:
        data = parsed(text)
    except ValueError as error:
        raise FileFormatError(f"{path.name} cannot be read as JSON: {error}.", again) from None
    name = data.get("schema") if isinstance(data, dict) else None
    if name != SCHEMA:
        raise FileFormatError(*_other_schema(path.name, name))
    try:
        return TopFile.model_validate(data)
    except ValidationError as error:
        raise FileFormatError(f"{path.name} is damaged: {wrong_in(error)}.", again) from error


def _other_schema(file: str, name: object) -> tuple[str, str]:
    """Return what was seen and advice for a file of another schema."""
    if isinstance(name, str) and name.startswith("seamwalk/top/"):
        return (
            f"{file} is version {name.rpartition('/')[2]} of top.json, and I read version 1.",
            "Use the release of seamwalk that wrote it, or measure the photo again.",
        )
    if isinstance(name, str) and name.startswith("seamwalk/plan/"):
        return (f"{file} is a plan, not a top.", "Give the top.json that lies beside it.")
    return (f"{file} is not a top.json.", "Give the top.json that seamwalk measure wrote.")


def _top(document: TopFile, path: Path) -> Top:
    units = document.units

    def point(xy: tuple[float, float]) -> tuple[float, float]:
        return to_inches(xy[0], units), to_inches(xy[1], units)

    junctions = {j.id: point(j.xy) for j in document.junctions}
    patch_ids = {p.id for p in document.patches}
    seam_ids = {s.id for s in document.seams}
    _check_ids(document, path.name, set(junctions), seam_ids, patch_ids)
    seams = []
    for s in document.seams:
        inner = [point(xy) for xy in (s.points or [])[1:-1]]
        seams.append(
            Seam(
                SeamId(s.id),
                (JunctionId(s.ends[0]), JunctionId(s.ends[1])),
                (junctions[s.ends[0]], *inner, junctions[s.ends[1]]),
                None if s.left is None else PatchId(s.left),
                None if s.right is None else PatchId(s.right),
                s.confidence,
                s.inferred,
                # Nothing finer is ever written; an arc so flat would have no centre.
                math.radians(round(s.sweep_deg, SWEEP_DIGITS)),
                to_inches(s.bow_sigma, units),
            )
        )
    patches = []
    for p in document.patches:
        polygon = Polygon([point(xy) for xy in p.outline])
        ids = tuple(SeamId(s) for s in p.seams)
        patches.append(Patch(PatchId(p.id), polygon, ids, p.fabric))
    return Top(
        Polygon([point(xy) for xy in document.outline]),
        tuple(
            Junction(JunctionId(j.id), junctions[j.id], to_inches(j.sigma, units))
            for j in document.junctions
        ),
        tuple(seams),
        tuple(patches),
        document.raw_edges,
    )


def _checked(top: Top, file: str, units: Units) -> tuple[Top, tuple[str, ...]]:
    """Return the top with shared corners, and what was moved; raise if it can't be stitched."""
    large = too_large(top.outline, units)
    if large is not None:
        raise FileFormatError(large, f"See whether “units” in {file} is right, “in” or “cm”.")
    top, moved = on_junctions(top)
    for check in (wrong_outline, wrong_tiling, wrong_seams):
        wrong = check(top)
        if wrong:
            raise FileFormatError(
                f"{file} is damaged: {wrong}.",
                "Put that right in the file, or measure the photo again to make a new one.",
            )
    return top, moved


def _check_ids(
    document: TopFile, file: str, junctions: set[int], seams: set[int], patches: set[int]
) -> None:
    """Raise if an id is used twice or points to nothing."""
    wrong: list[str] = []
    for kind, rows, ids in (
        ("junction", document.junctions, junctions),
        ("seam", document.seams, seams),
        ("patch", document.patches, patches),
    ):
        if len(rows) != len(ids):
            wrong.append(f"two have the same {kind} id")
    for s in document.seams:
        if not set(s.ends) <= junctions:
            wrong.append(f"seam {s.id} ends at a junction that is not there")
        if not {s.left, s.right} - {None} <= patches:
            wrong.append(f"seam {s.id} lies beside a patch that is not there")
    for p in document.patches:
        if not set(p.seams) <= seams:
            wrong.append(f"patch {p.id} has a seam that is not there")
    if wrong:
        raise FileFormatError(
            f"{file} is damaged: {wrong[0]}.", "Measure the photo again to make a new one."
        )


def _sizes(document: TopFile) -> Sizes:
    units, size = document.units, document.size

    def length(part: LengthPart) -> Length:
        return _length(part, units)

    def patch(p: PatchPart) -> PatchSize:
        done = Finished(
            tuple(to_inches(v, units) for v in p.finished.size),
            to_inches(p.finished.off, units),
            p.finished.verdict,
            p.finished.chance,
        )
        sides = tuple(length(side) for side in p.sides)
        angles = tuple(_angle(a) for a in p.angles_deg)
        curves = tuple(
            SideCurve(c.side, length(c.along), length(c.radius), c.inwards) for c in p.curves
        )
        return PatchSize(
            PatchId(p.id), p.shape, p.class_name, sides, done, p.raw_edges, angles, curves
        )

    e, d, a = size.edges, size.diagonals, size.corner_angles_deg
    usual_grain = GRAIN_IN if units == "in" else GRAIN_CM / CM_PER_IN
    grain, tolerance = document.grain, document.tolerance
    return Sizes(
        tuple(patch(p) for p in document.patches),
        TopSize(
            length(size.width),
            length(size.height),
            (length(e[0]), length(e[1]), length(e[2]), length(e[3])),
            (length(d[0]), length(d[1])),
            (_angle(a[0]), _angle(a[1]), _angle(a[2]), _angle(a[3])),
        ),
        _straightness(document.straightness, units),
        _block(document.block, units),
        tuple(document.advice),
        usual_grain if grain is None else to_inches(grain, units),
        _TOLERANCE_IN if tolerance is None else to_inches(tolerance, units),
    )


def _length(part: LengthPart | SignedLengthPart, units: Units) -> Length:
    return Length(to_inches(part.value, units), to_inches(part.plus_minus, units))


def _angle(part: AnglePart) -> Angle:
    return Angle(part.value, part.plus_minus)


def _straightness(part: StraightnessPart | None, units: Units) -> Straightness | None:
    if part is None:
        return None
    b, w = ([_length(v, units) for v in four] for four in (part.bows, part.waves))
    return Straightness(
        _angle(part.skew_deg),
        _angle(part.taper_across_deg),
        _angle(part.taper_down_deg),
        (b[0], b[1], b[2], b[3]),
        (w[0], w[1], w[2], w[3]),
        part.verdict,
    )


def _block(part: BlockPart | None, units: Units) -> BlockSize | None:
    if part is None:
        return None
    return BlockSize(
        _length(part.width, units),
        _length(part.height, units),
        (to_inches(part.finished[0], units), to_inches(part.finished[1], units)),
        part.chance,
        part.columns,
        part.rows,
        (to_inches(part.origin[0], units), to_inches(part.origin[1], units)),
        part.share,
        part.angle_deg,
        part.name,
    )


def _view_in(part: ViewPart, units: Units) -> View:
    scale = to_inches(1.0, units)
    matrix = np.diag([scale, scale, 1.0]) @ np.array(part.top_from_ray)
    return View(Lens(part.focal_px, part.centre, part.radial), matrix)
