"""An edge of plan.json: a piece with its exact curve, and points for those who need no more."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from seamwalk.geometry.curve import Arc, Curve, Line
from seamwalk.geometry.curve import Piece as Section
from seamwalk.model.route import Piece
from seamwalk.model.stitching import Marking, StrokeKind

INNER_DECIMALS = 6
"""Decimals of sampled points inside an arc: far finer than thread, half the file."""

XY = tuple[float, float]


class _Part(BaseModel):
    model_config = ConfigDict(
        frozen=True, allow_inf_nan=False, populate_by_name=True, extra="ignore"
    )


class SectionDocument(_Part):
    """A straight or circular part of a curve, from where the one before it ends."""

    to: XY
    centre: Annotated[XY | None, Field(description="of the arc; absent for a straight part")] = (
        None
    )
    sweep_rad: Annotated[
        float | None,
        Field(description="turn of the arc, x towards y positive; absent for a straight part"),
    ] = None


class EdgeDocument(_Part):
    """A piece that is or may be stitched."""

    id: str
    u: Annotated[str, Field(description="node where points start")]
    v: Annotated[str, Field(description="node where points end")]
    kind: StrokeKind
    required: bool
    points: Annotated[tuple[XY, ...], Field(min_length=2)]
    curve: Annotated[
        tuple[SectionDocument, ...] | None,
        Field(description="exact geometry from node u on, where the edge has arcs"),
    ] = None
    motif: str = ""
    patch: int | None = None
    line: str | None = None
    pass_no: Annotated[int, Field(alias="pass", ge=1)] = 1
    marking: Marking = "none"
    stroke: Annotated[str, Field(description="the stroke that this edge is part of")] = ""


def edge_document(piece: Piece) -> EdgeDocument:
    """Return a piece as an edge."""
    stroke, curve = piece.stroke, piece.curve
    exact = None
    points = [(x, y) for x, y in curve.sampled().tolist()]
    if any(isinstance(s, Arc) for s in curve):
        exact = tuple(
            SectionDocument(to=s.end, centre=s.centre, sweep_rad=s.sweep_rad)
            if isinstance(s, Arc)
            else SectionDocument(to=s.end)
            for s in curve
        )
        inner = [(round(x, INNER_DECIMALS), round(y, INNER_DECIMALS)) for x, y in points[1:-1]]
        points = [points[0], *inner, points[-1]]
    return EdgeDocument(
        id=piece.id,
        u=piece.u,
        v=piece.v,
        kind=stroke.kind,
        required=stroke.required,
        points=tuple(points),
        curve=exact,
        motif=stroke.motif,
        patch=stroke.patch,
        line=stroke.line,
        pass_no=stroke.pass_no,
        marking=stroke.marking,
        stroke=stroke.id,
    )


def to_curve(edge: EdgeDocument, u: XY, v: XY) -> Curve:
    """Return the exact curve of an edge, from node to node."""
    if edge.curve is None:
        return Curve.through([u, *edge.points[1:-1], v])
    sections: list[Section] = []
    at = u
    for i, s in enumerate(edge.curve):
        end = v if i == len(edge.curve) - 1 else s.to
        if s.centre is not None and s.sweep_rad is not None:
            sections.append(Arc(at, end, s.centre, s.sweep_rad))
        else:
            sections.append(Line(at, end))
        at = end
    return Curve(tuple(sections))
