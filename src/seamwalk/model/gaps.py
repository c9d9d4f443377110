"""Where there is no stitching: the largest circles between lines, and what would close them."""

from dataclasses import dataclass

from seamwalk.geometry.curve import Point
from seamwalk.model.top import PatchId


@dataclass(frozen=True, slots=True)
class EmptyCircle:
    """A circle that touches stitching but has none inside.

    Attributes
    ----------
    centre : Point
        Top frame, inches.
    radius_in : float
        Distance of the centre from the nearest stitch, inches.
    patch : PatchId
        Patch that the centre lies in.
    """

    centre: Point
    radius_in: float
    patch: PatchId

    @property
    def across_in(self) -> float:
        """Diameter, which makers of batting call the distance between lines."""
        return 2 * self.radius_in


@dataclass(frozen=True, slots=True)
class Closing:
    """A change of motif that closes a gap, tried before it is named.

    Attributes
    ----------
    wish : str
        As on the command line, like ``square 3=outline spacing=1 1/2``.
    left_in : float
        Diameter of the largest circle that it leaves there, inches.
    """

    wish: str
    left_in: float


@dataclass(frozen=True, slots=True)
class GapPlace:
    """Equal patches with the same motif whose gap is too wide.

    Attributes
    ----------
    circles : tuple of EmptyCircle
        The largest of each patch, largest first.
    class_name : str
        Of the patches.
    motif : str
        That they have.
    closing : Closing or None
        What would close it; None where nothing that was tried does.
    """

    circles: tuple[EmptyCircle, ...]
    class_name: str
    motif: str
    closing: Closing | None = None

    @property
    def largest(self) -> EmptyCircle:
        """The largest of them."""
        return self.circles[0]


@dataclass(frozen=True, slots=True)
class GapReport:
    """How wide the gaps between the stitching are.

    Attributes
    ----------
    limit_in : float
        Widest gap that the batting stands, inches across.
    largest : EmptyCircle
        Largest circle inside the binding line that has no stitch in it.
    places : tuple of GapPlace
        Where gaps are wider than the limit, the widest first; empty if nowhere.
    assumed : bool
        The limit is the least that makers state: no batting was named.
    """

    limit_in: float
    largest: EmptyCircle
    places: tuple[GapPlace, ...] = ()
    assumed: bool = False

    @property
    def holds(self) -> bool:
        """True if no gap is wider than the batting stands."""
        return not self.places
