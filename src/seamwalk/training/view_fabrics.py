"""Which print each patch shows, in what colours, at which place and turn of the print.

A row of the cloth table names a swatch and how to see it: an affine from inches to its pixels and
a colour matrix.  The whole top follows one palette, as quilts do; hard palettes, such as white on
white or dark beside dark, are frequent on purpose.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.training.sketch import ROW, ClothRow
from seamwalk.training.view_outlines import Outlines

Floats = NDArray[np.float64]
Index = NDArray[np.int64]

COLUMN = ClothRow()

GREY = np.array([0.299, 0.587, 0.114])
"""Luma of Rec. ITU-R BT.601."""

PALETTES = {
    "shop": 0.27,
    "scrappy": 0.16,
    "bright on white": 0.16,
    "tonal": 0.10,
    "two colours": 0.10,
    "low contrast": 0.09,
    "dark": 0.07,
    "one fabric": 0.05,
}
"""Share of each palette; common practice, no source."""


@dataclass(frozen=True, slots=True)
class FabricSettings:
    """How prints are laid.

    Attributes
    ----------
    coarsest, finest : float
        Swatch pixels per inch of cloth.
    repeat : int
        Side of a swatch, pixels.
    twins : float
        Share of tops in which some fabrics nearly equal others.
    """

    coarsest: float = 20.0
    finest: float = 160.0
    repeat: int = 384
    twins: float = 0.25


SETTINGS = FabricSettings()


def lay_fabrics(
    rng: np.random.Generator,
    roles: NDArray[np.int32],
    seen: Outlines,
    swatches: int,
    *,
    own_print: bool,
) -> NDArray[np.float32]:
    """Return the rows (P, ROW) of the patches in view.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    roles : (N,) int32
        Fabric of every patch of the top.
    seen : Outlines
        Patches in view.
    swatches : int
        Number of prints in the renderer's store.
    own_print : bool
        False lays all patches of a fabric on one uncut length of it.
    """
    count = int(roles.max()) + 1
    palette = str(rng.choice(list(PALETTES), p=list(PALETTES.values())))
    swatch = rng.integers(0, swatches, count)
    colours = _colours(rng, palette, count)
    scale = np.exp(rng.uniform(np.log(SETTINGS.coarsest), np.log(SETTINGS.finest), count))
    gloss = np.where(rng.random(count) < 0.08, rng.uniform(0.05, 0.3, count), 0.0)
    if palette == "one fabric":
        swatch[:] = swatch[0]
        scale[:] = scale[0]
    elif rng.random() < SETTINGS.twins:
        _twin(rng, swatch, colours, scale)
    role = roles[seen.patches].astype(np.int64)
    rows = np.zeros((len(role), ROW))
    rows[:, COLUMN.swatch] = swatch[role]
    rows[:, COLUMN.affine] = _affines(rng, role, scale, seen, own_print=own_print)
    matrices = colours[role]
    if rng.random() < 0.3:
        dye = 1.0 + rng.normal(0.0, rng.uniform(0.0, 0.05), len(role))
        matrices = matrices * dye[:, None, None]
    rows[:, COLUMN.colour] = matrices.reshape(-1, 12)
    rows[:, COLUMN.gloss] = gloss[role]
    rows[:, COLUMN.kind] = 1.0
    return rows.astype(np.float32)


def _twin(rng: np.random.Generator, swatch: Index, colours: Floats, scale: Floats) -> None:
    """Make some fabrics, in place, nearly the same as others."""
    count = len(swatch)
    copies = np.flatnonzero(rng.random(count) < rng.uniform(0.2, 0.8))
    source = rng.integers(0, count, len(copies))
    colours[copies] = colours[source]
    colours[copies, :, 3] += rng.normal(0.0, rng.uniform(0.004, 0.05), (len(copies), 1))
    if rng.random() < 0.6:
        swatch[copies] = swatch[source]
        scale[copies] = scale[source]


def _affines(
    rng: np.random.Generator, role: Index, scale: Floats, seen: Outlines, *, own_print: bool
) -> Floats:
    """Return the affines (P, 6) from inches to swatch pixels of patches with fabrics `role`."""
    fabrics, patches = len(scale), len(role)
    turned = rng.random() < 0.5
    turn = rng.integers(0, 4, fabrics) * (np.pi / 2) * turned
    if rng.random() < 0.25:
        turn = turn + rng.choice([np.pi / 4, -np.pi / 4], fabrics)
    turn = turn + rng.normal(0.0, 0.02, fabrics)
    shift = rng.uniform(0.0, SETTINGS.repeat, (fabrics, 2))
    angle, offset = turn[role], shift[role]
    if own_print and patches:
        offset = rng.uniform(0.0, SETTINGS.repeat, (patches, 2))
        style = rng.random()
        if style < 0.3:
            angle = angle + rng.integers(0, 4, patches) * (np.pi / 2)
        elif style < 0.55:
            angle = angle + _grain(seen)
        elif style < 0.7:
            angle = rng.uniform(0.0, 2 * np.pi, patches)
        elif style < 0.85:
            angle = angle + np.where(rng.random(patches) < 0.3, np.pi / 2, 0.0)
        angle = angle + rng.normal(0.0, 0.015, patches)
    size = scale[role]
    c, s = size * np.cos(angle), size * np.sin(angle)
    return np.stack([c, s, offset[:, 0], -s, c, offset[:, 1]], axis=1)


def _grain(seen: Outlines) -> Floats:
    """Return the direction of the longest piece of each patch's outline, radians (P,)."""
    chord = seen.xy[seen.after] - seen.xy
    length = np.linalg.norm(chord, axis=1)
    order = np.lexsort((-length, seen.patch))
    first = order[np.searchsorted(seen.patch[order], np.arange(len(seen.patches)))]
    out: Floats = np.arctan2(chord[first, 1], chord[first, 0])
    return out


def _colours(rng: np.random.Generator, palette: str, count: int) -> Floats:
    """Return colour matrices (count, 3, 4) of a palette."""
    if palette in ("shop", "scrappy"):
        return _as_printed(rng, count)
    if palette == "bright on white":
        printed = _as_printed(rng, count)
        ground = rng.random(count) < rng.uniform(0.3, 0.7)
        tone = rng.uniform(0.86, 1.0, count)
        warm = rng.uniform(0.0, 0.06, count)[:, None] * np.array([0.0, 0.4, 1.0])
        white = dyed(tone[:, None] - warm, rng.uniform(0.0, 0.14, count))
        if rng.random() < 0.5:
            white[:] = white[0]
        return np.where(ground[:, None, None], white, printed)
    if palette == "two colours":
        pair = hsv(rng.random(2), rng.uniform(0.0, 1.0, 2), rng.uniform(0.1, 1.0, 2))
        spread = np.exp(rng.uniform(np.log(0.02), np.log(0.5), count))
        return dyed(pair[rng.integers(0, 2, count)] + rng.normal(0, 0.015, (count, 3)), spread)
    if palette == "tonal":
        hue = rng.random() + rng.normal(0.0, rng.uniform(0.0, 0.06), count)
        value = rng.permutation(np.linspace(rng.uniform(0.1, 0.6), rng.uniform(0.6, 1.0), count))
        sat = np.clip(rng.uniform(0.0, 0.9) + rng.normal(0, 0.12, count), 0, 1)
        return dyed(hsv(hue, sat, value), np.exp(rng.uniform(-4, -0.7, count)))
    if palette == "dark":
        value = rng.uniform(0.03, 0.28, count)
        dark = dyed(hsv(rng.random(count), rng.uniform(0, 0.8, count), value), 0.4 * value)
        light = rng.random(count) < rng.choice([0.0, 0.3])
        return np.where(light[:, None, None], _as_printed(rng, count), dark)
    # Low contrast and one fabric.
    base = hsv(rng.random(1), rng.uniform(0, 0.9, 1), rng.uniform(0.1, 1.0, 1))
    if rng.random() < 0.4:
        base = np.full((1, 3), rng.uniform(0.85, 1.0)) - rng.uniform(0, 0.05) * np.arange(3)
    if palette == "one fabric":
        if rng.random() < 0.4:
            return np.repeat(_as_printed(rng, 1), count, axis=0)
        spread = np.full(count, np.exp(rng.uniform(np.log(0.01), np.log(0.5))))
        return dyed(np.repeat(base, count, axis=0), spread)
    near = base + rng.normal(0.0, rng.uniform(0.01, 0.09), (count, 1))
    near = near + rng.normal(0.0, 0.02, (count, 3))
    return dyed(near, np.exp(rng.uniform(np.log(0.01), np.log(0.3), count)))


def dyed(tone: Floats, spread: Floats) -> Floats:
    """Return matrices that keep a print's light and dark only, round `tone` (n, 3)."""
    out = np.empty((len(tone), 3, 4))
    out[:, :, :3] = spread[:, None, None] * GREY
    out[:, :, 3] = tone - 0.5 * spread[:, None]
    return out


def _as_printed(rng: np.random.Generator, count: int) -> Floats:
    """Return matrices that keep prints as they are, or turn, swap or invert their colours."""
    out = np.zeros((count, 3, 4))
    out[:, :, :3] = np.eye(3)
    style = rng.random(count)
    turned = style < 0.35
    out[turned, :, :3] = _hue_turns(rng.uniform(0, 2 * np.pi, int(turned.sum())))
    swapped = np.flatnonzero((style >= 0.35) & (style < 0.5))
    orders = np.array([[0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]])
    out[swapped, :, :3] = np.eye(3)[orders[rng.integers(0, 5, len(swapped))]]
    inverted = rng.random(count) < 0.07
    out[inverted, :, :3] *= -1.0
    out[inverted, :, 3] += 1.0
    dull = rng.random(count) < 0.25
    keep = np.where(dull, rng.uniform(0.0, 1.4, count), 1.0)[:, None, None]
    grey = np.einsum("i,nij->nj", GREY, out)[:, None, :]
    out = np.asarray(grey + keep * (out - grey))
    gain = np.where(rng.random(count) < 0.35, np.exp(rng.normal(0.0, 0.3, count)), 1.0)
    gain = np.clip(gain, 0.3, 1.6)[:, None, None]
    out = out * gain
    out[:, :, 3] += 0.5 * (1.0 - gain[:, :, 0]) * rng.uniform(0.0, 1.0, (count, 1))
    return out


def _hue_turns(angles: Floats) -> Floats:
    """Return rotations (n, 3, 3) of colour about the grey axis (Rodrigues)."""
    cross = np.array([[0, -1, 1], [1, 0, -1], [-1, 1, 0]]) / np.sqrt(3.0)
    c, s = np.cos(angles)[:, None, None], np.sin(angles)[:, None, None]
    out: Floats = c * np.eye(3) + (1 - c) / 3.0 + s * cross
    return out


def hsv(hue: Floats, saturation: Floats, value: Floats) -> Floats:
    """Return sRGB colours (n, 3), 0 to 1, of hues in turns, saturations and values."""
    steps = (np.array([5.0, 3.0, 1.0]) + np.asarray(hue)[:, None] * 6.0) % 6.0
    share = np.clip(np.minimum(steps, 4.0 - steps), 0.0, 1.0)
    # Dyed cotton never reaches the corners of the sRGB cube.
    full = 0.88 * np.asarray(saturation)[:, None]
    out: Floats = np.asarray(value)[:, None] * (1.0 - full * share) * (1.0 - 0.2 * full)
    return out


def plain_row(colour: Floats, kind: int) -> NDArray[np.float32]:
    """Return a row (ROW,) of one plain colour (3,), 0 to 1."""
    row = np.zeros(ROW, np.float32)
    row[COLUMN.affine] = (1, 0, 0, 0, 1, 0)
    row[COLUMN.colour.start + 3 : COLUMN.colour.stop : 4] = colour
    row[COLUMN.kind] = kind
    return row


def surface_row(
    rng: np.random.Generator, swatch: int, px_per_in: float, kind: int
) -> NDArray[np.float32]:
    """Return a row (ROW,) of a floor or of a thing covered with swatch number `swatch`."""
    row = np.zeros(ROW, np.float32)
    angle = rng.integers(0, 4) * np.pi / 2 + (
        rng.normal(0.0, 0.03) if rng.random() < 0.6 else rng.uniform(0.0, np.pi)
    )
    c, s = px_per_in * np.cos(angle), px_per_in * np.sin(angle)
    x, y = rng.uniform(0.0, SETTINGS.repeat, 2)
    row[COLUMN.swatch] = swatch
    row[COLUMN.affine] = (c, s, x, -s, c, y)
    row[COLUMN.colour] = _as_printed(rng, 1).reshape(12)
    row[COLUMN.gloss] = rng.uniform(0.0, 0.3) if rng.random() < 0.4 else 0.0
    row[COLUMN.kind] = kind
    return row
