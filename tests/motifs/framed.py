"""Tops with borders whose corners are sewn in different ways, exact sizes."""

from collections.abc import Iterable, Sequence

from tests.motifs.tops import Ring, box, top_from

from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.model.top import PatchId, Top
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.motif import Motif, Region, StrokePlan

RAW = 0.25


def frame(w: float, h: float, b: float, corner: str, at: float = 0.0) -> list[Ring]:
    """Return the patches of a border of width `b` inside the rectangle w × h at (at, at)."""
    x0, y0, x1, y1 = at, at, at + w, at + h
    i0, j0, i1, j1 = x0 + b, y0 + b, x1 - b, y1 - b
    if corner == "mitred":
        outer = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        inner = [(i0, j0), (i1, j0), (i1, j1), (i0, j1)]
        return [[outer[k - 1], outer[k], inner[k], inner[k - 1]] for k in range(4)]
    if corner == "butted":
        return [box(x0, y0, x1, j0), box(x0, j1, x1, y1), box(x0, j0, i0, j1), box(i1, j0, x1, j1)]
    if corner == "log cabin":
        return [box(x0, y0, i1, j0), box(i1, y0, x1, j1), box(i0, j1, x1, y1), box(x0, j0, i0, y1)]
    return [
        box(i0, y0, i1, j0),
        box(i0, j1, i1, y1),
        box(x0, j0, i0, j1),
        box(i1, j0, x1, j1),
        *(box(x, y, x + b, y + b) for x in (x0, i1) for y in (y0, j1)),
    ]


def framed(
    w: float, h: float, borders: Sequence[tuple[float, str]], pieces: int = 1
) -> tuple[Top, list[list[PatchId]]]:
    """Return a top of finished size w × h with borders, from the outside in, and their patches.

    The outermost patches have their seam allowance; `pieces` cuts every butted strip across.
    """
    rings: list[Ring] = []
    groups: list[list[PatchId]] = []
    at = 0.0
    for width, corner in borders:
        found = frame(w - 2 * at, h - 2 * at, width, corner, at)
        if pieces > 1:
            found = [part for ring in found for part in _cut(ring, pieces)]
        groups.append([PatchId(len(rings) + k) for k in range(len(found))])
        rings += found
        at += width
    rings.append(box(at, at, w - at, h - at))
    grown = [[(_grown(x, w), _grown(y, h)) for x, y in ring] for ring in rings]
    return top_from(grown), groups


def _grown(x: float, size: float) -> float:
    """Return a coordinate with the raw edges 1/4 in outside, the upper left one at 0."""
    return RAW + (x - RAW if x == 0 else x + RAW if x == size else x)


def _cut(ring: Ring, pieces: int) -> list[Ring]:
    (x0, y0), _, (x1, y1), _ = ring
    dx, dy = (x1 - x0, 0.0) if x1 - x0 > y1 - y0 else (0.0, y1 - y0)
    wide, high = (0.0, y1 - y0) if dx else (x1 - x0, 0.0)
    return [
        box(
            x0 + dx * k / pieces,
            y0 + dy * k / pieces,
            x0 + dx * (k + 1) / pieces + wide,
            y0 + dy * (k + 1) / pieces + high,
        )
        for k in range(pieces)
    ]


def region_of(
    top: Top, patches: Iterable[PatchId] | None = None, machine: MachineProfile | None = None
) -> Region:
    chosen = tuple(p.id for p in top.patches) if patches is None else tuple(patches)
    return Region(lay_out(top), chosen, machine or MachineProfile())


def run(
    motif: Motif,
    top: Top,
    patches: Iterable[PatchId] | None = None,
    machine: MachineProfile | None = None,
    **measures: float,
) -> StrokePlan:
    region = region_of(top, patches, machine)
    return motif(region, MotifChoice(region.patches, "test", **measures))
