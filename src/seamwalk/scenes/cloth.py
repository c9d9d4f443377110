"""The top painted flat, at a resolution finer than the photo's.

Every patch is laid with the share of each pixel that it covers, so that seams lie where the map
says to a small part of a pixel; relief is light and shade only, and never moves a seam.
"""

import itertools
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.top import Patch, Top
from seamwalk.scenes.bumps import Bumps
from seamwalk.scenes.fabrics import Fabric, Swatch, swatch

CORNER_DEG = 15.0
"""A ring turns a corner where it bends by more than this: piecing error bends sides by 2° at
most, designs turn by 45° at least."""

MARGIN_IN = 1.0
"""Empty cloth canvas round the top, inches."""


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """The painted top.

    Attributes
    ----------
    rgba : (H, W, 4) float32
        Linear light times coverage, and coverage.
    px_per_in : float
        Resolution; pixel [row, col] has its centre at origin + (col + 0.5, row + 0.5)/px_per_in.
    origin_in : (float, float)
        Top frame, inches.
    """

    rgba: NDArray[np.float32]
    px_per_in: float
    origin_in: tuple[float, float]


def paint(
    top: Top,
    fabrics: dict[str, Fabric],
    px_per_in: float,
    rng: np.random.Generator,
    *,
    relief: float = 0.0,
    light_deg: float = 215.0,
    lift: Bumps | None = None,
    turned_prints: bool = True,
) -> Cloth:
    """Return the top painted with its fabrics.

    Parameters
    ----------
    fabrics : dict
        Fabric by the name that patches carry.
    px_per_in : float
        Resolution of the canvas.
    relief : float
        0 none, 1 as pressed cotton lit by a window.
    light_deg : float
        Direction that the light comes from, x towards y.
    lift : Bumps or None
        Height of the cloth, for its light and shade.
    turned_prints : bool
        Lay each patch's print at its own place and quarter turn, as cut cloth lies.
    """
    x0, y0, x1, y1 = top.outline.bounds
    origin = (x0 - MARGIN_IN, y0 - MARGIN_IN)
    width = int(np.ceil((x1 - x0 + 2 * MARGIN_IN) * px_per_in))
    height = int(np.ceil((y1 - y0 + 2 * MARGIN_IN) * px_per_in))
    rgba = np.zeros((height, width, 4), np.float32)
    swatches = {
        name: np.asarray(cv2.cvtColor(swatch(f, px_per_in), cv2.COLOR_RGB2RGBA), dtype=np.float32)
        for name, f in fabrics.items()
    }
    for patch in top.patches:
        _lay(rgba, patch, swatches[patch.fabric], px_per_in, origin, rng, turned_prints)
    _evened(rgba)
    if relief > 0:
        from seamwalk.scenes.relief import shade

        lightness = {p.id: sum(fabrics[p.fabric].colours[0]) for p in top.patches}
        light = shade(
            top, (height, width), px_per_in, origin, rng, relief, light_deg, lift, lightness
        )
        cv2.multiply(rgba, cv2.merge([light, light, light, np.ones_like(light)]), dst=rgba)
    return Cloth(rgba, px_per_in, origin)


def _lay(
    rgba: NDArray[np.float32],
    patch: Patch,
    cloth: Swatch,
    px_per_in: float,
    origin: tuple[float, float],
    rng: np.random.Generator,
    turned_prints: bool,
) -> None:
    """Add one patch to the canvas, weighted by its share of each pixel."""
    ring = (np.array(patch.polygon.exterior.coords[:-1]) - origin) * px_per_in - 0.5
    low = np.maximum(np.floor(ring.min(axis=0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(ring.max(axis=0)).astype(int) + 2, rgba.shape[1::-1])
    share = coverage(ring - low, (int(high[1] - low[1]), int(high[0] - low[0])))
    angle = float(rng.normal(0, np.radians(1.0)))
    if turned_prints:
        angle += float(rng.integers(4)) * np.pi / 2
    shift = rng.uniform(0, 1, 2) * cloth.shape[1::-1]
    if cloth.shape[0] <= 8:
        colour = np.empty((*share.shape, 4), np.float32)
        colour[:] = cloth[0, 0]
    else:
        c, s = np.cos(angle), np.sin(angle)
        back = np.array([[c, -s, shift[0]], [s, c, shift[1]]])
        colour = cv2.warpAffine(
            cloth,
            back,
            share.shape[::-1],
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_WRAP,
        )
    part = rgba[low[1] : high[1], low[0] : high[0]]
    cv2.multiply(colour, cv2.merge([share] * 4), dst=colour)
    cv2.add(part, colour, dst=part)


def coverage(ring: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.float32]:
    """Return the share of each pixel that a polygon covers, (H, W), pixel centres at integers.

    The polygon's corners must be convex; between corners its sides may bend a little.  Each side
    gives a ramp one pixel wide, and ramps multiply: exact along sides, close at right corners.

    Parameters
    ----------
    ring : (N, 2) float64
        x, y in pixels, x turned towards y.
    """
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.arctan2(cross, (before * after).sum(axis=1)))
    corners = np.flatnonzero(np.abs(turn) > CORNER_DEG)
    if (turn[corners] < 0).any():
        raise ValueError("a patch turns inwards at a corner")
    rows = np.arange(shape[0], dtype=np.float32)[:, None]
    cols = np.arange(shape[1], dtype=np.float32)[None, :]
    share = np.ones(shape, np.float32)
    for a, b in itertools.pairwise([*corners, corners[0] + len(ring)]):
        side = ring[np.arange(a, b + 1) % len(ring)]
        way = side[-1] - side[0]
        n = float(np.hypot(*way))
        ux, uy = way / n
        # Measured along the axis that the side crosses more squarely, a ramp one pixel wide adds
        # up to the exact position in every row or column, at any angle.
        steep = max(abs(ux), abs(uy))
        inside = np.float32(ux) * (rows - np.float32(side[0, 1])) - np.float32(uy) * (
            cols - np.float32(side[0, 0])
        )
        if len(side) > 2:
            along = np.float32(ux) * (cols - np.float32(side[0, 0])) + np.float32(uy) * (
                rows - np.float32(side[0, 1])
            )
            rel = side - side[0]
            off = rel[:, 1] * ux - rel[:, 0] * uy
            at = rel @ way / n
            inside -= np.interp(along, at, off).astype(np.float32)
            # Across the curve's own direction, not the chord's.
            slope = np.gradient(off, at)
            lean = np.interp(along, at, slope).astype(np.float32)
            steep = np.maximum(np.abs(ux - lean * uy), np.abs(uy + lean * ux))
        share *= np.clip(np.float32(0.5) + inside / np.asarray(steep, np.float32), 0, 1)
    return share


def _evened(rgba: NDArray[np.float32], rows: int = 256) -> None:
    """Make coverage 1 inside the top, where ramps at junctions do not add up to it exactly."""
    solid = cv2.erode((rgba[..., 3] > 0.02).astype(np.uint8), np.ones((5, 5), np.uint8))
    for r in range(0, rgba.shape[0], rows):
        part = rgba[r : r + rows]
        off = np.abs(part[..., 3] - 1) > 1e-5
        fix = off & ((solid[r : r + rows] > 0) | (part[..., 3] > 1))
        part[fix] /= np.maximum(part[fix, 3:], 0.02)
