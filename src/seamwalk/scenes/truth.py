"""What a scene really shows: sizes in inches, places in pixels."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.arc_fit import arc_over
from seamwalk.geometry.polyline import corners, resample
from seamwalk.model.top import PatchId, Top
from seamwalk.scenes.bumps import Bumps
from seamwalk.scenes.camera import Camera

Points = NDArray[np.float64]

OUTLINE_STEP_IN = 2.0
"""Outlines in the truth file have a point at least this often, inches, so that they follow lens
and bumps."""


@dataclass(frozen=True, slots=True, eq=False)
class CardTruth:
    """One card as it lies: outer corners of its dark frame, own upper left first.

    Attributes
    ----------
    corners_in, corners_px : (4, 2) float64
        Top frame, inches; pixels.
    """

    id: int | None
    side_in: float
    above_in: float
    corners_in: Points
    corners_px: Points


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """Everything that is known of a rendered scene.

    Lengths are those of the top's plan, as it lies flat; bumps lift the cloth and move its
    picture, not its plan.

    Attributes
    ----------
    top : Top
        In its own frame, inches; ``fabric`` names the fabrics.
    camera : Camera
        Where it was seen from.
    bumps : Bumps
        Height of the cloth over its plane.
    cards : tuple of CardTruth
        Cards in the scene.
    """

    top: Top
    camera: Camera
    bumps: Bumps
    cards: tuple[CardTruth, ...]

    def px_from_top(self, points_in: ArrayLike) -> Points:
        """Return the pixels (N, 2) at which points (N, 2) of the cloth are drawn."""
        p = np.asarray(points_in, dtype=np.float64).reshape(-1, 2)
        return self.camera.px_from_top(p, self.bumps.height_in(p))

    @property
    def corners_in(self) -> Points:
        """Return the top's corners (4, 2): upper left, upper right, lower right, lower left."""
        ring = np.array(self.top.outline.exterior.coords[:-1])
        return top_corners(ring)

    @property
    def edges_in(self) -> tuple[float, float, float, float]:
        """Return the outer edges, corner to corner: top, right, bottom, left."""
        c = self.corners_in
        top, right, bottom, left = (math.dist(c[k], c[(k + 1) % 4]) for k in range(4))
        return top, right, bottom, left

    @property
    def width_in(self) -> float:
        """Width through the middle: from the middle of the left edge to that of the right."""
        a, b, c, d = self.corners_in
        return math.dist((a + d) / 2, (b + c) / 2)

    @property
    def height_in(self) -> float:
        """Height through the middle."""
        a, b, c, d = self.corners_in
        return math.dist((a + b) / 2, (c + d) / 2)

    @property
    def diagonals_in(self) -> tuple[float, float]:
        """Return upper left to lower right, upper right to lower left."""
        a, b, c, d = self.corners_in
        return math.dist(a, c), math.dist(b, d)

    def patch_corners_in(self, patch: PatchId) -> Points:
        """Return the corners (K, 2) where a patch's outline turns."""
        polygon = next(p.polygon for p in self.top.patches if p.id == patch)
        ring = np.array(polygon.exterior.coords[:-1])
        return ring[corners(ring)]

    def sides_in(self, patch: PatchId) -> tuple[float, ...]:
        """Return a patch's sides from corner to corner, in the outline's order."""
        c = self.patch_corners_in(patch)
        return tuple(math.dist(c[k], c[(k + 1) % len(c)]) for k in range(len(c)))

    def as_json(self, settings: dict[str, Any]) -> dict[str, Any]:
        """Return the truth as plain data: what a ``.truth.json`` file holds."""
        patches = []
        for p in self.top.patches:
            ring = _dense(np.array(p.polygon.exterior.coords))
            patches.append(
                {
                    "id": int(p.id),
                    "outline_px": _rounded(self.px_from_top(ring), 3),
                    "fabric": p.fabric,
                    "outline": _rounded(ring, 5),
                    "sides": [round(s, 5) for s in self.sides_in(p.id)],
                }
            )
        at = np.array([j.xy for j in self.top.junctions])
        camera = self.camera
        arcs = [
            (s, arc_over(s.points[0], s.points[-1], s.sweep_rad))
            for s in self.top.seams
            if s.sweep_rad
        ]
        return {
            "units": "in",
            "patches": patches,
            "junctions": _rounded(at, 5),
            "junctions_px": _rounded(self.px_from_top(at), 3),
            "arcs": [
                {
                    "points_px": _rounded(self.px_from_top(seam.points), 3),
                    "radius": round(arc.radius, 5),
                    "along": round(arc.length, 5),
                }
                for seam, arc in arcs
            ],
            "top_corners_px": _rounded(self.px_from_top(self.corners_in), 3),
            "top_corners": _rounded(self.corners_in, 5),
            "size_in": [round(self.width_in, 5), round(self.height_in, 5)],
            "edges_in": [round(v, 5) for v in self.edges_in],
            "diagonals_in": [round(v, 5) for v in self.diagonals_in],
            "camera": {
                "focal_px": camera.focal_px,
                "centre_px": list(camera.centre_px),
                "radial": list(camera.radial),
                "rotation": camera.rotation.tolist(),
                "position_in": camera.position_in.tolist(),
            },
            "cards": [
                {
                    "id": c.id,
                    "side_in": c.side_in,
                    "above_in": c.above_in,
                    "corners_px": _rounded(c.corners_px, 4),
                    "corners": _rounded(c.corners_in, 5),
                }
                for c in self.cards
            ],
            "settings": settings,
        }


def top_corners(ring: Points) -> Points:
    """Return the four corners of a top's outline: upper left, upper right, lower right, lower
    left.
    """
    turns = ring[corners(ring, corner_deg=45.0)]
    if len(turns) != 4:
        raise ValueError("the top's outline does not have four corners")
    start = int(np.argmin(turns.sum(axis=1)))
    return np.roll(turns, -start, axis=0)


def _dense(ring: Points) -> Points:
    """Return an open ring with a point every `OUTLINE_STEP_IN`, all its own points kept."""
    parts = [resample(ring[k : k + 2], OUTLINE_STEP_IN)[:-1] for k in range(len(ring) - 1)]
    return np.concatenate(parts)


def _rounded(points: Points, digits: int) -> list[list[float]]:
    return [[round(float(v), digits) for v in p] for p in points]
