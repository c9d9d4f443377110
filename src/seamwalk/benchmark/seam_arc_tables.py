"""Results of curved seams as a table, one row a picture, and what they come to."""

from collections.abc import Callable, Sequence

import numpy as np

from seamwalk.benchmark.seam_arcs import ArcScore
from seamwalk.benchmark.seam_scenes import SeamResult
from seamwalk.benchmark.tables import markdown

_HEADER = (
    "F1@0.8",
    "arcs found",
    "invented",
    "junctions p95",
    "radius: median, p95, within ±",
    "along the seam: p95, within ±",
)

Doubted = Sequence[tuple[float, float]]
"""Errors, measured minus true, and their ±; inches."""


def arc_tables(
    results: Sequence[SeamResult],
    header: Sequence[str],
    label: Callable[[SeamResult], list[str]],
) -> str:
    """Return a row for each picture with arcs in truth or in the map, all of them together, and
    how many seams of the others were taken for arcs; empty where nothing is known of arcs.

    Parameters
    ----------
    header : sequence of str
        Names of the columns that tell pictures apart.
    label : callable
        What stands in them for a result.
    """
    told = [(r, r.arcs) for r in results if r.arcs is not None]
    rows = [[*label(r), *_row(r, a)] for r, a in told if a.arcs or a.invented]
    curved = [a for _, a in told if a.arcs]
    # A refused picture has no map in which a seam could be taken for an arc.
    straight = [a for r, a in told if not a.arcs and not r.error]
    parts = [
        markdown([*header, *_HEADER], rows) if rows else "",
        _together(curved) if curved else "",
        _taken_for_arcs(straight) if straight else "",
    ]
    return "\n\n".join(p for p in parts if p)


def _row(result: SeamResult, arcs: ArcScore) -> list[str]:
    hit = [j for j in result.junctions_in if j is not None]
    return [
        f"{result.f1[1]:.3f}",
        f"{arcs.found} of {arcs.arcs}",
        str(arcs.invented),
        f"{np.percentile(hit, 95):.3f}" if hit else "",
        ", ".join(_figures(arcs.radius)),
        ", ".join(_figures(arcs.along)[1:]),
    ]


def _figures(pairs: Doubted) -> list[str]:
    """Return median and p95 of the errors, and the share of them within their ±."""
    if not pairs:
        return []
    error, pm = np.abs(np.array(pairs).T)
    within = f"{(error <= pm).mean():.2f}"
    return [f"{np.median(error):.3f}", f"{np.percentile(error, 95):.3f}", within]


def _together(scores: Sequence[ArcScore]) -> str:
    found, arcs = sum(a.found for a in scores), sum(a.arcs for a in scores)
    words = [
        f"Together {found:,} of {arcs:,} arcs are found, {sum(a.invented for a in scores):,} "
        "invented."
    ]
    radius = [p for a in scores for p in a.radius]
    if radius:
        along = [p for a in scores for p in a.along]
        words.append(f"On {len(radius):,} sides beside them {_off('radii', radius)};")
        words.append(f"{_off('lengths along the seam', along)}.")
    return " ".join(words)


def _off(what: str, pairs: Doubted) -> str:
    median, p95, within = _figures(pairs)
    mean = float(np.mean([error for error, _ in pairs]))
    sign = "large" if mean > 0 else "small"
    return (
        f"{what} are off by {median} in (median) and {p95} in (p95), {abs(mean):.4f} in too "
        f"{sign} on average, {within} of them within their ±"
    )


def _taken_for_arcs(scores: Sequence[ArcScore]) -> str:
    pictures = "1 picture" if len(scores) == 1 else f"{len(scores)} pictures"
    invented = sum(a.invented for a in scores)
    one = {0: "none was taken for an arc", 1: "1 was taken for an arc"}
    taken = one.get(invented, f"{invented:,} were taken for arcs")
    return (
        f"In {pictures} without curved seams there are {sum(a.seams for a in scores):,} seams "
        f"between two patches; of {sum(a.seams_found for a in scores):,} in their maps "
        f"{taken}."
    )
