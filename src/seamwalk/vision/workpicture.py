"""The flat picture at the resolution that seams are looked for, in CIELAB from linear light."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class WorkPicture:
    """A smaller picture of the top.

    Attributes
    ----------
    lab : (h, w, 3) float32
        CIELAB (D65), averaged in linear light.
    inside : (h, w) bool
        The top.
    px_per_in : float
        Resolution.
    """

    lab: NDArray[np.float32]
    inside: NDArray[np.bool_]
    px_per_in: float


def lab_of(rgb: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.float32]:
    """Return CIELAB (h, w, 3) of an sRGB picture resized to `size` (width, height).

    Averaging is done in linear light, so a fine check keeps the lightness that the eye sees
    from afar (IEC 61966-2-1 transfer function).
    """
    code = np.arange(256) / 255.0
    table = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    linear = table.astype(np.float32)[rgb]
    small = cv2.resize(linear, size, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.cvtColor(np.asarray(small, dtype=np.float32), cv2.COLOR_LRGB2Lab))


def to_work(
    rgb: NDArray[np.uint8],
    inside: NDArray[np.bool_],
    px_per_in: float,
    work_px_per_in: float,
) -> WorkPicture:
    """Return `rgb` at `work_px_per_in`, or as it is if it has less."""
    h, w = inside.shape
    k = min(1.0, work_px_per_in / px_per_in)
    size = (max(8, round(w * k)), max(8, round(h * k)))
    share = cv2.resize(inside.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    return WorkPicture(lab_of(rgb, size), np.asarray(share) > 0.5, px_per_in * size[0] / w)


def fill_outside(picture: NDArray[np.float32], inside: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return `picture` (h, w, C) with the nearest inner pixel repeated outside.

    So the raw edge makes no contrast of its own; the outermost pixel inside counts as outside,
    since it is mixed with the floor.
    """
    core = np.asarray(cv2.erode(inside.astype(np.uint8), np.ones((3, 3), np.uint8)))
    if not core.any():
        core = inside.astype(np.uint8)
    if not core.any():
        return picture
    _, nearest = cv2.distanceTransformWithLabels(
        1 - core, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    index = np.asarray(nearest)
    table = np.zeros((int(index.max()) + 1, picture.shape[2]), dtype=np.float32)
    table[index[core > 0]] = picture[core > 0]
    out: NDArray[np.float32] = table[index]
    return out
