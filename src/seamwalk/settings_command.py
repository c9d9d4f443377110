"""`seamwalk settings`: parse, call, report."""

from typing import Annotated

import typer

from seamwalk import terminal
from seamwalk.options import Json, SettingsOption


def settings(
    settings: SettingsOption = None,
    write: Annotated[
        bool, typer.Option("--write", help="Write a file with what holds now, if there is none.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Show and check your settings: machine, batting, circles, units, paper, binding.

    Example: seamwalk settings --write

    Every value is shown with where it comes from. Options on the command line win over the file.
    """
    from seamwalk import report, report_json
    from seamwalk.files.settings_file import SettingsFile
    from seamwalk.files.settings_text import shown, write_new
    from seamwalk.model.settings import OwnSettings
    from seamwalk.own_settings import load_checked

    missing = settings is not None and not settings.exists()
    if write and missing and settings is not None:
        found = SettingsFile(OwnSettings(), settings)
    else:
        found = load_checked(settings)
    if write:
        path = write_new(found)
        if not as_json:
            terminal.say(f"{path}: open it with any editor.")
            return
        found = load_checked(path)
    if as_json:
        terminal.say_json(report_json.settings_json(found.path, shown(found)))
    else:
        report.print_settings(found.path, shown(found), found=found.found)
