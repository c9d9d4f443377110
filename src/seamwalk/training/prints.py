"""Printed cottons for the training pictures: one call, one swatch that repeats without a joint.

Kinds are drawn by how often a quilter's cupboard holds them; each kind then draws its own scale,
colours and contrast from wide ranges. At last the cloth itself: weave, ink that missed or bled,
fading.
"""

from dataclasses import dataclass

import numpy as np

from seamwalk.training import print_geometric as geometric
from seamwalk.training import print_grounds as grounds
from seamwalk.training import print_motifs as motifs
from seamwalk.training import print_patchwork as patchwork
from seamwalk.training import print_pictures as pictures
from seamwalk.training.print_colours import Picture
from seamwalk.training.print_grounds import lit, noise, softened
from seamwalk.training.print_pictures import Print

SIDE = 384
"""Side of a swatch, pixels."""

KINDS: tuple[tuple[Print, float], ...] = (
    (grounds.solid, 11.0),
    (grounds.tonal, 8.0),
    (grounds.hand_dyed, 4.0),
    (grounds.batik, 3.0),
    (grounds.marble, 2.5),
    (grounds.grunge, 4.0),
    (grounds.crosshatch, 3.0),
    (grounds.ombre, 1.5),
    (grounds.specks, 2.0),
    (motifs.tone_on_tone, 13.0),
    (motifs.tossed, 18.0),
    (motifs.florals, 11.0),
    (motifs.damask, 3.0),
    (motifs.vines, 3.0),
    (motifs.toile, 2.5),
    (motifs.batik_figures, 3.0),
    (geometric.stripes, 6.0),
    (geometric.woven, 6.0),
    (geometric.chevron, 2.0),
    (geometric.checks, 2.0),
    (geometric.dots, 6.0),
    (geometric.lattice, 5.0),
    (geometric.scallops, 1.5),
    (geometric.hexagons, 2.0),
    (geometric.skin, 1.5),
    (geometric.scribbles, 2.0),
    (geometric.border_stripe, 1.5),
    (pictures.lettering, 3.0),
)
"""Kinds of print and their weights: common practice, no source."""

HARD_KINDS: tuple[tuple[Print, float], ...] = (
    (patchwork.patchwork, 6.0),
    (patchwork.tessellation, 2.5),
    (patchwork.building, 1.5),
    (pictures.collage, 5.0),
    (pictures.panel, 3.0),
    (pictures.signs, 3.0),
)
"""Prints with straight edges, pictures and large words, which look like patchwork."""


@dataclass(frozen=True, slots=True)
class ClothSettings:
    """How the cloth shows through the print.

    Attributes
    ----------
    weave : float
        Largest standard deviation of the threads' brightness, of 1.
    worn : float
        Largest standard deviation of slow changes of brightness, of 1.
    bled_px : float
        Largest blur of the print's edges, pixels of the swatch.
    """

    weave: float = 0.05
    worn: float = 0.04
    bled_px: float = 1.2


SETTINGS = ClothSettings()


def choose(rng: np.random.Generator, *, hard: bool = True) -> Print:
    """Draw a kind of print.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    hard : bool
        False leaves `HARD_KINDS` out.
    """
    kinds = KINDS + HARD_KINDS if hard else KINDS
    weights = np.cumsum([weight for _, weight in kinds])
    return kinds[int(np.searchsorted(weights, rng.random() * weights[-1], side="right"))][0]


def swatch(rng: np.random.Generator, *, hard: bool = True) -> Picture:
    """Return a printed cotton (384, 384, 3), sRGB, that wraps round both ways.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    hard : bool
        False leaves out printed patchwork and stones, collages, panels and signs.
    """
    return finished(rng, choose(rng, hard=hard)(rng, SIDE))


def finished(rng: np.random.Generator, picture: Picture) -> Picture:
    """Return `picture` (side, side, 3) as it shows on cloth: bled, woven, worn, faded."""
    side = picture.shape[0]
    if rng.random() < 0.35:
        picture = softened(picture, float(rng.uniform(0.3, SETTINGS.bled_px)))
    if rng.random() < 0.7:
        share = rng.random() ** 2 * SETTINGS.weave
        thread = noise(rng, side, side / 2, side / 8) + noise(rng, side, side / 8, side / 2)
        bright = thread * np.float32(share / 1.41)
        if rng.random() < 0.3:
            worn = rng.random() * SETTINGS.worn
            bright += noise(rng, side, rng.uniform(2, 12)) * np.float32(worn)
        picture = lit(picture, bright)
    if rng.random() < 0.12:
        fade, towards = np.float32(rng.uniform(0.6, 0.95)), rng.uniform(60, 235)
        picture = np.asarray(picture * fade + np.float32(towards) * (1 - fade), np.uint8)
    return np.ascontiguousarray(picture)
