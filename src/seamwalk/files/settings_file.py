"""The settings file: TOML 1.0, read from the folder where the system keeps settings.

A missing file means the defaults; a wrong one is never half believed.  Every error names the
line and the setting, and gives an example.
"""

import difflib
import re
import tomllib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from seamwalk.errors import SettingsError
from seamwalk.files.settings_schema import SettingsDocument, entries
from seamwalk.model.machine import MachineProfile
from seamwalk.model.settings import Batting, OwnSettings
from seamwalk.units import MM_PER_IN

FILE_NAME = "settings.toml"

M_PER_IN = MM_PER_IN / 1000


@dataclass(frozen=True, slots=True)
class SettingsFile:
    """Settings, and where each comes from.

    Attributes
    ----------
    settings : OwnSettings
        With the defaults for whatever the file leaves out.
    path : Path
        The file that was read, or would be.
    found : bool
        It is there.
    lines : dict
        Line of every setting that the file makes, by its name there; 0 where it cannot be told.
    raw : dict
        The same settings as they were written.
    """

    settings: OwnSettings
    path: Path
    found: bool = False
    lines: dict[str, int] = field(default_factory=dict)
    raw: dict[str, Any] = field(default_factory=dict)

    def place(self, name: str) -> str:
        """Return where a setting stands: the file, and the line if it is known."""
        return _place(self.path, self.lines.get(name, 0))


def own_path() -> Path:
    """Return where this person's settings file is, or would be."""
    from platformdirs import user_config_path

    return user_config_path("seamwalk", appauthor=False) / FILE_NAME


def load(path: Path | None = None) -> SettingsFile:
    """Return the settings in the file at `path`, or in the person's own.

    Raises
    ------
    SettingsError
        If a file that was named is missing, or a file says something that is not understood.
    """
    at = path or own_path()
    if path is None and not _is_there(at):
        return SettingsFile(OwnSettings(), at)
    try:
        text = at.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise SettingsError(
            f"There is no settings file {at}.",
            "Check its name, or make one: seamwalk settings --write.",
        ) from None
    except IsADirectoryError:
        raise SettingsError(
            f"{at} is a folder, not a settings file.", f"Name the file, like {at / FILE_NAME}."
        ) from None
    except OSError as error:
        raise SettingsError(
            f"The settings file {at} cannot be opened ({error.strerror or error}).",
            "Check its name, and that you may read it.",
        ) from None
    except UnicodeDecodeError:
        raise SettingsError(
            f"The settings file {at} cannot be read as text.", "Save it as plain text, UTF-8."
        ) from None
    return read(text, at)


def _is_there(own: Path) -> bool:
    """Say whether she has settings of her own; without a home that can be used she has none."""
    try:
        own.stat()
    except OSError:
        return False
    return True


def read(text: str, path: Path) -> SettingsFile:
    """Return the settings in the text of a file.

    Raises
    ------
    SettingsError
        If the text is not TOML, or says something that is not understood.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        advice = 'Write name = value, text in quotation marks, like throat = "8 1/2 in".'
        if re.search(r"^[^#\n]*=\s*\d+,\d", text, re.MULTILINE):
            advice = "Write decimals with a point, like throat = 21.5."
        raise SettingsError(
            f"{path} is not written as settings are: {str(error)[:120]}.", advice
        ) from None
    except RecursionError:
        raise SettingsError(
            f"{path} is not written as settings are: brackets within brackets without end.",
            'Write name = value, like circles = ["4 in", "21 cm"].',
        ) from None
    units = data.get("units", "in")
    try:
        document = SettingsDocument.model_validate(data, context={"units": units})
    except ValidationError as problem:
        first = problem.errors(include_url=False)[0]
        raise _error(first["loc"], first["type"], first["msg"], text, path) from None
    raw = {
        f"{key}.{name}" if isinstance(value, dict) else key: inner
        for key, value in data.items()
        for name, inner in (value.items() if isinstance(value, dict) else ((key, value),))
    }
    lines = {name: line_of(text, name) for name in raw}
    return SettingsFile(_settings(document), path, True, lines, raw)


def _error(
    loc: tuple[int | str, ...], kind: str, said: str, text: str, path: Path
) -> SettingsError:
    """Return the error for a place in the file: what was seen there, and what to write."""
    name = ".".join(str(k) for k in loc if isinstance(k, str))
    line = line_of(text, name)
    where = _place(path, line)
    known = entries()
    if kind == "extra_forbidden":
        tables = sorted({n.split(".")[0] for n in known if "." in n})
        close = difflib.get_close_matches(name, [*known, *tables], n=1)
        if not close:
            # The right name in the wrong place.
            last = name.split(".")[-1]
            ends = [n for n in known if n.split(".")[-1] == last]
            close = ends or difflib.get_close_matches(last, [n.split(".")[-1] for n in known], n=1)
        hint = f"Did you mean {close[0]}? " if close else ""
        return SettingsError(
            f"{where}: there is no setting “{name}”.", f"{hint}See seamwalk settings."
        )
    if name not in known:
        return SettingsError(
            f"{where}: “{name}” is not a section.", f"Write [{name}] on a line by itself."
        )
    example = known[name][1]
    what = said if kind in ("length", "number", "choice") else "that is not understood"
    return SettingsError(
        f"{where}: {name}: {what}.", f"Write it like {name.split('.')[-1]} = {example}."
    )


def _place(path: Path, line: int) -> str:
    return f"{path}, line {line}" if line else str(path)


def line_of(text: str, name: str) -> int:
    """Return the number of the line, from 1, on which a setting stands; 0 where it isn't seen.

    Parameters
    ----------
    name : str
        Like ``paper`` or ``machine.throat``.
    """
    section = ""
    table = ""
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\s*([^\[\]]+?)\s*\]", line)
        if header:
            section = header[1].replace('"', "") + "."
            if section == f"{name}.":
                table = str(number)
            continue
        key = re.match(r"\s*([\w.\"\s-]+?)\s*=", line)
        if key and section + key[1].replace('"', "").replace(" ", "") == name:
            return number
    return int(table or 0)


def _settings(document: SettingsDocument) -> OwnSettings:
    """Return the settings of a file, defaults where it says nothing."""
    m = document.machine
    usual = MachineProfile()
    stitch_mm = None if m.stitch_length is None else round(m.stitch_length * MM_PER_IN, 6)
    profile: dict[str, Any] = {
        "throat_in": m.throat,
        "packed_mm": None if m.thickness is None else round(m.thickness * MM_PER_IN, 6),
        "stitches_per_min": m.speed,
        "stitch_mm": stitch_mm,
        "thread_per_path": None if stitch_mm is None else usual.thread_at(stitch_mm),
        "smallest_radius_in": m.smallest_radius,
        "bobbin_m": None if m.bobbin is None else round(m.bobbin * M_PER_IN, 6),
        "quilt_turn_s": m.quilt_turn,
        "buried_end_s": m.buried_end,
        "edge_end_s": m.edge_end,
        "bobbin_change_s": m.bobbin_change,
    }
    found: dict[str, Any] = {
        "units": document.units,
        "paper": document.paper,
        "binding_in": document.binding,
        "circles": document.circles,
        "motifs": document.motifs,
    }
    kind, package = document.batting.kind, document.batting.package
    return replace(
        OwnSettings(),
        batting=Batting(kind or Batting().kind, package),
        machine=replace(usual, **{k: v for k, v in profile.items() if v is not None}),
        **{k: v for k, v in found.items() if v is not None},
    )
