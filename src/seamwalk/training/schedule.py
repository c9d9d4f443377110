"""How far a training is on its way, by the clock or by steps."""

import time
from collections.abc import Callable

from seamwalk.training.train_settings import TrainSettings

_COMPILED_BY = 2
"""Steps in which torch compiles and tries the card's ways: no measure of speed, and no time in
which the rate of learning should fall."""

_SURE = 0.93
"""Share of the steps that would fit by the speed measured: later ones are slower at times."""


class Schedule:
    """How far a training is: 0 at its first step, 1 when it is over.

    By the clock where no number of steps is given. Trainings that are to be compared take the
    same number: the first of them measures how many fit.

    Parameters
    ----------
    settings : TrainSettings
    started : float
        ``time.monotonic()`` at which the minutes began.
    agreed : callable
        Gives every card the first card's number. It is asked in the same steps on all.

    Attributes
    ----------
    most : int, optional
        Steps in all, once that is known.
    """

    def __init__(
        self, settings: TrainSettings, started: float, agreed: Callable[[float], float]
    ) -> None:
        self.settings, self.agreed = settings, agreed
        self.end = started + settings.minutes * 60 - settings.closing_s
        self.begun = time.monotonic()
        self.share = 0.0
        self.most = settings.most_steps

    def at(self, steps: int) -> float:
        """Return how far the training is before a step; 1 or more when it is over.

        Parameters
        ----------
        steps : int
            Taken so far; ask once before each.
        """
        now = time.monotonic()
        if steps <= _COMPILED_BY:
            self.begun = now
        # Late in a training that has begun too late, the end may lie before the beginning.
        length = max(1e-3, self.end - self.begun)
        fixing = self.most is None and steps == self.settings.fix_steps_after
        if fixing:
            each = (now - self.begun) / max(1, steps - _COMPILED_BY)
            fit = _SURE * max(0.0, self.end - now) / max(1e-9, each)
            self.most = steps + int(self.agreed(fit))
        if steps % self.settings.steps_per_look == 0:
            over = float(now >= self.end)
            self.share = self.agreed(max(over, (now - self.begun) / length))
        if self.most is None:
            return self.share
        return max(self.share, steps / self.most if self.most else 1.0)
