"""Least-squares adjustment of a net of straight pieces to points seen along them.

Nodes are joined by straight pieces; points were seen beside the pieces, each with its own σ.
The nodes are moved so that all pieces fit their points at once: where two pieces cross or one
butts on another, the node comes to lie on the lines that fix it best.  Seams that run straight
on through a node hold it softly in line, so that a real jog stays.

References
----------
Mikhail and Ackermann, Observations and Least Squares, 1976 (adjustment of nets); Huber, Robust
Statistics, 1981 (weights).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

from seamwalk.geometry.projective import Points

Indices = NDArray[np.intp]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Net:
    """Nodes and the straight pieces between them.

    Attributes
    ----------
    nodes : (N, 2) float64
        Where the nodes are believed to be.
    node_sigma : (N,) float64
        How far off that may be; 0 holds a node still.
    pieces : (M, 2) int
        First and last node of each piece.
    """

    nodes: Points
    node_sigma: Floats
    pieces: Indices


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """Points seen along the pieces.

    Attributes
    ----------
    piece : (K,) int
        The piece that each point lies on.
    xy : (K, 2) float64
        The points.
    sigma : (K,) float64
        Standard deviation of each across its piece.
    """

    piece: Indices
    xy: Points
    sigma: Floats


@dataclass(frozen=True, slots=True)
class AdjustSettings:
    """How the net is adjusted; lengths in the unit of the net."""

    straight_sigma: float
    """Jog of a seam line at a junction that is usual in piecing."""
    straight_deg: float = 15.0
    """Pieces that turn less at a node run straight on."""
    node_noise: float = 0.0
    """How far off nodes may be: short pieces may turn more for it …"""
    most_deg: float = 24.0
    """… but not more than this, half way to a turn by 45°."""
    clear_of_nodes: float = 0.0
    """Points nearer to a node than this say nothing: the junction blurs them."""
    rounds: int = 4
    """Rounds of reweighting; more change nothing below a hundredth of σ."""
    huber: float = 1.5
    """Points off by more than this many σ count by their distance, not its square."""
    cut_off: float = 4.0
    """Points off by more than this many σ count nothing in the last rounds."""


def adjust(
    net: Net, seen: Seen, settings: AdjustSettings, through: Indices | None = None
) -> tuple[Points, NDArray[np.float64]]:
    """Return the nodes moved (N, 2), and the σ of each (N,) in its least certain direction.

    Parameters
    ----------
    through : (T, 3) int or None
        Triples of nodes a, b, c where a seam line runs straight on from a through b to c;
        None finds them in the net.
    """
    if through is None:
        through = straight_through(net.nodes, net.pieces, settings)
    x0 = net.nodes
    x = x0.copy()
    n = len(x)
    tiny = 1e-9 * max(float(np.ptp(x0, axis=0).max(initial=0.0)), 1.0)
    prior = 1.0 / np.maximum(net.node_sigma, tiny) ** 2
    weights = np.ones(len(seen.piece))
    for turn in range(settings.rounds):
        a, b, t, normal, clear = _along(x, net.pieces, seen, settings.clear_of_nodes)
        off = ((seen.xy - x[a]) * normal).sum(axis=1) - t * ((x[b] - x[a]) * normal).sum(axis=1)
        if turn:
            size = np.abs(off) / seen.sigma
            weights = np.where(
                size <= settings.huber, 1.0, settings.huber / np.maximum(size, 1e-12)
            )
            if turn > 1:
                weights[size > settings.cut_off] = 0.0
        w = weights * clear / seen.sigma**2
        system = _System(n)
        system.add_points(net.pieces, x, seen.piece, t, w, off)
        system.add_jogs(x, through, 1.0 / settings.straight_sigma**2)
        system.hold(prior, x0 - x)
        step, sigma = system.solve()
        x = x + step
    return x, sigma


def _along(
    x: Points, pieces: Indices, seen: Seen, clear_of_nodes: float
) -> tuple[Indices, Indices, Floats, Points, NDArray[np.bool_]]:
    """Return for each point its piece's nodes, place along it, normal, and whether it counts."""
    a, b = pieces[seen.piece].T
    d = x[b] - x[a]
    size = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-12)
    normal = np.column_stack([-d[:, 1], d[:, 0]]) / size[:, None]
    t = ((seen.xy - x[a]) * d).sum(axis=1) / size**2
    margin = np.minimum(clear_of_nodes, size / 4) / size
    return a, b, np.clip(t, 0.0, 1.0), normal, (t >= margin) & (t <= 1 - margin)


def _normals(x: Points, a: Indices, b: Indices) -> Points:
    """Return the unit normals of the chords from nodes a to nodes b."""
    d = x[b] - x[a]
    size = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-12)
    out: Points = np.column_stack([-d[:, 1], d[:, 0]]) / size[:, None]
    return out


class _System:
    """Normal equations of a linear problem in 2N unknowns, summed block by block."""

    def __init__(self, n: int) -> None:
        self.n = n
        self.rows: list[Indices] = []
        self.cols: list[Indices] = []
        self.values: list[Floats] = []
        self.right = np.zeros((n, 2))
        self.diagonal = np.zeros((n, 2, 2))

    def add_points(
        self, pieces: Indices, x: Points, piece: Indices, t: Floats, weight: Floats, off: Floats
    ) -> None:
        """Ask that every piece passes through its points, `off` it now at the share `t`."""
        m = len(pieces)

        def total(values: Floats) -> Floats:
            sums = np.bincount(piece, weights=weight * values, minlength=m)
            return sums.astype(np.float64)

        u = 1 - t
        products = ((total(u * u), total(u * t)), (total(u * t), total(t * t)))
        self._add(
            tuple(pieces.T), products, (total(u * off), total(t * off)), _normals(x, *pieces.T)
        )

    def add_jogs(self, x: Points, through: Indices, weight: float) -> None:
        """Ask that the middle node of each triple lies on the chord of the outer two."""
        a, b, c = through.T
        d = x[c] - x[a]
        across = _normals(x, a, c)
        size2 = np.maximum((d * d).sum(axis=1), 1e-18)
        s = np.clip(((x[b] - x[a]) * d).sum(axis=1) / size2, 0.0, 1.0)
        jog = ((x[b] - x[a] - s[:, None] * d) * across).sum(axis=1)
        factors = (s - 1, np.ones_like(s), -s)
        products = tuple(tuple(weight * fi * fj for fj in factors) for fi in factors)
        self._add((a, b, c), products, tuple(-weight * f * jog for f in factors), across)

    def _add(
        self,
        nodes: tuple[Indices, ...],
        products: tuple[tuple[Floats, ...], ...],
        targets: tuple[Floats, ...],
        normal: Points,
    ) -> None:
        """Add equations along `normal`: summed products of factors, and factors times target."""
        outer = normal[:, :, None] * normal[:, None, :]
        for i, (node_i, target) in enumerate(zip(nodes, targets, strict=True)):
            np.add.at(self.right, node_i, normal * target[:, None])
            np.add.at(self.diagonal, node_i, outer * products[i][i][:, None, None])
            for j, node_j in enumerate(nodes):
                block = outer * products[i][j][:, None, None]
                for p in (0, 1):
                    for q in (0, 1):
                        self.rows.append(2 * node_i + p)
                        self.cols.append(2 * node_j + q)
                        self.values.append(block[:, p, q])

    def hold(self, weight: Floats, target: Points) -> None:
        """Ask that each node's step equals its target."""
        self.right += weight[:, None] * target
        index = np.arange(2 * self.n)
        self.rows.append(index)
        self.cols.append(index)
        self.values.append(np.repeat(weight, 2))
        self.diagonal += weight[:, None, None] * np.eye(2)

    def solve(self) -> tuple[Points, Floats]:
        """Return the steps (N, 2) and a lower bound of each node's σ (N,)."""
        size = 2 * self.n
        places = (np.concatenate(self.rows), np.concatenate(self.cols))
        entries = (np.concatenate(self.values), places)
        matrix = coo_matrix(entries, shape=(size, size)).tocsc()
        step = splu(matrix).solve(self.right.ravel()).reshape(-1, 2)
        # The other nodes taken as known: exact where the neighbours are fixed well themselves.
        least = np.linalg.eigvalsh(self.diagonal)[:, 0]
        sigma: Floats = 1.0 / np.sqrt(np.maximum(least, 1e-30))
        return step, sigma


def straight_through(nodes: Points, pieces: Indices, settings: AdjustSettings) -> Indices:
    """Return triples (a, b, c) of nodes where pieces a–b and b–c run straight on, (T, 3).

    At each node the straightest pair is taken first; a piece is in one pair at most.
    """
    at = np.concatenate([pieces[:, 0], pieces[:, 1]])
    other = np.concatenate([pieces[:, 1], pieces[:, 0]])
    d = nodes[other] - nodes[at]
    angle = np.arctan2(d[:, 1], d[:, 0])
    size = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-12)
    slack = np.radians(settings.straight_deg) + settings.node_noise / size
    slack = np.minimum(slack, np.radians(max(settings.most_deg, settings.straight_deg)))
    order = np.argsort(at, kind="stable")
    bounds = np.searchsorted(at[order], np.arange(len(nodes) + 1))
    out = []
    for b in range(len(nodes)):
        here = order[bounds[b] : bounds[b + 1]]
        if len(here) < 2:
            continue
        cosine = np.cos(angle[here][:, None] - angle[here][None, :])
        limit = -np.cos(np.maximum(slack[here][:, None], slack[here][None, :]))
        i, j = np.nonzero(np.triu(cosine <= limit, 1))
        taken: set[int] = set()
        for k in np.argsort(cosine[i, j], kind="stable"):
            if i[k] in taken or j[k] in taken:
                continue
            taken.update((int(i[k]), int(j[k])))
            out.append((other[here[i[k]]], b, other[here[j[k]]]))
    return np.array(out, dtype=np.intp).reshape(-1, 3)
