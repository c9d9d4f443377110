"""What the terminal says: progress, a short table, warnings, where the files are."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from rich import box
from rich.table import Table
from rich.text import Text

from seamwalk.console import PlainConsole, shows_unicode
from seamwalk.folder import Folder
from seamwalk.model.look import Look
from seamwalk.model.settings import Batting
from seamwalk.model.sizes import Length, Sizes
from seamwalk.pipeline import MeasuredTop, PlannedTop
from seamwalk.resuming import ResumedPlan
from seamwalk.sheets.checks import MOST_MARKS, Check, checks
from seamwalk.sheets.guide_text import long_text, marking_lines, thread_lines
from seamwalk.sheets.hold_text import hold_lines
from seamwalk.sheets.kinds import kinds
from seamwalk.sheets.looks_text import TITLES, Typed, facts
from seamwalk.sheets.order_text import order_lines
from seamwalk.sheets.size_text import angle_text, length_text
from seamwalk.sheets.straightness_text import block_lines, headline, reasons
from seamwalk.sheets.worth_text import worth_lines
from seamwalk.trade import SAFETY_MACHINE, SAFETY_MARKING
from seamwalk.units import Units, pattern_units

if TYPE_CHECKING:
    from seamwalk.files.settings_text import ShownSetting

CHECKS_SHOWN = 5
"""Checks told in the terminal: with two lines each they still leave the sizes in sight."""

MARKS_SHOWN = 14
"""Lines of marking told in the terminal: more would push thread and time out of sight."""


@contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Yield a function that shows the stage at work, on standard error."""
    console = PlainConsole(stderr=True)
    spinner = "dots" if shows_unicode(console) else "line"
    with console.status("starting …", spinner=spinner) as status:

        def stage(name: str) -> None:
            status.update(Text(f"{name} …"))
            if not console.is_terminal:
                with suppress(OSError):  # No reason to stop the work.
                    console.print(f"{name} …", highlight=False)

        yield stage


def print_measured(result: MeasuredTop, folder: Folder) -> None:
    """Print the sizes table, the warnings and the files written."""
    console = PlainConsole()
    _sizes_table(console, result)
    _warnings(console, result.warnings)
    _files(console, folder)


def _sizes_table(console: PlainConsole, result: MeasuredTop) -> None:
    """Print the whole top, the kinds of patches, what to check and to do, in few lines."""
    sizes, units = result.sizes, result.units
    console.print(_lengths(sizes, units))
    console.print(_whole_top(sizes, units))
    console.print(_kinds_table(sizes, units))
    _checks_table(console, checks(result.top, sizes, units), pictured=result.flat is not None)
    if sizes.advice:
        steps = Table.grid(padding=(0, 1))
        for k, sentence in enumerate(sizes.advice, start=1):
            steps.add_row(f"{k}.", Text(sentence))
        console.print("What to do:", style="bold")
        console.print(steps)


def _checks_table(console: PlainConsole, found: Sequence[Check], *, pictured: bool) -> None:
    """Print what to check, with the numbers that stand on measured.png, if there is one."""
    if not found:
        return
    rows = Table.grid(padding=(0, 1))
    for check in found[:CHECKS_SHOWN]:
        rows.add_row(_circled(check.number, console), Text(check.sentence))
    left = len(found) - CHECKS_SHOWN
    if left > 0:
        rows.add_row("", _more_checks(len(found), pictured=pictured))
    numbers = " (numbers as on measured.png)" if pictured else ""
    console.print(f"Check first, the worst first{numbers}:", style="bold")
    console.print(rows)


def _more_checks(count: int, *, pictured: bool) -> str:
    """Return where the checks are told that the terminal has no room for."""
    left = count - CHECKS_SHOWN
    if not pictured:
        # A top without its photo has no measured.png.
        return f"And {left} more: --json lists all."
    if count <= MOST_MARKS:
        return f"And {left} more on measured.png."
    return f"And {left} more: the next {MOST_MARKS - CHECKS_SHOWN} on measured.png, all in --json."


def _circled(number: int, console: PlainConsole) -> str:
    """Return ①, or (1) where the terminal can't show that."""
    return chr(ord("①") + number - 1) if shows_unicode(console) else f"({number})"


def _lengths(sizes: Sizes, units: Units) -> Table:
    """Width and height, each in the middle and along both edges; diagonals."""

    def text(length: Length) -> str:
        return f"{length_text(length, units)} {units}"

    top = sizes.top
    # The unit stands with the middle; eighty columns hold no more.
    upper, right, lower, left = (length_text(v, units) for v in top.edges)
    lines = Table.grid(padding=(0, 2))
    for name, middle, one, two in (
        ("width", top.width, f"upper edge {upper}", f"lower edge {lower}"),
        ("height", top.height, f"left edge {left}", f"right edge {right}"),
    ):
        lines.add_row(name, Text(text(middle), style="bold"), one, two)
    lines.add_row("diagonals", *(text(v) for v in top.diagonals))
    return lines


def _whole_top(sizes: Sizes, units: Units) -> Table:
    """Corners, what is crooked, the block."""
    lines = Table.grid(padding=(0, 2))
    corners = ", ".join(" ".join(angle_text(a)) for a in sizes.top.corner_angles)
    # As wide as "diagonals" above, so that the two read as one table.
    lines.add_row(f"{'corners':9}", corners)
    if sizes.straightness is not None:
        lines.add_row("square?", Text(headline(sizes), style="bold"))
        for reason in reasons(sizes, units):
            lines.add_row("", reason)
    if sizes.block is not None:
        finished, count, measured = block_lines(
            sizes.block, units, pattern_units(sizes.grain_in, units)
        )
        lines.add_row("block", Text(finished, style="bold").append(f", {count}", "not bold"))
        lines.add_row("", measured)
    return lines


def _kinds_table(sizes: Sizes, units: Units) -> Table:
    rows = kinds(sizes, units)
    # Two blanks between columns: the longest names and sizes fit eighty.
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0))
    table.add_column("patches", no_wrap=True)
    same = pattern_units(sizes.grain_in, units) == units
    table.add_column(f"finished ({units})" if same else "finished")
    for name in ("count", "right", "off", "can't tell"):
        table.add_column(name, justify="right")
    for row in rows:
        size = "sides in sizes.csv" if row.gathered else row.size_or_question
        numbers = (row.count, row.right, row.off, row.unsure)
        table.add_row(row.name, size, *(str(n) if n else "" for n in numbers))
    return table


def print_planned(result: PlannedTop, folder: Folder, *, sizes_known: bool = False) -> None:
    """Print the sizes, what the route costs, cautions, warnings and the files written.

    Parameters
    ----------
    sizes_known : bool
        The top was measured before, and its sizes were told then: where they stand on
        measured.png the outer ones are enough.
    """
    console = PlainConsole()
    top, units = result.measured, result.measured.units
    if sizes_known and top.flat is not None:
        console.print(_lengths(top.sizes, units))
        console.print("All sizes, what to check and what to do: measured.png, sizes.csv.")
    else:
        _sizes_table(console, top)
    gaps, density = hold_lines(top.top, top.sizes, result.gaps, result.density, units)
    t = result.route.totals
    table = Table("path", "")
    table.add_row("threads", str(t.threads))
    table.add_row("ends to bury / ends at the edge", f"{t.buried_ends} / {t.edge_ends}")
    table.add_row("stitched", long_text(t.stitched_in, units))
    table.add_row("of that travel", long_text(t.travel_in, units))
    table.add_row("pivots", str(t.pivots))
    console.print(table)
    order = order_lines(result.route.order, result.route.orders)
    for line in (*order, *result.route.breaks, *worth_lines(t)):
        console.print(Text(line))
    for title, lines in (
        ("Mark, in this order:", _few(marking_lines(result.guide, top.sizes, units))),
        ("Gaps:", gaps),
        ("Density (density.png):", density),
        ("Thread and time:", thread_lines(t, result.route.bobbin_changes, units)),
    ):
        if lines:
            console.print(title, style="bold")
        for line in lines:
            console.print(Text(line))
    console.print(
        "The path in words, circles, and all of this to print: guide.txt.", highlight=False
    )
    _warnings(console, (*result.measured.warnings, *result.warnings))
    for caution in (SAFETY_MARKING, SAFETY_MACHINE):
        console.print(caution, style="dim", highlight=False)
    console.print("The maker's manuals for machine, foot and pen come first.", style="dim")
    _files(console, folder)


def _few(rows: Sequence[str]) -> list[str]:
    """Return the first rows of what to mark, and where the others are."""
    if len(rows) <= MARKS_SHOWN:
        return list(rows)
    last = MARKS_SHOWN - 1
    while rows[last].startswith("    "):
        # A step that was begun is told to its end or not at all.
        last -= 1
    return [*rows[:last], f"    and {len(rows) - last} more lines in guide.txt"]


def print_resumed(result: ResumedPlan, folder: Folder) -> None:
    """Print what is done, how the rest compares with the plan, and the files written."""
    console = PlainConsole()
    t = result.route.totals
    for line in (
        *result.lines,
        *result.route.breaks,
        *worth_lines(t),
        *thread_lines(t, result.route.bobbin_changes, result.units),
    ):
        console.print(Text(line))
    _warnings(console, result.warnings)
    _files(console, folder)


def print_looks(
    measured: MeasuredTop, looks: Sequence[Look], batting: Batting, how: Typed, folder: Folder
) -> None:
    """Print looks side by side, what to type to sew each, the warnings and the files written."""
    console = PlainConsole()
    told = [facts(look, batting, measured.units) for look in looks]
    table = Table("", *(f"{k} {TITLES[x.name].lower()}" for k, x in enumerate(looks, start=1)))
    for rows in zip(*told, strict=True):
        table.add_row(rows[0].name, *(Text(fact.text) for fact in rows))
    console.print(table)
    for number, look in enumerate(looks, start=1):
        console.print(f"To sew {number}:", style="bold")
        console.print(Text(how.command(look)), soft_wrap=True)
    found = dict.fromkeys(w for look in looks for w in look.warnings)
    _warnings(console, (*measured.warnings, *found))
    _files(console, folder)


def print_settings(path: Path, settings: "Sequence[ShownSetting]", *, found: bool) -> None:
    """Print every setting, its value, and where that comes from."""
    console = PlainConsole()
    table = Table("setting", "value", "from", box=box.SIMPLE_HEAD, show_edge=False)
    for one in settings:
        table.add_row(one.name, Text(one.value), one.source)
    console.print(table)
    said = f"Read from {path}." if found else f"There is no {path} yet: seamwalk settings --write."
    console.print(said, highlight=False, soft_wrap=True)


def _warnings(console: PlainConsole, warnings: tuple[str, ...]) -> None:
    for warning in warnings:
        console.print(f"! {warning}", highlight=False)


def _files(console: PlainConsole, folder: Folder) -> None:
    for note in folder.notes:
        console.print(f"! {note}", highlight=False)
    names = ", ".join(path.name for path in folder.written)
    console.print(f"Written to {folder.path}: {names}", highlight=False, soft_wrap=True)
