"""A camera of a training picture: where each place of the cloth falls in the square picture.

A pinhole with Brown's first radial term looks at the floor from a drawn distance, tilt, azimuth
and roll; focal length and principal point are set last, so that the window of the picture holds
what the framing asks for.

Frames: *inches* on the floor, x right, y down, and height above it towards the camera; *picture*
positions in pixels with the upper-left corner of the picture at (0, 0), so that the first pixel's
centre is (0.5, 0.5).

References
----------
Brown, Decentering distortion of lenses, Photogrammetric Engineering 32(3), 1966.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.training.view_bumps import Bumps, lifted

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CameraSettings:
    """How widely cameras are drawn.

    Attributes
    ----------
    nearest, furthest : float
        Distance from the cloth in units of the top's longer side: what phones need for a whole
        top, and a zoom lens across a hall.
    steepest_deg : float
        Largest tilt; beyond it far patches shrink to nothing.
    lowest_slope : float
        Least downward part of a ray in the picture: keeps the horizon out.
    barrel, cushion : float
        Largest change of radius at the picture's corner by the lens, inwards and outwards.
    strongest_k1 : (float, float)
        Limits of Brown's k1 of phone and compact cameras.
    """

    nearest: float = 0.8
    furthest: float = 3.0
    steepest_deg: float = 45.0
    lowest_slope: float = 0.22
    barrel: float = 0.16
    cushion: float = 0.07
    strongest_k1: tuple[float, float] = (-0.25, 0.1)


SETTINGS = CameraSettings()


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Pinhole, one radial term, and the window of the picture.

    Attributes
    ----------
    place : (3,) float64
        Centre of the camera: inches on the floor and height.
    axes : (3, 3) float64
        Rows: right, down and forward of the camera, in the floor's frame.
    focal_px : float
        Pixels per unit ray.
    centre_px : (2,) float64
        Picture position of the optical axis.
    k1 : float
        Brown's first radial term on rays.
    reach : float
        Radius of ray beyond which the lens term grows no more, so that it stays one to one.
    """

    place: Array
    axes: Array
    focal_px: float
    centre_px: Array
    k1: float = 0.0
    reach: float = 1.0

    def px_from_space(self, points: Array) -> Array:
        """Return picture positions (N, 2) of `points` (N, 3): inches and height."""
        seen = (points - self.place) @ self.axes.T
        depth = np.maximum(seen[:, 2:], 0.1 * abs(self.place[2]))
        return self._bent(seen[:, :2] / depth) * self.focal_px + self.centre_px

    def _bent(self, rays: Array) -> Array:
        if self.k1 == 0.0:
            return rays
        square = np.minimum((rays**2).sum(axis=1), self.reach**2)
        bent: Array = rays * (1.0 + self.k1 * square)[:, None]
        return bent

    def rays_from_px(self, px: Array) -> Array:
        """Return the undistorted rays (N, 2) of picture positions (N, 2)."""
        bent = (px - self.centre_px) / self.focal_px
        if self.k1 == 0.0:
            return bent
        rays = bent
        for _ in range(12):
            square = np.minimum((rays**2).sum(axis=1), self.reach**2)
            rays = bent / (1.0 + self.k1 * square)[:, None]
        return rays

    def floor_from_px(self, px: Array) -> Array:
        """Return the inches (N, 2) where the rays of picture positions meet the flat floor."""
        rays = self.rays_from_px(px)
        ways = np.column_stack([rays, np.ones(len(rays))]) @ self.axes
        fall = np.minimum(ways[:, 2], -0.05)
        out: Array = self.place[:2] - ways[:, :2] * (self.place[2] / fall)[:, None]
        return out

    def px_from_cloth(self, xy: Array, bumps: Bumps | None) -> Array:
        """Return picture positions (N, 2) of places `xy` (N, 2) of the cloth, bumps included."""
        return self.px_from_space(lifted(xy, bumps))

    def cloth_from_px(self, px: Array, bumps: Bumps | None) -> Array:
        """Return the places (N, 2) of the cloth seen at picture positions (N, 2).

        Fixed-point iteration from the flat floor: the error seen on the floor is taken off again.
        It converges where bumps move no point by more than the distance to it grows, which the
        settings of the bumps see to.
        """
        flat = self.floor_from_px(px)
        if bumps is None:
            return flat
        xy = flat
        for _ in range(bumps.rounds):
            # Where the line of sight to the raised place meets the flat floor.
            raised = lifted(xy, bumps)
            ways = raised - self.place
            hit = (
                self.place[:2]
                - ways[:, :2]
                * (self.place[2] / np.minimum(ways[:, 2], -1e-3 * self.place[2]))[:, None]
            )
            xy = xy + (flat - hit)
        return xy

    def slope(self, side_px: int) -> float:
        """Return the least downward part of the rays at the corners of the picture."""
        corners = np.array([[0, 0], [side_px, 0], [side_px, side_px], [0, side_px]], float)
        rays = self.rays_from_px(corners)
        ways = np.column_stack([rays, np.ones(4)]) @ self.axes
        return float((-ways[:, 2] / np.linalg.norm(ways, axis=1)).min())

    def detail(self, xy: Array) -> float:
        """Return pixels per inch at the place `xy` (2,) of the flat floor, root of the area."""
        steps = np.array([[0.0, 0.0], [0.5, 0.0], [0.0, 0.5]]) + xy
        a, b, c = self.px_from_space(np.column_stack([steps, np.zeros(3)]))
        u, v = b - a, c - a
        return 2.0 * float(np.sqrt(abs(u[0] * v[1] - u[1] * v[0])))


def pinhole(target: Array, distance: float, tilt: float, azimuth: float, roll: float) -> Camera:
    """Return a camera of unit focal length that looks at `target` (2,) on the floor.

    Parameters
    ----------
    target : (2,) float64
        Inches.
    distance : float
        Inches from the camera to `target`.
    tilt, azimuth, roll : float
        Radians: off the vertical, which side the camera stands on, turn round its own axis.
    """
    ca, sa, ct, st = np.cos(azimuth), np.sin(azimuth), np.cos(tilt), np.sin(tilt)
    side = np.array([-sa, ca, 0.0])
    leaning = np.array([ca * ct, sa * ct, -st])
    right, down = ca * leaning - sa * side, sa * leaning + ca * side
    cr, sr = np.cos(roll), np.sin(roll)
    axes = np.array([cr * right + sr * down, cr * down - sr * right, [-ca * st, -sa * st, -ct]])
    place = np.array([target[0], target[1], 0.0]) - distance * axes[2]
    return Camera(place, axes, 1.0, np.zeros(2))


@dataclass(frozen=True, slots=True, eq=False)
class Framing:
    """What the picture shows.

    Attributes
    ----------
    kind : {"whole", "part", "close"}
        The whole top with a margin; a part of it; a few patches.
    fill : float
        Longer side of the top in units of the picture's side.
    aim : (2,) float64
        Place of the cloth, inches, that a part or close picture is centred on.
    """

    kind: str
    fill: float
    aim: Array


def draw_framing(
    rng: np.random.Generator,
    corners: Array,
    aim: Array,
    widths_in: tuple[float, float],
    side_px: int,
) -> Framing:
    """Draw a framing for a top.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    corners : (N, 2) float64
        Corners of patches, inches.
    aim : (2,) float64
        Place of the top, inches, that is about in the middle of a close picture.
    widths_in : (float, float)
        Widths, inches, of a small patch of the top, of which at least 8 px shall be seen, and of
        the patch at `aim`.
    side_px : int
        Side of the picture.
    """
    small, aimed = widths_in
    longer = float(np.ptp(corners, axis=0).max())
    least = 8.0 * longer / (small * side_px)
    chance = rng.random()
    if chance < 0.48 and least < 0.98:
        fill = float(1.0 - rng.uniform(0.02, 0.40) ** 1.2)
        return Framing("whole", max(fill, least), aim)
    if chance < 0.82:
        fill = float(np.exp(rng.uniform(np.log(1.02), np.log(2.6))))
        return Framing("part", max(fill, least * float(rng.uniform(1.0, 1.6))), aim)
    spacing = float(np.exp(rng.uniform(np.log(30.0), np.log(min(400.0, 0.6 * side_px)))))
    fill = max(spacing * longer / (aimed * side_px), 1.0, least)
    return Framing("close", min(fill, max(300.0 / 8.0 * least, 1.0)), aim)


def draw_camera(
    rng: np.random.Generator,
    corners: Array,
    framing: Framing,
    side_px: int,
    *,
    lens: bool = True,
    draped: bool = False,
) -> Camera:
    """Draw a camera that shows what `framing` asks for.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    corners : (N, 2) float64
        Corners of patches, inches.
    framing : Framing
        What to show.
    side_px : int
        Side of the picture.
    lens : bool
        False leaves radial distortion out.
    draped : bool
        The cloth hangs over an edge: the camera stays nearly above it, or folds hide cloth.
    """
    low, high = corners.min(axis=0), corners.max(axis=0)
    longer = float((high - low).max())
    distance = longer * float(
        np.exp(rng.uniform(np.log(SETTINGS.nearest), np.log(SETTINGS.furthest)))
    )
    style = rng.random()
    if style < 0.3:
        tilt_deg = abs(float(rng.normal(0.0, 3.0)))
    elif style < 0.85:
        tilt_deg = abs(float(rng.normal(0.0, 16.0)))
    else:
        tilt_deg = float(rng.uniform(15.0, SETTINGS.steepest_deg))
    tilt = np.radians(min(tilt_deg, 15.0 if draped else SETTINGS.steepest_deg))
    azimuth = np.pi / 2 + (rng.normal(0.0, 0.35) if rng.random() < 0.7 else rng.uniform(0, 6.283))
    turn = (0 if rng.random() < 0.6 else int(rng.integers(4))) * np.pi / 2
    roll = turn + np.radians(rng.normal(0.0, 2.0) if rng.random() < 0.75 else rng.normal(0, 8.0))
    target = (low + high) / 2 + rng.normal(0.0, 0.06, 2) * longer
    bend, place = float(rng.random()), rng.uniform(0.0, 1.0, 2)
    gauge = np.linspace(0.0, 1.0, 9)
    edge = np.concatenate([np.column_stack([gauge, gauge * 0 + k]) for k in (0.0, 1.0)])
    edge = low + np.concatenate([edge, edge[:, ::-1]]) * (high - low)
    for _ in range(8):
        camera = pinhole(target, distance, float(tilt), float(azimuth), float(roll))
        camera = _framed(camera, edge, framing, side_px, place)
        if lens and camera.slope(side_px) > SETTINGS.lowest_slope:
            camera = _framed(_lensed(camera, bend, side_px), edge, framing, side_px, place)
        if camera.slope(side_px) > SETTINGS.lowest_slope:
            break
        tilt *= 0.7
        distance *= 1.1
    return camera


def _framed(camera: Camera, edge: Array, framing: Framing, side_px: int, place: Array) -> Camera:
    """Return `camera` with focal length and principal point for the framing."""
    bare = replace(camera, focal_px=1.0, centre_px=np.zeros(2))
    seen = bare.px_from_space(np.column_stack([edge, np.zeros(len(edge))]))
    low, size = seen.min(axis=0), np.ptp(seen, axis=0)
    focal = framing.fill * side_px / float(size.max())
    if framing.kind != "close":
        # Less than nothing is free where the picture shows a part.
        free = side_px - focal * size
        share = 0.5 + (place - 0.5) * (0.7 if framing.kind == "whole" else 1.3)
        return replace(camera, focal_px=focal, centre_px=free * share - focal * low)
    aim = bare.px_from_space(np.array([[framing.aim[0], framing.aim[1], 0.0]]))[0]
    middle = side_px * (0.5 + (place - 0.5) * 0.5)
    return replace(camera, focal_px=focal, centre_px=middle - focal * aim)


def _lensed(camera: Camera, bend: float, side_px: int) -> Camera:
    """Return `camera` with a radial term that moves the picture's corners a bounded share."""
    corners = np.array([[0, 0], [side_px, 0], [side_px, side_px], [0, side_px]], float)
    reach = 1.1 * float(np.linalg.norm(camera.rays_from_px(corners), axis=1).max())
    if bend < 0.35:
        return replace(camera, k1=0.0, reach=reach)
    share = (bend - 0.35) / 0.65 * (SETTINGS.barrel + SETTINGS.cushion) - SETTINGS.barrel
    k1 = float(np.clip(share / reach**2, *SETTINGS.strongest_k1))
    return replace(camera, k1=k1, reach=reach)
