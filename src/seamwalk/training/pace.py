"""How fast a training goes, and where its time goes: on the card, or in the program itself."""

import time
from collections import deque
from dataclasses import dataclass

import torch


@dataclass(frozen=True, slots=True)
class Spent:
    """Milliseconds a step.

    Attributes
    ----------
    rendering, learning : float
        On the card, from the first to the last operation of the part: waiting for the program in
        between counts.
    program : float
        Processor time of the trainer, all its threads. Where it comes near the length of a step,
        the program holds the card up.
    """

    rendering: float
    learning: float
    program: float

    def line(self) -> str:
        """Return the times as a part of a line of text."""
        return (
            f"rendering {self.rendering:.0f} + learning {self.learning:.0f} ms a step,"
            f" program {self.program:.0f} ms"
        )


class Pace:
    """Keeps the program two steps ahead of the card: enough never to idle it, and the waiting
    that the log shows is then for sketches, not for the card. Takes the parts' times besides.

    Parameters
    ----------
    device : torch.device
    """

    def __init__(self, device: torch.device) -> None:
        self.on_card = device.type == "cuda"
        self.now: list[torch.cuda.Event] = []
        self.ahead: deque[list[torch.cuda.Event]] = deque()
        self.times: list[float] = []
        self.sums = [0.0, 0.0]
        self.steps, self.program_s = 0, time.process_time()

    def mark(self) -> None:
        """Note where the card is: before rendering, between the parts, after learning.

        The third mark ends a step, and waits for the one before the last two.
        """
        if not self.on_card:
            self.times.append(time.monotonic() * 1e3)
            if len(self.times) == 3:
                self._count(*self.times)
                self.times = []
            return
        # Waiting asleep: a thread that spins takes a core from the drawing, and would count as
        # work of the program.
        event = torch.cuda.Event(  # type: ignore[no-untyped-call]
            enable_timing=True, blocking=True
        )
        event.record()
        self.now.append(event)
        if len(self.now) < 3:
            return
        self.ahead.append(self.now)
        self.now = []
        if len(self.ahead) > 2:
            begun, rendered, learned = self.ahead.popleft()
            learned.synchronize()
            between = begun.elapsed_time(rendered), rendered.elapsed_time(learned)
            self._count(0.0, between[0], sum(between))

    def _count(self, begun_ms: float, rendered_ms: float, learned_ms: float) -> None:
        self.sums[0] += rendered_ms - begun_ms
        self.sums[1] += learned_ms - rendered_ms
        self.steps += 1

    def spent(self) -> Spent:
        """Return the times since the last asking."""
        program_s, steps = time.process_time(), max(1, self.steps)
        found = Spent(
            rendering=self.sums[0] / steps,
            learning=self.sums[1] / steps,
            program=(program_s - self.program_s) * 1e3 / steps,
        )
        self.sums, self.steps, self.program_s = [0.0, 0.0], 0, program_s
        return found
