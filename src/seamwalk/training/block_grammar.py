"""Blocks out of units: a grid, a symmetry, and units for the places that symmetry leaves free."""

from dataclasses import dataclass

import numpy as np

from seamwalk.training.block_units import UNITS
from seamwalk.training.pieces import Ints, Pieces, Points, of, placed, reclassed, together


@dataclass(frozen=True, slots=True)
class GrammarSettings:
    """How blocks are made up.

    Attributes
    ----------
    sides : tuple of int
        Units along a block's side.
    side_shares : tuple of float
        Share of each.
    symmetries : tuple of float
        Shares of four-fold turning, turning with mirror, mirror, half turn, translation, none.
    uneven_share : float
        Share of grids with units of different widths.
    nested_share : float
        Share of blocks in which one place holds a whole smaller block.
    """

    sides: tuple[int, ...] = (1, 2, 3, 4, 5, 6, 7)
    side_shares: tuple[float, ...] = (0.14, 0.22, 0.26, 0.22, 0.08, 0.05, 0.03)
    symmetries: tuple[float, ...] = (0.42, 0.22, 0.1, 0.08, 0.1, 0.08)
    uneven_share: float = 0.22
    nested_share: float = 0.1


SETTINGS = GrammarSettings()

_UNEVEN: tuple[tuple[int, ...], ...] = (
    (1, 2, 1),
    (2, 1, 2),
    (3, 2, 3),
    (1, 3, 1),
    (1, 1, 2, 1, 1),
    (2, 1, 1, 2),
    (1, 2, 2, 1),
)
_UNEVEN += ((1, 4, 1), (2, 1, 2, 1, 2), (1, 2), (2, 3), (1, 2, 3), (5, 2, 5), (1, 1, 4, 1, 1))
"""Widths of columns in units; a sawtooth star is 1 2 1."""

_NAMES = tuple(UNITS)
_SHARES = np.array([share for _, share in UNITS.values()])
_SHARES /= _SHARES.sum()


def grid_block(
    rng: np.random.Generator,
    most: int = 7,
    settings: GrammarSettings = SETTINGS,
) -> Pieces:
    """Return a random block of the unit square, `most` units along its side at most."""
    shares = np.array(settings.side_shares) * (np.array(settings.sides) <= most)
    n = int(rng.choice(settings.sides, p=shares / shares.sum()))
    cuts = np.linspace(0, 1, n + 1)
    if most > 2 and rng.random() < settings.uneven_share:
        widths = _UNEVEN[int(rng.integers(len(_UNEVEN)))]
        if len(widths) <= most:
            cuts = np.concatenate([[0], np.cumsum(widths)]) / sum(widths)
            n = len(widths)
    symmetry = int(rng.choice(6, p=np.array(settings.symmetries)))
    kinds = rng.choice(len(_NAMES), size=int(rng.integers(1, 4)), p=_SHARES)
    words: dict[tuple[int, int], Pieces] = {}
    parts = []
    # In a four-patch sense two-by-two blocks of one half square already make a pinwheel.
    nest = most > 3 and rng.random() < settings.nested_share
    for i in range(n):
        for j in range(n):
            key, quarter, mirrored = _asked(i, j, n, symmetry)
            if key not in words:
                words[key] = _word(rng, kinds)
                if nest and 1 < n < 5 and rng.random() < 0.4:
                    words[key] = grid_block(rng, most=3)
            size = (cuts[j + 1] - cuts[j], cuts[i + 1] - cuts[i])
            parts.append(placed(words[key], (cuts[j], cuts[i]), size, quarter, mirrored))
    return together(parts)


def checker(columns: int, rows: int) -> Pieces:
    """Return squares of two fabrics that alternate."""
    y, x = np.divmod(np.arange(columns * rows), columns)
    return rectangles(x / columns, y / rows, (x + 1) / columns, (y + 1) / rows, (x + y) % 2)


def rectangles(x0: Points, y0: Points, x1: Points, y1: Points, classes: Ints) -> Pieces:
    """Return upright rectangles of these sides (n,)."""
    points = np.stack([x0, y0, x1, y0, x1, y1, x0, y1], axis=1).reshape(-1, 2)
    n = len(x0)
    four = np.full(n, 4, dtype=np.int64)
    return Pieces(
        points.astype(float), four, classes.astype(np.int64), np.zeros(n, dtype=np.int64)
    )


def _word(rng: np.random.Generator, kinds: Ints) -> Pieces:
    """Return one unit, turned at random, its classes dealt anew."""
    name = _NAMES[int(kinds[rng.integers(len(kinds))])]
    unit = of(UNITS[name][0](rng))
    deal = (
        (0, 1, 2, 3, 4),
        (0, 1, 2, 3, 4),
        (1, 0, 2, 3, 4),
        (0, 2, 1, 3, 4),
        (2, 1, 0, 3, 4),
        (1, 2, 0, 3, 4),
    )[int(rng.integers(6))]
    unit = reclassed(unit, np.array(deal)[unit.classes])
    return placed(unit, (0, 0), (1, 1), int(rng.integers(4)))


def _asked(i: int, j: int, n: int, symmetry: int) -> tuple[tuple[int, int], int, bool]:
    """Return which place's unit lies at row i, column j, with its turn and mirror."""
    if symmetry == 0 or symmetry == 1:
        # Turn the place back into the upper left quarter, counting the quarters.
        a, b, quarter = i, j, 0
        while a >= (n + 1) // 2 or b >= n // 2 + (n % 2 and a == n // 2):
            a, b, quarter = n - 1 - b, a, quarter + 1
        mirrored = symmetry == 1 and a > b
        if mirrored:
            # Reflection in the diagonal is a mirror, then a quarter turn back.
            return (b, a), quarter + 3, True
        return (a, b), quarter, False
    if symmetry == 2:
        mirrored = j > n - 1 - j
        return (i, min(j, n - 1 - j)), 0, mirrored
    if symmetry == 3:
        back = (i, j) > (n - 1 - i, n - 1 - j)
        return (min((i, j), (n - 1 - i, n - 1 - j))), 2 if back else 0, False
    if symmetry == 4:
        return ((i + j) % 2, 0), 0, False
    return (i, j), 0, False
