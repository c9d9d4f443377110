"""How long each motif takes on a top of 2,000 patches, alone and all together.

The top is one of nine patches, perfectly sewn, in a border: squares of 2 1/2 in, king size.  What
is timed is the motif itself over the whole top, the whole plan of strokes with it, and how long it
takes to find that plan's widest gaps and its density.  Each figure is the least of a few runs:
what else the machine does only ever adds to it.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from seamwalk.benchmark.motif_pictures import plain_sizes
from seamwalk.benchmark.tables import markdown
from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import Top
from seamwalk.motifs.area import Area, lay_out
from seamwalk.motifs.density import density_report
from seamwalk.motifs.gaps import gap_report
from seamwalk.motifs.motif import Region, find, known
from seamwalk.motifs.plan import make_strokes
from seamwalk.scenes.allowance import with_allowance
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.planar_map import joined, top_of
from seamwalk.scenes.tops import pattern
from seamwalk.trade import BATTING_GAP_IN

T = TypeVar("T")

GAP_IN = BATTING_GAP_IN["unknown"]
"""Gaps wider than this are sought: the strictest of all battings."""


@dataclass(frozen=True, slots=True)
class SpeedSettings:
    """What is timed."""

    columns: int = 14
    """Blocks across."""
    rows: int = 16
    """Blocks down: 14 × 16 × 9 patches and four of the border are 2,020."""
    block_in: float = 7.5
    """Side of a block, inches."""
    border_in: float = 4.0
    """Width of the border, inches."""
    runs: int = 3
    """Runs of each motif, of which the fastest counts."""


@dataclass(frozen=True, slots=True)
class MotifTime:
    """One row of the table.

    Attributes
    ----------
    motif_s : float
        The motif alone.
    strokes : int
        That it gave.
    plan_s : float
        The whole plan of strokes with it: joined, with everything that the path may travel on.
    gaps_s, density_s : float
        The widest circles without a stitch in that plan, and how even it is.
    """

    motif: str
    motif_s: float
    strokes: int
    plan_s: float
    gaps_s: float
    density_s: float


def large_top(settings: SpeedSettings) -> Top:
    """Return the top that is timed on."""
    layout = Layout(settings.columns, settings.rows, settings.block_in)
    finished = pattern("nine patch", layout, settings.border_in, np.random.default_rng(0))
    return top_of(joined(with_allowance(finished).pieces), raw_edges=not finished.trimmed)


def time_motifs(
    settings: SpeedSettings | None = None, progress: Callable[[str], None] = lambda _: None
) -> tuple[int, float, tuple[MotifTime, ...]]:
    """Return the number of patches, the seconds to lay the top out, and those of each motif."""
    settings = settings or SpeedSettings()
    top = large_top(settings)
    laying_s, area = _least(lambda: lay_out(top), settings.runs)
    sizes = plain_sizes(top, area)
    patches = tuple(area.outlines)
    rows = []
    for name in known():
        if name == "none":
            continue
        progress(name)
        rows.append(_timed(MotifChoice(patches, name), top, sizes, area, settings.runs))
    return len(top.patches), laying_s, tuple(rows)


def _timed(choice: MotifChoice, top: Top, sizes: Sizes, area: Area, runs: int) -> MotifTime:
    machine, motif = MachineProfile(), find(choice.motif)
    # A region keeps what it has worked out, so that every run gets a new one.
    motif_s, found = _least(lambda: motif(Region(area, choice.patches, machine), choice), runs)
    plan_s, plan = _least(lambda: make_strokes(top, sizes, [choice], machine, area=area), runs)
    curves = [s.curve for s in plan.strokes if s.required]
    gaps_s, _ = _least(lambda: gap_report(curves, area, sizes, [choice], GAP_IN), runs)
    density_s, _ = _least(lambda: density_report(curves, area, [choice]), runs)
    return MotifTime(choice.motif, motif_s, len(found.strokes), plan_s, gaps_s, density_s)


def _least(work: Callable[[], T], runs: int) -> tuple[float, T]:
    """Return the seconds of the fastest of a few runs, and what it gave."""
    best = np.inf
    for _ in range(runs):
        start = time.perf_counter()
        out = work()
        best = min(best, time.perf_counter() - start)
    return best, out


def motif_speed_table(patches: int, laying_s: float, found: Sequence[MotifTime]) -> str:
    """Return the table, the sum of all motifs in its last row."""
    rows = [
        [
            f"`{r.motif}`",
            f"{r.motif_s:.2f}",
            f"{r.strokes:,}",
            f"{r.plan_s:.2f}",
            f"{r.gaps_s:.2f}",
            f"{r.density_s:.2f}",
        ]
        for r in found
    ]
    rows.append(["all of them", f"{sum(r.motif_s for r in found):.2f}", "", "", "", ""])
    note = f"{patches:,} patches; laying the top out, once for all motifs: {laying_s:.2f} s."
    header = ["motif", "alone, s", "strokes", "plan of strokes, s", "gaps, s", "density, s"]
    return f"{note}\n\n{markdown(header, rows)}"
