"""Which motif goes where."""

from dataclasses import dataclass
from typing import Literal

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
    """

    patches: tuple[PatchId, ...]
    motif: str
    depth_in: float | None = None
    spacing_in: float | None = None
    angle_deg: float | None = None
    edge: EdgeChoice = "none"
