"""Arguments that several commands share, each with its help; what is said of one mistyped."""

import re
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.exceptions import TyperException


class Paper(StrEnum):
    """Sheets of paper."""

    letter = "letter"
    a4 = "a4"


class UnitName(StrEnum):
    """Units for typing and reading."""

    inches = "in"
    centimetres = "cm"


class OrderNameOption(StrEnum):
    """In which order a top is stitched."""

    quickest = "quickest"
    middle = "middle"
    lines = "lines"


class ThreadState(StrEnum):
    """Whether a thread hangs at the needle."""

    runs = "runs"
    cut = "cut"


Out = Annotated[Path, typer.Option("--out", help="Folder for the results; made if needed.")]
Square = Annotated[
    str | None,
    typer.Option(help="True side of the card's dark frame, or of a plain square: 5.97, 15.2cm."),
]
Corners = Annotated[
    str | None,
    typer.Option(help="The top's corners in photo pixels, clockwise from its upper left."),
]
Size = Annotated[str | None, typer.Option(help="The top's width x height, like 40 x 48.")]
Known = Annotated[str | None, typer.Option(help="One known length, like width=40.")]
Tape = Annotated[
    list[str] | None,
    typer.Option(help='An edge measured with a tape, like "left=71 3/8"; may be given again.'),
]
Grain = Annotated[
    str | None,
    typer.Option(
        help="Step of finished sizes, like 1/4 or 5mm.",
        show_default="1/8 in or 5 mm, whichever they fit",
    ),
]
UnitsOption = Annotated[
    UnitName | None,
    typer.Option(
        help="Units of bare numbers and of the results.",
        show_default="as in the top.json, or in your settings, or in",
    ),
]
SettingsOption = Annotated[
    Path | None,
    typer.Option("--settings", metavar="<file>", help="Settings file to use instead of your own."),
]
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON for programs.")]


def mistyped(error: TyperException) -> str:
    """Return one sentence for what was not understood on the command line, and what to write."""
    param = getattr(error, "param", None)
    # Typer checks values by pydantic, which is slow to import: its errors are known by their look.
    found: Any = getattr(error.__cause__, "errors", list)
    problems: list[dict[str, Any]] = found()
    if param is None or not param.opts or not problems:
        return f"{error.format_message().rstrip('.')}. See seamwalk --help."
    kind = str(problems[0]["type"])
    names = re.findall(r"'([^']+)'", str(problems[0]["msg"]).partition(" is not one of ")[2])
    advice = f"Write one of {', '.join(names)}." if names else _number_from(param.min, param.max)
    if kind.startswith("int"):
        advice = advice.replace("a number", "a whole number")
    return f"{param.opts[0]} can't be “{problems[0]['input']}”. {advice}"


def _number_from(low: float | None, high: float | None) -> str:
    """Return which numbers an option takes."""
    if low is not None and high is not None:
        return f"Give a number from {low:g} to {high:g}."
    return "Give a number." if low is None else f"Give a number, {low:g} or more."
