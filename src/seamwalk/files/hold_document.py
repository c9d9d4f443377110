"""Gaps and density in plan.json: whether the stitching holds the batting, and how evenly it lies.

Lengths are inches, densities inches of stitching on a square inch.
"""

import math
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from seamwalk.model.density import DensityReport, Evenness
from seamwalk.model.gaps import EmptyCircle, GapReport
from seamwalk.model.top import PatchId

XY = tuple[float, float]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, allow_inf_nan=False, extra="ignore")


class CircleDocument(_Part):
    """A circle that touches stitching but has none inside."""

    at: XY
    across: float
    patch: int


class GapPlaceDocument(_Part):
    """Equal patches with one motif whose gap is too wide."""

    class_: Annotated[str, Field(alias="class")]
    motif: str
    circles: Annotated[
        tuple[CircleDocument, ...], Field(description="of each patch, the widest first")
    ]
    closed_by: Annotated[
        str | None, Field(description="a wish that was tried and leaves no gap too wide")
    ] = None
    left: Annotated[float | None, Field(description="widest gap that it leaves there")] = None


class GapsDocument(_Part):
    """The widest gap, and where gaps are wider than the batting stands."""

    limit: float
    assumed: Annotated[bool, Field(description="no batting was named")] = False
    largest: CircleDocument
    places: tuple[GapPlaceDocument, ...] = ()


class EvennessDocument(_Part):
    """Stitching on a square inch, and how evenly it lies."""

    mean: float
    sparse: Annotated[float, Field(description="5 % of the cloth have less")]
    dense: Annotated[float, Field(description="5 % of the cloth have more")]
    variation: Annotated[float, Field(description="standard deviation over mean")]


class RegionDocument(EvennessDocument):
    """The patches that one choice of motif covers."""

    motif: str
    patches: tuple[int, ...]


class DensityDocument(_Part):
    """Density over the top, averaged over `across`."""

    across: float
    whole: EvennessDocument
    regions: tuple[RegionDocument, ...]
    between_regions: Annotated[
        float | None, Field(description="densest over sparsest region; null where that has none")
    ]
    between_ends: Annotated[
        float | None, Field(description="densest over sparsest part of the top, 24 in wide")
    ]
    lopsided: bool


def gaps_document(report: GapReport) -> GapsDocument:
    """Return the gaps as written in plan.json."""
    places = tuple(
        GapPlaceDocument.model_validate(
            {
                "class": place.class_name,
                "motif": place.motif,
                "circles": tuple(_circle(c) for c in place.circles),
                "closed_by": None if place.closing is None else place.closing.wish,
                "left": None if place.closing is None else round(place.closing.left_in, 4),
            }
        )
        for place in report.places
    )
    return GapsDocument(
        limit=report.limit_in,
        assumed=report.assumed,
        largest=_circle(report.largest),
        places=places,
    )


def density_document(report: DensityReport) -> DensityDocument:
    """Return the density as written in plan.json."""
    return DensityDocument(
        across=report.map.across_in,
        whole=EvennessDocument(**_even(report.whole)),
        regions=tuple(
            RegionDocument(motif=r.motif, patches=_numbers(r.patches), **_even(r.evenness))
            for r in report.regions
        ),
        between_regions=_times(report.between_regions),
        between_ends=_times(report.between_ends),
        lopsided=report.lopsided,
    )


def _circle(circle: EmptyCircle) -> CircleDocument:
    x, y = circle.centre
    return CircleDocument(
        at=(round(x, 4), round(y, 4)), across=round(circle.across_in, 4), patch=circle.patch
    )


def _even(found: Evenness) -> dict[str, float]:
    return {
        "mean": round(found.mean, 4),
        "sparse": round(found.sparse, 4),
        "dense": round(found.dense, 4),
        "variation": round(found.variation, 4),
    }


def _numbers(patches: tuple[PatchId, ...]) -> tuple[int, ...]:
    return tuple(int(p) for p in patches)


def _times(ratio: float) -> float | None:
    return round(ratio, 3) if math.isfinite(ratio) else None
