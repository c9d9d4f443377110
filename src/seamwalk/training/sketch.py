"""What the workers hand to the renderer: geometry and truth of one picture, no colours yet."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

TARGETS = ("seam", "top", "object", "junction", "cos", "sin")
"""Truth planes, in this order; `cos` and `sin` of twice the seam's direction, 128 for zero."""

GRID = 33
"""Nodes along each side of `Sketch.plane`."""

ROW = 24
"""Numbers in one row of `Sketch.cloth`: see `ClothRow`."""

MOST_ROWS = 4096
"""Most labels in one sketch."""


@dataclass(frozen=True, slots=True)
class Ingredients:
    """What the recipe of the training pictures holds; each can be left out to see its worth.

    Attributes
    ----------
    relief : bool
        Seam allowances pressed to one side, lit from the side.
    own_print : bool
        Every patch is laid with its own place on the print; without it, patches of one fabric
        continue each other's print.
    lines : bool
        Quilting lines and creases that are no seams.
    printed_patchwork : bool
        Prints with straight edges, pictures and lettering that are no seams.
    floors : bool
        Floors with planks, tiles, prints; without it plain ones.
    objects : bool
        Reference cards and stray things on and beside the top.
    sharpness : bool
        Blur, noise, compression and resampling of many kinds; without it a mild blur.
    curves : bool
        Puckers, bumps and lens, which bend seams.
    """

    relief: bool = True
    own_print: bool = True
    lines: bool = True
    printed_patchwork: bool = True
    floors: bool = True
    objects: bool = True
    sharpness: bool = True
    curves: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class PiecedTop:
    """A top as sewn, in inches, x right and y down.

    Attributes
    ----------
    rings : tuple of (n, 2) float32
        Outline of each patch; neighbours share corners exactly, patches tile the outline.
    roles : (N,) int32
        Patches of one role are cut from one fabric.
    outline : (n, 2) float32
        Outer edge.
    """

    rings: tuple[NDArray[np.float32], ...]
    roles: NDArray[np.int32]
    outline: NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Sketch:
    """Geometry and truth of one square picture of side S pixels.

    Attributes
    ----------
    labels : (2S, 2S) uint16
        Row of `cloth` that each half pixel shows; row 0 is the floor.
    relief : (S, S) uint8
        Thickness under the cloth (pressed allowances), 1/16 of a layer.
    grooves : (S, S) uint8
        Depth of quilting lines and creases, 0 none to 255.
    shade : (S, S) uint8
        Light that reaches the place, 255 all of it: cast shadows of things and of people.
    targets : (S, S, 6) uint8
        Truth planes in the order of `TARGETS`.
    plane : (GRID, GRID, 2) float32
        Inches on the floor shown at (row, column) nodes spread evenly from edge to edge of the
        picture, bumps and lens included.
    cloth : (L, ROW) float32
        One row for every label.
    light : (64,) float32
        Light, camera and file, as :class:`seamwalk.training.light.Light` packs them.
    """

    labels: NDArray[np.uint16]
    relief: NDArray[np.uint8]
    grooves: NDArray[np.uint8]
    shade: NDArray[np.uint8]
    targets: NDArray[np.uint8]
    plane: NDArray[np.float32]
    cloth: NDArray[np.float32]
    light: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class ClothRow:
    """Where the numbers of one row of `Sketch.cloth` stand.

    Attributes
    ----------
    swatch : int
        Column of the swatch's number in the renderer's store.
    affine : slice
        Six columns a, b, c, d, e, f: swatch pixel = (a x + b y + c, d x + e y + f) of plane
        inches x, y, wrapped round.
    colour : slice
        Twelve columns, a 3 × 4 matrix by rows: colour = M · (r, g, b, 1) in sRGB, 0 to 1.
    gloss : int
        Column of the share of light mirrored, 0 to 1.
    kind : int
        Column: 0 floor, 1 cloth of the top, 2 object.
    """

    swatch: int = 0
    affine: ClassVar[slice] = slice(1, 7)
    colour: ClassVar[slice] = slice(7, 19)
    gloss: int = 19
    kind: int = 20
