"""The benchmark of routes as Markdown tables, every row as it came."""

from collections.abc import Callable, Sequence

import numpy as np

from seamwalk.benchmark.route_cases import Part
from seamwalk.benchmark.route_order_tables import (
    order_table,
    others_table,
    percent,
    resume_table,
)
from seamwalk.benchmark.route_run import RouteResult
from seamwalk.benchmark.route_targets import PROVEN, target_table
from seamwalk.benchmark.tables import markdown

LARGE = 1_000
"""Growth is read from tops of as many strokes and more."""


def route_tables(results: Sequence[RouteResult]) -> str:
    """Return all tables that there are results for, one under the other."""
    makers: dict[Part, Callable[[Sequence[RouteResult]], str]] = {
        "speed": _speed,
        "small": _small,
        "limits": _limits,
        "order": order_table,
        "resume": resume_table,
        "others": others_table,
    }
    found = [target_table(results)]
    for part, make in makers.items():
        some = [r for r in results if r.case.part == part]
        if some:
            found.append(make(results if part == "speed" else some))
    found.append(_invalid(results))
    return "\n\n".join(t for t in found if t)


def growth(results: Sequence[RouteResult]) -> float | None:
    """Return the exponent of time against strokes, from large tops: a line through logarithms."""
    some = [r for r in results if r.figures["strokes"] >= LARGE * 0.8]
    if len({r.case.strokes for r in some}) < 2:
        return None
    n = np.log([r.figures["strokes"] for r in some])
    s = np.log([r.figures["route_s"] for r in some])
    return float(np.polyfit(n, s, 1)[0])


def _speed(results: Sequence[RouteResult]) -> str:
    first = {_top(r): r for r in results if r.case.part == "first"}
    whole = [r for r in results if r.case.part == "speed"]
    rows = []
    for r in whole:
        f = r.figures
        early = first.get(_top(r))
        rows.append(
            [
                _name(r),
                f"{f['strokes']:,.0f}",
                f"{f['network_s']:.2f}",
                f"{early.figures['route_s']:.2f}" if early else "",
                f"{early.figures['peak_mb']:.0f}" if early else "",
                percent(early.figures["gap"]) if early else "",
                f"{f['route_s']:.2f}",
                f"{f['peak_mb']:.0f}",
                percent(f["gap"]),
                f"{f['threads']:.0f}",
                f"{f['fewest_threads']:.0f}",
            ]
        )
    header = [
        "top",
        "strokes",
        "network, s",
        "first route, s",
        "peak, MB",
        "over the bound, %",
        "whole work, s",
        "peak, MB",
        "over the bound, %",
        "threads",
        "no fewer than",
    ]
    before = max(r.figures["before_mb"] for r in whole)
    grown = []
    for top in dict.fromkeys(r.case.top for r in whole):
        pair = [
            growth([r for r in some if r.case.top == top])
            for some in (list(first.values()), whole)
        ]
        if any(e is not None for e in pair):
            grown.append([top, *("" if e is None else f"{e:.2f}" for e in pair)])
    note = (
        f"Peak memory is that of the whole process, of which up to {before:.0f} MB are there "
        "before any route: what is imported, and the top."
    )
    table = markdown(header, rows)
    if not grown:
        return f"{note}\n\n{table}"
    steps = markdown(["top", "first route", "whole work"], grown)
    return (
        f"{note}\n\n{table}\n\nTime grows with this power of the strokes ({LARGE:,} and more):"
        f"\n\n{steps}"
    )


def _small(results: Sequence[RouteResult]) -> str:
    rows = []
    tops = dict.fromkeys(r.case.top for r in results)
    for name in [*tops, "all"]:
        some = [r for r in results if name in (r.case.top, "all")]
        proven = [r for r in some if r.figures["gap"] <= PROVEN]
        open_ = [r for r in some if r.figures["gap"] > PROVEN]
        rows.append(
            [
                name,
                _span([r.figures["strokes"] for r in some]),
                f"{len(proven)} of {len(some)}",
                f"{max((r.figures['route_s'] for r in proven), default=0):.2f}",
                f"{max((r.figures['strokes'] for r in proven), default=0):.0f}",
                _least([r.figures["strokes"] for r in open_]),
                percent(max((r.figures["gap"] for r in open_), default=0.0)),
            ]
        )
    header = [
        "top",
        "strokes",
        "proven best",
        "slowest proof, s",
        "largest proven, strokes",
        "smallest not proven",
        "most over the bound, %",
    ]
    return markdown(header, rows)


def _limits(results: Sequence[RouteResult]) -> str:
    rows = [
        [
            f"{r.figures['strokes']:,.0f}",
            f"{r.case.limit_s:g}",
            f"{r.figures['route_s']:.2f}",
            percent(r.figures["gap"]),
        ]
        for r in results
    ]
    return markdown(["strokes, irregular", "limit, s", "took, s", "over the bound, %"], rows)


def _invalid(results: Sequence[RouteResult]) -> str:
    wrong = [f"{r.case.name}: {' '.join(r.errors)}" for r in results if r.errors]
    if not wrong:
        return f"All {len(results)} routes pass the audit."
    return "Routes that fail the audit: " + "; ".join(wrong)


def _top(r: RouteResult) -> tuple[str, int, int]:
    return r.case.top, r.case.strokes, r.case.seed


def _name(r: RouteResult) -> str:
    return f"{r.case.top} {r.case.seed}" if r.case.seed else r.case.top


def _span(values: Sequence[float]) -> str:
    return f"{min(values):.0f} to {max(values):.0f}"


def _least(values: Sequence[float]) -> str:
    return f"{min(values):.0f}" if values else ""
