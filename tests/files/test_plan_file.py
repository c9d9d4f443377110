"""plan.json: written whole, read back the same, refused with a reason when it is broken."""

import dataclasses
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from tests.routing.instances import arches, irregular, leaves, stroke
from tests.routing.rules import broken_rules

from seamwalk.errors import FileFormatError
from seamwalk.files.plan_file import (
    PlanDocument,
    read_plan,
    schema,
    to_document,
    to_route,
    write_plan,
)
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Route
from seamwalk.model.top import PatchId
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route

MACHINE = MachineProfile()


def route() -> Route:
    """Return a route with arcs and lines, and words in every field."""
    strokes = [
        dataclasses.replace(s, patch=PatchId(k), line=f"line “{k}”", marking="circle", pass_no=2)
        if s.required
        else s
        for k, s in enumerate([*arches(3, 2), stroke("m,ü", (0, 0), (4, 4))])
    ]
    return plan_route(network(strokes), MACHINE)


def document() -> PlanDocument:
    return to_document(
        route(), top_name="top.json", top_sha256="0" * 64, settings=dataclasses.asdict(MACHINE)
    )


def test_what_is_read_is_what_was_written(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    write_plan(path, document())
    back = read_plan(path)
    assert back == document()
    again, first = to_route(back), route()
    assert again.network.nodes == first.network.nodes
    assert again.threads == first.threads
    assert again.totals == first.totals
    for name, piece in first.network.pieces.items():
        twin = again.network.pieces[name]
        assert twin.curve == piece.curve  # arcs to the last bit
        assert (twin.u, twin.v) == (piece.u, piece.v)
        assert dataclasses.replace(twin.stroke, curve=piece.stroke.curve) == piece.stroke
    assert audit(again, MACHINE).valid


@pytest.mark.parametrize("strokes", [leaves(3, 3), irregular(30, np.random.default_rng(1))])
def test_the_file_keeps_the_rules(strokes: list[Any], tmp_path: Path) -> None:
    write_plan(tmp_path / "p.json", to_document(plan_route(network(strokes), MACHINE)))
    plan = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    assert broken_rules(plan) == []


def test_the_contract_field_by_field(tmp_path: Path) -> None:
    # The fields that the design's contract of plan.json, version 1, names.
    write_plan(tmp_path / "p.json", document())
    plan = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    assert plan["schema"] == "seamwalk/plan/1"
    assert plan["top"] == {"name": "top.json", "sha256": "0" * 64}
    assert plan["settings"]["throat_in"] == 8.0
    for e in plan["edges"]:
        assert {"id", "u", "v", "kind", "required", "points", "motif", "marking"} <= set(e)
        assert e["kind"] in ("motif", "ditch", "edge")
        assert plan["nodes"][e["u"]] == e["points"][0]
        assert plan["nodes"][e["v"]] == e["points"][-1]
        if e["required"]:
            assert {"patch", "line"} <= set(e)
    for leg in (leg for thread in plan["threads"] for leg in thread):
        assert set(leg) == {"edge", "reverse", "step"}
    assert {
        "threads", "buried_ends", "edge_ends", "stitched_in", "doubled_in", "pivots",
        "turning_deg", "quilt_turns", "minutes", "thread_yd", "bobbins", "lower_bounds",
    } <= set(plan["totals"])  # fmt: skip


def test_the_file_fits_its_schema(tmp_path: Path) -> None:
    write_plan(tmp_path / "p.json", document())
    plan = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema())
    checker = jsonschema.Draft202012Validator(schema())
    checker.validate(plan)
    for broken in (
        {**plan, "schema": "seamwalk/plan/2"},
        {k: v for k, v in plan.items() if k != "threads"},
        {k: v for k, v in plan.items() if k != "schema"},
        {**plan, "edges": [{**plan["edges"][0], "kind": "glue"}]},
    ):
        assert not checker.is_valid(broken)


def test_sampled_arcs_stay_near_the_true_arc() -> None:
    # A third of a thread's width, and the rounding of inner points.
    first = route()
    for e in document().edges:
        piece = first.network.pieces[e.id]  # type: ignore[index]
        inches = sum(
            float(np.hypot(b[0] - a[0], b[1] - a[1]))
            for a, b in zip(e.points, e.points[1:], strict=False)
        )
        assert inches == pytest.approx(piece.curve.length, rel=0.005)
        assert inches <= piece.curve.length + 1e-4


def edited(change: Callable[[dict[str, Any]], object]) -> str:
    plan = document().model_dump(mode="json", by_alias=True, exclude_none=True)
    change(plan)
    return json.dumps(plan)


BROKEN: dict[str, tuple[str, str]] = {
    "not JSON": ("{", "cannot be read as JSON"),
    "not text": ("\udcff", "cannot be read as JSON"),
    "a list": ("[]", "does not say"),
    "another kind": ('{"schema": "seamwalk/top/1"}', "not “seamwalk/plan/1”"),
    "another version": ('{"schema": "seamwalk/plan/2"}', "seamwalk/plan/2"),
    "nothing else": ('{"schema": "seamwalk/plan/1"}', "nodes"),
    "an unknown node": (edited(lambda p: p["edges"][0].update(u="zz")), "node zz"),
    "an end elsewhere": (edited(lambda p: p["edges"][0]["points"][0].reverse() or
        p["edges"][0]["points"][0].__setitem__(0, 77.0)), "does not end at"),
    "an edge twice": (edited(lambda p: p["edges"].append(p["edges"][0])), "two edges"),
    "an unknown edge": (edited(lambda p: p["threads"][0][0].update(edge="zz")), "edge zz"),
    "not a number": (edited(lambda p: p["totals"].update(stitched_in="far")), "stitched_in"),
    "infinity": (edited(lambda p: p["totals"].update(stitched_in=float("inf"))), "stitched_in"),
    "one point": (edited(lambda p: p["edges"][0].update(points=[[0, 0]])), "points"),
}  # fmt: skip


@pytest.mark.parametrize("kind", BROKEN)
def test_broken_files_are_refused_in_one_sentence(kind: str, tmp_path: Path) -> None:
    text, word = BROKEN[kind]
    path = tmp_path / "plan.json"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    with pytest.raises(FileFormatError) as caught:
        read_plan(path)
    assert word in caught.value.seen
    assert "plan.json" in caught.value.seen
    assert "\n" not in caught.value.seen
    # Words of the library that checks the fields.
    assert "alue error" not in caught.value.seen
    assert "Input" not in caught.value.seen
    assert caught.value.advice


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match=r"no file gone\.json"):
        read_plan(tmp_path / "gone.json")


def test_unknown_fields_of_other_programs_are_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_text(edited(lambda p: p.update(note="mine")), encoding="utf-8")
    assert read_plan(path) == document()


def test_a_write_that_fails_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_text("old", encoding="utf-8")
    bad = document().model_copy(update={"settings": {"x": object()}})
    with pytest.raises(ValueError, match="object"):
        write_plan(path, bad)
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["plan.json"]


def test_changes_of_bobbin_are_kept(tmp_path: Path) -> None:
    machine = dataclasses.replace(MACHINE, bobbin_m=5.0)
    first = plan_route(network(leaves(3, 3)), machine)
    assert first.bobbin_changes
    write_plan(tmp_path / "p.json", to_document(first))
    text = (tmp_path / "p.json").read_text(encoding="utf-8")
    jsonschema.Draft202012Validator(schema()).validate(json.loads(text))
    again = to_route(read_plan(tmp_path / "p.json"))
    assert again.bobbin_changes == first.bobbin_changes
    assert audit(again, machine).valid
    # Files of earlier releases have none.
    plan = json.loads(text)
    del plan["bobbin_changes"]
    (tmp_path / "old.json").write_text(json.dumps(plan), encoding="utf-8")
    assert to_route(read_plan(tmp_path / "old.json")).bobbin_changes == ()
    plan["bobbin_changes"] = [
        {"thread": 99, "leg": 0, "at": [0, 0], "sewn_in": 1, "where": "margin"}
    ]
    (tmp_path / "odd.json").write_text(json.dumps(plan), encoding="utf-8")
    with pytest.raises(FileFormatError, match="leg that is not there"):
        read_plan(tmp_path / "odd.json")
