"""Which trainings show what each ingredient of the recipe is worth."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

from seamwalk.training.sketch import Ingredients
from seamwalk.training.train import FIGURES, STEPS
from seamwalk.training.train_settings import TrainSettings, without
from seamwalk.training.worth_table import Result

TROUBLE = "trouble.txt"
"""Name of the file of a failed training's traceback."""

PLAN = "worth.json"
"""Name of the file of what all trainings share, and of what is done."""


@dataclass(frozen=True, slots=True)
class WorthSettings:
    """Which trainings, and how long.

    Attributes
    ----------
    training : TrainSettings
        What all trainings share; its folder holds theirs, its workers and cards are divided.
        Where it states a number of steps, no speed is taken.
    minutes : float
        For all trainings together, over all calls; it sets the number of steps.
    call_minutes : float, optional
        For this call: no training begins that would not end in time. All, unless given.
    chance : bool
        Train the whole recipe once more with another seed: what differs then is chance.
    speed_steps : int
        The first training's steps after which its speed is taken: a dozen seconds.
    grace_s : float
        A training that is so late is stopped: it hangs.
    """

    training: TrainSettings
    minutes: float
    call_minutes: float | None = None
    chance: bool = True
    speed_steps: int = 60
    grace_s: float = 90.0


@dataclass(frozen=True, slots=True)
class Trial:
    """One training of the comparison.

    Attributes
    ----------
    name : str
        What is left out, in words.
    settings : TrainSettings
        With the trial's own folder.
    """

    name: str
    settings: TrainSettings

    def result(self) -> Result:
        """Return its figures, or why there are none."""
        figures, trouble = self.settings.out / FIGURES, self.settings.out / TROUBLE
        if figures.exists():
            return Result.read(self.name, figures)
        if trouble.exists():
            last = trouble.read_text().strip().splitlines()[-1]
            return Result(self.name, trouble=f"failed: {last.replace('|', '/')}")
        return Result(self.name, trouble="not trained yet")


def trials(settings: WorthSettings) -> tuple[Trial, ...]:
    """Return the trainings: the whole recipe, less each ingredient, and whole once more."""
    shared = settings.training
    found = [Trial("nothing", replace(shared, out=shared.out / "whole"))]
    found += [
        Trial(
            name.replace("_", " "),
            replace(shared, out=shared.out / f"without_{name}", ingredients=without([name])),
        )
        for name in Ingredients.__slots__
    ]
    if settings.chance:
        again = replace(shared, out=shared.out / "whole_again", seed=shared.seed + 1)
        found.append(Trial("nothing, other seed", again))
    return tuple(found)


def check_plan(training: TrainSettings) -> None:
    """Refuse to compare trainings that differ in more than an ingredient.

    Raises
    ------
    ValueError
        The folder holds trainings with other settings.
    """
    plan = {
        "side": training.side,
        "batch": training.batch,
        "lr": training.lr,
        "seed": training.seed,
        "reuse": training.reuse,
        "init": str(training.init or ""),
        "steps": training.most_steps,
    }
    path = training.out / PLAN
    if not path.exists():
        path.write_text(json.dumps({"plan": plan}, indent=1) + "\n")
        return
    before = json.loads(path.read_text())["plan"]
    differing = sorted(name for name in plan if before.get(name) != plan[name])
    if differing:
        said = ", ".join(f"{name} was {before.get(name)}, is {plan[name]}" for name in differing)
        raise ValueError(
            f"The trainings in {training.out} had other settings: {said}."
            " Give the same ones, or another folder."
        )


def keep(found: Sequence[Trial], training: TrainSettings) -> None:
    """Write what is settled and done beside the plan: that file alone is enough to go on."""
    path = training.out / PLAN
    held = {
        trial.settings.out.name: {
            name: (trial.settings.out / name).read_text()
            for name in (FIGURES, STEPS)
            if (trial.settings.out / name).exists()
        }
        for trial in found
    }
    content = json.loads(path.read_text()) | {"done": held}
    part = path.with_suffix(".part")
    part.write_text(json.dumps(content, indent=1) + "\n")
    part.replace(path)


def bring_back(found: Sequence[Trial], training: TrainSettings) -> None:
    """Put back what `keep` wrote where the trainings' folders did not come along."""
    held = json.loads((training.out / PLAN).read_text()).get("done", {})
    for trial in found:
        for name, text in held.get(trial.settings.out.name, {}).items():
            path = trial.settings.out / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if not path.exists():
                path.write_text(text)
