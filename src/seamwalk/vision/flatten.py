"""The photo resampled straight down on the cloth.

Where the flat picture has fewer pixels than the photo, every one of its pixels is the mean light
of several samples spread evenly over it, so that fine prints do not turn into moiré and edges do
not move.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.picture import FlatPicture, Photo, Rectification
from seamwalk.vision.linear_light import Rgb, linear_from_srgb, srgb_from_linear

NODE = 8
"""Samples between the places whose pixels are computed; those between lie on straight lines.

Over eight samples of about a pixel each the picture of a plane through a phone's lens bends by
less than 0.01 pixels, at 45 degrees too."""


@dataclass(frozen=True, slots=True)
class FlattenSettings:
    """Limits of resampling.

    Attributes
    ----------
    most_samples : int
        Samples along each side of a flat pixel, at most.
    strip_mp : float
        Samples worked on at a time, millions: bounds the memory.
    largest_mp : float
        Larger flat pictures are refused, million pixels: a programming error, not a top.
    """

    most_samples: int = 6
    strip_mp: float = 3.0
    largest_mp: float = 120.0


def flatten(
    photo: Photo,
    rectification: Rectification,
    extent_in: tuple[float, float, float, float],
    px_per_in: float,
    *,
    settings: FlattenSettings | None = None,
) -> FlatPicture:
    """Return the part `extent_in` of the cloth, seen straight down.

    Parameters
    ----------
    photo : Photo
        Upright.
    rectification : Rectification
        Its camera.
    extent_in : (float, float, float, float)
        x0, y0, x1, y1 in the rectification's frame, inches.
    px_per_in : float
        Resolution wanted.
    settings : FlattenSettings, optional
        Limits.

    Raises
    ------
    ValueError
        If the extent is empty or the picture would be unreasonably large.
    """
    s = settings or FlattenSettings()
    x0, y0, x1, y1 = extent_in
    width, height = round((x1 - x0) * px_per_in), round((y1 - y0) * px_per_in)
    if width < 1 or height < 1 or width * height > s.largest_mp * 1e6:
        raise ValueError(f"a flat picture of {width} × {height} pixels cannot be made")
    samples = _samples(rectification, extent_in, px_per_in, s)
    rgb = np.zeros((height, width, 3), dtype=np.uint8)
    seen = np.zeros((height, width), dtype=np.bool_)
    rows = max(1, int(s.strip_mp * 1e6 / (width * samples**2)))
    for top in range(0, height, rows):
        bottom = min(height, top + rows)
        rgb[top:bottom], seen[top:bottom] = _strip(
            photo, rectification, (x0, y0), px_per_in, (width, top, bottom), samples
        )
    rgb.setflags(write=False)
    seen.setflags(write=False)
    return FlatPicture(rgb, seen, px_per_in, (x0, y0), rectification)


def _samples(
    rectification: Rectification,
    extent: tuple[float, float, float, float],
    px_per_in: float,
    settings: FlattenSettings,
) -> int:
    """Return how many samples along each side of a flat pixel cover the photo's pixels."""
    x, y = np.linspace(extent[0], extent[2], 9), np.linspace(extent[1], extent[3], 9)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    grid = grid[in_front(rectification, grid)]
    if len(grid) == 0:
        return 1
    finest = float(np.nanmax(_larger_scale(rectification, grid)))
    return int(np.clip(np.ceil(finest / px_per_in - 0.05), 1, settings.most_samples))


def _larger_scale(rectification: Rectification, points: Points) -> NDArray[np.float64]:
    """Return the greater principal scale at `points` (N, 2), pixels per inch."""
    h, view = 0.05, rectification.view
    dx = (view.px_from_top(points + [h, 0]) - view.px_from_top(points - [h, 0])) / (2 * h)
    dy = (view.px_from_top(points + [0, h]) - view.px_from_top(points - [0, h])) / (2 * h)
    out: NDArray[np.float64] = np.linalg.svd(np.stack([dx, dy], axis=2))[1][:, 0]
    return out


def _strip(
    photo: Photo,
    rectification: Rectification,
    origin: tuple[float, float],
    px_per_in: float,
    part: tuple[int, int, int],
    samples: int,
) -> tuple[Rgb, NDArray[np.bool_]]:
    """Return rows of the flat picture, (rows, width, 3), and where the photo reaches."""
    import cv2

    width, top, bottom = part
    shape = (bottom - top) * samples, width * samples
    corner = origin[0], origin[1] + top / px_per_in
    nodes, ahead = _nodes(rectification, corner, px_per_in * samples, shape)
    limits = np.array([photo.width_px, photo.height_px]) - 0.5
    used = np.clip(nodes[ahead], -0.5, limits)
    if len(used) == 0:
        return np.zeros((bottom - top, width, 3), np.uint8), np.zeros((bottom - top, width), bool)
    low = np.maximum(np.floor(used.min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(used.max(axis=0)).astype(int) + 3
    crop = np.ascontiguousarray(photo.rgb[low[1] : high[1], low[0] : high[0]])
    nodes[~ahead] = -9.0
    maps = tuple(_between(nodes[..., k] - low[k], shape) for k in (0, 1))
    inside = _between(ahead.astype(np.float32), shape) > 0.999
    for k in (0, 1):
        inside &= (maps[k] >= -0.5 - low[k]) & (maps[k] <= limits[k] - low[k])
    colour = _remapped(crop, maps, cv2.INTER_CUBIC if samples == 1 else cv2.INTER_LINEAR)
    if samples > 1:
        size = width, bottom - top
        light = cv2.resize(linear_from_srgb(colour), size, interpolation=cv2.INTER_AREA)
        colour = srgb_from_linear(np.asarray(light, dtype=np.float32))
        share = cv2.resize(inside.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        inside = np.asarray(share, dtype=np.float32) > 1 - 0.5 / samples**2
    colour[~inside] = 0
    return colour, inside


def _nodes(
    rectification: Rectification,
    corner_in: tuple[float, float],
    samples_per_in: float,
    shape: tuple[int, int],
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return the photo pixels (h, w, 2) of every `NODE`-th sample, and which the camera sees.

    There is one more node than needed on each side.
    """
    x, y = (
        at + (NODE * (np.arange(-1, -(-count // NODE) + 1) + 0.5)) / samples_per_in
        for at, count in zip(corner_in, (shape[1], shape[0]), strict=True)
    )
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    ahead = in_front(rectification, points)
    px = rectification.view.px_from_top(points)
    ahead &= np.abs(px).max(axis=1) < 1e6
    return px.reshape(len(y), len(x), 2), ahead.reshape(len(y), len(x))


def _between(nodes: NDArray[np.floating], shape: tuple[int, int]) -> NDArray[np.float32]:
    """Return node values (h, w) interpolated at all samples of `shape`."""
    import cv2

    h, w = nodes.shape
    # The library's resize puts node j at sample NODE (j + 1/2) − 1/2; the first node is extra.
    full = cv2.resize(
        nodes.astype(np.float32), (w * NODE, h * NODE), interpolation=cv2.INTER_LINEAR
    )
    part = np.asarray(full, dtype=np.float32)[NODE : NODE + shape[0], NODE : NODE + shape[1]]
    return np.ascontiguousarray(part)


def _remapped(crop: Rgb, maps: tuple[NDArray[np.float32], ...], how: int) -> Rgb:
    """Return `crop` at the given places; the library takes at most 32767 rows and columns."""
    import cv2

    out = np.empty((*maps[0].shape, 3), dtype=np.uint8)
    for i in range(0, out.shape[0], 32000):
        for j in range(0, out.shape[1], 32000):
            part = np.s_[i : i + 32000, j : j + 32000]
            out[part] = cv2.remap(
                crop,
                np.ascontiguousarray(maps[0][part]),
                np.ascontiguousarray(maps[1][part]),
                how,
                borderMode=cv2.BORDER_REPLICATE,
            )
    return out


def in_front(rectification: Rectification, points_in: ArrayLike) -> NDArray[np.bool_]:
    """Say which `points_in` (N, 2) lie before the camera and where its lens model holds, (N,)."""
    view = rectification.view
    p = np.asarray(points_in, dtype=np.float64).reshape(-1, 2)
    ray_from_top = np.linalg.inv(view.top_from_ray)
    sign = np.sign(np.linalg.det(view.top_from_ray))
    q = np.column_stack([p, np.ones(len(p))]) @ ray_from_top.T
    ahead = q[:, 2] * sign > 1e-9
    with np.errstate(divide="ignore", invalid="ignore"):
        r2 = (q[:, :2] ** 2).sum(axis=1) / q[:, 2] ** 2
    k1, k2, k3 = view.lens.radial
    # The lens model folds back where its slope reaches zero; beyond, pixels mean nothing.
    r = np.linspace(0, 4, 801) ** 2
    folds = 1 + r * (3 * k1 + r * (5 * k2 + r * 7 * k3)) <= 0.05
    limit = float(r[np.argmax(folds)]) if folds.any() else np.inf
    out: NDArray[np.bool_] = ahead & (r2 < limit)
    return out


def native_px_per_in(rectification: Rectification, outline_in: ArrayLike) -> float:
    """Return the photo's own resolution over an outline or points (N, 2): the median, px/in.

    The lesser of the two principal scales counts, so a picture flattened at this resolution
    promises no detail that is not there.
    """
    p = np.asarray(outline_in, dtype=np.float64).reshape(-1, 2)
    low, high = p.min(axis=0), p.max(axis=0)
    grid = np.stack(
        np.meshgrid(np.linspace(low[0], high[0], 9), np.linspace(low[1], high[1], 9)), axis=-1
    ).reshape(-1, 2)
    grid = grid[in_front(rectification, grid)]
    return float(np.median(rectification.px_per_in(grid)))


def visible_extent(
    photo: Photo, rectification: Rectification, limit_in: float = 160.0
) -> tuple[float, float, float, float]:
    """Return x0, y0, x1, y1 in inches of what the photo shows of the plane.

    Parameters
    ----------
    photo : Photo
        Upright.
    rectification : Rectification
        Its camera.
    limit_in : float
        What lies farther than this from the place in the picture's middle, along either axis,
        is left out: towards the horizon a plane never ends.
    """
    view = rectification.view
    x = np.linspace(-0.5, photo.width_px - 0.5, 65)
    y = np.linspace(-0.5, photo.height_px - 0.5, 65)
    px = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    middle = [[(photo.width_px - 1) / 2, (photo.height_px - 1) / 2]]
    rays = np.column_stack([view.lens.ray_from_px(np.vstack([middle, px])), np.ones(len(px) + 1)])
    q = rays @ view.top_from_ray.T
    sign = np.sign(q[0, 2])
    centre = q[0, :2] / q[0, 2]
    ahead = q[1:, 2] * sign > 1e-12
    flat = q[1:][ahead, :2] / q[1:][ahead, 2:]
    flat = np.clip(flat, centre - limit_in, centre + limit_in)
    low, high = flat.min(axis=0), flat.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
