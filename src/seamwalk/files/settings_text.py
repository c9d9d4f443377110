"""Settings as a person reads them: one by one with where they come from, and as a new file."""

import json
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from seamwalk.errors import SettingsError
from seamwalk.files.settings_file import SettingsFile
from seamwalk.files.settings_schema import entries
from seamwalk.model.settings import OwnSettings
from seamwalk.units import format_exact

WIDTH = 88


@dataclass(frozen=True, slots=True)
class ShownSetting:
    """One setting as it is shown.

    Attributes
    ----------
    name : str
        As in the file, like ``machine.throat``.
    value : str
        With its unit.
    source : str
        ``default``, or the line of the file.
    about : str
        What it is.
    """

    name: str
    value: str
    source: str
    about: str


def shown(file: SettingsFile) -> tuple[ShownSetting, ...]:
    """Return every setting with its value and where that comes from."""
    values = _values(file.settings)
    out: list[ShownSetting] = []
    for name, (about, _) in entries().items():
        source = "default"
        if name in file.raw:
            line = file.lines.get(name)
            source = f"line {line}" if line else "file"
        value = values[name]
        if name == "batting.package" and not value:
            gap = format_exact(file.settings.batting.gap_in, file.settings.units)
            value = f"not given: {gap} between lines at most"
        if name == "motifs" and not value:
            value = "none: what suits each patch"
        text = ", ".join(value) if isinstance(value, list) else value
        out.append(ShownSetting(name, str(text), source, about))
    return tuple(out)


def new_file(file: SettingsFile) -> str:
    """Return the text of a commented settings file that says what holds now.

    What the file at hand says stands as it was written there.
    """
    values = _values(file.settings)
    out = [
        "# seamwalk's settings. Options on the command line win over them.",
        "# Lengths as you write them: 8 1/2 in, 21 cm. A line that begins with # does not count.",
    ]
    section = ""
    for name, (about, example) in entries().items():
        table, _, key = name.rpartition(".")
        if table != section:
            section = table
            out += ["", f"[{table}]"]
        out += ["", *(f"# {line}" for line in textwrap.wrap(about, WIDTH - 2))]
        value = file.raw.get(name, values[name])
        if value == "":
            out.append(f"# {key} = {example}")
        else:
            out.append(f"{key} = {_toml(value)}")
    return "\n".join(out) + "\n"


def write_new(file: SettingsFile) -> Path:
    """Write a commented settings file where there is none yet.

    Raises
    ------
    SettingsError
        If a file is there already, or its place cannot be written to.
    """
    text = new_file(file)
    try:
        file.path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SettingsError(
            f"I can't make the folder {file.path.parent} ({error.strerror}).",
            "Name another: --settings FILE.",
        ) from error
    try:
        with file.path.open("x", encoding="utf-8", newline="\n") as out:
            out.write(text)
    except FileExistsError:
        raise SettingsError(
            f"{file.path} is there already and is left as it is.",
            "Change it with any editor, or name another: --settings FILE.",
        ) from None
    except OSError as error:
        raise SettingsError(
            f"I can't write {file.path} ({error.strerror}).", "Name another: --settings FILE."
        ) from error
    return file.path


def _toml(value: Any) -> str:
    """Return a text, number or list of them as TOML, whose strings can be written like JSON's."""
    if isinstance(value, list):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def _values(settings: OwnSettings) -> dict[str, Any]:
    """Return every value as written in a file, by its name there; empty where there is none."""
    units, m, batting = settings.units, settings.machine, settings.batting
    package = batting.package_in
    return {
        "units": units,
        "paper": settings.paper,
        "binding": format_exact(settings.binding_in, units),
        "circles": [format_exact(d, units) for d in settings.circles_in],
        "motifs": list(settings.motifs),
        "batting.kind": batting.kind,
        "batting.package": "" if package is None else format_exact(package, units),
        "machine.throat": format_exact(m.throat_in, units),
        "machine.thickness": f"{m.packed_mm:g} mm",
        "machine.speed": _plain(m.stitches_per_min),
        "machine.stitch_length": f"{m.stitch_mm:g} mm",
        "machine.smallest_radius": format_exact(m.smallest_radius_in, units),
        "machine.bobbin": f"{m.bobbin_m:g} m",
        "machine.quilt_turn": _plain(m.quilt_turn_s),
        "machine.buried_end": _plain(m.buried_end_s),
        "machine.edge_end": _plain(m.edge_end_s),
        "machine.bobbin_change": _plain(m.bobbin_change_s),
    }


def _plain(value: float) -> int | float:
    return int(value) if value == int(value) else value
