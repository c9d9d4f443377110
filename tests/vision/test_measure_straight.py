from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon
from tests.vision.drawn_tops import straight_down
from tests.vision.exact_tops import by_homography, exact_top, jolted, sheared, squares

from seamwalk.model.picture import View
from seamwalk.vision.measure_doubt import Doubt
from seamwalk.vision.measure_straight import straightness

GRID = exact_top(squares(16, 12, 3.0))


def judged(top, camera=None):
    return straightness(top, Doubt(top, camera or straight_down(centre=(18, 24)), 0.01))


@pytest.mark.parametrize("skew", [-1.0, 0.5, 2.0])
def test_skew_is_the_upper_left_angle_beyond_90_degrees(skew):
    found = judged(sheared(GRID, skew_deg=skew))
    assert found.skew.value_deg == pytest.approx(skew, abs=0.002)
    assert found.taper_across.value_deg == pytest.approx(0, abs=1e-6)
    assert found.verdict == "not square"


@pytest.mark.parametrize("taper", [-1.0, 0.5])
def test_taper_is_the_angle_between_opposite_edges(taper):
    found = judged(sheared(GRID, taper_deg=taper))
    assert found.taper_across.value_deg == pytest.approx(taper, abs=0.002)
    assert found.skew.value_deg == pytest.approx(0, abs=0.002)
    assert found.verdict == "not square"
    turned = sheared(GRID, taper_deg=taper).mapped(lambda p: p[:, ::-1].copy())
    assert judged(turned).taper_down.value_deg == pytest.approx(taper, abs=0.002)


def test_turning_the_whole_top_changes_nothing():
    top = sheared(GRID, skew_deg=0.7, taper_deg=0.4)
    a = np.radians(1.5)
    turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    one, two = judged(top), judged(by_homography(top, turn))
    for name in ("skew", "taper_across", "taper_down"):
        assert getattr(two, name).value_deg == pytest.approx(
            getattr(one, name).value_deg, abs=0.01
        )


@pytest.mark.parametrize("edge", range(4))
def test_a_bow_is_its_rise_outwards(edge):
    # A parabola's greatest distance from its chord is its rise.
    x0, y0, x1, y1 = GRID.outline.bounds
    axis, at, sign = [(0, y0, -1), (1, x1, 1), (0, y1, 1), (1, x0, -1)][edge]
    length = (x1 - x0, y1 - y0)[axis]

    def bow(p):
        t = p[:, axis] / length
        out = p.copy()
        out[:, 1 - axis] += np.where(p[:, 1 - axis] == at, sign * 0.5 * 4 * t * (1 - t), 0)
        return out

    found = judged(GRID.mapped(bow))
    assert found.bows[edge].value_in == pytest.approx(0.5, abs=0.01)
    assert [b.value_in for k, b in enumerate(found.bows) if k != edge] == pytest.approx([0] * 3)
    assert found.waves[edge].value_in == pytest.approx(0, abs=0.02)
    assert found.verdict == "not square"


def test_a_wave_is_no_bow():
    def wavy(p):
        out = p.copy()
        out[:, 1] += np.where(p[:, 1] == 48, 0.3 * np.sin(2 * np.pi * p[:, 0] / 12), 0)
        return out

    found = judged(GRID.mapped(wavy))
    assert found.waves[2].value_in > 0.2
    assert abs(found.bows[2].value_in) < found.bows[2].plus_minus_in
    assert found.waves[0].value_in == pytest.approx(0, abs=1e-9)


def test_a_well_made_top_seen_well_is_square():
    assert judged(GRID).verdict == "square"


def test_one_junction_out_of_place_is_no_skew():
    (x, y) = GRID.junctions[40].xy

    def move(p):
        return np.where((p == (x, y)).all(axis=1)[:, None], p + 0.5, p)

    assert abs(judged(GRID.mapped(move)).skew.value_deg) < 0.02


def test_piecing_is_seldom_called_skew_and_skew_never_square():
    # Junctions off by 1/24 in, hasty piecing (common practice, no source); 1° and 1/4 in over
    # the length are what must be noticed.
    rng = np.random.default_rng(0)
    quarter = float(np.degrees(0.3 / 48))
    straight, leaning, tapering = [], [], []
    for _ in range(25):
        straight.append(judged(jolted(GRID, 1 / 24, rng)).verdict)
        leaning.append(judged(jolted(sheared(GRID, skew_deg=quarter), 1 / 24, rng)).verdict)
        tapering.append(judged(jolted(sheared(GRID, taper_deg=1.0), 1 / 24, rng)).verdict)
    assert straight.count("not square") <= 3
    assert straight.count("square") >= 12
    assert "square" not in leaning
    assert set(tapering) == {"not square"}


def test_a_top_without_four_corners_is_neither_square_nor_not():
    turn = np.arange(6) * np.pi / 3
    hexagon = Polygon(20 + 18 * np.column_stack([np.cos(turn), np.sin(turn)]))
    assert judged(exact_top([hexagon])) is None


def test_a_top_set_on_point_to_the_edge_is_judged_by_its_corners():
    # No seam runs along an axis, so only the corners tell.
    leaning = sheared(exact_top(squares(8, 8, 4.0)), skew_deg=1.0)
    a = np.pi / 4
    turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    found = judged(by_homography(leaning, turn))
    assert abs(found.skew.value_deg) == pytest.approx(1.0, abs=0.01)


def test_a_camera_that_cannot_tell_tilt_from_taper_says_so():
    # 1° of taper looks like about 1.3° of tilt: a mode that tapers by as much takes it away.
    view = straight_down(centre=(18, 24)).view
    keystone = np.array([[1, 0, 0], [0, 1, 0], [0, 1.0 / 36 * np.radians(1.0), 1.0]])
    unsure = straight_down(centre=(18, 24), modes=(View(view.lens, keystone @ view.top_from_ray),))
    tapered = sheared(GRID, taper_deg=1.0)
    assert judged(tapered).verdict == "not square"
    assert judged(tapered, unsure).verdict == "cannot tell"
    assert judged(GRID, unsure).verdict == "cannot tell"
    assert judged(GRID, unsure).taper_across.plus_minus_deg > 1.0


def test_stated_limits_hold_the_truth():
    # The camera is drawn from its own modes and junctions from their σ: 95 % of the figures lie
    # within their ±, by the binomial law never fewer than 88 in 100 or so.
    rng = np.random.default_rng(3)
    view = straight_down(centre=(18, 24)).view
    ways = [
        np.array([[1, 0.004, 0], [0, 1, 0], [0, 0, 1]]),
        np.array([[1, 0, 0], [0, 1, 0], [6e-5, 1.2e-4, 1]]),
    ]
    camera = straight_down(
        centre=(18, 24), modes=tuple(View(view.lens, w @ view.top_from_ray) for w in ways)
    )
    inside = []
    for _ in range(60):
        z = rng.normal(size=2)
        wrong = np.eye(3) + sum(k * (w - np.eye(3)) for k, w in zip(z, ways, strict=True))
        top = by_homography(sheared(GRID, skew_deg=0.5), wrong)
        top = jolted(top, 0.03, rng)
        known = tuple(replace(j, sigma_in=0.03) for j in top.junctions)
        found = judged(replace(top, junctions=known), camera)
        inside.append(abs(found.skew.value_deg - 0.5) <= found.skew.plus_minus_deg)
        inside.append(abs(found.taper_across.value_deg) <= found.taper_across.plus_minus_deg)
        inside.append(abs(found.taper_down.value_deg) <= found.taper_down.plus_minus_deg)
    assert 0.90 <= np.mean(inside) <= 0.995
