"""What is measured of the router: which tops, how large, in which order."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from seamwalk.benchmark.route_tops import KINDS
from seamwalk.errors import UsageError
from seamwalk.model.order import OrderName

Part = Literal["speed", "first", "small", "limits", "order", "resume", "others"]

PARTS: tuple[Part, ...] = get_args(Part)

LADDER = (10, 100, 1_000, 3_000, 10_000, 20_000)
"""Strokes of the tops whose time and memory are measured."""

SMALL = (10, 30, 60, 100, 150)
"""Strokes of the tops whose best route is to be proven."""

SMALL_LIMIT_S = 10.0
"""Time that a proof may take."""

LIMITS_S = (2.0, 5.0, 20.0)
"""Time limits that are to be kept."""

SIDE_IN = 69.28
"""Side of the tops on which orders are compared: the area of 60 × 80 in."""

ORDERED = {
    "arches": 1024,
    "on point": 512,
    "leaves and diagonals": 924,
    "log cabin": 1302,
    "irregular": 1020,
}
"""Tops on which orders are compared, and their strokes."""

ORDERS: tuple[OrderName, ...] = get_args(OrderName)
"""Orders that are compared."""


@dataclass(frozen=True, slots=True)
class RouteCase:
    """One route to be found and measured.

    Attributes
    ----------
    part : str
        "speed": the whole work; "first": the first full route only; "small": proven with a
        limit; "limits": is a time limit kept; "order": what it is like to sew; "resume": the
        rest after a missed turn; "others": against other ways to quilt the same.
    top : str
        Kind of top.
    strokes : int
        Asked for.
    seed : int
    order : str or None
        Name of the wished order; None leaves it to chance.
    limit_s : float or None
        Time limit.
    side_in : float or None
        Longer side, where it is not the top's own.
    """

    part: Part
    top: str
    strokes: int
    seed: int = 0
    order: OrderName | None = None
    limit_s: float | None = None
    side_in: float | None = None

    @property
    def name(self) -> str:
        """What to call it while it runs."""
        extra = [self.order, f"{self.limit_s:g} s" if self.limit_s else None]
        words = [f"{self.top}, {self.strokes:,} strokes", *(e for e in extra if e)]
        return f"{self.part}: {', '.join(words)}, seed {self.seed}"


def parts_named(names: Sequence[str] | None) -> list[Part]:
    """Return the parts of these names, or all.

    Raises
    ------
    UsageError
        If there is no such part.
    """
    found: list[Part] = [p for p in PARTS if not names or p in names]
    for name in names or ():
        if name not in PARTS:
            raise UsageError(f"There is no part {name}.", f"Choose from {', '.join(PARTS)}.")
    return found


def route_cases(parts: Sequence[Part], most: int) -> list[RouteCase]:
    """Return everything to be measured, small tops of each part first.

    Parameters
    ----------
    parts : sequence of str
        Of `PARTS`.
    most : int
        Strokes of the largest top.
    """
    found = [c for part in parts for c in _of(part) if c.strokes <= most]
    return sorted(found, key=lambda c: (parts.index(c.part), c.strokes))


def _of(part: Part) -> Iterator[RouteCase]:
    if part in ("speed", "first"):
        # A whole route is found whatever the limit, a quick one where the top is large; nothing
        # comes after it.
        limit_s = 0.0 if part == "first" else None
        for top in KINDS:
            for strokes in LADDER:
                yield RouteCase(part, top, strokes, limit_s=limit_s)
        for seed in (1, 2):
            for strokes in (1_000, 20_000):
                yield RouteCase(part, "irregular", strokes, seed, limit_s=limit_s)
    elif part == "small":
        for top in KINDS:
            for strokes in SMALL:
                for seed in (0, 1, 2):
                    yield RouteCase(part, top, strokes, seed, limit_s=SMALL_LIMIT_S)
    elif part == "limits":
        for strokes in (1_000, 20_000):
            for limit in LIMITS_S:
                yield RouteCase(part, "irregular", strokes, limit_s=limit)
    elif part == "order":
        for top, strokes in ORDERED.items():
            for order in ORDERS:
                yield RouteCase(part, top, strokes, order=order, side_in=SIDE_IN)
    elif part == "resume":
        for top in ("arches", "on point", "irregular"):
            for strokes in (1_000, 5_000):
                yield RouteCase(part, top, strokes)
    else:
        for top, strokes in ORDERED.items():
            yield RouteCase(part, top, strokes, side_in=SIDE_IN)
