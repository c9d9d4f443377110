"""Light and shade of pressed seams.

Common practice, no source: allowances are pressed to the darker fabric; the side they lie under
stands higher, the seam itself lies in the ditch.
"""

from dataclasses import replace

import numpy as np
import pytest

from seamwalk.model.top import Top
from seamwalk.scenes.bumps import bumps
from seamwalk.scenes.cloth import paint
from seamwalk.scenes.designs.pattern import rect
from seamwalk.scenes.fabrics import Fabric
from seamwalk.scenes.planar_map import joined, top_of
from seamwalk.scenes.relief import ReliefSettings, shade

PX = 40.0
CALM = ReliefSettings(weave=0.0, folds=0.0)
DARK_RIGHT = {0: 0.9, 1: 0.1}


def two() -> Top:
    """One seam down the middle, x = 4."""
    return top_of(joined((rect(0, 0, 4, 4, "a"), rect(4, 0, 4, 4, "b"))), raw_edges=True)


def profile(light_deg: float, lightness: dict | None, relief: float = 1.0) -> np.ndarray:
    """Return the gain along the row through the middle."""
    gain = shade(
        two(),
        (160, 320),
        PX,
        (0.0, 0.0),
        np.random.default_rng(0),
        relief,
        light_deg,
        lightness=lightness,
        settings=CALM,
    )
    return gain[80]


def test_nothing_but_the_seam_is_shaded() -> None:
    g = profile(180.0, DARK_RIGHT)
    x = (np.arange(320) + 0.5) / PX
    assert np.abs(g[np.abs(x - 4) > 0.45] - 1).max() < 1e-3
    assert np.abs(profile(180.0, DARK_RIGHT, relief=0.0) - 1).max() == 0


def test_the_ditch_is_dark_and_on_the_seam() -> None:
    # Light along the seam: no slope faces it, so only the ditch shows.
    g = profile(90.0, DARK_RIGHT)
    x = (np.arange(320) + 0.5) / PX
    loss = 1 - g
    assert loss.max() > 0.1
    assert (x * loss).sum() / loss.sum() == pytest.approx(4.0, abs=1e-3)


@pytest.mark.parametrize(("lightness", "side"), [(DARK_RIGHT, 1), ({0: 0.1, 1: 0.9}, -1)])
def test_the_ridge_lies_on_the_darker_side(lightness: dict, side: int) -> None:
    g = profile(90.0 + 90.0, lightness)
    x = (np.arange(320) + 0.5) / PX
    near = np.abs(x - 4)
    ridge = (near > 0.06) & (near < 0.16)
    dark_side = ridge & (np.sign(x - 4) == side)
    light_side = ridge & (np.sign(x - 4) == -side)
    assert np.abs(g[dark_side] - 1).mean() > 3 * np.abs(g[light_side] - 1).mean()


def test_light_from_the_other_side_turns_light_into_shade() -> None:
    along = profile(90.0, DARK_RIGHT)
    left, right = profile(180.0, DARK_RIGHT) - along, profile(0.0, DARK_RIGHT) - along
    np.testing.assert_allclose(left, -right, atol=1e-6)
    # The step up from the ditch on the right faces left: bright in light from the left.
    assert left[160 + 4] > 0.05


def test_relief_alone_shows_a_seam_between_patches_of_one_fabric() -> None:
    top = two()
    top = replace(top, patches=tuple(replace(p, fabric="plain") for p in top.patches))
    fabrics = {"plain": Fabric("plain", "solid", ((0.5, 0.4, 0.3),))}

    def seen(relief: float) -> float:
        rng = np.random.default_rng(1)
        row = paint(top, fabrics, PX, rng, relief=relief).rgba[60:180, :, 0].mean(axis=0)
        return float(np.abs(row[190:210] / np.median(row[100:300]) - 1).max())

    assert seen(0.0) < 1e-4
    assert seen(1.0) > 0.08


def test_bumps_are_brighter_towards_the_light() -> None:
    lift = bumps(0.4, np.random.default_rng(2))
    gain = shade(
        two(),
        (160, 320),
        PX,
        (0.0, 0.0),
        np.random.default_rng(0),
        1.0,
        0.0,
        lift=lift,
        settings=replace(CALM, slope_gain=0.0, fade_gain=0.0, ditch_dark=0.0),
    )
    # Light from the right (0°): cloth that falls towards the right faces it.
    x = (np.arange(320) + 0.5) / PX
    row = np.column_stack([x, np.full(320, 2.0)])
    slope = np.gradient(lift.height_in(row), x)
    assert np.corrcoef(gain[79], -slope)[0, 1] > 0.99
