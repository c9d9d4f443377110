"""Colour and texture on the two sides of a line, for every direction.

A seam is a line with unlike cloth on its two sides.  Prints have edges of their own, so the
difference of the two sides is set against how much the cloth changes within each side, and
against how much edge there is all around.  The picture is turned so that the line looked for lies
along the rows; windows above and below are then plain box means, whatever the direction.

References
----------
Martin, Fowlkes and Malik, Learning to detect natural image boundaries using local brightness,
color, and texture cues, IEEE PAMI 26(5), 2004: two half windows, textons, logistic combination.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class ContrastSettings:
    """Windows and scales of the two-sided contrast."""

    directions: int = 16
    """Directions over half a turn; 11.25° apart, so a window 1 in long strays 0.05 in at most."""
    narrow_in: tuple[float, float] = (0.22, 0.45)
    """Depth and length of one side's small window, inches: sharp where patches are small."""
    wide_in: tuple[float, float] = (0.5, 0.9)
    """Depth and length of one side's large window, inches: more than one repeat of most prints."""
    relief_px_per_in: float = 16.0
    """Resolution at which the ditch of a seam, 1/20 in wide, still shows."""
    relief_reach_in: float = 0.12
    """Distance from the ditch at which its surroundings are looked at, inches."""
    relief_lengths_in: tuple[float, float] = (1.0, 2.5)
    """Lengths over which the line of a ditch is gathered, inches."""
    relief_noise_lab: float = 0.15
    """Mean difference along a line that means nothing, CIELAB units."""
    gap_px: int = 1
    """Rows left out on each side of the line: they show both fabrics."""
    noise_lab: float = 2.0
    """Lightness noise that no window averages away (light, weave, JPEG), CIELAB units."""
    words: int = 16
    """Colour words that the whole top is described with; prints have two to five colours."""
    word_sigma_lab: float = 6.0
    """Softness of a colour's membership in a word, CIELAB units."""


FEATURES = (
    "narrow",
    "wide",
    "words",
    "crispness",
    "busy",
    "ditch",
    "long ditch",
    "step",
    "long step",
)
"""Names of the measures that `two_sided` gives, in order."""


def colour_words(lab: Float, inside: NDArray[np.bool_], settings: ContrastSettings) -> Float:
    """Return each pixel's membership in the top's main colours, (H, W, words) float32, sum 1.

    Parameters
    ----------
    lab : (H, W, 3) float32
        CIELAB.
    inside : (H, W) bool
        Pixels that the words are learned from.

    Notes
    -----
    Lloyd's k-means from a farthest-first start on an even sample: no chance in it.
    """
    pool = lab[inside]
    sample = pool[:: max(1, len(pool) // 4000)].astype(np.float32)
    centres = [sample.mean(axis=0)]
    gap = ((sample - centres[0]) ** 2).sum(axis=1)
    for _ in range(settings.words - 1):
        # Not the farthest of all: single stray pixels must not take a word each.
        rank = int(0.97 * (len(gap) - 1))
        i = int(np.argpartition(gap, rank)[rank])
        centres.append(sample[i])
        gap = np.minimum(gap, ((sample - sample[i]) ** 2).sum(axis=1))
    c = np.array(centres, dtype=np.float32)
    for _ in range(8):
        nearest = _squared_distance(sample, c).argmin(axis=1)
        count = np.bincount(nearest, minlength=len(c)).astype(np.float32)
        total = np.stack([np.bincount(nearest, sample[:, k], len(c)) for k in range(3)], axis=1)
        c = np.where(count[:, None] > 0, total / np.maximum(count, 1)[:, None], c)
        c = c.astype(np.float32)
    d2 = _squared_distance(lab.reshape(-1, 3), c)
    d2 -= d2.min(axis=1, keepdims=True)
    weight = np.exp(d2 * np.float32(-0.5 / settings.word_sigma_lab**2))
    weight /= weight.sum(axis=1, keepdims=True)
    out: Float = weight.reshape(*lab.shape[:2], len(c)).astype(np.float32)
    return out


def _squared_distance(a: Float, b: Float) -> Float:
    out: Float = (a**2).sum(axis=1)[:, None] - 2 * a @ b.T + (b**2).sum(axis=1)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Turned:
    """A frame in which lines of one direction lie along the rows.

    Attributes
    ----------
    turned_from_flat : (2, 3) float64
        Affine, (col, row) to (col, row).
    size : (int, int)
        Width and height of the turned frame.
    flat_size : (int, int)
        Width and height of the flat picture.
    angle_rad : float
        Direction of the lines in the flat picture, x towards y.
    """

    turned_from_flat: NDArray[np.float64]
    size: tuple[int, int]
    flat_size: tuple[int, int]
    angle_rad: float

    @classmethod
    def by(cls, angle_rad: float, shape: tuple[int, int]) -> "Turned":
        """Return the frame for lines at `angle_rad` in a picture of `shape` (rows, cols)."""
        h, w = shape
        c, s = float(np.cos(angle_rad)), float(np.sin(angle_rad))
        width = int(np.ceil(w * abs(c) + h * abs(s))) + 2
        height = int(np.ceil(w * abs(s) + h * abs(c))) + 2
        turn = np.array([[c, s], [-s, c]])
        shift = np.array([(width - 1) / 2, (height - 1) / 2]) - turn @ [(w - 1) / 2, (h - 1) / 2]
        return cls(np.column_stack([turn, shift]), (width, height), (w, h), angle_rad)

    def turn(self, picture: Float) -> Float:
        """Return `picture` (H, W, …) in this frame, borders repeated."""
        return _warp(picture, self.turned_from_flat, self.size, cv2.BORDER_REPLICATE)

    def back(self, picture: Float, shape: tuple[int, int]) -> Float:
        """Return a turned `picture` in the flat frame of `shape` (rows, cols)."""
        flat_from_turned = np.linalg.inv(np.vstack([self.turned_from_flat, [0, 0, 1]]))[:2]
        return _warp(picture, flat_from_turned, (shape[1], shape[0]), cv2.BORDER_CONSTANT)


def _warp(
    picture: Float, matrix: NDArray[np.float64], size: tuple[int, int], border: int
) -> Float:
    if picture.ndim == 2 or picture.shape[2] <= 4:
        return np.asarray(
            cv2.warpAffine(picture, matrix, size, flags=cv2.INTER_LINEAR, borderMode=border)
        )
    parts = [
        _warp(np.ascontiguousarray(picture[..., k : k + 4]), matrix, size, border)
        for k in range(0, picture.shape[2], 4)
    ]
    return np.concatenate([p if p.ndim == 3 else p[..., None] for p in parts], axis=2)


def directions(settings: ContrastSettings) -> NDArray[np.float64]:
    """Return the directions looked for, radians, 0 up to pi."""
    return np.arange(settings.directions) * np.pi / settings.directions


def two_sided(
    lab: Float, words: Float, lightness: Float, px_per_in: float, settings: ContrastSettings
) -> Iterator[tuple[Turned, Float]]:
    """Yield, for each direction, the turned frame and its measures (len(FEATURES), H', W').

    Parameters
    ----------
    lab : (H, W, 3) float32
        CIELAB of the flat picture.
    words : (h, w, K) float32
        Colour words of the same picture, smaller.
    lightness : (H2, W2) float32
        CIELAB lightness of the same picture, larger.
    px_per_in : float
        Resolution of `lab`.
    """
    shape = (lab.shape[0], lab.shape[1])
    moments = np.concatenate([lab, lab**2], axis=2)
    fine = cv2.GaussianBlur(lab[..., 0], (0, 0), 0.12 * px_per_in)
    energy = np.abs(lab[..., 0] - fine)
    busy = cv2.GaussianBlur(energy, (0, 0), 0.6 * px_per_in)
    stack = np.concatenate([moments, busy[..., None]], axis=2)
    for angle in directions(settings):
        frame = Turned.by(float(angle), shape)
        rows = frame.turn(stack)
        narrow, crisp = _contrast(rows[..., :6], settings.narrow_in, px_per_in, settings)
        narrow = _up_to_the_end(narrow, settings.narrow_in, px_per_in)
        crisp = _up_to_the_end(crisp, settings.narrow_in, px_per_in)
        wide, _ = _contrast(rows[..., :6], settings.wide_in, px_per_in, settings)
        wide = _up_to_the_end(wide, settings.wide_in, px_per_in)
        small = Turned.by(float(angle), (words.shape[0], words.shape[1]))
        k = words.shape[0] / shape[0]
        word = _word_distance(small.turn(words), settings.wide_in, px_per_in * k, settings)
        word = _fit(_up_to_the_end(word, settings.wide_in, px_per_in * k), small, frame)
        large = Turned.by(float(angle), (lightness.shape[0], lightness.shape[1]))
        k = lightness.shape[0] / shape[0]
        lines = _fit(_relief(large.turn(lightness), px_per_in * k, settings), large, frame)
        yield (
            frame,
            np.stack(
                [narrow, wide, word, crisp, rows[..., 6], *(lines[..., i] for i in range(4))]
            ),
        )


def _fit(picture: Float, source: Turned, target: Turned) -> Float:
    """Return a turned picture in the frame of the same direction at another resolution."""
    zoom = np.eye(3)
    for axis in (0, 1):
        k = target.flat_size[axis] / source.flat_size[axis]
        zoom[axis, axis], zoom[axis, 2] = k, 0.5 * k - 0.5
    to_target = np.vstack([target.turned_from_flat, [0, 0, 1]])
    from_source = np.linalg.inv(np.vstack([source.turned_from_flat, [0, 0, 1]]))
    matrix = (to_target @ zoom @ from_source)[:2]
    return _warp(picture, matrix, target.size, cv2.BORDER_REPLICATE)


def _sides(rows: Float, depth: int, length: int, gap: int) -> tuple[list[Float], list[Float], int]:
    """Return the window means above and below each row, channel by channel, and the first row.

    Row i of the results belongs to row first + i; rows nearer to the border than a window have
    none.
    """
    mean = np.asarray(cv2.boxFilter(rows, -1, (length, depth), borderType=cv2.BORDER_REPLICATE))
    # A window of `depth` rows centred on row r covers r − depth // 2 … r + (depth − 1) // 2.
    up, down = gap + (depth - 1) // 2 + 1, gap + depth // 2 + 1
    planes = [np.asarray(p, dtype=np.float32) for p in cv2.split(mean)]
    n = mean.shape[0]
    stop = max(n - down, up)
    return [p[: stop - up] for p in planes], [p[up + down : stop + down] for p in planes], up


def _window(size_in: tuple[float, float], px_per_in: float) -> tuple[int, int]:
    depth = max(2, round(size_in[0] * px_per_in))
    return depth, max(3, round(size_in[1] * px_per_in)) | 1


def _up_to_the_end(measure: Float, size_in: tuple[float, float], px_per_in: float) -> Float:
    """Return the largest of a measure here and half a window further either way along the row.

    Where four fabrics meet, a window across the junction sees both in turn on each side and no
    contrast at all; one that ends at the junction sees the seam.
    """
    reach = max(1, round(size_in[1] * px_per_in / 2))
    taps = np.zeros((1, 2 * reach + 1), np.uint8)
    taps[0, [0, reach, -1]] = 1
    return np.asarray(cv2.dilate(measure, taps), dtype=np.float32)


def _placed(part: Float, first: int, rows: int) -> Float:
    """Return `part` as rows first, first + 1, … of a picture with `rows` rows, else 0."""
    out = np.zeros((rows, part.shape[1]), dtype=np.float32)
    out[first : first + len(part)] = part
    return out


def _contrast(
    rows: Float, size_in: tuple[float, float], px_per_in: float, settings: ContrastSettings
) -> tuple[Float, Float]:
    """Return the colour difference set against the spread within the sides, and the bare one."""
    depth, length = _window(size_in, px_per_in)
    above, below, first = _sides(rows, depth, length, settings.gap_px)
    total = np.full_like(above[0], 1e-6)
    along = np.zeros_like(total)
    for k in range(3):
        squared = (above[k] - below[k]) ** 2
        spread = above[3 + k] + below[3 + k] - above[k] ** 2 - below[k] ** 2
        total += squared
        along += squared * np.maximum(spread, 0)
    noise = np.float32(settings.noise_lab)
    distance = np.sqrt(total / (along / (total + np.float32(1e-3)) + noise**2))
    bare = np.sqrt(total) / noise
    n = len(rows)
    return _placed(np.log1p(distance), first, n), _placed(np.log1p(bare), first, n)


def _word_distance(
    rows: Float, size_in: tuple[float, float], px_per_in: float, settings: ContrastSettings
) -> Float:
    """Return the chi-square distance, 0 to 1, of the colour words on the two sides."""
    depth, length = _window(size_in, px_per_in)
    total: Float | None = None
    first = 0
    for k in range(0, rows.shape[2], 4):
        above, below, first = _sides(np.ascontiguousarray(rows[..., k : k + 4]), depth, length, 0)
        for a, b in zip(above, below, strict=True):
            part = (a - b) ** 2 / (a + b + np.float32(1e-4))
            total = part if total is None else total + part
    assert total is not None
    return _placed(total * np.float32(0.5), first, len(rows))


def _relief(lightness: Float, px_per_in: float, settings: ContrastSettings) -> Float:
    """Return how surely a dark ditch or a step lies along each row, (H', W', 4).

    A t statistic of the profile's mean along the line: a print's edges differ from place to
    place along it, a ditch does not.
    """
    reach = max(1, round(settings.relief_reach_in * px_per_in))
    n = len(lightness)
    padded = np.pad(lightness, ((reach, reach), (0, 0)), mode="edge")
    up1, down1 = padded[reach - 1 : reach - 1 + n], padded[reach + 1 : reach + 1 + n]
    ditch: Float = np.asarray(
        (padded[:n] + padded[2 * reach :] - lightness - (up1 + down1) / 2) / 2, dtype=np.float32
    )
    step: Float = down1 - up1
    short, long = settings.relief_lengths_in
    found = []
    for profile, sign in ((ditch, False), (step, True)):
        squared = np.asarray(profile**2, dtype=np.float32)
        for length_in in (short, long):
            t = _steady(
                np.asarray(profile, dtype=np.float32), squared, length_in, px_per_in, settings
            )
            found.append(np.log1p(np.abs(t) if sign else np.maximum(t, 0)))
    lines = cv2.merge(found)
    # The ditch is thinner than a pixel of the coarser frame: keep it from falling between rows.
    return np.asarray(cv2.dilate(lines, np.ones((3, 1), np.uint8)), dtype=np.float32)


def _steady(
    profile: Float,
    squared: Float,
    length_in: float,
    px_per_in: float,
    settings: ContrastSettings,
) -> Float:
    length = max(3, round(length_in * px_per_in)) | 1
    mean = np.asarray(cv2.boxFilter(profile, -1, (length, 1), borderType=cv2.BORDER_REPLICATE))
    square = np.asarray(cv2.boxFilter(squared, -1, (length, 1), borderType=cv2.BORDER_REPLICATE))
    # Blur and resampling tie neighbouring pixels: about half of them count.
    error = np.maximum(square - mean**2, 0) / np.float32(length / 2)
    out: Float = mean / np.sqrt(error + np.float32(settings.relief_noise_lab**2))
    return out
