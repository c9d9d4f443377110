"""Ends a training that stands still, and writes down where it stood.

On several cards one process can wait for another for ever; a lent machine's time runs out the
while. The weights saved last are kept, and so is every thread's place in the program.
"""

import faulthandler
from pathlib import Path
from types import TracebackType
from typing import Self

AFTER_STEPS = 10
"""Compiling and the choice of the fastest operations make the first steps long."""

CARD_S, PROCESSOR_S = 90.0, 1800.0
"""No later step takes so long on a card or without one, files written in between included."""


class Watchdog:
    """Ends this process when it is not told of a step for `still_s` seconds.

    Parameters
    ----------
    path : Path
        Gets the places of all threads then; removed where all goes well.
    still_s : float
        Seconds.
    """

    def __init__(self, path: Path, still_s: float) -> None:
        self.path, self.still_s = path, still_s

    def __enter__(self) -> Self:
        self.file = self.path.open("w")
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        faulthandler.cancel_dump_traceback_later()
        self.file.close()
        self.path.unlink(missing_ok=True)

    def step(self, number: int) -> None:
        """Say that step `number` is done."""
        if number >= AFTER_STEPS:
            faulthandler.dump_traceback_later(self.still_s, exit=True, file=self.file)
