"""What is said of words on the command line that cannot be understood or used."""

import json

import pytest
from tests.motifs.tops import grid, sizes_of

from seamwalk.cli import run
from seamwalk.files.top_file import write_top


@pytest.fixture
def top(tmp_path):
    made = grid(2, 2, 3.0)
    path = tmp_path / "top.json"
    write_top(path, made, sizes_of(made), photo=None, rectification=None)
    return path


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["plan", "x", "--units", "mm"], "--units can't be “mm”. Write one of in, cm."),
        (
            ["plan", "x", "--order", "é"],
            "--order can't be “é”. Write one of quickest, middle, lines.",
        ),
        (["card", "--id", "7"], "--id can't be “7”. Give a number from 0 to 3."),
        (["card", "--id", "one"], "--id can't be “one”. Give a whole number from 0 to 3."),
        (["plan", "x", "--give", "nan"], "--give can't be “nan”. Give a number from 0 to 600."),
        (["plan", "x", "--search", "x"], "--search can't be “x”. Give a number from 0 to 3600."),
        (["scene", "--seed", "-5"], "--seed can't be “-5”. Give a number, 0 or more."),
        (["scene", "--seed", "1.5"], "--seed can't be “1.5”. Give a whole number, 0 or more."),
        (["resume", "x", "--done-to", "x"], "--done-to can't be “x”. Give a whole number."),
        (["plan", "x", "y"], "Got unexpected extra argument(s) (y). See seamwalk --help."),
        (["foo"], "No such command 'foo'. See seamwalk --help."),
    ],
)  # fmt: skip
def test_a_slip_gets_a_plain_sentence(words, said, tmp_path, capsys):
    more = ["--out", str(tmp_path / "out")] if words != ["foo"] else []
    assert run([*words, *more]) == 2
    assert capsys.readouterr().err == f"seamwalk: {said}\n"


@pytest.mark.parametrize(
    "words", [["scene", "--out", "x.jpg"], ["benchmark", "seams", "--scenes", "1"]]
)
def test_an_unknown_design_is_told_which_there_are(words, capsys):
    assert run([*words, "--design", "dresden"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("seamwalk: I know no design “dresden”. Known are nine-patch, ")
    assert said.endswith(", drunkards-path.\n")


def test_photos_in_a_folder_have_no_design_to_choose(tmp_path, capsys):
    assert run(["benchmark", "seams", str(tmp_path), "--design", "star"]) == 2
    assert capsys.readouterr().err == (
        "seamwalk: A folder of photos has its own designs. Leave out --design or the folder.\n"
    )


@pytest.mark.parametrize(("throat", "fits"), [("0.1", False), ("60", False), ("48 in", True)])
def test_a_throat_has_the_same_limits_as_in_the_settings(throat, fits, top, tmp_path, capsys):
    words = ["--motif", "all=ditch", "--throat", throat]
    status = run(["plan", str(top), "--out", str(tmp_path / "out"), *words])
    file = tmp_path / "own.toml"
    file.write_text(f'[machine]\nthroat = "{throat}"\n', encoding="utf-8")
    assert run(["settings", "--settings", str(file)]) == status == (0 if fits else 2)
    if not fits:
        said = [line for line in capsys.readouterr().err.splitlines() if "seamwalk" in line]
        assert len(said) == 2
        assert all("is not between 3 in and 48 in" in line for line in said)


@pytest.mark.parametrize(
    ("side", "said"), [("6", "6 in."), ("15cm", "15 cm."), ("5 1/2", "5 1/2 in.")]
)
def test_a_card_says_its_side_with_one_unit(side, said, tmp_path, capsys):
    assert run(["card", "--out", str(tmp_path / "card.png"), "--side", side]) == 0
    assert capsys.readouterr().out.endswith(f"it should be {said}\n")


def test_a_folder_in_brackets_gets_its_plan(top, tmp_path, capsys):
    out = tmp_path / "my[" / "b]quilt"
    assert run(["plan", str(top), "--out", str(out), "--motif", "all=ditch"]) == 0
    assert f"Written to {out}: " in capsys.readouterr().out


def test_warnings_in_a_top_are_words(top, tmp_path, capsys):
    document = json.loads(top.read_text(encoding="utf-8"))
    document["warnings"] = ["Beware [/b] of [red] this."]
    top.write_text(json.dumps(document), encoding="utf-8")
    assert run(["plan", str(top), "--out", str(tmp_path / "o"), "--motif", "all=ditch"]) == 0
    assert "! Beware [/b] of [red] this." in capsys.readouterr().out
