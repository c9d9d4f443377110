"""The training: from a recipe of pictures to weights, within the minutes given.

One process a graphics card, each with its share of the drawing workers, gradients averaged over
the cards. The rate of learning falls over the time that there is; what is kept is the running
mean of the weights, which is steadier than the last step's.
"""

import json
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import asdict
from pathlib import Path

import numpy as np
import torch
import torch.distributed as dist
from torch import Tensor
from torch.multiprocessing.spawn import spawn

from seamwalk.training import checkpoint, compiled, contact, export, thaw
from seamwalk.training.augment import WAYS, turned
from seamwalk.training.feed import Feed, Recipe
from seamwalk.training.learner import Learner, starting_network
from seamwalk.training.loss import truth_planes
from seamwalk.training.network import weight_count
from seamwalk.training.pace import Pace
from seamwalk.training.render import render
from seamwalk.training.schedule import Schedule
from seamwalk.training.shelf import Shelf
from seamwalk.training.sketch import Ingredients
from seamwalk.training.train_log import TrainLog
from seamwalk.training.train_settings import Say, TrainSettings, rate_at
from seamwalk.training.validation import HeldOut, held_out, judge
from seamwalk.training.watchdog import CARD_S, PROCESSOR_S, Watchdog

Renderer = Callable[..., Tensor]
"""`render`, or what torch made of it."""

FIGURES = "figures.json"
"""Name of the file of figures; it is there when a training is done."""

STEPS = "steps.txt"
"""Name of the file of the number of steps, where the training settles it."""


def picture_batch(
    shelf: Shelf, count: int, rng: np.random.Generator, renderer: Renderer = render
) -> tuple[Tensor, Tensor]:
    """Return `count` rendered pictures and their truth, each lying its own way."""
    batch = shelf.batch(count)
    # One bad number in one picture would spoil all weights for good.
    pictures = torch.nan_to_num(renderer(batch, shelf.store, device=shelf.device)).clamp(0, 1)
    truth = truth_planes(batch.targets.permute(0, 3, 1, 2))
    return turned(pictures, truth, rng.integers(0, WAYS, count))


def _first_pictures(shelf: Shelf, settings: TrainSettings, batches: int = 4) -> list[Tensor]:
    rng = np.random.default_rng([*shelf.feed.settings.seed, 4])
    return [picture_batch(shelf, settings.batch, rng)[0] for _ in range(batches)]


def _agreed(value: float, device: torch.device) -> float:
    """Return the first card's value on every card."""
    if not dist.is_initialized():
        return value
    shared = torch.tensor([value], device=device)
    dist.broadcast(shared, 0)
    return float(shared.item())


def _learn(
    learner: Learner,
    shelf: Shelf,
    settings: TrainSettings,
    started: float,
    say: Say | None,
    dog: Watchdog,
) -> None:
    """Take steps until the time is up."""
    saved = time.monotonic()
    rng = np.random.default_rng([*shelf.feed.settings.seed, 3])
    pace = Pace(learner.device)
    log = TrainLog(say, shelf, pace, settings, started) if say else None
    schedule = Schedule(settings, started, lambda number: _agreed(number, learner.device))
    # Rendering is hundreds of small steps; made one, it took a ninth of the time on an H100.
    renderer = torch.compile(render, dynamic=False) if settings.compiled else render
    card = learner.device.index or 0
    file = settings.compiled_file if settings.compiled else None
    brought = file is not None and compiled.bring(file, card)
    while (progress := schedule.at(learner.steps)) < 1:
        if log is not None and learner.steps == settings.fix_steps_after:
            (settings.out / STEPS).write_text(f"{schedule.most}\n")
        pace.mark()
        pictures, truth = picture_batch(shelf, settings.batch, rng, renderer)
        pace.mark()
        rate = rate_at(learner.before + learner.steps, progress, settings)
        parts = learner.step(pictures, truth, rate)
        pace.mark()
        dog.step(learner.steps)
        if learner.steps == 1 and file is not None and not brought:
            compiled.keep(file, card)
        if log is None:
            continue
        log.step(learner.steps, parts, rate)
        if time.monotonic() - saved > settings.seconds_per_save:
            _save(learner, shelf, settings)
            saved = time.monotonic()


def _save(learner: Learner, shelf: Shelf, settings: TrainSettings) -> dict[str, str | int | float]:
    """Write weights and moments; return the notes written with them."""
    about = _about(settings, learner, shelf)
    checkpoint.write(learner.mean, settings.out / "ema.pt", about)
    steps = learner.before + learner.steps
    checkpoint.write_moments(learner.optimiser, steps, settings.out / checkpoint.MOMENTS)
    return about


def _about(
    settings: TrainSettings, learner: Learner, shelf: Shelf
) -> dict[str, str | int | float]:
    left_out = [name for name in Ingredients.__slots__ if not getattr(settings.ingredients, name)]
    return {
        "seed": settings.seed,
        "side": settings.side,
        "batch": settings.batch * max(1, settings.gpus),
        "steps": learner.steps,
        "steps before": learner.before,
        "pictures": shelf.handed * max(1, settings.gpus),
        "without": " ".join(left_out),
        "started from": settings.init.name if settings.init else "",
    }


def _close(
    learner: Learner, shelf: Shelf, held: HeldOut, settings: TrainSettings, say: Say
) -> None:
    """Write the weights first, then judge them."""
    about = _save(learner, shelf, settings)
    size = export.write(learner.mean, settings.out / "seamnet.onnx", about)
    say(f"{learner.steps} steps, {shelf.handed} pictures; seamnet.onnx takes {size} bytes")
    figures, examples = judge(learner.mean, held, learner.device)
    say(figures.line())
    groups = [
        [contact.as_rgb(p), contact.as_heat(t[0]), contact.as_heat(e[0])] for p, t, e in examples
    ]
    contact.write_jpeg(contact.sheet(groups, 384, 2), settings.out / "val.jpg")
    kept = {"steps": learner.steps, "pictures": shelf.handed} | asdict(figures)
    (settings.out / FIGURES).write_text(json.dumps(kept, indent=1) + "\n")


def _run(
    rank: int, settings: TrainSettings, recipe: Recipe, started: float, group: str, echo: Say
) -> None:
    """Train on one card; the first one keeps the log and writes the files."""
    held: HeldOut | None = None
    with ExitStack() as stack:
        say: Say | None = None
        if rank == 0:
            log = stack.enter_context((settings.out / "log.txt").open("a", buffering=1))

            def say(line: str) -> None:
                log.write(line + "\n")
                echo(line)

            held = held_out(recipe, settings.validation, settings.workers)
        feed = stack.enter_context(Feed(recipe, settings.feed(rank)))
        device = torch.device("cuda", rank) if settings.gpus else torch.device("cpu")
        if settings.gpus:
            torch.cuda.set_device(device)
            # The card works; threads for small copies here would only wait for a free processor
            # among the drawing ones.
            torch.set_num_threads(1)
            torch.backends.cudnn.benchmark = True
            torch.set_float32_matmul_precision("high")
        if settings.gpus > 1:
            dist.init_process_group(
                "nccl", init_method=f"file://{group}", rank=rank, world_size=settings.gpus
            )
            stack.callback(dist.destroy_process_group)
        network = starting_network(settings).to(device)
        shelf = Shelf(feed, device, settings.shelf())
        shelf.wait_until_filled()
        if settings.init is not None and settings.init.suffix == ".onnx":
            thaw.settle(network, _first_pictures(shelf, settings))
        learner = Learner(network, settings)
        if say is not None:
            name = torch.cuda.get_device_name(device) if settings.gpus else "processor"
            if learner.before:
                say(f"moments of {learner.before} steps taken over")
            say(f"{weight_count(learner.network)} weights, {settings.gpus} x {name}")
            say(f"ready after {time.monotonic() - started:.1f} s")
        try:
            with Watchdog(
                settings.out / f"stuck{rank}.txt", CARD_S if settings.gpus else PROCESSOR_S
            ) as dog:
                _learn(learner, shelf, settings, started, say, dog)
        except BaseException:
            if rank == 0:
                _save(learner, shelf, settings)
            raise
        if say is not None and held is not None:
            _close(learner, shelf, held, settings, say)
            if feed.troubles():
                say(f"{feed.tally()[2]} draws failed, the last ones:\n{feed.troubles()}")
            say(f"done after {time.monotonic() - started:.1f} s")


def train(settings: TrainSettings, recipe: Recipe, started: float, echo: Say) -> None:
    """Train, and leave the results in a folder.

    They are ``ema.pt`` and ``state.pt`` to go on from, ``seamnet.onnx`` to use, ``log.txt``,
    ``val.jpg`` to look at, and, last of all, ``figures.json``.

    Parameters
    ----------
    settings : TrainSettings
    recipe : Recipe
        Functions of a module: other processes import them by name.
    started : float
        ``time.monotonic()`` at which the minutes began.
    echo : callable
        Gets the lines of the log, too; where there are several cards, picklable.
    """
    settings.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        group = str(Path(folder) / "group")
        if settings.gpus <= 1:
            _run(0, settings, recipe, started, group, echo)
        else:
            spawn(  # type: ignore[no-untyped-call]
                _run, (settings, recipe, started, group, echo), nprocs=settings.gpus
            )
