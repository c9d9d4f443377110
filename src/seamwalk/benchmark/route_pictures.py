"""Pictures of the benchmark of routes: time, memory and gap against strokes; orders on tops.

They need matplotlib, the extra ``[benchmark]``.
"""

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from seamwalk.benchmark.route_cases import SIDE_IN
from seamwalk.benchmark.route_legs import Floats
from seamwalk.benchmark.route_run import RouteResult
from seamwalk.benchmark.route_tops import route_top
from seamwalk.geometry.projective import Points
from seamwalk.routing.graph import network

TINY_GAP = 1e-6
"""Gaps below are drawn here, as shares: a scale of powers has no nought."""

MARKS = "osD^v<>pPX*"
"""One for each kind of top, so that no one has to tell colours apart."""


def write_pictures(
    results: Sequence[RouteResult], folder: Path, beside: Path | None = None
) -> list[str]:
    """Write ``routes-speed.png`` and ``routes-order.png``, as far as there are results.

    Parameters
    ----------
    results : sequence of RouteResult
        Of any parts.
    folder : Path
        Made if needed.
    beside : Path, optional
        Page that is to show them.

    Returns
    -------
    list of str
        A Markdown link to each, with what it shows.

    Raises
    ------
    ImportError
        Without matplotlib.
    """
    folder.mkdir(parents=True, exist_ok=True)
    links = []
    for part, plot, shows in (
        ("speed", _plot_speed, "Time, memory and gap by strokes; dotted: the targets"),
        ("order", _plot_orders, "Orders of sewing: what is dark is sewn first"),
    ):
        if any(r.case.part == part for r in results):
            path = folder / f"routes-{part}.png"
            plot(results, path)
            place = os.path.relpath(path, beside.parent) if beside else str(path)
            links.append(f"![{shows}]({Path(place).as_posix()})")
    return links


def _plot_speed(results: Sequence[RouteResult], path: Path) -> None:
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    figure, axes = plt.subplots(1, 3, figsize=(13, 4.6), layout="constrained")
    tops = list(dict.fromkeys(r.case.top for r in results if r.case.part == "speed"))
    for k, top in enumerate(tops):
        for part in ("first", "speed"):
            some = [r for r in results if (r.case.part, r.case.top) == (part, top)]
            some.sort(key=lambda r: r.figures["strokes"])
            n = [r.figures["strokes"] for r in some]
            style = {"marker": MARKS[k % len(MARKS)], "color": f"C{k % 10}", "ms": 5, "lw": 0.8}
            if part == "first":
                axes[0].plot(n, [r.figures["route_s"] for r in some], **style, label=top)
                axes[1].plot(n, [r.figures["peak_mb"] for r in some], **style)
            else:
                gap = [max(r.figures["gap"], TINY_GAP) for r in some]
                axes[2].plot(n, [100 * g for g in gap], **style)
    for ax, title in zip(
        axes,
        ("first full route, s", "its peak memory, MB", "whole work: over the bound, %"),
        strict=True,
    ):
        ax.set(title=title, xlabel="strokes", xscale="log", yscale="log")
        ax.grid(alpha=0.3)
    for ax, most in ((axes[0], 3.0), (axes[1], 500.0)):
        ax.axhline(most, color="black", ls=":", lw=1)
    axes[0].legend(fontsize=7)
    figure.savefig(path, dpi=90)
    plt.close(figure)


def _plot_orders(results: Sequence[RouteResult], path: Path) -> None:
    """Draw each top in each order, from first (dark) to last (light)."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt
    from matplotlib.collections import LineCollection

    results = [r for r in results if r.case.part == "order"]
    tops = list(dict.fromkeys(r.case.top for r in results))
    orders = list(dict.fromkeys(r.case.order for r in results))
    figure, axes = plt.subplots(
        len(orders),
        len(tops),
        figsize=(2.5 * len(tops), 2.6 * len(orders)),
        layout="constrained",
        squeeze=False,
    )
    for r in results:
        ax = axes[orders.index(r.case.order)][tops.index(r.case.top)]
        lines, when = _drawn(r)
        ax.add_collection(LineCollection(lines, array=when, cmap="viridis", linewidths=0.8))
        ax.set(xlim=(-1, SIDE_IN + 1), ylim=(SIDE_IN + 1, -1), xticks=[], yticks=[])
        ax.set_aspect("equal")
        ax.set_title(f"{r.case.top}: {r.case.order}", fontsize=8)
    figure.savefig(path, dpi=80)
    plt.close(figure)


def _drawn(result: RouteResult) -> tuple[list[Points], Floats]:
    """Return the curve of each leg, and the share of the length that is sewn at its end."""
    case = result.case
    pieces = network(route_top(case.top, case.strokes, case.seed, case.side_in)).pieces
    curves = [p.curve for p in pieces.values()]
    length = np.cumsum([curves[abs(k) - 1].length for k in result.path])
    # Some hundredths of an inch are less than a pixel.
    return [curves[abs(k) - 1].sampled(0.05) for k in result.path], length / length[-1]
