"""Light and shade of pressed seams, weave and soft folds.

A seam allowance pressed to one side lifts the cloth over it: between the seam and 1/4 in from it
the top lies higher, at the seam there is a step down into the ditch.  Seen in side light, slopes
turned to the light are brighter, slopes turned away darker, and the ditch itself is dark.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import Arc
from seamwalk.model.top import PatchId, Seam, Top
from seamwalk.scenes.bumps import Bumps
from seamwalk.trade import SEAM_ALLOWANCE_IN

Plane = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class ReliefSettings:
    """Shape of pressed seams and strength of light; all by eye from pressed cotton."""

    ditch_in: float = 0.025
    """Half width of the ditch, inches: about the cloth's thickness."""
    ditch_dark: float = 0.22
    """Light lost at the bottom of the ditch."""
    slope_in: float = 0.06
    """Width of the step from the ditch up to the ridge, inches."""
    slope_gain: float = 0.16
    """Most light gained or lost on that step."""
    fade_in: float = 0.09
    """Width over which the ridge ends at the allowance's raw edge, inches."""
    fade_gain: float = 0.05
    """Most light gained or lost there."""
    slope_light: float = 1.5
    """Light gained or lost for each unit of slope of the cloth: low side light."""
    weave: float = 0.022
    """Standard deviation of the weave's grain."""
    folds: float = 0.05
    """Standard deviation of soft, wide light and shade of cloth that lies unevenly."""
    fold_in: float = 9.0
    """Width of those folds, inches."""


def shade(
    top: Top,
    shape: tuple[int, int],
    px_per_in: float,
    origin_in: tuple[float, float],
    rng: np.random.Generator,
    relief: float,
    light_deg: float,
    lift: Bumps | None = None,
    lightness: dict[PatchId, float] | None = None,
    settings: ReliefSettings | None = None,
) -> Plane:
    """Return the gain of light at each canvas pixel, (H, W) float32, about 1.

    Parameters
    ----------
    relief : float
        Scales everything; 0 gives 1 all over.
    light_deg : float
        Direction that the light comes from, x towards y.
    lift : Bumps or None
        Height of the cloth, whose slopes are lit too.
    lightness : dict or None
        How light each patch is: allowances are pressed to the darker side, as they would show
        through the lighter one (common practice, no source); by chance where that says nothing.
    """
    s = settings or ReliefSettings()
    gain = _weave(shape, rng, s.weave * relief)
    gain *= _folds(shape, px_per_in, rng, s.folds * relief, s.fold_in)
    light = np.array([np.cos(np.radians(light_deg)), np.sin(np.radians(light_deg))])
    if lift is not None and lift.height > 0:
        gain *= _slopes(lift, shape, px_per_in, origin_in, light, s.slope_light * relief)
    for seam in top.seams:
        if seam.kind == "seam":
            side = _pressed(seam, lightness or {}, rng)
            _seam(gain, seam, px_per_in, origin_in, light, side, relief, s)
    return gain


def _pressed(seam: Seam, lightness: dict[PatchId, float], rng: np.random.Generator) -> float:
    """Return 1 if the allowance lies under the patch on the right of the seam, -1 on the left."""
    chance = 1.0 if rng.random() < 0.5 else -1.0
    if seam.left is None or seam.right is None:
        return chance
    difference = lightness.get(seam.left, 0.0) - lightness.get(seam.right, 0.0)
    return chance if difference == 0 else float(np.sign(difference))


def _slopes(
    lift: Bumps,
    shape: tuple[int, int],
    px_per_in: float,
    origin_in: tuple[float, float],
    light: NDArray[np.float64],
    strength: float,
) -> Plane:
    """Return light and shade of the cloth's bumps, about 1: brighter where it faces the light."""
    rows, cols = (max(2, int(n / px_per_in)) for n in shape)
    x = origin_in[0] + (np.arange(cols) + 0.5) / cols * shape[1] / px_per_in
    y = origin_in[1] + (np.arange(rows) + 0.5) / rows * shape[0] / px_per_in
    at = np.column_stack([np.tile(x, rows), np.repeat(y, cols)])
    slope = (lift.height_in(at + 0.05 * light) - lift.height_in(at - 0.05 * light)) / 0.1
    coarse = (1 - strength * slope).reshape(rows, cols).astype(np.float32)
    fine = cv2.resize(coarse, shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(fine, dtype=np.float32)


def _weave(shape: tuple[int, int], rng: np.random.Generator, sigma: float) -> Plane:
    """Return fine grain about 1, from a repeating piece large enough not to show."""
    n = 1024
    raw = cv2.GaussianBlur(rng.standard_normal((n, n), dtype=np.float32), (0, 0), 0.8)
    noise = np.asarray(raw / raw.std() * np.float32(sigma), dtype=np.float32)
    times = (-(-shape[0] // n), -(-shape[1] // n))
    out: Plane = np.tile(1 + noise, times)[: shape[0], : shape[1]].copy()
    return out


def _folds(
    shape: tuple[int, int],
    px_per_in: float,
    rng: np.random.Generator,
    sigma: float,
    fold_in: float,
) -> Plane:
    """Return soft light and shade about 1."""
    cells = [max(3, int(n / px_per_in / fold_in)) for n in shape]
    small = rng.standard_normal((cells[0], cells[1]), dtype=np.float32)
    wide = cv2.resize(small, (cells[1] * 16, cells[0] * 16), interpolation=cv2.INTER_CUBIC)
    big = cv2.resize(wide, shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(1 + sigma * big, dtype=np.float32)


def _seam(
    gain: Plane,
    seam: Seam,
    px_per_in: float,
    origin_in: tuple[float, float],
    light: NDArray[np.float64],
    side: float,
    relief: float,
    s: ReliefSettings,
) -> None:
    """Multiply in the light and shade round one seam."""
    points = np.array(seam.points) - origin_in
    a, b = points[0], points[-1]
    length = float(np.hypot(*(b - a)))
    way = (b - a) / length
    normal = np.array([-way[1], way[0]]) * side
    reach = SEAM_ALLOWANCE_IN + s.fade_in
    low = np.floor((points.min(axis=0) - reach) * px_per_in).astype(int)
    high = np.ceil((points.max(axis=0) + reach) * px_per_in).astype(int) + 1
    low = np.maximum(low, 0)
    high = np.minimum(high, gain.shape[1::-1])
    x = ((np.arange(low[0], high[0]) + 0.5) / px_per_in - a[0]).astype(np.float32)[None, :]
    y = ((np.arange(low[1], high[1]) + 0.5) / px_per_in - a[1]).astype(np.float32)[:, None]
    # The side that the allowance lies under rises from the ditch and falls off at its raw edge.
    towards: Plane | np.float32
    if seam.sweep_rad:
        across, along, towards = _about_arc(seam, x, y, light, side)
        length = seam.curve.length
    else:
        across = np.float32(normal[0]) * x + np.float32(normal[1]) * y
        along = np.float32(way[0]) * x + np.float32(way[1]) * y
        towards = np.float32(normal @ light)
    rise = np.exp(-(((across - 1.2 * s.slope_in) / s.slope_in) ** 2))
    drop = np.exp(-(((across - SEAM_ALLOWANCE_IN) / s.fade_in) ** 2))
    ditch = np.exp(-((across / s.ditch_in) ** 2))
    change = -towards * (s.slope_gain * rise - s.fade_gain * drop) - s.ditch_dark * ditch
    # Ends fade over the width of the ditch, so that seams meet without dark knots.
    ends = np.clip(np.minimum(along, length - along) / (2 * s.ditch_in) + 0.5, 0, 1)
    gain[low[1] : high[1], low[0] : high[0]] *= 1 + np.float32(relief) * change * ends


def _about_arc(
    seam: Seam, x: Plane, y: Plane, light: NDArray[np.float64], side: float
) -> tuple[Plane, Plane, Plane]:
    """Return distance across and along a curved seam, and how far its slope faces the light.

    Parameters
    ----------
    x, y : (1, W) and (H, 1) float32
        From the seam's first point, inches.
    side : float
        1 if the allowance lies on the right, -1 on the left.
    """
    (arc,) = seam.curve.pieces
    assert isinstance(arc, Arc)
    cx, cy = (np.float32(c - s) for c, s in zip(arc.centre, arc.start, strict=True))
    radius = np.maximum(np.hypot(x - cx, y - cy), np.float32(1e-6))
    # Turning x towards y, the centre lies on the right.
    out = np.float32(-side * np.sign(arc.sweep_rad))
    across: Plane = out * (radius - np.float32(arc.radius))
    towards: Plane = (
        out * ((x - cx) * np.float32(light[0]) + (y - cy) * np.float32(light[1])) / radius
    )
    turned = np.arctan2(y - cy, x - cx) - np.float32(np.arctan2(-cy, -cx))
    turned = np.float32(np.sign(arc.sweep_rad)) * turned
    # Half of what is not the arc's counts as before its start, half as after its end.
    spare = np.float32(np.pi - abs(arc.sweep_rad) / 2)
    along: Plane = ((turned + spare) % np.float32(2 * np.pi) - spare) * np.float32(arc.radius)
    return across, along, towards
