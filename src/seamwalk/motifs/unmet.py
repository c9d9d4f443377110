"""Wishes that leave nothing, or less than they sound like, told of whatever motif it is.

What else a motif can't keep of a wish it says itself (:mod:`.instead`).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely

from seamwalk.errors import MotifError
from seamwalk.model.choice import MotifChoice
from seamwalk.model.top import PatchId
from seamwalk.motifs.instead import FINEST
from seamwalk.motifs.motif import Region, StrokePlan, find
from seamwalk.motifs.wish import written_motif
from seamwalk.trade import GRAIN_CM, GRAIN_IN
from seamwalk.units import Units, format_length, to_inches

SMALLEST_TRIED_IN = 0.5
"""Nothing smaller is tried for a wish that is too large, inches."""

STEP_IN: dict[Units, float] = {"in": GRAIN_IN, "cm": to_inches(GRAIN_CM, "cm")}
"""What would fit is told in steps of this, inches."""

Names = Mapping[PatchId, str]


def left_nothing(region: Region, choice: MotifChoice, plan: StrokePlan, names: Names) -> list[str]:
    """Return a sentence if a wish leaves nothing to stitch, or less than its measure lets hope.

    Parameters
    ----------
    region, choice, plan
        Where, what was asked for, and what came of it.
    names : mapping
        Classes of the patches.
    """
    if choice.motif == "none" or plan.left_out:
        return []
    units = region.units
    asked = f"“{written_motif(choice, units)}”"
    where = _patches(choice.patches, names)
    across = _across(region)
    if any(s.required for s in plan.strokes):
        largest = _largest(choice)
        # The motif's own sentence on it says more.
        said = f" {format_length(largest, units, FINEST)}"
        told = any(said in w for w in plan.warnings)
        if told or largest <= across:
            return []
        room = format_length(across, units)
        few = "only what little meets them is drawn"
        return [f"{asked} is larger than {where}, {room} across: {few}."]
    return [f"{asked} leaves nothing to stitch in {where}{_why(region, choice, across)}."]


def left_out(region: Region, choice: MotifChoice, names: Names) -> str:
    """Return the sentence on the patches of a region that a wish doesn't suit."""
    one = len(region.patches) == 1
    where = _patches(region.patches, names, capital=True)
    verb = "does not suit" if one else "do not suit"
    gets = "gets the ditch instead" if one else "get the ditch instead"
    measured = choice.depth_in is not None or choice.spacing_in is not None
    asked = f"“{written_motif(choice, region.units)}”" if measured else choice.motif
    hint = _hint(region, choice)
    return f"{where} {verb} {asked} and {gets}{f'; {hint}' if hint else ''}."


def refuse_empty(plan: StrokePlan) -> None:
    """Refuse a plan in which nothing is to be stitched.

    Raises
    ------
    MotifError
        If it is one.
    """
    if not any(s.required for s in plan.strokes):
        raise MotifError(
            "Nothing would be stitched in the whole top.",
            " ".join(plan.warnings) or "Ask for a motif other than none somewhere.",
        )


def _why(region: Region, choice: MotifChoice, across: float) -> str:
    """Return why nothing is left, as the end of a sentence."""
    if not region.outlines:
        return ": the binding covers all of it"
    hint = _hint(region, choice)
    if hint:
        return f", since it is too large there: {hint}"
    if _largest(choice) > across:
        return ", since it is too large there"
    if choice.motif in ("ditch", "leaf-lines"):
        return ", since no seam runs there"
    return ""


def _hint(region: Region, choice: MotifChoice) -> str:
    """Return what wish would fit, nothing where none is found soon."""
    found = _fitting(region, choice)
    return "" if found is None else f"“{written_motif(found, region.units)}” would fit"


def _fitting(region: Region, choice: MotifChoice) -> MotifChoice | None:
    """Return the wish with its lengths smaller, so that it is kept and stitches in every patch.

    Few are tried, each half of the one before.
    """
    depth, spacing = choice.depth_in, choice.spacing_in
    step = STEP_IN[region.units]
    most = _largest(choice)
    if not most or not region.outlines:
        return None
    size = min(most, _across(region)) / 2
    while size >= SMALLEST_TRIED_IN:
        share = step * math.floor(size / step + 1e-9) / most
        like = replace(
            choice,
            patches=region.patches,
            depth_in=None if depth is None else _grained(depth * share, step),
            spacing_in=None if spacing is None else _grained(spacing * share, step),
            circles_in=(),
        )
        found = find(choice.motif)(region, like)
        stitched = {s.patch for s in found.strokes if s.required}
        if not found.warnings and all(o.patch in stitched for o in region.outlines):
            return like
        size /= 2
    return None


def _largest(choice: MotifChoice) -> float:
    """Return the largest length that is asked for, inches; 0 where none is."""
    return max(choice.spacing_in or 0.0, choice.depth_in or 0.0)


def _grained(value_in: float, step_in: float) -> float:
    return max(step_in, step_in * round(value_in / step_in))


def _across(region: Region) -> float:
    """Return how far it is across a region at most, inches."""
    if not region.outlines:
        return 0.0
    x0, y0, x1, y1 = shapely.total_bounds([o.polygon for o in region.outlines]).tolist()
    return math.hypot(x1 - x0, y1 - y0)


def _patches(patches: Sequence[PatchId], names: Names, *, capital: bool = False) -> str:
    classes = ", ".join(dict.fromkeys(names.get(p, f"patch {p}") for p in patches))
    if len(patches) == 1:
        return f"{'One' if capital else 'one'} patch ({classes})"
    return f"{len(patches)} patches ({classes})"
