"""Seams located in the full-resolution photo to a fraction of a pixel.

The traced map says which seams there are and where, to a pixel of the flat picture.  Here every
seam is looked up again in the photo itself, and all junctions are adjusted at once to what was
found (:mod:`piecing_adjust`).  Where the photo shows no edge, as between two patches of one
fabric, the traced place stays, with a larger σ.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Photo, Rectification
from seamwalk.model.top import SeamId, Top
from seamwalk.vision.edges_graph import Graph, graph_of, moved_to, off_arcs, runs_of, with_arcs
from seamwalk.vision.edges_profiles import Blocks, cross
from seamwalk.vision.edges_stubs import stub_ends
from seamwalk.vision.piecing_adjust import AdjustSettings, Net, Seen, adjust, straight_through
from seamwalk.vision.piecing_circles import CircleSettings, on_circles
from seamwalk.vision.piecing_round import rounded
from seamwalk.vision.piecing_valid import allowed

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


CIRCLES_IN = CircleSettings(clear=0.2, scatter=0.06, seam=0.004)
"""When what the photo shows along a curved seam is a circle, inches."""


@dataclass(frozen=True, slots=True)
class LocateSettings:
    """What counts as having seen a seam; inches on the cloth."""

    traced_sigma_in: float = 0.05
    """How far off a traced junction may be: a pixel of the flat picture."""
    contrast: float = 1.2
    """Sides of a seam that differ by less than this many of their own σ show no edge."""
    contrast_within: float = 6.0
    """The same between patches of one fabric, where the light on a pressed seam makes sides
    differ, but not at the seam (rendered tops: wrong by 0.1 in up to a contrast of 5)."""
    clear_contrast: float = 3.0
    """Seams with less contrast than this are not believed further off than `doubtful_in`."""
    doubtful_in: float = 0.1
    """Two σ of a traced place."""
    share: float = 0.5
    """At least this share of a seam's blocks must show the edge."""
    scatter_in: float = 0.1
    """Edges that scatter more than this about a line are those of a print, not of the seam."""
    least_sigma_in: float = 0.006
    """No single edge is known better: 1/6 px at 25 px/in."""
    whole_seam_in: float = 0.004
    """What shading and blur shift a whole seam by, σ."""
    shade_doubt: float = 0.3
    """σ of how far the shade beside the top shifts an outer edge, as a share of it."""
    sharp_px: float = 1.3
    """Blur, σ in photo pixels, that lenses and sensors leave; what is more than that …"""
    soft_px: float = 2.0
    """… and from here on wholly, may be software's, which mixes code values and not light."""
    coded_share: float = 1.0
    """σ of where such an edge is, as a share of the distance between the two: with 0.7, 83 % of
    the sides of a photo that was blurred after it was coded lay within their ±."""
    stated_in: float = 0.008
    """Least σ that is stated of a junction: prints shift whole seams too (on rendered flat tops
    in prints sides were off by that much more than their edges scatter)."""
    jog_in: float = 1 / 8
    """Jog of a seam line at a junction that is usual in piecing, σ."""
    farthest_in: float = 0.3
    """A junction that would move further stays where it was traced."""
    narrowest_in: float = 0.1
    """No patch is squeezed narrower than this."""
    line_in: float = 3.0
    """Seam lines shorter than this tell nothing about the camera."""
    circles: CircleSettings = CIRCLES_IN
    """When what was seen along a curved seam is a circle."""
    rounds: int = 2
    """The second time the profiles start from where the first found the seams."""


@dataclass(frozen=True, slots=True, eq=False)
class SeamLine:
    """What the photo shows of seams that run straight on through junctions.

    Attributes
    ----------
    points_px : (N, 2) float64
        Places on the line in the photo, in order along it.
    sigma_px : (N,) float64
        Standard deviation of each across the line.
    seams : tuple of SeamId
        The seams in order.
    """

    points_px: Points
    sigma_px: Floats
    seams: tuple[SeamId, ...]


def locate(
    photo: Photo,
    rectification: Rectification,
    top: Top,
    *,
    settings: LocateSettings | None = None,
) -> tuple[Top, tuple[SeamLine, ...]]:
    """Return the top with its junctions moved to where the photo shows them, and what was seen.

    Parameters
    ----------
    rectification : Rectification
        In the same frame as `top`.

    Returns
    -------
    top : Top
        The same map; junctions carry their σ.  Never less valid than the one given.
    lines : tuple of SeamLine
        Long straight seam lines, for refining the camera.
    """
    settings = settings or LocateSettings()
    graph = graph_of(top)
    nodes, home = graph.nodes, graph.nodes.copy()
    for turn in range(settings.rounds):
        if turn:
            stubs = _stubs(photo, rectification, top, graph, nodes)
            if stubs:
                rows = list(stubs)
                home[rows] = list(stubs.values())
                after = nodes.copy()
                after[rows] = home[rows]
                nodes = allowed(graph.rings, nodes, after, narrowest=settings.narrowest_in)
        a, b = graph.pieces.T
        blocks = cross(
            photo, rectification.view, nodes[a], nodes[b], graph.room_in, floor=graph.floor
        )
        seen = _seen(blocks, graph, settings)
        runs = runs_of(graph, seen)
        smooth = on_circles(seen, list(runs.values()), nodes, graph.pieces, settings.circles)
        prior = np.full(len(nodes), settings.traced_sigma_in)
        how = AdjustSettings(straight_sigma=settings.jog_in, node_noise=settings.traced_sigma_in)
        through = off_arcs(straight_through(nodes, graph.pieces, how), graph)
        moved, sigma = adjust(Net(home, prior, graph.pieces), smooth, how, through)
        too_far = np.hypot(*(moved - home).T) > settings.farthest_in
        moved[too_far] = home[too_far]
        sigma[too_far] = settings.traced_sigma_in
        nodes = allowed(graph.rings, graph.nodes, moved, narrowest=settings.narrowest_in)
    on_arcs = rounded(graph.rings, nodes, list(runs.values()), narrowest=settings.narrowest_in)
    sigma = np.hypot(sigma, settings.stated_in)
    px_per_in = float(np.median(rectification.px_per_in(nodes)))
    sigma = np.hypot(sigma, _coded_doubt(blocks, graph, px_per_in, settings))
    to = {xy: k for k, xy in enumerate(graph.keys)}
    arcs = zip(on_arcs.sweep_rad.tolist(), on_arcs.bow_sigma.tolist(), strict=True)
    out = moved_to(with_arcs(top, dict(zip(runs, arcs, strict=True))), graph, on_arcs.nodes)
    junctions = tuple(
        replace(new, sigma_in=float(sigma[to[old.xy]]))
        for new, old in zip(out.junctions, top.junctions, strict=True)
    )
    lines = _lines(rectification, graph, seen, through, settings)
    return replace(out, junctions=junctions), lines


def _stubs(
    photo: Photo, rectification: Rectification, top: Top, graph: Graph, nodes: Points
) -> dict[int, tuple[float, float]]:
    """Return the nodes where stubs end on the raw edge, and where the photo shows those."""
    now = {(float(x), float(y)): k for k, (x, y) in enumerate(nodes.tolist())}
    found = stub_ends(photo, rectification.view, moved_to(top, graph, nodes))
    return {now[old]: new for old, new in found.items()}


def _seen(blocks: Blocks, graph: Graph, settings: LocateSettings) -> Seen:
    """Return the edges that can be trusted, each with its σ."""
    m = len(blocks.contrast)
    first = np.searchsorted(blocks.piece, np.arange(m + 1))
    keep = np.zeros(len(blocks.piece), dtype=bool)
    sigma = np.full(len(blocks.piece), np.inf)
    least = np.where(graph.one_fabric, settings.contrast_within, settings.contrast)
    for p in np.flatnonzero(blocks.contrast >= least):
        rows = np.arange(first[p], first[p + 1])
        found = rows[np.isfinite(blocks.offset[rows])]
        if len(found) < max(2, settings.share * len(rows)):
            continue
        off = abs(float(np.median(blocks.offset[found])))
        if off > settings.doubtful_in and blocks.contrast[p] < settings.clear_contrast:
            continue
        along = (blocks.base[found] - blocks.base[found[0]]) @ np.array(
            [blocks.normal[found[0], 1], -blocks.normal[found[0], 0]]
        )
        rest = _about_line(along, blocks.offset[found])
        scatter = (
            1.4826 * float(np.median(np.abs(rest))) * np.sqrt(len(found) / max(len(found) - 2, 1))
        )
        if len(found) == 2:
            scatter = settings.scatter_in / 2
        if scatter > settings.scatter_in:
            continue
        spread = max(scatter, settings.least_sigma_in)
        keep[found] = True
        # What shifts the whole seam does not average out over its blocks.
        whole = np.hypot(settings.whole_seam_in, settings.shade_doubt * blocks.shifted[p])
        sigma[found] = np.sqrt(spread**2 + len(found) * whole**2)
    xy = blocks.base + np.nan_to_num(blocks.offset)[:, None] * blocks.normal
    return Seen(blocks.piece[keep], xy[keep], sigma[keep])


def _coded_doubt(
    blocks: Blocks, graph: Graph, px_per_in: float, settings: LocateSettings
) -> Floats:
    """Return the σ (N,) of each node, inches, that comes of blur which may be software's.

    It says how sure a place is, and takes no part in finding it.
    """
    clear = np.isfinite(blocks.blur) & (blocks.contrast[blocks.piece] >= settings.clear_contrast)
    out = np.zeros(len(graph.nodes))
    if not clear.any():
        return out
    blur_px = px_per_in * float(np.median(blocks.blur[clear]))
    soft = float(np.interp(blur_px, (settings.sharp_px, settings.soft_px), (0, 1)))
    piece, shift = blocks.piece[clear], np.abs(blocks.coded[clear])
    count = np.maximum(np.bincount(piece, minlength=len(graph.pieces)), 1)
    mean = np.bincount(piece, shift, minlength=len(graph.pieces)) / count
    for end in graph.pieces.T:
        np.maximum.at(out, end, settings.coded_share * soft * mean)
    return out


def _about_line(along: Floats, offset: Floats) -> Floats:
    """Return the offsets about their own line, which outliers do not bend.

    References
    ----------
    Siegel, Robust regression using repeated medians, Biometrika 69, 1982.
    """
    if len(along) < 3:
        return offset - np.median(offset)
    step = max(1, len(along) // 40)
    x, y = along[::step], offset[::step]
    dx = x[:, None] - x[None, :]
    slope = np.divide(
        y[:, None] - y[None, :], dx, out=np.full(dx.shape, np.nan), where=np.abs(dx) > 1e-9
    )
    best = float(np.median(np.nanmedian(slope, axis=1)))
    rest = offset - best * along
    out: Floats = rest - np.median(rest)
    return out


def _lines(
    rectification: Rectification,
    graph: Graph,
    seen: Seen,
    through: Indices,
    settings: LocateSettings,
) -> tuple[SeamLine, ...]:
    """Return the straight seam lines with their points in the photo."""
    order = np.argsort(seen.piece, kind="stable")
    first = np.searchsorted(seen.piece[order], np.arange(len(graph.pieces) + 1))
    out = []
    for run in _straight_runs(graph.pieces, through):
        if graph.arc[run].any():
            continue
        rows = np.concatenate([order[first[p] : first[p + 1]] for p in run])
        ends = graph.nodes[graph.pieces[run]].reshape(-1, 2)
        if len(rows) < 6 or np.hypot(*np.ptp(ends, axis=0)) < settings.line_in:
            continue
        xy = seen.xy[rows]
        direction = np.linalg.svd(xy - xy.mean(axis=0), full_matrices=False)[2][0]
        by_place = np.argsort(xy @ direction)
        xy, sigma = xy[by_place], seen.sigma[rows][by_place]
        scale = rectification.px_per_in(xy)
        seams = tuple(dict.fromkeys(graph.seam[p] for p in run))
        out.append(SeamLine(rectification.view.px_from_top(xy), sigma * scale, seams))
    return tuple(out)


def _straight_runs(pieces: Indices, through: Indices) -> list[list[int]]:
    """Return runs of pieces that follow one another straight on, each piece in one run."""
    by_ends = {frozenset(ends): p for p, ends in enumerate(pieces.tolist())}
    after: dict[int, list[int]] = {p: [] for p in range(len(pieces))}
    for a, b, c in through.tolist():
        one, two = by_ends[frozenset((a, b))], by_ends[frozenset((b, c))]
        after[one].append(two)
        after[two].append(one)
    runs, done = [], set()
    starts = sorted(after, key=lambda p: (len(after[p]) > 1, p))
    for p in starts:
        if p in done:
            continue
        run = [p]
        done.add(p)
        at: int | None = p
        while at is not None:
            at = next((q for q in after[at] if q not in done), None)
            if at is not None:
                run.append(at)
                done.add(at)
        runs.append(run)
    return runs
