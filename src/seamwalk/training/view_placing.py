"""Laying things into a picture: where they lie, their rows, their labels and their shadows."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training.sketch import MOST_ROWS, ROW
from seamwalk.training.view_bumps import Bumps
from seamwalk.training.view_camera import Camera
from seamwalk.training.view_fabrics import plain_row, surface_row
from seamwalk.training.view_outlines import Outlines
from seamwalk.training.view_raster import SHIFT, fixed
from seamwalk.training.view_things import Thing, card, stray

Bytes = NDArray[np.uint8]
Labels = NDArray[np.uint16]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PlacingSettings:
    """How many things lie about.

    Attributes
    ----------
    card_share, stray_share : float
        Share of pictures with a reference card, and with other things.
    most_stray : int
        Most other things in one picture.
    largest, smallest : float
        Size of a thing in units of the picture's side: larger ones would hide the top, smaller
        ones are dust.
    most_hidden : float
        Share of the picture that things may cover.
    """

    card_share: float = 0.35
    stray_share: float = 0.45
    most_stray: int = 7
    largest: float = 0.65
    smallest: float = 0.012
    most_hidden: float = 0.3


SETTINGS = PlacingSettings()


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """One thing in the picture.

    Attributes
    ----------
    outlines : tuple of tuple of (n, 2) float64
        Picture positions of the outlines of each part.
    rows : (parts, ROW) float32
        Row of each part.
    """

    outlines: tuple[tuple[Array, ...], ...]
    rows: NDArray[np.float32]


def draw_things(
    rng: np.random.Generator,
    seen: Outlines,
    camera: Camera,
    bumps: Bumps | None,
    side_px: int,
    swatches: int,
) -> list[Placed]:
    """Draw the things in a picture and where they lie."""
    things: list[Thing] = []
    if rng.random() < SETTINGS.card_share:
        things += [card(rng) for _ in range(1 if rng.random() < 0.85 else 2)]
    if rng.random() < SETTINGS.stray_share:
        count = 1 + int((SETTINGS.most_stray - 1) * rng.random() ** 2.5)
        things += [stray(rng) for _ in range(count)]
    order = rng.permutation(len(things))
    placed, hidden = [], 0.0
    for k in order:
        found = _place(rng, things[k], seen, camera, bumps, side_px, swatches)
        if found is None:
            continue
        low, high = _box(found)
        inside = np.clip(high, 0, side_px) - np.clip(low, 0, side_px)
        hidden += float(inside.prod()) / side_px**2
        if hidden > SETTINGS.most_hidden:
            break
        placed.append(found)
    return placed


def _box(placed: Placed) -> tuple[Array, Array]:
    points = np.concatenate([o for part in placed.outlines for o in part])
    return points.min(axis=0), points.max(axis=0)


def _place(
    rng: np.random.Generator,
    thing: Thing,
    seen: Outlines,
    camera: Camera,
    bumps: Bumps | None,
    side_px: int,
    swatches: int,
) -> Placed | None:
    """Return `thing` somewhere in the picture, or None where it would be too large or small."""
    middle = rng.uniform(0.0, side_px, 2)
    if len(seen.px) and rng.random() < 0.35:
        middle = seen.px[int(rng.integers(len(seen.px)))]
    at = camera.cloth_from_px(middle[None], bumps)[0]
    flat = [o for part in thing for o in part.outlines]
    cuts = np.cumsum([len(o) for o in flat])[:-1]
    points = np.concatenate(flat)
    span = float(np.ptp(points, axis=0).max()) * camera.detail(at)
    grow = 1.0
    if span > SETTINGS.largest * side_px:
        if rng.random() < 0.6:
            return None
        grow = float(rng.uniform(0.3, 0.9)) * SETTINGS.largest * side_px / span
    elif span < SETTINGS.smallest * side_px:
        return None
    angle = rng.uniform(0.0, 2 * np.pi)
    if rng.random() < 0.4:
        angle = rng.integers(0, 4) * np.pi / 2 + rng.normal(0.0, 0.06)
    c, s = np.cos(angle) * grow, np.sin(angle) * grow
    xy = points @ np.array([[c, s], [-s, c]]) + at
    px = np.split(camera.px_from_cloth(xy, bumps), cuts)
    outlines, rows, first = [], np.zeros((len(thing), ROW), np.float32), 0
    for k, part in enumerate(thing):
        outlines.append(tuple(px[first : first + len(part.outlines)]))
        first += len(part.outlines)
        rows[k] = plain_row(part.colour, 2)
        if part.printed:
            scale = float(np.exp(rng.uniform(np.log(15.0), np.log(120.0))))
            rows[k] = surface_row(rng, int(rng.integers(swatches)), scale, 2)
    return Placed(tuple(outlines), rows)


def lay_things(labels: Labels, things: list[Placed], first_row: int) -> NDArray[np.float32]:
    """Draw `things` over `labels` (2S, 2S), in place, and return their rows (T, ROW)."""
    side = labels.shape[0] // 2
    rows: list[NDArray[np.float32]] = []
    for thing in things:
        if first_row + len(rows) + len(thing.rows) > MOST_ROWS:
            break
        for outlines, row in zip(thing.outlines, thing.rows, strict=True):
            for outline in outlines:
                points = fixed(outline, 2.0, side)
                cv2.fillPoly(labels, [points], first_row + len(rows), cv2.LINE_8, SHIFT)
            rows.append(row)
    return np.array(rows, np.float32).reshape(-1, ROW)
