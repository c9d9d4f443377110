"""The comparison of trainings that leave out one ingredient each."""

import json
import shutil
import time
from dataclasses import replace

import numpy as np
import pytest

torch = pytest.importorskip("torch")

from tests.training.squares import plain, squares  # noqa: E402
from tests.training.test_training import settings_for  # noqa: E402

from seamwalk.training.feed import Recipe  # noqa: E402
from seamwalk.training.sketch import Ingredients  # noqa: E402
from seamwalk.training.train import train  # noqa: E402
from seamwalk.training.train_settings import TrainSettings  # noqa: E402
from seamwalk.training.worth import worth  # noqa: E402
from seamwalk.training.worth_plan import WorthSettings, trials  # noqa: E402
from seamwalk.training.worth_table import Result, page, table  # noqa: E402

pytestmark = pytest.mark.usefixtures("one_thread")


def unlucky(rng: np.random.Generator, ingredients: Ingredients):
    """Cloth that cannot be had without floors: that training fails as a whole."""
    if not ingredients.floors:
        raise SystemExit("no cloth without floors")
    return plain(rng, ingredients)


UNLUCKY = Recipe(squares, unlucky, unlucky)


def test_each_ingredient_is_left_out_once(tmp_path):
    found = trials(WorthSettings(settings_for(tmp_path), 1.0))
    missing = [
        [name for name in Ingredients.__slots__ if not getattr(t.settings.ingredients, name)]
        for t in found
    ]
    assert missing == [[], *[[name] for name in Ingredients.__slots__], []]
    assert len({t.settings.out for t in found}) == len(found) == 10
    seeds = [t.settings.seed for t in found]
    assert len(set(seeds[:-1])) == 1
    assert seeds[-1] != seeds[0]


def test_table_compares_with_the_whole_recipe():
    whole = Result("nothing", 10, 0.80, 0.81, 0.79, 0.95, 0.85)
    worse = Result("relief", 10, 0.75, 0.76, 0.74, 0.94, 0.86)
    broken = Result("floors", trouble="failed: no memory")
    lines = table([whole, worse, broken])
    # By hand: 0.75 - 0.80.
    assert lines[3].startswith("| relief | 0.7500 | -0.0500 | 0.7600 | 0.7400 | 0.9400 | 0.8600 |")
    assert lines[2].startswith("| nothing | 0.8000 |  | 0.8100 |")
    assert lines[4].startswith("| floors | failed: no memory |")
    assert len({line.count("|") for line in lines}) == 1
    settings = TrainSettings(out=None)
    assert "numbers of steps differ" not in page([whole, worse, broken], settings, True)
    assert "numbers of steps differ" in page([whole, replace(worse, steps=9)], settings, True)


def test_a_comparison_goes_on_where_it_was_cut_off_and_past_a_failure(tmp_path, monkeypatch):
    names = ("relief", "floors")
    monkeypatch.setattr("seamwalk.training.worth_plan.Ingredients", _Only(names))
    training = settings_for(tmp_path, closing_s=0.5)
    settings = WorthSettings(training, minutes=3.0, chance=False)
    lines = []
    done = tmp_path / "without_relief" / "figures.json"
    done.parent.mkdir()
    figures = dict.fromkeys(("seam_f", "precision", "recall", "top_iou", "object_iou"), 0.5)
    done.write_text(json.dumps(figures | {"steps": 2}))
    settled = tmp_path / "whole" / "steps.txt"
    settled.parent.mkdir()
    settled.write_text("2\n")
    whole, relief, floors = worth(settings, UNLUCKY, time.monotonic(), lines.append)
    assert not whole.trouble
    assert whole.steps == 2
    assert relief.seam_f == 0.5
    assert "failed" in floors.trouble
    assert (tmp_path / "whole" / "seamnet.onnx").exists()
    assert not (tmp_path / "without_relief" / "seamnet.onnx").exists()
    assert "| floors | failed" in (tmp_path / "worth.md").read_text()
    with pytest.raises(ValueError, match="lr was"):
        worth(replace(settings, training=replace(training, lr=1.0)), UNLUCKY, 0.0, lines.append)
    # No time at all: nothing begins, and what is there is told.
    lines.clear()
    again = worth(replace(settings, minutes=0.0), UNLUCKY, time.monotonic(), lines.append)
    assert again[0] == whole
    assert lines == ["no time left for: floors; the same command goes on with them"]
    # Of what is done, the small file of the plan is enough to go on elsewhere.
    elsewhere = replace(training, out=tmp_path / "elsewhere")
    elsewhere.out.mkdir()
    shutil.copy(tmp_path / "worth.json", elsewhere.out)
    moved = replace(settings, training=elsewhere, minutes=0.0)
    there = worth(moved, UNLUCKY, time.monotonic(), lines.append)
    assert there[:2] == again[:2]


class _Only:
    """Some of the ingredients, where all are listed."""

    def __init__(self, names):
        self.__slots__ = names


def test_the_first_training_settles_how_many_steps_there_are(tmp_path):
    settings = settings_for(tmp_path, minutes=0.25, fix_steps_after=4)
    train(settings, Recipe(squares, plain, plain), time.monotonic(), lambda line: None)
    settled = int((tmp_path / "steps.txt").read_text())
    taken = json.loads((tmp_path / "figures.json").read_text())["steps"]
    # A machine that gets busy may run out of time before, never go beyond.
    assert 4 <= taken <= settled
