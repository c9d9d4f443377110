"""Stitching in the ditch: the seam itself.

A ditch stroke belongs to its seam, not to the patch that asked for it, so one asked for from both
sides is sewn once: its id is that of the ground's copy for travel, which it replaces.
"""

from dataclasses import replace

from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import SeamId
from seamwalk.motifs.area import Area
from seamwalk.motifs.motif import Region, StrokePlan


def ditch_strokes(area: Area, seam: SeamId) -> tuple[Stroke, ...]:
    """Return the parts of a seam inside the binding line as strokes for travel."""
    parts = area.ditches.get(seam, ())
    single = len(parts) == 1
    return tuple(
        Stroke(
            StrokeId(f"ditch-{seam}" if single else f"ditch-{seam}-{k}"),
            part,
            "ditch",
            required=False,
        )
        for k, part in enumerate(parts, start=1)
    )


def ditch(region: Region, choice: MotifChoice) -> StrokePlan:
    """Return every seam in and around the region, to be stitched."""
    return StrokePlan(
        tuple(
            replace(stroke, required=True, motif=choice.motif)
            for seam in region.seams
            for stroke in ditch_strokes(region.area, seam.id)
        )
    )


def nothing(region: Region, choice: MotifChoice) -> StrokePlan:
    """Return no strokes: the region stays unquilted."""
    del region, choice
    return StrokePlan(())
