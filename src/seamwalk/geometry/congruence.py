"""Congruence of pieced figures: the eight ways to lay a square down, and figures that agree.

A *figure* is a set of pieces, each told by its extent, its centroid about the figure's own and its
area.  Two figures agree in a pose when every piece of one lies on a piece of the other.  The poses
are the dihedral group of order eight: mirror or not, then quarter turns.

References
----------
The group and its composition are any algebra textbook's; figures are compared by features that
small errors move little, so no order of pieces has to be agreed on beforehand.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


class Pose(NamedTuple):
    """Mirror x about 0 (or not), then turn by quarters, x towards y."""

    quarter_turns: int
    mirrored: bool


POSES = tuple(Pose(q, m) for m in (False, True) for q in range(4))
"""All eight, plain turns first."""

QUARTER = np.array([[0.0, 1.0], [-1.0, 0.0]])
"""Row vectors (x, y) times this are turned by a quarter, x towards y."""


def matrix(pose: Pose) -> Floats:
    """Return the (2, 2) matrix by which row vectors are posed, ``p @ matrix``."""
    mirror = np.diag([-1.0 if pose.mirrored else 1.0, 1.0])
    out: Floats = np.round(mirror @ np.linalg.matrix_power(QUARTER, pose.quarter_turns))
    return out


MATRICES = tuple(matrix(p) for p in POSES)
"""The matrix of each pose."""


def posed(points: Points, pose: Pose) -> Points:
    """Return points (N, 2) posed about 0, 0."""
    out: Points = points @ matrix(pose)
    return out


_NUMBER = {m.astype(int).tobytes(): k for k, m in enumerate(MATRICES)}
COMPOSED = tuple(tuple(_NUMBER[(a @ b).astype(int).tobytes()] for b in MATRICES) for a in MATRICES)
"""``COMPOSED[a][b]`` is the number of the pose that does a first, then b."""

INVERSE = tuple(row.index(0) for row in COMPOSED)
"""``INVERSE[p]`` is the number of the pose that undoes p."""


def areas(points: Points, start: Indices) -> tuple[Floats, Points]:
    """Return areas (N,) and centroids (N, 2) of rings joined in one array, (K, 2).

    References
    ----------
    The surveyor's formula and its first moments, each ring from its own first point.
    """
    size = np.diff(np.append(start, len(points)))
    origin = np.repeat(points[start], size, axis=0)
    p = points - origin
    after = np.arange(len(points)) + 1
    after[start + size - 1] = start
    q = p[after]
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    twice = np.add.reduceat(cross, start)
    moment = np.add.reduceat((p + q) * cross[:, None], start, axis=0)
    safe = np.where(np.abs(twice) < 1e-12, 1.0, twice)
    area: Floats = np.abs(twice) / 2
    return area, points[start] + moment / (3 * safe[:, None])


def features(low: Points, high: Points, middle: Points, area: Floats) -> Floats:
    """Return what tells a piece within a figure, (..., 7): extent, centroid and √area."""
    return np.concatenate([low, high, middle, np.sqrt(area)[..., None]], axis=-1)


def posed_features(figure: Floats, pose: int) -> Floats:
    """Return the features (..., 7) of the pieces posed about 0, 0."""
    m = MATRICES[pose]
    a, b, c = (figure[..., k : k + 2] @ m for k in (0, 2, 4))
    return np.concatenate([np.minimum(a, b), np.maximum(a, b), c, figure[..., 6:]], axis=-1)


def agreeing(figures: Floats, model: Floats, near: Floats) -> tuple[Indices, Indices]:
    """Return in which pose each figure is the model, and which piece is which.

    Parameters
    ----------
    figures : (C, M, 7) float64
        Features about each figure's centroid.
    model : (M, 7) float64
    near : (M,) float64
        How far each feature of a piece of the model may be off.

    Returns
    -------
    pose : (C,) int
        The first pose that agrees; -1 where none does.
    piece : (C, M) int
        The figure's piece that lies on each piece of the model.
    """
    count, m = figures.shape[:2]
    pose = np.full(count, -1)
    piece = np.zeros((count, m), dtype=np.intp)
    left = np.arange(count)
    for number in range(len(POSES)):
        wanted = posed_features(model, number)
        fig = figures[left]
        off = np.abs(fig[:, None, :, 4] - wanted[:, None, 4])
        np.maximum(off, np.abs(fig[:, None, :, 5] - wanted[:, None, 5]), out=off)
        nearest = off.argmin(axis=2)
        found = np.take_along_axis(fig, nearest[..., None], axis=1)
        fits = (np.abs(found - wanted).max(axis=2) < near).all(axis=1)
        # Two places of the model must not be filled by one piece.
        fits &= (np.sort(nearest, axis=1) == np.arange(m)).all(axis=1)
        pose[left[fits]] = number
        piece[left[fits]] = nearest[fits]
        left = left[~fits]
        if not len(left):
            break
    return pose, piece


def symmetries(model: Floats, near: Floats) -> list[tuple[int, Indices]]:
    """Return the poses that lay the model on itself, each with the piece on each place."""
    out = []
    for number in range(len(POSES)):
        turned = posed_features(model, number)
        off = np.abs(turned[None] - model[:, None]).max(axis=2)
        piece = off.argmin(axis=1)
        fits = (off[np.arange(len(model)), piece] < near).all()
        if fits and len(set(piece.tolist())) == len(model):
            out.append((number, piece))
    return out
