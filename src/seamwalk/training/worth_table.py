"""The table of what each ingredient of the recipe is worth."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Self

from seamwalk.training.train_settings import TrainSettings


@dataclass(frozen=True, slots=True)
class Result:
    """What one training came to.

    Attributes
    ----------
    name : str
        What was left out, in words.
    steps : int
        Taken.
    seam_f, precision, recall, top_iou, object_iou : float
        As :class:`seamwalk.training.validation.Figures` has them.
    trouble : str
        Why there are no figures, or nothing.
    """

    name: str
    steps: int = 0
    seam_f: float = 0.0
    precision: float = 0.0
    recall: float = 0.0
    top_iou: float = 0.0
    object_iou: float = 0.0
    trouble: str = ""

    @classmethod
    def read(cls, name: str, path: Path) -> Self:
        """Return the figures that a training wrote.

        Raises
        ------
        ValueError
            The file holds something else.
        """
        held = json.loads(path.read_text())
        wanted = [field.name for field in fields(cls) if field.name not in ("name", "trouble")]
        if not isinstance(held, dict) or not set(wanted) <= set(held):
            raise ValueError(f"{path} holds no figures of a training.")
        return cls(name, **{key: held[key] for key in wanted})


def table(results: Sequence[Result]) -> list[str]:
    """Return the lines of a Markdown table.

    Parameters
    ----------
    results : sequence of Result
        The whole recipe first: the others are compared with it.
    """
    lines = [
        "| left out | seam F | difference | precision | recall | top IoU | thing IoU | steps |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    whole = results[0]
    for result in results:
        if result.trouble:
            lines.append(f"| {result.name} | {result.trouble} | | | | | | |")
            continue
        compared = result is not whole and not whole.trouble
        difference = f"{result.seam_f - whole.seam_f:+.4f}" if compared else ""
        figures = (result.precision, result.recall, result.top_iou, result.object_iou)
        shown = " | ".join(f"{value:.4f}" for value in figures)
        lines.append(
            f"| {result.name} | {result.seam_f:.4f} | {difference} | {shown} | {result.steps} |"
        )
    return lines


def page(results: Sequence[Result], settings: TrainSettings, chance: bool) -> str:
    """Return the table with what one must know to read it, as Markdown.

    Parameters
    ----------
    results : sequence of Result
    settings : TrainSettings
        Those that all trainings share.
    chance : bool
        Whether the last result is that of the whole recipe with another seed.
    """
    begun = f"weights of {settings.init.name}" if settings.init else "random weights"
    held = settings.validation
    lines = [
        "# What each ingredient of the training pictures is worth",
        "",
        f"Each training begins with {begun} and takes the same number of steps, {settings.batch}"
        f" pictures of {settings.side} px each. All are judged on the same {held.count} drawn"
        f" pictures of {held.side} px, of the whole recipe, which no training draws. Seam F,"
        " precision and recall are those of ridges at heat 0.5.",
        "",
    ]
    if settings.init:
        lines += [
            "The weights at the beginning may know what is left out: a difference says what"
            " training without it unlearns, less than what it is worth.",
            "",
        ]
    if chance:
        lines += [
            "Every line is one training. The last one is the whole recipe with other random"
            " numbers: smaller differences than its own may be chance.",
            "",
        ]
    else:
        lines += [
            "Every line is one training: how much of a difference is chance, isn't known.",
            "",
        ]
    lines += table(results)
    if len({result.steps for result in results if not result.trouble}) > 1:
        lines += ["", "The numbers of steps differ: some trainings ran out of time."]
    return "\n".join(lines) + "\n"
