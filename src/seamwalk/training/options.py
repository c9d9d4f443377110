"""Options that several commands of the training share."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    # It loads numpy, which the command must not do before it has set its threads.
    from seamwalk.training.sketch import Ingredients

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
Batch = Annotated[int, typer.Option(help="Pictures a step, on each card.")]
Rate = Annotated[float, typer.Option(help="Highest rate of learning.")]
Workers = Annotated[int | None, typer.Option(help="Drawing processes in all.")]
Gpus = Annotated[int | None, typer.Option(help="Graphics cards; 0 for none.")]
Init = Annotated[
    Path | None,
    typer.Option(
        help="Weights to start from: an ema.pt, or the file that seamwalk reads. With an ema.pt,"
        " the optimiser goes on from the state.pt in its folder, if there is one."
    ),
]
Compiled = Annotated[bool, typer.Option("--compile", help="Compile rendering and loss.")]

CompiledFile = Annotated[
    Path | None,
    typer.Option(
        help="Keeps what --compile made, so that a run on a fresh machine need not wait for it."
        " It is a program: use only what you wrote yourself."
    ),
]


def cores_to_draw(gpus: int) -> int:
    """Return how many drawing processes the machine has room for.

    Each card's trainer keeps two cores: torch goes forwards in one thread and back in another.
    """
    return max(1, (os.cpu_count() or 1) - max(1, 2 * gpus))


def left_out(names: list[str] | None) -> "Ingredients":
    """Return the recipe's ingredients less those named.

    Raises
    ------
    typer.BadParameter
        There is no such ingredient.
    """
    from seamwalk.training.train_settings import without

    try:
        return without(names or [])
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--without") from error
