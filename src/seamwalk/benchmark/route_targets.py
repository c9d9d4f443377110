"""What routes are wanted to be, and what came of it."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from seamwalk.benchmark.route_run import RouteResult
from seamwalk.benchmark.route_tops import KINDS
from seamwalk.benchmark.tables import markdown
from seamwalk.model.order import OrderName

PROVEN = 1.1e-5
"""A route this near to its bound, as a share, is the best: weights are rounded, and the search
itself looks no further."""

IRREGULAR = ("irregular", "triangles")
"""Tops drawn at random."""

REGULAR = tuple(k for k in KINDS if k not in IRREGULAR)
"""All others."""

AS_ZERO = 5e-5
"""What reads as 0.00 %."""


ORDER: OrderName = "middle"
"""The order that is to go from the middle outwards at a small price."""


@dataclass(frozen=True, slots=True)
class OrderTarget:
    """What that order is to be like on a kind of top.

    Attributes
    ----------
    tops : tuple of str
    lines : bool
        The top has lines: their order counts, and turns of the quilt are limited and priced.
        Else the order of strips counts, and turns do not.
    correlation, bulk, gap : float
        At least; at most; at most, over the bound.
    """

    tops: tuple[str, ...]
    lines: bool
    correlation: float
    bulk: float
    gap: float


TURNS = 5
"""Most turns of the quilt on tops with lines."""

ORDER_TARGETS = (
    OrderTarget(("arches",), True, 0.95, 0.05, 0.01),
    OrderTarget(("on point",), True, 0.95, 0.05, 0.025),
    OrderTarget(("leaves and diagonals",), True, 0.95, 0.05, 0.02),
    OrderTarget(("log cabin", "irregular"), False, 0.85, 0.20, 0.03),
)


@dataclass(frozen=True, slots=True)
class Target:
    """One wish: the results it speaks of, what is read from them, and the most that it may be.

    Attributes
    ----------
    shown : str
        How a value is written, with `scale` times the value put in.
    """

    what: str
    wanted: str
    about: Callable[[RouteResult], bool]
    value: Callable[[RouteResult], float]
    most: float
    shown: str
    scale: float = 1.0


def _gap(r: RouteResult) -> float:
    return r.figures["gap"]


def _seconds(r: RouteResult) -> float:
    return r.figures["route_s"]


def _is(part: str, asked: int | None = None, tops: tuple[str, ...] = ()) -> Callable[..., bool]:
    """Return whether a result is of this part, size and kind of top."""

    def about(r: RouteResult) -> bool:
        case = r.case
        return (
            case.part == part and asked in (None, case.strokes) and (not tops or case.top in tops)
        )

    return about


TARGETS = (
    Target(
        "150 strokes and fewer: proven best",
        "in 10 s",
        lambda r: r.case.part == "small" and r.figures["strokes"] <= 150,
        lambda r: _seconds(r) if _gap(r) <= PROVEN else math.inf,
        10.0,
        "{:.1f} s",
    ),
    Target(
        "regular tops, over the bound",
        "0.00 %",
        _is("speed", tops=REGULAR),
        _gap,
        AS_ZERO,
        "{:.3f} %",
        100,
    ),
    Target(
        "irregular tops of 1,000 strokes, over the bound",
        "0.3 %",
        _is("speed", 1_000, IRREGULAR),
        _gap,
        0.003,
        "{:.3f} %",
        100,
    ),
    Target(
        "irregular tops of 20,000 strokes, over the bound",
        "0.5 %",
        _is("speed", 20_000, IRREGULAR),
        _gap,
        0.005,
        "{:.3f} %",
        100,
    ),
    Target(
        "20,000 strokes, first full route",
        "3 s",
        _is("first", 20_000),
        _seconds,
        3.0,
        "{:.1f} s",
    ),
    Target(
        "20,000 strokes, memory of the first full route",
        "500 MB",
        _is("first", 20_000),
        lambda r: r.figures["peak_mb"],
        500.0,
        "{:.0f} MB",
    ),
    Target(
        "a time limit, overrun",
        "10 %",
        _is("limits"),
        lambda r: _seconds(r) / (r.case.limit_s or 1.0) - 1,
        0.10,
        "{:+.0f} %",
        100,
    ),
    Target(
        "1,000 strokes, the rest after a missed turn",
        "1 s",
        _is("resume", 1_000),
        lambda r: r.figures["rest_s"],
        1.0,
        "{:.2f} s",
    ),
)


def target_table(results: Sequence[RouteResult]) -> str:
    """Return every target that there are results for, with the worst; empty without any."""
    rows = []
    for target in TARGETS:
        values = [target.value(r) for r in results if target.about(r)]
        if not values:
            continue
        worst = target.shown.format(max(values) * target.scale)
        if math.isinf(max(values)):
            worst = "not proven"
        met = sum(v <= target.most for v in values)
        rows.append([target.what, target.wanted, worst, f"{met} of {len(values)}"])
    for wish in ORDER_TARGETS:
        rows += [
            _order_row(r, wish)
            for r in results
            if r.case.part == "order" and r.case.order == ORDER and r.case.top in wish.tops
        ]
    return markdown(["what", "target", "worst that came", "reached by"], rows) if rows else ""


def _order_row(r: RouteResult, target: OrderTarget) -> list[str]:
    f = r.figures
    readings = ("by_lines",) if target.lines else ("by_strips", "by_rings")
    rank = max((f[x] for x in readings if x in f), default=math.nan)
    gap = f["priced"] / f["priced_bound"] - 1 if target.lines else f["gap"]
    wanted = f"≥ {target.correlation:.2f}, ≤ {100 * target.bulk:.0f} %"
    came = f"{rank:.2f}, {100 * f['bulk_share']:.0f} %"
    met = rank >= target.correlation and f["bulk_share"] <= target.bulk and gap <= target.gap
    if target.lines:
        wanted += f", ≤ {TURNS} turns"
        came += f", {f['quilt_turns']:.0f} turns"
        met = met and f["quilt_turns"] <= TURNS
    wanted += f", for ≤ {100 * target.gap:g} %"
    came += f", for {100 * gap:.1f} %"
    return [f"{r.case.top}, {ORDER}: order and bulk", wanted, came, "yes" if met else "no"]
