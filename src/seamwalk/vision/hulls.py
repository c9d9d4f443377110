"""Convex hulls of regions of pixels."""

import cv2
import numpy as np
from numpy.typing import NDArray


def hull_of(points: NDArray[np.float32]) -> tuple[NDArray[np.float32], float]:
    """Return the convex hull (K, 2) of points (N, 2) and its area, at least 1."""
    ring = np.asarray(cv2.convexHull(points.astype(np.float32)), np.float32).reshape(-1, 2)
    return ring, max(float(cv2.contourArea(ring)), 1.0)


def pixel_corners(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return corners of the first and last pixel of each row, (x, y) with pixel 0 from 0 to 1."""
    rows = np.flatnonzero(mask.any(axis=1))
    first = mask[rows].argmax(axis=1)
    last = mask.shape[1] - mask[rows][:, ::-1].argmax(axis=1)
    x = np.concatenate([first, last, first, last])
    y = np.concatenate([rows, rows, rows + 1, rows + 1])
    return np.stack([x, y], axis=1).astype(np.float32)
