"""What is to be stitched: strokes, before any order."""

from dataclasses import dataclass
from typing import Literal, NewType

from seamwalk.geometry.curve import Curve
from seamwalk.model.top import PatchId

StrokeId = NewType("StrokeId", str)
StrokeKind = Literal["motif", "ditch", "edge"]
Marking = Literal["circle", "ruler", "template", "eye", "none"]


@dataclass(frozen=True, slots=True)
class Stroke:
    """One curve that may be stitched.

    Strokes meet only at their ends: a place where two strokes join, cross a seam line or may be
    left is an end of each stroke there, with exactly equal coordinates.  Crossings inside a
    patch stay crossings.

    Attributes
    ----------
    id : StrokeId
        Unique in a plan.
    curve : Curve
        Exact geometry, top frame, inches.
    kind : {"motif", "ditch", "edge"}
        ``motif`` is stitched exactly once if required, at most once if not; ``ditch`` runs in
        a seam, ``edge`` in the margin outside the binding line: both at most twice.
    required : bool
        Must be stitched; otherwise it is there for travel.
    motif : str
        Name of the motif it belongs to; ``ditch`` and ``edge`` strokes for travel: empty.
    patch : PatchId or None
        Patch it belongs to.
    line : str or None
        Seam line (or ring, or row) it belongs to; strokes of a line follow one another.
    pass_no : int
        1, or 2 for the second pass of a seam line stitched on both sides.
    marking : str
        How it is marked before stitching.
    """

    id: StrokeId
    curve: Curve
    kind: StrokeKind
    required: bool
    motif: str = ""
    patch: PatchId | None = None
    line: str | None = None
    pass_no: int = 1
    marking: Marking = "none"
