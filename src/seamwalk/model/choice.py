"""Which motif goes where."""

from dataclasses import dataclass
from typing import Literal

from seamwalk.model.stitching import Marking
from seamwalk.model.top import PatchId

EdgeChoice = Literal["none", "arch", "line"]


@dataclass(frozen=True, slots=True)
class MotifChoice:
    """Patches covered as one by a motif; None leaves a measure to the motif.

    Attributes
    ----------
    patches : tuple of PatchId
        Covered as one: equal shapes among them get equal arcs, and lines run on through them.
    motif : str
        Name of the motif, like ``arches``.
    depth_in : float or None
        Rise of arcs, or distance of an outline from the seam, inches.
    spacing_in : float or None
        Distance between lines or rings, inches.
    angle_deg : float or None
        Direction of lines, degrees from x towards y.
    edge : {"none", "arch", "line"}
        What runs along the outer side of a patch at the edge of the top.
    circles_in : tuple of (float or None)
        Diameters to draw the motif's classes of arcs with, in the order of the classes that its
        plan names, inches; None for a class that needs a template.  Empty while no circles are
        chosen.
    """

    patches: tuple[PatchId, ...]
    motif: str
    depth_in: float | None = None
    spacing_in: float | None = None
    angle_deg: float | None = None
    edge: EdgeChoice = "none"
    circles_in: tuple[float | None, ...] = ()

    def circle(self, number: int) -> tuple[float | None, Marking]:
        """Return diameter and marking of class `number`, counted from 0.

        None stands for the look that the motif wishes for: no circle is chosen, or none fits.
        """
        if number >= len(self.circles_in):
            return None, "circle"
        diameter = self.circles_in[number]
        return diameter, "template" if diameter is None else "circle"
