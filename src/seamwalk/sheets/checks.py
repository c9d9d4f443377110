"""What a person should check before trusting a measured top, worst first.

Every doubt becomes one question with a place: seams that were hardly seen, by whole seam lines;
patches whose shape speaks for a seam missed or too many; the outer edge where it is not sure.
What is wrong in all likelihood comes first, then what may well be, then the rest; within each,
what puts the most stitching at stake.  The picture, the terminal and the files for programs use
the same numbers.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from seamwalk.geometry.curve import Point
from seamwalk.geometry.polygon import inner_width
from seamwalk.model.sizes import PatchSize, Shape, Sizes
from seamwalk.model.top import Patch, PatchId, SeamId, Top
from seamwalk.sheets.doubtful_lines import DoubtfulLine, doubtful_lines, length_in
from seamwalk.sheets.kinds import PLURALS, pattern_size
from seamwalk.sheets.patch_doubts import PATCH_DOUBTS, PatchDoubt, patch_doubts
from seamwalk.sheets.seam_places import SeamPlaces, middle
from seamwalk.sheets.seam_style import SEAM_STYLE
from seamwalk.sheets.size_text import short_length
from seamwalk.units import Units, pattern_units

MOST_MARKS = 9
"""Checks that are marked on the picture and listed; more are only counted: a list of one figure
each is still read to its end."""

_ALMOST_SURELY_WRONG = 0.75
"""What is wrong three times in four comes before longer seams that may be right as well."""

_NUMBERS = {2: "two", 3: "three"}


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to look at.

    Attributes
    ----------
    number : int
        From 1, the worst.
    what : str
        What is in doubt: a question with its mark, or a phrase.
    where : str
        In the words of someone who looks at the top.
    sure : float or None
        How sure it is that the picture is right here, 0 to 1; None where that isn't estimated.
    at : Point
        Where to look, top frame, inches.
    seams, patches
        What is in question; empty where only the other is known.
    """

    number: int
    what: str
    where: str
    sure: float | None
    at: Point
    seams: tuple[SeamId, ...]
    patches: tuple[PatchId, ...]

    @property
    def sure_words(self) -> str:
        """Return like ``about 6 in 10 sure``; empty where that isn't estimated."""
        return "" if self.sure is None else sure_words(self.sure)

    @property
    def sentence(self) -> str:
        """Return the whole check in one line."""
        if self.sure is None:
            return f"{self.what} {self.where[:1].upper()}{self.where[1:]}."
        return f"{self.what}, {self.sure_words}: {self.where}."


def sure_words(sure: float) -> str:
    """Return a confidence as people say it, never rounded up to what it does not reach."""
    tenths = math.floor(10 * sure + 1e-9)
    return "less than 1 in 10 sure" if tenths < 1 else f"about {min(tenths, 9)} in 10 sure"


def checks(top: Top, sizes: Sizes, units: Units = "in") -> tuple[Check, ...]:
    """Return what to check, worst first and numbered from 1.

    Parameters
    ----------
    sizes : Sizes
        Sizes of the same top.
    units : {"in", "cm"}
        For lengths in the words.
    """
    words = _Words(top, sizes, units)
    found = [words.of_line(line) for line in doubtful_lines(top)]
    found += [words.of_patches(doubt) for doubt in patch_doubts(top, sizes)]
    found.sort(key=lambda f: (_rank(f.wrong), -f.at_stake_in, f.at))
    return tuple(
        Check(k, f.what, f.where, f.sure, f.at, f.seams, f.patches)
        for k, f in enumerate(found, start=1)
    )


def _rank(wrong: float) -> int:
    return 0 if wrong >= _ALMOST_SURELY_WRONG else 1 if wrong > 1 - SEAM_STYLE.likely else 2


def more_words(count: int) -> str:
    """Return what is said of checks that are not listed; empty for none."""
    left = count - MOST_MARKS
    if left <= 0:
        return ""
    return f"And {left} more that weigh less."


@dataclass(frozen=True, slots=True)
class _Found:
    """A check before its number."""

    wrong: float
    at_stake_in: float
    what: str
    where: str
    sure: float | None
    at: Point
    seams: tuple[SeamId, ...] = ()
    patches: tuple[PatchId, ...] = ()


class _Words:
    """Says things about one top."""

    def __init__(self, top: Top, sizes: Sizes, units: Units) -> None:
        self.top, self.units = top, units
        self.pattern = pattern_units(sizes.grain_in, units)
        self.places = SeamPlaces(top, units)
        self.patch: dict[PatchId, Patch] = {p.id: p for p in top.patches}
        self.size: dict[PatchId, PatchSize] = {s.patch: s for s in sizes.patches}
        self.of_class: dict[str, PatchSize] = {}
        for size in sizes.patches:
            if size.finished.size_in:
                self.of_class.setdefault(size.class_name, size)

    def of_line(self, line: DoubtfulLine) -> _Found:
        seam = line.look_at
        pieces = len(line.worst)
        name = "Outer edge" if seam.kind == "edge" else "Seam line" if pieces > 1 else "Seam"
        how = "faintly seen" if line.sureness == "likely" else "hardly seen"
        if line.inferred:
            how = "inferred, not seen"
        count = f" ({pieces} pieces)" if pieces > 1 else ""
        where = self.places.edge(seam) if seam.kind == "edge" else self.places.line(line)
        return _Found(
            1 - line.sure,
            line.wrong_in,
            f"{name}{count} {how}",
            where,
            line.sure,
            middle(seam),
            tuple(s.id for s in line.seams),
            tuple(
                dict.fromkeys(p for s in line.seams for p in (s.left, s.right) if p is not None)
            ),
        )

    def of_patches(self, doubt: PatchDoubt) -> _Found:
        first = doubt.patches[0]
        wrong = PATCH_DOUBTS.wrong_by(doubt.reason)
        pairs = 2 if doubt.reason in ("two make one", "off") else 1
        at_stake = wrong * doubt.length_in * len(doubt.patches) / pairs
        where = self.places.patch(first)
        if len(doubt.patches) > pairs:
            where = f"one is {where}"
        x, y = self.patch[first].polygon.representative_point().coords[0]
        seams = [s for s in self.top.seams if s.id in doubt.seams]
        at = (float(x), float(y))
        if seams and doubt.reason in ("two make one", "off"):
            at = middle(max(seams, key=lambda s: (length_in(s), -s.id)))
        return _Found(
            wrong, at_stake, self._what(doubt), where, None, at, doubt.seams, doubt.patches
        )

    def _what(self, doubt: PatchDoubt) -> str:
        first, *others = (self.size[p] for p in doubt.patches)
        if doubt.reason == "inward corner":
            return (
                f"{len(others) + 1} patches with an inward corner: is a seam missing in them?"
                if others
                else "Inward corner: is a seam missing?"
            )
        if doubt.reason == "as large as several":
            return f"As large as {self._kinds(doubt.like)}: is a seam missing?"
        if doubt.reason == "two make one":
            kind = self._kind(doubt.like[0], plural=False)
            return f"With its neighbour one {kind}: is there a seam between?"
        if doubt.reason == "sliver":
            width = inner_width(self.patch[first.patch].polygon)
            return f"Only {self._inches(width)} wide: is it a patch?"
        neighbour = f", its neighbour {self._off(others[0])}" if others else ""
        return f"{self._off(first)}{neighbour}: is the seam where it is drawn?"

    def _off(self, size: PatchSize) -> str:
        off = size.finished.off_in
        return f"{self._inches(abs(off))} too {'large' if off > 0 else 'small'}"

    def _inches(self, length: float) -> str:
        return f"{short_length(length, self.units)} {self.units}"

    def _kinds(self, like: tuple[str, ...]) -> str:
        if len(set(like)) == 1:
            return f"{_NUMBERS[len(like)]} {self._kind(like[0], plural=True)}"
        return " and ".join(self._kind(name, plural=False) for name in like)

    def _kind(self, class_name: str, *, plural: bool) -> str:
        size = self.of_class[class_name]
        shape: Shape = size.shape
        name = PLURALS[shape] if plural else shape
        sides = size.finished.size_in
        return f"{name} {pattern_size(shape, sides, self.units, self.pattern)}"


def listed(found: Sequence[Check]) -> tuple[Check, ...]:
    """Return the checks that are marked and listed, the worst ones."""
    return tuple(found[:MOST_MARKS])
