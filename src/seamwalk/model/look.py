"""A whole look for a top: its words, and what sewing it takes."""

from dataclasses import dataclass
from typing import Literal

from seamwalk.model.density import Evenness
from seamwalk.model.gaps import EmptyCircle
from seamwalk.model.marking import MarkingGuide
from seamwalk.model.route import Route

LookName = Literal["quickest", "in between", "most work"]

SQ_IN_PER_SQ_FT = 144.0


@dataclass(frozen=True, slots=True)
class Look:
    """A look, planned.

    Attributes
    ----------
    name : {"quickest", "in between", "most work"}
        What it is among its like, by the time at the machine.
    wishes : tuple of str
        As on the command line; they give exactly this look again.
    route : Route
        The path.
    guide : MarkingGuide
        What is marked.
    widest : EmptyCircle
        Largest circle without stitching.
    kept : bool
        No circle without stitching is wider than the batting stands.
    evenness : Evenness
        How dense the stitching is, and how evenly it lies.
    warnings : tuple of str
        Whole sentences.
    """

    name: LookName
    wishes: tuple[str, ...]
    route: Route
    guide: MarkingGuide
    widest: EmptyCircle
    kept: bool
    evenness: Evenness
    warnings: tuple[str, ...] = ()

    @property
    def minutes(self) -> float:
        """Time at the machine."""
        return sum(self.route.totals.minutes.values())

    @property
    def in_per_sqft(self) -> float:
        """Inches of path over a square foot of cloth."""
        return self.evenness.mean * SQ_IN_PER_SQ_FT

    @property
    def arcs(self) -> int:
        """How many arcs are drawn."""
        return sum(s.count for s in self.guide.to_mark if s.diameter_in is not None)

    @property
    def ruled(self) -> int:
        """How many lines are ruled."""
        return sum(s.count for s in self.guide.to_mark if s.diameter_in is None)
