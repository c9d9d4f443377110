"""How much of the top lies right of the needle, under the arm of the machine.

Which side that is: cloth is fed away from her, so the line of stitches grows towards her.  She
sees the quilt from above, as it is drawn, y down.  Sewing with heading θ = 90° runs down the
page, towards her; her right, where the arm stands, is then (1, 0), and in general
(sin θ, −cos θ).
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.route import Network

Floats = NDArray[np.float64]


def top_outline(network: Network) -> Points:
    """Return the corners (V, 2) of the top: the hull of its outer edge, or of all its nodes.

    Raises
    ------
    ValueError
        If everything lies on one line.
    """
    edge = [p.curve.sampled() for p in network.pieces.values() if p.stroke.kind == "edge"]
    points = np.concatenate(edge) if edge else np.array(list(network.nodes.values()))
    hull = shapely.convex_hull(shapely.multipoints(points))
    if not isinstance(hull, shapely.Polygon):
        raise ValueError("the network does not spread over an area")
    out: Points = np.asarray(hull.exterior.coords)[:-1]
    return out


def share_right(outline: Points, at: Points, heading_rad: Floats) -> Floats:
    """Return the share of the top's area that lies right of the needle, (N,).

    Parameters
    ----------
    outline : (V, 2)
        Corners of the top in order round it.
    at : (N, 2)
        Where the needle is.
    heading_rad : (N,)
        Which way it sews.

    Notes
    -----
    Each side of the top is cut by the line of sewing; the area is half the sum of cross products
    of the parts at the right (the shoelace formula).  Seen from a point on that line, what closes
    the cut polygon lies on the line itself and adds nothing.
    """
    right = np.stack([np.sin(heading_rad), -np.cos(heading_rad)], axis=1)
    a = outline[None] - at[:, None]
    b = np.roll(a, -1, axis=1)
    from_line_a = np.einsum("nvk,nk->nv", a, right)
    from_line_b = np.roll(from_line_a, -1, axis=1)
    apart = from_line_a - from_line_b
    cut = from_line_a / np.where(apart == 0, 1.0, apart)
    start = np.where(from_line_a >= 0, 0.0, np.where(from_line_b > 0, cut, 1.0))
    end = np.where(from_line_b >= 0, 1.0, np.where(from_line_a > 0, cut, start))
    p, q = a + (b - a) * start[..., None], a + (b - a) * end[..., None]
    x, y = outline.T
    whole = abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    cross = p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0]
    out: Floats = np.abs(np.sum(cross, axis=1)) / whole
    return out
