"""What the commands tell programs: documents to be written as JSON."""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from seamwalk.folder import Folder
from seamwalk.model.look import Look
from seamwalk.model.sizes import Angle, Length, Straightness
from seamwalk.pipeline import MeasuredTop, PlannedTop
from seamwalk.resuming import ResumedPlan
from seamwalk.sheets.checks import MOST_MARKS, checks
from seamwalk.sheets.guide_document import guide_document
from seamwalk.sheets.hold_text import hold_lines
from seamwalk.sheets.kinds import kinds
from seamwalk.sheets.looks_text import Typed, look_document
from seamwalk.sheets.order_text import order_lines
from seamwalk.sheets.worth_text import worth_lines
from seamwalk.units import from_inches

if TYPE_CHECKING:
    from seamwalk.files.settings_text import ShownSetting


def resumed_json(result: ResumedPlan, folder: Folder) -> dict[str, object]:
    """Return the rest of a plan as a document for programs."""
    rest, route = result.rest, result.route
    return {
        "units": result.units,
        "said": result.lines,
        "kept": rest.kept,
        "seconds": round(rest.old_s if rest.kept else rest.new_s, 1),
        "seconds_before": round(rest.old_s, 1) if math.isfinite(rest.old_s) else None,
        "threads": route.totals.threads,
        "minutes": route.totals.minutes,
        "lower_bounds": route.totals.lower_bounds,
        "breaks": list(route.breaks),
        "worth": worth_lines(route.totals),
        "warnings": [*result.warnings, *folder.notes],
        "files": [str(path) for path in folder.written],
    }


def looks_json(
    measured: MeasuredTop, looks: Sequence[Look], how: Typed, folder: Folder
) -> dict[str, object]:
    """Return looks as a document for programs."""
    return {
        "units": measured.units,
        "looks": [look_document(x, measured.units, how.command(x)) for x in looks],
        "warnings": [*measured.warnings, *folder.notes],
        "files": [str(path) for path in folder.written],
    }


def settings_json(path: Path, settings: "Sequence[ShownSetting]") -> dict[str, object]:
    """Return every setting as a document for programs."""
    return {
        "file": str(path),
        "settings": {one.name: {"value": one.value, "from": one.source} for one in settings},
    }


def measured_json(result: MeasuredTop, folder: Folder) -> dict[str, object]:
    """Return the measurement as a document for programs."""

    def number(value_in: float) -> float:
        return round(from_inches(value_in, result.units), 4)

    def length(value: Length) -> dict[str, float]:
        return {"value": number(value.value_in), "plus_minus": number(value.plus_minus_in)}

    sizes = result.sizes
    top, block = sizes.top, sizes.block
    return {
        "units": result.units,
        "patches": len(result.top.patches),
        "width": length(top.width),
        "height": length(top.height),
        "verdicts": dict(Counter(p.finished.verdict for p in sizes.patches)),
        "warnings": [*result.warnings, *folder.notes],
        "files": [str(path) for path in folder.written],
        "edges": dict(
            zip(("upper", "right", "lower", "left"), map(length, top.edges), strict=True)
        ),
        "diagonals": [length(v) for v in top.diagonals],
        "corner_angles_deg": [_angle(a) for a in top.corner_angles],
        "straightness": None
        if sizes.straightness is None
        else _straightness(sizes.straightness, length),
        "block": None
        if block is None
        else {
            "name": block.name,
            "width": length(block.width),
            "height": length(block.height),
            "finished": [number(v) for v in block.finished_in],
            "chance": round(block.chance, 4),
            "columns": block.columns,
            "rows": block.rows,
            "angle_deg": round(block.angle_deg, 3),
        },
        "kinds": [
            {
                "name": row.name,
                "finished": row.size,
                "chance": round(row.chance, 4),
                "count": row.count,
                "right": row.right,
                "off": row.off,
                "cannot tell": row.unsure,
            }
            for row in kinds(sizes, result.units)
        ],
        "advice": list(sizes.advice),
        "checks": [
            {
                "number": check.number,
                "what": check.what,
                "where": check.where,
                "sure": None if check.sure is None else round(check.sure, 4),
                "how_sure": check.sure_words,
                "at": [number(v) for v in check.at],
                "seams": list(check.seams),
                "patches": list(check.patches),
                "on_picture": check.number <= MOST_MARKS,
            }
            for check in checks(result.top, sizes, result.units)
        ],
    }


def _angle(angle: Angle) -> dict[str, float]:
    return {"value": round(angle.value_deg, 3), "plus_minus": round(angle.plus_minus_deg, 3)}


def _straightness(
    found: Straightness, length: Callable[[Length], dict[str, float]]
) -> dict[str, object]:
    return {
        "verdict": found.verdict,
        "skew_deg": _angle(found.skew),
        "taper_across_deg": _angle(found.taper_across),
        "taper_down_deg": _angle(found.taper_down),
        "bows": [length(v) for v in found.bows],
        "waves": [length(v) for v in found.waves],
    }


def planned_json(result: PlannedTop, folder: Folder) -> dict[str, object]:
    """Return the plan's totals as a document for programs."""
    t = result.route.totals
    document = measured_json(result.measured, folder)
    document["warnings"] = [*result.measured.warnings, *result.warnings, *folder.notes]
    document["totals"] = {
        "threads": t.threads,
        "buried_ends": t.buried_ends,
        "edge_ends": t.edge_ends,
        "stitched": round(from_inches(t.stitched_in, result.measured.units), 2),
        "pivots": t.pivots,
        "quilt_turns": t.quilt_turns,
        "minutes": t.minutes,
        "lower_bounds": t.lower_bounds,
        "compared": {way: asdict(other) for way, other in t.compared.items()},
        "thread_yd": t.thread_yd,
        "bobbins": t.bobbins,
    }
    document |= guide_document(
        result.guide, result.strokes.circles, result.route.bobbin_changes, result.measured.units
    )
    top = result.measured
    document["order"] = order_lines(result.route.order, result.route.orders)
    document["worth"], document["breaks"] = worth_lines(t), list(result.route.breaks)
    # In words here; the numbers are in plan.json.
    document["gaps"], document["density"] = hold_lines(
        top.top, top.sizes, result.gaps, result.density, top.units
    )
    return document
