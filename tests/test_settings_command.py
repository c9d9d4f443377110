"""Settings from the command line: shown, written once, used, and outdone by options."""

import json

import pytest
from tests.motifs.tops import grid, sizes_of

from seamwalk.cli import run
from seamwalk.files.top_file import write_top


@pytest.fixture
def home(tmp_path, monkeypatch):
    """Return the folder of a person's own settings, still empty."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path / "config" / "seamwalk"


@pytest.fixture
def top(tmp_path):
    made = grid(4, 4, 3.0)
    path = tmp_path / "top.json"
    write_top(path, made, sizes_of(made), photo=None, rectification=None)
    return path


def planned(top, out, *options):
    assert run(["plan", str(top), "--out", str(out), "--motif", "all=arches", *options]) == 0
    return json.loads((out / "plan.json").read_text(encoding="utf-8"))


def test_written_once_and_never_over(home, capsys):
    assert run(["settings", "--write"]) == 0
    path = home / "settings.toml"
    assert path.is_file()
    assert run(["settings", "--write"]) == 2
    assert "left as it is" in capsys.readouterr().err
    assert run(["settings"]) == 0
    shown = capsys.readouterr().out
    assert "machine.throat" in shown
    assert "line " in shown


def test_the_defaults_are_shown_without_a_file(home, capsys):
    assert run(["settings"]) == 0
    shown = capsys.readouterr().out
    assert "default" in shown
    assert "seamwalk settings --write" in shown
    assert not home.exists()


def test_json_for_programs(home, capsys):
    assert run(["settings", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["settings"]["machine.throat"] == {"value": "8 in", "from": "default"}


def test_json_alone_where_json_is_asked_for(home, tmp_path, capsys):
    path = tmp_path / "new.toml"
    assert run(["settings", "--write", "--json", "--settings", str(path)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["file"] == str(path)
    assert found["settings"]["machine.throat"]["from"].startswith("line ")
    assert path.is_file()


@pytest.mark.parametrize("command", ["settings", "card", "measure", "plan", "looks", "resume"])
def test_a_wish_for_no_motif_stops_every_command_at_once(command, home, tmp_path, capsys):
    home.mkdir(parents=True)
    (home / "settings.toml").write_text('\nmotifs = ["square=foo"]\n', encoding="utf-8")
    words = {"settings": [], "card": ["--out", str(tmp_path / "card.pdf")]}
    # There is no such photo: it would be said if the settings were not looked at first.
    usual = [str(tmp_path / "none.jpg"), "--out", str(tmp_path / "out")]
    assert run([command, *words.get(command, usual)]) == 2
    said = capsys.readouterr().err
    assert "settings.toml, line 2: motifs: There is no motif called “foo”." in said
    assert not (tmp_path / "out").exists()


def test_a_folder_is_no_settings_file(home, tmp_path, capsys):
    for more in ([], ["--write"]):
        assert run(["settings", "--settings", str(tmp_path), *more]) == 2
        assert "is a folder, not a settings file" in capsys.readouterr().err
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert run(["settings", "--write", "--settings", str(tmp_path / "file" / "x.toml")]) == 2
    assert "can't make the folder" in capsys.readouterr().err


def test_another_file_is_written_and_read(home, tmp_path, capsys):
    path = tmp_path / "travel.toml"
    assert run(["settings", "--settings", str(path)]) == 2
    assert "no settings file" in capsys.readouterr().err
    assert run(["settings", "--settings", str(path), "--write"]) == 0
    assert run(["settings", "--settings", str(path)]) == 0
    assert not home.exists()


def test_a_mistake_stops_every_command(home, top, tmp_path, capsys):
    home.mkdir(parents=True)
    (home / "settings.toml").write_text("[machine]\nthrotle = 5\n", encoding="utf-8")
    assert run(["settings"]) == 2
    assert "line 2" in capsys.readouterr().err
    assert run(["plan", str(top), "--out", str(tmp_path / "out")]) == 2
    assert "Did you mean machine.throat?" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_plan_uses_the_machine_the_circles_and_the_binding(home, top, tmp_path, capsys):
    home.mkdir(parents=True)
    (home / "settings.toml").write_text(
        'circles = ["5 in", "30 in"]\nbinding = "3/8 in"\n'
        '[machine]\nthroat = "11 in"\nspeed = 300\n',
        encoding="utf-8",
    )
    plan = planned(top, tmp_path / "out")
    machine = plan["settings"]["machine"]
    assert (machine["throat_in"], machine["stitches_per_min"]) == (11, 300)
    assert plan["settings"]["circles_in"] == [5, 30]
    # Nothing of a motif beyond the binding's seam, 3/8 in inside a raw edge of 12 1/2 in.
    for edge in plan["edges"]:
        if edge["kind"] == "motif":
            assert all(0.375 - 1e-6 <= v <= 12.125 + 1e-6 for q in edge["points"] for v in q)
    guide = (tmp_path / "out" / "guide.txt").read_text(encoding="utf-8")
    assert "draw round    5 in" in guide
    assert "plain sizes" not in guide
    capsys.readouterr()
    # Options win over the file.
    plan = planned(top, tmp_path / "other", "--throat", "7")
    assert plan["settings"]["machine"]["throat_in"] == 7
    assert plan["settings"]["machine"]["stitches_per_min"] == 300


def test_a_bare_number_of_an_option_is_in_the_same_units(home, top, tmp_path):
    plan = planned(top, tmp_path / "out", "--units", "cm", "--throat", "21")
    assert plan["settings"]["machine"]["throat_in"] == pytest.approx(21 / 2.54)
    guide = (tmp_path / "out" / "guide.txt").read_text(encoding="utf-8")
    assert " cm" in guide
    assert " in," not in guide
    assert plan["settings"]["circles_in"][0] == pytest.approx(5 / 2.54)


def test_json_tells_circles_marking_and_bobbins(home, top, tmp_path, capsys):
    planned(top, tmp_path / "out", "--json")
    found = json.loads(capsys.readouterr().out)
    (circle,) = found["circles"]
    assert circle["circle"]["diameter"] == 4.5
    assert (circle["smaller"]["diameter"], circle["larger"]["diameter"]) == (4, 5)
    assert circle["smaller"]["overlap"] is True
    (step,) = found["marking"]
    assert (step["tool"], step["count"], step["diameter"]) == ("circle", circle["arcs"], 4.5)
    assert found["bobbin_changes"] == []


def test_the_card_is_for_the_paper_of_the_settings(home, tmp_path):
    from PIL import Image

    home.mkdir(parents=True)
    (home / "settings.toml").write_text('paper = "a4"\n', encoding="utf-8")
    for name, more in (("own", []), ("option", ["--paper", "letter"])):
        assert run(["card", "--out", str(tmp_path / f"{name}.png"), *more]) == 0
    # ISO 216: A4 is 210 × 297 mm; ANSI A (letter) is 8.5 × 11 in.
    for name, shape in (("own", 297 / 210), ("option", 11 / 8.5)):
        with Image.open(tmp_path / f"{name}.png") as sheet:
            assert sheet.height / sheet.width == pytest.approx(shape, abs=2e-3)


def test_the_side_of_a_card_is_in_her_units(home, tmp_path, capsys):
    home.mkdir(parents=True)
    (home / "settings.toml").write_text('units = "cm"\n', encoding="utf-8")
    words = ["card", "--out", str(tmp_path / "card.png")]
    assert run([*words, "--side", "15"]) == 0
    assert capsys.readouterr().out.endswith("it should be 15 cm.\n")
    # 2.54 cm to the inch (international agreement, 1959).
    assert run([*words, "--side", "40"]) == 2
    assert "A card of 15.748 in (400 mm) does not suit" in capsys.readouterr().err
