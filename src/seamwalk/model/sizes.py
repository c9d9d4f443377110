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
    "other",
]
Verdict = Literal["right", "off", "cannot tell"]


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
    """

    size_in: tuple[float, ...]
    off_in: float
    verdict: Verdict


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


@dataclass(frozen=True, slots=True)
class TopSize:
    """Overall sizes; edges are top, right, bottom, left; corners from the upper left, clockwise.

    Diagonals are upper left to lower right, then upper right to lower left.
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
