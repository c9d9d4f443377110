"""How wide the gaps between the stitching are, compared with what the batting stands.

Makers of batting state the widest distance between lines of stitching.  Lines that far apart leave
room for circles of that diameter, so that is what a circle between lines is compared with.  The
binding's seam holds as well as a line of stitching does.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from seamwalk.geometry.curve import Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.model.gaps import EmptyCircle, GapPlace, GapReport
from seamwalk.model.route import Route
from seamwalk.model.sizes import Sizes
from seamwalk.motifs.area import Area
from seamwalk.motifs.empty_circles import empty_circles

HAIR_IN = 1 / 16
"""A gap that is wider by no more than this is not too wide, inches: what hands piece, mark and
stitch by."""


def sewn_curves(route: Route) -> tuple[Curve, ...]:
    """Return every piece that a route sews, in the ditch and in the margin too, each once."""
    sewn = dict.fromkeys(leg.piece for thread in route.threads for leg in thread.legs)
    return tuple(route.network.pieces[p].curve for p in sewn)


def gap_report(
    curves: Iterable[Curve],
    area: Area,
    sizes: Sizes,
    choices: Sequence[MotifChoice],
    limit_in: float,
) -> GapReport:
    """Return the largest empty circle, and where circles are wider than the batting stands.

    Parameters
    ----------
    curves : iterable of Curve
        All stitching.
    sizes : Sizes
        Names the classes of the patches.
    choices : sequence of MotifChoice
        Which motif each patch has.
    limit_in : float
        Widest gap that the batting stands, inches across.
    """
    circles = largest_of_patches(curves, area, (limit_in + HAIR_IN) / 2)
    names = {s.patch: s.class_name for s in sizes.patches}
    motifs = {p: c.motif for c in choices for p in c.patches}
    alike: dict[tuple[str, str], list[EmptyCircle]] = {}
    for circle in circles:
        if circle.across_in > limit_in + HAIR_IN:
            key = (names.get(circle.patch, ""), motifs.get(circle.patch, "none"))
            alike.setdefault(key, []).append(circle)
    places = [GapPlace(tuple(some), *key) for key, some in alike.items()]
    return GapReport(limit_in, circles[0], tuple(places))


def largest_of_patches(
    curves: Iterable[Curve], area: Area, from_in: float
) -> tuple[EmptyCircle, ...]:
    """Return the largest empty circle of each patch that has one, the largest first.

    Parameters
    ----------
    from_in : float
        Circles of this radius or more are wanted, inches; if there is none, the largest is.

    Notes
    -----
    A circle whose centre lies in a larger one is left out: it is the same gap.
    """
    centres, radii = empty_circles(curves, area.binding, from_in)
    patches = list(area.outlines)
    tree = shapely.STRtree([area.outlines[p].polygon for p in patches])
    found: dict[int, EmptyCircle] = {}
    nearest = np.atleast_1d(tree.nearest(shapely.points(centres))).tolist()
    for (x, y), radius, k in zip(centres.tolist(), radii.tolist(), nearest, strict=True):
        found.setdefault(k, EmptyCircle((x, y), radius, patches[k]))
    return tuple(found.values())
