"""Leaf diagonals: the arcs of leaf lines on the diagonals of squares and diamonds.

Where squares touch with their corners the diagonals run straight on from one to the next, and so
does the foot.  In the half of a square at the edge the one diagonal that is there is cut at the
binding line.
"""

from seamwalk.geometry.clip import clip
from seamwalk.geometry.curve import Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import PatchId
from seamwalk.motifs.leaf_arcs import Chord, LeafSettings, leaves, limits_rad, wished_rad
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.outlines import Outline
from seamwalk.motifs.seam_lines import Segment, straight_lines

OBLONG = 1.25
"""Where one diagonal or side is longer than another by more than this, the leaves of a patch would
not look like a flower."""

SHORTEST_PART_IN = 1 / 8
"""Crumbs that the binding line leaves of a leaf are dropped below this, inches."""


def leaf_diagonals(
    region: Region, choice: MotifChoice, settings: LeafSettings | None = None
) -> StrokePlan:
    """Return both passes of leaves along the diagonals of the region's squares and diamonds.

    `choice.depth_in` is the rise wished for on the middle-sized diagonal.  Other patches are left
    out.
    """
    settings = settings or LeafSettings()
    chords: dict[tuple[PatchId, int], Chord] = {}
    left_out: list[PatchId] = []
    for outline in region.outlines:
        found = _diagonals(outline, settings)
        if found is None:
            left_out.append(outline.patch)
        else:
            chords.update({(outline.patch, k): c for k, c in enumerate(found, start=1)})
    wish = wished_rad(list(chords.values()), choice, settings)
    segments = {key: Segment((c.start, c.end), c.start, c.end) for key, c in chords.items()}
    lines: dict[str, list[Chord]] = {}
    for line in straight_lines(segments):
        patch, number = min(key for key, _ in line.segments)
        run = [_run(chords[key], backwards) for key, backwards in line.segments]
        lines[f"diagonal-{patch}-{number}"] = run
    smallest = region.machine.smallest_radius_in
    drawn, classes, warnings = leaves(
        lines, "diagonals", wish, smallest, choice, settings, region.units
    )
    strokes = [part for s in drawn for part in _inside(s, region)]
    return StrokePlan(tuple(strokes), warnings, tuple(left_out), classes)


def _diagonals(outline: Outline, settings: LeafSettings) -> list[Chord] | None:
    """Return the diagonals that lie inside, None if the patch is no square or diamond."""
    corners = [s.start for s in outline.sides]
    lengths = [s.chord_in for s in outline.sides if not s.on_binding or not outline.part]
    if not outline.convex or max(lengths) > OBLONG * min(lengths):
        return None
    if len(corners) == 4 and not outline.part:
        pairs = [(corners[0], corners[2]), (corners[1], corners[3])]
    elif len(corners) == 3 and outline.part:
        # Half of a square has its centre in the middle of the cut; a quarter has it in a corner,
        # and both diagonals along the cuts.
        cuts = [k for k, s in enumerate(outline.sides) if s.on_binding]
        if len(cuts) != 1:
            return []
        apex, (cx, cy) = corners[cuts[0] - 1], outline.centre
        pairs = [(apex, (2 * cx - apex[0], 2 * cy - apex[1]))]
    else:
        return None
    return [_chord(a, b, outline, settings) for a, b in pairs]


def _chord(a: Point, b: Point, outline: Outline, settings: LeafSettings) -> Chord:
    if outline.part:
        # As in the whole: the diagonal halves the corner that it comes from.
        corner = next(s.start_rad for s in outline.sides if s.start == a) / 2
        return Chord(a, b, settings.corner_most * corner, outline.patch)
    return Chord(a, b, limits_rad(a, b, [outline], settings)[0], outline.patch)


def _run(chord: Chord, backwards: bool) -> Chord:
    if not backwards:
        return chord
    return Chord(chord.end, chord.start, chord.most_rad, chord.patch)


def _inside(stroke: Stroke, region: Region) -> list[Stroke]:
    """Return what of a leaf lies inside the binding line."""
    if stroke.patch is None or not region.area.outlines[stroke.patch].at_edge:
        return [stroke]
    parts = [c for c in clip(stroke.curve, region.area.binding) if c.length >= SHORTEST_PART_IN]
    return [
        Stroke(
            StrokeId(stroke.id if len(parts) == 1 else f"{stroke.id}-{k}"),
            part,
            stroke.kind,
            stroke.required,
            stroke.motif,
            stroke.patch,
            stroke.line,
            stroke.pass_no,
            stroke.marking,
        )
        for k, part in enumerate(parts, start=1)
    ]
