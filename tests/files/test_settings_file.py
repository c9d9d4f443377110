"""The settings file: what is read, what is refused and how, what is written."""

import json
import tomllib
from contextlib import suppress
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.errors import SettingsError
from seamwalk.files.settings_file import SettingsFile, load, own_path, read
from seamwalk.files.settings_schema import entries
from seamwalk.files.settings_text import new_file, shown, write_new
from seamwalk.model.machine import MachineProfile
from seamwalk.model.settings import Batting, OwnSettings

HERE = Path("settings.toml")

FULL = """\
units = "cm"
paper = "a4"
binding = "3/8 in"
circles = ["21 cm", 12.5, "8 1/2 in", "4½"]
motifs = ["border = cable", "squares in nine patch=crosshatch spacing=1"]

[batting]
kind = "cotton"
package = 8

[machine]
throat = 21
thickness = "6 mm"
speed = 350
stitch_length = 3
smallest_radius = "2 in"
bobbin = "76 yd"
quilt_turn = 40
buried_end = 90
edge_end = 10.5
bobbin_change = 60
"""


def test_everything_is_read_and_converted():
    # One inch is 2.54 cm and one yard 0.9144 m exactly (international agreement, 1959).
    own = read(FULL, HERE).settings
    assert (own.units, own.paper, own.binding_in) == ("cm", "a4", 0.375)
    assert own.motifs == ("border=cable", "squares in nine patch=crosshatch spacing=1")
    assert own.circles == pytest.approx((21 / 2.54, 12.5 / 2.54, 8.5, 4.5 / 2.54))
    assert own.batting.kind == "cotton"
    assert own.batting.package_in == pytest.approx(8 / 2.54)
    m = own.machine
    assert m.throat_in == pytest.approx(21 / 2.54)
    assert m.packed_mm == pytest.approx(6)
    assert (m.stitches_per_min, m.stitch_mm, m.smallest_radius_in) == (350, 3, 2)
    assert m.bobbin_m == pytest.approx(76 * 0.9144)
    assert (m.quilt_turn_s, m.buried_end_s, m.edge_end_s, m.bobbin_change_s) == (40, 90, 10.5, 60)


def test_every_setting_can_be_told_from_its_default():
    given_ = read(FULL, HERE)
    assert set(given_.raw) == set(entries())
    default = OwnSettings()
    for field in fields(OwnSettings):
        assert getattr(given_.settings, field.name) != getattr(default, field.name), field.name


def test_an_empty_file_means_the_defaults():
    assert read("", HERE).settings == OwnSettings()


def test_bare_numbers_are_in_the_file_s_units():
    assert read("binding = 0.5", HERE).settings.binding_in == 0.5
    assert read('binding = 1\nunits = "cm"', HERE).settings.binding_in == pytest.approx(1 / 2.54)
    assert read('[machine]\nstitch_length = "2.5"', HERE).settings.machine.stitch_mm == 2.5


def test_shorter_stitches_take_more_thread():
    # C = 2 + 2T/L for lockstitch 301, T 1.5 mm (handbooks): 3.36 at 2.2 mm, 3.07 at 2.8 mm.
    m = read("[machine]\nstitch_length = 2.2", HERE).settings.machine
    assert m.thread_per_path == pytest.approx(3.0 * 3.36 / 3.07, rel=2e-3)


@pytest.mark.parametrize(
    ("kind", "package", "gap"),
    # Makers' statements: at most the package's number, never above 4 in; 2 in where unknown.
    [("unknown", None, 2), ("cotton", None, 4), ("cotton", 8, 4), ("cotton", 3, 3),
     ("unknown", 3, 3), ("loose cotton", None, 2), ("wool", None, 4)],
)  # fmt: skip
def test_the_gap_that_a_batting_stands(kind, package, gap):
    assert Batting(kind, package).gap_in == gap


def test_plain_circles_follow_the_units():
    assert OwnSettings().circles_in[:3] == (2, 2.5, 3)
    metric = OwnSettings(units="cm").circles_in
    assert metric[:3] == pytest.approx((5 / 2.54, 6 / 2.54, 7 / 2.54))
    assert OwnSettings(circles=(7.0,)).circles_in == (7.0,)


BAD = {
    'throat = "8 in"': ("line 1", "no setting “throat”", "Did you mean machine.throat?"),
    "\n[machine]\nthrotle = 5": ("line 3", "machine.throtle", "Did you mean machine.throat?"),
    'unit = "cm"': ("line 1", "“unit”", "Did you mean units?"),
    '[baten]\nkind = "cotton"': ("line 1", "“baten”", "Did you mean batting?"),
    '[machine]\nthroat = "8 1/2 inn"': ("line 2", "“8 1/2 inn”", 'throat = "8 1/2 in"'),
    "[machine]\nthroat = 60": ("line 2", "not between 3 in and 48 in", 'throat = "8 1/2 in"'),
    "[machine]\nthroat = -8": ("line 2", "machine.throat", 'throat = "8 1/2 in"'),
    'units = "mm"': ("line 1", "“mm” is none of in, cm", 'units = "in"'),
    'circles = "8 in"': ("line 1", "circles", 'circles = ["4 in"'),
    'circles = ["8 in", true]': ("line 1", "true or false", 'circles = ["4 in"'),
    'motifs = ["cable"]': ("line 1", "which motif goes where", 'motifs = ["border=cable"'),
    'motifs = ["border=", 3]': ("line 1", "“border=”", 'motifs = ["border=cable"'),
    "[machine]\nspeed = true": ("line 2", "no number", "speed = 400"),
    '[machine]\nspeed = "fast"': ("line 2", "no number", "speed = 400"),
    "[machine]\nspeed = nan": ("line 2", "nan", "speed = 400"),
    "[machine]\nbobbin = 70": ("line 2", "no unit", 'bobbin = "70 m"'),
    "binding = 1979-05-27": ("line 1", "no length", 'binding = "1/4 in"'),
    '[machine]\nstitch_length = "{a}"': ("line 2", "{a}", "stitch_length"),
    "machine = 5": ("line 1", "not a section", "[machine]"),
    "[machine\nspeed = 4": ("line 1", "not written as settings are", "name = value"),
    "[machine]\nthroat = 21,5": ("line 2", "not written as settings are", "with a point"),
    '[machine]\nthroat = "1,500 mm"': ("line 2", "comma", 'throat = "8 1/2 in"'),
    f"a = {'[' * 5000}": ("not written as settings are", "brackets"),
    '[batting]\nkind = "cotten"': ("line 2", "“cotten” is none of", 'kind = "cotton"'),
}


@pytest.mark.parametrize("text", BAD, ids=range(len(BAD)))
def test_a_mistake_gets_its_line_what_was_seen_and_an_example(text):
    with pytest.raises(SettingsError) as caught:
        read(text, HERE)
    said = str(caught.value)
    for words in ("settings.toml", *BAD[text]):
        assert words in said, said
    assert "\n" not in said
    assert caught.value.exit_status == 2


@given(st.text(max_size=60))
def test_no_text_is_a_bug(text):
    with suppress(SettingsError):
        read(text, HERE)


VALUES = st.one_of(st.text(max_size=8), st.floats(), st.booleans(), st.integers(), st.none())


@given(st.sampled_from(sorted(entries())), st.lists(VALUES, max_size=3))
def test_no_value_is_a_bug(name, values):
    table, _, key = name.rpartition(".")
    for value in (values, *values):
        try:
            line = json.dumps(value, allow_nan=False).replace("null", '""')
        except ValueError:
            continue
        with suppress(SettingsError):
            read((f"[{table}]\n" if table else "") + f"{key} = {line}\n", HERE)


def test_the_written_file_says_what_holds_now():
    text = new_file(SettingsFile(OwnSettings(), HERE))
    again = read(text, HERE)
    assert again.settings == replace(OwnSettings(), circles=OwnSettings().circles_in)
    assert set(again.raw) == set(entries()) - {"batting.package"}
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert max(map(len, text.splitlines())) < 200
    assert len(comments) > len(entries())


def test_what_was_written_by_hand_stays_as_it_was_written():
    first = read(FULL, HERE)
    again = read(new_file(first), HERE)
    assert again.settings == first.settings
    assert again.raw == first.raw == {
        f"{k}.{n}" if isinstance(v, dict) else k: w
        for k, v in tomllib.loads(FULL).items()
        for n, w in (v.items() if isinstance(v, dict) else [(k, v)])
    }  # fmt: skip


def test_metric_defaults_survive_writing():
    own = OwnSettings(units="cm")
    again = read(new_file(SettingsFile(own, HERE)), HERE).settings
    assert again.machine == MachineProfile()
    assert again.circles == pytest.approx(own.circles_in)
    assert again.binding_in == 0.25


def test_a_file_is_never_overwritten(tmp_path):
    path = tmp_path / "deep" / "settings.toml"
    assert write_new(SettingsFile(OwnSettings(), path)) == path
    path.write_text("# mine\n", encoding="utf-8")
    with pytest.raises(SettingsError, match="left as it is"):
        write_new(SettingsFile(OwnSettings(), path))
    assert path.read_text(encoding="utf-8") == "# mine\n"


def test_every_value_is_shown_with_where_it_comes_from():
    rows = {s.name: s for s in shown(read(FULL, HERE))}
    assert set(rows) == set(entries())
    assert (rows["paper"].value, rows["paper"].source) == ("a4", "line 2")
    assert rows["machine.bobbin_change"].source == "line 21"
    assert rows["circles"].value == "21 cm, 12.5 cm, 8 1/2 in, 4.5 cm"
    plain = {s.name: s for s in shown(SettingsFile(OwnSettings(), HERE))}
    assert {s.source for s in plain.values()} == {"default"}
    assert plain["machine.throat"].value == "8 in"
    assert "2 in" in plain["batting.package"].value


def test_own_file_is_where_the_system_keeps_settings(tmp_path, monkeypatch):
    # XDG Base Directory Specification: $XDG_CONFIG_HOME.
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert load() == SettingsFile(OwnSettings(), own_path())
    own_path().parent.mkdir(parents=True)
    own_path().write_text('﻿units = "cm"\r\n', encoding="utf-8")
    assert load().settings.units == "cm"
    assert own_path().is_relative_to(tmp_path)


def test_decimal_commas_are_read():
    m = read('units = "cm"\n[machine]\nthroat = "21,5"\nthickness = "4,5"', HERE).settings.machine
    assert (m.throat_in, m.packed_mm) == (pytest.approx(21.5 / 2.54), 4.5)


@pytest.mark.parametrize("home", ["/dev/null", "{tmp}/file", "{tmp}/" + "x" * 300])
def test_a_home_that_cannot_be_used_means_no_settings(home, tmp_path, monkeypatch):
    # XDG Base Directory Specification: $XDG_CONFIG_HOME; names end at 255 bytes on Linux.
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("XDG_CONFIG_HOME", home.format(tmp=tmp_path))
    assert load() == SettingsFile(OwnSettings(), own_path())


def test_a_file_that_was_named_must_be_there(tmp_path):
    with pytest.raises(SettingsError, match="no settings file"):
        load(tmp_path / "none.toml")
    (tmp_path / "odd.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="as text"):
        load(tmp_path / "odd.toml")
    with pytest.raises(SettingsError, match="is a folder"):
        load(tmp_path)
    with pytest.raises(SettingsError, match="cannot be opened"):
        load(tmp_path / "odd.toml" / "none.toml")
