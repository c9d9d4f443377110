"""Whether a top that was read can be stitched: patches tile it, seams run along their sides.

A top.json may have been edited by hand or by another program.  Each check returns what is wrong
in half a sentence, or None.  Patches are compared after they have been drawn in by half of what
edits may be off: whatever still meets overlaps by more than that, and no corner that was rounded
is taken for a hole.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from seamwalk.model.top import PatchId, Seam, Top


@dataclass(frozen=True, slots=True)
class CheckSettings:
    """How far what belongs together may be apart.

    Attributes
    ----------
    apart_in : float
        Patches may overlap, or leave a gap, this wide, and seams lie so far from the patches'
        sides, inches: twice what two points rounded to 1/100 in or to a millimetre are apart,
        an eighth of the seam allowance.
    length_in : float
        The seams round a patch may be so much longer or shorter than its outline, inches: eight
        points each off by `apart_in`, and less than anything worth stitching along.
    looked_at : int
        A seam is looked at in so many places between its ends, and at each of its points.
    named : int
        A sentence names at most so many patches.
    """

    apart_in: float = 1 / 32
    length_in: float = 0.25
    looked_at: int = 5
    named: int = 4


DEFAULT = CheckSettings()


def wrong_outline(top: Top) -> str | None:
    """Return what is wrong with the outline, or with a patch's own."""
    if not _is_simple(top.outline):
        return "the outline of the top crosses itself"
    for patch in top.patches:
        if not _is_simple(patch.polygon):
            return f"the outline of patch {patch.id} crosses itself"
    return None


def wrong_tiling(top: Top, settings: CheckSettings = DEFAULT) -> str | None:
    """Return where patches reach beyond the outline, overlap or leave a hole.

    Notes
    -----
    O(N log N) by a tree of the patches; needs outlines that don't cross themselves.
    """
    half = settings.apart_in / 2
    ids = [p.id for p in top.patches]
    shapes = np.array([p.polygon for p in top.patches])
    wide = top.outline.buffer(half, join_style="mitre")
    # Boxes first: a corner at 1e300 is no work for anything else.
    outside = _outside_box(shapes, top.outline.bounds, settings.apart_in)
    if not outside.any():
        shrunk = shapely.buffer(shapes, -half, join_style="mitre")
        shapely.prepare(wide)
        outside = ~(shapely.covers(wide, shrunk) | shapely.is_empty(shrunk))
    if outside.any():
        who = named_patches([ids[k] for k in np.flatnonzero(outside)], settings)
        verb = "reaches" if outside.sum() == 1 else "reach"
        return f"{who} {verb} beyond the outline of the top"
    first, second = shapely.STRtree(shrunk).query(shrunk, predicate="intersects")
    pairs = first < second
    if pairs.any():
        counts = np.bincount(np.concatenate([first[pairs], second[pairs]]), minlength=len(ids))
        worst = int(np.argmax(counts))
        others = np.sort(second[(first == worst) & (second != worst)])
        whom = named_patches([ids[k] for k in others], settings)
        return f"patch {ids[worst]} overlaps {whom}"
    return _hole(top, shapes, ids, settings)


def _hole(
    top: Top, shapes: NDArray[np.object_], ids: Sequence[PatchId], settings: CheckSettings
) -> str | None:
    half = settings.apart_in / 2
    covered = shapely.union_all(shapely.buffer(shapes, half, join_style="mitre"))
    left = top.outline.buffer(-half, join_style="mitre").difference(covered)
    holes = [p for p in shapely.get_parts(left) if p.area > 0]
    if not holes:
        return None
    hole = max(holes, key=lambda p: p.area)
    near = shapely.STRtree(shapes).query(hole, predicate="dwithin", distance=2 * settings.apart_in)
    return f"a hole is left beside {named_patches([ids[k] for k in np.sort(near)], settings)}"


def wrong_seams(top: Top, settings: CheckSettings = DEFAULT) -> str | None:
    """Return which seam is no side of its patches, or which patch has sides without a seam.

    Notes
    -----
    Linear in the points of seams and outlines; needs patches that tile the top.
    """
    for seam in top.seams:
        if len(set(seam.points)) < 2 or (seam.sweep_rad and seam.points[0] == seam.points[-1]):
            return f"seam {seam.id} has no length"
        if seam.left == seam.right:
            who = "no patch" if seam.left is None else f"patch {seam.left} on both sides"
            return f"seam {seam.id} has {who}"
    place = {p.id: k for k, p in enumerate(top.patches)}
    rings = shapely.get_exterior_ring([p.polygon for p in top.patches])
    beside = [(i, place[p]) for i, s in enumerate(top.seams) for p in _patches(s)]
    along = np.array(beside, dtype=np.intp).reshape(-1, 2)
    lines = np.array([shapely.LineString(s.points) for s in top.seams])
    points, of = _looked_at(top.seams, lines, settings)
    for side in (0, 1):
        # Each seam has one patch or two: the first of each, then the second.
        rows = _nth(along[:, 0], side)
        ring_of_seam = np.full(len(top.seams), -1)
        ring_of_seam[along[rows, 0]] = along[rows, 1]
        has = ring_of_seam[of] >= 0
        off = shapely.distance(points[has], rings[ring_of_seam[of[has]]])
        far = np.flatnonzero(~(off <= settings.apart_in))
        if len(far):
            k = int(of[has][far[0]])
            patch = top.patches[ring_of_seam[k]].id
            return f"seam {top.seams[k].id} does not run along a side of patch {patch}"
    sewn = np.zeros(len(rings))
    if len(along):
        np.add.at(sewn, along[:, 1], shapely.length(lines)[along[:, 0]])
    over = sewn - shapely.length(rings)
    k = int(np.argmax(np.abs(over)))
    if over[k] > settings.length_in:
        return _twice(top, along[along[:, 1] == k, 0], lines, settings)
    if over[k] < -settings.length_in:
        return f"no seam lies along a side of patch {top.patches[k].id}"
    return None


def _twice(
    top: Top, round_it: NDArray[np.intp], lines: NDArray[np.object_], settings: CheckSettings
) -> str:
    """Return which of the seams round a patch lie in the same place."""
    patch = set.intersection(*({*_patches(top.seams[k])} for k in round_it.tolist()))
    for i, k in enumerate(round_it.tolist()):
        for m in round_it[i + 1 :].tolist():
            if shapely.hausdorff_distance(lines[k], lines[m]) <= settings.apart_in:
                return f"seams {top.seams[k].id} and {top.seams[m].id} lie in the same place"
    return f"the seams of patch {min(patch)} lie along a side of it twice"


def _looked_at(
    seams: Sequence[Seam], lines: NDArray[np.object_], settings: CheckSettings
) -> tuple[NDArray[np.object_], NDArray[np.intp]]:
    """Return points along each seam, and the seam of each."""
    if not len(lines):
        return np.array([], dtype=object), np.array([], dtype=np.intp)
    share = np.arange(1, settings.looked_at + 1) / (settings.looked_at + 1)
    between = shapely.line_interpolate_point(lines[:, None], share, normalized=True)
    at, of = shapely.get_coordinates(lines, return_index=True)
    arcs = [(k, s.curve.sampled()) for k, s in enumerate(seams) if s.sweep_rad]
    at = np.concatenate([at, *(xy for _, xy in arcs)])
    points = np.concatenate([between.ravel(), shapely.get_parts(shapely.multipoints(at))])
    owners = [
        np.repeat(np.arange(len(lines)), settings.looked_at),
        of,
        np.repeat([k for k, _ in arcs], [len(xy) for _, xy in arcs]),
    ]
    return points, np.concatenate(owners).astype(np.intp)


def _nth(groups: NDArray[np.intp], n: int) -> NDArray[np.intp]:
    """Return the indices of the members number `n` of runs of equal numbers."""
    starts = np.flatnonzero(np.diff(groups, prepend=-1))
    rank = np.arange(len(groups)) - np.repeat(starts, np.diff(starts, append=len(groups)))
    return np.flatnonzero(rank == n)


def _patches(seam: Seam) -> Iterator[PatchId]:
    return (p for p in (seam.left, seam.right) if p is not None)


def _is_simple(polygon: Polygon) -> bool:
    return bool(polygon.is_valid and polygon.area > 0)


def _outside_box(
    shapes: NDArray[np.object_], box: tuple[float, float, float, float], by_in: float
) -> NDArray[np.bool_]:
    low, high = np.array(box[:2]) - by_in, np.array(box[2:]) + by_in
    bounds = shapely.bounds(shapes)
    beyond = (bounds[:, :2] < low) | (bounds[:, 2:] > high)
    out: NDArray[np.bool_] = np.any(beyond, axis=1)
    return out


def named_patches(ids: Iterable[PatchId], settings: CheckSettings = DEFAULT) -> str:
    """Return ``patch 3`` or ``patches 3, 4 and 5``; of too many, the first and how many more."""
    names = [str(i) for i in ids]
    if len(names) > settings.named:
        names = [*names[: settings.named - 1], f"{len(names) - settings.named + 1} more"]
    if len(names) == 1:
        return f"patch {names[0]}"
    return f"patches {', '.join(names[:-1])} and {names[-1]}"
