"""What each ingredient of the recipe is worth: trainings that leave one out each.

They run one to a graphics card, in processes of their own: one that fails is reported and the
others go on. The first takes the speed and settles how many steps fit; all others take as many.
What is finished is never repeated, so the work can be spread over several calls.
"""

import math
import multiprocessing
import os
import time
import traceback
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from multiprocessing.context import SpawnProcess

from seamwalk.training.feed import Recipe
from seamwalk.training.train import FIGURES, STEPS, train
from seamwalk.training.train_settings import Say, TrainSettings
from seamwalk.training.worth_plan import (
    TROUBLE,
    Trial,
    WorthSettings,
    bring_back,
    check_plan,
    keep,
    trials,
)
from seamwalk.training.worth_table import Result, page

PAGE = "worth.md"
"""Name of the file of the table."""


@dataclass(frozen=True, slots=True)
class _Run:
    trial: Trial
    process: SpawnProcess
    begun: float
    until: float


def _unheard(line: str) -> None:
    """Take a line of a trial's log, which stands in its file."""


def _train_alone(settings: TrainSettings, recipe: Recipe, card: str, started: float) -> None:
    if settings.gpus:
        os.environ["CUDA_VISIBLE_DEVICES"] = card
    try:
        train(settings, recipe, started, _unheard)
    except BaseException:
        (settings.out / TROUBLE).write_text(traceback.format_exc())
        raise


def _cards(count: int) -> list[str]:
    """Return the names of the cards, of those that this process may use."""
    given = os.environ.get("CUDA_VISIBLE_DEVICES")
    names = given.split(",") if given else [str(k) for k in range(count)]
    return names[: max(1, count)] or [""]


class _Trials:
    """The trainings under way and to come."""

    def __init__(self, settings: WorthSettings, recipe: Recipe, started: float, say: Say) -> None:
        self.settings, self.recipe, self.say = settings, recipe, say
        self.all = trials(settings)
        self.cards = _cards(settings.training.gpus)
        minutes = settings.minutes if settings.call_minutes is None else settings.call_minutes
        self.end = started + minutes * 60
        self.share_s = settings.minutes * 60 / math.ceil(len(self.all) / len(self.cards))
        self.longest_s = 0.0
        self.running: dict[str, _Run] = {}
        self.waiting = deque(t for t in self.all if not (t.settings.out / FIGURES).exists())

    def steps(self) -> int | None:
        """Return how many steps each takes, if that is settled."""
        if self.settings.training.most_steps is not None:
            return self.settings.training.most_steps
        for trial in self.all:
            path = trial.settings.out / STEPS
            # It may be there and not yet be written.
            if path.exists() and path.read_text().endswith("\n"):
                return int(path.read_text())
        return None

    def begin(self) -> None:
        """Begin what there are cards and time for."""
        for card in self.cards:
            steps = self.steps()
            if card in self.running or not self.waiting or (steps is None and self.running):
                continue
            left_s = self.end - time.monotonic()
            if left_s < (self.longest_s or self.share_s):
                if not self.running:
                    names = ", ".join(trial.name for trial in self.waiting)
                    self.say(f"no time left for: {names}; the same command goes on with them")
                    self.waiting.clear()
                continue
            self._begin(self.waiting.popleft(), card, steps, left_s)

    def _begin(self, trial: Trial, card: str, steps: int | None, left_s: float) -> None:
        out, gpus = trial.settings.out, min(1, trial.settings.gpus)
        out.mkdir(parents=True, exist_ok=True)
        (out / TROUBLE).unlink(missing_ok=True)
        seconds = left_s if steps is not None else min(self.share_s, left_s)
        chosen = replace(
            trial.settings,
            minutes=seconds / 60,
            most_steps=steps,
            fix_steps_after=self.settings.speed_steps if steps is None else None,
            gpus=gpus,
            workers=max(1, trial.settings.workers // len(self.cards)),
        )
        now = time.monotonic()
        process = multiprocessing.get_context("spawn").Process(
            target=_train_alone, args=(chosen, self.recipe, card, now)
        )
        process.start()
        self.running[card] = _Run(trial, process, now, now + seconds + self.settings.grace_s)
        self.say(f"left out {trial.name}: begun{f' on card {card}' if gpus else ''}")

    def ended(self) -> Iterator[tuple[Trial, float]]:
        """Give up what hangs, take leave of what has ended; yield it and the seconds it took."""
        for card, run in list(self.running.items()):
            late = time.monotonic() > run.until
            if run.process.is_alive() and not late:
                continue
            self._stop(run)
            del self.running[card]
            out = run.trial.settings.out
            took_s = time.monotonic() - run.begun
            if (out / FIGURES).exists():
                self.longest_s = max(self.longest_s, took_s)
            elif not (out / TROUBLE).exists():
                why = "It hung." if late else f"It ended with code {run.process.exitcode}."
                (out / TROUBLE).write_text(why + "\n")
            yield run.trial, took_s

    def stop(self) -> None:
        """Leave nothing running."""
        for run in self.running.values():
            self._stop(run)

    def _stop(self, run: _Run) -> None:
        if run.process.is_alive():
            run.process.terminate()
            run.process.join(10.0)
        if run.process.is_alive():
            run.process.kill()
        run.process.join()


def worth(settings: WorthSettings, recipe: Recipe, started: float, say: Say) -> tuple[Result, ...]:
    """Train, judge and compare; go on where an earlier call was cut off.

    Parameters
    ----------
    settings : WorthSettings
    recipe : Recipe
        Functions of a module: other processes import them by name.
    started : float
        ``time.monotonic()`` at which the minutes began.
    say : callable
        Takes a line on progress.

    Returns
    -------
    tuple of Result
        The whole recipe first. The folder holds them as a table, too, and every network.

    Raises
    ------
    ValueError
        The folder holds trainings with other settings.
    """
    out = settings.training.out
    out.mkdir(parents=True, exist_ok=True)
    check_plan(settings.training)
    bring_back(trials(settings), settings.training)
    work = _Trials(settings, recipe, started, say)

    def results() -> tuple[Result, ...]:
        keep(work.all, settings.training)
        found = tuple(trial.result() for trial in work.all)
        (out / PAGE).write_text(page(found, settings.training, settings.chance))
        return found

    try:
        while work.waiting or work.running:
            work.begin()
            for trial, took_s in work.ended():
                result = trial.result()
                told = result.trouble or f"seam F {result.seam_f:.4f} in {result.steps} steps"
                say(f"left out {trial.name}: {told}, {took_s:.0f} s")
                results()
            time.sleep(0.1)
    finally:
        work.stop()
    return results()
