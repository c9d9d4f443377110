"""The marking guide: what to mark, with what, in which order, and how much.

Straight lines come first, while the top lies flat under a long ruler; then the circles, each
taken in hand once, the largest first; then templates.  What is stitched by eye or in a seam needs
no mark and comes last (common practice, no source).
"""

import math
from collections.abc import Iterable

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.marking import MarkingGuide, MarkingStep
from seamwalk.model.stitching import Marking, Stroke

ORDER: tuple[Marking, ...] = ("ruler", "circle", "template", "eye", "none")

SAME_CIRCLE_IN = 1 / 64
"""Circles closer than this are one, inches: no hand draws finer."""

Sized = tuple[float, Stroke]


def marking_guide(strokes: Iterable[Stroke]) -> MarkingGuide:
    """Return the guide for the required strokes; what is only there for travel needs no mark.

    Parameters
    ----------
    strokes : iterable of Stroke
        Of a whole plan.

    Returns
    -------
    MarkingGuide
        A stroke marked with a circle whose parts are not all of that circle counts as one for a
        template.
    """
    groups: dict[tuple[Marking, str], list[Sized]] = {}
    for stroke in strokes:
        if not stroke.required:
            continue
        tool, diameter = stroke.marking, 0.0
        if tool in ("circle", "template"):
            diameter = _diameter(stroke.curve)
            if tool == "circle" and not diameter:
                tool = "template"
        groups.setdefault((tool, stroke.motif), []).append((diameter, stroke))
    steps = [
        _step(tool, motif, alike)
        for (tool, motif), found in groups.items()
        for alike in _by_circle(found)
    ]
    steps.sort(key=lambda s: (ORDER.index(s.tool), -(s.diameter_in or 0.0), s.motif))
    return MarkingGuide(tuple(steps))


def _by_circle(found: list[Sized]) -> list[list[Sized]]:
    """Return the strokes in groups of one circle, by size."""
    out: list[list[Sized]] = []
    for sized in sorted(found, key=lambda f: f[0]):
        if not out or sized[0] - out[-1][-1][0] > SAME_CIRCLE_IN:
            out.append([])
        out[-1].append(sized)
    return out


def _step(tool: Marking, motif: str, found: list[Sized]) -> MarkingStep:
    strokes = [s for _, s in found]
    # What runs on over several patches is drawn in one go.
    if tool in ("circle", "template"):
        count = len({_drawn_at_once(s) for s in strokes})
    else:
        count = len({s.line or s.id for s in strokes})
    middle = math.fsum(d for d, _ in found) / len(found)
    length = math.fsum(s.curve.length for s in strokes)
    patches = tuple(sorted({s.patch for s in strokes if s.patch is not None}))
    return MarkingStep(tool, motif, count, length, middle or None, patches)


def _drawn_at_once(stroke: Stroke) -> tuple[str, float, float, float]:
    """Return what strokes share that are parts of one arc: their line and their circle."""
    arcs = [p for p in stroke.curve if isinstance(p, Arc)]
    if stroke.line is None or not _diameter(stroke.curve):
        return stroke.id, 0.0, 0.0, 0.0
    (x, y), r = arcs[0].centre, arcs[0].radius
    return stroke.line, round(float(x), 3), round(float(y), 3), round(r, 3)


def _diameter(curve: Curve) -> float:
    """Return the circle that a whole curve is drawn round, 0 if it is not round one."""
    arcs = [p for p in curve if isinstance(p, Arc)]
    if len(arcs) < len(curve.pieces):
        return 0.0
    sizes = [2 * a.radius for a in arcs]
    return sizes[0] if max(sizes) - min(sizes) < SAME_CIRCLE_IN else 0.0
