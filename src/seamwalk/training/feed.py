"""Worker processes that draw sketches and swatches without end.

Picture n of a seed is the same whichever worker draws it, on every machine. A draw that fails or
takes too long is counted, remembered and tried again with the next numbers; it never stops the
training. Workers end when told, or when the trainer is gone.
"""

import multiprocessing
import os
import signal
import time
import traceback
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from types import FrameType, TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from seamwalk.training.ring import Pages, Slots, shared
from seamwalk.training.sketch import Ingredients, Sketch
from seamwalk.training.worker_memory import keep_freed_memory

SKETCH, PAGE = 0, 1
"""Branches of the random numbers."""

LULL_S = 0.004
"""A worker with nothing to do looks again after so long; it has slots for a tenth of a second."""

TROUBLE_BYTES = 2000
"""Kept of a worker's last trouble; the end of a traceback fits."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """The functions that draw; all random numbers come from the generator passed in.

    Attributes
    ----------
    sketch : callable (rng, side_px, ingredients, prints, surfaces) -> Sketch
    swatch, surface : callable (rng, ingredients) -> (384, 384, 3) uint8
        Prints of fabric, and floors.
    """

    sketch: Callable[[np.random.Generator, int, Ingredients, int, int], Sketch]
    swatch: Callable[[np.random.Generator, Ingredients], NDArray[np.uint8]]
    surface: Callable[[np.random.Generator, Ingredients], NDArray[np.uint8]]


def _sketch(
    rng: np.random.Generator, side_px: int, ingredients: Ingredients, prints: int, surfaces: int
) -> Sketch:
    from seamwalk.training.views import sketch

    return sketch(rng, side_px, ingredients, prints, surfaces)


def _swatch(rng: np.random.Generator, ingredients: Ingredients) -> NDArray[np.uint8]:
    from seamwalk.training.prints import swatch

    return swatch(rng, hard=ingredients.printed_patchwork)


def _surface(rng: np.random.Generator, ingredients: Ingredients) -> NDArray[np.uint8]:
    from seamwalk.training.floor_surfaces import floor_surface

    return floor_surface(rng, varied=ingredients.floors)


TOPS = Recipe(_sketch, _swatch, _surface)
"""The recipe of the weights in the package."""


@dataclass(frozen=True, slots=True)
class FeedSettings:
    """What is drawn, and by how many.

    Attributes
    ----------
    side : int
        Pixels of a picture's side; a multiple of 32.
    workers : int
        Processes.
    slots : int
        Sketches that may wait: some for each worker, so that none idles while a batch is taken.
    prints, surfaces : int
        Swatches of fabric and of floors to choose from: enough that a batch holds no two tops
        of the same cloth, few enough to be drawn in seconds.
    sketches_per_page : int
        A worker redraws a swatch after so many sketches. A batch shows hundreds of swatches,
        so they may return oftener than sketches; where a card takes 60 sketches a second, all
        are new about once a minute.
    seed : tuple of int
        Other seeds give other pictures.
    ingredients : Ingredients
    longest_draw_s : float
        A draw that takes longer is given up; the slowest honest ones take a second.
    behind : int
        Workers stand so far behind the trainer in the processor's queue (Unix niceness): a late
        sketch costs nothing while others wait, a late trainer leaves the card idle.
    """

    side: int = 768
    workers: int = 15
    slots: int = 60
    prints: int = 1200
    surfaces: int = 200
    sketches_per_page: int = 3
    seed: tuple[int, ...] = (1,)
    ingredients: Ingredients = field(default_factory=Ingredients)
    longest_draw_s: float = 10.0
    behind: int = 10

    @property
    def pages(self) -> int:
        """Swatches of both kinds."""
        return self.prints + self.surfaces


class DrawTooLongError(Exception):
    """A draw was given up."""


def _give_up(signum: int, frame: FrameType | None) -> None:
    raise DrawTooLongError("The draw took too long.")


class _Worker:
    """One process's part: every W-th slot, every W-th page, every W-th picture."""

    def __init__(self, feed: "Feed", number: int) -> None:
        self.feed, self.number, self.settings = feed, number, feed.settings
        self.parent = os.getppid()
        step = self.settings.workers
        self.slots = range(number, self.settings.slots, step)
        self.pages = range(number, self.settings.pages, step)
        self.page_turn = 0

    def told_to_end(self) -> bool:
        return bool(self.feed.stop[0]) or os.getppid() != self.parent

    def drawn(self, branch: int, n: int, draw: Callable[[np.random.Generator], None]) -> None:
        """Draw until it works, or until told to end."""
        attempt = 0
        while not self.told_to_end():
            rng = np.random.default_rng([*self.settings.seed, branch, n, attempt])
            try:
                signal.setitimer(signal.ITIMER_REAL, self.settings.longest_draw_s)
                draw(rng)
                signal.setitimer(signal.ITIMER_REAL, 0.0)
            except Exception:
                signal.setitimer(signal.ITIMER_REAL, 0.0)
                self.note(f"seed {self.settings.seed} branch {branch} number {n}.{attempt}")
                attempt += 1
                continue
            self.feed.counts[self.number, branch] += 1
            return

    def note(self, where: str) -> None:
        self.feed.counts[self.number, 2] += 1
        text = f"{where}\n{traceback.format_exc()}".encode()
        kept = text[: TROUBLE_BYTES // 4] + text[TROUBLE_BYTES // 4 :][-3 * TROUBLE_BYTES // 4 :]
        line = np.zeros(TROUBLE_BYTES, np.uint8)
        line[: len(kept)] = np.frombuffer(kept, np.uint8)[:TROUBLE_BYTES]
        self.feed.troubles_bytes[self.number] = line

    def draw_page(self, page: int) -> None:
        s = self.settings
        draw = self.feed.recipe.swatch if page < s.prints else self.feed.recipe.surface
        put = self.feed.page_store.put
        number = page + s.pages * int(self.feed.page_store.turns[page])
        self.drawn(PAGE, number, lambda rng: put(page, draw(rng, s.ingredients)))

    def refresh(self) -> None:
        """Redraw the next page if the trainer has taken the last drawing of it."""
        page = self.pages[self.page_turn % len(self.pages)] if len(self.pages) else -1
        if page < 0 or self.feed.page_store.fresh[page]:
            return
        self.page_turn += 1
        self.draw_page(page)

    def draw_slot(self, slot: int, n: int) -> None:
        s, recipe, slots = self.settings, self.feed.recipe, self.feed.slots
        self.drawn(
            SKETCH,
            n,
            lambda rng: slots.put(
                slot, recipe.sketch(rng, s.side, s.ingredients, s.prints, s.surfaces)
            ),
        )

    def run(self) -> None:
        for page in self.pages:
            if self.told_to_end():
                return
            self.draw_page(page)
        turn = 0
        while not self.told_to_end() and len(self.slots):
            slot = self.slots[turn % len(self.slots)]
            if self.feed.slots.full[slot]:
                # Nothing is wanted: the trainer's threads need the processor more.
                time.sleep(LULL_S)
                continue
            self.draw_slot(slot, self.number + self.settings.workers * turn)
            turn += 1
            if turn % self.settings.sketches_per_page == 0:
                self.refresh()


def _work(feed: "Feed", number: int) -> None:
    os.nice(feed.settings.behind)
    keep_freed_memory()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGALRM, _give_up)
    _Worker(feed, number).run()


class Feed:
    """Sketches and swatches, drawn by worker processes.

    Start it before the trainer touches a graphics card: its driver does not outlive a fork.

    Parameters
    ----------
    recipe : Recipe
    settings : FeedSettings

    Attributes
    ----------
    slots : Slots
    page_store : Pages
    counts : (workers, 3) int64
        Sketches drawn, pages drawn, draws that failed.
    """

    def __init__(self, recipe: Recipe, settings: FeedSettings) -> None:
        self.recipe, self.settings = recipe, settings
        self.slots = Slots(settings.slots, settings.side)
        self.page_store = Pages(settings.pages)
        self.counts = shared((settings.workers, 3), "int64")
        self.troubles_bytes = shared((settings.workers, TROUBLE_BYTES), "uint8")
        self.stop = shared((1,), "uint8")
        self._processes: list[multiprocessing.process.BaseProcess] = []

    def __enter__(self) -> Self:
        import cv2

        context = multiprocessing.get_context("fork")
        # OpenCV's threads don't outlive a fork, and a worker would wait for them: end them first.
        threads = cv2.getNumThreads()
        cv2.setNumThreads(1)
        with warnings.catch_warnings():
            # Idle threads of numerical libraries are no danger: a worker calls none of their own.
            warnings.filterwarnings("ignore", ".*fork.*", DeprecationWarning)
            for number in range(self.settings.workers):
                process = context.Process(target=_work, args=(self, number), daemon=True)
                process.start()
                self._processes.append(process)
        cv2.setNumThreads(threads)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop[0] = 1
        for process in self._processes:
            process.join(2.0)
            if process.is_alive():
                process.kill()
                process.join()

    def ready(self) -> NDArray[np.intp]:
        """Return the slots whose sketch waits."""
        return np.flatnonzero(np.asarray(self.slots.full) == 1)

    def pages_ready(self) -> bool:
        """Say whether every swatch was drawn at least once."""
        return bool((self.page_store.turns > 0).all())  # type: ignore[operator]

    def wait(self, done: Callable[[], bool], patience_s: float = 300.0) -> float:
        """Wait until `done`, and return how long it took, in seconds.

        Raises
        ------
        RuntimeError
            The workers are gone, or drew too little for too long.
        """
        start = time.monotonic()
        while not done():
            waited = time.monotonic() - start
            if waited > patience_s or not self.alive():
                raise RuntimeError(f"The workers draw nothing.\n{self.troubles()}")
            time.sleep(0.001)
        return time.monotonic() - start

    def alive(self) -> int:
        """Return how many workers are at work."""
        return sum(process.is_alive() for process in self._processes)

    def tally(self) -> tuple[int, int, int]:
        """Return sketches drawn, swatches drawn, draws that failed."""
        sketches, pages, failed = np.asarray(self.counts).sum(axis=0)
        return int(sketches), int(pages), int(failed)

    def troubles(self) -> str:
        """Return the last trouble of each worker that had one."""
        lines = [bytes(row).rstrip(b"\0").decode(errors="replace") for row in self.troubles_bytes]
        return "\n".join(line for line in lines if line)
