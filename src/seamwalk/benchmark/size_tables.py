"""The accuracy of sizes as Markdown tables and as pictures."""

from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np

from seamwalk.benchmark.size_scenes import CARD_IN, SizeResult
from seamwalk.benchmark.tables import markdown

BANDS_DEG = (0.0, 15.0, 30.0, 45.0)
"""Limits of the bands of tilt."""

FLAT_IN = 2 / 25.4
"""Bumps up to this make a flat top, inches."""

Pick = Callable[[SizeResult], list[tuple[float, float]]]

WHAT: tuple[tuple[str, Pick], ...] = (
    ("patch sides", lambda r: r.sides),
    ("width and height", lambda r: r.overall),
    ("diagonals", lambda r: r.diagonals),
)


def size_tables(results: Sequence[SizeResult]) -> str:
    """Return the tables: errors and coverage, squareness, what was refused."""
    done = [r for r in results if not r.error]
    parts = [
        f"{len(results)} scenes, {len(done)} measured, {sum(len(r.sides) for r in done)} sides.",
        _errors(done),
        _targets(done),
        _straightness(done),
        _refused(results),
    ]
    return "\n\n".join(p for p in parts if p)


def _errors(done: Sequence[SizeResult]) -> str:
    rows = []
    for cards in (2, 1):
        for low, high in (*pairwise(BANDS_DEG), (0.0, 45.0)):
            some = [r for r in done if r.drawn["cards"] == cards and _within(r, low, high)]
            for name, pick in WHAT:
                pairs = [p for r in some for p in pick(r)]
                if not pairs:
                    continue
                error, pm = np.array(pairs).T
                rows.append(
                    [
                        str(cards),
                        f"{low:.0f}–{high:.0f}°",
                        name,
                        f"{len(some)} / {len(pairs)}",
                        f"{np.median(np.abs(error)):.3f}",
                        f"{np.percentile(np.abs(error), 95):.3f}",
                        f"{error.mean():+.3f}",
                        f"{pm.mean():.3f}",
                        f"{100 * (np.abs(error) <= pm).mean():.1f} %",
                    ]
                )
    header = ["cards", "tilt", "what", "scenes / lengths", "median, in", "p95, in", "mean, in"]
    return markdown([*header, "stated ±, in", "within ±"], rows)


def _within(result: SizeResult, low: float, high: float) -> bool:
    return low <= float(result.drawn["tilt_deg"]) <= high


def _targets(done: Sequence[SizeResult]) -> str:
    """Return the targets' own rows; once as measured, once with the ruler's error taken out."""
    rows = []
    kept = [
        r
        for r in done
        if r.drawn["cards"] == 2 and r.drawn["px_per_in"] >= 22 and _within(r, 0, 30)
    ]
    single = [r for r in done if r.drawn["cards"] == 1]
    for name, some, pick, target in (
        ("sides, two cards, ≥ 22 px/in, tilt ≤ 30°", kept, WHAT[0][1], 0.05),
        ("width and height, the same", kept, WHAT[1][1], 0.125),
        ("sides, one card", single, WHAT[0][1], 0.08),
    ):
        errors = np.array([e for r in some for e, _ in pick(r)])
        if len(errors):
            # True lengths are kept of width and height alone.
            exact = _p95(_overall_by_exact_cards(some)) if pick is WHAT[1][1] else ""
            rows.append([name, str(len(some)), _p95(errors), exact, f"{target}"])
    header = ["what", "scenes", "p95, in", "p95 had the card's side been exact, in", "target, in"]
    return markdown(header, rows)


def _p95(errors: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> str:
    return f"{np.percentile(np.abs(errors), 95):.3f}"


def _overall_by_exact_cards(
    results: Sequence[SizeResult],
) -> "np.ndarray[tuple[int, ...], np.dtype[np.float64]]":
    """Return errors of width and height with what the ruler got wrong about the card taken out.

    Lengths scale with the card's side, and the top's own size stands in for the measured one.
    """
    return np.array(
        [
            error - (CARD_IN / float(r.drawn["card_in"]) - 1) * float(length)
            for r in results
            for (error, _), length in zip(r.overall, r.drawn["sizes_in"]["overall"], strict=True)
        ],
        dtype=np.float64,
    )


def _straightness(done: Sequence[SizeResult]) -> str:
    rows = []
    for cards in (2, 1):
        some = [r for r in done if r.drawn["cards"] == cards]
        pairs = [p for r in some for p in (*r.skew, *r.taper)]
        flat = [r for r in some if float(r.drawn["bumps_in"]) <= FLAT_IN]
        still = [abs(e) for r in flat for e, _ in (*r.skew, *r.taper)]
        if not pairs:
            continue
        error, pm = np.array(pairs).T
        wrong = sum(r.verdict == "square" and r.crooked_deg > 0.5 for r in some)
        crooked = [r for r in some if r.crooked_deg > 0.5]
        noticed = sum(r.verdict == "not square" for r in crooked)
        square = [r for r in some if r.crooked_deg < 0.1]
        false = sum(r.verdict == "not square" for r in square)
        rows.append(
            [
                str(cards),
                str(len(some)),
                f"{np.percentile(np.abs(error), 95):.2f}",
                f"{np.percentile(still, 95):.2f}" if still else "",
                f"{100 * (np.abs(error) <= pm).mean():.1f} %",
                f"{noticed} of {len(crooked)}",
                str(wrong),
                f"{false} of {len(square)}",
            ]
        )
    header = [
        "cards",
        "scenes",
        "skew and taper p95, °",
        "the same, bumps to 2 mm",
        "within ±",
        "crooked by over 0.5° and said so",
        "crooked but called square",
        "square but called not square",
    ]
    return markdown(header, rows)


def _refused(results: Sequence[SizeResult]) -> str:
    said = [r for r in results if r.error]
    if not said:
        return ""
    return "Refused: " + "; ".join(f"scene {r.seed}: {r.error}" for r in said)


def plot_sizes(results: Sequence[SizeResult], path: Path) -> None:
    """Write a picture: errors against tilt, and how often the truth lies within the ±.

    Raises
    ------
    ImportError
        Without matplotlib (the extra ``[benchmark]``).
    """
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    done = [r for r in results if not r.error]
    figure, axes = plt.subplots(2, 2, figsize=(10, 7), layout="constrained")
    marks = {2: ("o", "#0072B2"), 1: ("^", "#D55E00")}
    for column, (name, pick) in enumerate(WHAT[:2]):
        ax, ratio = axes[0][column], axes[1][column]
        for cards, (marker, colour) in marks.items():
            some = [r for r in done if r.drawn["cards"] == cards and pick(r)]
            tilt = [r.drawn["tilt_deg"] for r in some]
            p95 = [np.percentile(np.abs([e for e, _ in pick(r)]), 95) for r in some]
            label = "two cards" if cards == 2 else "one card"
            ax.scatter(tilt, p95, marker=marker, s=22, facecolors="none", edgecolors=colour)
            ax.scatter([], [], marker=marker, facecolors="none", edgecolors=colour, label=label)
            z = np.sort([1.96 * e / u for r in some for e, u in pick(r)])
            share = (np.arange(len(z)) + 0.5) / max(len(z), 1)
            style = "-" if cards == 2 else "--"
            ratio.plot(z, share, style, color=colour, label=label)
        ax.set_yscale("log")
        ax.set(title=f"{name}: 95th percentile in each photo", xlabel="tilt, °", ylabel="inches")
        ax.legend()
        x = np.linspace(-3.5, 3.5, 200)
        from scipy.stats import norm

        ratio.plot(x, norm.cdf(x), ":", color="black", label="as it should be")
        ratio.set(
            title=f"{name}: error over its stated σ",
            xlabel="error / σ",
            ylabel="share below",
            xlim=(-3.5, 3.5),
        )
        ratio.legend()
    figure.savefig(path, dpi=110)
    plt.close(figure)
