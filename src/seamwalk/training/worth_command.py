"""The command that compares trainings: ``python -m seamwalk.training worth``."""

import time
from typing import Annotated

import typer

from seamwalk.training.options import (
    Batch,
    Compiled,
    CompiledFile,
    Gpus,
    Init,
    Out,
    Rate,
    Seed,
    Side,
    Workers,
    cores_to_draw,
)


def worth(
    out: Out,
    minutes: Annotated[
        float, typer.Option(help="For all trainings together; it sets the number of steps.")
    ],
    call_minutes: Annotated[
        float | None,
        typer.Option(
            help="For this call: no training begins that would not end in it. The same command"
            " goes on with what is left."
        ),
    ] = None,
    side: Side = 640,
    batch: Batch = 32,
    lr: Rate = 2e-3,
    seed: Seed = 1,
    init: Init = None,
    workers: Workers = None,
    gpus: Gpus = None,
    steps: Annotated[
        int | None, typer.Option(help="Steps of each training, whatever the speed.")
    ] = None,
    chance: Annotated[
        bool, typer.Option(help="Train the whole recipe twice, to see what chance does.")
    ] = True,
    compiled: Compiled = False,
    compiled_file: CompiledFile = None,
) -> None:
    """Compare trainings that leave out one ingredient each, one training to a card at a time."""
    import torch

    from seamwalk.training.feed import TOPS
    from seamwalk.training.train_settings import TrainSettings
    from seamwalk.training.worth import worth as compare
    from seamwalk.training.worth_plan import WorthSettings

    cards = gpus if gpus is not None else torch.cuda.device_count()
    training = TrainSettings(
        out=out,
        side=side,
        batch=batch,
        lr=lr,
        seed=seed,
        init=init,
        workers=workers if workers is not None else cores_to_draw(cards),
        gpus=cards,
        most_steps=steps,
        closing_s=25.0,
        compiled=compiled,
        compiled_file=compiled_file,
    )
    settings = WorthSettings(training, minutes, call_minutes, chance)
    try:
        compare(settings, TOPS, time.monotonic(), typer.echo)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--out") from error
    typer.echo((out / "worth.md").read_text())
