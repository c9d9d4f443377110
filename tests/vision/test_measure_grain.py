"""Inch patterns measured in centimetres and the other way round.

Made tops whose sizes are exact, or scattered as the settings say; 1 in is 2.54 cm exactly.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from shapely import affinity
from tests.vision.drawn_tops import straight_down
from tests.vision.exact_tops import exact_top, squares

from seamwalk.units import pattern_units
from seamwalk.vision.measure import measure
from seamwalk.vision.measure_classes import Kind, KindSize
from seamwalk.vision.measure_doubt import DoubtSettings
from seamwalk.vision.measure_grain import GrainSettings, grain_of

FLAT = DoubtSettings(bump_in=0.0)
EIGHTH, HALF_CM = 0.125, 0.5 / 2.54


def kinds_of(*dims_in, members=40, off_in=0.0, own_in=0.003, scale=0.001):
    """Return what is measured of kinds, all off by `off_in`; the last error is the maker's."""
    out = []
    for size in dims_in:
        d = np.atleast_1d(np.asarray(size, dtype=float))
        places = tuple(range(members))
        kind = Kind("square" if len(d) == 1 else "rectangle", places, places)
        shared = np.column_stack([scale * d, np.full(len(d), 0.025)])
        out.append(KindSize(kind, d + off_in, np.full(len(d), own_in**2), shared))
    return out


def logs(width_in, *lengths):
    return kinds_of(width_in, *((width_in, n * width_in) for n in lengths))


@pytest.mark.parametrize("units", ["in", "cm"])
@pytest.mark.parametrize(("width_in", "pattern"), [(1.5, "in"), (4 / 2.54, "cm")])
def test_many_sizes_tell_what_the_pattern_is_in(width_in, pattern, units):
    # 3.81, 7.62, 11.43 … cm lie on no grain of 5 mm, 4, 8, 12 … cm on no eighths.
    found = grain_of(logs(width_in, 2, 3, 4, 5), units)
    assert found.units == pattern
    assert found.grain_in == pytest.approx(EIGHTH if pattern == "in" else HALF_CM)
    assert found.chance > 0.95
    assert found.other_in == pytest.approx(HALF_CM if pattern == "in" else EIGHTH)


@pytest.mark.parametrize("units", ["in", "cm"])
def test_what_fits_both_stays_in_her_units(units):
    # 2 in are 5.08 cm: seams a thread narrower make the one from the other.
    assert grain_of(kinds_of(2.0), units).units == units
    assert grain_of(kinds_of(5 / 2.54), units).units == units
    # 5 in are 12.7 cm, and a scale that is unsure by 3 % tells neither.
    assert grain_of(kinds_of(5.0, scale=0.03), units).units == units
    assert grain_of([], units).units == units


def test_one_common_error_is_no_crowd_of_witnesses():
    # Ten kinds of 10 cm, all 1 mm large: the maker's seams, seen ten times over.
    once = grain_of(kinds_of(10 / 2.54, off_in=0.04), "cm")
    again = grain_of(kinds_of(*[10 / 2.54] * 10, off_in=0.04), "cm")
    assert once.units == again.units == "cm"
    assert again.chance == pytest.approx(once.chance, abs=0.05)


def test_few_patches_and_odd_shapes_do_not_tell():
    few = kinds_of(*[(1.5, n) for n in (3.0, 4.5, 6.0, 7.5)], members=GrainSettings().fewest - 1)
    assert grain_of(few, "cm").units == "cm"
    odd = [replace(k, kind=replace(k.kind, shape="trapezoid")) for k in kinds_of((1.5, 4.5))]
    assert grain_of(odd, "cm").chance == pytest.approx(1 - GrainSettings().inch_patterns)


@pytest.mark.parametrize("grain_in", [EIGHTH, 0.25, HALF_CM, 1 / 10, 0.3])
def test_what_is_given_counts(grain_in):
    found = grain_of(logs(1.5, 2, 3, 4, 5), "cm", grain_in)
    assert (found.grain_in, found.chance, found.other_in) == (grain_in, 1.0, None)
    assert found.units == pattern_units(grain_in, "cm")


@pytest.mark.parametrize(
    ("grain_in", "units", "pattern"),
    [
        (EIGHTH, "cm", "in"),
        (3 / 8, "cm", "in"),
        (0.1, "cm", "in"),
        (HALF_CM, "in", "cm"),
        (0.3 / 2.54, "in", "cm"),
        (0.3, "in", "in"),
        (0.3, "cm", "cm"),
    ],
)
def test_the_grain_tells_the_units_of_the_pattern(grain_in, units, pattern):
    assert pattern_units(grain_in, units) == pattern


def test_chances_are_kept():
    # By simulation with the errors that the settings name: of the grains said with a chance c,
    # the share c is right.  Sizes are drawn as common as the settings say.
    rng = np.random.default_rng(5)
    inches = np.arange(12, 49) / 8
    often_in = np.select([inches % 1 == 0, inches % 0.5 == 0, inches % 0.25 == 0], [1, 0.6, 0.3])
    often_in[often_in == 0] = 0.12
    cm = np.arange(8, 32) / 2
    often_cm = np.where(cm % 1 == 0, 1, 0.6)
    said, right = [], []
    for _ in range(300):
        metric = rng.random() < 0.5
        values, often = (cm / 2.54, often_cm) if metric else (inches, often_in)
        sizes = rng.choice(values, size=rng.integers(1, 4), p=often / often.sum(), replace=False)
        off, own = rng.normal(0, 0.025), 1 / 64
        found = kinds_of(*[v + rng.normal(0, own) for v in sizes], off_in=off, own_in=1e-4)
        grain = grain_of(found, "cm")
        said.append(grain.chance if grain.units == "cm" else 1 - grain.chance)
        right.append(metric)
    said, right = np.array(said), np.array(right)
    for low in (0.0, 0.3, 0.7):
        group = (said >= low) & (said <= low + 0.4)
        n, p = int(group.sum()), said[group].mean()
        assert n > 20
        # Three standard deviations of a binomial share, and the share said to be on no grain.
        assert abs(right[group].mean() - p) < 3 * np.sqrt(p * (1 - p) / n) + 0.05


def rows_of(width_in):
    """Return a top of strips 2, 3 and 4 widths long, each length in columns of its own."""
    polygons, x = [], 0.0
    for times in (2, 3, 4):
        part = squares(10, 3, width_in, times * width_in)
        polygons += [affinity.translate(p, x, 0) for p in part]
        x += 3 * times * width_in
    return exact_top(polygons)


def test_an_inch_pattern_in_centimetres_keeps_its_sizes():
    top = rows_of(1.5)
    sizes = measure(top, straight_down(), units="cm", settings=FLAT)
    assert sizes.grain_in == EIGHTH
    assert {p.class_name for p in sizes.patches} == {
        "rectangle 1 1/2 x 3 in",
        "rectangle 1 1/2 x 4 1/2 in",
        "rectangle 1 1/2 x 6 in",
    }
    assert {p.finished.verdict for p in sizes.patches} == {"right"}
    assert re.fullmatch(
        r"The sizes fit a pattern in inches \(1 1/2 × 3 in, not (3\.5|4) × 7\.5 cm\); "
        r"give --grain 5mm if yours is metric\.",
        sizes.advice[0],
    )
    told = " ".join(sizes.advice)
    assert "re-sew" not in told
    assert "your seams take" not in told
    # In inches nothing has to be said.
    plain = measure(top, straight_down(), units="in", settings=FLAT)
    assert not any("pattern" in text for text in plain.advice)
    assert plain.patches[0].class_name == "rectangle 1 1/2 x 3"


def test_a_metric_pattern_in_inches_keeps_its_sizes():
    sizes = measure(rows_of(4 / 2.54), straight_down(), units="in", settings=FLAT)
    assert sizes.grain_in == pytest.approx(HALF_CM)
    assert sizes.patches[0].class_name == "rectangle 4 x 8 cm"
    assert re.fullmatch(
        r"The sizes fit a pattern in centimetres \(4 × 8 cm, not 1 \d/\d × 3 1/8 in\); "
        r"give --grain 1/8in if yours is in inches\.",
        sizes.advice[0],
    )


def test_a_grain_that_was_given_wins_and_nothing_is_said():
    sizes = measure(rows_of(1.5), straight_down(), units="cm", grain_in=HALF_CM, settings=FLAT)
    assert sizes.grain_in == HALF_CM
    assert sizes.patches[0].class_name.endswith(" x 7.5 cm")
    assert not any("pattern" in text for text in sizes.advice)


def test_advice_waits_where_either_pattern_may_be_meant():
    # 7.56 cm squares: 3 in sewn 0.6 mm small, or 7.5 cm sewn 0.6 mm large.
    top = exact_top(squares(10, 10, 7.56 / 2.54))
    sizes = measure(top, straight_down(), units="cm", settings=FLAT)
    assert sizes.patches[0].class_name == "square 7.5 cm"
    assert not any("your seams take" in text for text in sizes.advice)
    # Half way and a little more, three inches are the likelier: common practice, whole inches.
    nearer = measure(
        exact_top(squares(10, 10, 7.57 / 2.54)), straight_down(), units="cm", settings=FLAT
    )
    assert (
        "The sizes fit a pattern in inches as well (3 in for 7.5 cm); give --grain 1/8in if yours "
        "is in inches."
    ) in nearer.advice


def test_off_only_where_it_is_off_from_both_sizes():
    # 10.1 cm are 1 mm more than 10 cm and 0.6 mm less than 4 in; either may be meant.
    top = exact_top(squares(9, 9, 10.1 / 2.54), sigma_in=0.001)
    how = {"units": "cm", "tolerance_in": 0.03, "settings": FLAT}
    open_ = measure(top, straight_down(), **how)
    assert open_.patches[0].class_name == "square 10 cm"
    assert {p.finished.verdict for p in open_.patches} == {"cannot tell"}
    assert not any("off by more than" in text for text in open_.advice)
    given = measure(top, straight_down(), grain_in=HALF_CM, **how)
    assert {p.finished.verdict for p in given.patches} == {"off"}
