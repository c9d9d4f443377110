"""The training's command: ``python -m seamwalk.training``."""

import os
import time
from pathlib import Path
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
    Without,
    Workers,
    cores_to_draw,
    left_out,
)
from seamwalk.training.worth_command import worth

STARTED = time.monotonic()

VISION_WEIGHTS = Path(__file__).parents[1] / "vision" / "weights"
"""Where the package keeps what is trained."""

# Set before numpy is loaded: every worker is one thread, and there is a worker for every core.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

app = typer.Typer(
    name="seamwalk.training",
    help="Train the seam network on pictures of tops that never were.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


@app.command()
def train(
    out: Out,
    minutes: Annotated[float, typer.Option(help="From the start to the last file.")] = 9.5,
    side: Side = 768,
    batch: Batch = 32,
    lr: Rate = 2e-3,
    seed: Seed = 1,
    init: Init = None,
    begins: Annotated[
        float,
        typer.Option(
            "--from-share",
            help="Where this training begins in a longer schedule: the rate of learning falls"
            " from there, as if the shares before had been trained by earlier runs.",
            min=0,
            max=1,
        ),
    ] = 0.0,
    ends: Annotated[
        float,
        typer.Option(
            "--to-share",
            help="Where it ends in that schedule: three runs with 0 to 0.33, 0.33 to 0.66 and"
            " 0.66 to 1, each from the ema.pt of the one before, are one long training.",
            min=0,
            max=1,
        ),
    ] = 1.0,
    without: Without = None,
    workers: Workers = None,
    gpus: Gpus = None,
    reuse: Annotated[int, typer.Option(help="Uses of each sketch.")] = 2,
    steps: Annotated[int | None, typer.Option(help="Stop after so many steps.")] = None,
    closing: Annotated[float, typer.Option(help="Seconds kept for judging and writing.")] = 40.0,
    compiled: Compiled = False,
    compiled_file: CompiledFile = None,
    network_compiled: Annotated[
        bool, typer.Option("--compile-network", help="Compile the network.")
    ] = False,
    contiguous: Annotated[
        bool, typer.Option("--contiguous", help="Keep channels apart in the card's memory.")
    ] = False,
    bench: Annotated[bool, typer.Option("--bench", help="Only measure the parts' speed.")] = False,
) -> None:
    """Train, and leave ema.pt, state.pt, seamnet.onnx, figures.json, val.jpg and log.txt."""
    import torch

    from seamwalk.training import train as training
    from seamwalk.training.feed import TOPS
    from seamwalk.training.rates import rates
    from seamwalk.training.train_settings import TrainSettings

    if begins >= ends:
        raise typer.BadParameter("It must be less than --to-share.", param_hint="--from-share")
    cards = gpus if gpus is not None else torch.cuda.device_count()
    settings = TrainSettings(
        out=out,
        minutes=minutes,
        side=side,
        batch=batch,
        lr=lr,
        seed=seed,
        init=init,
        begins=begins,
        ends=ends,
        ingredients=left_out(without),
        workers=workers if workers is not None else cores_to_draw(cards),
        gpus=cards,
        reuse=reuse,
        most_steps=steps,
        closing_s=closing,
        compiled=compiled,
        compiled_file=compiled_file,
        network_compiled=network_compiled,
        channels_last=not contiguous,
    )
    if bench:
        for line in rates(settings, TOPS):
            typer.echo(line)
        return
    training.train(settings, TOPS, STARTED, typer.echo)


@app.command()
def export(
    weights: Annotated[Path, typer.Argument(help="An ema.pt of a training.")],
    onnx: Annotated[Path, typer.Argument(help="The file to write.")],
) -> None:
    """Write the file that seamwalk reads from the weights of a training."""
    from seamwalk.training import checkpoint
    from seamwalk.training import export as exporting

    network, about = checkpoint.read(weights)
    typer.echo(f"{exporting.write(network, onnx, about)} bytes")


@app.command()
def check(
    weights: Annotated[Path, typer.Argument(help="An ema.pt of a training.")],
    onnx: Annotated[Path, typer.Argument(help="The file written from it.")],
    side: Side = 1024,
) -> None:
    """Compare the file with the weights in each runtime, and time them on a noise picture."""
    from seamwalk.training import checkpoint
    from seamwalk.training.export_check import compare

    for line in compare(checkpoint.read(weights)[0], onnx, side):
        typer.echo(line)


@app.command()
def judge(
    pictures: Annotated[int, typer.Option(help="Pictures drawn; a fourth is set aside.")] = 200,
    seed: Seed = 1,
    weights: Annotated[
        Path, typer.Option(help="The network's file whose heat is judged.")
    ] = VISION_WEIGHTS / "seamnet.onnx",
    out: Annotated[
        Path, typer.Option("--out", help="Folder for judge.json and judge_again.json.")
    ] = VISION_WEIGHTS,
) -> None:
    """Fit both judges of borders to a network's heat, some 15 seconds a picture."""
    import torch

    from seamwalk.training import judge as judging
    from seamwalk.vision.heat_weights import AGAIN_FILE, FILE, written

    # More threads round sums in another order: the same seed must give the same file.
    torch.set_num_threads(1)
    settings = judging.JudgeSettings(pictures=pictures, seed=seed)
    look = judging.network_look(weights)
    first = None
    for name in (FILE, AGAIN_FILE):
        cases = tuple(judging.cases(look, settings, first))
        typer.echo(f"{len(cases)} of {pictures} pictures can be read")
        fitted = judging.judged_on(cases, settings, typer.echo, first)
        written(fitted, judging.about(settings, len(cases), weights), out / name)
        first = fitted


@app.command()
def show(
    jpeg: Annotated[Path, typer.Argument(help="The sheet to write.")],
    seed: Seed = 1,
    side: Side = 768,
    count: Annotated[int, typer.Option(help="Pictures on the sheet.")] = 24,
    without: Without = None,
    workers: Annotated[int, typer.Option(help="Drawing processes.")] = 1,
) -> None:
    """Write a sheet of training pictures, each beside the truth of its seams."""
    import torch

    from seamwalk.training import contact
    from seamwalk.training.feed import TOPS, Feed
    from seamwalk.training.shelf import Shelf, ShelfSettings
    from seamwalk.training.train import picture_batch
    from seamwalk.training.train_settings import TrainSettings

    settings = TrainSettings(
        out=jpeg.parent,
        side=side,
        seed=seed,
        workers=workers,
        ingredients=left_out(without),
        prints=120,
        surfaces=24,
    )
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    groups = []
    with Feed(TOPS, settings.feed(0)) as feed:
        shelf = Shelf(feed, device, ShelfSettings(places=8, reuse=1))
        for _ in range(-(-count // 4)):
            pictures, truth = picture_batch(shelf, 4, shelf.rng)
            for picture, planes in zip(pictures, truth, strict=True):
                groups.append([contact.as_rgb(picture), contact.as_heat(planes[0])])
        if feed.troubles():
            typer.echo(feed.troubles())
    contact.write_jpeg(contact.sheet(groups[:count], 320, 3), jpeg)


app.command()(worth)

if __name__ == "__main__":
    app()
