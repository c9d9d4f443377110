"""Where a patch lies, so that its number can be found on the top: its block, or by the tape."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from seamwalk.geometry.curve import Point
from seamwalk.model.route import Network
from seamwalk.model.sizes import BlockSize
from seamwalk.model.top import PatchId
from seamwalk.routing.telling.directions import Box
from seamwalk.units import Units, from_inches

Cell = tuple[int, int]
"""Column and row of a block, from 0."""


@dataclass(frozen=True, slots=True, eq=False)
class PatchPlaces:
    """Places of all patches that are stitched in.

    Attributes
    ----------
    centre : dict
        Middle of what is stitched in each patch.
    box : (left, top, right, bottom)
        Of the outermost nodes, inches; distances are told from there.
    block : BlockSize or None
        What the top repeats, in columns and rows along its edges.
    """

    centre: dict[PatchId, Point]
    box: Box
    block: BlockSize | None
    units: Units

    def cell(self, at: Point) -> Cell | None:
        """Return the block that a place lies in; None outside the blocks."""
        if self.block is None:
            return None
        (x, y), (x0, y0) = at, self.block.origin_in
        column = math.floor((x - x0) / self.block.width.value_in)
        row = math.floor((y - y0) / self.block.height.value_in)
        inside = 0 <= column < self.block.columns and 0 <= row < self.block.rows
        return (column, row) if inside else None

    def words(self, patches: Iterable[PatchId]) -> str:
        """Return where patches lie that are one run: their block, the first and last of several.

        Where one of these is in no block, it is told how far the first patch is.
        """
        known = [self.centre[p] for p in patches if p in self.centre]
        if not known:
            return ""
        first, last = self.cell(known[0]), self.cell(known[-1])
        if first is not None and last is not None:
            return block_words(first) + (f", to {block_words(last)}" if last != first else "")
        (x, y), (left, top, _, _) = known[0], self.box
        return f"{self._whole(x - left)} from the left, {self._whole(y - top)} from the top"

    def _whole(self, value_in: float) -> str:
        """Return a distance as near as one needs to find a patch by it."""
        return f"{from_inches(value_in, self.units):.0f} {self.units}"


def block_words(cell: Cell) -> str:
    """Return a block as it is counted: columns from the left, rows from the top."""
    return f"block {cell[0] + 1} across, {cell[1] + 1} down"


def patch_places(
    network: Network, box: Box, units: Units, block: BlockSize | None = None
) -> PatchPlaces:
    """Return where the patches of a network lie.

    Blocks set on point are not counted: their columns run aslant, and no finger follows them.
    """
    ends: dict[PatchId, list[Point]] = {}
    for piece in network.pieces.values():
        patch = piece.stroke.patch
        if patch is not None and piece.stroke.kind == "motif":
            ends.setdefault(patch, []).extend(network.nodes[n] for n in (piece.u, piece.v))
    centre = {}
    for patch, places in ends.items():
        xs, ys = [x for x, _ in places], [y for _, y in places]
        centre[patch] = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
    counted = block is not None and not block.angle_deg and block.columns * block.rows > 1
    return PatchPlaces(centre, box, block if counted else None, units)
