"""Which round thing marks which arcs."""

from dataclasses import dataclass
from typing import Literal

from seamwalk.model.top import PatchId

Over = Literal["sides", "seams", "diagonals", "rows", "strands"]
CircleVerdict = Literal["fits", "too small", "too deep", "too flat", "too large"]


@dataclass(frozen=True, slots=True)
class ArcClass:
    """Arcs of a motif over chords of nearly equal length, so that one circle marks them all.

    Arcs in ``rows`` or ``strands`` have no chords that are given: scales are as wide as their
    circle, and a strand's arcs are fitted to it.  Their chord is the circle wished for, their rise
    half of it.

    Attributes
    ----------
    motif : str
        Name of the motif.
    over : {"sides", "seams", "diagonals", "rows", "strands"}
        What the arcs are drawn over, or lie in.
    patches : tuple of PatchId
        Where they are, in order; empty for arcs along seams.
    count : int
        Arcs, each drawn once.
    chord_in, longest_in : float
        Middle and longest distance from end to end, inches.
    wish_in : float
        Rise over the middle chord that the motif asks for, inches.
    least_in, most_in : float
        Rise over the middle chord below which an arc is no arc, and above which one of them
        would leave its patch, pass half way or be too tight for the foot, inches.
    overlap_in : float or None
        Rise over the middle chord above which equal neighbours cross near a corner, inches;
        None where no equal neighbour starts from the same corner.
    facing_in : float or None
        Rise at which equal arcs on facing sides of a patch meet in its middle, inches; None where
        no equal arcs face one another.
    """

    motif: str
    over: Over
    patches: tuple[PatchId, ...]
    count: int
    chord_in: float
    longest_in: float
    wish_in: float
    least_in: float
    most_in: float
    overlap_in: float | None = None
    facing_in: float | None = None

    @property
    def free(self) -> bool:
        """The arcs take whatever size their circle has."""
        return self.over in ("rows", "strands")


@dataclass(frozen=True, slots=True)
class CircleTry:
    """What one circle would do for one class of arcs.

    Attributes
    ----------
    diameter_in : float
        The circle.
    rise_in : float or None
        Over the class's middle chord; None when the circle does not reach both ends of every
        chord, and where the class has no chords.
    overlap : bool or None
        True when equal arcs cross, near a corner or in the middle of a narrow patch; None when
        that can't be.
    verdict : str
        Whether it is within the limits, or which one it breaks.
    """

    diameter_in: float
    rise_in: float | None
    overlap: bool | None
    verdict: CircleVerdict


@dataclass(frozen=True, slots=True)
class ClassCircle:
    """The circle for one class of arcs.

    Attributes
    ----------
    arcs : ArcClass
        The class.
    circle : CircleTry or None
        The one to draw round; None when none of the circles fits, so that a template is needed.
    smaller, larger : CircleTry or None
        The next circles of the list, to compare; None at the list's ends.
    """

    arcs: ArcClass
    circle: CircleTry | None
    smaller: CircleTry | None
    larger: CircleTry | None


@dataclass(frozen=True, slots=True)
class CircleChoice:
    """Circles for all classes of arcs, as few different ones as there can be.

    Attributes
    ----------
    classes : tuple of ClassCircle
        In the order of the classes.
    deviation : float
        What was made least among choices of as few circles: the sum over all arcs of
        the distance of ln(rise / wish) from zero.
    """

    classes: tuple[ClassCircle, ...]
    deviation: float

    @property
    def diameters_in(self) -> tuple[float, ...]:
        """The different circles, smallest first, inches."""
        return tuple(sorted({c.circle.diameter_in for c in self.classes if c.circle is not None}))
