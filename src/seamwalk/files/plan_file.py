"""plan.json, version 1: the whole stitching, so that any program can follow or check it.

Lengths are inches in the top frame (origin at the upper-left corner of the top's bounding box, x
right, y down).  A plan stands alone: nodes, edges with sampled points whose ends repeat their
nodes' coordinates exactly, threads and totals.  Edges with arcs also carry ``curve``, the exact
geometry; readers that do not know it lose nothing but smoothness.
"""

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from seamwalk.errors import FileFormatError
from seamwalk.files.hold_document import (
    DensityDocument,
    GapsDocument,
    density_document,
    gaps_document,
)
from seamwalk.geometry.curve import Arc, Curve, Line
from seamwalk.geometry.curve import Piece as Section
from seamwalk.model.density import DensityReport
from seamwalk.model.gaps import GapReport
from seamwalk.model.route import (
    BobbinChange,
    BobbinPlace,
    Leg,
    Network,
    NodeId,
    Piece,
    PieceId,
    Route,
    Thread,
    Totals,
)
from seamwalk.model.stitching import Marking, Stroke, StrokeId, StrokeKind
from seamwalk.model.top import PatchId

SCHEMA: Literal["seamwalk/plan/1"] = "seamwalk/plan/1"

NEAR_IN = 1e-6
"""Ends of points may be this far from their node in a file of another program, inches."""

INNER_DECIMALS = 6
"""Decimals of sampled points inside an arc: far finer than thread, half the file."""

XY = tuple[float, float]


class _Part(BaseModel):
    model_config = ConfigDict(
        frozen=True, allow_inf_nan=False, populate_by_name=True, extra="ignore"
    )


class TopReference(_Part):
    """The top.json that the plan was made from."""

    name: str = ""
    sha256: str = ""


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


class LegDocument(_Part):
    """An edge sewn in one direction."""

    edge: str
    reverse: bool
    step: Annotated[int, Field(ge=0)] = 0


class BobbinChangeDocument(_Part):
    """Where the bobbin is changed before it runs out."""

    thread: Annotated[int, Field(ge=0, description="counted from 0")]
    leg: Annotated[int, Field(ge=0, description="before this leg of the thread, from 0")]
    step: Annotated[int, Field(ge=0, description="the step of that leg")] = 0
    at: XY
    sewn_in: Annotated[float, Field(ge=0, description="stitched until then, inches")]
    where: BobbinPlace


class TotalsDocument(_Part):
    """Sums of the route; lengths in inches, minutes by cause."""

    threads: int
    buried_ends: int
    edge_ends: int
    stitched_in: float
    doubled_in: float
    travel_in: float = 0.0
    pivots: int
    turning_deg: float
    quilt_turns: int
    minutes: dict[str, float]
    thread_yd: float
    bobbins: int
    lower_bounds: dict[str, float] = Field(default_factory=dict)


class PlanDocument(_Part):
    """A whole plan.json."""

    schema_: Annotated[Literal["seamwalk/plan/1"], Field(alias="schema")] = SCHEMA
    units: Literal["in"] = "in"
    top: TopReference = TopReference()
    settings: dict[str, Any] = Field(default_factory=dict)
    nodes: dict[str, XY]
    edges: tuple[EdgeDocument, ...]
    threads: tuple[tuple[LegDocument, ...], ...]
    totals: TotalsDocument
    bobbin_changes: tuple[BobbinChangeDocument, ...] = ()
    gaps: GapsDocument | None = None
    density: DensityDocument | None = None

    @model_validator(mode="after")
    def _hangs_together(self) -> "PlanDocument":
        seen: set[str] = set()
        for e in self.edges:
            if e.id in seen:
                raise ValueError(f"two edges are called {e.id}")
            seen.add(e.id)
            for node, point in ((e.u, e.points[0]), (e.v, e.points[-1])):
                if node not in self.nodes:
                    raise ValueError(f"edge {e.id} names a node {node} that is not there")
                if math.dist(self.nodes[node], point) > NEAR_IN:
                    raise ValueError(f"edge {e.id} does not end at node {node}")
        for thread in self.threads:
            for leg in thread:
                if leg.edge not in seen:
                    raise ValueError(f"a thread names an edge {leg.edge} that is not there")
        for b in self.bobbin_changes:
            if b.thread >= len(self.threads) or b.leg >= len(self.threads[b.thread]):
                raise ValueError("a bobbin change names a leg that is not there")
        return self


def to_document(
    route: Route,
    *,
    top_name: str = "",
    top_sha256: str = "",
    settings: Mapping[str, Any] | None = None,
    gaps: GapReport | None = None,
    density: DensityReport | None = None,
) -> PlanDocument:
    """Return the plan.json of a route.

    Parameters
    ----------
    route : Route
        What to write.
    top_name, top_sha256 : str
        File name and SHA-256 of the top.json it was made from.
    settings : mapping, optional
        All that the run used; plain JSON values.
    gaps, density : optional
        What was found of them.
    """
    network = route.network
    return PlanDocument(
        top=TopReference(name=top_name, sha256=top_sha256),
        settings=dict(settings or {}),
        nodes={str(n): xy for n, xy in network.nodes.items()},
        edges=tuple(_edge(p) for p in network.pieces.values()),
        threads=tuple(
            tuple(LegDocument(edge=g.piece, reverse=g.reverse, step=g.step) for g in t.legs)
            for t in route.threads
        ),
        totals=TotalsDocument(**asdict(route.totals)),
        bobbin_changes=tuple(BobbinChangeDocument(**asdict(b)) for b in route.bobbin_changes),
        gaps=None if gaps is None else gaps_document(gaps),
        density=None if density is None else density_document(density),
    )


def _edge(piece: Piece) -> EdgeDocument:
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


def to_route(document: PlanDocument) -> Route:
    """Return the route that a plan describes; ends of curves are put exactly on their nodes."""
    nodes = {NodeId(n): xy for n, xy in document.nodes.items()}
    pieces: dict[PieceId, Piece] = {}
    for e in document.edges:
        curve = _curve(e, nodes[NodeId(e.u)], nodes[NodeId(e.v)])
        stroke = Stroke(
            id=StrokeId(e.stroke or e.id),
            curve=curve,
            kind=e.kind,
            required=e.required,
            motif=e.motif,
            patch=None if e.patch is None else PatchId(e.patch),
            line=e.line,
            pass_no=e.pass_no,
            marking=e.marking,
        )
        pieces[PieceId(e.id)] = Piece(PieceId(e.id), NodeId(e.u), NodeId(e.v), curve, stroke)
    threads = tuple(
        Thread(tuple(Leg(PieceId(g.edge), g.reverse, g.step) for g in thread))
        for thread in document.threads
    )
    totals = Totals(**document.totals.model_dump())
    changes = tuple(BobbinChange(**b.model_dump()) for b in document.bobbin_changes)
    return Route(Network(nodes, pieces), threads, totals, changes)


def _curve(edge: EdgeDocument, u: XY, v: XY) -> Curve:
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


def write_plan(path: Path, document: PlanDocument) -> None:
    """Write `document` to `path`, one node, edge and thread a line.

    Nothing is touched if the document cannot be written as JSON.
    """
    path.write_text("".join(_lines(document)), encoding="utf-8", newline="\n")


def _lines(document: PlanDocument) -> Iterator[str]:
    data = document.model_dump(mode="json", by_alias=True, exclude_none=True)

    def text(value: object) -> str:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    yield "{\n"
    for i, (key, value) in enumerate(data.items()):
        comma = ",\n" if i else ""
        if key in ("edges", "threads") and value:
            yield f'{comma}"{key}": [\n' + ",\n".join(text(v) for v in value) + "\n]"
        elif key == "nodes" and value:
            rows = ",\n".join(f"{text(k)}: {text(v)}" for k, v in value.items())
            yield f'{comma}"nodes": {{\n{rows}\n}}'
        else:
            yield f'{comma}"{key}": {text(value)}'
    yield "\n}\n"


def read_plan(path: Path) -> PlanDocument:
    """Return the plan in a file.

    Raises
    ------
    FileFormatError
        If the file is missing, is not a plan.json, is of another version, or contradicts
        itself.
    """
    name = Path(path).name
    remake = "Make the plan again with “seamwalk plan”, or choose another file."
    try:
        data = json.loads(Path(path).read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise FileFormatError(f"There is no file {name}.", "Check the name.") from None
    except (OSError, UnicodeDecodeError, json.JSONDecodeError, RecursionError):
        raise FileFormatError(f"{name} cannot be read as JSON.", remake) from None
    if not isinstance(data, dict) or "schema" not in data:
        raise FileFormatError(f"{name} does not say that it is a plan.", remake)
    if data["schema"] != SCHEMA:
        raise FileFormatError(
            f"{name} is of the kind “{str(data['schema'])[:60]}”, not “{SCHEMA}”.", remake
        )
    try:
        return PlanDocument.model_validate(data)
    except ValidationError as problem:
        first = problem.errors(include_url=False, include_context=False)[0]
        place = ".".join(str(k) for k in first["loc"])
        what = f"{place}: {first['msg']}" if place else first["msg"]
        raise FileFormatError(f"{name} is not a valid plan ({what}).", remake) from None


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of plan.json, version 1."""
    out = PlanDocument.model_json_schema(by_alias=True)
    out["required"] = sorted({*out.get("required", ()), "schema"})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "seamwalk plan, version 1",
    } | {k: v for k, v in out.items() if k != "title"}
