import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

torch = pytest.importorskip("torch")

from tests.training.squares import SQUARES, plain, squares  # noqa: E402
from typer.testing import CliRunner  # noqa: E402

from seamwalk.training import checkpoint  # noqa: E402
from seamwalk.training.__main__ import app  # noqa: E402
from seamwalk.training.export_check import off_by, onnx_runtime  # noqa: E402
from seamwalk.training.feed import TOPS, Feed, FeedSettings, Recipe  # noqa: E402
from seamwalk.training.learner import Learner  # noqa: E402
from seamwalk.training.loss import losses, total, truth_planes  # noqa: E402
from seamwalk.training.network import NetworkSettings, SeamNetwork  # noqa: E402
from seamwalk.training.render import FabricStore, batch_of, render  # noqa: E402
from seamwalk.training.ring import Slots  # noqa: E402
from seamwalk.training.schedule import Schedule  # noqa: E402
from seamwalk.training.shelf import Shelf, ShelfSettings  # noqa: E402
from seamwalk.training.sketch import Ingredients  # noqa: E402
from seamwalk.training.train import train  # noqa: E402
from seamwalk.training.train_settings import TrainSettings, rate_at, without  # noqa: E402
from seamwalk.training.validation import ValidationSettings, held_out, judge, ridges  # noqa: E402

SMALL = NetworkSettings(
    widths=(16, 16, 32, 32, 32), depths=(1, 1, 1, 1, 1), strips=(0, 0, 7, 7, 7), fine=16
)
FEW = FeedSettings(side=64, workers=2, slots=4, prints=6, surfaces=2, seed=(5,))


pytestmark = pytest.mark.usefixtures("one_thread")


def settings_for(folder, **others) -> TrainSettings:
    return TrainSettings(
        out=folder,
        **{
            "minutes": 0.5,
            "batch": 4,
            "side": 64,
            "workers": 2,
            "gpus": 0,
            "prints": 6,
            "surfaces": 2,
            "closing_s": 1.0,
            "warm_up_steps": 5,
            "steps_per_line": 5,
            "network": SMALL,
            "validation": ValidationSettings(count=4, side=64, prints=4, surfaces=2),
        }
        | others,
    )


def fixed_batch(count: int = 4):
    rng = np.random.default_rng(0)
    batch = batch_of([squares(rng, 64, Ingredients(), 6, 2) for _ in range(count)])
    store = FabricStore(np.stack([plain(rng, Ingredients()) for _ in range(8)]), "cpu")
    return render(batch, store), truth_planes(batch.targets.permute(0, 3, 1, 2))


def test_loss_falls_on_one_batch(tmp_path):
    torch.manual_seed(0)
    learner = Learner(SeamNetwork(SMALL), settings_for(tmp_path))
    pictures, truth = fixed_batch(2)
    path = [float(total(learner.step(pictures, truth, 3e-3))) for _ in range(12)]
    assert min(path[-3:]) < 0.8 * path[0]
    with torch.no_grad():
        planes = learner.mean.eval()(pictures)
    # The running mean has learned too, not only the weights of the last step.
    assert total(losses(planes, truth)) < path[0]


def test_sketches_pass_through_the_slots_unchanged():
    slots = Slots(2, 64)
    sketch = squares(np.random.default_rng(1), 64, Ingredients(), 6, 2)
    slots.put(1, sketch)
    assert slots.full.tolist() == [0, 1]
    back = slots.get(1)
    for name in sketch.__slots__:
        np.testing.assert_array_equal(getattr(back, name), getattr(sketch, name), name)
        assert getattr(back, name).dtype == getattr(sketch, name).dtype
    with pytest.raises(ValueError, match="won't fit"):
        slots.put(0, squares(np.random.default_rng(1), 96, Ingredients(), 6, 2))
    sketch.plane[3, 3] = np.nan
    with pytest.raises(ValueError, match="numbers that are none"):
        slots.put(0, sketch)
    assert slots.full.tolist() == [0, 1]


def test_same_seed_same_pictures_whatever_the_number_of_workers():
    few, many = (
        held_out(SQUARES, ValidationSettings(count=3, side=64, prints=3, surfaces=2), workers)
        for workers in (1, 3)
    )
    np.testing.assert_array_equal(few.swatches, many.swatches)
    for one, other in zip(few.sketches, many.sketches, strict=True):
        np.testing.assert_array_equal(one.cloth, other.cloth)


def often_bad(rng, side_px, ingredients, prints, surfaces):
    if rng.random() < 0.5:
        raise ZeroDivisionError("a bad draw")
    return squares(rng, side_px, ingredients, prints, surfaces)


def never_done(rng, side_px, ingredients, prints, surfaces):
    if rng.random() < 0.5:
        while True:
            time.sleep(0.01)
    return squares(rng, side_px, ingredients, prints, surfaces)


@pytest.mark.parametrize(
    ("draw", "word"), [(often_bad, "a bad draw"), (never_done, "took too long")]
)
def test_bad_draws_are_counted_and_stop_nothing(draw, word):
    settings = FeedSettings(
        side=64, workers=2, slots=8, prints=2, surfaces=2, seed=(6,), longest_draw_s=0.1
    )
    with Feed(Recipe(draw, plain, plain), settings) as feed:
        feed.wait(lambda: len(feed.ready()) == 8, patience_s=20)
        sketches, pages, failed = feed.tally()
        assert (sketches, pages) == (8, 4)
        assert failed >= 1
        assert word in feed.troubles()
        assert feed.alive() == 2
    assert feed.alive() == 0


def test_waiting_for_dead_workers_ends_with_their_trouble():
    def always_bad(rng, ingredients):
        raise ZeroDivisionError("no cloth today")

    with (
        Feed(Recipe(squares, always_bad, always_bad), FEW) as feed,
        pytest.raises(RuntimeError, match="no cloth today"),
    ):
        feed.wait(feed.pages_ready, patience_s=0.5)


def test_each_sketch_is_used_as_often_as_asked_and_clothed_anew():
    with Feed(SQUARES, FEW) as feed:
        shelf = Shelf(feed, torch.device("cpu"), ShelfSettings(places=4, reuse=2))
        shelf.wait_until_filled(1.0)
        feed.stop[0] = 1
        first, second = shelf.batch(4), shelf.batch(4)
    assert shelf.handed == 8
    assert not shelf.ready.any()
    assert len(shelf.empty) == 4
    before = {tuple(row) for row in first.cloth[:, :, 0].tolist()}
    after = {tuple(row) for row in second.cloth[:, :, 0].tolist()}
    assert len(before) == 4
    # Six prints allow a shift by none: most, not all, must differ.
    assert len(before & after) < 4
    assert not torch.equal(first.light, second.light)
    torch.testing.assert_close(
        first.labels.sort(0).values.float(), second.labels.sort(0).values.float()
    )


def test_ridge_of_a_drawn_line_is_one_pixel_wide():
    y, x = torch.meshgrid(torch.arange(41.0), torch.arange(41.0), indexing="ij")
    for angle in (0.0, 0.6, np.pi / 4, 1.9, 3 * np.pi / 4):
        away = -np.sin(angle) * (x - 20) + np.cos(angle) * (y - 20.3)
        heat = torch.exp(-0.5 * away**2)[None]
        cos, sin = (torch.full_like(heat, f(2 * angle)) for f in (np.cos, np.sin))
        inside = torch.zeros(41, 41, dtype=torch.bool)
        inside[5:36, 5:36] = True
        ridge = ridges(heat, cos, sin)[0] & (heat[0] > 0.5) & inside
        # Between the pixels of an 8-connected and of a 4-connected digital line (textbook).
        steps = sorted((abs(np.cos(angle)), abs(np.sin(angle))))
        assert 30 <= int(ridge.sum()) <= 31 * (1 + steps[0] / steps[1]) + 3
        # No farther than half a diagonal of a pixel.
        assert float(away[ridge].abs().max()) <= 0.7072


class Told(torch.nn.Module):
    """Says what it was told."""

    def __init__(self, planes):
        super().__init__()
        self.planes, self.start = planes, 0

    def forward(self, pictures):
        self.start += len(pictures)
        return self.planes[self.start - len(pictures) : self.start]


def test_judging_the_truth_itself_finds_nothing_wrong():
    settings = ValidationSettings(count=4, side=64, prints=4, surfaces=2, at_once=2)
    held = held_out(SQUARES, settings, 2)
    truth = truth_planes(batch_of(held.sketches).targets.permute(0, 3, 1, 2))
    odds = torch.cat([torch.logit(truth[:, :4].clamp(1e-4, 1 - 1e-4)), truth[:, 4:]], 1)
    figures, examples = judge(Told(odds), held, torch.device("cpu"), shown=3)
    assert figures.seam_f > 0.999
    assert figures.top_iou > 0.999
    assert len(examples) == 3
    moved = torch.roll(odds, 5, 3)
    figures, _ = judge(Told(moved), held, torch.device("cpu"))
    assert figures.seam_f < 0.75


def test_rate_rises_falls_and_ends_low(tmp_path):
    settings = settings_for(tmp_path)
    rates = [rate_at(step, step / 100, settings) for step in range(101)]
    assert rates[0] == pytest.approx(settings.lr / 5, rel=0.01)
    assert max(rates) == pytest.approx(settings.lr, rel=0.01)
    assert rates[100] == pytest.approx(settings.lr * settings.last_share)
    assert all(a >= b for a, b in pairwise(rates[5:]))


def test_runs_with_shares_of_a_schedule_are_one_long_training(tmp_path):
    settings = settings_for(tmp_path, warm_up_steps=0)
    whole = [rate_at(step, step / 90, settings) for step in range(90)]
    pieces = [
        rate_at(step, step / 30, replace(settings, begins=k / 3, ends=(k + 1) / 3))
        for k in range(3)
        for step in range(30)
    ]
    assert pieces == pytest.approx(whole)


def test_optimiser_goes_on_with_its_moments(tmp_path):
    torch.manual_seed(0)
    pictures, truth = fixed_batch(2)
    first = Learner(SeamNetwork(SMALL), settings_for(tmp_path))
    for _ in range(4):
        first.step(pictures, truth, 1e-3)
    checkpoint.write(first.network, tmp_path / "ema.pt")
    checkpoint.write_moments(first.optimiser, first.steps, tmp_path / "state.pt")
    network, _ = checkpoint.read(tmp_path / "ema.pt")
    second = Learner(network, settings_for(tmp_path, init=tmp_path / "ema.pt"))
    assert second.before == 4
    kept, new = (each.optimiser.state_dict()["state"] for each in (first, second))
    for number, moments in kept.items():
        assert new[number]["step"] == 4
        # bfloat16 has eight bits of fraction, the first of them implied (IEEE 754's scheme).
        torch.testing.assert_close(
            new[number]["exp_avg_sq"], moments["exp_avg_sq"], rtol=2**-8, atol=0
        )
    before = [p.detach().clone() for p in second.network.parameters()]
    second.step(pictures, truth, 1e-3)
    # Adam's first step moves every weight by the whole rate; a later one moves most by less.
    moved = torch.cat(
        [
            (now - then).abs().flatten()
            for now, then in zip(second.network.parameters(), before, strict=True)
        ]
    )
    assert float((moved < 0.9e-3).float().mean()) > 0.5

    other = replace(SMALL, fine=32)
    with pytest.raises(ValueError, match="another network"):
        Learner(SeamNetwork(other), settings_for(tmp_path, init=tmp_path / "ema.pt"))
    torch.save({"format": "soup"}, tmp_path / "state.pt")
    with pytest.raises(ValueError, match="no moments"):
        Learner(network, settings_for(tmp_path, init=tmp_path / "ema.pt"))


def test_steps_are_settled_by_the_speed_so_far(tmp_path, monkeypatch):
    clock = [100.0]
    monkeypatch.setattr("seamwalk.training.schedule.time.monotonic", lambda: clock[0])
    settings = settings_for(tmp_path, minutes=2.0, closing_s=20.0, fix_steps_after=12)
    schedule = Schedule(settings, 100.0, float)
    shares = []
    for step in range(1000):
        shares.append(schedule.at(step))
        if shares[-1] >= 1:
            break
        # Compiling takes 30 s; then a step takes half a second.
        clock[0] += 15.0 if step < 2 else 0.5
    # 65 s are left after 12 steps: 130 steps, less a little for safety.
    assert 12 + 0.9 * 130 < schedule.most < 12 + 130
    assert len(shares) - 1 == schedule.most
    assert clock[0] < 200
    # The rate of learning has not fallen while there was nothing but compiling.
    assert shares[:3] == [0, 0, 0]
    assert all(a <= b for a, b in pairwise(shares))


def test_ingredients_are_left_out_by_name():
    assert without(["relief", "floors"]) == Ingredients(relief=False, floors=False)
    with pytest.raises(ValueError, match="salt"):
        without(["salt"])


def test_a_whole_training_leaves_its_files_and_goes_on_from_them(tmp_path):
    lines = []
    first = settings_for(tmp_path / "first", most_steps=6)
    train(first, SQUARES, time.monotonic(), lines.append)
    names = {path.name for path in first.out.iterdir()}
    assert names == {"ema.pt", "state.pt", "seamnet.onnx", "figures.json", "val.jpg", "log.txt"}
    assert any("step 5" in line and "junction" in line for line in lines)
    assert any("seam F" in line for line in lines)
    assert (first.out / "log.txt").read_text().splitlines() == lines
    network, about = checkpoint.read(first.out / "ema.pt")
    assert about["steps"] == 6
    assert off_by(network, onnx_runtime(first.out / "seamnet.onnx", 1), 64, 64) < 5e-3

    # No further step: what comes out is what went in.
    second = settings_for(tmp_path / "second", most_steps=0, init=first.out / "ema.pt")
    train(second, SQUARES, time.monotonic(), lines.append)
    again, _ = checkpoint.read(second.out / "ema.pt")
    for name, value in network.state_dict().items():
        assert torch.equal(value, again.state_dict()[name]), name

    # Nor from the file in use, to the rounding of its kernels.
    third = settings_for(tmp_path / "third", most_steps=0, init=first.out / "seamnet.onnx")
    train(third, SQUARES, time.monotonic(), lines.append)
    again, about = checkpoint.read(third.out / "ema.pt")
    assert about["started from"] == "seamnet.onnx"
    assert off_by(again, onnx_runtime(first.out / "seamnet.onnx", 1), 64, 64) < 1e-2


def test_training_ends_in_time_even_when_there_was_none(tmp_path):
    settings = settings_for(tmp_path, minutes=0.001)
    train(settings, SQUARES, time.monotonic(), lambda line: None)
    assert (tmp_path / "ema.pt").exists()


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["--without", "salt"], "salt"),
        (["--side", "100"], "multiple of 32"),
        (["--from-share", "0.7", "--to-share", "0.5"], "less than"),
    ],
)
def test_command_says_what_it_did_not_understand(tmp_path, arguments, word):
    result = CliRunner().invoke(app, ["train", "--out", str(tmp_path), *arguments])
    assert result.exit_code == 2
    assert word in result.output
    assert not list(tmp_path.iterdir())


def test_command_writes_the_file_of_a_checkpoint_and_checks_it(tmp_path):
    weights, onnx = tmp_path / "ema.pt", tmp_path / "seamnet.onnx"
    checkpoint.write(SeamNetwork(SMALL), weights)
    assert CliRunner().invoke(app, ["export", str(weights), str(onnx)]).exit_code == 0
    result = CliRunner().invoke(app, ["check", str(weights), str(onnx), "--side", "64"])
    assert [line.split(":")[0] for line in result.output.splitlines()] == ["onnxruntime", "OpenCV"]


def test_recipe_of_the_package_fits_the_slots_and_renders():
    rng, slots = np.random.default_rng(4), Slots(1, 96)
    swatches = [TOPS.swatch(rng, Ingredients()), TOPS.surface(rng, Ingredients(floors=False))]
    slots.put(0, TOPS.sketch(rng, 96, Ingredients(), 1, 1))
    picture = render(batch_of([slots.get(0)]), FabricStore(np.stack(swatches), "cpu"))
    assert picture.shape == (1, 3, 96, 96)
    assert float(picture.std()) > 0.01
