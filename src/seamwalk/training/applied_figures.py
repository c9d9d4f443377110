"""Figures sewn onto a pieced ground across its seams; what lies under them is cut away."""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from seamwalk.training.pieces import FRAME, Piece, Pieces, Points, chosen, of, together
from seamwalk.training.round_blocks import FIGURES, reach


@dataclass(frozen=True, slots=True)
class AppliedSettings:
    """How figures lie on a top.

    Attributes
    ----------
    most : int
        Most figures of one top.
    radius : tuple of float
        Least and most reach of a figure, shares of the median patch's longer side.
    least_in : float
        Least reach, inches: smaller ones are no patches.
    left_share : float
        A figure is left out where it would leave less than this share of its own area of a patch.
    corners : int
        Corners of a figure's outline.
    """

    most: int = 24
    radius: tuple[float, float] = (0.3, 1.4)
    least_in: float = 0.6
    left_share: float = 0.04
    corners: int = 40


SETTINGS = AppliedSettings()

FIGURE = FRAME + 400
"""First class of applied figures."""


def applied(
    pieces: Pieces, rng: np.random.Generator, settings: AppliedSettings = SETTINGS
) -> Pieces:
    """Return the pieces with figures of one kind on junctions of the ground.

    A figure within one patch would leave a ring, which no outline describes: there is none.
    """
    n = round(math.exp(rng.uniform(0, math.log(settings.most))))
    side = float(np.median((pieces.high - pieces.low).max(axis=1)))
    radius = max(settings.least_in, side * float(rng.uniform(*settings.radius)))
    kind = str(rng.choice(FIGURES))
    petals = int(rng.choice([4, 5, 6, 8]))
    t = np.arange(settings.corners) * 2 * np.pi / settings.corners
    curve = radius * reach(rng, kind, petals, t)
    loose = rng.random() < 0.6
    spots = pieces.points[rng.integers(0, len(pieces.points), n)]
    for k, spot in enumerate(spots):
        turn = float(rng.uniform(0, 2 * math.pi)) if loose else 0.0
        way = np.stack([np.cos(t + turn), np.sin(t + turn)], axis=1)
        pieces = _laid_on(pieces, spot + way * curve[:, None], FIGURE + k % 12, settings)
    return pieces


def _laid_on(pieces: Pieces, ring: Points, number: int, settings: AppliedSettings) -> Pieces:
    """Return the pieces with one figure on them, or as they are where it doesn't fit."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    if (low < pieces.points.min(axis=0)).any() or (high > pieces.points.max(axis=0)).any():
        return pieces
    figure = shapely.Polygon(ring)
    near = (pieces.low < high).all(axis=1) & (pieces.high > low).all(axis=1)
    least = settings.left_share * figure.area
    rest: list[Piece] = [(ring, number)]
    homes = [0]
    covered = 0.0
    for patch in np.flatnonzero(near):
        a = int(pieces.starts[patch])
        whole = shapely.Polygon(pieces.points[a : a + int(pieces.counts[patch])])
        left = whole - figure
        covered += whole.area - left.area
        for part in shapely.get_parts(left):
            if part.geom_type != "Polygon" or part.interiors or part.area < least:
                return pieces
            rest.append((shapely.get_coordinates(part)[:-1], int(pieces.classes[patch])))
            homes.append(int(pieces.homes[patch]))
    if abs(covered - figure.area) > 1e-6 * figure.area:
        return pieces
    new = of(rest)
    laid = Pieces(new.points, new.counts, new.classes, np.array(homes, dtype=np.int64))
    return together([chosen(pieces, ~near), laid]) if not near.all() else laid
