"""What was sewn before a plan begins, in plan.json, where it is the rest of another."""

from collections.abc import Container
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from seamwalk.model.route import Begun, NodeId, PieceId


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, allow_inf_nan=False, extra="ignore")


class SewnBeforeDocument(_Part):
    """How often an edge was sewn before."""

    edge: str
    passes: Annotated[int, Field(ge=1)] = 1
    wanted: Annotated[
        bool, Field(description="it had to be sewn; now it is not required any more")
    ] = True


class BegunDocument(_Part):
    """What is done, where the needle is, and whether the first thread goes on from there."""

    done: tuple[SewnBeforeDocument, ...]
    needle: Annotated[str, Field(description="node where the needle is")]
    heading_rad: Annotated[
        float, Field(description="direction in which it came there, x towards y positive")
    ]
    thread: Annotated[
        Literal["runs", "cut"], Field(description="whether a thread hangs at the needle")
    ]
    goes_on: Annotated[
        bool, Field(description="the first thread is that one: its start is no thread end")
    ] = False
    bobbin_in: Annotated[
        float, Field(ge=0, description="path that the bobbin in the machine has sewn, inches")
    ] = 0.0


def begun_document(begun: Begun) -> BegunDocument:
    """Return what is written of `begun`."""
    return BegunDocument(
        done=tuple(
            SewnBeforeDocument(edge=name, passes=passes, wanted=name in begun.wanted)
            for name, passes in begun.done.items()
        ),
        needle=begun.needle,
        heading_rad=begun.heading_rad,
        thread="runs" if begun.runs else "cut",
        goes_on=begun.goes_on,
        bobbin_in=begun.bobbin_in,
    )


def to_begun(document: BegunDocument) -> Begun:
    """Return what `document` says."""
    return Begun(
        done={PieceId(s.edge): s.passes for s in document.done},
        wanted=frozenset(PieceId(s.edge) for s in document.done if s.wanted),
        needle=NodeId(document.needle),
        heading_rad=document.heading_rad,
        runs=document.thread == "runs",
        goes_on=document.goes_on,
        bobbin_in=document.bobbin_in,
    )


def contradiction(
    document: BegunDocument, nodes: Container[str], edges: Container[str]
) -> str | None:
    """Return what the document names that is not in its plan."""
    for sewn in document.done:
        if sewn.edge not in edges:
            return f"an edge {sewn.edge} was sewn before that is not there"
    if document.needle not in nodes:
        return f"the needle is at a node {document.needle} that is not there"
    return None
