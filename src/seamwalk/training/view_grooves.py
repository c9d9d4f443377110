"""Quilting lines and fold creases: lines on a quilt that are no seams.

Lines are laid in the plane of the cloth, sent through the camera and drawn as grooves; the truth
never holds them, so the network learns to tell them from seams.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training.view_bumps import Bumps
from seamwalk.training.view_camera import Camera
from seamwalk.training.view_outlines import Outlines
from seamwalk.training.view_raster import SHIFT, fixed

Bytes = NDArray[np.uint8]
Array = NDArray[np.float64]
Lines = list[Array]


@dataclass(frozen=True, slots=True)
class GrooveSettings:
    """How often cloth is quilted or creased.

    Attributes
    ----------
    quilted, creased : float
        Share of pictures.
    second_share : float
        Share of quilted pictures with a second kind of line.
    most_points : int
        Points that all lines of a picture together may have: keeps a picture fast.
    """

    quilted: float = 0.40
    creased: float = 0.25
    second_share: float = 0.3
    most_points: int = 9000


SETTINGS = GrooveSettings()


def grooves(
    rng: np.random.Generator,
    seen: Outlines,
    camera: Camera,
    bumps: Bumps | None,
    side_px: int,
) -> Bytes:
    """Return the depth (S, S) of quilting lines and creases, whatever lies over them."""
    plane = np.zeros((side_px, side_px), np.uint8)
    if len(seen.patches) == 0:
        return plane
    low, high = window(seen, side_px)
    if rng.random() < SETTINGS.quilted:
        for _ in range(1 if rng.random() > SETTINGS.second_share else 2):
            _quilt(rng, plane, seen, low, high, camera, bumps)
    if rng.random() < SETTINGS.creased:
        _crease(rng, plane, seen, low, high, camera, bumps)
    return plane


def window(seen: Outlines, side_px: int) -> tuple[Array, Array]:
    """Return the corners (2,), (2,) of the part of the cloth in the picture, inches."""
    shown = ((seen.px > -0.1 * side_px) & (seen.px < 1.1 * side_px)).all(axis=1)
    xy = seen.xy[shown] if int(shown.sum()) > 2 else seen.xy
    return xy.min(axis=0), xy.max(axis=0)


def _quilt(
    rng: np.random.Generator,
    plane: Bytes,
    seen: Outlines,
    low: Array,
    high: Array,
    camera: Camera,
    bumps: Bumps | None,
) -> None:
    style = rng.random()
    depth = int(np.exp(rng.uniform(np.log(60), np.log(255))))
    side = plane.shape[0]
    if style < 0.16:
        _draw(plane, _along(rng, seen), depth, 1)
        return
    if style < 0.34:
        inset = float(np.exp(rng.uniform(np.log(0.12), np.log(0.5))))
        for _ in range(1 if rng.random() < 0.7 else 2):
            _draw(plane, _outlined(seen, inset, camera, bumps, side), depth, 1)
            inset += 0.25
        return
    if style < 0.44:
        _draw(plane, _arched(rng, seen, camera, bumps), depth, 1)
        return
    kind: Callable[[np.random.Generator, Array, Array, float], Lines] = (
        _rules if style < 0.68 else _waves if style < 0.76 else _fans if style < 0.83 else _loops
    )
    size = float((high - low).max())
    # Between stippling and a line a hand's breadth from the next; never hundreds in a picture.
    spacing = max(float(np.exp(rng.uniform(np.log(0.3), np.log(6.0)))), size / 70.0)
    lines = kind(rng, low, high, spacing)
    total, kept = 0, []
    for line in lines:
        total += len(line)
        if total > SETTINGS.most_points:
            break
        kept.append(line)
    if not kept:
        return
    px = camera.px_from_cloth(np.concatenate(kept), bumps)
    _draw(plane, np.split(px, np.cumsum([len(k) for k in kept])[:-1]), depth, 1)


def _draw(plane: Bytes, px: Lines, depth: int, thickness: int) -> None:
    side = plane.shape[0]
    layer = np.zeros_like(plane)
    if len(px):
        cuts = np.cumsum([len(line) for line in px])[:-1]
        points = np.split(fixed(np.concatenate(px), 1.0, side), cuts)
        cv2.polylines(layer, points, False, depth, thickness, cv2.LINE_AA, SHIFT)
        cv2.max(plane, layer, dst=plane)


def _along(rng: np.random.Generator, seen: Outlines) -> Lines:
    """Return lines in the ditch of all or some seams, a hair beside some of them."""
    share = 1.0 if rng.random() < 0.4 else rng.uniform(0.2, 0.8)
    patch_in = rng.random(len(seen.patches)) < share
    index = np.flatnonzero(patch_in[seen.patch])
    off = rng.normal(0.0, 0.4, 2)
    return list(np.stack([seen.px[index] + off, seen.px[seen.after[index]] + off], axis=1))


def _outlined(
    seen: Outlines, inset_in: float, camera: Camera, bumps: Bumps | None, side: int
) -> Lines:
    """Return lines that run `inset_in` inside every patch with room for them."""
    count = len(seen.xy)
    before = np.empty(count, np.int64)
    before[seen.after] = np.arange(count)
    normal, last = seen.inward, seen.inward[before]
    # The mitre: the meet of both sides' parallels, cut off where corners are sharp.
    mitre = (normal + last) / np.maximum(1.0 + (normal * last).sum(axis=1), 0.35)[:, None]
    xy = seen.xy + inset_in * mitre
    chord, moved = seen.xy[seen.after] - seen.xy, xy[seen.after] - xy
    folded = (chord * moved).sum(axis=1) <= 0.0
    bad = np.zeros(len(seen.patches), bool)
    bad[seen.patch[folded]] = True
    px = camera.px_from_cloth(xy, bumps)
    bounds = seen.starts.tolist()
    lines = []
    for patch, (start, stop) in enumerate(pairwise(bounds)):
        if not bad[patch]:
            lines.append(np.concatenate([px[start:stop], px[start : start + 1]]))
    return lines


def _arched(
    rng: np.random.Generator, seen: Outlines, camera: Camera, bumps: Bumps | None
) -> Lines:
    """Return an arch inside every straight side of a patch, from corner to corner."""
    index = np.flatnonzero(seen.turn > 10.0)[:900]
    if len(index) == 0:
        return []
    # The next corner of the same patch: the next chosen point, or the patch's first one.
    patch = seen.patch[index]
    first = np.searchsorted(patch, patch)
    following = np.arange(1, len(index) + 1)
    last = (
        following
        == np.concatenate([np.flatnonzero(np.diff(patch)) + 1, [len(index)]])[
            np.searchsorted(np.unique(patch), patch)
        ]
    )
    following = np.where(last, first, following % len(index))
    start, end = seen.xy[index], seen.xy[index[following]]
    t = np.linspace(0.0, 1.0, 9)
    height = float(rng.uniform(0.08, 0.3))
    length = np.linalg.norm(end - start, axis=1)
    bow = (4 * t * (1 - t))[None, :, None] * (seen.inward[index] * (height * length)[:, None])[
        :, None
    ]
    xy = start[:, None] + t[None, :, None] * (end - start)[:, None] + bow
    return list(camera.px_from_cloth(xy.reshape(-1, 2), bumps).reshape(len(index), 9, 2))


def _turned(
    rng: np.random.Generator, low: Array, high: Array
) -> tuple[Array, Array, Array, float]:
    """Return middle, unit along, unit across and half the diagonal of a box, at a drawn angle."""
    style = rng.random()
    angle = (
        rng.integers(0, 2) * np.pi / 2
        if style < 0.4
        else np.pi / 4 + rng.integers(0, 2) * np.pi / 2
        if style < 0.75
        else rng.uniform(0.0, np.pi)
    )
    angle = float(angle) + float(rng.normal(0.0, 0.01))
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-along[1], along[0]])
    return (low + high) / 2, along, across, float(np.linalg.norm(high - low)) / 2


def _rules(rng: np.random.Generator, low: Array, high: Array, spacing: float) -> Lines:
    """Return straight lines, evenly or unevenly spaced, one way or crossed."""
    middle, along, across, reach = _turned(rng, low, high)
    lines: Lines = []
    uneven = rng.uniform(0.0, 0.3) if rng.random() < 0.4 else 0.02
    t = np.linspace(-reach, reach, 14)[:, None]
    for way, side in ((along, across), (across, along)):
        offsets = np.arange(-reach, reach, spacing) + rng.uniform(0, spacing)
        offsets = offsets + rng.normal(0.0, uneven * spacing, len(offsets))
        lean = rng.normal(0.0, 0.004, len(offsets))
        lines += [
            middle + t * way + (o + k * t) * side for o, k in zip(offsets, lean, strict=True)
        ]
        if rng.random() < 0.5:
            break
    return lines


def _waves(rng: np.random.Generator, low: Array, high: Array, spacing: float) -> Lines:
    """Return rows of waves."""
    middle, along, across, reach = _turned(rng, low, high)
    length = spacing * float(rng.uniform(1.0, 5.0))
    t = np.arange(-reach, reach, length / 12.0)
    swing = spacing * float(rng.uniform(0.15, 0.6))
    lines = []
    for row in np.arange(-reach, reach, spacing):
        wave = swing * np.sin(2 * np.pi * t / length + (0.0 if rng.random() < 0.7 else np.pi))
        lines.append(middle + t[:, None] * along + (row + wave)[:, None] * across)
    rng.shuffle(lines)
    return lines


def _fans(rng: np.random.Generator, low: Array, high: Array, spacing: float) -> Lines:
    """Return rows of nested arcs."""
    middle, along, across, reach = _turned(rng, low, high)
    radius = max(spacing * float(rng.uniform(2.0, 5.0)), reach / 8.0)
    angle = np.linspace(0.0, np.pi, 15)
    rows = np.arange(-reach, reach, radius / 2)
    places = np.arange(-reach, reach, 2 * radius)
    radii = np.arange(radius, 0.3 * spacing, -max(spacing, radius / 5.0))
    row, place, r = (g.ravel()[:, None] for g in np.meshgrid(rows, places, radii, indexing="ij"))
    place = place + radius * (np.round((row + reach) / (radius / 2)) % 2)
    x, y = place + r * np.cos(angle), row + r * np.sin(angle)
    arcs = middle + x[..., None] * along + y[..., None] * across
    return list(rng.permutation(arcs))


def _loops(rng: np.random.Generator, low: Array, high: Array, spacing: float) -> Lines:
    """Return one wandering line per row: meander, loops, spirals, by three drawn frequencies."""
    middle, along, across, reach = _turned(rng, low, high)
    pitch = spacing * float(rng.uniform(1.0, 3.0))
    looped = float(rng.uniform(0.0, 1.6))
    t = np.arange(-reach, reach, pitch / 14.0)
    lines = []
    for row in np.arange(-reach, reach, pitch):
        p, q = rng.uniform(0.0, 2 * np.pi, 2)
        a, b = 2 * np.pi / pitch, 2 * np.pi / (pitch * float(rng.uniform(1.7, 4.0)))
        x = t + looped * pitch / 3 * np.sin(a * t + p) + 0.3 * pitch * np.sin(b * t + q)
        y = row + 0.33 * pitch * np.cos(a * t + p) + 0.35 * pitch * np.sin(b * t * 1.37 + p)
        lines.append(middle + x[:, None] * along + y[:, None] * across)
    rng.shuffle(lines)
    return lines


def _crease(
    rng: np.random.Generator,
    plane: Bytes,
    seen: Outlines,
    low: Array,
    high: Array,
    camera: Camera,
    bumps: Bumps | None,
) -> None:
    """Draw folds of a top that lay folded: a grid of soft lines right across."""
    layer = np.zeros_like(plane)
    size = high - low
    depth = float(np.exp(rng.uniform(np.log(40), np.log(200))))
    t = np.linspace(-0.1, 1.1, 16)
    for axis in (0, 1):
        if rng.random() < 0.25:
            continue
        parts = int(rng.choice([2, 2, 3, 4, 4, 8]))
        for k in range(1, parts):
            place = (k + rng.normal(0.0, 0.04)) / parts
            lean = rng.normal(0.0, 0.01)
            wobble = np.cumsum(rng.normal(0.0, 0.001, len(t)))
            line = np.empty((len(t), 2))
            line[:, axis] = low[axis] + size[axis] * (place + lean * t + wobble)
            line[:, 1 - axis] = low[1 - axis] + size[1 - axis] * t
            px = fixed(camera.px_from_cloth(line, bumps), 1.0, plane.shape[0])
            shade = int(min(255.0, depth * rng.uniform(0.5, 1.2)))
            thickness = int(rng.integers(1, 4))
            cv2.polylines(layer, [px], False, shade, thickness, cv2.LINE_AA, SHIFT)
    cv2.max(plane, cv2.GaussianBlur(layer, (0, 0), float(rng.uniform(0.6, 2.5))), dst=plane)
