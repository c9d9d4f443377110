"""What a design is made of: pieces, blocks moved into place, borders sewn round."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from seamwalk.scenes.planar_map import Piece

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Layout:
    """How large a design is to be.

    Attributes
    ----------
    columns, rows : int
        Blocks across and down.
    block_in : float
        Finished side of one block, inches.
    """

    columns: int
    rows: int
    block_in: float


@dataclass(frozen=True, slots=True)
class Pattern:
    """A whole design, finished sizes, upper left at 0, 0.

    Attributes
    ----------
    trimmed : bool
        True when the outer edge is a straight cut through the pieces, so that no seam
        allowance can be told apart outside.
    """

    pieces: tuple[Piece, ...]
    width_in: float
    height_in: float
    trimmed: bool = False


def rect(x: float, y: float, width: float, height: float, role: str) -> Piece:
    """Return a rectangle with its upper left at (x, y)."""
    return Piece(((x, y), (x + width, y), (x + width, y + height), (x, y + height)), role)


def half_squares(x: float, y: float, side: float, roles: tuple[str, str], way: str) -> list[Piece]:
    r"""Return a square of two triangles; the first role lies above the diagonal.

    Parameters
    ----------
    way : {"/", "\\"}
        How the diagonal runs on the page.
    """
    a, b, c, d = (x, y), (x + side, y), (x + side, y + side), (x, y + side)
    if way == "\\":
        return [Piece((a, b, c), roles[0]), Piece((a, c, d), roles[1])]
    return [Piece((a, b, d), roles[0]), Piece((b, c, d), roles[1])]


def moved(
    pieces: Iterable[Piece], shift: Point, quarter_turns: int = 0, side: float = 0.0
) -> list[Piece]:
    """Return pieces of a square block turned by quarters (x towards y) and shifted.

    Parameters
    ----------
    side : float
        Side of the block, inches, needed when it turns.
    """

    def put(p: Point) -> Point:
        x, y = p
        for _ in range(quarter_turns % 4):
            x, y = side - y, x
        return (x + shift[0], y + shift[1])

    return [Piece(tuple(put(p) for p in q.corners), q.role, q.sweeps) for q in pieces]


def turned(pieces: Iterable[Piece], angle_deg: float) -> list[Piece]:
    """Return the pieces turned about 0, 0, x towards y."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return [
        Piece(tuple((c * x - s * y, s * x + c * y) for x, y in p.corners), p.role, p.sweeps)
        for p in pieces
    ]


def bordered(pattern: Pattern, width_in: float, role: str = "border") -> Pattern:
    """Return the pattern with four strips round it: sides first, then top and bottom."""
    if width_in <= 0:
        return pattern
    w, h, b = pattern.width_in, pattern.height_in, width_in
    strips = [
        rect(0, b, b, h, role),
        rect(w + b, b, b, h, role),
        rect(0, 0, w + 2 * b, b, role),
        rect(0, h + b, w + 2 * b, b, role),
    ]
    inner = moved(pattern.pieces, (b, b))
    return Pattern((*inner, *strips), w + 2 * b, h + 2 * b)


def choose(rng: np.random.Generator, words: tuple[str, ...]) -> str:
    """Return one of the words."""
    return words[int(rng.integers(len(words)))]
