"""The command line: parse, call, report.

Exit status 0 when done, 2 when the command was not understood, 1 when it could not be done.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer.exceptions import TyperException

import seamwalk
from seamwalk import terminal
from seamwalk.benchmark import commands as benchmark_commands
from seamwalk.card_command import card
from seamwalk.errors import SeamwalkError, UsageError
from seamwalk.options import (
    Corners,
    Grain,
    Json,
    Known,
    OrderNameOption,
    Out,
    SettingsOption,
    Size,
    Square,
    Tape,
    UnitName,
    UnitsOption,
    mistyped,
)
from seamwalk.resume_command import resume
from seamwalk.scene_command import scene
from seamwalk.settings_command import settings

if TYPE_CHECKING:
    from seamwalk.model.settings import OwnSettings
    from seamwalk.pipeline import MeasuredTop
    from seamwalk.scale import ScaleChoice

app = typer.Typer(
    name="seamwalk",
    help="From a photo of a pieced top to one continuous walking-foot stitch path.\n\n"
    "Print a card (seamwalk card), lay it beside the top, take a photo, then:\n"
    "seamwalk plan photo.jpg --out my-quilt",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


app.add_typer(benchmark_commands.app, name="benchmark")


def _version(wanted: bool) -> None:
    if wanted:
        terminal.say(f"seamwalk {seamwalk.__version__}")
        raise typer.Exit


@app.callback()
def _top_level(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    del version


app.command()(card)


@app.command()
def measure(
    photo: Annotated[Path, typer.Argument(help="Photo of the top with a card beside it.")],
    out: Out,
    square: Square = None,
    corners: Corners = None,
    size: Size = None,
    known: Known = None,
    tape: Tape = None,
    grain: Grain = None,
    units: UnitsOption = None,
    settings: SettingsOption = None,
    as_json: Json = False,
) -> None:
    """Measure every patch in a photo.

    Example: seamwalk measure photo.jpg --out my-quilt --square 5.97

    Writes measured.png to look at, sizes.csv for a spreadsheet and top.json for seamwalk plan.
    Look at measured.png before marking anything.
    """
    from seamwalk import report, report_json
    from seamwalk.folder import Folder
    from seamwalk.own_settings import own_settings
    from seamwalk.pipeline import measure_photo
    from seamwalk.results import write_measured
    from seamwalk.scale import ScaleChoice

    folder = Folder(out)
    folder.check()
    unit = own_settings(settings, units.value if units else None).units
    scale = ScaleChoice(square, corners, size, known, unit, tuple(tape or ()), grain)
    with report.progress() as stage:
        result = measure_photo(photo, scale, progress=stage)
        stage("writing the results")
        write_measured(folder, result)
    if as_json:
        terminal.say_json(report_json.measured_json(result, folder))
    else:
        report.print_measured(result, folder)


@app.command()
def plan(
    source: Annotated[Path, typer.Argument(help="A photo, or a top.json made by measure.")],
    out: Out,
    motif: Annotated[
        list[str] | None,
        typer.Option(help="What goes where: square=arches, border=cable; may be given again."),
    ] = None,
    photo: Annotated[
        Path | None, typer.Option(help="The photo that a top.json was measured in.")
    ] = None,
    square: Square = None,
    corners: Corners = None,
    size: Size = None,
    known: Known = None,
    tape: Tape = None,
    grain: Grain = None,
    units: UnitsOption = None,
    settings: SettingsOption = None,
    throat: Annotated[
        str | None,
        typer.Option(
            help="Needle to tower of your machine.", show_default="8 in, or as in your settings"
        ),
    ] = None,
    search: Annotated[
        float | None,
        typer.Option(
            min=0, max=3600, metavar="<seconds>", help="Look this long for a shorter path."
        ),
    ] = None,
    order: Annotated[
        OrderNameOption,
        typer.Option(
            help="middle: from the middle outwards, half of the bulk under the arm, few turns; "
            "lines: one line after another, each on its own thread; quickest: least time."
        ),
    ] = OrderNameOption.middle,
    give: Annotated[
        float | None,
        typer.Option(
            min=0,
            max=600,
            metavar="<minutes>",
            help="Minutes that order middle may take longer than the quickest.",
            show_default="a tenth of its time",
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Plan the quilting: one continuous path, drawn over the photo.

    Example: seamwalk plan photo.jpg --out my-quilt --motif square=arches

    seamwalk looks proposes three whole looks, and shows what to write after --motif.

    Writes overlay.jpg to look at, density.png (where stitching is dense, and where too wide a gap
    is left for the batting), circles.png (the next smaller and larger circle, drawn), guide.txt
    (circles, marking, thread, time), path.svg in true size, plan.json for programs, and what
    seamwalk measure writes.
    """
    from seamwalk import report, report_json
    from seamwalk.folder import Folder
    from seamwalk.model.order import OrderWish
    from seamwalk.motifs.wish import read_motif
    from seamwalk.own_settings import machine_of
    from seamwalk.pipeline import plan_top
    from seamwalk.results import write_measured, write_planned
    from seamwalk.scale import ScaleChoice

    folder = Folder(out)
    folder.check()
    top_file = _top_file(source)
    own = _own(settings, units, top_file)
    machine = machine_of(own, throat)
    for word in motif or ():
        # A slip of the pen is said before ten seconds of measuring, not after.
        read_motif(word, own.units)
    wish = OrderWish(order.value, give)
    scale = ScaleChoice(square, corners, size, known, own.units, tuple(tape or ()), grain)
    with report.progress() as stage:
        measured = _measured(source, top_file, photo, scale, stage)
        result = plan_top(
            measured,
            tuple(motif or ()),
            machine,
            usual=own.motifs,
            circles_in=own.circles_in,
            binding_in=own.binding_in,
            batting=own.batting,
            time_limit_s=search,
            order=wish,
            progress=stage,
        )
        stage("drawing and writing the results")
        write_measured(folder, measured, top_file=top_file)
        write_planned(folder, result, circles_named=own.circles is not None)
    if as_json:
        terminal.say_json(report_json.planned_json(result, folder))
    else:
        report.print_planned(result, folder, sizes_known=top_file is not None)


app.command()(resume)


def _top_file(source: Path) -> Path | None:
    """Return the top.json that is given, itself or by its folder; None for a photo."""
    file = source / "top.json" if source.is_dir() else source
    if source.is_dir() and not file.is_file():
        raise UsageError(f"There is no top.json in {source}.", "Run seamwalk measure first.")
    return file if file.suffix.lower() == ".json" else None


def _own(settings: Path | None, units: UnitName | None, top_file: Path | None) -> "OwnSettings":
    """Return her settings in the units typed, or else the top's, or else their own."""
    from dataclasses import replace

    from seamwalk.files.top_file import units_of
    from seamwalk.own_settings import own_settings

    own = own_settings(settings, units.value if units else None)
    if units is None and top_file is not None:
        own = replace(own, units=units_of(top_file))
    return own


def _measured(
    source: Path,
    top_file: Path | None,
    photo: Path | None,
    scale: "ScaleChoice",
    progress: Callable[[str], None],
) -> "MeasuredTop":
    """Return the measured top in a photo or a top.json."""
    from seamwalk.pipeline import measure_photo, measured_from_file, told_in
    from seamwalk.scale import ScaleChoice

    if top_file is None:
        if photo is not None:
            raise UsageError("--photo goes with a top.json.", "Give the photo itself instead.")
        return measure_photo(source, scale, progress=progress)
    if scale != ScaleChoice(units=scale.units):
        raise UsageError("A top.json has its scale already.", "Leave out the scale options.")
    return told_in(measured_from_file(top_file, photo_path=photo), scale.units)


@app.command()
def looks(
    source: Annotated[
        Path, typer.Argument(help="A photo, a top.json made by measure, or the folder it is in.")
    ],
    out: Out,
    square: Square = None,
    corners: Corners = None,
    size: Size = None,
    known: Known = None,
    tape: Tape = None,
    grain: Grain = None,
    units: UnitsOption = None,
    settings: SettingsOption = None,
    as_json: Json = False,
) -> None:
    """Propose three whole looks, side by side, to choose from.

    Example: seamwalk looks photo.jpg --out my-quilt

    Writes looks.png to look at, looks.pdf to print, looks.txt with what to type to sew each, and
    what seamwalk measure writes. Each look is planned for real: its time, thread and marks are
    those that seamwalk plan gives.
    """
    from dataclasses import replace

    from seamwalk import report, report_json
    from seamwalk.folder import Folder
    from seamwalk.looks import propose
    from seamwalk.pipeline import measured_from_file
    from seamwalk.results import write_looks, write_measured
    from seamwalk.scale import ScaleChoice
    from seamwalk.sheets.looks_text import Typed

    folder = Folder(out)
    folder.check()
    top_file = _top_file(source)
    own = _own(settings, units, top_file)
    scale = ScaleChoice(square, corners, size, known, own.units, tuple(tape or ()), grain)
    with report.progress() as stage:
        measured = _measured(source, top_file, None, scale, stage)
        stage("writing the sizes")
        write_measured(folder, measured, top_file=top_file)
        written = folder.path / "top.json"
        # From the file, as seamwalk plan will read it: its numbers are rounded.
        top = replace(measured_from_file(written), units=measured.units)
        found = propose(top, own, progress=stage)
        how = Typed(
            str(written),
            None if top_file else str(source),
            units.value if units else None,
            None if settings is None else str(settings),
        )
        stage("drawing and writing the results")
        write_looks(folder, top, found, own, how)
    if as_json:
        terminal.say_json(report_json.looks_json(measured, found, how, folder))
    else:
        report.print_looks(measured, found, own.batting, how, folder)


app.command()(settings)
app.command()(scene)


def main() -> None:
    """Run the command line; one-line errors, never a traceback for a user's mistake."""
    terminal.prepare()
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run with `arguments` and return the exit status."""
    try:
        status = app(arguments, standalone_mode=False)
    except (Exception, KeyboardInterrupt) as error:
        # First: a Ctrl-C can be behind any other.
        return terminal.stopped() if terminal.stopped_by_hand(error) else _failed(error)
    # Typer turns a Ctrl-C into this status by itself.
    if status == terminal.STOPPED:
        return terminal.stopped()
    return status if isinstance(status, int) else 0


def _failed(error: BaseException) -> int:
    """Say what went wrong and return the exit status; a mistake of ours is raised again."""
    if isinstance(error, SeamwalkError):
        terminal.complain(str(error))
        return error.exit_status
    if isinstance(error, TyperException):
        if type(error).__name__ == "NoArgsIsHelpError":
            terminal.say(error.format_message())
        else:
            terminal.complain(mistyped(error))
        return 2
    if isinstance(error, typer.Abort):
        return terminal.stopped()
    if isinstance(error, MemoryError):
        terminal.complain("There is not enough memory for this. Use a smaller photo.")
        return 1
    if isinstance(error, OSError) and (silent := terminal.lost()) is not None:
        terminal.complain(
            f"What there was to say could not be written ({silent.strerror or silent}). "
            "Free some space, or let it be shown on the screen; files in the folder are whole."
        )
        return 1
    raise error
