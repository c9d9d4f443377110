"""What a terminal is given: plain text in its own characters, and a clean end."""

import io
import json
import sys

import pytest
from tests.sheets.sampler import grid_top, sampler_sizes

from seamwalk import cli, report, terminal
from seamwalk.folder import Folder
from seamwalk.pipeline import MeasuredTop

NAMES = ["my[/b]quilt", "my [red]quilt", "[bold]", ":smile:", "[link=x]"]


class Drawer(io.BytesIO):
    """A file that has room for nothing."""

    def write(self, data):
        raise OSError(28, "No space left on device")


@pytest.fixture
def speaking(monkeypatch):
    """Return a function that lets standard output have another encoding."""

    def prepared(encoding, buffer=None, **how):
        stream = io.TextIOWrapper(buffer or io.BytesIO(), encoding=encoding, **how)
        monkeypatch.setattr(sys, "stdout", stream)
        # Else what it holds is closed with it, as soon as nothing else names it.
        monkeypatch.setattr(sys, "__stdout__", stream)
        terminal.prepare()
        return stream.buffer

    return prepared


def measured(warnings=()):
    top = grid_top(3, 3)
    return MeasuredTop(top, sampler_sizes(top), "in", warnings=tuple(warnings))


@pytest.mark.parametrize("name", NAMES)
def test_brackets_and_colons_from_outside_are_words(name, tmp_path, capsys):
    folder = Folder(tmp_path / name)
    folder.notes.append(f"The earlier {name} is kept.")
    report.print_measured(measured([f"Beware of {name} here."]), folder)
    said = capsys.readouterr().out
    assert f"! Beware of {name} here." in said
    assert f"! The earlier {name} is kept." in said
    assert f"Written to {tmp_path / name}" in said


@pytest.mark.parametrize("name", NAMES)
def test_a_stage_may_be_called_anything(name, capsys):
    with report.progress() as stage:
        stage(name)
    assert f"{name} …" in capsys.readouterr().err


def test_nothing_from_outside_steers_the_terminal(tmp_path, capsys):
    # ECMA-48: ESC [ begins a control sequence, and so does the single character 9B.
    report.print_measured(measured(["a \x1b[31mred\x9b0m b\a"]), Folder(tmp_path))
    terminal.say("c\x1b[2Jd")
    terminal.complain("e\x1b[2Jf")
    said = capsys.readouterr()
    assert "a [31mred0m b" in said.out
    assert "c[2Jd\n" in said.out
    assert said.err == "seamwalk: e[2Jf\n"


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "cp1252", "koi8-r", "utf-8"])
def test_no_encoding_is_too_poor(encoding, speaking, tmp_path):
    shown = speaking(encoding)
    report.print_measured(measured(["“a” × 12½ … ☃ \udcff"]), Folder(tmp_path))
    said = shown.getvalue().decode(encoding)
    assert "width" in said
    # The code pages' own tables: ± is at F1 in 437 and at B1 in 1252.
    has = encoding in ("cp437", "cp1252", "utf-8")
    assert f"12 {'±' if has else '+-'} 1/8 in" in said
    if encoding == "ascii":
        assert '! "a" x 12 1/2 ... \\u2603 \\udcff' in said


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "utf-8"])
def test_json_is_json_in_every_encoding(encoding, speaking):
    document = {"name": "☃ “a” ± \udcff [b]"}
    shown = speaking(encoding)
    terminal.say_json(document)
    assert json.loads(shown.getvalue().decode(encoding)) == document


@pytest.mark.parametrize("how", [{}, {"write_through": True}])
@pytest.mark.parametrize("words", [["settings"], ["--version"], ["settings", "--help"]])
def test_where_nothing_can_be_written_one_sentence_says_so(words, how, speaking, capsys):
    speaking("utf-8", Drawer(), **how)
    assert cli.run(words) == 1
    said = capsys.readouterr().err
    assert "seamwalk: What there was to say could not be written (No space left" in said
    assert said.count("\n") == 1
    assert "Traceback" not in said


def interrupted_import():
    """Raise what a Ctrl-C in a compiled module's start comes out as (seen with pybind11)."""
    try:
        raise KeyboardInterrupt
    except KeyboardInterrupt as error:
        raise ImportError("initialization failed") from error


def interrupted():
    raise KeyboardInterrupt


@pytest.mark.parametrize("stop", [interrupted, interrupted_import])
def test_a_ctrl_c_stops_with_one_sentence(stop, monkeypatch, capsys):
    # 128 and the number of the signal, 2: as shells have it.
    monkeypatch.setattr("seamwalk.files.settings_file.own_path", stop)
    assert cli.run(["settings"]) == 130
    said = capsys.readouterr()
    assert said.err == "seamwalk: stopped; files not finished were not written.\n"
    assert said.out == ""


def test_a_mistake_of_ours_keeps_its_traceback(monkeypatch):
    def broken():
        raise OSError(5, "no such luck")

    monkeypatch.setattr("seamwalk.files.settings_file.own_path", broken)
    with pytest.raises(OSError, match="no such luck"):
        cli.run(["settings"])
