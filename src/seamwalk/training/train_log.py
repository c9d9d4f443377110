"""Lines on the progress of a training, every so many steps."""

import time

from torch import Tensor

from seamwalk.training.loss import PARTS
from seamwalk.training.pace import Pace
from seamwalk.training.shelf import Shelf
from seamwalk.training.train_settings import Say, TrainSettings


def compiled_graphs() -> int:
    """Return how many programs torch has compiled in this process.

    Two are enough, rendering and loss: more means that something changes from step to step, and
    past a limit torch gives up and says nothing.
    """
    from torch._dynamo.utils import counters

    return int(counters["stats"]["unique_graphs"])


class TrainLog:
    """Lines on progress.

    Parameters
    ----------
    say : callable
        Takes a line.
    shelf : Shelf
    pace : Pace
    settings : TrainSettings
    started : float
        ``time.monotonic()`` from which seconds are counted.
    """

    def __init__(
        self, say: Say, shelf: Shelf, pace: Pace, settings: TrainSettings, started: float
    ) -> None:
        self.say, self.shelf, self.pace = say, shelf, pace
        self.settings, self.started = settings, started
        sketches = shelf.feed.tally()[0]
        self.last = (time.monotonic(), shelf.handed, shelf.waited_s, sketches)
        self.sum: Tensor | None = None

    def step(self, steps: int, parts: Tensor, rate: float) -> None:
        """Note one step's loss; say a line if it is time."""
        self.sum = parts if self.sum is None else self.sum + parts
        if steps % self.settings.steps_per_line:
            return
        now, shelf = time.monotonic(), self.shelf
        then, handed, waited, made = self.last
        sketches, pages, failed = shelf.feed.tally()
        spent = max(1e-9, now - then)
        each = (self.sum / self.settings.steps_per_line).tolist()
        shown = ", ".join(f"{name} {value:.4f}" for name, value in zip(PARTS, each, strict=True))
        compiled = f", compiled {compiled_graphs()}" if self.settings.compiled else ""
        self.say(
            f"step {steps}, {now - self.started:.0f} s, sketches {sketches}"
            f" ({(sketches - made) / spent:.1f}/s), pictures {shelf.handed}"
            f" ({(shelf.handed - handed) / spent:.1f}/s), swatches {pages}, failed {failed},"
            f" workers {shelf.feed.alive()}, waited {(shelf.waited_s - waited) / spent:.0%},"
            f" {self.pace.spent().line()}{compiled}, rate {rate:.2e}: {shown}"
        )
        self.last = (now, shelf.handed, shelf.waited_s, sketches)
        self.sum = None
