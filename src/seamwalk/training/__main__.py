"""The training's command: ``python -m seamwalk.training``."""

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from seamwalk.training.sketch import Ingredients

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

Out = Annotated[Path, typer.Option("--out", help="Folder for the results; made if needed.")]
Without = Annotated[
    list[str] | None, typer.Option("--without", help="Ingredient to leave out; may be repeated.")
]


def _whole_strides(side: int) -> int:
    if side <= 0 or side % 32:
        raise typer.BadParameter("The side must be a multiple of 32.")
    return side


Side = Annotated[
    int,
    typer.Option(help="Side of a picture in pixels, a multiple of 32.", callback=_whole_strides),
]
Seed = Annotated[int, typer.Option(help="Other seeds give other pictures and other weights.")]


def _less(names: list[str] | None) -> "Ingredients":
    from seamwalk.training.train_settings import without

    try:
        return without(names or [])
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--without") from error


@app.command()
def train(
    out: Out,
    minutes: Annotated[float, typer.Option(help="From the start to the last file.")] = 9.5,
    side: Side = 768,
    batch: Annotated[int, typer.Option(help="Pictures a step, on each card.")] = 32,
    lr: Annotated[float, typer.Option(help="Highest rate of learning.")] = 2e-3,
    seed: Seed = 1,
    init: Annotated[
        Path | None,
        typer.Option(help="Weights to start from: an ema.pt, or the file that seamwalk reads."),
    ] = None,
    without: Without = None,
    workers: Annotated[int | None, typer.Option(help="Drawing processes in all.")] = None,
    gpus: Annotated[int | None, typer.Option(help="Graphics cards; 0 for none.")] = None,
    reuse: Annotated[int, typer.Option(help="Uses of each sketch.")] = 2,
    steps: Annotated[int | None, typer.Option(help="Stop after so many steps.")] = None,
    closing: Annotated[float, typer.Option(help="Seconds kept for judging and writing.")] = 40.0,
    compiled: Annotated[
        bool, typer.Option("--compile", help="Compile rendering and loss.")
    ] = False,
    network_compiled: Annotated[
        bool, typer.Option("--compile-network", help="Compile the network.")
    ] = False,
    contiguous: Annotated[
        bool, typer.Option("--contiguous", help="Keep channels apart in the card's memory.")
    ] = False,
    bench: Annotated[bool, typer.Option("--bench", help="Only measure the parts' speed.")] = False,
) -> None:
    """Train, and leave ema.pt, seamnet.onnx, val.jpg and log.txt."""
    import torch

    from seamwalk.training import train as training
    from seamwalk.training.feed import TOPS
    from seamwalk.training.rates import rates
    from seamwalk.training.train_settings import TrainSettings

    cores = os.cpu_count() or 1
    settings = TrainSettings(
        out=out,
        minutes=minutes,
        side=side,
        batch=batch,
        lr=lr,
        seed=seed,
        init=init,
        ingredients=_less(without),
        workers=workers if workers is not None else max(1, cores - 1),
        gpus=gpus if gpus is not None else torch.cuda.device_count(),
        reuse=reuse,
        most_steps=steps,
        closing_s=closing,
        compiled=compiled,
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
    out: Annotated[Path, typer.Option("--out", help="The file to write.")] = VISION_WEIGHTS
    / "judge.json",
) -> None:
    """Fit the judge of borders to a network's heat, some 5 seconds a picture."""
    import torch

    from seamwalk.training import judge as judging
    from seamwalk.vision.heat_weights import written

    # More threads round sums in another order: the same seed must give the same file.
    torch.set_num_threads(1)
    settings = judging.JudgeSettings(pictures=pictures, seed=seed)
    cases = tuple(judging.cases(judging.network_look(weights), settings))
    typer.echo(f"{len(cases)} of {pictures} pictures can be read")
    fitted = judging.judged_on(cases, settings, typer.echo)
    written(fitted, judging.about(settings, len(cases), weights), out)


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
        ingredients=_less(without),
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


if __name__ == "__main__":
    app()
