"""Reference cards laid into the scene, drawn from the exact geometry of each pixel."""

import math
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.card import CELLS, figure
from seamwalk.scenes.camera import Camera

Points = NDArray[np.float64]
Corner = Literal["upper left", "upper right", "lower right", "lower left"]

PAPER = 0.80
"""Reflectance of printer paper, linear."""

INK = 0.035
"""Reflectance of printed black, linear."""

SAMPLES = 8
"""Each pixel takes this many samples squared, one at random in each cell of a grid, so that
errors of edge pixels are independent and average out along an edge."""


@dataclass(frozen=True, slots=True)
class CardPlace:
    """One card and where it lies.

    Attributes
    ----------
    id : int or None
        Number of the card; None is a plain dark square on light paper.
    side_in : float
        True outer side of the dark frame (or square), inches, whatever the printer made of it.
    at : corner or (x, y)
        Beside that corner of the top, or the centre's place in the top frame, inches.
    angle_deg : float
        Turn of the card, x towards y.
    above_in : float
        How far the card lies above the plane of the cloth, inches; below zero on the floor
        beside a cloth with some thickness.
    paper_in : float
        White paper round the square, inches; at least one cell.
    past : {"side", "end"}
        Beside the left or right edge, or past the upper or lower one.
    beside_in : float
        Free floor between the top and the card's paper when `at` names a corner.
    """

    id: int | None = 0
    side_in: float = 6.0
    at: Corner | tuple[float, float] = "upper left"
    angle_deg: float = 0.0
    above_in: float = 0.0
    paper_in: float = 0.75
    past: Literal["side", "end"] = "side"
    beside_in: float = 1.5


def centre_in(card: CardPlace, top_corners_in: Points) -> Points:
    """Return the card's centre (2,) in the top frame.

    Parameters
    ----------
    top_corners_in : (4, 2) float64
        Upper left, upper right, lower right, lower left.
    """
    if not isinstance(card.at, str):
        return np.asarray(card.at, dtype=np.float64)
    k = ("upper left", "upper right", "lower right", "lower left").index(card.at)
    half = card.side_in / 2 + card.paper_in
    a = math.radians(card.angle_deg)
    reach = half * (abs(math.cos(a)) + abs(math.sin(a)))
    right, down = (-1.0 if k in (0, 3) else 1.0), (-1.0 if k in (0, 1) else 1.0)
    out, along = reach + card.beside_in, -reach
    step = [right * out, down * along] if card.past == "side" else [right * along, down * out]
    out_in: Points = top_corners_in[k] + step
    return out_in


def outline_in(card: CardPlace, centre: Points, grow_in: float = 0.0) -> Points:
    """Return the outer corners (4, 2) of the dark frame, own upper left first, or of its paper."""
    h = card.side_in / 2 + grow_in
    c, s = math.cos(math.radians(card.angle_deg)), math.sin(math.radians(card.angle_deg))
    local = np.array([[-h, -h], [h, -h], [h, h], [-h, h]])
    out: Points = local @ np.array([[c, s], [-s, c]]) + centre
    return out


def draw(
    photo: NDArray[np.float32],
    camera: Camera,
    card: CardPlace,
    centre: Points,
    rng: np.random.Generator,
) -> None:
    """Lay the card over the picture, linear light, in place.

    Raises
    ------
    ValueError
        If the card's paper would be narrower than one cell.
    """
    if card.paper_in < card.side_in / CELLS - 1e-9:
        raise ValueError("a card needs at least one cell of white paper round it")
    corners = camera.px_from_top(outline_in(card, centre, card.paper_in), card.above_in)
    height, width = photo.shape[:2]
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 12, 0)
    high = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 13, (width, height))
    if (high <= low).any():
        return
    cols, rows = int(high[0] - low[0]), int(high[1] - low[1])
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]].astype(np.float64)
    px = np.column_stack([x.ravel(), y.ravel()])
    here = _on_card(camera, card, centre, px)
    # One pixel is so small that the map across it is linear to 1e-6 in.
    across = _on_card(camera, card, centre, px + [0.5, 0]) - _on_card(
        camera, card, centre, px - [0.5, 0]
    )
    down = _on_card(camera, card, centre, px + [0, 0.5]) - _on_card(
        camera, card, centre, px - [0, 0.5]
    )
    # Single precision is 1e-6 in here, and twice as fast.
    (u0, v0), (ua, va), (ud, vd) = (m.T.astype(np.float32) for m in (here, across, down))
    paper = np.zeros(len(px), np.int32)
    dark = np.zeros(len(px), np.int32)
    cells = (
        np.ones((CELLS, CELLS), bool) if card.id is None else np.array(figure(card.id).dark, bool)
    )
    half, cell = np.float32(card.side_in / 2), np.float32(card.side_in / CELLS)
    sheet = half + np.float32(card.paper_in)
    # A ring of cells more, all light, stands for what lies off the figure.
    ringed = np.pad(cells, 1)
    for i in range(SAMPLES):
        for j in range(SAMPLES):
            dx = (rng.random(len(px), dtype=np.float32) + j) / SAMPLES - 0.5
            dy = (rng.random(len(px), dtype=np.float32) + i) / SAMPLES - 0.5
            u, v = u0 + ua * dx + ud * dy, v0 + va * dx + vd * dy
            paper += (np.abs(u) <= sheet) & (np.abs(v) <= sheet)
            col = np.clip((u + half) / cell + 1, 0, CELLS + 1).astype(np.int32)
            row = np.clip((v + half) / cell + 1, 0, CELLS + 1).astype(np.int32)
            dark += ringed[row, col]
    n = SAMPLES**2
    cover = (paper / n).reshape(rows, cols).astype(np.float32)
    ink = (dark / n).reshape(rows, cols).astype(np.float32)
    part = photo[low[1] : high[1], low[0] : high[0]]
    shadow = cv2.GaussianBlur(np.roll(cover, (2, 2), (0, 1)), (0, 0), 3.0)
    part *= (1 - 0.3 * shadow * (1 - cover))[..., None]
    part *= 1 - cover[..., None]
    part += (PAPER * (cover - ink) + INK * ink)[..., None]


def _on_card(camera: Camera, card: CardPlace, centre: Points, px: Points) -> Points:
    """Return positions (N, 2) in the card's own frame, centre at 0, 0, inches."""
    c, s = math.cos(math.radians(card.angle_deg)), math.sin(math.radians(card.angle_deg))
    out: Points = (camera.top_from_px(px, card.above_in) - centre) @ np.array([[c, -s], [s, c]])
    return out
