"""Measured sizes with their 95 % limits."""

from dataclasses import dataclass
from typing import Literal

from seamwalk.model.top import PatchId

Shape = Literal[
    "square",
    "rectangle",
    "half-square triangle",
    "quarter-square triangle",
    "triangle",
    "parallelogram",
    "diamond",
    "kite",
    "trapezoid",
    "hexagon",
    "quarter circle",
    "curved",
    "other",
]
Verdict = Literal["right", "off", "cannot tell"]
Squareness = Literal["square", "not square", "cannot tell"]


@dataclass(frozen=True, slots=True)
class Length:
    """A measured length: ``value_in`` ± ``plus_minus_in`` (95 %), inches."""

    value_in: float
    plus_minus_in: float


@dataclass(frozen=True, slots=True)
class Angle:
    """A measured angle in degrees, ± 95 %."""

    value_deg: float
    plus_minus_deg: float


@dataclass(frozen=True, slots=True)
class Finished:
    """The nearest size on the chosen grain, seam to seam.

    Attributes
    ----------
    size_in : tuple of float
        Finished sides, in the order of the patch's sides.
    off_in : float
        Largest difference of a measured side from its finished size, signed.
    verdict : {"right", "off", "cannot tell"}
        "right" when the whole interval is within tolerance, "off" when it is outside.
    chance : float
        Probability, 0 to 1, that ``size_in`` and not another size on the grain was meant, given
        all patches of the class; 1 when sizes were not doubted.
    """

    size_in: tuple[float, ...]
    off_in: float
    verdict: Verdict
    chance: float = 1.0


@dataclass(frozen=True, slots=True)
class SideCurve:
    """A side of a patch that is a circular arc.

    Attributes
    ----------
    side : int
        Place in the patch's sides, whose length is that from corner to corner.
    along : Length
        Length along the seam.
    radius : Length
    inwards : bool
        True when it bulges into the patch.
    """

    side: int
    along: Length
    radius: Length
    inwards: bool


@dataclass(frozen=True, slots=True)
class PatchSize:
    """What is known of one patch.

    Attributes
    ----------
    sides : tuple of Length
        From corner to corner in the outline's order, starting at the outline's first corner.
    raw_edges : int
        How many sides lie on the raw edge.
    class_name : str
        Equal patches share it: shape and size, like ``square 3``.
    """

    patch: PatchId
    shape: Shape
    class_name: str
    sides: tuple[Length, ...]
    finished: Finished
    raw_edges: int
    angles: tuple[Angle, ...] = ()
    """Inner angle at each corner, in the order of the corners; the first side starts at the
    first corner.  Where a side is curved, the angle to its tangent."""
    curves: tuple[SideCurve, ...] = ()
    """The sides that are arcs; all others are straight from corner to corner."""


@dataclass(frozen=True, slots=True)
class BlockSize:
    """The unit that a top repeats across and down.

    Attributes
    ----------
    width, height : Length
        Distance from one repeat to the next, seam to seam.
    finished_in : (float, float)
        Nearest width and height on the grain, inches.
    chance : float
        Probability that ``finished_in`` was meant, 0 to 1.
    columns, rows : int
        How many whole repeats there are.
    origin_in : (float, float)
        Upper left corner of the first repeat, top frame.
    share : float
        Share of the repeats' area whose patches come again in the neighbouring repeat, 0 to 1.
    angle_deg : float
        Direction of the width, from x towards y: 45 for a top set on point, whose columns and
        rows are those of blocks point to point; else 0.
    name : str
        What the trade calls the block, "a and b" for two that alternate; empty where it has no
        name for it.
    """

    width: Length
    height: Length
    finished_in: tuple[float, float]
    chance: float
    columns: int
    rows: int
    origin_in: tuple[float, float]
    share: float
    angle_deg: float = 0.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Straightness:
    """How square and straight a top is.

    Attributes
    ----------
    skew : Angle
        How far the two main directions are from a right angle, signed: positive when the upper
        left angle is the wider.
    taper_across : Angle
        Left edge against right edge; positive when the top widens downwards.
    taper_down : Angle
        Upper edge against lower edge; positive when the top grows to the right.
    bows : four of Length
        Largest distance of each edge (top, right, bottom, left) from the straight line between
        its corners; positive outwards.
    waves : four of Length
        What is left of each edge when its bow is taken out: the largest distance from a smooth
        curve; never negative.
    verdict : {"square", "not square", "cannot tell"}
        "square" only when everything lies within two standard deviations of square and these
        are small enough to notice a top that isn't.
    """

    skew: Angle
    taper_across: Angle
    taper_down: Angle
    bows: tuple[Length, Length, Length, Length]
    waves: tuple[Length, Length, Length, Length]
    verdict: Squareness


@dataclass(frozen=True, slots=True)
class TopSize:
    """Overall sizes; edges are top, right, bottom, left; corners from the upper left, clockwise.

    Width and height run through the middle.  Diagonals are upper left to lower right, then upper
    right to lower left.
    """

    width: Length
    height: Length
    edges: tuple[Length, Length, Length, Length]
    diagonals: tuple[Length, Length]
    corner_angles: tuple[Angle, Angle, Angle, Angle]


@dataclass(frozen=True, slots=True)
class Sizes:
    """All sizes of a top; patches in the top's order."""

    patches: tuple[PatchSize, ...]
    top: TopSize
    straightness: Straightness | None = None
    block: BlockSize | None = None
    advice: tuple[str, ...] = ()
    """What a quilter does about it, and which further photo or measure would tell more; each one
    or two sentences, the weightiest first."""
    grain_in: float = 0.125
    """Finished sizes are multiples of this, inches."""
    tolerance_in: float = 0.125
    """A patch is right when all its sides are surely within this of the finished size."""
