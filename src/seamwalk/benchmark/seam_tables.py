"""Results of the seam map as tables: by design, by fabrics, by photo, and how confidence holds."""

import itertools
from collections.abc import Callable, Sequence

import numpy as np

from seamwalk.benchmark.seam_arc_tables import arc_tables
from seamwalk.benchmark.seam_comparison import NEAR_PX
from seamwalk.benchmark.seam_scenes import SeamResult
from seamwalk.benchmark.tables import markdown

_BINS = (0.0, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 1.001)
"""Ranges of stated confidence."""


def seam_tables(results: Sequence[SeamResult]) -> str:
    """Return the summary, figures by design and fabrics, curved seams, and the calibration of
    confidence.
    """
    parts = [
        _summary(results),
        _by(results, "design", lambda r: r.design),
        _by(results, "fabrics", lambda r: r.fabrics),
        arc_tables(results, ("scene", "fabrics"), lambda r: [str(r.seed), r.fabrics]),
        confidence_table(results),
        _refused(results),
    ]
    return "\n\n".join(p for p in parts if p)


def photo_seam_table(results: Sequence[SeamResult]) -> str:
    """Return one row a photo, as it came."""
    rows = [
        [r.name, r.error]
        if r.error
        else [r.name, *_figures([r]), f"{r.roughly:.3f}", f"{r.seconds:.1f}"]
        for r in results
    ]
    header = ["photo", *_HEADER, f"seam F at {2 * NEAR_PX:.0f} px", "seconds"]
    rows = [row + [""] * (len(header) - len(row)) for row in rows]
    arcs = arc_tables(results, ("photo",), lambda r: [r.name])
    parts = [markdown(header, rows), arcs, confidence_table(results)]
    return "\n\n".join(p for p in parts if p)


_HEADER = (
    "patches found",
    "F1 at IoU 0.5",
    "F1 at IoU 0.8",
    "visible, 0.5",
    "visible, 0.8",
    "junctions p95, in",
    "junctions missed",
    "outline IoU",
    "seam F at 3 px",
    "one fabric: recall",
    "precision",
    "two fabrics: recall",
)


def _figures(results: Sequence[SeamResult]) -> list[str]:
    """Return the mean figures of pictures in the order of the header; refused ones count as 0."""
    n = max(len(results), 1)
    junctions = [j for r in results for j in r.junctions_in]
    hit = [j for j in junctions if j is not None]
    missed = 1 - len(hit) / len(junctions) if junctions else float("nan")
    measured = [r for r in results if not r.error]
    return [
        f"{sum(r.found for r in results)} of {sum(r.patches for r in results)}",
        *(f"{sum(r.f1[k] for r in results) / n:.3f}" for k in (0, 1)),
        *(f"{sum(r.visible[k] for r in results) / n:.3f}" for k in (0, 1)),
        f"{np.percentile(hit, 95):.3f}" if hit else "",
        f"{missed:.3f}" if junctions else "",
        f"{np.mean([r.mask_iou for r in measured]):.4f}" if measured else "",
        f"{np.mean([r.boundary[0] for r in measured]):.3f}" if measured else "",
        _recall(measured, "same"),
        _precision_of_same(measured),
        _recall(measured, "other"),
    ]


def _recall(results: Sequence[SeamResult], name: str) -> str:
    """Return the share of the length of true seams that was found."""
    total = sum(r.lengths.get(name, 0.0) for r in results)
    found = sum(r.lengths[name] * r.recall[name] for r in results if r.lengths.get(name, 0.0) > 0)
    return f"{found / total:.3f}" if total else ""


def _precision_of_same(results: Sequence[SeamResult]) -> str:
    """Return the share of real ones among the seams found within one fabric."""
    checks = [real for r in results for _, _, same, real, _ in r.checks if same]
    return f"{np.mean(checks):.3f}" if checks else ""


def _summary(results: Sequence[SeamResult]) -> str:
    measured = [r for r in results if not r.error]
    good = sum(r.f1[1] >= 0.99 for r in results)
    sharp = [r for r in measured if r.px_per_in >= 25]
    rows = [["all", *_figures(results)], ["25 px/in and more", *_figures(sharp)]]
    inferred = [c for r in measured for c in r.checks if c[1]]
    words = [
        f"{len(results)} scenes, {len(measured)} measured; F1 at IoU 0.8 is .99 and more in "
        f"{good}, the least {min((r.f1[1] for r in results), default=0):.3f}.",
    ]
    if inferred:
        words.append(
            f"Inferred seams: {len(inferred)}, of which {sum(c[3] for c in inferred)} are real."
        )
    if measured:
        seconds = [r.seconds for r in measured]
        words.append(
            f"Seconds a picture: median {np.median(seconds):.1f}, most {max(seconds):.1f}."
        )
    return " ".join(words) + "\n\n" + markdown(["scenes", *_HEADER], rows)


def _by(results: Sequence[SeamResult], name: str, key: Callable[[SeamResult], str]) -> str:
    groups = sorted({key(r) for r in results})
    if len(groups) == 1:  # the summary says the same
        return ""
    rows = [[g, *_figures([r for r in results if key(r) == g])] for g in groups]
    return markdown([name, *_HEADER], rows)


def confidence_table(results: Sequence[SeamResult]) -> str:
    """Return how many seams of each stated confidence are real, and the calibration error.

    The error is the mean difference of stated confidence and share of real seams, weighted by the
    number of seams (Guo et al., On calibration of modern neural networks, ICML 2017).
    """
    checks = np.array([(c, real) for r in results for c, _, _, real, _ in r.checks], dtype=float)
    if not len(checks):
        return "No seams were found."
    rows, error = [], 0.0
    for low, high in itertools.pairwise(_BINS):
        mine = checks[(checks[:, 0] >= low) & (checks[:, 0] < high)]
        if not len(mine):
            continue
        stated, real = mine.mean(axis=0)
        error += len(mine) / len(checks) * abs(stated - real)
        rows.append(
            [f"{low:.2f} to {min(high, 1):.2f}", str(len(mine)), f"{stated:.3f}", f"{real:.3f}"]
        )
    table = markdown(["confidence", "seams", "stated", "real"], rows)
    return f"{table}\n\nCalibration error {error:.3f}."


def _refused(results: Sequence[SeamResult]) -> str:
    lines = [f"- scene {r.seed} ({r.name}): {r.error}" for r in results if r.error]
    return "\n".join(["Refused:", "", *lines]) if lines else ""
