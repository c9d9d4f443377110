"""What one training is told, and the rate at which it learns.

References
----------
I. Loshchilov, F. Hutter, "SGDR: stochastic gradient descent with warm restarts", ICLR 2017 (the
cosine).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from seamwalk.training.feed import FeedSettings
from seamwalk.training.network import NetworkSettings
from seamwalk.training.shelf import ShelfSettings
from seamwalk.training.sketch import Ingredients
from seamwalk.training.validation import ValidationSettings


@dataclass(frozen=True, slots=True)
class TrainSettings:
    """One training.

    Attributes
    ----------
    out : Path
        Folder for the results; made if needed.
    minutes : float
        From `started` to the last file written.
    batch : int
        Pictures a step, on each card.
    side : int
        Pixels of a picture's side.
    lr : float
        Highest rate of learning; for warm starts a third of it is usual.
    seed : int
    init : Path, optional
        Weights to start from. Where the optimiser's moments lie beside them, in ``state.pt``, it
        goes on with these.
    begins, ends : float
        Shares of a longer schedule: this training is the part of it from one to the other, and
        the rate of learning falls as it would there.
    ingredients : Ingredients
    workers, gpus, reuse : int
        Drawing processes in all; cards, 0 for the processor; uses of each sketch.
    slots_per_worker : int
    prints, surfaces : int
    compiled : bool
        Let torch compile rendering and loss: nine times as many pictures a second are rendered
        on an H100, after two slow minutes.
    compiled_file : Path, optional
        Keeps what was compiled, for the next run on a fresh machine.
    network_compiled : bool
        The same for the network.
    channels_last : bool
        Order of numbers in a card's memory; which is faster depends on card and library.
    most_steps : int, optional
        Stop after so many steps at the latest.
    fix_steps_after : int, optional
        After so many steps, take the speed so far and settle how many there will be in all. It
        is for trainings that others are compared with, in as many steps.
    weight_decay : float
        Of kernels only.
    warm_up_steps : int
        Steps until the highest rate,
    warm_up_share : float
        or this share of a training, where that comes sooner.
    last_share : float
        Rate at the end, as a share of the highest.
    steepest : float
        Gradients longer than this are cut: a batch of odd pictures must not throw the weights.
    mean_decay : float
        Of the running mean: some 500 steps, a tenth of a short training.
    closing_s : float
        Set aside for judging and writing.
    steps_per_line, steps_per_look : int
        Steps between lines of the log; between looks at the clock, which all cards share.
    seconds_per_save : float
        Weights are written so often, in case the training is cut off.
    network : NetworkSettings
    validation : ValidationSettings
    """

    out: Path
    minutes: float = 9.5
    batch: int = 32
    side: int = 768
    lr: float = 2e-3
    seed: int = 1
    init: Path | None = None
    begins: float = 0.0
    ends: float = 1.0
    ingredients: Ingredients = field(default_factory=Ingredients)
    workers: int = 15
    gpus: int = 1
    reuse: int = 2
    slots_per_worker: int = 4
    prints: int = 1200
    surfaces: int = 200
    compiled: bool = False
    compiled_file: Path | None = None
    network_compiled: bool = False
    channels_last: bool = True
    most_steps: int | None = None
    fix_steps_after: int | None = None
    weight_decay: float = 0.03
    warm_up_steps: int = 200
    warm_up_share: float = 0.1
    last_share: float = 0.01
    steepest: float = 2.0
    mean_decay: float = 0.998
    closing_s: float = 40.0
    steps_per_line: int = 200
    steps_per_look: int = 10
    seconds_per_save: float = 120.0
    network: NetworkSettings = field(default_factory=NetworkSettings)
    validation: ValidationSettings = field(default_factory=ValidationSettings)

    def feed(self, rank: int) -> FeedSettings:
        """Return the share of one card in the drawing."""
        workers = max(1, self.workers // max(1, self.gpus))
        return FeedSettings(
            side=self.side,
            workers=workers,
            slots=workers * self.slots_per_worker,
            prints=self.prints,
            surfaces=self.surfaces,
            seed=(self.seed, rank),
            ingredients=self.ingredients,
        )

    def shelf(self) -> ShelfSettings:
        """Return how sketches are kept: ten batches of them."""
        return ShelfSettings(places=10 * self.batch, reuse=self.reuse)


Say = Callable[[str], None]
"""Takes a line of the log."""


def rate_at(step: int, progress: float, settings: TrainSettings) -> float:
    """Return the rate of learning.

    Parameters
    ----------
    step : int
        From 0, those before this training counted in if it goes on with their moments.
    progress : float
        Share of this training that has passed, 0 to 1.
    settings : TrainSettings
    """
    warm = (step + 1) / max(1, settings.warm_up_steps)
    warm = min(1.0, max(warm, progress / settings.warm_up_share))
    passed = settings.begins + (settings.ends - settings.begins) * min(1.0, progress)
    falling = 0.5 * (1 + math.cos(math.pi * passed))
    return settings.lr * warm * (settings.last_share + (1 - settings.last_share) * falling)


def without(names: list[str]) -> Ingredients:
    """Return the recipe's ingredients less those named.

    Raises
    ------
    ValueError
        There is no such ingredient.
    """
    unknown = sorted(set(names) - set(Ingredients.__slots__))
    if unknown:
        raise ValueError(f"No such ingredient: {', '.join(unknown)}.")
    return replace(Ingredients(), **dict.fromkeys(names, False))
