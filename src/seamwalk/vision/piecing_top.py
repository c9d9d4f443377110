"""The finished net as a top: junctions, seams and patches with their numbers."""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from seamwalk.geometry.polyline import CORNER_DEG, turning_rad
from seamwalk.geometry.projective import Points
from seamwalk.model.top import Junction, JunctionId, Patch, PatchId, Seam, SeamId, Top
from seamwalk.vision.piecing_net import SeamNet


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """For each chain: confidence and whether it is inferred."""

    confidence: NDArray[np.float64]
    inferred: NDArray[np.bool_]


def as_top(
    net: SeamNet,
    nodes_in: Points,
    words: list[str],
    evidence: Evidence,
    sweeps: dict[int, float],
) -> Top:
    """Return the net as a top, junctions numbered from above, seams between them.

    Parameters
    ----------
    sweeps : dict
        By how much each arc of the net turns, radians.
    """
    is_junction = net.corner
    order = np.flatnonzero(is_junction)
    order = order[np.lexsort((nodes_in[order, 0], np.round(nodes_in[order, 1], 1)))]
    name = {int(v): JunctionId(i) for i, v in enumerate(order.tolist(), start=1)}
    xy = [(float(x), float(y)) for x, y in nodes_in.tolist()]
    seams: list[Seam] = []
    of_chain: dict[int, list[SeamId]] = {}
    for c, chain in enumerate(net.chains):
        way = net.chain_nodes(c)
        stops = [i for i, v in enumerate(way) if is_junction[v]]
        ids = []
        for i, j in itertools.pairwise(stops):
            ids.append(SeamId(len(seams) + 1))
            numbers = set(net.arc[list(net.chain_pieces[c][i:j])].tolist())
            arc = numbers.pop() if len(numbers) == 1 else -1
            seams.append(
                Seam(
                    ids[-1],
                    (name[way[i]], name[way[j]]),
                    tuple(xy[v] for v in way[i : j + 1]),
                    PatchId(chain.left) if chain.left else None,
                    PatchId(chain.right) if chain.right else None,
                    float(evidence.confidence[c]),
                    bool(evidence.inferred[c]),
                    sweeps.get(arc, 0.0),
                )
            )
        of_chain[c] = ids
    patches = []
    for label, walk in net.rings.items():
        if not label:
            continue
        ids = [s for c, fwd in walk for s in (of_chain[c] if fwd else of_chain[c][::-1])]
        ring = net.ring_nodes(label)
        start = _first_corner(nodes_in[ring])
        shape = Polygon([xy[v] for v in np.roll(ring, -start).tolist()])
        first = name.get(int(ring[start]))
        patches.append(Patch(PatchId(label), shape, _from(ids, first, seams), words[label - 1]))
    outer = net.ring_nodes(0)[::-1]
    outer = np.roll(outer, -_first_corner(nodes_in[outer]))
    junctions = tuple(Junction(name[v], xy[v]) for v in order.tolist())
    top = Top(Polygon([xy[v] for v in outer.tolist()]), junctions, tuple(seams), tuple(patches))
    if len(junctions) - len(seams) + len(patches) != 1:
        raise AssertionError("the traced map fails Euler's formula")
    return top


def _first_corner(ring: Points) -> int:
    """Return the corner of a ring that lies furthest to the upper left."""
    turns = np.abs(turning_rad(ring, closed=True)) > np.radians(CORNER_DEG)
    where = np.flatnonzero(turns) if turns.any() else np.arange(len(ring))
    return int(where[np.argmin(ring[where].sum(axis=1))])


def _from(ids: list[SeamId], first: JunctionId | None, seams: list[Seam]) -> tuple[SeamId, ...]:
    """Return the seams round a patch, beginning with one that leaves junction `first`."""
    n = len(ids)
    for k in range(n):
        before, after = seams[ids[k - 1] - 1], seams[ids[k] - 1]
        if n > 1 and first in before.ends and first in after.ends and (n > 2 or k == 0):
            return tuple(ids[k:] + ids[:k])
    return tuple(ids)
