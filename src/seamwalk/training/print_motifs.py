"""Prints of drawn figures: tossed, in rows, dense florals, damasks, vines, line drawings.

Where figures are small, a smaller repeat is drawn and repeated, as on cloth.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.training.print_colours import Ink, Palette, Picture, log_uniform, palette
from seamwalk.training.print_grounds import clouds, lit, over, softened, warped, washed
from seamwalk.training.print_laying import angles, lay, repeat_side, rows, spread
from seamwalk.training.print_shapes import (
    FLOWERS,
    GREENS,
    Draw,
    Layer,
    blade,
    turned,
)
from seamwalk.training.print_things import SHAPES, SMALL


@dataclass(frozen=True, slots=True)
class MotifSettings:
    """How figures are sized and how many are drawn.

    Attributes
    ----------
    smallest_px, largest_px : float
        Diameter of the main figure in a swatch of 384 px.
    most : int
        Figures in one repeat; more cost time and show no more.
    """

    smallest_px: float = 6.0
    largest_px: float = 200.0
    most: int = 90


SETTINGS = MotifSettings()


def _ground(rng: np.random.Generator, side: int, colours: Palette) -> Picture:
    """Return the cloth under a print: flat, or clouds towards another tone."""
    if rng.random() < 0.7:
        return np.full((side, side, 3), colours.ground, np.uint8)
    other = np.array(colours.ground) * rng.uniform(0.75, 1.0) + 255 * rng.uniform(0.0, 0.15)
    plane = clouds(rng, side, log_uniform(rng, 3, 24), 2)
    return washed(plane, np.clip(np.array([colours.ground, other]), 0, 255).astype(np.uint8))


def tossed(
    rng: np.random.Generator,
    side: int,
    *,
    draws: Sequence[Draw] = SHAPES,
    tonal: bool = False,
) -> Picture:
    """Return figures of a few kinds and sizes, thrown about or in rows, over a ground."""
    figure = log_uniform(rng, SETTINGS.smallest_px, SETTINGS.largest_px) * side / 384
    figure = min(figure, side * 0.5)
    repeat = repeat_side(rng, side, figure)
    colours = palette(rng, int(rng.integers(2, 7)), tonal=tonal)
    picture = _ground(rng, repeat, colours)
    chosen = [draws[k] for k in rng.integers(len(draws), size=int(rng.integers(1, 4)))]
    shapes = [draw(rng) for draw in chosen for _ in range(int(rng.integers(1, 3)))]
    line = int(rng.integers(1, 3)) if rng.random() < 0.2 else 0
    if rng.random() < 0.45:
        places = rows(rng, repeat, figure * rng.uniform(1.0, 2.0))[: 3 * SETTINGS.most]
    else:
        places = spread(rng, repeat, figure * log_uniform(rng, 0.6, 2.2), SETTINGS.most)
    vary = rng.uniform(0.0, 0.35)
    edge = colours.inks[-1] if figure > 14 and rng.random() < 0.3 else None
    for (x, y), angle in zip(places, angles(rng, len(places)), strict=True):
        shape = shapes[int(rng.integers(len(shapes)))]
        size = figure / 2 * (1 + vary * rng.uniform(-1, 1))
        inks = _turned_inks(rng, colours)
        lay(picture, shape, inks, (x, y), size, angle, line_px=line, outline=edge)
    if rng.random() < 0.5:
        _fillers(rng, picture, colours, figure)
    cloth = _repeated(picture, side)
    return _watercolour(rng, cloth) if rng.random() < 0.1 else cloth


def _turned_inks(rng: np.random.Generator, colours: Palette) -> tuple[Ink, ...]:
    start = int(rng.integers(len(colours.inks)))
    return colours.inks[start:] + colours.inks[:start]


def _fillers(rng: np.random.Generator, picture: Picture, colours: Palette, figure: float) -> None:
    """Strew small marks between and over the figures."""
    shape = SMALL[int(rng.integers(len(SMALL)))](rng)
    radius = max(1.0, figure * rng.uniform(0.03, 0.12))
    places = spread(rng, picture.shape[0], radius * rng.uniform(4, 10), SETTINGS.most)
    for (x, y), angle in zip(places, angles(rng, len(places)), strict=True):
        lay(picture, shape, colours.inks[-1:], (x, y), radius, angle)


def _repeated(picture: Picture, side: int) -> Picture:
    times = side // picture.shape[0]
    return np.tile(picture, (times, times, 1)) if times > 1 else picture


def tone_on_tone(rng: np.random.Generator, side: int) -> Picture:
    """Return figures in a neighbouring tone of the ground."""
    return tossed(rng, side, tonal=True)


def florals(rng: np.random.Generator, side: int) -> Picture:
    """Return flowers over leaves over flowers, hardly any ground left."""
    figure = min(log_uniform(rng, 16, SETTINGS.largest_px) * side / 384, side * 0.55)
    repeat = repeat_side(rng, side, figure)
    colours = palette(rng, 6, tonal=bool(rng.random() < 0.15))
    picture = _ground(rng, repeat, colours)
    edge = colours.inks[1] if figure > 30 and rng.random() < 0.3 else None
    r, g, b = (int(v * 0.6) for v in colours.ground)
    shadow = (r, g, b)
    greens, blooms = colours.inks[:3], colours.inks[2:]
    for share, draws, inks in (
        (rng.uniform(0.5, 0.9), GREENS, greens),
        (rng.uniform(0.3, 0.6), FLOWERS, blooms),
        (1.0, FLOWERS if rng.random() < 0.8 else SHAPES, blooms),
    ):
        shapes = [draws[int(rng.integers(len(draws)))](rng) for _ in range(3)]
        places = spread(rng, repeat, figure * share * rng.uniform(0.5, 1.2), 38)
        for x, y in places:
            start = int(rng.integers(len(inks)))
            size = figure / 2 * share * rng.uniform(0.7, 1.2)
            shape = shapes[int(rng.integers(3))]
            angle = rng.uniform(0, 6.283)
            if rng.random() < 0.3:
                lay(picture, shape[:1], [shadow], (x, y), size * 1.12, angle)
            mixed = inks[start:] + inks[:start]
            lay(picture, shape, mixed, (x, y), size, angle, outline=edge)
    cloth = _repeated(picture, side)
    return _watercolour(rng, cloth) if rng.random() < 0.3 else cloth


def _watercolour(rng: np.random.Generator, picture: Picture) -> Picture:
    """Return `picture` as brushed: edges that ran, pigment that gathered in clouds."""
    side = picture.shape[0]
    picture = warped(rng, picture, rng.uniform(0.5, 3.0), log_uniform(rng, 12, 60))
    pool = clouds(rng, side, log_uniform(rng, 6, 40), 3) - np.float32(0.5)
    return lit(softened(picture, rng.uniform(0.4, 2.5)), pool * np.float32(rng.uniform(0.1, 0.6)))


def damask(rng: np.random.Generator, side: int) -> Picture:
    """Return a piece of another print mirrored both ways: damasks, medallions, borders."""
    piece = side // int(rng.choice([2, 2, 4, 6, 8, 12]))
    printed = tossed(rng, side, tonal=True) if rng.random() < 0.5 else florals(rng, side)
    start = int(rng.integers(side - piece + 1))
    quarter = printed[start : start + piece, start : start + piece]
    half = np.concatenate([quarter, quarter[:, ::-1]], axis=1)
    whole = np.concatenate([half, half[::-1]], axis=0)
    return _repeated(whole, side)


def vines(rng: np.random.Generator, side: int) -> Picture:
    """Return climbing vines: waves with leaves and blooms along them."""
    colours = palette(rng, 5, tonal=bool(rng.random() < 0.3))
    n = int(rng.choice([2, 3, 4, 6]))
    repeat = side // n
    stems = int(rng.integers(1, 4))
    picture = np.full((side, repeat, 3), colours.ground, np.uint8)
    waves = int(rng.choice([1, 2, 3, 4]))
    swing = repeat / stems * rng.uniform(0.15, 0.45)
    y = np.arange(0.0, side + 1.0, 3.0)
    leaf = Layer(blade(1.0, rng.uniform(0.3, 0.7)), 1)
    bloom = FLOWERS[int(rng.integers(len(FLOWERS)))](rng)
    size = repeat / stems * rng.uniform(0.12, 0.3)
    for k in range(stems):
        phase = rng.uniform(0, 6.283)
        x = (k + 0.5) * repeat / stems + swing * np.sin(2 * np.pi * waves * y / side + phase)
        line = np.column_stack([x, y]).astype(np.float32)
        lay(picture, (Layer(line, 0, max(1.0, size * 0.15)),), colours.inks, (0, 0), 1.0)
        for m in range(0, len(line) - 1, max(2, int(size * rng.uniform(0.25, 0.6)))):
            step = line[m + 1] - line[m]
            way = float(np.arctan2(step[1], step[0])) + np.pi / 2 + rng.choice([-0.9, 0.9])
            at = (float(line[m, 0]), float(line[m, 1]))
            lay(picture, (leaf,), colours.inks, at, size, way)
            if rng.random() < 0.12:
                lay(picture, bloom, colours.inks[2:], at, size * 0.9, way)
    wide = np.tile(picture, (1, n, 1))
    return wide if rng.random() < 0.6 else np.ascontiguousarray(wide.transpose(1, 0, 2))


def toile(rng: np.random.Generator, side: int) -> Picture:
    """Return line drawings in one ink, loosely strewn."""
    colours = palette(rng, 1)
    picture = np.full((side, side, 3), colours.ground, np.uint8)
    figure = log_uniform(rng, 40, 160) * side / 384
    for x, y in spread(rng, side, figure * rng.uniform(0.7, 1.1), 24):
        shape = SHAPES[int(rng.integers(len(SHAPES)))](rng)
        radius = figure / 2 * rng.uniform(0.6, 1.1)
        lay(picture, shape, colours.inks, (x, y), radius, rng.normal(0, 0.4), line_px=1)
        if rng.random() < 0.5:
            lines = np.linspace(-0.6, 0.6, int(rng.integers(4, 12)))
            hatch = tuple(
                Layer(turned(np.array([[-0.5, v], [0.5, v]], np.float32), 0.8), 0, 0.01)
                for v in lines
            )
            lay(picture, hatch, colours.inks, (x, y), radius, rng.uniform(0, 3))
    return picture


def batik_figures(rng: np.random.Generator, side: int) -> Picture:
    """Return figures left light, or overdyed, in a mottled wash."""
    mask = np.zeros((side, side, 3), np.uint8)
    figure = log_uniform(rng, 20, 160) * side / 384
    shapes = [SHAPES[int(rng.integers(16))](rng) for _ in range(2)]
    line = int(rng.integers(1, 4)) if rng.random() < 0.4 else 0
    for x, y in spread(rng, side, figure * rng.uniform(0.7, 1.3), 60):
        shape = shapes[int(rng.integers(2))]
        inks = [(255, 0, 0), (170, 0, 0), (60, 0, 0)]
        lay(mask, shape, inks, (x, y), figure / 2, rng.uniform(0, 6.283), line_px=line)
    plane = mask[..., 0].astype(np.float32) * np.float32(rng.uniform(0.4, 1.0) / 255)
    colours = palette(rng, 4, tonal=bool(rng.random() < 0.5))
    wash = washed(clouds(rng, side, log_uniform(rng, 2, 12), 3), colours.inks[:3])
    return over(wash, plane, colours.ground)
