"""Benchmark results as Markdown tables, and their place in docs/accuracy.md."""

import os
import platform
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from seamwalk import __version__
from seamwalk.benchmark.photos import PhotoResult
from seamwalk.errors import UsageError


def markdown(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a Markdown table."""
    lines = ["| " + " | ".join(header) + " |", "|" + "---|" * len(header)]
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join(lines)


def photos_table(results: Sequence[PhotoResult]) -> str:
    """Return the accuracy table of a folder of photos, one row each, as it came."""
    rows = []
    for r in results:
        if r.score is None:
            rows.append([r.name, "", "", "", "", "", "", "", r.error])
            continue
        s = r.score
        rows.append(
            [
                r.name,
                f"{s.found} of {s.patches}",
                f"{s.f1[0.5]:.3f}",
                f"{s.f1[0.8]:.3f}",
                f"{s.side_p95_in:.3f}",
                f"{s.coverage:.2f}",
                f"{s.width_error_in:+.3f} ± {s.width_bound_in:.2f}",
                f"{s.height_error_in:+.3f} ± {s.height_bound_in:.2f}",
                " ".join(r.warnings),
            ]
        )
    header = [
        "photo",
        "patches found",
        "F1 at IoU 0.5",
        "F1 at IoU 0.8",
        "sides p95, in",
        "share within ±",
        "width off, in",
        "height off, in",
        "said",
    ]
    return markdown(header, rows)


def speed_table(results: Sequence[dict[str, Any]]) -> str:
    """Return time by stage and peak memory, one row a photo."""
    stages = list(dict.fromkeys(name for r in results for name in r["seconds"]))
    header = ["photo", "MP", "patches", *stages, "total, s", "peak, MB"]
    rows = [
        [
            r["photo"],
            str(r["megapixels"]),
            str(r["patches"]),
            *(f"{r['seconds'].get(name, 0):.1f}" for name in stages),
            f"{r['total_s']:.1f}",
            str(r["peak_mb"]),
        ]
        for r in results
    ]
    return markdown(header, rows)


def machine_line() -> str:
    """Return one line that says what the figures were measured on."""
    return (
        f"seamwalk {__version__}, Python {platform.python_version()}, {platform.system()} "
        f"{platform.machine()}, {os.cpu_count()} cores."
    )


def replace_section(path: Path, name: str, text: str) -> None:
    """Replace what stands between ``<!-- NAME -->`` and ``<!-- /NAME -->`` in a file.

    Raises
    ------
    UsageError
        If the file has no such section.
    """
    old = path.read_text(encoding="utf-8")
    start, end = f"<!-- {name} -->", f"<!-- /{name} -->"
    pattern = re.compile(re.escape(start) + ".*?" + re.escape(end), re.DOTALL)
    if not pattern.search(old):
        raise UsageError(f"{path} has no section {start}.", "Check the name of the section.")
    new = pattern.sub(lambda _: f"{start}\n{text}\n{end}", old)
    temporary = path.with_suffix(".tmp")
    temporary.write_text(new, encoding="utf-8")
    temporary.replace(path)
