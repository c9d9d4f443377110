"""Prints with lettering, pictures and straight edges, which are no seams.

The hard ones look like patchwork: collages of labels and stamps, panels with frames, signs with
large words. None of their edges has an allowance beneath it.
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from seamwalk.training.print_colours import Ink, Picture, dye, inks_of, log_uniform, palette
from seamwalk.training.print_geometric import checks, dots, lattice, stripes, woven
from seamwalk.training.print_grounds import clouds, grunge, hand_dyed, solid, tonal, washed
from seamwalk.training.print_laying import lay, spread
from seamwalk.training.print_motifs import florals, tossed
from seamwalk.training.print_things import SHAPES, box

Print = Callable[[np.random.Generator, int], Picture]

FONTS = (0, 1, 2, 3, 4, 5, 6, 7)
"""OpenCV's stroke fonts, after Hershey (1967)."""

SYLLABLES = (
    "ba", "be", "bo", "ca", "co", "da", "de", "di", "do", "el", "en", "fa", "fi", "go", "ha", "he",
    "in", "ka", "la", "le", "li", "lo", "ma", "me", "mi", "mo", "na", "ne", "no", "or", "pa", "pe",
    "po", "qua", "ra", "re", "ri", "ro", "sa", "se", "si", "so", "sta", "ta", "te", "ti", "to",
    "tri", "un", "va", "ve", "vi", "wa", "we", "xi", "ya", "zo",
)  # fmt: skip

PLAIN: tuple[Print, ...] = (
    solid, solid, tonal, tossed, tossed, florals, stripes, woven, checks, dots, lattice, grunge,
)  # fmt: skip


def word(rng: np.random.Generator) -> str:
    """Return a word that means nothing, or a number."""
    if rng.random() < 0.15:
        return str(int(log_uniform(rng, 1, 3000)))
    text = "".join(rng.choice(SYLLABLES, int(rng.integers(1, 5))))
    style = rng.random()
    return text.upper() if style < 0.3 else text.capitalize() if style < 0.5 else text


@dataclass(frozen=True, slots=True)
class Lettering:
    """How a word is set: one of OpenCV's fonts, its scale and the width of its strokes."""

    font: int
    scale: float
    thick: int

    def wide(self, text: str) -> int:
        """Return the width of `text`, pixels."""
        return int(cv2.getTextSize(text, self.font, self.scale, self.thick)[0][0])


def lettering_of(rng: np.random.Generator, high: float) -> Lettering:
    """Draw a font for letters about `high` pixels high."""
    thick = max(1, round(high * rng.uniform(0.04, 0.2)))
    return Lettering(int(rng.choice(FONTS)), high / 22.0, thick)


def write(
    rng: np.random.Generator,
    picture: Picture,
    text: str,
    place: tuple[int, int],
    high: float,
    ink: Ink,
) -> int:
    """Write `text` into `picture` and return its width, pixels; 0 if it does not fit.

    Parameters
    ----------
    rng : numpy.random.Generator
        Draws the font.
    picture : (H, W, 3) uint8
        Changed in place.
    text : str
        What to write.
    place : (int, int)
        x of the first letter and y of the base line.
    high : float
        Height of letters, pixels.
    ink : Ink
        Colour.
    """
    face = lettering_of(rng, high)
    wide = face.wide(text)
    if place[0] + wide > picture.shape[1]:
        return 0
    cv2.putText(picture, text, place, face.font, face.scale, ink, face.thick, cv2.LINE_AA)
    return wide


def lettering(rng: np.random.Generator, side: int) -> Picture:
    """Return rows of words, small as newsprint or large, all one way or strewn."""
    colours = palette(rng, 4, tonal=bool(rng.random() < 0.25))
    high = log_uniform(rng, 5, 70) * side / 384
    lines = max(1, int(side / (high * rng.uniform(1.5, 2.6))))
    drawn = max(1, min(lines, 16))
    rows = []
    pitch = side // lines
    one_ink = rng.random() < 0.6
    mixed = rng.random() < 0.3
    for _ in range(drawn):
        row = np.full((pitch, side, 3), colours.ground, np.uint8)
        x = 0
        tall = high * (rng.uniform(0.5, 1.0) if mixed else 1.0)
        for _ in range(200):
            ink = colours.inks[0 if one_ink else int(rng.integers(4))]
            wide = write(rng, row, word(rng), (x, int(pitch * 0.72)), tall, ink)
            if wide == 0 and (x > 0 or rng.random() < 0.2):
                break
            x += wide + int(tall * 0.6)
        rows.append(np.roll(row, int(rng.integers(side)), axis=1))
    order = np.arange(lines) % drawn
    text = np.concatenate([rows[k] for k in order])
    left = side - text.shape[0]
    if left:
        text = np.concatenate([text, np.full((left, side, 3), colours.ground, np.uint8)])
    return text if rng.random() < 0.8 else np.ascontiguousarray(text.transpose(1, 0, 2)[:, ::-1])


def collage(rng: np.random.Generator, side: int) -> Picture:
    """Return cards, flags, stamps and labels with straight edges, strewn over a print."""
    cloths = [PLAIN[int(rng.integers(len(PLAIN)))](rng, side // 2) for _ in range(3)]
    picture = np.tile(cloths[0], (2, 2, 1))
    sheets = [*cloths[1:], solid(rng, side // 2), solid(rng, side // 2)]
    size = log_uniform(rng, 24, 150) * side / 384
    frame = inks_of(dye(rng)[None])[0]
    upright = rng.random() < 0.4
    for x, y in spread(rng, side, size * rng.uniform(0.6, 1.3), 30):
        card = _card(rng, sheets[int(rng.integers(len(sheets)))], size, frame)
        angle = rng.normal(0, 3) if upright else rng.uniform(0, 360)
        _paste(picture, card, x, y, angle)
    return picture


def _card(rng: np.random.Generator, sheet: Picture, size: float, frame: Ink) -> Picture:
    """Return a small straight-edged picture: a piece of a print, a flag, a label with a word."""
    high = int(np.clip(size * rng.uniform(0.5, 1.0), 8, sheet.shape[0]))
    wide = int(np.clip(size * rng.uniform(0.7, 1.3), 8, sheet.shape[1]))
    card = sheet[:high, :wide].copy()
    kind = rng.random()
    inks = palette(rng, 3).inks
    if kind < 0.3:
        parts = int(rng.integers(2, 5))
        for k in range(parts):
            card[:, k * wide // parts : (k + 1) * wide // parts] = inks[k % 3]
        card = card if rng.random() < 0.5 else np.ascontiguousarray(card[:, ::-1])
    elif kind < 0.6:
        write(rng, card, word(rng), (3, int(high * 0.65)), high * rng.uniform(0.25, 0.5), inks[0])
    elif kind < 0.8:
        shape = SHAPES[int(rng.integers(len(SHAPES)))](rng)
        centre = np.array([wide / 2, high / 2])
        lay(card, shape, inks, (centre[0], centre[1]), min(wide, high) * 0.38)
    if rng.random() < 0.6:
        edge = max(1, int(size * rng.uniform(0.02, 0.08)))
        cv2.rectangle(card, (0, 0), (wide - 1, high - 1), frame, edge)
    return card


def _paste(picture: Picture, card: Picture, x: float, y: float, degrees: float) -> None:
    """Lay `card`, turned, into `picture` about (x, y), across its edges too."""
    high, wide = card.shape[:2]
    reach = int(np.hypot(high, wide)) + 4
    matrix = np.asarray(cv2.getRotationMatrix2D((wide / 2, high / 2), degrees, 1.0), np.float64)
    matrix[:, 2] += reach / 2 - np.array([wide / 2, high / 2])
    turned = cv2.warpAffine(card, matrix, (reach, reach), flags=cv2.INTER_LINEAR)
    mask = cv2.warpAffine(np.full((high, wide), 255, np.uint8), matrix, (reach, reach))
    side = picture.shape[0]
    rows = (np.arange(reach) + int(y) - reach // 2) % side
    columns = (np.arange(reach) + int(x) - reach // 2) % side
    place = np.ix_(rows, columns)
    share = mask[..., None].astype(np.float32) / np.float32(255)
    old = picture[place].astype(np.float32)
    picture[place] = (old + (turned.astype(np.float32) - old) * share + 0.5).astype(np.uint8)


def panel(rng: np.random.Generator, side: int) -> Picture:
    """Return framed pictures in a grid: figures, sky and ground, or words, in each frame."""
    n = int(rng.choice([1, 2, 2, 3, 4]))
    ground = PLAIN[int(rng.integers(len(PLAIN)))](rng, side // 2)
    picture = np.tile(ground, (2, 2, 1))
    cell = side // n
    inset = int(cell * rng.uniform(0.02, 0.15))
    frames = palette(rng, 3).inks
    for j in range(n):
        for i in range(n):
            x0, y0, x1, y1 = (
                i * cell + inset,
                j * cell + inset,
                (i + 1) * cell - inset,
                (j + 1) * cell - inset,
            )
            for k in range(int(rng.integers(0, 3))):
                cv2.rectangle(picture, (x0, y0), (x1, y1), frames[k], -1)
                inner = max(2, int(cell * rng.uniform(0.01, 0.06)))
                x0, y0, x1, y1 = x0 + inner, y0 + inner, x1 - inner, y1 - inner
            if min(x1 - x0, y1 - y0) > 8:
                picture[y0:y1, x0:x1] = _scene(rng, cell)[: y1 - y0, : x1 - x0]
    return picture


def _scene(rng: np.random.Generator, side: int) -> Picture:
    """Return one picture: land under a sky with figures, or a wash with one figure or word."""
    colours = palette(rng, 6)
    if rng.random() < 0.5:
        ramp = np.linspace(0, 1, side, dtype=np.float32)
        scene = washed(np.repeat(ramp[:, None], side, 1), (colours.ground, colours.inks[0]))
        level = int(side * rng.uniform(0.5, 0.8))
        scene[level:] = colours.inks[1]
        for _ in range(int(rng.integers(1, 7))):
            shape = SHAPES[int(rng.integers(len(SHAPES)))](rng)
            at = (rng.uniform(0.1, 0.9) * side, level + rng.uniform(-0.2, 0.2) * side)
            lay(scene, shape, colours.inks[2:], at, side * rng.uniform(0.08, 0.25))
        return scene
    scene = washed(clouds(rng, side, 3, 2), (colours.ground, colours.inks[0]))
    if rng.random() < 0.3:
        write(rng, scene, word(rng), (side // 10, side // 2), side * 0.2, colours.inks[1])
        return scene
    shape = SHAPES[int(rng.integers(len(SHAPES)))](rng)
    lay(scene, shape, colours.inks[1:], (side / 2, side / 2), side * rng.uniform(0.25, 0.42))
    return scene


def signs(rng: np.random.Generator, side: int) -> Picture:
    """Return large words with bars, boxes and figures: feed sacks, signs, numbers."""
    picture = tonal(rng, side) if rng.random() < 0.6 else hand_dyed(rng, side)
    inks = palette(rng, 4).inks
    y = 0
    while y < side - 12:
        high = min(log_uniform(rng, 20, 150) * side / 384, side - y)
        if rng.random() < 0.3:
            points = box(side / 2, y + high / 2, side * rng.uniform(0.5, 0.95), high * 0.9)
            cv2.fillPoly(picture, [points.astype(np.int32)], inks[int(rng.integers(4))])
        row = picture[y : y + int(high)]
        x = int(rng.uniform(0, 0.3) * side)
        for _ in range(4):
            ink = inks[int(rng.integers(4))]
            if write(rng, row, word(rng), (x, int(high * 0.7)), high * 0.65, ink):
                break
            x //= 2
        y += int(high * rng.uniform(1.0, 1.3))
    return picture
