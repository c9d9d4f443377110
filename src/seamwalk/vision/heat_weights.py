"""The judge of borders in :mod:`heat_merge`: its numbers, and the file they are kept in.

The file is written by ``python -m seamwalk.training judge``, which fits the judge on the
training's own pictures and the heat that the network in use finds in them.  After a new training
of the network the judge is to be fitted again.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from seamwalk.vision.heat_features import AGAIN, MEASURES

Array = NDArray[np.float64]

FILE = "judge.json"
AGAIN_FILE = "judge_again.json"
"""In the folder ``weights`` beside this module: of a first look, and of further ones."""


@dataclass(frozen=True, slots=True, eq=False)
class Judge:
    """One hidden layer: log-odds = out · max(0, W z + b) + bias, z the standardised measures.

    Attributes
    ----------
    mean, spread : (F,) float64
        Of each measure over the borders that the judge was fitted on.
    hidden : (F, H) float64
    hidden_bias, out : (H,) float64
    bias : float
    stop : float
        Borders with a lower probability are dissolved: where most patches of pictures set aside
        are found.
    scale, lean : float
        Of the borders left, scale · log-odds + lean are the log-odds of being real, fitted on
        pictures set aside (Platt's scaling).
    """

    mean: Array
    spread: Array
    hidden: Array
    hidden_bias: Array
    out: Array
    bias: float
    stop: float = 0.5
    scale: float = 1.0
    lean: float = 0.0

    def odds(self, found: Array) -> Array:
        """Return the log-odds of a seam for rows of measures (M, F)."""
        z = (found - self.mean) / self.spread
        layer = np.maximum(z @ self.hidden + self.hidden_bias, 0)
        out: Array = layer @ self.out + self.bias
        return out

    def sure(self, odds: Array) -> Array:
        """Return the probability that a border left with these log-odds is real."""
        out: Array = 1 / (1 + np.exp(-np.clip(self.scale * odds + self.lean, -30, 30)))
        return out


@cache
def fitted() -> Judge:
    """Return the judge of the package."""
    return parsed(_text(FILE), MEASURES)


@cache
def fitted_again() -> Judge:
    """Return the judge of further looks."""
    return parsed(_text(AGAIN_FILE), AGAIN)


def _text(name: str) -> str:
    return files("seamwalk.vision").joinpath("weights", name).read_text("utf-8")


def parsed(text: str, names: Sequence[str] = MEASURES) -> Judge:
    """Return the judge that a file's `text` holds.

    Raises
    ------
    ValueError
        If it was fitted on other measures than `names`.
    """
    kept = json.loads(text)
    if list(kept["measures"]) != list(names):
        raise ValueError("The judge of borders was fitted on other measures: fit it again.")
    rows = np.array([kept["measures"][name] for name in names], dtype=np.float64)
    return Judge(
        rows[:, 0],
        rows[:, 1],
        rows[:, 2:],
        np.array(kept["hidden bias"], dtype=np.float64),
        np.array(kept["out"], dtype=np.float64),
        float(kept["bias"]),
        float(kept["stop"]),
        float(kept["scale"]),
        float(kept["lean"]),
    )


def written(judge: Judge, about: str, path: Path) -> None:
    """Write a judge and a note on how it was fitted; a line for each measure, four digits."""

    def line(values: Array) -> str:
        return "[" + ", ".join(f"{v:.4g}" for v in values.tolist()) + "]"

    names = AGAIN[: len(judge.mean)]
    table = np.column_stack([judge.mean, judge.spread, judge.hidden])
    rows = [f"    {json.dumps(name)}: {line(r)}" for name, r in zip(names, table, strict=True)]
    lines = [
        f'  "about": {json.dumps(about)}',
        '  "measures": {\n' + ",\n".join(rows) + "\n  }",
        f'  "hidden bias": {line(judge.hidden_bias)}',
        f'  "out": {line(judge.out)}',
        *(f'  "{name}": {getattr(judge, name):.4g}' for name in ("bias", "stop", "scale", "lean")),
    ]
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
