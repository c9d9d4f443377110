"""From chains of cracks to a net of straight pieces with one geometry for both neighbours.

The walk round every patch is kept as a list of chains, so that straightening them and joining
junctions (:mod:`piecing_join`) never changes which patches touch.  Where straightening would make
the map invalid, the chains concerned stay nearer to their cracks.
"""

import itertools
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from seamwalk.geometry.polyline import turning_rad
from seamwalk.geometry.projective import Points
from seamwalk.vision.piecing_arcs import with_arcs
from seamwalk.vision.piecing_chains import Course, course
from seamwalk.vision.piecing_cracks import Chain, CrackMap
from seamwalk.vision.piecing_join import JoinSettings, RawNet, join
from seamwalk.vision.piecing_valid import Rings

Indices = NDArray[np.intp]

PLAIN_PX = 0.8
"""Chains that cannot be straightened validly keep their cracks within this, pixels."""


@dataclass(frozen=True, slots=True, eq=False)
class SeamNet:
    """The net on the label map's grid.

    Attributes
    ----------
    nodes_px : (N, 2) float64
        As (col, row).
    corner : (N,) bool
        True for junctions and corners, False for inner points of bends.
    held : (N,) bool
        True where cracks were kept as they are.
    pieces : (M, 2) int
        Nodes of each straight piece.
    cracks : tuple of (K, 2) float64
        Middles of the cracks that each piece stands for.
    arc : (M,) int
        Number of the circular arc that a piece is part of, -1 for none.
    chain_pieces : tuple of tuple of int
        Pieces of each chain in order; joined ones left out, so it may be empty.
    chains : tuple of Chain
        The raw chains.
    rings : dict
        Label → walk round it: (chain, forwards) in order, the label on the right-hand side.
    """

    nodes_px: Points
    corner: NDArray[np.bool_]
    held: NDArray[np.bool_]
    pieces: Indices
    cracks: tuple[Points, ...]
    arc: Indices
    chain_pieces: tuple[tuple[int, ...], ...]
    chains: tuple[Chain, ...]
    rings: dict[int, tuple[tuple[int, bool], ...]]

    def ring_nodes(self, label: int) -> Indices:
        """Return the nodes round a label in order, none repeated."""
        out: list[int] = []
        for c, forwards in self.rings[label]:
            nodes = self.chain_nodes(c)
            out.extend(nodes[:-1] if forwards else nodes[:0:-1])
        return np.array(out, dtype=np.intp)

    def chain_nodes(self, c: int) -> list[int]:
        """Return the nodes along a chain, both ends included; empty for a joined one."""
        pieces = self.chain_pieces[c]
        if not pieces:
            return []
        return [int(self.pieces[pieces[0], 0]), *self.pieces[list(pieces), 1].tolist()]

    def all_rings(self) -> Rings:
        """Return the rings of all patches, in the order of their labels, and of the top."""
        patches = tuple(self.ring_nodes(k) for k in self.rings if k)
        return Rings(patches, self.ring_nodes(0)[::-1])


def walks(cracks: CrackMap) -> dict[int, tuple[tuple[int, bool], ...]]:
    """Return the walk round every label, as (chain, forwards), the label on the right.

    Each label's boundary passes a junction once, which :func:`tidy` guarantees.
    """
    leaving: dict[int, dict[int, tuple[int, bool]]] = {}
    for c, chain in enumerate(cracks.chains):
        a, b = chain.ends
        leaving.setdefault(chain.right, {})[a] = (c, True)
        leaving.setdefault(chain.left, {})[b] = (c, False)
    out = {}
    for label, ways in sorted(leaving.items()):
        first = at = min(ways)
        walk = []
        while True:
            c, forwards = ways[at]
            walk.append((c, forwards))
            a, b = cracks.chains[c].ends
            at = b if forwards else a
            if at == first:
                break
        out[label] = tuple(walk)
    return out


def build(cracks: CrackMap, px_per_in: float, settings: JoinSettings | None = None) -> SeamNet:
    """Return a valid net: straightened where that is possible, else nearer to the cracks."""
    settings = settings or JoinSettings()
    rings = walks(cracks)
    straight = [course(c.corners_px, px_per_in) for c in cracks.chains]
    courses = with_arcs(cracks.chains, straight, px_per_in)
    care = np.zeros(len(courses), dtype=np.intp)
    while True:
        net = _assembled(cracks, courses, care, rings, px_per_in, settings)
        bad = _bad_labels(net)
        if not bad:
            return net
        worse = sorted({c for k in bad for c, _ in rings[k] if care[c] < 2})
        if not worse:
            worse = np.flatnonzero(care < 2).tolist()
        for c in worse:
            care[c] += 1
            courses[c] = _plain(cracks.chains[c], PLAIN_PX if care[c] == 1 else 0.0)


def _plain(chain: Chain, tolerance_px: float) -> Course:
    """Return the chain's own cracks as its course, thinned within the tolerance."""
    full = chain.corners_px
    line = LineString(full)
    kept = shapely.get_coordinates(line.simplify(tolerance_px) if tolerance_px else line)
    place = {(x, y): i for i, (x, y) in enumerate(full.tolist())}
    breaks = [place[x, y] for x, y in kept.tolist()]
    breaks[0], breaks[-1] = 0, len(full) - 1
    corner = np.ones(len(kept), dtype=bool)
    corner[1:-1] = np.abs(turning_rad(kept)) > np.radians(60) if tolerance_px else False
    return Course(kept, corner, np.array(breaks, dtype=np.intp))


def _bad_labels(net: SeamNet) -> list[int]:
    """Return the labels whose ring is not simple or runs the wrong way; empty when all tile."""
    rings = net.all_rings()
    if rings.are_valid(net.nodes_px):
        return []
    order = [*(k for k in net.rings if k), 0]
    return [order[k] for k in rings.broken(net.nodes_px)] or order


def _assembled(
    cracks: CrackMap,
    courses: list[Course],
    care: Indices,
    rings: dict[int, tuple[tuple[int, bool], ...]],
    px_per_in: float,
    settings: JoinSettings,
) -> SeamNet:
    nodes = [cracks.junctions_px]
    corner = [np.ones(len(cracks.junctions_px), dtype=bool)]
    held = np.zeros(len(cracks.junctions_px), dtype=bool)
    inner_held = []
    count = len(held)
    pieces: list[tuple[int, int]] = []
    middles: list[Points] = []
    arc: list[int] = []
    arcs = 0
    chain_pieces: list[list[int]] = []
    for c, (chain, found) in enumerate(zip(cracks.chains, courses, strict=True)):
        inner = len(found.nodes_px) - 2
        way = [chain.ends[0], *range(count, count + inner), chain.ends[1]]
        count += inner
        nodes.append(found.nodes_px[1:-1])
        corner.append(found.corner[1:-1])
        inner_held.append(np.full(inner, care[c] == 2))
        if care[c] == 2:
            held[list(chain.ends)] = True
        chain_pieces.append(list(range(len(pieces), len(pieces) + inner + 1)))
        of_arc = [-1] * (inner + 1)
        for i, j in found.arcs:
            of_arc[i:j] = [arcs] * (j - i)
            arcs += 1
        arc.extend(of_arc)
        pieces.extend(itertools.pairwise(way))
        cut = zip(found.breaks[:-1], found.breaks[1:], strict=True)
        middles.extend(chain.middles_px[a:b] for a, b in cut)
    free = [p for c in range(len(courses)) if care[c] == 0 for p in chain_pieces[c]]
    careful = {v for c in np.flatnonzero(care) for v in cracks.chains[c].ends}
    raw = RawNet(
        np.concatenate(nodes),
        np.concatenate(corner),
        np.array(pieces, dtype=np.intp),
        tuple(middles),
        {k: [p for c, _ in walk for p in chain_pieces[c]] for k, walk in rings.items()},
    )
    owner, gone, at = join(raw, free, careful, px_per_in, settings)
    used = np.unique(owner)
    fresh = np.full(len(owner), -1, dtype=np.intp)
    fresh[used] = np.arange(len(used))
    kept = [p for p in range(len(pieces)) if p not in gone]
    renumber = {p: i for i, p in enumerate(kept)}
    all_held = np.concatenate([held, *inner_held])
    return SeamNet(
        at[used],
        raw.corner[used],
        all_held[used],
        fresh[owner[raw.pieces[kept]]],
        tuple(middles[p] for p in kept),
        np.array(arc, dtype=np.intp)[kept],
        tuple(tuple(renumber[p] for p in row if p not in gone) for row in chain_pieces),
        cracks.chains,
        rings,
    )
