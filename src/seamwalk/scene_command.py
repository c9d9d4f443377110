"""`seamwalk scene`: parse, call, report."""

from pathlib import Path
from typing import Annotated

import typer

from seamwalk import terminal
from seamwalk.errors import UsageError


def scene(
    out: Annotated[Path, typer.Option("--out", help="FILE.jpg; its truth lies beside it.")],
    design: Annotated[str, typer.Option(help="Kind of top, like nine-patch.")] = "nine-patch",
    seed: Annotated[int, typer.Option(min=0, help="Another number, another top.")] = 1,
    tilt: Annotated[float, typer.Option(min=0, max=50, help="Camera tilt, degrees.")] = 20.0,
) -> None:
    """Render a photo of a made-up top whose true sizes are known.

    Example: seamwalk scene --out nine-patch.jpg --design nine-patch --tilt 25
    """
    from dataclasses import replace

    from seamwalk.folder import Folder
    from seamwalk.scenes.render import SceneSettings, render, save
    from seamwalk.scenes.tops import design_named

    name = design_named(design)
    if out.suffix.lower() not in (".jpg", ".jpeg"):
        raise UsageError(f"A scene can't be a “{out.suffix}” file.", "Name it .jpg.")
    Folder(out.parent).check()
    settings = replace(SceneSettings(), design=name, seed=seed, tilt_deg=tilt)
    out.parent.mkdir(parents=True, exist_ok=True)
    photo, truth = save(render(settings), out.parent, out.stem)
    terminal.say(f"{photo} and {truth.name}")
