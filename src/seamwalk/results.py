"""Which files a run writes, and what each shows."""

import hashlib
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from seamwalk.folder import Folder
from seamwalk.model.look import Look
from seamwalk.model.settings import OwnSettings
from seamwalk.pipeline import MeasuredTop, PlannedTop
from seamwalk.resuming import ResumedPlan

if TYPE_CHECKING:
    from seamwalk.sheets.looks_text import Typed

LOOKS = ("looks.png", "looks.pdf", "looks.txt")

JPEG_QUALITY = 90
PNG_LEVEL = 4
"""Of zlib: 6 takes twice as long and saves 7 %."""


def write_measured(folder: Folder, result: MeasuredTop, *, top_file: Path | None = None) -> None:
    """Write top.json, sizes.csv and measured.png.

    Parameters
    ----------
    top_file : Path or None
        The top.json that the result was read from: copied byte for byte, never rewritten.
    """
    from seamwalk.files.top_file import write_top
    from seamwalk.sheets.measured import measured
    from seamwalk.sheets.tables import sizes_csv

    if top_file is None:
        folder.write(
            "top.json",
            lambda path: write_top(
                path,
                result.top,
                result.sizes,
                photo=result.photo,
                rectification=result.rectification,
                units=result.units,
                warnings=result.warnings,
            ),
        )
    else:
        _copy_top(folder, top_file)
    _clear_of_another_top(folder)
    folder.write_text("sizes.csv", sizes_csv(result.sizes, result.top, result.units))
    if result.flat is not None:
        picture = measured(
            result.flat, result.top, result.sizes, result.units, warnings=result.warnings
        )
        folder.write("measured.png", lambda path: _save(picture, path))


def write_planned(folder: Folder, result: PlannedTop, *, circles_named: bool = True) -> None:
    """Write plan.json, guide.txt, path.svg, overlay.jpg and, where it was judged, density.png.

    With them circles.png, where there are arcs to draw round circles.  top.json must be there
    already.

    Parameters
    ----------
    circles_named : bool
        The circles are the person's own, not plain sizes.
    """
    from seamwalk.files.plan_file import to_document, write_plan
    from seamwalk.sheets.guide_text import guide_text
    from seamwalk.sheets.hold_text import hold_lines
    from seamwalk.sheets.order_text import order_lines
    from seamwalk.sheets.overlay import overlay, overlay_plain
    from seamwalk.sheets.path_text import path_lines
    from seamwalk.sheets.svg import path_svg
    from seamwalk.sheets.worth_text import worth_lines

    top = result.measured
    top_file = folder.path / "top.json"
    plan = to_document(
        result.route,
        top_name=top_file.name,
        top_sha256=_sha256(top_file),
        settings=result.settings,
        gaps=result.gaps,
        density=result.density,
    )
    folder.write("plan.json", lambda path: write_plan(path, plan))
    guide = guide_text(
        result.guide,
        result.strokes.circles,
        result.route.totals,
        result.route.bobbin_changes,
        top.sizes,
        top.units,
        circles_named=circles_named,
        hold=hold_lines(top.top, top.sizes, result.gaps, result.density, top.units),
        path=path_lines(result.route.runs, result.route.breaks),
        worth=(
            *order_lines(result.route.order, result.route.orders),
            *worth_lines(result.route.totals),
        ),
        warnings=result.warnings,
    )
    folder.write_text("guide.txt", guide)
    _write_circles(folder, result, circles_named)
    folder.write_text("path.svg", path_svg(result.route, top.top, top.units))
    if top.photo is not None and top.rectification is not None:
        picture = overlay(top.photo, top.rectification, top.top, result.route, units=top.units)
    else:
        picture = overlay_plain(top.top, result.route, units=top.units)
    folder.write("overlay.jpg", lambda path: _save(picture, path))
    if result.gaps is not None and result.density is not None:
        from seamwalk.sheets.density_picture import density_picture

        density = density_picture(
            top.top, result.route, result.density, result.gaps, units=top.units
        )
        folder.write("density.png", lambda path: _save(density, path))
    else:
        folder.clear("density.png")


def write_resumed(folder: Folder, result: ResumedPlan) -> None:
    """Write plan.json and, where the top is known, top.json, guide.txt, path.svg, overlay.jpg.

    What an earlier plan left in the folder goes, or is put aside: a top.json only where it is
    neither the plan's nor lies beside it.
    """
    from seamwalk.files.plan_file import to_document, write_plan
    from seamwalk.sheets.guide_text import guide_text
    from seamwalk.sheets.overlay import overlay, overlay_plain
    from seamwalk.sheets.path_text import path_lines
    from seamwalk.sheets.rest_text import with_rest
    from seamwalk.sheets.svg import path_svg
    from seamwalk.sheets.worth_text import worth_lines

    top_file, route, top = result.top_file, result.route, result.measured
    plan = to_document(
        route,
        top_name="top.json" if top_file else result.top_name,
        top_sha256=_sha256(top_file) if top_file else result.top_sha256,
        settings=result.settings,
    )
    if top_file is not None:
        _copy_top(folder, top_file)
        _clear_of_another_top(folder)
    folder.write("plan.json", lambda path: write_plan(path, plan))
    beside = folder.path.resolve() == result.plan_file.parent.resolve()
    # In the plan's own folder the circles are still those that she marks by.
    folder.clear("density.png", *(() if beside and top else ("circles.png",)))
    if top is None:
        folder.clear("guide.txt", "path.svg", "overlay.jpg")
        there = folder.path / "top.json"
        if not beside and not (there.is_file() and _sha256(there) == result.top_sha256):
            folder.clear("top.json", "sizes.csv", "measured.png", *LOOKS)
        return
    guide = guide_text(
        result.guide,
        None,
        route.totals,
        route.bobbin_changes,
        top.sizes,
        result.units,
        path=path_lines(route.runs, route.breaks),
        worth=worth_lines(route.totals),
    )
    folder.write_text("guide.txt", with_rest(guide, result.lines))
    folder.write_text("path.svg", path_svg(route, top.top, result.units))
    if top.photo is not None and top.rectification is not None:
        picture = overlay(top.photo, top.rectification, top.top, route, units=result.units)
    else:
        picture = overlay_plain(top.top, route, units=result.units)
    folder.write("overlay.jpg", lambda path: _save(picture, path))


def _copy_top(folder: Folder, top_file: Path) -> None:
    """Copy a top.json byte for byte, unless it is there already."""
    there = folder.path / "top.json"
    if not there.exists() or not top_file.samefile(there):
        folder.write("top.json", lambda path: shutil.copyfile(top_file, path))


def _clear_of_another_top(folder: Folder) -> None:
    """Clear away what was drawn of the top that was here before, if this one is another."""
    if "top.json" in folder.changed:
        folder.clear("measured.png", "sizes.csv", *LOOKS)


def _sha256(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


def _write_circles(folder: Folder, result: PlannedTop, circles_named: bool) -> None:
    """Write circles.png, where there are arcs."""
    from seamwalk.sheets.circles_page import PAGE, circles_page
    from seamwalk.sheets.raster import picture

    plan, top = result.strokes, result.measured
    if plan.circles is None or not plan.circles.classes:
        folder.clear("circles.png")
        return
    page = circles_page(
        plan.circles, plan.strokes, top.top, top.sizes, top.units, circles_named=circles_named
    )
    rgb = picture(page, PAGE.px_per_in)
    folder.write("circles.png", lambda path: _save(rgb, path))


def write_looks(
    folder: Folder,
    measured: MeasuredTop,
    looks: Sequence[Look],
    own: OwnSettings,
    how: "Typed",
) -> None:
    """Write looks.png, looks.pdf and looks.txt."""
    from seamwalk.sheets.looks_page import PAGE, looks_page
    from seamwalk.sheets.looks_text import looks_text
    from seamwalk.sheets.pdf import write_pdf
    from seamwalk.sheets.raster import picture

    page = looks_page(measured.top, looks, own.batting, measured.units, own.paper)
    rgb = picture(page, PAGE.px_per_in)
    folder.write("looks.png", lambda path: _save(rgb, path))
    folder.write("looks.pdf", lambda path: write_pdf([page], path, "Three looks"))
    text = looks_text(looks, own.batting, measured.units, how)
    folder.write_text("looks.txt", text)


def _save(rgb: NDArray[np.uint8], path: Path) -> None:
    from PIL import Image

    image = Image.fromarray(rgb)
    if path.suffix == ".jpg":
        image.save(path, quality=JPEG_QUALITY, subsampling=0)
    else:
        image.save(path, compress_level=PNG_LEVEL)
