"""Words, breaks and comparisons in plan.json: read back and written again without loss."""

import json
from pathlib import Path

import jsonschema
from tests.routing.instances import leaves, stroke

from seamwalk.files.plan_file import read_plan, schema, to_document, to_route, write_plan
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Route
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.telling.told import told

MACHINE = MachineProfile()


def route() -> Route:
    """Return a route of two threads with all its words: a stroke stands apart."""
    strokes = [*leaves(3, 3), stroke("m,ü", (5.5, 5.5), (6.5, 6.5))]
    return told(plan_route(network(strokes), MACHINE), MACHINE, "in")


def test_words_are_read_back_and_written_again(tmp_path: Path) -> None:
    first = route()
    assert first.steps
    assert first.runs
    assert first.breaks
    assert first.totals.compared
    write_plan(tmp_path / "a.json", to_document(first))
    back = to_route(read_plan(tmp_path / "a.json"))
    assert (back.steps, back.runs, back.breaks) == (first.steps, first.runs, first.breaks)
    assert back.totals == first.totals
    assert audit(back, MACHINE).valid
    write_plan(tmp_path / "b.json", to_document(back))
    assert (tmp_path / "a.json").read_bytes() == (tmp_path / "b.json").read_bytes()


def test_words_fit_the_schema_and_the_contract(tmp_path: Path) -> None:
    # Field names as docs/file-formats.md gives them.
    write_plan(tmp_path / "p.json", to_document(route()))
    plan = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema()).validate(plan)
    assert all(set(s) == {"step", "text"} for s in plan["steps"])
    fields = {"thread", "first_step", "last_step", "text", "place"}
    assert all(set(r) == fields for r in plan["runs"])
    steps = {leg["step"] for thread in plan["threads"] for leg in thread}
    assert [s["step"] for s in plan["steps"]] == sorted(steps)
    for other in plan["totals"]["compared"].values():
        assert set(other) == {"minutes", "threads", "buried_ends"}


def test_an_older_plan_without_words_is_still_read(tmp_path: Path) -> None:
    write_plan(tmp_path / "p.json", to_document(route()))
    plan = json.loads((tmp_path / "p.json").read_text(encoding="utf-8"))
    for name in ("steps", "runs", "breaks"):
        del plan[name]
    del plan["totals"]["compared"]
    jsonschema.Draft202012Validator(schema()).validate(plan)
    (tmp_path / "old.json").write_text(json.dumps(plan), encoding="utf-8")
    old = to_route(read_plan(tmp_path / "old.json"))
    assert (old.steps, old.runs, old.breaks, old.totals.compared) == ((), (), (), {})
