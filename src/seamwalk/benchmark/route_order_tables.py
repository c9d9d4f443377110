"""Tables of what routes are like to sew, and how they compare with other ways."""

from collections.abc import Sequence

from seamwalk.benchmark.route_run import RouteResult
from seamwalk.benchmark.tables import markdown


def order_table(results: Sequence[RouteResult]) -> str:
    """Return what each order comes to on each top."""
    rows = []
    for r in results:
        f = r.figures
        rows.append(
            [
                r.case.top,
                str(r.case.order),
                f"{f['minutes']:.1f}",
                percent(f["gap"]),
                percent(f["priced"] / f["priced_bound"] - 1),
                _rank(f.get("by_lines")),
                _rank(f.get("by_strips")),
                _rank(f.get("by_rings")),
                f"{100 * f['bulk_share']:.0f}",
                f"{f['quilt_turns']:.0f}",
                f"{f['threads']:.0f}",
                f"{f['phrases']:.0f}",
                f"{f['route_s']:.1f}",
            ]
        )
    header = [
        "top",
        "order",
        "minutes",
        "over the bound, %",
        "the same, turns priced, %",
        "rank correlation by lines",
        "by strips",
        "by rings",
        "length with the bulk right of the needle, %",
        "quilt turns",
        "threads",
        "phrases",
        "s",
    ]
    return markdown(header, rows)


def resume_table(results: Sequence[RouteResult]) -> str:
    """Return how fast the rest after a missed turn is found."""
    rows = []
    for r in results:
        f = r.figures
        saved = f.get("saved_minutes")
        rows.append(
            [
                r.case.top,
                f"{f['strokes']:,.0f}",
                f"{f['left']:,.0f}",
                f"{f['rest_s']:.2f}",
                percent(f["gap"]),
                "can't be sewn any more" if saved is None else f"{saved:.1f}",
            ]
        )
    header = [
        "top",
        "strokes",
        "left",
        "rest found in, s",
        "over the bound, %",
        "minutes less than the old rest",
    ]
    return markdown(header, rows)


def others_table(results: Sequence[RouteResult]) -> str:
    """Return what other ways to sew the same take."""
    rows = []
    for r in results:
        f = r.figures
        row = [r.case.top, f"{f['strokes']:,.0f}"]
        for way in ("", "patch by patch ", "line by line "):
            values = [f.get(f"{way}{what}") for what in ("minutes", "threads", "buried")]
            row += ["" if v is None else f"{v:.0f}" for v in values]
        rows.append(row)
    header = [
        "top",
        "strokes",
        "minutes",
        "threads",
        "buried ends",
        "patch by patch",
        "threads",
        "buried ends",
        "line by line",
        "threads",
        "buried ends",
    ]
    return markdown(header, rows)


def percent(share: float) -> str:
    """Return a share in percent."""
    return f"{100 * max(share, 0.0):.3f}"


def _rank(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"
