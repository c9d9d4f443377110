"""Gaps and density in words and as a picture."""

import math

import numpy as np
import pytest
from tests.motifs.tops import grid, sizes_of

from seamwalk.geometry.curve import Curve
from seamwalk.model.density import DensityMap, DensityReport, Evenness, RegionDensity
from seamwalk.model.gaps import Closing, EmptyCircle, GapPlace, GapReport
from seamwalk.model.route import Leg, Network, Piece, Route, Thread, Totals
from seamwalk.model.stitching import Stroke
from seamwalk.sheets.density_picture import density_picture
from seamwalk.sheets.hold_text import HoldWords, hold_lines
from seamwalk.sheets.palette import VERMILION, components, luminance

TOP = grid(3, 3, 6.0)
SIZES = sizes_of(TOP)
CIRCLE = EmptyCircle((9.25, 9.25), 2.125, 4)
CLOSING = Closing("square 6=outline spacing=1 1/2 in", 1.9)
EVEN = Evenness(1.0, 0.5, 1.5, 0.3)


def report_of(*places, assumed=False):
    return GapReport(2.0, CIRCLE, places, assumed)


def density_of(values, mean=1.9):
    found = DensityMap(np.asarray(values, dtype=float), (0.25, 0.25), 0.25, 6.0)
    regions = (
        RegionDensity("crosshatch", (0, 1, 2), 100.0, Evenness(2.0, 1, 3, 0.1)),
        RegionDensity("none", (3, 4), 100.0, Evenness(mean, 0, 0.2, 0.5)),
    )
    return DensityReport(found, EVEN, regions, regions, 1.0, (2, 2), (16, 16), 3.0)


def test_a_plan_that_holds_says_how_wide_the_widest_gap_is_and_where():
    (said,) = HoldWords(TOP, SIZES).gap_lines(report_of())
    assert said == (
        "No gap is too wide: the widest circle without a stitch is 4 1/4 in across, second from "
        "the left, second row, 9 1/4 in from the left, 9 1/4 in from the top; your batting "
        "stands 2 in."
    )


def test_a_gap_says_where_it_is_how_often_and_what_closes_it():
    place = GapPlace((CIRCLE, CIRCLE), "square 6", "arches", CLOSING)
    head, said = HoldWords(TOP, SIZES).gap_lines(report_of(place, assumed=True))
    # An assumption is told as one, not as what the batting stands (common practice, no source).
    assert "2 in is assumed for your batting" in head
    assert "your batting stands" not in head
    assert said.startswith("1. square 6 with arches, 2 patches: 4 1/4 in across, second from")
    assert said.endswith(
        "--motif “square 6=outline spacing=1 1/2 in” closes it: 1 7/8 in at most."
    )


def test_centimetres_are_converted():
    place = GapPlace((CIRCLE,), "square 6", "none")
    head, said = HoldWords(TOP, SIZES, "cm").gap_lines(report_of(place))
    # Nobody says 5.1 cm for 2 in (common practice, no source).
    assert head.endswith("your batting stands 5 cm:")
    assert "10.8 cm across" in said
    assert "23.5 cm from the left" in said
    assert "with nothing, 1 patch" in said
    assert said.endswith("Nothing that was tried closes it.")
    # A length over an area: 1 in/in² is 1/2.54 cm/cm².
    first, *_ = HoldWords(TOP, SIZES, "cm").density_lines(density_of(np.ones((72, 72))))
    assert first.startswith("0.39 cm of stitching on each square centimetre; nine tenths of the")
    assert "averaged over 15 cm. That is even enough." in first


def test_a_gap_just_inside_the_limit_is_told_with_the_exact_limit():
    # 2 in are 5.08 cm: a gap of 5.05 cm holds, and "5 cm" beside it would deny that (arithmetic).
    report = GapReport(2.0, EmptyCircle((9.25, 9.25), 5.05 / 2.54 / 2, 4), (), False)
    (said,) = HoldWords(TOP, SIZES, "cm").gap_lines(report)
    assert said.endswith("your batting stands 5.1 cm.")


def test_many_places_are_counted():
    places = [GapPlace((CIRCLE,), f"square {k}", "ditch") for k in range(7)]
    said = HoldWords(TOP, SIZES).gap_lines(report_of(*places))
    assert len(said) == 7
    assert said[-1] == "And 2 more patches, less wide."


@pytest.mark.parametrize(("mean", "words"), [(0.5, "4.0 times"), (0.0, "more than 20")])
def test_lopsided_stitching_gets_an_advice(mean, words):
    *_, said = HoldWords(TOP, SIZES).density_lines(density_of(np.ones((72, 72)), mean))
    assert said.startswith("Lopsided: the stitching is " + words)
    assert "squares (crosshatch)" in said
    assert "squares (nothing)" in said
    assert len(HoldWords(TOP, SIZES).density_lines(density_of(np.ones((72, 72))))) == 2


def test_what_was_not_judged_says_nothing():
    assert hold_lines(TOP, SIZES, None, None) == ([], [])


def route_of(curve):
    stroke = Stroke("s", curve, "motif", True)
    piece = Piece("e", "u", "v", curve, stroke)
    network = Network({"u": curve.start, "v": curve.end}, {"e": piece})
    totals = Totals(1, 0, 0, 1.0, 0, 0, 0, 0, 0, {}, 1.0, 1)
    return Route(network, (Thread((Leg("e", False, 1),)),), totals)


def test_the_picture_is_light_where_stitching_is_dense_and_shows_the_gap():
    x = np.linspace(0.2, 2.0, 72)
    route = route_of(Curve.through([(1, 1), (1, 2)]))
    place = GapPlace((CIRCLE,), "square 6", "none")
    shown = density_picture(TOP, route, density_of(np.tile(x, (72, 1))), report_of(place))
    left, right = (
        np.median(shown[800:840, a:b].reshape(-1, 3), axis=0) for a, b in ((60, 200), (1600, 1750))
    )

    def light(rgb):
        return luminance("#" + "".join(f"{int(v):02X}" for v in rgb))

    assert light(right) > 3 * light(left)
    # The circle's ring, about as long as its circumference.
    px_per_in = 1800 / 18.5
    ring = (np.abs(shown.astype(int) - components(VERMILION)).max(axis=2) < 12).sum()
    long_px = 2 * math.pi * CIRCLE.radius_in * px_per_in
    assert 3 * long_px < ring < 8 * long_px
    assert (
        density_picture(TOP, route, density_of(np.ones((72, 72))), report_of()).shape
        == shown.shape
    )
