"""Parts of a top that are sewn one after another: strips across it, or rings round its middle."""

import math
from dataclasses import dataclass

import numpy as np

from seamwalk.routing.turning import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Where copies lie.

    Attributes
    ----------
    number : (C,) int
        Part of each copy, from one side to the other or from the middle outwards.
    off_in : (C,) float
        How far its middle is from the middle of the top, across the parts, inches; negative in
        one half of strips, never in rings.
    """

    number: Ints
    off_in: Floats


@dataclass(frozen=True, slots=True)
class PartSettings:
    """How wide parts are.

    Attributes
    ----------
    wide_in : (float, float)
        Least and greatest width, inches: what is reached without shifting the quilt.
    inside_in : float
        A piece that reaches this little into the next part still lies in its own.
    """

    wide_in: tuple[float, float] = (8.0, 13.0)
    inside_in: float = 0.3


DEFAULT = PartSettings()


def strips(ends: Floats, required: Bools, axis: int, settings: PartSettings = DEFAULT) -> Parts:
    """Return strips of equal width across the top, cut where fewest pieces lie across.

    Parameters
    ----------
    ends : (C, 2, 2) float
        Both ends of each copy, inches.
    required : (C,) bool
        Copies that must be sewn.
    axis : {0, 1}
        Strips follow one another along x or y.
    """
    at = ends[:, :, axis]
    low, high = float(at.min()), float(at.max())
    from_edge = np.sort(at - low, axis=1)
    number = _cut(from_edge, high - low, required, settings)
    return Parts(number, at.mean(axis=1) - (low + high) / 2)


def rings(ends: Floats, required: Bools, settings: PartSettings = DEFAULT) -> Parts:
    """Return rings of equal width round the middle, as `strips` for the rest.

    Their sides run along those of the top; the innermost is as long as the top is longer than
    wide.
    """
    low, high = ends.min(axis=(0, 1)), ends.max(axis=(0, 1))
    out = ring_distance(ends, low, high)
    half = float((high - low).min()) / 2
    number = _cut(np.sort(out, axis=1), half, required, settings)
    return Parts(number, ring_distance(ends.mean(axis=1), low, high))


def ring_distance(at: Floats, low: Floats, high: Floats) -> Floats:
    """Return how far points (..., 2) lie from the middle of a rectangle, along rings, inches.

    Zero on the line that lies as far from the long sides as from the short ones.
    """
    half = (high - low) / 2
    off = np.abs(at - (low + high) / 2) - (half - half.min())
    out: Floats = np.maximum(off.max(axis=-1), 0.0)
    return out


def _cut(span: Floats, wide: float, required: Bools, settings: PartSettings) -> Ints:
    """Return the part of each copy that lies from span[:, 0] to span[:, 1] of 0 to `wide`."""
    slim, broad = settings.wide_in
    numbers = range(max(1, math.ceil(wide / broad)), max(1, math.floor(wide / slim)) + 1)

    def crossed(n: int) -> float:
        """Return how many required pieces lie across a border of n parts, in the mean."""
        each = wide / n or 1.0
        first = np.floor((span[:, 0] + settings.inside_in) / each)
        last = np.floor((span[:, 1] - settings.inside_in) / each)
        return float((last > first)[required].sum()) / max(1, n - 1)

    n = min(numbers or [1], key=crossed)
    each = wide / n or 1.0
    out: Ints = np.clip((span.mean(axis=1) / each).astype(np.intp), 0, n - 1)
    return out
