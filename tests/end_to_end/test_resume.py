"""`seamwalk resume` on the command line: the rest of a plan, nothing of hers lost."""

import hashlib
import json
import re

import pytest
from tests.motifs.tops import grid, sizes_of
from tests.routing.instances import arches
from tests.routing.rules import broken_rules

from seamwalk.cli import run
from seamwalk.files.plan_file import read_plan, to_document, to_route, write_plan
from seamwalk.files.top_file import write_top
from seamwalk.model.machine import MachineProfile
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route


def _json(path):
    return json.loads(path.read_text(encoding="utf-8"))


@pytest.fixture
def quilt(tmp_path):
    """Return a folder with a plan and nothing else."""
    strokes = [
        # Names without commas, as motifs give them.
        type(s)(s.id.replace(",", "-"), s.curve, s.kind, s.required, s.motif)
        for s in arches(4, 4)
    ]
    folder = tmp_path / "quilt"
    folder.mkdir()
    route = plan_route(network(strokes), MachineProfile())
    write_plan(folder / "plan.json", to_document(route, settings={"machine": {"throat_in": 7.0}}))
    return folder


def _resume(quilt, out, *words):
    return run(["resume", str(quilt), "--out", str(out), *words])


def _checked(path):
    assert broken_rules(_json(path)) == []
    route = to_route(read_plan(path))
    report = audit(route, MachineProfile(throat_in=7.0))
    assert report.valid, report.errors
    return route


def test_the_rest_of_a_plan(quilt, tmp_path, capsys):
    old = (quilt / "plan.json").read_bytes()
    assert _resume(quilt, tmp_path / "rest", "--done-to", "9") == 0
    assert (quilt / "plan.json").read_bytes() == old
    assert [p.name for p in (tmp_path / "rest").iterdir()] == ["plan.json"]
    rest = _checked(tmp_path / "rest" / "plan.json")
    plan = to_route(read_plan(quilt / "plan.json"))
    done = {leg.piece for t in plan.threads for leg in t.legs if leg.step <= 9}
    assert rest.begun.done.keys() == done
    assert not done & {leg.piece for t in rest.threads for leg in t.legs}
    said = " ".join(capsys.readouterr().out.split())
    assert f"{len(done)} pieces are done, {64 - len(done)} left." in said
    assert "the thread runs on" in said
    assert "no top.json beside the plan" in said


def test_into_the_folder_of_the_plan(quilt, capsys):
    # She wrote on what hangs beside the machine: nothing of it may be lost.
    for name in ("guide.txt", "overlay.jpg", "path.svg"):
        (quilt / name).write_text("hers")
    old = (quilt / "plan.json").read_bytes()
    assert _resume(quilt, quilt, "--done-to", "9") == 0
    assert (quilt / "plan-1.json").read_bytes() == old
    assert "kept as plan-1.json" in capsys.readouterr().out
    new = (quilt / "plan.json").read_bytes()
    assert _resume(quilt / "plan.json", quilt, "--done-to", "3") == 0
    assert (quilt / "plan-1.json").read_bytes() == old
    assert (quilt / "plan-2.json").read_bytes() == new
    # There is no top to draw the rest on: hers would look as if it showed the rest.
    for name in ("guide", "overlay", "path"):
        (there,) = quilt.glob(f"{name}*")
        assert there.stem == f"{name}-1"
        assert there.read_text() == "hers"
    assert len(_checked(quilt / "plan.json").begun.done) > len(
        to_route(read_plan(quilt / "plan-2.json")).begun.done
    )


def test_what_was_sewed_instead_and_what_was_left_out(quilt, tmp_path, capsys):
    plan = to_route(read_plan(quilt / "plan.json"))
    legs = [leg for t in plan.threads for leg in t.legs]
    later = [leg for leg in legs if leg.step > 9]
    words = ["--done-to", "9", "--not-done", f"2, {legs[20].piece}", "--json"]
    words += ["--sewed", f"{later[3].piece} {later[4].piece}", "--also-done", later[-1].piece]
    assert _resume(quilt, tmp_path / "rest", *words) == 0
    told = json.loads(capsys.readouterr().out)
    rest = _checked(tmp_path / "rest" / "plan.json")
    left_out = {leg.piece for leg in legs if leg.step == 2} | {legs[20].piece}
    done = {leg.piece for leg in legs if leg.step <= 9} - left_out
    done |= {later[k].piece for k in (3, 4, -1)}
    assert rest.begun.done.keys() == done
    assert left_out <= {leg.piece for t in rest.threads for leg in t.legs}
    assert told["seconds"] <= told["seconds_before"]
    assert told["files"] == [str(tmp_path / "rest" / "plan.json")]


def test_what_a_program_kept(quilt, tmp_path):
    plan = _json(quilt / "plan.json")
    legs = plan["threads"][0][:11]
    edges = {e["id"]: e for e in plan["edges"]}
    end = edges[legs[-1]["edge"]]["u" if legs[-1]["reverse"] else "v"]
    done = {
        "schema": "seamwalk/done/1",
        "done": [{"edge": g["edge"], "passes": 1} for g in legs],
        "needle": end,
        "thread": "cut",
    }
    file = tmp_path / "done.json"
    file.write_text(json.dumps(done))
    assert _resume(quilt, tmp_path / "rest", "--done", str(file)) == 0
    rest = _checked(tmp_path / "rest" / "plan.json")
    assert rest.begun.done == {g["edge"]: 1 for g in legs}
    assert (rest.begun.needle, rest.begun.runs) == (end, False)
    assert _resume(quilt, tmp_path / "rest", "--done", str(file), "--thread", "runs") == 0
    assert _checked(tmp_path / "rest" / "plan.json").begun.runs


@pytest.mark.parametrize("needle", ["10.16, 20.32", "10,16; 20,32"])
def test_the_needle_in_centimetres(needle, quilt, tmp_path):
    words = ["--done-to", "9", "--needle", needle, "--units", "cm"]
    assert _resume(quilt, tmp_path / "rest", *words) == 0
    rest = _checked(tmp_path / "rest" / "plan.json")
    assert rest.network.nodes[rest.begun.needle] == (4.0, 8.0)


def test_the_needle_and_the_answers_are_in_the_units_of_the_top(quilt, tmp_path, capsys):
    top = grid(4, 4, 4.0)
    file = quilt / "top.json"
    write_top(file, top, sizes_of(top), photo=None, rectification=None, units="cm")
    words = ["--done-to", "9", "--needle"]
    assert _resume(quilt, tmp_path / "rest", *words, "10.16, 20.32") == 0
    rest = _checked(tmp_path / "rest" / "plan.json")
    assert rest.network.nodes[rest.begun.needle] == (4.0, 8.0)
    said = capsys.readouterr().out
    assert " cm" in said
    assert not re.search(r"\d in\b", said)
    assert _resume(quilt, tmp_path / "far", *words, "90, 3") == 2
    assert "The needle at 90.0, 3.0 cm would be off the quilt" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ([], "Nothing says what is done"),
        (["--done-to", "999"], "no step 999"),
        (["--done-to", "-1"], "no step -1"),
        (["--done-to", "3", "--also-done", "zz"], "no piece, stroke or step “zz”"),
        (["--done-to", "3", "--needle", "90, 3"], "off the quilt"),
        (["--done-to", "3", "--needle", "90"], "not a place"),
        (["--done-to", "3", "--done", "x.json"], "Give one of them"),
        (["--done", "x.json"], "no file x.json"),
        (["--done-to", "3", "--thread", "torn"], "torn"),
    ],
)
def test_errors_are_one_clear_sentence(quilt, tmp_path, capsys, words, what):
    assert _resume(quilt, tmp_path / "rest", *words) in (1, 2)
    said = capsys.readouterr().err
    assert what in said
    assert "Traceback" not in said
    assert not (tmp_path / "rest").exists()


def test_all_done(quilt, tmp_path, capsys):
    steps = max(leg["step"] for thread in _json(quilt / "plan.json")["threads"] for leg in thread)
    assert _resume(quilt, tmp_path / "rest", "--done-to", str(steps)) == 2
    assert "Everything on this plan is done" in capsys.readouterr().err


def test_another_version_and_another_plan(quilt, tmp_path, capsys):
    file = tmp_path / "done.json"
    file.write_text('{"schema": "seamwalk/done/1", "plan_sha256": "00", "done": []}')
    assert _resume(quilt, tmp_path / "rest", "--done", str(file)) == 1
    assert "another plan" in capsys.readouterr().err
    plan = _json(quilt / "plan.json")
    (quilt / "plan.json").write_text(json.dumps(plan | {"schema": "seamwalk/plan/2"}))
    assert _resume(quilt, tmp_path / "rest", "--done-to", "3") == 1
    assert "seamwalk/plan/2" in capsys.readouterr().err
    assert _resume(tmp_path, tmp_path / "rest", "--done-to", "3") == 2
    assert "no plan.json" in capsys.readouterr().err


def test_a_top_that_was_changed_meanwhile_is_left_out(quilt, tmp_path, capsys):
    # The plan's places would not be those of the top any more.
    plan = _json(quilt / "plan.json")
    (quilt / "plan.json").write_text(json.dumps(plan | {"top": {"name": "t.json", "sha256": "0"}}))
    (quilt / "t.json").write_text("{}")
    assert _resume(quilt, tmp_path / "rest", "--done-to", "3") == 0
    assert "t.json was changed" in capsys.readouterr().out
    plan["top"] = {"name": "t.json", "sha256": ""}
    (quilt / "plan.json").write_text(json.dumps(plan))
    assert _resume(quilt, tmp_path / "rest-2", "--done-to", "3") == 0
    assert "No pictures are drawn" in capsys.readouterr().out
    for rest, sha256 in (("rest", "0"), ("rest-2", "")):
        assert [p.name for p in (tmp_path / rest).iterdir()] == ["plan.json"]
        # Whoever goes on from the rest is told as well, and gets no other top's pictures.
        assert _json(tmp_path / rest / "plan.json")["top"] == {"name": "t.json", "sha256": sha256}


OF_A_PLAN = ("guide.txt", "overlay.jpg", "path.svg", "circles.png", "density.png")
OF_A_TOP = ("top.json", "sizes.csv", "measured.png")


def test_pictures_of_another_plan_do_not_stay_beside_the_rest(quilt, tmp_path, capsys):
    rest = tmp_path / "rest"
    rest.mkdir()
    for name in (*OF_A_PLAN, *OF_A_TOP):
        (rest / name).write_text(f"old {name}")
    assert _resume(quilt, rest, "--done-to", "3") == 0
    # None shows the rest; each is still there under a number, and she is told.
    said = " ".join(capsys.readouterr().out.split())
    for name in (*OF_A_PLAN, *OF_A_TOP):
        kept = (rest / name).with_stem(f"{(rest / name).stem}-1")
        assert kept.read_text() == f"old {name}"
        assert f"it is kept as {kept.name}" in said
    assert len(list(rest.iterdir())) == 1 + len(OF_A_PLAN) + len(OF_A_TOP)


def test_an_edited_top_stays_beside_its_plan(quilt):
    # Its numbers are hers: only what was drawn of the plan before is put aside.
    plan = _json(quilt / "plan.json")
    (quilt / "plan.json").write_text(json.dumps(plan | {"top": {"name": "", "sha256": "0"}}))
    for name in (*OF_A_PLAN, *OF_A_TOP):
        (quilt / name).write_text(f"old {name}")
    assert _resume(quilt, quilt, "--done-to", "3") == 0
    assert {n for n in (*OF_A_PLAN, *OF_A_TOP) if (quilt / n).exists()} == {*OF_A_TOP}


def test_the_plan_s_own_top_stays_where_the_rest_is_written(quilt, tmp_path):
    text = b"not read where the rest is written"
    sha256 = hashlib.sha256(text).hexdigest()
    plan = _json(quilt / "plan.json")
    top = {"name": "top.json", "sha256": sha256}
    (quilt / "plan.json").write_text(json.dumps(plan | {"top": top}))
    (tmp_path / "rest").mkdir()
    (tmp_path / "rest" / "top.json").write_bytes(text)
    assert _resume(quilt, tmp_path / "rest", "--done-to", "3") == 0
    assert (tmp_path / "rest" / "top.json").read_bytes() == text


def test_a_motif_cannot_have_been_sewn_fifty_times(quilt, tmp_path, capsys):
    plan = _json(quilt / "plan.json")
    name = next(e["id"] for e in plan["edges"] if e["kind"] == "motif")
    file = tmp_path / "done.json"
    done = {"schema": "seamwalk/done/1", "done": [{"edge": name, "passes": 50}]}
    file.write_text(json.dumps(done))
    assert _resume(quilt, tmp_path / "rest", "--done", str(file)) == 2
    said = capsys.readouterr().err
    assert f"“{name}” is said to be sewn 50 times" in said
    assert not (tmp_path / "rest").exists()


def test_a_plan_whose_needle_jumps_is_refused(quilt, tmp_path, capsys):
    plan = _json(quilt / "plan.json")
    del plan["threads"][0][1]
    (quilt / "plan.json").write_text(json.dumps(plan))
    assert _resume(quilt, tmp_path / "rest", "--done-to", "3") == 1
    assert "the needle jumps" in capsys.readouterr().err
    assert not (tmp_path / "rest").exists()


def test_a_plan_without_threads_has_nothing_to_go_on_from(quilt, tmp_path, capsys):
    plan = _json(quilt / "plan.json")
    (quilt / "plan.json").write_text(json.dumps(plan | {"threads": []}))
    assert _resume(quilt, tmp_path / "rest", "--done-to", "1") == 2
    assert "no thread" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("order", "taken"),
    [
        ({"name": "lines", "give_min": 2, "give_share": 0.05}, "lines"),
        ({"name": "backwards"}, None),
        ("lines", None),
        (None, None),
    ],
)
def test_the_order_that_the_plan_was_made_in(quilt, tmp_path, order, taken):
    plan = _json(quilt / "plan.json")
    settings = plan["settings"] | {"order": order}
    (quilt / "plan.json").write_text(json.dumps(plan | {"settings": settings}))
    assert _resume(quilt, tmp_path / "rest", "--done-to", "3") == 0
    rest = _json(tmp_path / "rest" / "plan.json")
    assert rest.get("order", {}).get("taken") == taken
    assert rest["settings"].get("order") == order
