"""Piecing error is as large as asked for and leaves the map a map."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from seamwalk.scenes.allowance import with_allowance
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.planar_map import PlanarMap, joined
from seamwalk.scenes.sewing import SewingSettings, sewn
from seamwalk.scenes.tops import pattern
from seamwalk.scenes.truth import top_corners

EXACT = SewingSettings(sigma_in=0.0)


def planar(design: str, columns: int = 4, rows: int = 5) -> PlanarMap:
    rng = np.random.default_rng(1)
    return joined(with_allowance(pattern(design, Layout(columns, rows, 8.0), 0.0, rng)).pieces)


def test_no_error_leaves_the_design_exact() -> None:
    ideal = planar("star")
    out = sewn(ideal, EXACT, np.random.default_rng(0))
    np.testing.assert_allclose(out.at, ideal.at, atol=1e-12)


@pytest.mark.parametrize("sigma_in", [1 / 32, 1 / 16])
def test_inner_junctions_scatter_by_sigma(sigma_in: float) -> None:
    ideal = planar("nine patch")
    size = ideal.at.max(axis=0)
    inner = ((ideal.at > 1) & (ideal.at < size - 1)).all(axis=1)
    off = [
        (sewn(ideal, SewingSettings(sigma_in=sigma_in), np.random.default_rng(k)).at - ideal.at)
        for k in range(40)
    ]
    rms = float(np.sqrt(np.mean([(o[inner] ** 2).mean() for o in off])))
    assert rms == pytest.approx(sigma_in, rel=0.1)


def test_neighbours_share_most_of_their_error() -> None:
    """Seams through many patches stay plausible: they bend by little from patch to patch."""
    ideal = planar("scrappy", 6, 6)
    turns = []
    for k in range(20):
        at = sewn(ideal, SewingSettings(), np.random.default_rng(k)).at
        row = np.flatnonzero(np.abs(ideal.at[:, 1] - 24.25) < 1e-6)
        line = at[row[np.argsort(ideal.at[row, 0])]]
        d = np.diff(line, axis=0)
        turns.append(np.diff(np.arctan2(d[:, 1], d[:, 0])))
    worst = np.degrees(np.percentile(np.abs(np.concatenate(turns)), 95))
    assert 0.02 < worst < 1.0


def test_a_seam_that_ends_on_another_does_not_bend_it() -> None:
    ideal = planar("rail fence")
    out = sewn(ideal, SewingSettings(sigma_in=1 / 16), np.random.default_rng(5))
    bends = []
    for ring, turns in zip(out.rings, out.corners, strict=True):
        n = len(ring)
        for k, j in enumerate(ring):
            if j not in turns:
                a, b, c = out.at[ring[k - 1]], out.at[j], out.at[ring[(k + 1) % n]]
                u, v = b - a, c - b
                bends.append(math.degrees(abs(math.atan2(u[0] * v[1] - u[1] * v[0], u @ v))))
    assert len(bends) > 40
    assert max(bends) < 1e-6


@settings(max_examples=20, deadline=None)
@given(skew=st.floats(-2, 2), taper=st.floats(-2, 2))
def test_skew_and_taper_are_the_angles_they_say(skew: float, taper: float) -> None:
    out = sewn(
        planar("scrappy"),
        SewingSettings(sigma_in=0.0, skew_deg=skew, taper_deg=taper),
        np.random.default_rng(0),
    )
    c = top_corners(out.at[list(out.outline)])
    left, right, across = c[3] - c[0], c[2] - c[1], c[1] - c[0]

    def angle(u: np.ndarray, v: np.ndarray) -> float:
        return math.degrees(math.atan2(u[0] * v[1] - u[1] * v[0], u @ v))

    # Exact for each alone; together they mix in second order, 0.0006° per degree squared.
    assert angle(right, left) == pytest.approx(taper, abs=0.005)
    assert angle(across, left) - taper / 2 == pytest.approx(90 + skew, abs=0.005)


def test_bow_is_the_rise_of_a_row() -> None:
    ideal = planar("scrappy", 4, 5)
    bowed = SewingSettings(sigma_in=0.0, bow_in=0.5)
    out = sewn(ideal, bowed, np.random.default_rng(0))
    row = np.flatnonzero(np.abs(ideal.at[:, 1] - 16.25) < 1e-6)
    lift = out.at[row, 1] - ideal.at[row, 1]
    # Parabola through the ends and the middle, where a junction lies for an even count.
    assert lift.max() == pytest.approx(0.5, abs=1e-9)
    assert lift.min() == pytest.approx(0.0, abs=1e-9)


def test_the_same_seed_sews_the_same_top() -> None:
    ideal = planar("pinwheel")
    a = sewn(ideal, SewingSettings(), np.random.default_rng(9))
    b = sewn(ideal, SewingSettings(), np.random.default_rng(9))
    c = sewn(ideal, SewingSettings(), np.random.default_rng(10))
    np.testing.assert_array_equal(a.at, b.at)
    assert not np.array_equal(a.at, c.at)
