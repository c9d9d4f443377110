"""A camera of the scenes' own: pinhole, pose, Brown's radial distortion.

Written apart from the camera that measures, so that one mistake cannot hide in both.  World frame:
x and y are the top frame, inches; z points into the floor, so that something lifted above the
cloth has negative z.  Camera frame: x right, y down, z forward.

References
----------
Brown, Decentering distortion of lenses, Photogrammetric Engineering 32(3), 1966.  Focal length as
35 mm-equivalent is taken by the diagonal, 43.27 mm, as in CIPA DCG-001 (from memory).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]

FILM_DIAGONAL_MM = math.hypot(36.0, 24.0)
"""Diagonal of the 35 mm film frame, 36 × 24 mm."""


def focal_px(focal_mm_equiv: float, width_px: int, height_px: int) -> float:
    """Return the focal length in pixels of a 35 mm-equivalent focal length."""
    return focal_mm_equiv / FILM_DIAGONAL_MM * math.hypot(width_px, height_px)


LENS_TABLE = 1 << 14
"""Entries of the table that the lens is inverted with."""


SETTLED = 1e-4
"""A camera is framed when size and place are right to this share of the picture."""


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A camera in its place.

    Attributes
    ----------
    focal_px : float
        Focal length, pixels.
    centre_px : (float, float)
        Principal point; the first pixel's centre is 0, 0.
    radial : (float, float, float)
        k1, k2, k3.
    rotation : (3, 3) float64
        Camera from world.
    position_in : (3,) float64
        Where the camera stands, world frame, inches; z negative above the floor.
    """

    focal_px: float
    centre_px: tuple[float, float]
    radial: tuple[float, float, float]
    rotation: NDArray[np.float64]
    position_in: NDArray[np.float64]

    def px_from_world(self, points_in: ArrayLike) -> Points:
        """Return pixels (N, 2) of world points (N, 3), inches.

        Raises
        ------
        ValueError
            If a point lies behind the camera.
        """
        cam = (np.asarray(points_in, dtype=np.float64) - self.position_in) @ self.rotation.T
        if (cam[:, 2] <= 0).any():
            raise ValueError("a point lies behind the camera")
        ray = cam[:, :2] / cam[:, 2:]
        r2 = (ray**2).sum(axis=1, keepdims=True)
        k1, k2, k3 = self.radial
        bent = ray * (1 + k1 * r2 + k2 * r2**2 + k3 * r2**3)
        out: Points = bent * self.focal_px + np.asarray(self.centre_px)
        return out

    def px_from_top(self, points_in: ArrayLike, above_in: ArrayLike = 0.0) -> Points:
        """Return pixels (N, 2) of points (N, 2) that lie `above_in` over the plane of the top."""
        xy = np.asarray(points_in, dtype=np.float64).reshape(-1, 2)
        z = np.broadcast_to(-np.asarray(above_in, dtype=np.float64), len(xy))
        return self.px_from_world(np.column_stack([xy, z]))

    def top_from_px(self, pixels: ArrayLike, above_in: ArrayLike = 0.0) -> Points:
        """Return where the pixels (N, 2) lie on the plane `above_in` over the top, (N, 2).

        Pixels that look past the horizon come back as NaN.
        """
        return self.plane_from_ray(self.rays(pixels), above_in)

    def rays(self, pixels: ArrayLike) -> Points:
        """Return directions (N, 3), world frame, in which the pixels (N, 2) look."""
        bent = (np.asarray(pixels, dtype=np.float64) - self.centre_px) / self.focal_px
        radius_bent = np.hypot(bent[:, 0], bent[:, 1])
        radius = _undistorted(radius_bent, self.radial)
        scale = np.where(radius_bent > 1e-12, radius / np.maximum(radius_bent, 1e-12), 1.0)
        cam = np.column_stack([bent * scale[:, None], np.ones(len(bent))])
        return cam @ self.rotation

    def plane_from_ray(self, rays: Points, above_in: ArrayLike = 0.0) -> Points:
        """Return where the rays (N, 3) meet the plane(s) `above_in` over the top, (N, 2)."""
        down = rays[:, 2]
        far = (-np.asarray(above_in, dtype=np.float64) - self.position_in[2]) / np.where(
            down > 1e-6, down, np.nan
        )
        out: Points = self.position_in[:2] + rays[:, :2] * far[:, None]
        return out

    def px_per_in(self, points_in: ArrayLike) -> NDArray[np.float64]:
        """Return the greater and the lesser local scale, pixels per inch, (N, 2)."""
        p, h = np.asarray(points_in, dtype=np.float64).reshape(-1, 2), 0.05
        dx = (self.px_from_top(p + [h, 0]) - self.px_from_top(p - [h, 0])) / (2 * h)
        dy = (self.px_from_top(p + [0, h]) - self.px_from_top(p - [0, h])) / (2 * h)
        out: NDArray[np.float64] = np.linalg.svd(np.stack([dx, dy], axis=2))[1]
        return out


def looking(tilt_deg: float, azimuth_deg: float, roll_deg: float) -> NDArray[np.float64]:
    """Return the rotation (3, 3), camera from world, of a camera leaning over the floor.

    Parameters
    ----------
    tilt_deg : float
        0 looks straight down.
    azimuth_deg : float
        Direction from the top's middle to the photographer, x towards y: 90 stands below the
        bottom edge.
    roll_deg : float
        Turn of the camera about the way it looks.
    """
    t, a, r = np.radians([tilt_deg, azimuth_deg, roll_deg])
    # Turn the straight-down camera about the level axis square to the azimuth.
    axis = np.array([-np.sin(a), np.cos(a), 0.0])
    lean = _rotation(axis, -t)
    roll = _rotation(np.array([0.0, 0.0, 1.0]), r)
    out: NDArray[np.float64] = roll.T @ lean.T
    return out


def framed(
    must_show_in: Points,
    *,
    size_px: tuple[int, int],
    focal: float,
    radial: tuple[float, float, float],
    rotation: NDArray[np.float64],
    margin: float,
    centre_px: tuple[float, float] | None = None,
) -> Camera:
    """Return the nearest camera of that rotation that shows all points with a margin round them.

    Parameters
    ----------
    must_show_in : (N, 2) float64
        Points of the top frame that must lie in the picture.
    margin : float
        Share of the picture left free on each side.

    Notes
    -----
    Alternates centring and scaling; the picture moves nearly in proportion to both, so a few
    dozen rounds settle to well under a pixel.
    """
    width, height = size_px
    centre = centre_px or ((width - 1) / 2, (height - 1) / 2)
    forward = rotation[2]
    target = must_show_in.mean(axis=0)
    far = 4.0 * float(np.ptp(must_show_in, axis=0).max())
    camera = Camera(focal, centre, radial, rotation, np.zeros(3))
    for _ in range(80):
        position = np.array([target[0], target[1], 0.0]) - far * forward
        camera = Camera(focal, centre, radial, rotation, position)
        px = camera.px_from_top(must_show_in)
        low, high = px.min(axis=0), px.max(axis=0)
        middle = (low + high) / 2
        aim = np.array([(width - 1) / 2, (height - 1) / 2])
        here = camera.top_from_px(np.array([middle, aim]))
        target = target + 0.7 * (here[0] - here[1])
        fill = float(((high - low) / (np.array([width, height]) * (1 - 2 * margin))).max())
        far *= 1 + 0.7 * (fill - 1)
        if abs(fill - 1) < SETTLED and np.hypot(*(middle - aim)) < SETTLED * width:
            break
    return camera


def _rotation(axis: NDArray[np.float64], angle: float) -> NDArray[np.float64]:
    """Return the matrix that turns vectors about a unit axis (Rodrigues' formula)."""
    x, y, z = axis
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    out: NDArray[np.float64] = np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * k @ k
    return out


def _undistorted(
    bent: NDArray[np.float64], radial: tuple[float, float, float]
) -> NDArray[np.float64]:
    """Return the radii that the lens bends to `bent`, read backwards from a table.

    The table is so fine that straight joins in it are exact to 1e-8.  Beyond the radius where a
    lens model folds back, the fold's own radius comes back.
    """
    if radial == (0.0, 0.0, 0.0):
        return bent
    k1, k2, k3 = radial
    r = np.linspace(0.0, 2.0 * float(bent.max(initial=0.0)) + 1e-9, LENS_TABLE)
    r2 = r * r
    forward = r * (1 + r2 * (k1 + r2 * (k2 + r2 * k3)))
    falling = np.flatnonzero(np.diff(forward) <= 0)
    end = int(falling[0]) + 1 if len(falling) else LENS_TABLE
    return np.interp(bent, forward[:end], r[:end])
