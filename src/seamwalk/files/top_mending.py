"""What a top.json says twice, and says differently the second time, is taken from the outlines.

The outlines are what is stitched and what was measured; a list that contradicts them is made
anew, and a sentence says so.  The file itself is never changed.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import shapely

from seamwalk.files.top_checks import named_patches
from seamwalk.geometry.outline_edges import edge_middles, four_edges
from seamwalk.geometry.polygon import ring_of, side_lengths
from seamwalk.geometry.polyline import corners
from seamwalk.model.sizes import Length, PatchSize, Sizes, TopSize
from seamwalk.model.top import Patch, PatchId, Seam, SeamId, Top
from seamwalk.units import Units, format_length


@dataclass(frozen=True, slots=True)
class MendingSettings:
    """When a size contradicts an outline.

    Attributes
    ----------
    share : float
        Of a length: a size may differ so much from the outline.  The sizes of cloth that did not
        lie flat differ from its map by less than 1 %, and a tape laid by hand is believed.
    length_in : float
        And by so much besides, inches: the seam allowance.
    corners : int
        Sides may be so many more or fewer than the outline has corners: one that hardly turns
        may be counted or not.
    """

    share: float = 0.03
    length_in: float = 0.25
    corners: int = 1


DEFAULT = MendingSettings()


def mended(
    top: Top, sizes: Sizes, units: Units, settings: MendingSettings = DEFAULT
) -> tuple[Top, Sizes, tuple[str, ...]]:
    """Return a top and its sizes without contradictions, and what was made anew.

    Parameters
    ----------
    top, sizes
        As read; patches tile the top, and seams run along their sides.
    units : {"in", "cm"}
        Of the sentences.
    """
    top, notes = _with_seams(top)
    whole, more = _whole(top, sizes.top, units, settings)
    patches, most = _patches(top, sizes, settings)
    return top, replace(sizes, top=whole, patches=patches), (*notes, *more, *most)


def _with_seams(top: Top) -> tuple[Top, tuple[str, ...]]:
    """Return the top where each patch lists the seams that lie beside it."""
    beside: dict[PatchId, list[Seam]] = {p.id: [] for p in top.patches}
    for seam in top.seams:
        for patch in (seam.left, seam.right):
            if patch is not None:
                beside[patch].append(seam)
    wrong = [p for p in top.patches if sorted(p.seams) != sorted(s.id for s in beside[p.id])]
    if not wrong:
        return top, ()
    anew = {p.id: replace(p, seams=_round(p, beside[p.id])) for p in wrong}
    note = (
        f"The list of seams of {named_patches(anew)} was wrong: it was made anew from the seams."
    )
    return replace(top, patches=tuple(anew.get(p.id, p) for p in top.patches)), (note,)


def _round(patch: Patch, seams: list[Seam]) -> tuple[SeamId, ...]:
    """Return the seams in the order in which they lie round a patch's outline."""
    ring = shapely.get_exterior_ring(patch.polygon)
    lines = [shapely.LineString(s.points) for s in seams]
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    order = np.argsort(shapely.line_locate_point(ring, middles), kind="stable")
    return tuple(seams[k].id for k in order.tolist())


def _whole(
    top: Top, given: TopSize, units: Units, settings: MendingSettings
) -> tuple[TopSize, tuple[str, ...]]:
    """Return the overall sizes, by the outline where they contradict it."""
    runs = four_edges(ring_of(top.outline))
    middles = edge_middles(runs)
    p = np.array([run[0] for run in runs])
    ends = np.concatenate([middles[[3, 0]], p[[0, 1]]]), np.concatenate([middles[[1, 2]], p[2:]])
    width, height, down, up = np.hypot(*(ends[1] - ends[0]).T).tolist()
    edges = [float(shapely.LineString(run).length) for run in runs]
    found = [width, height, *edges, down, up]
    said = [given.width, given.height, *given.edges, *given.diagonals]
    names = ["width", "height", *(f"{e} edge" for e in ("upper", "right", "lower", "left"))]
    names += ["first diagonal", "second diagonal"]
    wrong = [
        k
        for k, (length, value) in enumerate(zip(said, found, strict=True))
        if abs(length.value_in - value) > settings.share * value + settings.length_in
    ]
    if not wrong:
        return given, ()
    notes = tuple(
        f"The {names[k]} was given as {format_length(said[k].value_in, units)}, but is "
        f"{format_length(found[k], units)} by the outline, which I go by."
        for k in wrong
    )
    e = [replace(s, value_in=f) if k in wrong else s for k, (s, f) in _rows(said, found)]
    return TopSize(e[0], e[1], (e[2], e[3], e[4], e[5]), (e[6], e[7]), given.corner_angles), notes


def _rows(said: list[Length], found: list[float]) -> Iterable[tuple[int, tuple[Length, float]]]:
    return enumerate(zip(said, found, strict=True))


def _patches(
    top: Top, sizes: Sizes, settings: MendingSettings
) -> tuple[tuple[PatchSize, ...], tuple[str, ...]]:
    """Return the sizes of the patches, with as many sides as their outlines have."""
    out: list[PatchSize] = []
    wrong: list[PatchId] = []
    most = max((s.plus_minus_in for p in sizes.patches for s in p.sides), default=0.0)
    for patch, size in zip(top.patches, sizes.patches, strict=True):
        ring = ring_of(patch.polygon)
        turns = corners(ring)
        number = len(size.sides)
        if not number or abs(number - len(turns)) > settings.corners:
            wrong.append(patch.id)
            # An outline without corners is one round side, told by its points.
            lengths = side_lengths(ring[turns] if len(turns) >= 2 else ring).tolist()
            size = replace(
                size, sides=tuple(Length(v, most) for v in lengths), angles=(), curves=()
            )
        elif any(c.side >= number for c in size.curves) or len(size.angles) not in (0, number):
            wrong.append(patch.id)
            curves = tuple(c for c in size.curves if c.side < number)
            angles = size.angles if len(size.angles) == number else ()
            size = replace(size, curves=curves, angles=angles)
        out.append(size)
    if not wrong:
        return sizes.patches, ()
    note = f"The sides of {named_patches(wrong)} did not fit the outline, which I go by."
    return tuple(out), (note,)
