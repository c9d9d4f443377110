"""Patches by kind: the few rows in which a person reads the sizes of a whole top.

A kind is a class of patches under the name that quilters use, with the finished size a pattern
would give.  Classes of no common shape, and odd ones of which there are only one or two, are
gathered in a last row.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.model.sizes import PatchSize, Shape, Sizes
from seamwalk.sheets.size_text import in_pattern, short_length
from seamwalk.units import Units, pattern_units

MOST_ROWS = 12
"""More rows than this are no longer taken in at a glance."""

SURE = 0.95
"""A finished size less likely than this is shown with a question mark and its chance."""

LIKELIER_THAN_NOT = 0.5
"""A finished size less likely than this is one of several: it is said with "about"."""

PLURALS: dict[Shape, str] = {
    "square": "squares",
    "rectangle": "rectangles",
    "half-square triangle": "half-square triangles",
    "quarter-square triangle": "quarter-square triangles",
    "triangle": "triangles",
    "parallelogram": "parallelograms",
    "diamond": "diamonds",
    "kite": "kites",
    "trapezoid": "trapezoids",
    "hexagon": "hexagons",
    "quarter circle": "quarter circles",
    "curved": "curved shapes",
    "other": "other shapes",
}

_PLAIN: tuple[Shape, ...] = (
    "square",
    "rectangle",
    "half-square triangle",
    "quarter-square triangle",
)
"""Shapes that patterns are mostly made of: a row of their own even for one patch."""

_FEWEST_ODD = 3
"""Other shapes get a row of their own from this number of equal ones on …"""
_SHARE_ODD = 0.04
"""… if they are at least this share of all patches: what a design is made of comes often."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One row.

    Attributes
    ----------
    name : str
        As quilters say it, singular for one patch.
    size : str
        Finished size, empty for gathered ones; without unit where the pattern is in the units
        of the table.
    classes : tuple of str
        Names of the classes in it.
    right, off, unsure : int
        Patches by verdict; they add up to `count`.
    chance : float
        That the size was meant, 0 to 1.
    """

    name: str
    size: str
    classes: tuple[str, ...]
    count: int
    right: int
    off: int
    unsure: int
    chance: float = 1.0

    @property
    def gathered(self) -> bool:
        """Tell whether this is the row of all that is odd."""
        return not self.size

    @property
    def size_or_question(self) -> str:
        """The size as it is said with its chance."""
        return said_with_chance(self.size, self.chance) if self.size else ""


def said_with_chance(size: str, chance: float) -> str:
    """Return ``3 × 3``, ``3 × 3? 80%`` when that is not sure, ``about 3 × 42`` for a guess."""
    if chance >= SURE:
        return size
    if chance < LIKELIER_THAN_NOT:
        return f"about {size}"
    # Never rounded up to what it does not reach.
    return f"{size}? {int(100 * chance)}%"


def kinds(sizes: Sizes, units: Units, most: int = MOST_ROWS) -> tuple[Kind, ...]:
    """Return the kinds of patches, the commonest first, what is odd in one last row.

    Parameters
    ----------
    most : int
        No more rows than this; the rarest join the last one.
    """
    pattern = pattern_units(sizes.grain_in, units)
    members: dict[str, list[PatchSize]] = defaultdict(list)
    for patch in sizes.patches:
        members[patch.class_name].append(patch)
    order = sorted(members, key=lambda name: (-len(members[name]), name))
    named = [name for name in order if _has_own_row(members[name], len(sizes.patches))]
    if len(named) > most or len(named) < len(order):
        named = named[: most - 1]
    rest = [name for name in order if name not in named]
    rows = [_row([name], members[name], units, pattern) for name in named]
    if rest:
        odd = [p for name in rest for p in members[name]]
        rows.append(_row(rest, odd, units, pattern, gathered=True))
    return tuple(rows)


def _has_own_row(of_class: list[PatchSize], patches: int) -> bool:
    shape = of_class[0].shape
    if shape == "other" or not _stated(of_class):
        return False
    return shape in _PLAIN or len(of_class) >= max(_FEWEST_ODD, _SHARE_ODD * patches)


def _stated(of_class: list[PatchSize]) -> tuple[Shape, tuple[float, ...]]:
    """Return the commonest finished sides of a class; nothing where there are none."""
    sides = Counter(p.finished.size_in for p in of_class if p.finished.size_in)
    return (of_class[0].shape, sides.most_common(1)[0][0]) if sides else ("other", ())


def _row(
    names: list[str],
    patches: list[PatchSize],
    units: Units,
    pattern: Units,
    *,
    gathered: bool = False,
) -> Kind:
    verdicts = Counter(p.finished.verdict for p in patches)
    shape, sides = _stated(patches)
    one = len(patches) == 1
    name = shape if one else PLURALS[shape]
    if gathered:
        name = "other shape" if one else "other shapes"
    return Kind(
        name,
        "" if gathered else pattern_size(shape, sides, units, pattern),
        tuple(names),
        len(patches),
        verdicts["right"],
        verdicts["off"],
        verdicts["cannot tell"],
        float(np.median([p.finished.chance for p in patches])),
    )


def pattern_size(
    shape: Shape, sides_in: Sequence[float], units: Units, pattern: Units | None = None
) -> str:
    """Return a finished size in the numbers that a pattern gives for the shape, without unit.

    Two short sides for a half-square triangle, long side and height for a quarter-square one,
    the side of a hexagon, the radius of a quarter circle; of shapes that have no such numbers all
    sides in order.  A pattern in other units has its own numbers first: ``3 × 3 in (7.6 × 7.6
    cm)``.
    """
    return in_pattern(lambda u: _numbers(shape, sides_in, u), units, pattern or units)


def _numbers(shape: Shape, sides_in: Sequence[float], units: Units) -> str:
    def words(*values: float) -> str:
        return " × ".join(short_length(v, units) for v in values)

    low, high = min(sides_in), max(sides_in)
    if shape in ("square", "half-square triangle"):
        return words(low, low)
    if shape == "quarter-square triangle":
        return words(high, high / 2)
    if shape in ("rectangle", "kite"):
        return words(low, high)
    if shape == "diamond":
        return f"sides {words(low)}"
    if shape == "quarter circle":
        return f"{words(low)} radius"
    if shape == "hexagon" and high - low < 0.12 * high:
        return f"sides {words(float(np.mean(sides_in)))}"
    if shape == "parallelogram":
        return f"sides {words(low, high)}"
    sides = " · ".join(short_length(v, units) for v in sides_in)
    return f"{sides}, curved" if shape == "curved" else sides


def counted(sizes: Sizes) -> str:
    """Return how many patches are right, off and can't be told, in words."""
    verdicts = Counter(p.finished.verdict for p in sizes.patches)
    parts = [
        f"{verdicts['right']} right" if verdicts["right"] else "",
        f"{verdicts['off']} off" if verdicts["off"] else "",
        f"{verdicts['cannot tell']} can't tell" if verdicts["cannot tell"] else "",
    ]
    return ", ".join(p for p in parts if p)
