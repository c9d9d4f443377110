"""Sizes as a table for a spreadsheet, one row for each patch."""

import csv
import io

from seamwalk.cutting import cut_for
from seamwalk.model.sizes import PatchSize, Sizes
from seamwalk.model.top import Patch, Top
from seamwalk.sheets.kinds import SURE
from seamwalk.sheets.side_differences import SideDifference, side_differences
from seamwalk.units import Units, from_inches

_CORNER_TO_CORNER = ("", " once corner to corner", " twice corner to corner")

_DECIMALS = {"in": 3, "cm": 2}


def sizes_csv(sizes: Sizes, top: Top, units: Units = "in") -> str:
    """Return the sizes of all patches as CSV (RFC 4180 with plain line feeds).

    Parameters
    ----------
    sizes : Sizes
        In the top's order of patches.
    top : Top
        For the places of the patches.
    units : {"in", "cm"}
        Unit of every length; the heading names it.
    """
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    tolerance = f"{round(from_inches(sizes.tolerance_in, units), 4):g}"
    table.writerow(
        [
            "patch",
            "class",
            "shape",
            f"sides ({units})",
            f"largest plus or minus, 95 % ({units})",
            f"finished ({units})",
            f"off ({units})",
            "verdict",
            "raw edges",
            f"centre x ({units})",
            f"centre y ({units})",
            "finished chance",
            f"sides plus or minus, 95 % ({units})",
            "angles (degrees)",
            "angles plus or minus, 95 % (degrees)",
            f"sides off by more than {tolerance} ({units})",
            f"to make another, cut ({units})",
            f"curved sides ({units})",
        ]
    )
    by_id = {patch.id: patch for patch in top.patches}
    differences = side_differences(sizes, top)
    for size in sizes.patches:
        off = [d for d in differences[size.patch] if abs(d.difference_in) > sizes.tolerance_in]
        table.writerow(_row(size, by_id[size.patch], off, units))
    return out.getvalue()


def _row(size: PatchSize, patch: Patch, off: list[SideDifference], units: Units) -> list[str]:
    centre = patch.polygon.representative_point()
    # What was meant, not what was measured; without a sure size there is nothing to cut by.
    sure = size.finished.chance >= SURE
    cut = cut_for(size.shape, size.finished.size_in) if sure else None

    digits = _DECIMALS[units]

    def number(value_in: float) -> str:
        # Adding zero turns a rounded -0 into 0.
        return f"{round(from_inches(value_in, units), digits) + 0.0:.{digits}f}"

    def several(values: list[float]) -> str:
        return " x ".join(number(v) for v in values)

    return [
        str(size.patch),
        size.class_name,
        size.shape,
        several([side.value_in for side in size.sides]),
        number(max((side.plus_minus_in for side in size.sides), default=0.0)),
        several(list(size.finished.size_in)),
        number(size.finished.off_in),
        size.finished.verdict,
        str(size.raw_edges),
        number(centre.x),
        number(centre.y),
        f"{size.finished.chance:.2f}",
        several([side.plus_minus_in for side in size.sides]),
        " x ".join(f"{a.value_deg:.2f}" for a in size.angles),
        " x ".join(f"{a.plus_minus_deg:.2f}" for a in size.angles),
        "; ".join(
            f"{d.place} {'+' if d.difference_in > 0 else ''}{number(d.difference_in)}" for d in off
        ),
        "" if cut is None else several(list(cut.size_in)) + _CORNER_TO_CORNER[cut.cuts],
        "; ".join(
            f"side {c.side + 1}: radius {number(c.radius.value_in)} "
            f"± {number(c.radius.plus_minus_in)}, along the seam {number(c.along.value_in)} "
            f"± {number(c.along.plus_minus_in)}"
            for c in size.curves
        ),
    ]
