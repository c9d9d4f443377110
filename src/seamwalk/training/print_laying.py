"""Where figures lie on the cloth, and drawing them there.

Figures are laid on a torus: each is drawn again across an edge that it reaches over, so that the
cloth wraps round.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training.print_colours import Ink, Picture
from seamwalk.training.print_shapes import Shape

SHIFT = 4
"""Bits of OpenCV's fixed-point pixels: 1/16 px, finer than any edge shows."""


def lay(
    picture: Picture,
    shape: Shape,
    inks: Sequence[Ink],
    place: tuple[float, float],
    radius: float,
    angle: float = 0.0,
    *,
    line_px: int = 0,
    outline: Ink | None = None,
) -> None:
    """Draw `shape` into `picture` (H, W, 3), across its edges too.

    Parameters
    ----------
    picture : (H, W, 3) uint8
        Changed in place.
    shape : Shape
        What to draw.
    inks : sequence of Ink
        Colours; an ink's number wraps round.
    place : (float, float)
        x and y of the shape's middle, pixels.
    radius, angle : float
        Pixels per unit of the shape; radians, x towards y.
    line_px : int
        If above 0, outlines are drawn as lines this wide rather than filled.
    outline : Ink, optional
        Filled outlines are drawn round with a line of this colour.
    """
    height, width = picture.shape[:2]
    c, s = np.cos(angle) * radius * 2**SHIFT, np.sin(angle) * radius * 2**SHIFT
    matrix = np.array([[c, s], [-s, c]])
    reach = radius * 1.7
    rows = [k * height for k in (-1, 0, 1) if -reach < place[1] + k * height < height + reach]
    columns = [k * width for k in (-1, 0, 1) if -reach < place[0] + k * width < width + reach]
    for layer in shape:
        ink = inks[layer.ink % len(inks)]
        local = layer.points @ matrix
        thick = line_px or (max(1, round(layer.width * radius)) if layer.width > 0 else 0)
        closed = layer.closed or layer.width == 0
        for y in rows:
            for x in columns:
                shift = np.array([place[0] + x, place[1] + y]) * 2**SHIFT
                points = [np.rint(local + shift).astype(np.int32)]
                if thick:
                    cv2.polylines(picture, points, closed, ink, thick, cv2.LINE_AA, SHIFT)
                else:
                    cv2.fillPoly(picture, points, ink, cv2.LINE_AA, SHIFT)
                    if outline is not None:
                        cv2.polylines(picture, points, True, outline, 1, cv2.LINE_AA, SHIFT)


def repeat_side(rng: np.random.Generator, side: int, figure_px: float) -> int:
    """Draw the side of the repeat that holds at least a few figures of that diameter."""
    fits = [
        side // n for n in (1, 2, 3, 4, 6, 8) if side % n == 0 and side // n >= 3.2 * figure_px
    ]
    return int(rng.choice(fits[-3:])) if fits else side


def spread(rng: np.random.Generator, side: int, gap_px: float, most: int) -> NDArray[np.float64]:
    """Return places (n, 2) at least `gap_px` apart on the torus, darts thrown at random."""
    darts = rng.uniform(0.0, side, (min(5 * most, 400), 2))
    apart = np.abs(darts[:, None] - darts[None])
    apart = np.minimum(apart, side - apart)
    close = (apart**2).sum(axis=-1) < gap_px**2
    kept: list[int] = []
    free = np.ones(len(darts), bool)
    for k in range(len(darts)):
        if free[k]:
            kept.append(k)
            free &= ~close[k]
            if len(kept) >= most:
                break
    return darts[kept]


def rows(rng: np.random.Generator, side: int, step_px: float) -> NDArray[np.float64]:
    """Return places (n, 2) on a lattice: square, brick, half drop or diamond."""
    nx = max(1, round(side / step_px))
    ny = max(1, round(side / step_px * rng.uniform(0.7, 1.4)))
    j, i = (g.ravel().astype(float) for g in np.mgrid[0:ny, 0:nx])
    if rng.random() < 0.6:
        if ny % 2 == 0:
            i = i + (j % 2) / 2
        elif nx % 2 == 0:
            j = j + (i % 2) / 2
    return np.column_stack([(i + 0.5) * side / nx, (j + 0.5) * side / ny])


def angles(rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    """Draw how figures lie: all upright, two ways, four ways, or tossed."""
    kind = rng.random()
    if kind < 0.3:
        return np.full(count, rng.normal(0.0, 0.1))
    if kind < 0.45:
        return np.asarray(rng.choice([0.0, np.pi], count))
    if kind < 0.55:
        return np.asarray(rng.choice([0.0, 0.5, 1.0, 1.5], count) * np.pi)
    return rng.uniform(0.0, 2 * np.pi, count)
