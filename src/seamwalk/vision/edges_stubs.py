"""Where the short seams beyond the binding line meet the raw edge.

A block's tip lies 1/4 in inside the raw edge of a bare top; from there one seam runs on to the
edge.  It is only a few pixels long, so neither its direction nor its end can be had from profiles.
But all cloth beside it belongs to one of two patches, whose colours are known: the end is where
the seam parts the cloth round it best.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Photo, View
from seamwalk.model.top import Top
from seamwalk.vision.edges_profiles import sample_light

Floats = NDArray[np.float64]
XY = tuple[float, float]


@dataclass(frozen=True, slots=True)
class StubSettings:
    """How stubs are looked at; inches on the cloth."""

    longest_in: float = 0.5
    """Longer seams are found by their profiles."""
    farthest_in: float = 0.4
    """The end is sought within this along the edge: a seam at 45° and some doubt."""
    cell_in: float = 0.04
    """Spacing of samples and of the ends tried: a pixel at 25 px/in."""
    inset_in: float = 0.06
    """Cloth nearer to the raw edge than this is left out: frayed, and blurred with the floor."""
    home_in: float = 0.5
    """Each patch's colour is taken from its strip up to this far beyond the place of search."""
    contrast: float = 1.5
    """Patches differing by less than this many of their σ say nothing."""
    gain: float = 0.04
    """The best end must explain this much more of the strip than the present one."""


def stub_ends(
    photo: Photo, view: View, top: Top, settings: StubSettings | None = None
) -> dict[XY, XY]:
    """Return where stubs reach the raw edge: place in `top` to place seen, for those that move.

    Parameters
    ----------
    top : Top
        With every inner junction where the photo shows it.
    """
    s = settings or StubSettings()
    at_edge: dict[int, list[tuple[XY, XY]]] = {}
    for seam in top.seams:
        if seam.kind == "edge":
            for k, way in ((0, seam.points[:2]), (-1, seam.points[:-3:-1])):
                at_edge.setdefault(int(seam.ends[k]), []).append((way[0], way[1]))
    out: dict[XY, XY] = {}
    for seam in top.seams:
        if seam.kind == "edge" or len(seam.points) != 2:
            continue
        on_edge = [int(j) in at_edge for j in seam.ends]
        if on_edge[0] == on_edge[1]:
            continue
        end, tip = seam.points if on_edge[0] else seam.points[::-1]
        ways = at_edge[int(seam.ends[0 if on_edge[0] else 1])]
        if len(ways) != 2 or np.hypot(tip[0] - end[0], tip[1] - end[1]) > s.longest_in:
            continue
        found = _end(photo, view, np.array(tip), np.array(end), ways, s)
        if found is not None:
            out[end] = found
    return out


def _end(
    photo: Photo,
    view: View,
    tip: Points,
    end: Points,
    ways: list[tuple[XY, XY]],
    s: StubSettings,
) -> XY | None:
    """Return the end on the edge that parts the strip best, None where the present one does."""
    one, two = (np.array(w[1]) for w in ways)
    along = two - one
    room = float(np.hypot(*along))
    along /= room
    across = np.array([-along[1], along[0]])
    depth = float((tip - end) @ across)
    if depth < 0:
        across, depth = -across, -depth
    before, after = float((end - one) @ along), float((two - end) @ along)
    if depth < 2 * s.inset_in or min(before, after) < s.farthest_in + s.home_in:
        return None
    reach = s.farthest_in + s.home_in
    u = np.arange(-reach, reach + 1e-9, s.cell_in)
    v = np.arange(s.inset_in, depth, s.cell_in)
    grid = end + u[:, None, None] * along + v[None, :, None] * across
    light = sample_light(photo, view.px_from_top(grid.reshape(-1, 2))).astype(np.float64)
    light = light.reshape(len(u), len(v), 3)
    first, second = light[u < -s.farthest_in], light[u > s.farthest_in]
    side, contrast = _side(light, first.reshape(-1, 3), second.reshape(-1, 3))
    if contrast < s.contrast:
        return None
    tip_u = float((tip - end) @ along)
    near = np.abs(u) <= s.farthest_in
    wrong = np.clip(side[near], -0.5, 1.5) * 2 - 1
    tried = np.arange(-s.farthest_in, s.farthest_in + 1e-9, s.cell_in / 2)
    # The seam runs from the tried end at depth 0 to the tip at full depth.
    border = tried[:, None] + (tip_u - tried)[:, None] * (v / depth)[None, :]
    beyond = u[near][None, :, None] > border[:, None, :]
    score = np.where(beyond, wrong[None], -wrong[None]).mean(axis=(1, 2))
    best = int(np.argmax(score))
    now = int(np.argmin(np.abs(tried)))
    if score[best] - score[now] < s.gain or best in (0, len(tried) - 1):
        return None
    place = end + tried[best] * along
    return float(place[0]), float(place[1])


def _side(light: Floats, first: Floats, second: Floats) -> tuple[Floats, float]:
    """Return how much each sample looks like the second patch (0 to 1), and the contrast."""
    spread = (np.cov(first.T) + np.cov(second.T)) / 2 + np.eye(3) * 0.004**2
    difference = second.mean(axis=0) - first.mean(axis=0)
    way = np.linalg.solve(spread, difference)
    power = max(float(way @ difference), 1e-12)
    out: Floats = (light - first.mean(axis=0)) @ way / power
    return out, float(np.sqrt(power))
