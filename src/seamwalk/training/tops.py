"""Random pieced tops for training: pattern, set, borders, fabrics, and sewing that is not exact.

Nothing is fixed: blocks are made up from units, and each decision is drawn anew. Shares are those
of quilts as they are commonly made, from memory.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from seamwalk.training.all_over import ALL_OVERS, coloured
from seamwalk.training.applied_figures import applied
from seamwalk.training.borders import (
    EDGE,
    bordered,
    bound,
    edged,
    is_rectangle,
    plain_border,
    size,
)
from seamwalk.training.fabric_plan import dealt
from seamwalk.training.pieces import Pieces, scaled, shifted
from seamwalk.training.sets import SETS
from seamwalk.training.sewing_errors import sewn
from seamwalk.training.shared_corners import joined
from seamwalk.training.sketch import PiecedTop
from seamwalk.training.whole_blocks import BLOCKS


@dataclass(frozen=True, slots=True)
class TopSettings:
    """Sizes and shares of the tops.

    Attributes
    ----------
    patches : tuple of float
        Least and most patches aimed at, log-uniform.
    side_in : tuple of float
        Shorter and longer limit of a top's longer side, inches: doll quilt to king size.
    narrowest_in : float
        Narrowest patch aimed at, inches.
    widest_patch_in : float
        Blocks of few patches are no larger than keeps patches within this.
    all_over_share : float
        Share of tops without blocks.
    applied_share : float
        Share of tops with figures sewn onto them.
    bound_share : float
        Share of tops with a binding.
    edged_share : float
        Share of tops with a shaped edge.
    tries : int
        Designs drawn before giving up. Chance can make pieces that meet within rounding error.
    """

    patches: tuple[float, float] = (20, 1500)
    side_in: tuple[float, float] = (12, 110)
    narrowest_in: float = 0.75
    widest_patch_in: float = 16.0
    all_over_share: float = 0.24
    applied_share: float = 0.06
    bound_share: float = 0.5
    edged_share: float = 0.05
    tries: int = 20


SETTINGS = TopSettings()


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """A top as planned, all seams straight and met.

    Attributes
    ----------
    words : tuple of str
        Names of pattern, set and blocks.
    pieces : Pieces
        Inches; they tile one sheet.
    """

    words: tuple[str, ...]
    pieces: Pieces


def make_top(rng: np.random.Generator, settings: TopSettings = SETTINGS) -> PiecedTop:
    """Return a random top.

    Raises
    ------
    ValueError
        If no design of `settings.tries` forms a sheet.
    """
    trouble: ValueError | None = None
    for _ in range(settings.tries):
        pieces = design(rng, settings).pieces
        if not settings.patches[0] / 2 <= len(pieces) <= settings.patches[1] * 1.2:
            continue
        fabrics = dealt(pieces, rng)
        try:
            sheet = joined(pieces)
        except ValueError as error:
            trouble = error
            continue
        sheet = sewn(sheet, rng)
        at = (sheet.at - sheet.at.min(axis=0)).astype(np.float32)
        rings = tuple(np.split(at[sheet.index], np.cumsum(sheet.counts)[:-1]))
        return PiecedTop(rings, fabrics.astype(np.int32), at[sheet.outline])
    raise ValueError("no design forms a sheet") from trouble


def design(rng: np.random.Generator, settings: TopSettings = SETTINGS) -> Design:
    """Return a random design, sizes in inches, upper left at 0, 0."""
    low, high = settings.patches
    count = round(math.exp(rng.uniform(math.log(low), math.log(high))))
    if rng.random() < settings.all_over_share:
        words, pieces = _all_over(rng, count, settings)
    else:
        words, pieces = _of_blocks(rng, count, settings)
    pieces = shifted(
        pieces, (-float(pieces.points[:, 0].min()), -float(pieces.points[:, 1].min()))
    )
    if rng.random() < settings.applied_share:
        words, pieces = (*words, "figures"), applied(pieces, rng)
    if not is_rectangle(pieces):
        return Design(words, _of_size(pieces, settings))
    pieces = _of_size(bordered(rng, pieces), settings)
    if rng.random() < settings.edged_share:
        width = max(size(pieces)) * float(rng.uniform(0.05, 0.12))
        pieces = edged(rng, plain_border(pieces, width, "butted", EDGE), width)
        corner = pieces.points.min(axis=0)
        pieces = shifted(pieces, (-float(corner[0]), -float(corner[1])))
        return Design((*words, "shaped edge"), _of_size(pieces, settings))
    if rng.random() < settings.bound_share:
        pieces = bound(rng, pieces)
    return Design(words, pieces)


def _of_size(pieces: Pieces, settings: TopSettings) -> Pieces:
    """Return the pieces made smaller or larger where they miss the sizes of tops."""
    span = max(size(pieces))
    return scaled(pieces, float(np.clip(span, *settings.side_in)) / span)


def _drawn(rng: np.random.Generator, shares: Mapping[str, tuple[object, float]]) -> str:
    names = list(shares)
    p = np.array([shares[n][1] for n in names])
    return names[int(rng.choice(len(names), p=p / p.sum()))]


def _all_over(
    rng: np.random.Generator, count: int, settings: TopSettings
) -> tuple[tuple[str, ...], Pieces]:
    """Return a pattern without blocks, its patches from 1 to 12 inches across."""
    name = _drawn(rng, ALL_OVERS)
    aspect = float(np.exp(rng.uniform(-0.5, 0.5)))
    patch = float(np.exp(rng.uniform(math.log(1.1), math.log(12))))
    area = count * patch**2
    least, most = (
        settings.side_in[0] ** 2,
        (settings.side_in[1] * 0.9) ** 2 / max(aspect, 1 / aspect),
    )
    area = float(np.clip(area, least, most))
    count = min(count, int(area / 0.9))
    width, height = math.sqrt(area * aspect), math.sqrt(area / aspect)
    return (name,), coloured(rng, ALL_OVERS[name][0](rng, width, height, count))


def _of_blocks(
    rng: np.random.Generator, count: int, settings: TopSettings
) -> tuple[tuple[str, ...], Pieces]:
    """Return blocks in a set."""
    kinds = int(rng.choice([1, 2, 3, 6], p=[0.55, 0.28, 0.07, 0.1]))
    names = [_drawn(rng, BLOCKS) for _ in range(kinds)]
    blocks = [BLOCKS[n][0](rng) for n in names]
    arrangement = _drawn(rng, SETS)
    each = float(np.mean([len(b) for b in blocks]))
    thin = min(float(b.widths.min()) for b in blocks)
    wide = max(float(b.widths.max()) for b in blocks)
    aspect = float(np.exp(rng.uniform(-0.5, 0.5)))
    places = max(1.0, count / each)
    columns = max(1, round(math.sqrt(places * aspect)))
    rows = max(1, round(places / columns))
    low = settings.narrowest_in / thin
    most = max(1, int(settings.side_in[1] / low))
    columns, rows = min(columns, most), min(rows, most)
    long = max(columns, rows)
    low = max(low, settings.side_in[0] / long)
    high = max(low, min(settings.side_in[1] / long, settings.widest_patch_in / wide))
    # Small quilts of small patches are commoner than all sizes alike.
    block_in = low * (high / low) ** (rng.random() ** 1.8)
    pieces = SETS[arrangement][0](rng, blocks, columns, rows)
    return (arrangement, *names), scaled(pieces, block_in)
