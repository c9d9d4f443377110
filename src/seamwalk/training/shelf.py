"""Sketches kept on the trainer's device, from which batches are picked at random."""

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from seamwalk.training.augment import reclothed
from seamwalk.training.feed import Feed
from seamwalk.training.render import Batch, FabricStore
from seamwalk.training.ring import layout
from seamwalk.training.sketch import MOST_ROWS, Ingredients


@dataclass(frozen=True, slots=True)
class ShelfSettings:
    """How sketches are kept and used.

    Attributes
    ----------
    places : int
        Sketches kept: some ten batches, so that the uses of one lie apart. At 768 px a place
        takes 10 MB.
    reuse : int
        Uses of each sketch. Later ones wear other fabrics and light.
    pages_per_batch : int
        Most swatches renewed between two batches.
    """

    places: int = 320
    reuse: int = 2
    pages_per_batch: int = 8


DrawLight = Callable[[np.random.Generator, Ingredients], NDArray[np.float32]]
"""Draws (64,) numbers as `Sketch.light` holds them."""


def draw_light(rng: np.random.Generator, ingredients: Ingredients) -> NDArray[np.float32]:
    """Return light, camera and file for one more use of a sketch."""
    from seamwalk.training.light import draw

    return draw(rng, ingredients).pack()


def _passed(event: torch.cuda.Event) -> bool:
    return bool(event.query())  # type: ignore[no-untyped-call]


class Shelf:
    """Sketches from a feed, on a device.

    Parameters
    ----------
    feed : Feed
        At work.
    device : torch.device
    settings : ShelfSettings
    light : callable
        Draws new light for later uses.

    Attributes
    ----------
    store : FabricStore
        The feed's swatches on the device.
    waited_s : float
        Time that the trainer spent waiting for sketches.
    handed, taken : int
        Pictures handed out; sketches taken in.

    Notes
    -----
    A place runs through empty, arriving (a copy is under way), ready, and spent (the card may
    still read it). Copies run beside the training; a place changes hands only when the card has
    said that its part is done, so neither waits for the other.
    """

    def __init__(
        self,
        feed: Feed,
        device: torch.device,
        settings: ShelfSettings | None = None,
        light: DrawLight = draw_light,
    ) -> None:
        self.feed, self.device, self.light = feed, device, light
        self.settings = s = settings or ShelfSettings()
        self.rng = np.random.default_rng([*feed.settings.seed, 2])
        self.uses = np.zeros(s.places, np.int64)
        self.ready = np.zeros(s.places, bool)
        self.empty: deque[int] = deque(range(s.places))
        self.arriving: deque[tuple[torch.cuda.Event, int, int]] = deque()
        self.spent: deque[tuple[torch.cuda.Event, list[int]]] = deque()
        self.waited_s, self.handed, self.taken = 0.0, 0, 0
        self.kept = {
            name: torch.zeros((s.places, *shape), dtype=getattr(torch, kind), device=device)
            for name, (shape, kind) in layout(feed.settings.side).items()
        }
        self.source = {n: torch.from_numpy(a) for n, a in feed.slots.fields.items()}
        self.beside: torch.cuda.Stream | None = None
        if device.type == "cuda":
            self.beside = torch.cuda.Stream(device)  # type: ignore[no-untyped-call]
            for tensor in self.source.values():
                # Without this, every copy would wait for the card's work in hand.
                size = tensor.numel() * tensor.element_size()
                runtime = torch.cuda.cudart()  # type: ignore[no-untyped-call]
                runtime.cudaHostRegister(tensor.data_ptr(), size, 0)
        feed.wait(feed.pages_ready)
        # Flags first: a swatch redrawn during the copy would be taken again.
        feed.page_store.fresh[:] = 0
        self.store = FabricStore(np.asarray(feed.page_store.swatches), device)

    def take_in(self) -> None:
        """Move waiting sketches to empty places, as far as there are any."""
        self._settle()
        for slot in self.feed.ready():
            if not self.empty:
                return
            place = self.empty.popleft()
            rows = int(self.feed.slots.rows[slot])
            if self.beside is None:
                self._copy(int(slot), place, rows)
                self._arrived(int(slot), place)
                continue
            with torch.cuda.stream(self.beside):
                self._copy(int(slot), place, rows)
                event = torch.cuda.Event()  # type: ignore[no-untyped-call]
                event.record(self.beside)
            # The flag stays up until the copy is done; 2 keeps it from being taken twice.
            self.feed.slots.full[slot] = 2
            self.arriving.append((event, int(slot), place))

    def _settle(self) -> None:
        while self.arriving and _passed(self.arriving[0][0]):
            _, slot, place = self.arriving.popleft()
            self._arrived(slot, place)
        while self.spent and _passed(self.spent[0][0]):
            self.empty.extend(self.spent.popleft()[1])

    def _copy(self, slot: int, place: int, rows: int) -> None:
        for name, tensor in self.kept.items():
            if name == "cloth":
                tensor[place, :rows].copy_(self.source[name][slot, :rows], non_blocking=True)
                tensor[place, rows:MOST_ROWS].zero_()
            else:
                tensor[place].copy_(self.source[name][slot], non_blocking=True)

    def _arrived(self, slot: int, place: int) -> None:
        self.feed.slots.full[slot] = 0
        self.uses[place] = 0
        self.ready[place] = True
        self.taken += 1

    def renew_pages(self) -> None:
        """Take some of the redrawn swatches."""
        pages = self.feed.page_store
        fresh = np.flatnonzero(pages.fresh)
        # Whichever there are: always the first would leave the last ones old.
        fresh = self.rng.permutation(fresh)[: self.settings.pages_per_batch]
        if not len(fresh):
            return
        swatches = np.asarray(pages.swatches)[fresh]
        pages.fresh[fresh] = 0
        # A picture rendered meanwhile may show both drawings of a swatch: no harm.
        with torch.cuda.stream(self.beside):
            self.store.replace(fresh, swatches)

    def batch(self, count: int) -> Batch:
        """Return `count` sketches picked at random, waiting for them if need be."""

        def enough() -> bool:
            self.take_in()
            return int(self.ready.sum()) >= count

        if not enough():
            self.waited_s += self.feed.wait(enough)
        self.renew_pages()
        places = self.rng.choice(np.flatnonzero(self.ready), count, replace=False)
        batch = self._picked(places)
        self._use(places)
        self.handed += count
        return batch

    def _picked(self, places: NDArray[np.int64]) -> Batch:
        where = self._brought(places)
        found = {name: tensor[where] for name, tensor in self.kept.items() if name != "cloth"}
        # All rows, used or not: a batch of one shape for good can be compiled.
        cloth = self.kept["cloth"][where]
        again = np.flatnonzero(self.uses[places] > 0)
        s = self.feed.settings
        shifts = np.zeros((len(places), 2), np.int64)
        shifts[again] = self.rng.integers(0, [s.prints, s.surfaces], (len(again), 2))
        light: Tensor = found["light"]
        if len(again):
            new = np.stack([self.light(self.rng, s.ingredients) for _ in again])
            light[self._brought(again)] = self._brought(new)
        found["cloth"] = reclothed(cloth, shifts, s.prints, s.surfaces)
        return Batch(**found)

    def _brought(self, numbers: NDArray[np.generic]) -> Tensor:
        # Small arrays are staged at once: without waiting for the card's work in hand.
        return torch.from_numpy(numbers).to(self.device, non_blocking=True)

    def _use(self, places: NDArray[np.int64]) -> None:
        self.uses[places] += 1
        done = [int(p) for p in places if self.uses[p] >= self.settings.reuse]
        self.ready[done] = False
        if not done:
            return
        if self.beside is None:
            self.empty.extend(done)
            return
        event = torch.cuda.Event()  # type: ignore[no-untyped-call]
        event.record()
        self.spent.append((event, done))

    def wait_until_filled(self, share: float = 0.5) -> None:
        """Wait until this share of the places holds sketches, for a mixed first batch."""
        start = time.monotonic()

        def filled() -> bool:
            self.take_in()
            return bool(self.ready.mean() >= share)

        if not filled():
            self.feed.wait(filled)
        self.waited_s += time.monotonic() - start
