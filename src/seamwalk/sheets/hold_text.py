"""Whether the stitching holds the batting, and how evenly it lies, in sentences."""

import math

from seamwalk.geometry.curve import Point
from seamwalk.model.density import DensityReport, RegionDensity
from seamwalk.model.gaps import EmptyCircle, GapPlace, GapReport
from seamwalk.model.places import Places
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import Top
from seamwalk.sheets.kinds import PLURALS
from seamwalk.sheets.size_text import short_length
from seamwalk.units import Units, format_length, from_inches

PLACES_TOLD = 5
"""Places with gaps that are told: as many as closings are sought for."""

REGIONS_TOLD = 6
"""Motifs whose density is told, half of them the densest, half the sparsest."""

HARDLY = 20.0
"""So many times less stitching is hardly any."""

SQUARE: dict[Units, str] = {"in": "inch", "cm": "centimetre"}

TIE = 1e-6
"""In half centimetres: rounding must not take one off what was given in centimetres."""


def hold_lines(
    top: Top,
    sizes: Sizes,
    gaps: GapReport | None,
    density: DensityReport | None,
    units: Units = "in",
) -> tuple[list[str], list[str]]:
    """Return the sentences on gaps and those on density, none on what was not judged."""
    words = HoldWords(top, sizes, units)
    return (
        [] if gaps is None else words.gap_lines(gaps),
        [] if density is None else words.density_lines(density),
    )


class HoldWords:
    """Sentences about the gaps and the density of one top."""

    def __init__(self, top: Top, sizes: Sizes, units: Units = "in") -> None:
        self.units = units
        self.places = Places(top)
        self.index = {p.id: k for k, p in enumerate(top.patches)}
        self.left, self.upper, *_ = top.outline.bounds
        self.shapes = {s.patch: s.shape for s in sizes.patches}

    def gap_lines(self, report: GapReport) -> list[str]:
        """Return the widest gap and the limit, then every kind of place that is too wide."""
        stands = self._stands(report)
        if report.holds:
            widest = f"{self._across(report.largest)}, {self._where(report.largest)}"
            return [
                f"No gap is too wide: the widest circle without a stitch is {widest}; {stands}."
            ]
        out = [f"Circles without a stitch are too wide here, the widest first; {stands}:"]
        told = report.places[:PLACES_TOLD]
        said: set[str] = set()
        for k, place in enumerate(told, start=1):
            out.append(f"{k}. {self._place(place, said)}")
        left = sum(len(p.circles) for p in report.places[PLACES_TOLD:])
        if left:
            out.append(f"And {left} more patches, less wide.")
        return out

    def _stands(self, report: GapReport) -> str:
        """Return what the batting stands, and where that is known from."""
        limit = self._plain(report.limit_in)
        if report.holds and self._plain(report.largest.across_in) == limit:
            # Beside a gap that is nearly as wide the round measure would seem too small.
            limit = format_length(report.limit_in, self.units)
        if not report.assumed:
            return f"your batting stands {limit}"
        return (
            f"{limit} is assumed for your batting, the narrowest that makers state: name yours "
            "in the settings"
        )

    def _plain(self, value_in: float) -> str:
        """Return a round measure as one says it: 2 in are 5 cm, never a millimetre more."""
        if self.units == "in":
            return format_length(value_in, self.units)
        return f"{math.floor(2 * from_inches(value_in, 'cm') + TIE) / 2:g} cm"

    def density_lines(self, report: DensityReport) -> list[str]:
        """Return how dense the stitching is, by motif too, and what to do if it is lopsided."""
        whole = report.whole
        spread = f"{self._number(whole.sparse)} to {self._number(whole.dense)}"
        mean = f"{self._number(whole.mean)} {self.units}"
        out = [
            f"{mean} of stitching on each square {SQUARE[self.units]}; "
            f"nine tenths of the top have {spread}, averaged over "
            f"{self._plain(report.map.across_in)}."
        ]
        if len(report.regions) > 1:
            told = list(report.regions)
            if len(told) > REGIONS_TOLD:
                told = told[: REGIONS_TOLD // 2] + told[-REGIONS_TOLD // 2 :]
            each = (f"{self.region(r)} {self._number(r.evenness.mean)}" for r in told)
            out.append(f"By motif: {'; '.join(each)}.")
        if not report.lopsided:
            out[0] += " That is even enough."
            return out
        return [*out, self._advice(report)]

    def region(self, region: RegionDensity) -> str:
        """Return like ``rectangles (lines)``."""
        shapes = dict.fromkeys(self.shapes[p] for p in region.patches if p in self.shapes)
        where = [PLURALS[s] for s in shapes]
        if len(where) > 2:
            where = [*where[:2], "others"]
        return f"{' and '.join(where)} ({_motif(region.motif)})"

    def _advice(self, report: DensityReport) -> str:
        """Return why lopsided stitching matters, and what to do."""
        if report.extremes and report.between_regions >= report.between_ends:
            times = report.between_regions
            dense, sparse = (f"in {self.region(r)}" for r in report.extremes)
        else:
            times = report.between_ends
            dense, sparse = self._at(report.densest), self._at(report.sparsest)
        often = f"{times:.1f} times" if times < HARDLY else f"more than {HARDLY:g} times"
        return (
            f"Lopsided: the stitching is {often} as dense {dense} as it is {sparse}. It draws the "
            "top in where it is dense, and what is sparse ripples: bring lines closer together "
            "there, or leave some out in the dense part."
        )

    def _place(self, place: GapPlace, said: set[str]) -> str:
        """Return one kind of place, and what closes it; `said` are the wishes named before."""
        count = len(place.circles)
        patches = "1 patch" if count == 1 else f"{count} patches"
        out = (
            f"{place.class_name} with {_motif(place.motif)}, {patches}: "
            f"{self._across(place.largest)}, {self._where(place.largest)}."
        )
        if place.closing is None:
            return f"{out} Nothing that was tried closes it."
        left = format_length(place.closing.left_in, self.units)
        wish = place.closing.wish
        if wish in said:
            return f"{out} {wish} closes it too: {left} at most."
        said.add(wish)
        return f"{out} --motif “{wish}” closes it: {left} at most."

    def _across(self, circle: EmptyCircle) -> str:
        return f"{format_length(circle.across_in, self.units)} across"

    def _where(self, circle: EmptyCircle) -> str:
        words = self.places.words(self.index[circle.patch])
        return f"{words}, {self._at(circle.centre)}"

    def _at(self, place: Point) -> str:
        """Return like ``10 1/4 in from the left, 3 in from the top``."""
        x, y = (
            f"{short_length(v, self.units)} {self.units}"
            for v in (place[0] - self.left, place[1] - self.upper)
        )
        return f"{x} from the left, {y} from the top"

    def _number(self, density: float) -> str:
        """Return inches on the square inch, or centimetres on the square centimetre."""
        # A length over an area is one over a length.
        value = density if self.units == "in" else density / from_inches(1.0, "cm")
        return f"{value:.2f}"


def _motif(name: str) -> str:
    return "nothing" if name == "none" else name
