"""Corners that were meant to be one point are made one point again."""

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from seamwalk.files.top_checks import DEFAULT, named_patches
from seamwalk.geometry.polygon import ring_of
from seamwalk.geometry.projective import Points
from seamwalk.model.top import Top

ROUNDING_IN = 1e-4
"""Corners moved by less than this are no edit worth a word, inches: files are written to a
millionth."""


def on_junctions(top: Top, within_in: float = DEFAULT.apart_in) -> tuple[Top, tuple[str, ...]]:
    """Return the top with the corners of its outlines exactly on their junctions.

    Someone who rounds or shifts a corner in one outline only would else leave two strokes that
    end a hair apart, and a path that has to be cut there.

    Parameters
    ----------
    within_in : float
        A corner so near to a junction belongs there, inches, if no other corner of the outline
        is nearer.

    Returns
    -------
    Top
        With what was moved, and a sentence if it was moved by more than rounding.
    """
    if not top.junctions:
        return top, ()
    places = np.array([j.xy for j in top.junctions], dtype=np.float64)
    rings = [ring_of(p) for p in (top.outline, *(q.polygon for q in top.patches))]
    corners = np.concatenate(rings)
    ring_of_corner = np.repeat(np.arange(len(rings)), [len(r) for r in rings])
    tree = shapely.STRtree(shapely.get_parts(shapely.multipoints(places)))
    near = tree.query_nearest(
        shapely.points(corners), max_distance=within_in, all_matches=False, return_distance=True
    )
    (corner, junction), off = near
    if not (off > 0).any():
        return top, ()
    moved: dict[int, Polygon] = {}
    far: set[int] = set()
    for ring in np.unique(ring_of_corner[corner[off > 0]]).tolist():
        mine = ring_of_corner[corner] == ring
        first = int(np.searchsorted(ring_of_corner, ring))
        anew, most = _moved(
            rings[ring], corner[mine] - first, places[junction[mine]], junction[mine], off[mine]
        )
        moved[ring] = Polygon(anew)
        if most > ROUNDING_IN:
            far.add(ring)
    patches = tuple(
        replace(p, polygon=moved[k]) if k in moved else p for k, p in enumerate(top.patches, 1)
    )
    notes: tuple[str, ...] = ()
    who = [p.id for k, p in enumerate(top.patches, 1) if k in far]
    if who or far:
        what = f"Corners of {named_patches(who)}" if who else "Corners of the top's outline"
        notes = (f"{what} lay a hair beside their junctions: they were moved onto them.",)
    return replace(top, outline=moved.get(0, top.outline), patches=patches), notes


def _moved(
    ring: Points,
    corner: NDArray[np.intp],
    to: Points,
    junction: NDArray[np.intp],
    off: NDArray[np.float64],
) -> tuple[Points, float]:
    """Return a ring with the nearest corner to each junction moved there, and how far at most."""
    out, most, taken = ring.copy(), 0.0, set()
    for k in np.argsort(off, kind="stable").tolist():
        if int(junction[k]) in taken:
            continue
        taken.add(int(junction[k]))
        out[corner[k]] = to[k]
        most = max(most, float(off[k]))
    return out, most
