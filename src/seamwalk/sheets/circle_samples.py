"""Where a class of arcs can be seen: a typical place of the top, and its arcs round any circle.

Over sides and diagonals that is the patch with the most arcs of the class, over seams the two
patches beside a seam.  Arcs in rows and strands take the size of their circle, so that there is no
one place to redraw: a short piece of the row stands for them.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import shapely

from seamwalk.geometry.clip import SAME_PLACE_IN
from seamwalk.geometry.curve import Arc, Point
from seamwalk.model.circles import ArcClass, ClassCircle
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import PatchId, Top
from seamwalk.sheets.circle_chords import PatchSample, SampleChord, lone_chord, patch_sample
from seamwalk.sheets.circle_strands import RowSample, row_sample

SAME_CHORD = 0.15
"""Chords of a class differ by no more than this share; a shorter arc is cut at the edge."""

SAME_CIRCLE = 0.01
"""Arcs of a class differ by no more than this share from the circle it is drawn round."""


Sample = PatchSample | RowSample


def sample_of(found: ClassCircle, strokes: Sequence[Stroke], top: Top) -> Sample:
    """Return where a class of arcs is shown."""
    arcs = found.arcs
    if arcs.free:
        return row_sample(arcs, strokes, top)
    drawn = [_Drawn.of(s) for s in strokes if _belongs(s, arcs)]
    if found.circle is not None:
        # Two classes may share chords and patches, and differ in depth alone.
        size = found.circle.diameter_in
        drawn = [d for d in drawn if abs(d.diameter - size) <= SAME_CIRCLE * size] or drawn
    if arcs.over == "seams":
        drawn = _placed(drawn, top)
        mine = set(_seam_pair(drawn, arcs, top))
    else:
        mine = set(_one_patch(drawn, arcs, top))
    chords = [d.chord for d in drawn if d.patch in mine]
    if not chords:
        # Every arc is cut at the edge: a chord alone says what is needed.
        return lone_chord(arcs.chord_in)
    rings = [
        tuple((float(x), float(y)) for x, y in p.polygon.exterior.coords[:-1])
        for p in top.patches
        if p.id in mine
    ]
    return patch_sample(rings, chords)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """An arc of the plan: its chord, its circle, and the patch it lies in where that is known."""

    chord: SampleChord
    diameter: float
    apex: Point
    patch: PatchId | None

    @classmethod
    def of(cls, stroke: Stroke) -> "_Drawn":
        (piece,) = stroke.curve
        assert isinstance(piece, Arc)
        chord = SampleChord(piece.start, piece.end, -1 if piece.sweep_rad > 0 else 1)
        return cls(chord, 2 * piece.radius, piece.at(0.5), stroke.patch)


def _belongs(stroke: Stroke, arcs: ArcClass) -> bool:
    if stroke.motif != arcs.motif or len(stroke.curve.pieces) != 1:
        return False
    piece = stroke.curve.pieces[0]
    if not isinstance(piece, Arc):
        return False
    if arcs.patches and stroke.patch not in arcs.patches:
        return False
    chord = math.dist(piece.start, piece.end)
    return arcs.chord_in * (1 - SAME_CHORD) <= chord <= arcs.longest_in + SAME_PLACE_IN


def _one_patch(drawn: Iterable[_Drawn], arcs: ArcClass, top: Top) -> tuple[PatchId, ...]:
    """Return the patch with the most arcs, among equals one inside and of the middle size."""
    of: dict[PatchId, list[_Drawn]] = defaultdict(list)
    for d in drawn:
        if d.patch is not None:
            of[d.patch].append(d)
    inside = _inner(top)
    best = min(
        of,
        key=lambda p: (-len(of[p]), p not in inside, round(_odd(of[p], arcs), 6), p),
        default=None,
    )
    return () if best is None else (best,)


def _placed(drawn: Iterable[_Drawn], top: Top) -> list[_Drawn]:
    """Return arcs along seams, each with the patch that it bows into."""
    tree = shapely.STRtree([p.polygon for p in top.patches])
    out: list[_Drawn] = []
    for d in drawn:
        hits = tree.query(shapely.Point(d.apex), predicate="within")
        if len(hits):
            out.append(replace(d, patch=top.patches[int(hits[0])].id))
    return out


def _seam_pair(drawn: Iterable[_Drawn], arcs: ArcClass, top: Top) -> tuple[PatchId, ...]:
    """Return the two patches beside a seam that have the most arcs."""
    of: dict[PatchId, list[_Drawn]] = defaultdict(list)
    beside: dict[tuple[int, int], set[PatchId]] = defaultdict(set)
    for d in drawn:
        if d.patch is not None:
            of[d.patch].append(d)
            beside[d.chord.place].add(d.patch)
    pairs = {tuple(sorted(two)) for two in beside.values() if len(two) == 2}
    inside = _inner(top)
    middles = {p.id: p.polygon.centroid for p in top.patches}

    def rank(pair: tuple[PatchId, ...]) -> tuple[float, ...]:
        a, b = (middles[p] for p in pair)
        mine = [d for p in pair for d in of[p]]
        outside = sum(p not in inside for p in pair)
        # A cell is wider than high.
        stacked = abs(a.y - b.y) > abs(a.x - b.x)
        return (-len(mine), outside, stacked, round(_odd(mine, arcs), 6), *pair)

    return min(pairs, key=rank, default=())


def _odd(drawn: Sequence[_Drawn], arcs: ArcClass) -> float:
    """Return how far chords are from the class's middle one, inches."""
    return max(abs(d.chord.length - arcs.chord_in) for d in drawn)


def _inner(top: Top) -> set[PatchId]:
    """Return the patches away from the raw edge, where arcs are cut."""
    edge = [s for s in top.seams if s.kind == "edge"]
    outer = {p for s in edge for p in (s.left, s.right)}
    return {p.id for p in top.patches if p.id not in outer}
