"""Sizes as a table for a spreadsheet, one row for each patch."""

import csv
import io

from seamwalk.model.sizes import PatchSize, Sizes
from seamwalk.model.top import Patch, Top
from seamwalk.units import Units, from_inches

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
        ]
    )
    by_id = {patch.id: patch for patch in top.patches}
    for size in sizes.patches:
        table.writerow(_row(size, by_id[size.patch], units))
    return out.getvalue()


def _row(size: PatchSize, patch: Patch, units: Units) -> list[str]:
    centre = patch.polygon.representative_point()

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
    ]
