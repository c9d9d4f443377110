"""The boundaries between the regions of a label map, followed along the cracks between pixels.

A crack is the side that two pixels share; it is a boundary where their labels differ.  Corners of
pixels where three or more boundary cracks meet are the raw junctions, runs of cracks between
them the raw chains.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points

_OPPOSITE = (2, 3, 0, 1)


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A run of cracks between two raw junctions.

    Attributes
    ----------
    ends : (int, int)
        Raw junctions; equal for the closed boundary of a top that is one patch.
    corners_px : (N + 1, 2) float64
        Pixel corners passed, both ends included, as (col, row).
    middles_px : (N, 2) float64
        Middle of each crack: they scatter evenly about a straight boundary at any angle.
    left, right : int
        Labels beside the way, seen on the page; 0 is outside.
    """

    ends: tuple[int, int]
    corners_px: Points
    left: int
    right: int

    @property
    def middles_px(self) -> Points:
        """Middle of each crack, (N, 2)."""
        return (self.corners_px[1:] + self.corners_px[:-1]) / 2


@dataclass(frozen=True, slots=True, eq=False)
class CrackMap:
    """All raw junctions and chains of a label map.

    Attributes
    ----------
    junctions_px : (V, 2) float64
        As (col, row); pixel centres are integers, so these are halves.
    chains : tuple of Chain
        In no particular order; none crosses another.
    """

    junctions_px: Points
    chains: tuple[Chain, ...]


def follow(labels: NDArray[np.int32]) -> CrackMap:
    """Return the raw map of a label map as left by :func:`seamwalk.vision.piecing_regions.tidy`.

    Notes
    -----
    Directions are 0 right, 1 down, 2 left, 3 up.  Linear in the number of cracks.
    """
    padded = np.pad(labels, 1)
    height, width = padded.shape[0] + 1, padded.shape[1] + 1
    # Corner (r, c) lies between the pixels (r - 1, c - 1) and (r, c) of the padded map.
    right = np.zeros((height, width), dtype=bool)
    down = np.zeros((height, width), dtype=bool)
    right[1:-1, :-1] = padded[1:] != padded[:-1]
    down[:-1, 1:-1] = padded[:, 1:] != padded[:, :-1]
    left = np.roll(right, 1, axis=1)
    up = np.roll(down, 1, axis=0)
    ways = (right | down << 1 | left << 2 | up << 3).astype(np.uint8)
    degree = right.astype(np.int8) + down + left + up
    junctions = np.flatnonzero(degree.ravel() >= 3)
    if not len(junctions):
        junctions = _start_of_loop(degree, width)
    number = {v: i for i, v in enumerate(junctions.tolist())}
    flat = ways.tobytes()
    steps = (1, width, -1, -width)
    used: set[int] = set()
    runs: list[tuple[list[int], int]] = []
    for v in number:
        for d in range(4):
            if not flat[v] >> d & 1 or v * 4 + d in used:
                continue
            run, first = [v], d
            at, way = v, d
            while True:
                at += steps[way]
                run.append(at)
                back = _OPPOSITE[way]
                if at in number:
                    break
                way = (flat[at] & ~(1 << back)).bit_length() - 1
            used.update((v * 4 + first, at * 4 + back))
            runs.append((run, first))
    chains = []
    for run, first in runs:
        row, col = np.divmod(np.array(run), width)
        # Padding moves by one pixel, a corner lies half a pixel before its pixel's centre.
        corners = np.column_stack([col, row]) - 1.5
        beside_left, beside_right = _beside(padded, int(row[0]), int(col[0]), first)
        ends = (number[run[0]], number[run[-1]])
        chains.append(Chain(ends, corners, beside_left, beside_right))
    row, col = np.divmod(junctions, width)
    return CrackMap(np.column_stack([col, row]) - 1.5, tuple(chains))


def _beside(padded: NDArray[np.int32], r: int, c: int, way: int) -> tuple[int, int]:
    """Return the labels left and right of the crack that leaves corner (r, c)."""
    ahead = ((r - 1, c), (r, c), (r, c - 1), (r - 1, c - 1))
    # Going right, the left-hand pixel is the one above: each quarter turn moves on by one.
    return int(padded[ahead[way]]), int(padded[ahead[(way + 1) % 4]])


def _start_of_loop(degree: NDArray[np.int8], width: int) -> NDArray[np.intp]:
    """Return the boundary corner farthest from the middle, where a lone patch turns a corner."""
    at = np.flatnonzero(degree.ravel() == 2)
    xy = np.column_stack(np.divmod(at, width)).astype(np.float64)
    far = np.argmax(((xy - xy.mean(axis=0)) ** 2).sum(axis=1))
    return at[far : far + 1]
