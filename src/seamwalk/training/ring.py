"""Memory shared by the workers and the trainer: sketches and swatches, no copies, no locks.

Every slot has one writer (its worker) and one reader (the trainer). A flag says whose turn it is:
only the worker turns it up, only the trainer turns it down, each after its own work is done. So
no lock is needed, and a worker that dies leaves nobody waiting for one.
"""

import math
import mmap

import numpy as np
from numpy.typing import DTypeLike, NDArray

from seamwalk.training.sketch import GRID, MOST_ROWS, ROW, TARGETS, Sketch

SWATCH_SIDE = 384
"""Side of a swatch, pixels."""

LIGHT = 64
"""Numbers in `Sketch.light`."""


def shared(shape: tuple[int, ...], dtype: DTypeLike) -> NDArray[np.generic]:
    """Return zeros in memory that processes forked later share."""
    kind = np.dtype(dtype)
    count = math.prod(shape)
    memory = mmap.mmap(-1, max(1, count * kind.itemsize))
    return np.frombuffer(memory, kind, count).reshape(shape)


def layout(side: int) -> dict[str, tuple[tuple[int, ...], str]]:
    """Return shape and type of every field of a sketch of `side` pixels.

    Labels are int16: they number 4,096 at most, and torch computes little on uint16.
    """
    return {
        "labels": ((2 * side, 2 * side), "int16"),
        "relief": ((side, side), "uint8"),
        "grooves": ((side, side), "uint8"),
        "shade": ((side, side), "uint8"),
        "targets": ((side, side, len(TARGETS)), "uint8"),
        "plane": ((GRID, GRID, 2), "float32"),
        "cloth": ((MOST_ROWS, ROW), "float32"),
        "light": ((LIGHT,), "float32"),
    }


class Slots:
    """Places for sketches of one size.

    Parameters
    ----------
    count : int
    side : int
        Pixels.

    Attributes
    ----------
    fields : dict of (count, ...) arrays
        By the names of `layout`.
    rows : (count,) int32
        Rows of cloth in use.
    full : (count,) uint8
        1 while the sketch waits for the trainer.
    """

    def __init__(self, count: int, side: int) -> None:
        self.side = side
        self.fields = {n: shared((count, *s), t) for n, (s, t) in layout(side).items()}
        self.rows = shared((count,), "int32")
        self.full = shared((count,), "uint8")

    def put(self, slot: int, sketch: Sketch) -> None:
        """Write a sketch and turn the flag up.

        Raises
        ------
        ValueError
            The sketch is of another size than the slots, has too many rows, or holds numbers
            that are none.
        """
        rows = len(sketch.cloth)
        if sketch.relief.shape != (self.side, self.side) or rows > MOST_ROWS:
            raise ValueError(f"A sketch of shape {sketch.relief.shape}, {rows} rows won't fit.")
        if not all(np.isfinite(v).all() for v in (sketch.plane, sketch.cloth, sketch.light)):
            raise ValueError("The sketch's plane, cloth or light holds numbers that are none.")
        for name, array in self.fields.items():
            value = getattr(sketch, name)
            if name == "labels":
                array[slot] = value.view(np.int16)
            elif name == "cloth":
                array[slot, :rows] = value
            else:
                array[slot] = value
        self.rows[slot] = rows
        self.full[slot] = 1

    def get(self, slot: int) -> Sketch:
        """Return a copy of a slot's sketch; the flag stays."""
        rows = int(self.rows[slot])
        found = {name: np.array(array[slot]) for name, array in self.fields.items()}
        found["labels"] = found["labels"].view(np.uint16)
        found["cloth"] = found["cloth"][:rows]
        return Sketch(**found)


class Pages:
    """Swatches in shared memory, each redrawn now and then.

    Parameters
    ----------
    count : int

    Attributes
    ----------
    swatches : (count, 384, 384, 3) uint8
    fresh : (count,) uint8
        1 while the swatch waits for the trainer.
    turns : (count,) int64
        How often each was drawn.
    """

    def __init__(self, count: int) -> None:
        self.swatches = shared((count, SWATCH_SIDE, SWATCH_SIDE, 3), "uint8")
        self.fresh = shared((count,), "uint8")
        self.turns = shared((count,), "int64")

    def put(self, page: int, swatch: NDArray[np.uint8]) -> None:
        """Write a swatch and turn the flag up."""
        self.swatches[page] = swatch
        self.turns[page] = int(self.turns[page]) + 1
        self.fresh[page] = 1
