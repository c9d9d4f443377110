"""What has to be marked before stitching, and with what."""

from dataclasses import dataclass

from seamwalk.model.stitching import Marking
from seamwalk.model.top import PatchId


@dataclass(frozen=True, slots=True)
class MarkingStep:
    """Everything that is marked with one tool in one go.

    Attributes
    ----------
    tool : {"circle", "ruler", "template", "eye", "none"}
        What it is drawn with; "eye" is stitched without a mark, "none" follows a seam.
    motif : str
        Name of the motif.
    count : int
        Arcs, or lines that run on.
    length_in : float
        Of all of them together, inches.
    diameter_in : float or None
        Of the circle that is drawn round, or that a template is made with, inches; None where
        it is no single circle.
    patches : tuple of PatchId
        Where, in order; empty for what runs along seams.
    """

    tool: Marking
    motif: str
    count: int
    length_in: float
    diameter_in: float | None = None
    patches: tuple[PatchId, ...] = ()


@dataclass(frozen=True, slots=True)
class MarkingGuide:
    """All that is stitched for its look, by what it is marked with.

    Attributes
    ----------
    steps : tuple of MarkingStep
        In the order of marking; what needs no mark comes last.
    """

    steps: tuple[MarkingStep, ...]

    @property
    def to_mark(self) -> tuple[MarkingStep, ...]:
        """The steps that leave a mark on the cloth."""
        return tuple(s for s in self.steps if s.tool in ("circle", "ruler", "template"))

    @property
    def marked_in(self) -> float:
        """Length of all marks, inches."""
        return sum(s.length_in for s in self.to_mark)
