"""The shape of top.json, version 1: what a reader may rely on and a writer must give.

Fields with a default came later than the first files: they may be missing, and fields that are
not known here are passed over, so that files of earlier and later releases can be read.

Lengths are in the file's ``units``, x to the right, y down, from the upper-left corner of the
top's bounding box.  ``…_px`` are pixels of the upright photo, the first pixel's centre at (0, 0).
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from seamwalk.model.sizes import Shape, Squareness, Verdict

SCHEMA = "seamwalk/top/1"

Finite = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
XY = tuple[Finite, Finite]
Row = tuple[Finite, Finite, Finite]
Ring = Annotated[list[XY], Field(min_length=3)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True, populate_by_name=True)


class LengthPart(_Part):
    """A length in the file's units, ± 95 %."""

    value: NotNegative
    plus_minus: NotNegative


class SignedLengthPart(_Part):
    """A length with a direction in the file's units, ± 95 %."""

    value: Finite
    plus_minus: NotNegative


class AnglePart(_Part):
    """An angle in degrees, ± 95 %."""

    value: Finite
    plus_minus: NotNegative


class ViewPart(_Part):
    """A lens, and the homography from its rays to the top in the file's units.

    pixel = centre + focal · ray · (1 + k1 r² + k2 r⁴ + k3 r⁶); radial is k1, k2, k3.
    """

    focal_px: Positive
    centre: XY
    radial: Row
    top_from_ray: tuple[Row, Row, Row]


class CameraPart(ViewPart):
    """The fitted camera.

    ``modes`` are the camera moved by one standard deviation in each independent way that the fit
    leaves open: the variance of anything computed from the camera is the sum of its squared
    changes.
    """

    rms_px: NotNegative
    modes: list[ViewPart]


class PhotoPart(_Part):
    """The photo that was measured."""

    file: str
    sha256: str
    width_px: Annotated[int, Field(gt=0)]
    height_px: Annotated[int, Field(gt=0)]
    px_per_in: Positive
    camera: CameraPart


class ScalePart(_Part):
    """What the sizes rest on, and its size in the file's units."""

    source: Literal["card", "square", "known-length", "size", "none"]
    size: NotNegative


class SizePart(_Part):
    """Overall sizes; width and height run through the middle."""

    width: LengthPart
    height: LengthPart
    edges: tuple[LengthPart, LengthPart, LengthPart, LengthPart]
    diagonals: tuple[LengthPart, LengthPart]
    corner_angles_deg: tuple[AnglePart, AnglePart, AnglePart, AnglePart]


class StraightnessPart(_Part):
    """How square and straight the top is; edges are top, right, bottom, left.

    ``skew_deg`` is positive when the upper left angle is the wider, ``taper_across_deg`` when the
    top widens downwards, ``taper_down_deg`` when it grows to the right.  ``bows`` are positive
    outwards; ``waves`` are what is left of an edge when its bow is taken out.
    """

    skew_deg: AnglePart
    taper_across_deg: AnglePart
    taper_down_deg: AnglePart
    bows: tuple[SignedLengthPart, SignedLengthPart, SignedLengthPart, SignedLengthPart]
    waves: tuple[LengthPart, LengthPart, LengthPart, LengthPart]
    verdict: Squareness


class BlockPart(_Part):
    """The unit that the top repeats across and down.

    ``origin`` is the upper left corner of the first repeat, ``share`` the share of the repeats'
    area that comes again in the neighbouring repeat.  ``angle_deg`` is the direction of the
    width, from x towards y: 45 on point.  ``name`` is what the trade calls the block, if anything.
    """

    width: LengthPart
    height: LengthPart
    finished: tuple[NotNegative, NotNegative]
    chance: Share
    columns: Annotated[int, Field(ge=1)]
    rows: Annotated[int, Field(ge=1)]
    origin: XY
    share: Share
    angle_deg: Finite = 0.0
    name: str = ""


class JunctionPart(_Part):
    """Where seams meet or turn; ``sigma`` is the standard deviation of its place, 0 unknown."""

    id: int
    xy: XY
    photo_px: XY | None = None
    sigma: NotNegative = 0.0


class SeamPart(_Part):
    """A seam or a piece of the outer edge; ``points`` only when it is curved.

    Where ``sweep_deg`` is not 0, the seam is exactly the circular arc between its ends that turns
    by so much, x towards y positive, ``points`` lie on it, and ``bow_sigma`` is the standard
    deviation of its middle across it, 0 unknown.
    """

    id: int
    ends: tuple[int, int]
    points: Annotated[list[XY], Field(min_length=2)] | None = None
    kind: Literal["seam", "edge"]
    confidence: Share
    inferred: bool = False
    left: int | None
    right: int | None
    sweep_deg: Annotated[float, Field(gt=-360, lt=360)] = 0.0
    bow_sigma: NotNegative = 0.0


class FinishedPart(_Part):
    """The nearest size on the grain, seam to seam, and how far the patch is off it.

    ``chance`` is the probability that this size and no other on the grain was meant.
    """

    size: list[NotNegative]
    off: Finite
    verdict: Verdict
    chance: Share = 1.0


class CurvePart(_Part):
    """A side of a patch that is a circular arc: its place in ``sides``, length along it, radius.

    ``inwards`` is true when it bulges into the patch.
    """

    side: Annotated[int, Field(ge=0)]
    along: LengthPart
    radius: LengthPart
    inwards: bool


class PatchPart(_Part):
    """One patch; ``sides`` run straight from corner to corner in the outline's order.

    ``curves`` says which of them are arcs, and how long these are along the seam.

    ``angles_deg`` are the inner angles at the corners; the first side starts at the first corner.
    """

    id: int
    outline: Ring
    outline_px: list[XY]
    shape: Shape
    class_name: Annotated[str, Field(alias="class")]
    fabric: str
    sides: list[LengthPart]
    finished: FinishedPart
    raw_edges: Annotated[int, Field(ge=0)]
    seams: list[int]
    angles_deg: list[AnglePart] = []
    curves: list[CurvePart] = []


class TopFile(_Part):
    """A whole top.json."""

    schema_name: Annotated[Literal["seamwalk/top/1"], Field(alias="schema")]
    units: Literal["in", "cm"]
    photo: PhotoPart | None
    scale: ScalePart
    warnings: list[str]
    size: SizePart
    outline: Ring
    raw_edges: bool
    junctions: list[JunctionPart]
    seams: list[SeamPart]
    patches: Annotated[list[PatchPart], Field(min_length=1)]
    straightness: StraightnessPart | None = None
    block: BlockPart | None = None
    advice: list[str] = []
    grain: Positive | None = None
    tolerance: NotNegative | None = None


def schema() -> dict[str, Any]:
    """Return the JSON Schema of top.json, draft 2020-12."""
    document = TopFile.model_json_schema(by_alias=True)
    document["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    document["title"] = SCHEMA
    return document
