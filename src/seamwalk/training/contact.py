"""Sheets of small pictures, to look at what is learned from and what was learned."""

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from torch import Tensor

GAP_PX = 4
"""White between pictures."""

QUALITY = 85
"""Of the JPEG: a sheet of a hundred small pictures stays near a megabyte."""


def as_rgb(picture: Tensor) -> NDArray[np.uint8]:
    """Return (H, W, 3) bytes from a (3, H, W) picture between 0 and 1."""
    values = picture.detach().float().clamp(0, 1).mul(255).round().byte()
    return np.ascontiguousarray(values.permute(1, 2, 0).cpu().numpy())


def as_heat(plane: Tensor) -> NDArray[np.uint8]:
    """Return (H, W, 3) bytes from a plane between 0 and 1, in the viridis palette."""
    values = plane.detach().float().clamp(0, 1).mul(255).round().byte().cpu().numpy()
    bgr = cv2.applyColorMap(np.ascontiguousarray(values), cv2.COLORMAP_VIRIDIS)
    return np.ascontiguousarray(bgr[:, :, ::-1])


def sheet(
    groups: Sequence[Sequence[NDArray[np.uint8]]], side_px: int, groups_per_row: int
) -> NDArray[np.uint8]:
    """Return one picture of all, those of a group side by side.

    Parameters
    ----------
    groups : sequence of sequences of (H, W, 3) uint8
        Groups of one length.
    side_px : int
        Of each small picture.
    groups_per_row : int
    """
    cells = [
        np.pad(
            cv2.resize(picture, (side_px, side_px), interpolation=cv2.INTER_AREA),
            ((0, GAP_PX), (0, GAP_PX), (0, 0)),
            constant_values=255,
        )
        for group in groups
        for picture in group
    ]
    per_row = groups_per_row * len(groups[0])
    empty = np.full_like(cells[0], 255)
    cells += [empty] * (-len(cells) % per_row)
    rows = [np.hstack(cells[k : k + per_row]) for k in range(0, len(cells), per_row)]
    return np.asarray(np.vstack(rows), np.uint8)


def write_jpeg(picture: NDArray[np.uint8], path: Path) -> None:
    """Write an sRGB picture."""
    coded, content = cv2.imencode(
        ".jpg", np.ascontiguousarray(picture[:, :, ::-1]), [cv2.IMWRITE_JPEG_QUALITY, QUALITY]
    )
    if not coded:
        raise ValueError(f"{path.name} could not be written as JPEG.")
    path.write_bytes(content.tobytes())
