"""`seamwalk resume`: parse, call, report."""

from pathlib import Path
from typing import Annotated

import typer

from seamwalk import terminal
from seamwalk.options import Json, Out, SettingsOption, ThreadState, UnitsOption


def resume(
    source: Annotated[
        Path, typer.Argument(help="The plan.json that you follow, or the folder it is in.")
    ],
    out: Out,
    done_to: Annotated[
        int | None,
        typer.Option("--done-to", help="Every step up to and including this one is sewn."),
    ] = None,
    not_done: Annotated[
        str | None,
        typer.Option("--not-done", help='Left out of those: steps or names, like "12, 14".'),
    ] = None,
    also_done: Annotated[
        str | None, typer.Option("--also-done", help="Sewn besides: steps or names.")
    ] = None,
    sewed: Annotated[
        str | None,
        typer.Option(help="What you sewed since then instead, in order: names of edges."),
    ] = None,
    done: Annotated[
        Path | None,
        typer.Option(metavar="<file>", help="A done.json kept while sewing, instead of steps."),
    ] = None,
    needle: Annotated[
        str | None,
        typer.Option(
            help='Where the needle is, from the left and the upper edge, like "23 1/2, 12".',
            show_default="where the last step sewn ends",
        ),
    ] = None,
    thread: Annotated[
        ThreadState | None,
        typer.Option(
            help="Whether the thread was cut.", show_default="runs in the middle of a thread"
        ),
    ] = None,
    photo: Annotated[
        Path | None, typer.Option(help="The photo that the top was measured in.")
    ] = None,
    units: UnitsOption = None,
    settings: SettingsOption = None,
    search: Annotated[
        float | None,
        typer.Option(
            min=0, max=3600, metavar="<seconds>", help="Look this long for a shorter path."
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Go on from the middle: the best rest after a missed turn, or a better idea.

    Example: seamwalk resume my-quilt --done-to 37 --out my-quilt-2

    Nothing that is sewn is sewn again. Where no better way is found, the rest of the plan stays
    as it is. Writes plan.json, and overlay.jpg, path.svg and guide.txt where the top.json lies
    beside the plan. The plan that you follow is never overwritten: in its own folder it is kept
    as plan-1.json.
    """
    from dataclasses import replace

    from seamwalk import report, report_json
    from seamwalk.begun_plan import read_begun, said_of
    from seamwalk.folder import KEPT_WITH_A_BEGUN_PLAN, Folder
    from seamwalk.own_settings import own_settings
    from seamwalk.results import write_resumed
    from seamwalk.resuming import resume_plan

    folder = Folder(out, KEPT_WITH_A_BEGUN_PLAN)
    folder.check()
    own = own_settings(settings, units.value if units else None)
    plan = read_begun(source)
    if units is None:
        own = replace(own, units=plan.units or own.units)
    said = said_of(
        plan,
        done_to=done_to,
        done_file=done,
        not_done=not_done,
        also_done=also_done,
        sewed=sewed,
        needle=needle,
        runs=None if thread is None else thread is ThreadState.runs,
        units=own.units,
    )
    with report.progress() as stage:
        result = resume_plan(
            plan,
            said,
            usual=own.machine,
            units=own.units,
            photo_path=photo,
            time_limit_s=search,
            progress=stage,
        )
        stage("drawing and writing the results")
        write_resumed(folder, result)
    if as_json:
        terminal.say_json(report_json.resumed_json(result, folder))
    else:
        report.print_resumed(result, folder)
