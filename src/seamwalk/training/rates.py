"""How fast each part of the training is alone: drawing, rendering, learning."""

import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import torch

from seamwalk.training.augment import WAYS, turned
from seamwalk.training.feed import Feed, Recipe
from seamwalk.training.learner import Learner, starting_network
from seamwalk.training.loss import truth_planes
from seamwalk.training.render import render
from seamwalk.training.shelf import Shelf
from seamwalk.training.train_settings import TrainSettings


def _done(device: torch.device) -> None:
    if device.type == "cuda":
        torch.cuda.synchronize(device)


def rates(settings: TrainSettings, recipe: Recipe, seconds: float = 20.0) -> Iterator[str]:
    """Measure on one card, or the processor; yield a line for each part.

    Parameters
    ----------
    settings : TrainSettings
    recipe : Recipe
    seconds : float
        For each part.
    """
    start = time.monotonic()
    with Feed(recipe, settings.feed(0)) as feed:
        feed.wait(feed.pages_ready)
        pages = feed.settings.pages
        yield f"swatches: {pages / (time.monotonic() - start):.1f} a second, start-up included"
        taken, start = 0, time.monotonic()
        while time.monotonic() - start < seconds:
            for slot in feed.ready():
                feed.slots.full[slot] = 0
                taken += 1
            time.sleep(0.001)
        yield f"drawing: {taken / (time.monotonic() - start):.1f} sketches a second"
        device = torch.device("cuda", 0) if settings.gpus else torch.device("cpu")
        torch.backends.cudnn.benchmark = True
        shelf = Shelf(feed, device, settings.shelf())
        shelf.wait_until_filled()
        batch = shelf.batch(settings.batch)
    # The workers have ended: what follows has the machine to itself.
    renderer = torch.compile(render, dynamic=False) if settings.compiled else render
    for warm in (True, False):
        rendered, start = 0, time.monotonic()
        while time.monotonic() - start < (2.0 if warm else seconds) or not rendered:
            pictures = renderer(batch, shelf.store, device=device)
            _done(device)
            rendered += settings.batch
    yield f"rendering: {rendered / (time.monotonic() - start):.1f} pictures a second"
    truth = truth_planes(batch.targets.permute(0, 3, 1, 2))
    ways = np.arange(settings.batch) % WAYS
    pictures, truth = turned(pictures, truth, ways)
    ways_to_learn = {
        "channels last": replace(settings, channels_last=True),
        "channels apart": replace(settings, channels_last=False),
        "channels last, network compiled": replace(
            settings, channels_last=True, compiled=True, network_compiled=True
        ),
    }
    for order, chosen in ways_to_learn.items():
        if not settings.gpus and order != "channels apart":
            continue
        if settings.gpus:
            torch.cuda.reset_peak_memory_stats()
        learner = Learner(starting_network(chosen).to(device), chosen)
        for warm in (True, False):
            learned, start = 0, time.monotonic()
            while time.monotonic() - start < (8.0 if warm else seconds) or not learned:
                learner.step(pictures, truth, settings.lr)
                _done(device)
                learned += settings.batch
        rate = learned / (time.monotonic() - start)
        memory = torch.cuda.max_memory_allocated() / 2**30 if settings.gpus else 0.0
        yield f"learning, {order}: {rate:.1f} pictures a second, {memory:.1f} GiB"
        del learner
    yield f"failed draws: {feed.tally()[2]}\n{feed.troubles()}"
