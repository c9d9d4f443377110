"""Curved seams as arcs, from drawn label maps.

Geometry by hand: quarter circles of known centre and radius; chord c = r·√2, rise
h = r·(1 − 1/√2), 2 r = c²/(4 h) + h (sagitta formula, textbook); V − E + F = 1.
"""

import math

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from tests.vision.drawn_tops import assert_tiles, draw, flat, grid, pinwheels, straight_down

from seamwalk.model.picture import Partition
from seamwalk.model.top import Top
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.sewing import SewingSettings
from seamwalk.scenes.tops import make_top
from seamwalk.vision.measure import measure
from seamwalk.vision.piecing import trace

PPI = 16.0


def traced(polygons, **how):
    labels, origin = draw(polygons, PPI, **how)
    return trace(Partition(labels), flat(labels, PPI, origin), None)


def quarter(radius_px, side_px=180, jagged_px=0.0, seed=0):
    """Return the labels of a square whose upper left corner is a quarter circle."""
    n = side_px + 20
    rows, cols = np.mgrid[:n, :n]
    labels = np.zeros((n, n), np.int32)
    labels[10 : n - 10, 10 : n - 10] = 1
    noise = np.random.default_rng(seed).normal(0, 1, (n, n))
    noise = gaussian_filter(noise, 2.0)
    noise *= jagged_px / noise.std()
    labels[(np.hypot(rows - 9.5, cols - 9.5) + noise < radius_px) & (labels > 0)] = 2
    return labels


@pytest.mark.parametrize("jagged_px", [0.0, 0.4])
@pytest.mark.parametrize("radius_px", [28, 64, 140])
def test_a_quarter_circle_is_one_arc(radius_px, jagged_px):
    labels = quarter(radius_px, jagged_px=jagged_px)
    top = trace(Partition(labels), flat(labels, PPI), None)
    assert_tiles(top)
    assert len(top.junctions) - len(top.seams) + len(top.patches) == 1
    (seam,) = [s for s in top.seams if s.kind == "seam"]
    (arc,) = seam.curve.pieces
    # dr = 1.2 dc − 2.4 dh for a quarter circle: half a pixel of the chord, the noise of the rise
    # over some ten independent stretches and of the ends, three σ.
    assert arc.radius * PPI == pytest.approx(radius_px, abs=1.0 + 4 * jagged_px)
    assert abs(math.degrees(seam.sweep_rad)) == pytest.approx(90, abs=60 / radius_px * 2 + 2)
    chord, rise = math.dist(*seam.points[:: len(seam.points) - 1]), arc.rise
    assert 2 * arc.radius == pytest.approx(chord**2 / (4 * rise) + rise)
    assert np.hypot(*(np.array(seam.points) - arc.centre).T) == pytest.approx(arc.radius)
    # A quarter circle's area, chords of 5.5° losing a share of 5.5°²/6 of it.
    inner = min(top.patches, key=lambda p: p.polygon.area) if radius_px < 120 else None
    if inner is not None:
        want = math.pi * (radius_px / PPI) ** 2 / 4
        assert inner.polygon.area == pytest.approx(want, rel=2.5 / radius_px + 0.002)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("design", [grid, pinwheels])
def test_straight_seams_stay_straight_however_jagged(design, seed):
    polygons = design(5, 6, 3.0, np.random.default_rng(seed), 1 / 16)
    top = traced(polygons, jagged_px=1.2)
    assert not any(s.sweep_rad for s in top.seams)


@pytest.mark.parametrize("bow_in", [0.05, 0.1, 0.15])
def test_puckered_seams_stay_straight(bow_in):
    """Cloth raised by 1/4 in and seen at 30° moves a seam by 1/4 in · tan 30° = 0.14 in."""
    polygons = grid(4, 5, 5.0)
    labels, origin = draw(polygons, PPI, jagged_px=0.6)
    rows, cols = np.mgrid[: labels.shape[0], : labels.shape[1]]
    wave = bow_in * PPI * np.sin(np.pi * cols / (5.0 * PPI)) * np.sin(np.pi * rows / (5.0 * PPI))
    from scipy.ndimage import map_coordinates

    moved = map_coordinates(labels, [rows + wave, cols + wave], order=0, mode="nearest")
    top = trace(Partition(moved.astype(np.int32)), flat(moved, PPI, origin), None)
    assert not any(s.sweep_rad for s in top.seams)


@pytest.mark.parametrize("arm_in", [0.9, 1.2, 2.0, 4.0])
def test_a_corner_rounded_by_the_label_map_stays_a_corner(arm_in):
    n, a = 200, int(arm_in * PPI)
    labels = np.zeros((n, n), np.int32)
    labels[10:190, 10:190] = 1
    square = np.zeros((n, n))
    square[10 : 10 + a, 10 : 10 + a] = 1
    inside = labels > 0
    # Blurred with σ = 0.15 in, as between two basins, within the top.
    share = gaussian_filter(square * inside, 2.4) / np.maximum(
        gaussian_filter(inside * 1.0, 2.4), 1e-9
    )
    labels[(share > 0.5) & inside] = 2
    top = trace(Partition(labels), flat(labels, PPI), None)
    assert not any(s.sweep_rad for s in top.seams)


def test_a_winding_seam_is_two_arcs_that_meet_smoothly():
    """Two quarter circles of radius 60 px, the second turning the other way (geometry)."""
    rows, cols = np.mgrid[:260, :200].astype(float)
    labels = np.zeros((260, 200), np.int32)
    labels[20:240, 20:180] = 1
    # From (20, 70) round (80, 70)… down to (80, 130), and on round (80, 190) to (140, 190).
    border = np.where(
        cols < 80, 70 + np.sqrt(np.maximum(60.0**2 - (80 - cols - 0.5) ** 2, 0)), np.nan
    )
    above = np.where(
        cols < 79.5,
        rows + 0.5 < border,
        (rows + 0.5 < 190) & (np.hypot(cols + 0.5 - 80, rows + 0.5 - 190) > 60),
    )
    above = np.where(cols > 139.5, rows + 0.5 < 190, above)
    labels[above & (labels > 0)] = 2
    top = trace(Partition(labels), flat(labels, PPI), None)
    assert_tiles(top)
    arcs = [s for s in top.seams if s.sweep_rad]
    assert len(arcs) == 2
    one, two = (s.curve.pieces[0] for s in arcs)
    assert one.sweep_rad * two.sweep_rad < 0
    assert one.radius * PPI == pytest.approx(60, abs=5)
    assert two.radius * PPI == pytest.approx(60, abs=5)
    assert len(top.junctions) - len(top.seams) + len(top.patches) == 1


def drawn_units(jagged_px=0.4) -> tuple[Top, Top]:
    """Return the top drawn, a small one in quarter-circle units, and the top traced from it."""
    true = make_top(
        "drunkards path",
        Layout(2, 2, 8.0),
        border_in=2.0,
        sewing=SewingSettings(sigma_in=1 / 32),
        seed=4,
    )
    return true, traced([p.polygon for p in true.patches], jagged_px=jagged_px)


def test_every_arc_of_a_top_and_no_other_seam():
    true, top = drawn_units()
    assert_tiles(top)
    assert len(top.patches) == len(true.patches)
    assert len(top.junctions) - len(top.seams) + len(top.patches) == 1
    wanted = [s for s in true.seams if s.sweep_rad]
    found = [s for s in top.seams if s.sweep_rad]
    assert len(found) == len(wanted) == 16
    shift = np.array(top.outline.bounds[:2]) - true.outline.bounds[:2]
    off = []
    middles = np.array([s.curve.pieces[0].at(0.5) for s in wanted]) + shift
    for seam in found:
        (arc,) = seam.curve.pieces
        near = np.hypot(*(middles - arc.at(0.5)).T)
        assert near.min() < 0.2
        (model,) = wanted[int(near.argmin())].curve.pieces
        # dr = 1.2 dc − 2.4 dh: σ of chord and rise 0.6 px make 0.1 in, three of it.
        assert arc.radius == pytest.approx(model.radius, abs=0.3)
        off.append(arc.radius - model.radius)
    assert np.median(np.abs(off)) < 0.1
    for seam in found:
        for patch in (seam.left, seam.right):
            ring = set(next(p for p in top.patches if p.id == patch).polygon.exterior.coords)
            assert set(seam.points) <= ring


def test_moving_a_top_keeps_its_arcs_exact():
    true, _ = drawn_units()
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]]) * 1.5
    moved = true.mapped(lambda p: p @ turn + [3.0, -2.0])
    for old, new in zip(true.seams, moved.seams, strict=True):
        assert new.sweep_rad == pytest.approx(old.sweep_rad, abs=1e-9)
        if old.sweep_rad:
            assert new.curve.pieces[0].radius == pytest.approx(1.5 * old.curve.pieces[0].radius)
    # A camera that leans makes an ellipse of a circle; the arc is then the nearest one.
    leaning = true.mapped(lambda p: p / (1 + 0.002 * p[:, :1]))
    assert_tiles(leaning)
    for seam in leaning.seams:
        if seam.sweep_rad:
            (arc,) = seam.curve.pieces
            gaps = np.hypot(*(np.array(seam.points) - arc.centre).T) - arc.radius
            assert np.abs(gaps).max() < 1e-9


def test_sizes_of_curved_patches():
    """A quarter circle of radius r: sides r, r and r·√2 from corner to corner, π r/2 along."""
    unit, r = 4.0, 2.8
    top = make_top(
        "drunkards path",
        Layout(3, 3, 2 * unit),
        border_in=2.0,
        sewing=SewingSettings(sigma_in=0.0),
        seed=4,
    )
    sizes = measure(top, straight_down())
    shapes = {p.id: p for p in top.patches}
    quarters = [p for p in sizes.patches if p.shape == "quarter circle"]
    rest = [p for p in sizes.patches if p.shape == "curved"]
    assert len(quarters) == len(rest) == 36
    assert {p.class_name for p in quarters} == {"quarter circle 2 3/4"}
    assert {p.class_name for p in rest} == {"curved 4 x 4"}
    for p in quarters + rest:
        (curve,) = p.curves
        assert curve.radius.value_in == pytest.approx(r, abs=1e-6)
        assert curve.along.value_in == pytest.approx(math.pi * r / 2, abs=1e-6)
        assert p.sides[curve.side].value_in == pytest.approx(r * math.sqrt(2), abs=1e-6)
        assert curve.inwards is (p.shape == "curved")
        # The arcs meet the units' sides square; so are all other corners.
        assert [a.value_deg for a in p.angles] == pytest.approx([90.0] * len(p.sides), abs=1e-4)
        assert 0 < curve.along.plus_minus_in < curve.radius.plus_minus_in
    assert all(not p.curves for p in sizes.patches if p.shape == "rectangle")
    assert sum(p.polygon.area for p in shapes.values()) == pytest.approx(top.outline.area)
