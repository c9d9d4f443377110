"""What each photo pixel sees: the mean of samples of cloth and floor, in linear light.

The map from picture to plane is worked out exactly on a coarse grid and joined straight between.
Tiles of the picture take as many samples as their scale asks for, so that no print is skipped
where the cloth is far away or seen at a slant.
"""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.scenes.bumps import Bumps
from seamwalk.scenes.camera import Camera
from seamwalk.scenes.cloth import Cloth
from seamwalk.scenes.floors import PX_PER_IN

GRID_PX = 4
"""The map from picture to cloth is worked out this often and joined straight between: 0.001 px
off at most."""

TILE_PX = 256
"""Pictures are sampled in tiles of this side, each with its own number of samples."""

SAMPLE_STEP = 1.0
"""Samples lie at most this many cloth pixels apart, so that no print is skipped."""


def photographed(
    cloth: Cloth,
    floor: NDArray[np.float32],
    camera: Camera,
    lift: Bumps,
    size: tuple[int, int],
    *,
    floor_deg: float,
) -> NDArray[np.float32]:
    """Return the light (H, W, 3) float32 that reaches the sensor from floor and cloth.

    Parameters
    ----------
    cloth : Cloth
        The painted top.
    floor : (K, K, 3) float32
        Repeating floor texture.
    camera : Camera
        Where from.
    lift : Bumps
        Height of the cloth.
    size : (int, int)
        Width and height of the picture, pixels.
    floor_deg : float
        Turn of the floor's lines, x towards y.
    """
    width, height = size
    nx, ny = -(-width // GRID_PX) + 2, -(-height // GRID_PX) + 2
    gx = (np.arange(nx) - 1 + 0.5) * GRID_PX - 0.5
    gy = (np.arange(ny) - 1 + 0.5) * GRID_PX - 0.5
    px = np.column_stack([np.tile(gx, ny), np.repeat(gy, nx)])
    rays = camera.rays(px)
    ground = np.nan_to_num(camera.plane_from_ray(rays), nan=1e3)
    ground = np.clip(ground, -1e3, 1e3)
    on_cloth = ground
    if lift.height > 0:
        for _ in range(8):
            on_cloth = camera.plane_from_ray(rays, lift.height_in(on_cloth))
            on_cloth = np.clip(np.nan_to_num(on_cloth, nan=1e3), -1e3, 1e3)
    cloth_px = (on_cloth - cloth.origin_in) * cloth.px_per_in - 0.5
    c, s = math.cos(math.radians(floor_deg)), math.sin(math.radians(floor_deg))
    floor_px = ground @ np.array([[c, -s], [s, c]]) * PX_PER_IN
    cloth_map = cloth_px.reshape(ny, nx, 2).astype(np.float32)
    floor_map = floor_px.reshape(ny, nx, 2).astype(np.float32)
    levels = [floor]
    while len(levels) < 6:
        half = cv2.resize(levels[-1], None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        levels.append(np.asarray(half, dtype=np.float32))
    shade_rgba = _shadow(cloth)
    out = np.empty((height, width, 3), np.float32)
    for r0 in range(0, height, TILE_PX):
        for c0 in range(0, width, TILE_PX):
            r1, c1 = min(r0 + TILE_PX, height), min(c0 + TILE_PX, width)
            window = (r0, r1, c0, c1)
            out[r0:r1, c0:c1] = _tile(window, cloth.rgba, shade_rgba, levels, cloth_map, floor_map)
    return out


def _shadow(cloth: Cloth) -> NDArray[np.float32]:
    """Return the soft shadow that the top's edge throws on the floor, at a quarter of its size."""
    small = cv2.resize(cloth.rgba[..., 3], None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    reach = 0.12 * cloth.px_per_in / 4
    return np.asarray(cv2.GaussianBlur(small, (0, 0), max(reach, 0.6)), dtype=np.float32)


def _tile(
    window: tuple[int, int, int, int],
    rgba: NDArray[np.float32],
    shadow: NDArray[np.float32],
    levels: list[NDArray[np.float32]],
    cloth_map: NDArray[np.float32],
    floor_map: NDArray[np.float32],
) -> NDArray[np.float32]:
    """Return one tile of the picture."""
    r0, r1, c0, c1 = window
    g = GRID_PX
    rows = slice(r0 // g, -(-r1 // g) + 2)
    cols = slice(c0 // g, -(-c1 // g) + 2)
    on_cloth, on_floor = cloth_map[rows, cols], floor_map[rows, cols]
    low, high = on_cloth.min(axis=(0, 1)), on_cloth.max(axis=(0, 1))
    shows = bool((high > 0).all() and (low < np.array(rgba.shape[1::-1])).all())
    step = on_cloth if shows else on_floor
    across = float(np.hypot(*np.moveaxis(np.diff(step, axis=1), 2, 0)).max()) / g
    down = float(np.hypot(*np.moveaxis(np.diff(step, axis=0), 2, 0)).max()) / g
    most = 8 if shows else 3
    sx = int(np.clip(np.ceil(across / SAMPLE_STEP), 1, most))
    sy = int(np.clip(np.ceil(down / SAMPLE_STEP), 1, most))

    def finer(coarse: NDArray[np.float32]) -> NDArray[np.float32]:
        h, w = coarse.shape[:2]
        big = cv2.resize(coarse, (w * g * sx, h * g * sy), interpolation=cv2.INTER_LINEAR)
        # One grid cell was added all round so that the straight joins reach the rim.
        top, left = g * sy, g * sx
        inner = big[top : top + (r1 - r0) * sy, left : left + (c1 - c0) * sx]
        return np.asarray(inner, dtype=np.float32)

    f = finer(on_floor)
    gap = float(np.hypot(*np.moveaxis(np.diff(on_floor, axis=0), 2, 0)).mean()) / g / sy
    level = int(np.clip(np.round(np.log2(max(gap, 1e-6))), 0, len(levels) - 1))
    f = (f + 0.5) / 2**level - 0.5
    texture = levels[level]
    f = np.mod(f, np.float32(texture.shape[0]))
    light = cv2.remap(texture, f[..., 0], f[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    if shows:
        m = finer(on_cloth)
        seen = cv2.remap(
            rgba, m[..., 0], m[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
        )
        q = (m + 0.5) / 4 - 0.5
        dim = cv2.remap(
            shadow, q[..., 0], q[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
        )
        under = (1 - 0.6 * dim) * (1 - seen[..., 3])
        cv2.multiply(light, cv2.merge([under] * 3), dst=light)
        light = cv2.add(light, np.ascontiguousarray(seen[..., :3]))
    if sx > 1 or sy > 1:
        light = cv2.resize(light, (c1 - c0, r1 - r0), interpolation=cv2.INTER_AREA)
    return np.asarray(light, dtype=np.float32)
