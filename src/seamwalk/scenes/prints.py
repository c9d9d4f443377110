"""What is printed on each kind of fabric, drawn so that it repeats without a joint."""

from collections.abc import Callable
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.scenes.fabrics import Colour, Fabric, Kind, Swatch

Plane = NDArray[np.float32]

FINE = 3
"""Prints are drawn this many times finer, then averaged: edges come out soft, not stepped."""

REPEAT_IN = 6.0
"""Least side of a repeat, inches: printed cottons repeat every 2 to 24 in."""


def solid(fabric: Fabric, px_per_in: float) -> Swatch:
    """Return plain dyed cloth."""
    del px_per_in
    return np.broadcast_to(np.array(fabric.colours[0], np.float32), (8, 8, 3)).copy()


def tonal(fabric: Fabric, px_per_in: float) -> Swatch:
    """Return mottled cloth: ground and first ink in clouds."""
    n = round(REPEAT_IN * px_per_in)
    rng = np.random.default_rng(fabric.seed)
    coarse = clouds(n, REPEAT_IN / fabric.scale_in, rng)
    m = coarse + 0.6 * clouds(n, 2.4 * REPEAT_IN / fabric.scale_in, rng)
    m = (m - m.min()) / (np.ptp(m) + 1e-6) * 0.6
    return _inked(fabric.colours[0], [(m, fabric.colours[1])])


def dots(fabric: Fabric, px_per_in: float) -> Swatch:
    """Return round dots in rows, every other row half a step along."""
    step, n = _steps(fabric.scale_in, px_per_in, even=True)
    y, x = _grid(step)
    radius = 0.24 * step
    near = [(0, 0), (step, 0), (0, step), (step, step), (step / 2, step / 2)]
    d = np.min([np.hypot(x - cx, y - cy) for cx, cy in near], axis=0)
    return _repeated(_inked(fabric.colours[0], [(_soft(radius - d), fabric.colours[1])]), n)


def gingham(fabric: Fabric, px_per_in: float) -> Swatch:
    """Return woven checks: ground, half and full colour."""
    step, n = _steps(2 * fabric.scale_in, px_per_in)
    y, x = _grid(step)
    m = (0.5 * ((x < step / 2).astype(np.float32) + (y < step / 2))).astype(np.float32)
    return _repeated(_inked(fabric.colours[0], [(_averaged(m), fabric.colours[1])]), n)


def stripe(fabric: Fabric, px_per_in: float) -> Swatch:
    """Return stripes: a broad, a narrow and a hairline in each repeat."""
    step, n = _steps(2 * fabric.scale_in, px_per_in)
    _, x = _grid(step)
    t = x / step
    broad = _averaged(((t > 0.1) & (t < 0.45)).astype(np.float32))
    narrow = _averaged(((t > 0.62) & (t < 0.72)).astype(np.float32))
    hair = _averaged(((t > 0.82) & (t < 0.86)).astype(np.float32))
    inks = [(broad, fabric.colours[1]), (narrow, fabric.colours[2]), (hair, fabric.colours[3])]
    return _repeated(_inked(fabric.colours[0], inks), n)


def geometric(fabric: Fabric, px_per_in: float) -> Swatch:
    """Return small rings, crosses or diamonds on a square grid."""
    step, n = _steps(fabric.scale_in, px_per_in, even=True)
    y, x = _grid(step)
    u, v = np.abs(x / step - 0.5), np.abs(y / step - 0.5)
    kind = fabric.seed % 3
    if kind == 0:
        m = 0.09 - np.abs(np.hypot(u, v) - 0.28)
    elif kind == 1:
        m = np.where(np.maximum(u, v) < 0.32, 0.07 - np.minimum(u, v), -1)
    else:
        m = 0.07 - np.abs(u + v - 0.34)
    return _repeated(_inked(fabric.colours[0], [(_soft(m * step), fabric.colours[1])]), n)


def floral(fabric: Fabric, px_per_in: float) -> Swatch:
    """Return flowers with petals, hearts and leaves, scattered at random sizes and turns."""
    rng = np.random.default_rng(fabric.seed)
    n = round(REPEAT_IN * px_per_in) * FINE
    unit = px_per_in * FINE
    ground, ink, second, leaf = (np.array(c, np.float32) for c in fabric.colours)
    out = np.broadcast_to(ground, (n, n, 3)).astype(np.float32)
    many = round(1.1 * (REPEAT_IN / fabric.scale_in) ** 2)
    petals = int(rng.integers(4, 8))
    for at in _scattered(many, fabric.scale_in / REPEAT_IN, rng) * n:
        radius = fabric.scale_in * float(rng.uniform(0.25, 0.5)) * unit
        turn = float(rng.uniform(0, 2 * np.pi))
        for k in range(int(rng.integers(1, 4))):
            way = turn + 2.1 * k
            tip = at + 1.15 * radius * np.array([np.cos(way), np.sin(way)])
            _stamp(out, tip, 0.6 * radius, leaf, partial(_leaf, way))
        colour = ink if rng.random() < 0.6 else second
        _stamp(out, at, radius, colour, partial(_petals, turn, petals))
        _stamp(out, at, 0.3 * radius, second if colour is ink else ink, np.ones_like)
    return np.asarray(cv2.resize(out, (n // FINE, n // FINE), interpolation=cv2.INTER_AREA))


DRAWN: dict[Kind, Callable[[Fabric, float], Swatch]] = {
    "solid": solid,
    "tonal": tonal,
    "dots": dots,
    "gingham": gingham,
    "stripe": stripe,
    "floral": floral,
    "geometric": geometric,
}
"""How each kind of fabric is drawn."""


def clouds(size: int, cells: float, rng: np.random.Generator) -> Plane:
    """Return smooth repeating noise, (size, size), about 0 to 1, with `cells` bumps across."""
    return grain((size, size), (cells, cells), rng)


def grain(shape: tuple[int, int], cells: tuple[float, float], rng: np.random.Generator) -> Plane:
    """Return smooth repeating noise, about 0 to 1.

    Parameters
    ----------
    shape : (int, int)
        Rows and columns.
    cells : (float, float)
        Bumps down and across.
    """
    n = [max(2, min(s, round(c))) for s, c in zip(shape, cells, strict=True)]
    wide: Plane = np.pad(rng.random((n[0], n[1]), dtype=np.float32), 3, mode="wrap")
    fy, fx = shape[0] / n[0], shape[1] / n[1]
    size = (round(wide.shape[1] * fx), round(wide.shape[0] * fy))
    big = np.asarray(cv2.resize(wide, size, interpolation=cv2.INTER_CUBIC), dtype=np.float32)
    y, x = round(3 * fy), round(3 * fx)
    out: Plane = big[y : y + shape[0], x : x + shape[1]]
    return out


def _leaf(turn: float, angle: Plane) -> Plane:
    """Return the radius of an ellipse, long way at `turn`, at each angle; 1 at most."""
    a = angle - turn
    out: Plane = 0.35 / np.sqrt(0.1225 * np.cos(a) ** 2 + np.sin(a) ** 2)
    return out


def _petals(turn: float, many: int, angle: Plane) -> Plane:
    """Return the radius of a flower at each angle; 1 at the petals' tips."""
    out: Plane = 0.72 + 0.28 * np.cos(many * (angle - turn))
    return out


def _scattered(many: int, apart: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return places (N, 2) in the unit square, not too near one another across its joints."""
    out: list[NDArray[np.float64]] = []
    for p in rng.random((6 * many, 2)):
        near = [np.abs(p - q) for q in out]
        if all(np.hypot(*np.minimum(d, 1 - d)) > 0.75 * apart for d in near):
            out.append(p)
        if len(out) == many:
            break
    return np.array(out)


def _stamp(
    canvas: Swatch,
    at: NDArray[np.float64],
    radius: float,
    colour: NDArray[np.float32],
    outline: Callable[[Plane], Plane],
) -> None:
    """Draw a shape, given by its radius at each angle (share of `radius`), across the joints."""
    h = int(np.ceil(radius)) + 2
    off = np.arange(-h, h + 1, dtype=np.float32)
    rows, cols = (int(at[1]) + np.arange(-h, h + 1)), (int(at[0]) + np.arange(-h, h + 1))
    y, x = off[:, None], off[None, :]
    reach = np.float32(radius) * outline(np.arctan2(y, x))
    inside = np.clip(reach - np.hypot(x, y) + 0.5, 0, 1)[..., None]
    where = np.ix_(rows % canvas.shape[0], cols % canvas.shape[1])
    canvas[where] += inside * (colour - canvas[where])


def _steps(step_in: float, px_per_in: float, *, even: bool = False) -> tuple[int, int]:
    """Return a repeat's side in fine pixels and how many fill the least swatch."""
    side = max(2, round(step_in * px_per_in))
    side += side % 2 if even else 0
    return side * FINE, max(1, round(REPEAT_IN * px_per_in / side))


def _grid(side: int) -> tuple[Plane, Plane]:
    """Return fine-pixel centres of one repeat, rows and columns."""
    at = np.arange(side, dtype=np.float32) + np.float32(0.5)
    return np.repeat(at[:, None], side, axis=1), np.repeat(at[None, :], side, axis=0)


def _averaged(fine: Plane) -> Plane:
    n = fine.shape[0] // FINE
    return np.asarray(cv2.resize(fine, (n, n), interpolation=cv2.INTER_AREA), dtype=np.float32)


def _soft(inside: NDArray[np.floating]) -> Plane:
    """Return coverage from a signed distance in fine pixels, averaged to true pixels."""
    return _averaged(np.clip(inside + 0.5, 0, 1).astype(np.float32))


def _repeated(one: Swatch, times: int) -> Swatch:
    return np.tile(one, (times, times, 1))


def _inked(ground: Colour, inks: list[tuple[Plane, Colour]]) -> Swatch:
    """Return the ground with inks over it, each with its coverage 0 to 1."""
    out = np.broadcast_to(np.array(ground, np.float32), (*inks[0][0].shape, 3)).astype(np.float32)
    for cover, ink in inks:
        out += cover[..., None] * (np.array(ink, np.float32) - out)
    return out
