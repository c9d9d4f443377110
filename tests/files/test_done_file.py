"""done.json, and what plan.json says of what was done before it."""

import json

import jsonschema
import pytest
from tests.routing.instances import arches

from seamwalk.errors import FileFormatError
from seamwalk.files.done_file import DoneDocument, SewnDocument, read_done, schema, write_done
from seamwalk.files.plan_file import read_plan, to_document, to_route, write_plan
from seamwalk.files.plan_file import schema as plan_schema
from seamwalk.model.machine import MachineProfile
from seamwalk.routing.graph import network
from seamwalk.routing.rest.done import Said, progress
from seamwalk.routing.rest.rest import plan_rest
from seamwalk.routing.route import plan_route

WHOLE = DoneDocument(
    plan_sha256="0" * 64,
    done=(SewnDocument(edge="a"), SewnDocument(edge="d", passes=2), SewnDocument(edge="a")),
    needle=(1.5, 2.0),
    thread="runs",
)


def test_what_is_read_is_what_was_written(tmp_path):
    path = tmp_path / "done.json"
    write_done(path, WHOLE)
    assert read_done(path) == WHOLE
    assert WHOLE.passes == {"a": 2, "d": 2}
    jsonschema.Draft202012Validator(schema()).validate(json.loads(path.read_text()))


def test_the_least_that_a_file_must_say(tmp_path):
    path = tmp_path / "done.json"
    path.write_text('{"schema": "seamwalk/done/1", "done": [{"edge": "a"}], "later": 1}')
    found = read_done(path)
    assert found.passes == {"a": 1}
    assert (found.needle, found.thread) == (None, None)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "cannot be read as JSON"),
        ("[]", "does not say"),
        ('{"schema": "seamwalk/done/2", "done": []}', "seamwalk/done/2"),
        ('{"schema": "seamwalk/done/1"}', "“done” is missing"),
        ('{"schema": "seamwalk/done/1", "done": [{"edge": "a", "passes": 0}]}', "passes"),
        ('{"schema": "seamwalk/done/1", "done": [], "thread": "torn"}', "thread"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(tmp_path, text, what):
    path = tmp_path / "done.json"
    path.write_text(text)
    with pytest.raises(FileFormatError, match=what):
        read_done(path)


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(FileFormatError, match=r"no file gone\.json"):
        read_done(tmp_path / "gone.json")


@pytest.fixture(scope="module")
def rest():
    machine = MachineProfile()
    here = progress(plan_route(network(arches(3, 3)), machine), Said(done_to=9))
    return plan_rest(here.network, machine, here.begun, here.earlier).route


def test_a_plan_that_was_begun_says_what_was_done(rest, tmp_path):
    path = tmp_path / "plan.json"
    write_plan(path, to_document(rest))
    data = json.loads(path.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(plan_schema()).validate(data)
    required = {e["id"]: e["required"] for e in data["edges"]}
    for sewn in data["begun"]["done"]:
        assert sewn["passes"] == 1
        assert not required[sewn["edge"]]
    assert to_route(read_plan(path)) == rest


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"needle": "n99"}, "needle is at a node n99"),
        ({"done": [{"edge": "zz"}]}, "edge zz was sewn before"),
    ],
)
def test_a_plan_whose_beginning_is_not_its_own_is_refused(rest, tmp_path, change, what):
    data = to_document(rest).model_dump(mode="json", by_alias=True, exclude_none=True)
    data["begun"] |= change
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(data))
    with pytest.raises(FileFormatError, match=what):
        read_plan(path)
