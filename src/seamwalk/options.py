"""Arguments that several commands share, each with its help."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


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
    typer.Option(help="Step of finished sizes, like 1/4 or 5mm.", show_default="1/8 in or 5 mm"),
]
UnitsOption = Annotated[
    UnitName | None,
    typer.Option(
        help="Units of bare numbers and of the results.", show_default="in, or as in your settings"
    ),
]
SettingsOption = Annotated[
    Path | None,
    typer.Option("--settings", metavar="<file>", help="Settings file to use instead of your own."),
]
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON for programs.")]
