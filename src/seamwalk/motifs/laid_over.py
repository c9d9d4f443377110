"""Curves laid over many patches, cut where they cross seams and where the region ends.

The way of a curve is decided by the whole region; the path, though, may only turn off where
strokes end.  So each curve is cut exactly at every ditch and at the binding line, and each part
belongs to the patch that it lies in.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.clip import SAME_PLACE_IN
from seamwalk.geometry.crossings import crossings, middles
from seamwalk.geometry.curve import Curve, Piece
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Marking, Stroke, StrokeId
from seamwalk.motifs.motif import Region
from seamwalk.motifs.outlines import Outline

Floats = NDArray[np.float64]

ONE_CUT_IN = 2 * SAME_PLACE_IN
"""Cuts closer than this are one, inches: a curve through a junction crosses several ditches."""

CRUMB_IN = 1 / 8
"""A shorter part that ends at the region's border both ways is dropped, inches."""


@dataclass(frozen=True, slots=True)
class Laid:
    """A curve before it is cut.

    Attributes
    ----------
    name : str
        Begins the ids of its parts.
    curve : Curve
        Both ends are nodes, beyond the region's border or on another curve's end.
    line : str
        What its parts belong to as one.
    required : bool
        False for mere travel.
    again : bool
        Each part is offered once more for travel on top of the first, with ``-again`` to its id.
    round : bool
        A closed curve whose start is a node only where a seam passes.
    """

    name: str
    curve: Curve
    line: str
    marking: Marking
    required: bool = True
    again: bool = False
    round: bool = False


def laid_over(
    region: Region,
    laid: Sequence[Laid],
    choice: MotifChoice,
    outlines: Sequence[Outline] | None = None,
) -> tuple[Stroke, ...]:
    """Return what of the curves lies in the region, cut at every seam.

    Parameters
    ----------
    region : Region
        Its seams and the binding line cut.
    laid : sequence of Laid
        In the order in which strokes come back.
    choice : MotifChoice
        Names the motif.
    outlines : sequence of Outline, optional
        Patches to keep to, where those are not all of the region's.

    Notes
    -----
    O((n + m) log m + k) for n pieces, m seam segments and k crossings.
    """
    outlines = region.outlines if outlines is None else outlines
    if not outlines or not laid:
        return ()
    pieces = [p for one in laid for p in one.curve.pieces]
    cuts = crossings(pieces, _segments(region))
    # A part lies in one patch, and half way along its longest piece is clear of the seams.
    parts: list[tuple[int, Curve]] = []
    first = 0
    for k, one in enumerate(laid):
        last = first + len(one.curve.pieces)
        mine = _parted(pieces[first:last], cuts[first:last])
        if one.round and len(mine) > 1 and not _cut_at_start(one.curve, cuts[first:last]):
            mine = [*mine[1:-1], mine[-1].joined(mine[0])]
        parts += [(k, curve) for curve in mine]
        first = last
    longest = [
        c.pieces[0] if len(c.pieces) == 1 else max(c.pieces, key=lambda p: p.length)
        for _, c in parts
    ]
    within = _within(middles(longest), outlines)
    strokes: list[Stroke] = []
    count: Counter[str] = Counter()
    for i, ((k, curve), w) in enumerate(zip(parts, within.tolist(), strict=True)):
        if w < 0 or (_ends_outside(parts, within, i) and curve.length < CRUMB_IN):
            continue
        patch = outlines[w].patch
        name = f"{laid[k].name}-{patch}"
        count[name] += 1
        one = laid[k]
        whole = StrokeId(name if count[name] == 1 else f"{name}-{count[name]}")
        strokes.append(
            Stroke(
                whole,
                curve,
                "motif",
                required=one.required,
                motif=choice.motif,
                patch=patch,
                line=one.line,
                marking=one.marking,
            )
        )
        if one.again:
            strokes.append(
                Stroke(
                    StrokeId(f"{whole}-again"),
                    curve,
                    "motif",
                    required=False,
                    motif=choice.motif,
                    patch=patch,
                    line=one.line,
                )
            )
    return tuple(strokes)


def _ends_outside(parts: list[tuple[int, Curve]], within: NDArray[np.intp], i: int) -> bool:
    """Return True if the same curve goes on outside the region both ways."""
    return (
        0 < i < len(parts) - 1
        and parts[i - 1][0] == parts[i][0] == parts[i + 1][0]
        and bool(within[i - 1] < 0 and within[i + 1] < 0)
    )


def _segments(region: Region) -> Floats:
    """Return the straight pieces (M, 2, 2) of all ditches in and around, and the binding line."""
    area = region.area
    ditches = [
        (p.start, p.end)
        for seam in region.seams
        for part in area.ditches[seam.id]
        for p in part.pieces
    ]
    ring = np.array(area.binding.exterior.coords)
    edge = np.stack([ring[:-1], ring[1:]], axis=1)
    return np.concatenate([np.array(ditches).reshape(-1, 2, 2), edge])


def _parted(pieces: Sequence[Piece], cuts: Sequence[Sequence[float]]) -> list[Curve]:
    """Return the curve's parts between the cuts."""
    out: list[Curve] = []
    run: list[Piece] = []
    gone = 0.0
    for piece, at in zip(pieces, cuts, strict=True):
        if not at:
            run.append(piece)
            gone += piece.length
            continue
        length = piece.length
        near = ONE_CUT_IN / length
        edges = [0.0]
        for t in at:
            if near < t < 1 - near and t - edges[-1] > near:
                edges.append(t)
        edges.append(1.0)
        if at[0] <= near and run and gone > ONE_CUT_IN:
            out.append(Curve(tuple(run)))
            run, gone = [], 0.0
        # Where one part ends the next one starts: each place is worked out once.
        parts = [piece] if len(edges) == 2 else piece.parts(edges)
        for part, (t0, t1) in zip(parts, pairwise(edges), strict=True):
            run.append(part)
            gone += (t1 - t0) * length
            if t1 < 1 or at[-1] >= 1 - near:
                out.append(Curve(tuple(run)))
                run, gone = [], 0.0
    if run:
        out.append(Curve(tuple(run)))
    return out


def _cut_at_start(curve: Curve, cuts: Sequence[Sequence[float]]) -> bool:
    """Return True if a closed curve is cut where it starts and ends."""
    first, last = curve.pieces[0].length, curve.pieces[-1].length
    return bool(
        (cuts[0] and cuts[0][0] * first <= ONE_CUT_IN)
        or (cuts[-1] and (1 - cuts[-1][-1]) * last <= ONE_CUT_IN)
    )


def _within(spots: Floats, outlines: Sequence[Outline]) -> NDArray[np.intp]:
    """Return for each place (N, 2) the number of the outline that it lies in, -1 for none."""
    tree = shapely.STRtree([o.polygon for o in outlines])
    which, outline = tree.query(shapely.points(spots), predicate="intersects")
    out = np.full(len(spots), -1, dtype=np.intp)
    # On a seam two outlines have it: the first takes it, whatever the tree's order.
    order = np.lexsort((-outline, which))
    out[which[order]] = outline[order]
    return out
