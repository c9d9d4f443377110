"""done.json, version 1: what was sewn of a plan, kept by whatever program follows her.

It names edges of one plan.json and counts passes since that plan was made; what the plan itself
says was done before is not repeated.
"""

import json
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from seamwalk.files.document_reading import read_document

SCHEMA: Literal["seamwalk/done/1"] = "seamwalk/done/1"

XY = tuple[float, float]


class _Part(BaseModel):
    model_config = ConfigDict(
        frozen=True, allow_inf_nan=False, populate_by_name=True, extra="ignore"
    )


class SewnDocument(_Part):
    """How often an edge was sewn."""

    edge: str
    passes: Annotated[int, Field(ge=1)] = 1


class DoneDocument(_Part):
    """A whole done.json."""

    schema_: Annotated[Literal["seamwalk/done/1"], Field(alias="schema")] = SCHEMA
    units: Literal["in"] = "in"
    plan_sha256: Annotated[
        str, Field(description="SHA-256 of the plan.json that is followed; empty: not known")
    ] = ""
    done: Annotated[
        tuple[SewnDocument, ...], Field(description="in any order; passes since the plan was made")
    ]
    needle: Annotated[
        str | XY | None,
        Field(description="a node, or x and y; absent: where the last leg done ends"),
    ] = None
    thread: Annotated[
        Literal["runs", "cut"] | None,
        Field(description="absent: it runs in the middle of a thread"),
    ] = None

    @property
    def passes(self) -> dict[str, int]:
        """Passes by edge."""
        out: dict[str, int] = {}
        for sewn in self.done:
            out[sewn.edge] = out.get(sewn.edge, 0) + sewn.passes
        return out


def write_done(path: Path, document: DoneDocument) -> None:
    """Write `document` to `path`."""
    data = document.model_dump(mode="json", by_alias=True, exclude_none=True)
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, indent=1)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def read_done(path: Path) -> DoneDocument:
    """Return what is done, from a file.

    Raises
    ------
    FileFormatError
        If the file is missing, is not a done.json, or is of another version.
    """
    return read_document(
        path,
        DoneDocument,
        SCHEMA,
        what="a list of what is done",
        cure="Save it again in the program that it comes from, or say --done-to instead.",
    )


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of done.json, version 1."""
    out = DoneDocument.model_json_schema(by_alias=True)
    out["required"] = sorted({*out.get("required", ()), "schema"})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "seamwalk done, version 1",
    } | {k: v for k, v in out.items() if k != "title"}
