"""The blocks of a top: the group of patches that comes again, and where it lies.

A block is told by its seams and by which of its patches share a fabric; the fabrics themselves may
change from place to place.  What belongs to no block is left over, with its part in the setting
where that is plain: border, sashing, cornerstone, setting triangle.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from seamwalk.geometry.congruence import Pose, posed
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Shape
from seamwalk.model.top import PatchId

SettingRole = Literal["border", "sashing", "cornerstone", "setting triangle", ""]


@dataclass(frozen=True, slots=True)
class Member:
    """One patch of a block.

    Attributes
    ----------
    corners : tuple of (x, y)
        In the unit's frame, inches: upper left at 0, 0, x right, y down.
    shape : str
        As in :mod:`seamwalk.model.sizes`.
    role : int
        Members with the same number share a fabric in every placement; -1 where fabrics are not
        known.
    """

    corners: tuple[tuple[float, float], ...]
    shape: Shape
    role: int = -1


@dataclass(frozen=True, slots=True)
class Block:
    """A unit that a top repeats.

    Attributes
    ----------
    name : str
        What the trade calls it; empty where its geometry is none that has a common name.
    width_in, height_in : float
        Measured, seam to seam, the middle one of all placements.
    """

    name: str
    width_in: float
    height_in: float
    members: tuple[Member, ...]


@dataclass(frozen=True, slots=True)
class Placement:
    """Where one block lies.

    Attributes
    ----------
    block : int
        Index of the block in its plan.
    patches : tuple of PatchId or None
        In the order of the block's members; None where the map shows no such patch.
    origin_in : (float, float)
        Where the unit's own upper left corner came to lie, top frame.
    quarter_turns : int
        0 to 3, x towards y, after mirroring.
    mirrored : bool
        Left and right exchanged before turning.
    """

    block: int
    patches: tuple[PatchId | None, ...]
    origin_in: tuple[float, float]
    quarter_turns: int = 0
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class Leftover:
    """A patch of no block, with its part in the setting; empty where that is not plain."""

    patch: PatchId
    role: SettingRole = ""


@dataclass(frozen=True, slots=True)
class BlockPlan:
    """All blocks of a top, and what is left over; every patch is in exactly one place.

    Attributes
    ----------
    blocks : tuple of Block
        Largest share of the top first; empty where nothing repeats.
    angle_deg : float
        Direction of the blocks' width before their quarter turns, x towards y: 45 on point.
    """

    blocks: tuple[Block, ...] = ()
    placements: tuple[Placement, ...] = ()
    leftover: tuple[Leftover, ...] = ()
    angle_deg: float = 0.0

    def placed(self, placement: Placement, points: Points) -> Points:
        """Return points (N, 2) of the placement's unit in the top frame, inches."""
        pose = Pose(placement.quarter_turns, placement.mirrored)
        a = np.radians(self.angle_deg)
        turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        out: Points = posed(points, pose) @ turn + np.array(placement.origin_in)
        return out
