"""Why a top can't be sewn in one thread: what every route over it must do.

Two facts hold for every route.  A part of the network that nothing joins to the others needs a
thread of its own.  And where an odd number of required ends meet, a thread starts or stops, unless
travel leads on from there: over all nodes that travel joins, only whether the sum is odd counts
(Euler; each travel has two ends).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from seamwalk.model.route import NodeId, PieceId
from seamwalk.routing.turning import Bools, HalfEdges, Ints


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that every route must do.

    Attributes
    ----------
    kind : {"apart", "odd"}
        ``apart``: a part that no ditch, margin or stroke joins to the first one, so it takes one
        thread more.  ``odd``: nodes that travel joins to one another and to no others, where an
        odd number of required ends meet, so that at least one thread starts or stops there.
    nodes : tuple of NodeId
        The nodes concerned; of ``odd`` those where an odd number of required ends meet.
    pieces : tuple of PieceId
        What must be sewn in the part, or meets at those nodes.
    """

    kind: Literal["apart", "odd"]
    nodes: tuple[NodeId, ...]
    pieces: tuple[PieceId, ...]


def reasons(edges: HalfEdges) -> tuple[Reason, ...]:
    """Return why there must be thread ends: parts that lie apart first, then odd nodes.

    A route has at least 1 + the number of ``apart`` threads, and at least half as many as there
    are ``odd``.
    """
    if not edges.required.any():
        return ()
    part = _joined(edges, np.ones(len(edges.required), dtype=np.bool_))
    required = np.flatnonzero(edges.required)
    of_copy = part[edges.node[2 * required]]
    length = np.bincount(of_copy, weights=edges.sew_s[required], minlength=int(part.max()) + 1)
    # The part with most to sew is the one that others lie apart from.
    others = [p for p in np.unique(of_copy).tolist() if p != int(length.argmax())]
    out = [_reason("apart", edges, np.flatnonzero(part == p)) for p in others]
    odd = np.bincount(
        edges.node[np.flatnonzero(np.repeat(edges.required, 2))], minlength=len(edges.nodes)
    )
    odd %= 2
    travel = _joined(edges, ~edges.required)
    sums = np.bincount(travel, weights=odd)
    for t in np.flatnonzero(sums % 2 == 1).tolist():
        out.append(_reason("odd", edges, np.flatnonzero((travel == t) & (odd == 1))))
    return tuple(out)


def fewest_threads(edges: HalfEdges, found: Iterable[Reason]) -> int:
    """Return how many threads every route has at the least.

    One for each part; where a part has more than two `odd` reasons, one for each two of them.
    `found` is what `reasons` says of the same edges.
    """
    if not edges.required.any():
        return 0
    part = _joined(edges, np.ones(len(edges.required), dtype=np.bool_))
    number = {node: k for k, node in enumerate(edges.nodes)}
    odd = [part[number[r.nodes[0]]] for r in found if r.kind == "odd"]
    counts = np.bincount(np.array(odd, dtype=np.intp), minlength=int(part.max()) + 1)
    sewn = np.unique(part[edges.node[2 * np.flatnonzero(edges.required)]])
    return int(np.maximum(1, (counts[sewn] + 1) // 2).sum())


def _joined(edges: HalfEdges, copies: Bools) -> Ints:
    """Return a number for each node: the same for nodes that some of the copies join."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n = len(edges.nodes)
    u, v = edges.node[0::2][copies], edges.node[1::2][copies]
    graph = coo_array((np.ones(len(u), dtype=np.int8), (u, v)), shape=(n, n))
    out: Ints = connected_components(graph, directed=False)[1].astype(np.intp)
    return out


def _reason(kind: Literal["apart", "odd"], edges: HalfEdges, nodes: Ints) -> Reason:
    here = np.isin(edges.node, nodes) & np.repeat(edges.required, 2)
    pieces = np.unique(edges.piece_of[np.flatnonzero(here) >> 1])
    return Reason(
        kind,
        tuple(edges.nodes[v] for v in nodes.tolist()),
        tuple(edges.pieces[p].id for p in pieces.tolist()),
    )
