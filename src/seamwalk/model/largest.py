"""The largest top that is believed."""

from shapely import Polygon

from seamwalk.trade import LARGEST_TOP_IN
from seamwalk.units import Units, format_length


def too_large(outline: Polygon, units: Units = "in") -> str | None:
    """Return in a sentence that a top is larger than any quilt, None where it isn't.

    Parameters
    ----------
    outline : Polygon
        Raw edge, inches.
    units : {"in", "cm"}
        Of the sentence.
    """
    x0, y0, x1, y1 = outline.bounds
    longer = max(x1 - x0, y1 - y0)
    if longer <= LARGEST_TOP_IN:
        return None
    most = format_length(LARGEST_TOP_IN, units)
    if longer > 1000 * LARGEST_TOP_IN:
        return f"The top would be more than a thousand times {most} long."
    return f"The top would be {format_length(longer, units)} long, and no quilt is over {most}."
