"""What the terminal says: progress, a short table, warnings, where the files are."""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.table import Table

from seamwalk.folder import Folder
from seamwalk.model.sizes import Length, Sizes
from seamwalk.pipeline import MeasuredTop, PlannedTop
from seamwalk.trade import SAFETY_MACHINE, SAFETY_MARKING
from seamwalk.units import Units, format_length, from_inches


@contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Yield a function that shows the stage at work, on standard error."""
    console = Console(stderr=True)
    with console.status("starting …") as status:

        def stage(name: str) -> None:
            status.update(f"{name} …")
            if not console.is_terminal:
                console.print(f"{name} …", highlight=False)

        yield stage


def _with_doubt(length: Length, units: Units) -> str:
    digits = 1 if units == "cm" else 2
    doubt = from_inches(length.plus_minus_in, units)
    return f"{format_length(length.value_in, units)} ± {doubt:.{digits}f}"


def print_measured(result: MeasuredTop, folder: Folder) -> None:
    """Print the sizes table, the warnings and the files written."""
    console = Console()
    _sizes_table(console, result.sizes, result.units)
    _warnings(console, result.warnings)
    _files(console, folder)


def _sizes_table(console: Console, sizes: Sizes, units: Units) -> None:
    top = sizes.top
    angles = ", ".join(f"{a.value_deg:.1f}°" for a in top.corner_angles)
    console.print(
        f"Top {_with_doubt(top.width, units)} wide, {_with_doubt(top.height, units)} high; "
        f"corners {angles}",
        highlight=False,
    )
    table = Table("patches", "count", "finished", "right", "off", "can't tell")
    classes = Counter(p.class_name for p in sizes.patches)
    for name, count in classes.most_common(12):
        members = [p for p in sizes.patches if p.class_name == name]
        verdicts = Counter(p.finished.verdict for p in members)
        finished = " × ".join(
            format_length(s, units) for s in dict.fromkeys(members[0].finished.size_in)
        )
        table.add_row(
            name,
            str(count),
            finished,
            str(verdicts["right"]),
            str(verdicts["off"]),
            str(verdicts["cannot tell"]),
        )
    console.print(table)
    if len(classes) > 12:
        console.print(f"and {len(classes) - 12} more kinds: see sizes.csv", highlight=False)


def print_planned(result: PlannedTop, folder: Folder) -> None:
    """Print the sizes, what the route costs, cautions, warnings and the files written."""
    console = Console()
    units = result.measured.units
    _sizes_table(console, result.measured.sizes, units)
    t = result.route.totals
    minutes = sum(t.minutes.values())
    table = Table("path", "")
    table.add_row("threads", str(t.threads))
    table.add_row("ends to bury / ends at the edge", f"{t.buried_ends} / {t.edge_ends}")
    table.add_row("stitched", format_length(t.stitched_in, units, 1))
    table.add_row("of that travel", format_length(t.travel_in, units, 1))
    table.add_row("pivots", str(t.pivots))
    table.add_row("time at the machine", f"{minutes / 60:.1f} h")
    bound = t.lower_bounds.get("minutes")
    if bound:
        table.add_row("no path can take less than", f"{bound / 60:.1f} h")
    table.add_row("thread, needle and bobbin", f"{t.thread_yd:.0f} yd ({t.bobbins} bobbins)")
    console.print(table)
    _warnings(console, (*result.measured.warnings, *result.warnings))
    for caution in (SAFETY_MARKING, SAFETY_MACHINE):
        console.print(caution, style="dim", highlight=False)
    console.print("The maker's manuals for machine, foot and pen come first.", style="dim")
    _files(console, folder)


def _warnings(console: Console, warnings: tuple[str, ...]) -> None:
    for warning in warnings:
        console.print(f"! {warning}", highlight=False)


def _files(console: Console, folder: Folder) -> None:
    for note in folder.notes:
        console.print(f"! {note}", highlight=False)
    names = ", ".join(path.name for path in folder.written)
    console.print(f"Written to {folder.path}: {names}", highlight=False, soft_wrap=True)


def measured_json(result: MeasuredTop, folder: Folder) -> dict[str, object]:
    """Return the measurement as a document for programs."""

    def length(value: Length) -> dict[str, float]:
        return {
            "value": round(from_inches(value.value_in, result.units), 4),
            "plus_minus": round(from_inches(value.plus_minus_in, result.units), 4),
        }

    top = result.sizes.top
    return {
        "units": result.units,
        "patches": len(result.top.patches),
        "width": length(top.width),
        "height": length(top.height),
        "verdicts": dict(Counter(p.finished.verdict for p in result.sizes.patches)),
        "warnings": [*result.warnings, *folder.notes],
        "files": [str(path) for path in folder.written],
    }


def planned_json(result: PlannedTop, folder: Folder) -> dict[str, object]:
    """Return the plan's totals as a document for programs."""
    t = result.route.totals
    document = measured_json(result.measured, folder)
    document["warnings"] = [*result.measured.warnings, *result.warnings, *folder.notes]
    document["totals"] = {
        "threads": t.threads,
        "buried_ends": t.buried_ends,
        "edge_ends": t.edge_ends,
        "stitched": round(from_inches(t.stitched_in, result.measured.units), 2),
        "pivots": t.pivots,
        "quilt_turns": t.quilt_turns,
        "minutes": t.minutes,
        "lower_bounds": t.lower_bounds,
        "thread_yd": t.thread_yd,
        "bobbins": t.bobbins,
    }
    return document
