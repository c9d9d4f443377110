"""A region's own axes, for motifs that are laid in rows over all of it."""

import math
from dataclasses import dataclass

import numpy as np

from seamwalk.geometry.curve import Point
from seamwalk.motifs.motif import Region


@dataclass(frozen=True, slots=True)
class RowAxes:
    """Axes whose x runs along the rows and whose y runs away from the first row.

    Seen on a page with the rows level, y points up: angles turn x towards y against the clock.

    Attributes
    ----------
    origin : Point
        Left end of the first row's line, top frame.
    angle_rad : float
        Direction of x, from the top's x towards its y.
    width, height : float
        Extent of the region along x and y: it reaches from 0 to width and from 0 to height.
    """

    origin: Point
    angle_rad: float
    width: float
    height: float

    def way(self, x: float, y: float) -> Point:
        """Return in the top frame the way that these axes call (x, y)."""
        c, s = math.cos(self.angle_rad), math.sin(self.angle_rad)
        return (x * c + y * s, x * s - y * c)

    def place(self, x: float, y: float) -> Point:
        """Return in the top frame the place that these axes call (x, y)."""
        dx, dy = self.way(x, y)
        return (self.origin[0] + dx, self.origin[1] + dy)


def row_axes(region: Region, angle_deg: float) -> RowAxes:
    """Return the axes of rows at an angle; the first row's line touches the region from below.

    Parameters
    ----------
    region : Region
        With at least one outline.
    angle_deg : float
        Direction of the rows, from x towards y.
    """
    angle = math.radians(angle_deg)
    c, s = math.cos(angle), math.sin(angle)
    ring = np.concatenate([o.ring for o in region.outlines])
    along, down = ring @ np.array([c, s]), ring @ np.array([-s, c])
    left, low = float(along.min()), float(down.max())
    origin = (left * c - low * s, left * s + low * c)
    return RowAxes(origin, angle, float(along.max()) - left, low - float(down.min()))
