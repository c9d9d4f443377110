"""Write and read top.json.

Inside, everything is in inches; the file is in inches or centimetres, converted, with the unit
stated once.  :class:`seamwalk.folder.Folder` sees to it that a file appears whole or not at all.
"""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np

from seamwalk.files.top_reading import SWEEP_DIGITS, TopDocument, read_top, units_of
from seamwalk.files.top_schema import SCHEMA, TopFile, schema
from seamwalk.geometry.polygon import ring_of
from seamwalk.model.picture import Photo, Rectification, View
from seamwalk.model.sizes import Angle, BlockSize, Length, Sizes, Straightness
from seamwalk.model.top import Seam, Top
from seamwalk.units import Units, from_inches

LENGTH_DIGITS = 6
"""Decimals of lengths: a millionth of an inch, so that shared points stay shared."""

PIXEL_DIGITS = 3
"""Decimals of pixels: a tenth of what any edge can be located to."""

ANGLE_DIGITS = 4
"""Decimals of degrees: a ten-thousandth of a degree is 0.0002 in over 100 in."""

__all__ = ["TopDocument", "read_top", "schema", "to_document", "units_of", "write_top"]


def to_document(
    top: Top,
    sizes: Sizes,
    *,
    photo: Photo | None,
    rectification: Rectification | None,
    units: Units = "in",
    warnings: tuple[str, ...] = (),
) -> dict[str, Any]:
    """Return top.json as plain dictionaries and lists.

    Parameters
    ----------
    photo, rectification
        Both or neither: without them no photo, camera or pixels are written.
    """
    if photo is not None and rectification is not None:
        # The file speaks of its photo's own pixels, however they were averaged for the work.
        rectification = rectification.enlarged(photo.reduction)
    view = rectification.view if photo is not None and rectification is not None else None
    by_id = {s.patch: s for s in sizes.patches}

    def point(xy: Any) -> list[float]:
        return [_length(float(v), units) for v in xy]

    def pixels(points: Any) -> list[list[float]]:
        if view is None:
            return []
        found = view.px_from_top(np.asarray(points, dtype=np.float64))
        out: list[list[float]] = np.round(found, PIXEL_DIGITS).tolist()
        return out

    def length(value: Length) -> dict[str, float]:
        return _doubted(value, units)

    places: list[list[float] | None] = [*pixels([j.xy for j in top.junctions])]
    places = places or [None] * len(top.junctions)
    patches = []
    for patch in top.patches:
        ring, size = ring_of(patch.polygon), by_id[patch.id]
        patches.append(
            {
                "id": int(patch.id),
                "outline": [point(xy) for xy in ring],
                "outline_px": pixels(ring),
                "shape": size.shape,
                "class": size.class_name,
                "fabric": patch.fabric,
                "sides": [length(side) for side in size.sides],
                "finished": {
                    "size": [_length(v, units) for v in size.finished.size_in],
                    "off": _length(size.finished.off_in, units),
                    "verdict": size.finished.verdict,
                    "chance": round(size.finished.chance, 4),
                },
                "raw_edges": size.raw_edges,
                "seams": [int(s) for s in patch.seams],
                "angles_deg": [_angle(a) for a in size.angles],
                "curves": [
                    {
                        "side": c.side,
                        "along": length(c.along),
                        "radius": length(c.radius),
                        "inwards": c.inwards,
                    }
                    for c in size.curves
                ],
            }
        )
    return {
        "schema": SCHEMA,
        "units": units,
        "photo": _photo(top, photo, rectification, units),
        "scale": {
            "source": rectification.source if rectification else "none",
            "size": _length(rectification.reference_in, units) if rectification else 0.0,
        },
        "warnings": list(warnings),
        "size": {
            "width": length(sizes.top.width),
            "height": length(sizes.top.height),
            "edges": [length(v) for v in sizes.top.edges],
            "diagonals": [length(v) for v in sizes.top.diagonals],
            "corner_angles_deg": [_angle(a) for a in sizes.top.corner_angles],
        },
        "straightness": _straightness(sizes.straightness, units),
        "block": _block(sizes.block, units),
        "advice": list(sizes.advice),
        "grain": _length(sizes.grain_in, units),
        "tolerance": _length(sizes.tolerance_in, units),
        "outline": [point(xy) for xy in ring_of(top.outline)],
        "raw_edges": top.raw_edges,
        "junctions": [
            {
                "id": int(j.id),
                "xy": point(j.xy),
                "photo_px": px,
                "sigma": _length(j.sigma_in, units),
            }
            for j, px in zip(top.junctions, places, strict=True)
        ],
        "seams": [_seam(s, [point(xy) for xy in s.points], units) for s in top.seams],
        "patches": patches,
    }


def _length(value_in: float, units: Units) -> float:
    return round(from_inches(value_in, units), LENGTH_DIGITS)


def _doubted(value: Length, units: Units) -> dict[str, float]:
    return {
        "value": _length(value.value_in, units),
        "plus_minus": _length(value.plus_minus_in, units),
    }


def _angle(angle: Angle) -> dict[str, float]:
    return {
        "value": round(angle.value_deg, ANGLE_DIGITS),
        "plus_minus": round(angle.plus_minus_deg, ANGLE_DIGITS),
    }


def _straightness(found: Straightness | None, units: Units) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "skew_deg": _angle(found.skew),
        "taper_across_deg": _angle(found.taper_across),
        "taper_down_deg": _angle(found.taper_down),
        "bows": [_doubted(v, units) for v in found.bows],
        "waves": [_doubted(v, units) for v in found.waves],
        "verdict": found.verdict,
    }


def _block(found: BlockSize | None, units: Units) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "width": _doubted(found.width, units),
        "height": _doubted(found.height, units),
        "finished": [_length(v, units) for v in found.finished_in],
        "chance": round(found.chance, 4),
        "columns": found.columns,
        "rows": found.rows,
        "origin": [_length(v, units) for v in found.origin_in],
        "share": round(found.share, 4),
        "angle_deg": round(found.angle_deg, ANGLE_DIGITS),
        "name": found.name,
    }


def _seam(seam: Seam, points: list[list[float]], units: Units) -> dict[str, Any]:
    out: dict[str, Any] = {
        "id": int(seam.id),
        "ends": [int(j) for j in seam.ends],
        "kind": seam.kind,
        "confidence": round(seam.confidence, 4),
        "inferred": seam.inferred,
        "left": None if seam.left is None else int(seam.left),
        "right": None if seam.right is None else int(seam.right),
    }
    if len(points) > 2:
        out["points"] = points
    if seam.sweep_rad:
        out["sweep_deg"] = round(math.degrees(seam.sweep_rad), SWEEP_DIGITS)
        out["bow_sigma"] = _length(seam.bow_sigma_in, units)
    return out


def _photo(
    top: Top, photo: Photo | None, rectification: Rectification | None, units: Units
) -> dict[str, Any] | None:
    if photo is None or rectification is None:
        return None
    middles = [p.polygon.representative_point().coords[0] for p in top.patches]
    camera = _view(rectification.view, units)
    camera["rms_px"] = round(rectification.rms_px, 4)
    camera["modes"] = [_view(mode, units) for mode in rectification.modes]
    return {
        "file": photo.name,
        "sha256": photo.sha256,
        "width_px": photo.file_size_px[0],
        "height_px": photo.file_size_px[1],
        "px_per_in": round(float(np.median(rectification.px_per_in(middles))), 3),
        "camera": camera,
    }


def _view(view: View, units: Units) -> dict[str, Any]:
    scale = from_inches(1.0, units)
    return {
        "focal_px": view.lens.focal_px,
        "centre": list(view.lens.centre_px),
        "radial": list(view.lens.radial),
        "top_from_ray": (np.diag([scale, scale, 1.0]) @ view.top_from_ray).tolist(),
    }


def write_top(
    path: Path,
    top: Top,
    sizes: Sizes,
    *,
    photo: Photo | None,
    rectification: Rectification | None,
    units: Units = "in",
    warnings: tuple[str, ...] = (),
) -> None:
    """Write top.json at `path`; nothing is touched if what is given makes no valid file."""
    document = to_document(
        top, sizes, photo=photo, rectification=rectification, units=units, warnings=warnings
    )
    TopFile.model_validate(document)
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1)
    path.write_text(text + "\n", encoding="utf-8", newline="")
