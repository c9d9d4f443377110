"""From a picture cut into regions to the top as a planar map in inches.

Cracks between the regions are followed (:mod:`piecing_cracks`), straightened into as few pieces
as explain them (:mod:`piecing_chains`), torn junctions joined (:mod:`piecing_net`), and all
pieces adjusted at once so that junctions lie where their lines meet (:mod:`piecing_adjust`).  The
map is valid at every step: a move that would fold or overlap patches is halved, then refused.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.errors import TopologyError
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import FlatPicture, Partition, SeamMap
from seamwalk.model.top import Top
from seamwalk.vision.piecing_adjust import AdjustSettings, Net, Seen, adjust
from seamwalk.vision.piecing_circles import CircleSettings, on_circles
from seamwalk.vision.piecing_cracks import follow
from seamwalk.vision.piecing_fabric import fabrics
from seamwalk.vision.piecing_net import SeamNet, build
from seamwalk.vision.piecing_regions import border_lengths, tidy
from seamwalk.vision.piecing_round import Run, rounded
from seamwalk.vision.piecing_top import Evidence, as_top
from seamwalk.vision.piecing_valid import allowed

CIRCLES_PX = CircleSettings(clear=3.0, scatter=1.0, seam=0.1)
"""When the cracks along a curved seam are a circle, pixels."""


@dataclass(frozen=True, slots=True)
class TraceSettings:
    """How the traced map is straightened."""

    crack_sigma_px: float = 0.4
    """Least σ of a crack across its line: a clean edge falls anywhere between two pixels."""
    alike_px: float = 5.0
    """Cracks closer than this err alike: so many count as one, pixels."""
    node_sigma_px: float = 6.0
    """How far a raw junction may be off, pixels: free along a line, not free to run away."""
    clear_px: float = 2.0
    """Cracks this near to a junction are not used, pixels."""
    jog_in: float = 1 / 32
    """Jog of a seam line at a junction that is usual in careful piecing, inches."""
    sliver_in: float = 0.12
    """A patch nowhere wider than this is joined to its neighbour, inches."""
    sliver_rounds: int = 6
    """How often the map is traced again after joining slivers."""
    circles: CircleSettings = CIRCLES_PX
    """When the cracks along a curved seam are a circle, pixels."""
    strength_reach_px: int = 2
    """The seam map is read within this of the seam, pixels."""


def trace(
    partition: Partition,
    flat: FlatPicture,
    seam_map: SeamMap | None,
    *,
    settings: TraceSettings | None = None,
) -> Top:
    """Return the top that the regions of a partition show.

    Parameters
    ----------
    partition : Partition
        Labels on the grid of `flat`.
    flat : FlatPicture
        Gives position and scale, and the colours by which fabrics are told apart.
    seam_map : SeamMap or None
        Gives each seam its confidence; without it every seam has confidence 1.

    Raises
    ------
    TopologyError
        If no valid map can be made of the regions.

    Notes
    -----
    The patches tile the outline, V − E + F = 1, and every seam has one geometry that both its
    patches use.
    """
    settings = settings or TraceSettings()
    ppi = flat.px_per_in
    labels, cut = tidy(np.asarray(partition.labels, dtype=np.int32), ppi)
    inferred = getattr(partition, "inferred", None)
    made = cut
    guessed = cut if inferred is None else cut | inferred
    for _ in range(settings.sliver_rounds):
        net = build(follow(labels), ppi)
        nodes = _adjusted(net, ppi, settings)
        slivers = _slivers(net, nodes, settings.sliver_in * ppi)
        if not slivers:
            break
        labels, cut = tidy(_joined(labels, slivers), ppi)
        made, guessed = made | cut, guessed | cut
    else:
        raise TopologyError(
            "Some patches stay too narrow to be patches.",
            "Take the photo closer, so that the narrowest strip is clearly visible.",
        )
    words = fabrics(flat.rgb, labels)
    runs = _runs(net, settings)
    on_arcs = rounded(net.all_rings(), nodes, list(runs.values()))
    sweeps = dict(zip(runs, on_arcs.sweep_rad.tolist(), strict=True))
    # A partition that knows how sure it is of what it infers is believed.
    unknown = guessed if getattr(partition, "confidence", None) is None else made
    evidence = _evidence(net, seam_map, guessed, unknown, settings)
    return as_top(net, flat.in_from_px(on_arcs.nodes), words, evidence, sweeps)


def _runs(net: SeamNet, settings: TraceSettings) -> dict[int, Run]:
    """Return the run of every arc of the net by its number."""
    sigma = settings.crack_sigma_px * np.sqrt(settings.alike_px)
    out = {}
    for k in range(int(net.arc.max(initial=-1)) + 1):
        pieces = np.flatnonzero(net.arc == k)
        if len(pieces) < 2:
            continue
        nodes = np.append(net.pieces[pieces, 0], net.pieces[pieces[-1], 1])
        seen = np.concatenate([net.cracks[p] for p in pieces])
        clear = np.hypot(*(seen[:, None] - net.nodes_px[nodes[[0, -1]]]).T).min(axis=0)
        seen = seen[clear > settings.clear_px]
        out[k] = Run(nodes, seen, np.full(len(seen), sigma))
    return out


def _adjusted(net: SeamNet, ppi: float, settings: TraceSettings) -> Points:
    """Return the nodes where all their lines meet best, the map still valid."""
    sigma = np.where(net.held, 0.05, settings.node_sigma_px)
    seen = Seen(
        np.repeat(np.arange(len(net.cracks)), [len(c) for c in net.cracks]),
        np.concatenate(net.cracks),
        _crack_sigma(net, settings),
    )
    how = AdjustSettings(
        straight_sigma=max(settings.jog_in * ppi, 0.25),
        clear_of_nodes=settings.clear_px,
        node_noise=1.0,
    )
    runs = list(_runs(net, settings).values())
    seen = on_circles(seen, runs, net.nodes_px, net.pieces, settings.circles)
    moved, _ = adjust(Net(net.nodes_px, sigma, net.pieces), seen, how)
    return allowed(net.all_rings(), net.nodes_px, moved)


def _crack_sigma(net: SeamNet, settings: TraceSettings) -> NDArray[np.float64]:
    """Return a σ for every crack from how widely its piece's cracks scatter about a line."""
    out = []
    for points in net.cracks:
        scatter = 0.0
        if len(points) > 4:
            spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[1]
            scatter = float(spread) / np.sqrt(len(points) - 2)
        sigma = max(settings.crack_sigma_px, scatter) * np.sqrt(settings.alike_px)
        out.append(np.full(len(points), sigma))
    return np.concatenate(out)


def _slivers(net: SeamNet, nodes: Points, narrowest_px: float) -> list[int]:
    """Return the labels of patches that are nowhere as wide as `narrowest_px`."""
    labels = [k for k in net.rings if k]
    return [labels[k] for k in net.all_rings().slivers(nodes, narrowest_px)]


def _joined(labels: NDArray[np.int32], slivers: list[int]) -> NDArray[np.int32]:
    """Return the labels with each sliver given to the neighbour it shares most with."""
    border = border_lengths(labels)
    table = np.arange(int(labels.max()) + 1, dtype=np.int32)
    for r in slivers:
        others = {k: v for k, v in border[r].items() if k and k not in slivers}
        if others:
            table[r] = max(others, key=lambda k: (others[k], -k))
    return table[labels]


def _evidence(
    net: SeamNet,
    seam_map: SeamMap | None,
    guessed: NDArray[np.bool_],
    unknown: NDArray[np.bool_],
    settings: TraceSettings,
) -> Evidence:
    """Return what the picture shows along each chain.

    The middle strength along the chain counts: short gaps and bright specks do not matter.  What
    is `guessed` is inferred; where it is `unknown` how surely, it is never surer than 0.3.
    """
    from scipy.ndimage import maximum_filter

    n = len(net.chains)
    confidence, inferred = np.ones(n), np.zeros(n, dtype=bool)
    strength: NDArray[np.float32] | None = None
    if seam_map is not None:
        strength = maximum_filter(seam_map.strength, 2 * settings.strength_reach_px + 1)
    height, width = guessed.shape
    for c, chain in enumerate(net.chains):
        way = np.diff(chain.corners_px, axis=0)
        beside = np.column_stack([-way[:, 1], way[:, 0]]) / 2
        on_right = np.round(chain.middles_px + beside).astype(np.intp)
        on_left = np.round(chain.middles_px - beside).astype(np.intp)
        inside = chain.left != 0 and chain.right != 0
        capped = False
        if inside:
            right, left = (on_right[:, 1], on_right[:, 0]), (on_left[:, 1], on_left[:, 0])
            inferred[c] = bool((guessed[right] & guessed[left]).mean() > 0.5)
            capped = bool((unknown[right] & unknown[left]).mean() > 0.5)
        col, row = on_right.T
        row, col = np.clip(row, 0, height - 1), np.clip(col, 0, width - 1)
        if strength is not None and inside:
            confidence[c] = float(np.clip(np.median(strength[row, col]), 0.0, 1.0))
        if capped:
            confidence[c] = min(confidence[c], 0.3)
    return Evidence(confidence, inferred)
