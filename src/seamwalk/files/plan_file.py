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

from pydantic import BaseModel, ConfigDict, Field, model_validator

from seamwalk.files.begun_document import (
    BegunDocument,
    begun_document,
    contradiction,
    to_begun,
)
from seamwalk.files.document_reading import read_document
from seamwalk.files.edge_document import EdgeDocument, edge_document, to_curve
from seamwalk.files.hold_document import (
    DensityDocument,
    GapsDocument,
    density_document,
    gaps_document,
)
from seamwalk.files.order_document import OrderDocument, order_document, to_orders
from seamwalk.files.words_document import OtherWayDocument, RunDocument, StepDocument
from seamwalk.model.density import DensityReport
from seamwalk.model.gaps import GapReport
from seamwalk.model.route import (
    BobbinChange,
    BobbinPlace,
    Leg,
    Network,
    NodeId,
    OtherWay,
    Piece,
    PieceId,
    Route,
    RunWords,
    StepWords,
    Thread,
    Totals,
)
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import PatchId

SCHEMA: Literal["seamwalk/plan/1"] = "seamwalk/plan/1"

NEAR_IN = 1e-6
"""Ends of points may be this far from their node in a file of another program, inches."""

XY = tuple[float, float]


class _Part(BaseModel):
    model_config = ConfigDict(
        frozen=True, allow_inf_nan=False, populate_by_name=True, extra="ignore"
    )


class TopReference(_Part):
    """The top.json that the plan was made from."""

    name: str = ""
    sha256: str = ""


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
    compared: Annotated[
        dict[str, OtherWayDocument],
        Field(description="the same sewn patch by patch and line by line"),
    ] = Field(default_factory=dict)


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
    steps: Annotated[
        tuple[StepDocument, ...], Field(description="every step of every thread, in words")
    ] = ()
    runs: Annotated[
        tuple[RunDocument, ...],
        Field(description="the path in fewer words: each thread's start, its runs, its end"),
    ] = ()
    breaks: Annotated[tuple[str, ...], Field(description="why there is more than one thread")] = ()
    order: OrderDocument | None = None
    gaps: GapsDocument | None = None
    density: DensityDocument | None = None
    begun: Annotated[
        BegunDocument | None,
        Field(description="what was sewn before, where the plan is the rest of another"),
    ] = None

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
        self._refuse_jumps()
        for b in self.bobbin_changes:
            if b.thread >= len(self.threads) or b.leg >= len(self.threads[b.thread]):
                raise ValueError("a bobbin change names a leg that is not there")
        wrong = None if self.begun is None else contradiction(self.begun, self.nodes, seen)
        if wrong:
            raise ValueError(wrong)
        return self

    def _refuse_jumps(self) -> None:
        ends = {e.id: (e.u, e.v) for e in self.edges}
        for t, thread in enumerate(self.threads, start=1):
            here: str | None = None
            for leg in thread:
                start, end = ends[leg.edge][::-1] if leg.reverse else ends[leg.edge]
                if here not in (None, start):
                    raise ValueError(
                        f"the needle jumps from node {here} to node {start} in thread {t}, "
                        f"before edge {leg.edge}"
                    )
                here = end


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
        edges=tuple(edge_document(p) for p in network.pieces.values()),
        threads=tuple(
            tuple(LegDocument(edge=g.piece, reverse=g.reverse, step=g.step) for g in t.legs)
            for t in route.threads
        ),
        totals=TotalsDocument(**asdict(route.totals)),
        bobbin_changes=tuple(BobbinChangeDocument(**asdict(b)) for b in route.bobbin_changes),
        steps=tuple(StepDocument(**asdict(s)) for s in route.steps),
        runs=tuple(RunDocument(**asdict(r)) for r in route.runs),
        breaks=route.breaks,
        order=order_document(route),
        gaps=None if gaps is None else gaps_document(gaps),
        density=None if density is None else density_document(density),
        begun=None if route.begun is None else begun_document(route.begun),
    )


def to_route(document: PlanDocument) -> Route:
    """Return the route that a plan describes; ends of curves are put exactly on their nodes."""
    nodes = {NodeId(n): xy for n, xy in document.nodes.items()}
    pieces: dict[PieceId, Piece] = {}
    for e in document.edges:
        curve = to_curve(e, nodes[NodeId(e.u)], nodes[NodeId(e.v)])
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
    sums = document.totals.model_dump()
    sums["compared"] = {name: OtherWay(**w) for name, w in sums["compared"].items()}
    totals = Totals(**sums)
    order, orders = to_orders(document.order)
    changes = tuple(BobbinChange(**b.model_dump()) for b in document.bobbin_changes)
    return Route(
        Network(nodes, pieces),
        threads,
        totals,
        changes,
        steps=tuple(StepWords(**s.model_dump()) for s in document.steps),
        runs=tuple(RunWords(**r.model_dump()) for r in document.runs),
        breaks=document.breaks,
        order=order,
        orders=orders,
        begun=None if document.begun is None else to_begun(document.begun),
    )


def write_plan(path: Path, document: PlanDocument) -> None:
    """Write `document` to `path`, one node, edge, thread, step and run a line.

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
        if key in ("edges", "threads", "steps", "runs") and value:
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
    return read_document(
        path,
        PlanDocument,
        SCHEMA,
        what="a plan",
        cure="Make the plan again with “seamwalk plan”, or choose another file.",
    )


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of plan.json, version 1."""
    out = PlanDocument.model_json_schema(by_alias=True)
    out["required"] = sorted({*out.get("required", ()), "schema"})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "seamwalk plan, version 1",
    } | {k: v for k, v in out.items() if k != "title"}
