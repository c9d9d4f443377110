"""`seamwalk card`: parse, call, report."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from seamwalk import terminal
from seamwalk.errors import UsageError
from seamwalk.options import Paper, SettingsOption


def card(
    out: Annotated[Path, typer.Option("--out", help="FILE.pdf to print, or FILE.png.")],
    paper: Annotated[
        Paper | None,
        typer.Option(help="Sheet of paper.", show_default="letter, or as in your settings"),
    ] = None,
    id: Annotated[int, typer.Option(min=0, max=3, help="Number of the card, 0 to 3.")] = 0,
    side: Annotated[str, typer.Option(help="Outer side of the dark frame.")] = "6 in",
    settings: SettingsOption = None,
) -> None:
    """Make the reference card to print.

    Example: seamwalk card --out card.pdf --paper letter

    Print it at 100 %, measure the dark frame, lay it flat on the floor beside the top. A second
    card (--id 1) near the opposite corner makes the sizes much surer.
    """
    from seamwalk.folder import Folder
    from seamwalk.own_settings import own_settings
    from seamwalk.sheets.card import card_pdf, card_png
    from seamwalk.units import format_exact, parse_length

    own = own_settings(settings)
    side_in = parse_length(side, default=own.units)
    makers: dict[str, Callable[..., object]] = {".pdf": card_pdf, ".png": card_png}
    make = makers.get(out.suffix.lower())
    if make is None:
        raise UsageError(f"A card can't be a “{out.suffix}” file.", "Name it .pdf or .png.")
    sheet = paper.value if paper else own.paper
    folder = Folder(out.parent)
    folder.check()
    folder.write(out.name, lambda path: make(path, paper=sheet, card_id=id, side_in=side_in))
    terminal.say(
        f"{out}: print at 100 %, then measure the dark frame; "
        f"it should be {format_exact(side_in, own.units)}."
    )
