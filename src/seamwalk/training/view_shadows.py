"""Light that does not arrive: shadows of the top on the floor, of things, people and windows.

Straight soft edges of shadows cross the cloth as seams do; the truth holds none of them.
Shadows are painted at a quarter of the picture's size, since all of them are soft.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training.view_placing import Placed
from seamwalk.training.view_raster import SHIFT, fixed
from seamwalk.training.view_shapes import disc, limb

Array = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class ShadowSettings:
    """How often shadows fall.

    Attributes
    ----------
    person, window, straight, blind : float
        Shares of pictures with a person's shadow, panes of sunlight, one straight edge, and the
        stripes of a blind.
    shrink : int
        Picture pixels per pixel of the painting.
    """

    person: float = 0.10
    window: float = 0.07
    straight: float = 0.07
    blind: float = 0.03
    shrink: int = 4


SETTINGS = ShadowSettings()


def shade(
    rng: np.random.Generator,
    top_px: Array,
    things: list[Placed],
    on_floor: NDArray[np.bool_],
    on_thing: NDArray[np.bool_],
) -> Bytes:
    """Return the light (S, S) that reaches each place, 255 for all of it.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    top_px : (n, 2) float64
        Outer edge of the top, picture positions.
    things : list of Placed
        Things on and beside the top.
    on_floor, on_thing : (S, S) bool
        Where the floor and where things are seen.
    """
    side = on_floor.shape[0]
    small = -(-side // SETTINGS.shrink)
    angle = rng.uniform(0.0, 2 * np.pi)
    fall = np.array([np.cos(angle), np.sin(angle)]) * side
    room = _room(rng, small, side)
    floor, cloth = room.copy(), room.copy()
    if rng.random() < 0.85:
        depth = fall * float(np.exp(rng.uniform(np.log(0.001), np.log(0.02))))
        mask = _painted([top_px + depth], small, side)
        mask = _soft(mask, float(rng.uniform(0.5, 3.0)))
        floor *= 1.0 - float(rng.uniform(0.15, 0.95)) * mask
    if things:
        mask = np.zeros((small, small), np.float32)
        for thing in things:
            depth = fall * float(np.exp(rng.uniform(np.log(0.002), np.log(0.04))))
            outlines = [o + depth for part in thing.outlines[:1] for o in part]
            np.maximum(mask, _painted(outlines, small, side), out=mask)
        mask = _soft(mask, float(np.exp(rng.uniform(np.log(0.4), np.log(3.0)))))
        cast = 1.0 - float(rng.uniform(0.2, 0.95)) * mask
        floor *= cast
        cloth *= cast
    if cloth.min() > 0.995:
        light = np.full((side, side), 255.0, np.float32)
    else:
        light = _large(cloth, side)
    np.copyto(light, _large(floor, side), where=on_floor)
    if on_thing.any():
        np.copyto(light, _large(room, side), where=on_thing)
    return np.clip(light, 0, 255).astype(np.uint8)


def _large(light: Floats, side: int) -> Floats:
    out = cv2.resize(light, (side, side), interpolation=cv2.INTER_LINEAR)
    return np.asarray(out * 255.0, np.float32)


def _soft(mask: Floats, sigma: float) -> Floats:
    return np.asarray(cv2.GaussianBlur(mask, (0, 0), sigma), np.float32)


def _painted(outlines: list[Array], small: int, side: int) -> Floats:
    """Return a mask (small, small) of picture outlines, 0 to 1."""
    mask = np.zeros((small, small), np.uint8)
    for outline in outlines:
        points = fixed(outline, small / side, side)
        cv2.fillPoly(mask, [points], 255, cv2.LINE_AA, SHIFT)
    return mask.astype(np.float32) / 255.0


def _room(rng: np.random.Generator, small: int, side: int) -> Floats:
    """Return the light (small, small), 0 to 1, after people, windows and walls."""
    light = np.ones((small, small), np.float32)
    chance = rng.random()
    bounds = np.cumsum([SETTINGS.person, SETTINGS.window, SETTINGS.straight, SETTINGS.blind])
    kind = int(np.searchsorted(bounds, chance))
    if kind == 4:
        return light
    shapes = (_person, _window, _edge, _blind)[kind](rng)
    mask = _painted([s * side for s in shapes], small, side)
    if kind == 1 and rng.random() < 0.7:
        mask = 1.0 - mask
    mask = _soft(mask, float(np.exp(rng.uniform(np.log(0.3), np.log(6.0)))))
    return light * (1.0 - float(rng.uniform(0.15, 0.9)) * mask)


def _person(rng: np.random.Generator) -> list[Array]:
    """Return the shadow of head, shoulders and perhaps arms, in units of the picture's side."""
    size = float(rng.uniform(0.12, 0.5))
    body = np.array([[0.0, 2.4], [0.0, 0.2], [0.0, -0.15]])
    shapes = [limb(body, np.array([0.9, 0.95, 0.5])), disc(0.3, 0.38, 0.0, -0.62)]
    if rng.random() < 0.6:
        bend = rng.uniform(-0.6, 0.6)
        for s in (-1, 1):
            arm = np.array([[s * 0.4, 0.1], [s * 0.8, bend], [s * 0.2, bend - 0.6]])
            shapes.append(limb(arm, np.array([0.25, 0.22, 0.18])))
    return _turned(rng, [s * size for s in shapes], rng.uniform(0.1, 0.9, 2))


def _window(rng: np.random.Generator) -> list[Array]:
    """Return panes of a window."""
    across, down = int(rng.integers(1, 5)), int(rng.integers(1, 5))
    pane = rng.uniform(0.1, 0.4, 2)
    bar = float(rng.uniform(0.08, 0.25))
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float) * (1 - bar)
    shear = np.array([[1.0, rng.normal(0, 0.3)], [rng.normal(0, 0.3), 1.0]])
    panes = [
        ((corners + (i, j) - np.array([across, down]) / 2) * pane) @ shear
        for i in range(across)
        for j in range(down)
    ]
    return _turned(rng, panes, rng.uniform(0.2, 0.8, 2))


def _edge(rng: np.random.Generator) -> list[Array]:
    """Return all that lies on one side of a straight line."""
    half = np.array([[-3, 0], [3, 0], [3, 3], [-3, 3]], float)
    return _turned(rng, [half], rng.uniform(0.1, 0.9, 2))


def _blind(rng: np.random.Generator) -> list[Array]:
    """Return the slats of a blind."""
    pitch = float(np.exp(rng.uniform(np.log(0.02), np.log(0.15))))
    slat = np.array([[-2, 0], [2, 0], [2, 1], [-2, 1]]) * (1.0, pitch * rng.uniform(0.3, 0.7))
    count = int(min(1.5 / pitch, 40))
    slats = [slat + (0.0, (k - count / 2) * pitch) for k in range(count)]
    return _turned(rng, slats, np.array([0.5, 0.5]))


def _turned(rng: np.random.Generator, shapes: list[Array], at: Array) -> list[Array]:
    angle = rng.uniform(0.0, 2 * np.pi)
    c, s = np.cos(angle), np.sin(angle)
    return [shape @ np.array([[c, s], [-s, c]]) + at for shape in shapes]
