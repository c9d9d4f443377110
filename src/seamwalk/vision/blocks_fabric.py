"""Which patches of a block share a fabric, and what the fabrics cost to tell.

Fabrics are labels with errors.  Members that mostly share a fabric, placement by placement, have
one role; a placement is told by one fabric for each role and by its exceptions.
"""

import itertools
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.congruence import COMPOSED

Indices = NDArray[np.intp]


COLOURS = 0.1
"""Weight of the fabrics themselves beside which members share one: these may change."""
AS_GOOD = 0.03
"""Scores of two poses within this are the same."""


@dataclass(frozen=True, slots=True)
class FabricSettings:
    """When members share a fabric."""

    share: float = 0.7
    """Members share a role if they share a fabric in this share of placements: labels wrong one
    time in ten on both sides leave 0.81."""
    exception_bits: float = 3.0
    """An exception costs this beside its fabric: one label in eight is wrong."""


def entropy_bits(labels: Indices) -> float:
    """Return the bits that tell all the labels (N,) once their shares are known, and the shares.

    References
    ----------
    Rissanen, Automatica 14:465, 1978: half a logarithm of the count for each free share.
    """
    n = len(labels)
    if n == 0:
        return 0.0
    _, count = np.unique(labels, return_counts=True)
    told = float(-(count * np.log2(count / n)).sum())
    return told + 0.5 * (len(count) - 1) * float(np.log2(n + 1))


def roles_of(
    fabric: Indices,
    fabrics: int,
    wanted: Iterable[str] = (),
    settings: FabricSettings | None = None,
) -> tuple[tuple[int, ...], float]:
    """Return each member's role, and the bits that all placements' fabrics cost.

    Parameters
    ----------
    fabric : (P, M) int
        Of each placement's members; -1 where the patch is missing.
    fabrics : int
        How many there are; with fewer than two nothing is known and nothing costs.
    wanted : iterable of str
        Groupings that names ask for, a letter for each member.
    """
    s = settings or FabricSettings()
    placements, m = fabric.shape
    if fabrics < 2:
        return (-1,) * m, 0.0
    free = sum(entropy_bits(fabric[fabric[:, k] >= 0, k]) for k in range(m))
    role = _grouped(fabric, s)
    told = _told(fabric, role, fabrics, s)
    grouping = m * float(np.log2(m))
    for letters in wanted:
        number = {c: k for k, c in enumerate(dict.fromkeys(letters))}
        named = np.array([number[c] for c in letters], dtype=np.intp)
        bits = _told(fabric, named, fabrics, s)
        if bits <= told + grouping and _differ(fabric, named, fabrics, s):
            return tuple(named.tolist()), float(bits)
    if told > free + grouping and placements > 1:
        # Every member for itself: no two are known to share a fabric.
        return tuple(range(m)), float(free)
    return tuple(role.tolist()), float(min(told + grouping, free))


def _told(fabric: Indices, role: Indices, fabrics: int, s: FabricSettings) -> float:
    """Return the bits for one fabric of each role in each placement, and the exceptions."""
    told = 0.0
    for r in range(int(role.max()) + 1):
        mine = fabric[:, role == r]
        of_role = _commonest(mine, fabrics)
        told += entropy_bits(of_role[of_role >= 0])
        wrong = (mine >= 0) & (mine != of_role[:, None])
        told += float(wrong.sum()) * (float(np.log2(fabrics)) + s.exception_bits)
    return told


def _differ(fabric: Indices, role: Indices, fabrics: int, s: FabricSettings) -> bool:
    """Return whether different roles mostly have different fabrics."""
    usual = np.column_stack(
        [_commonest(fabric[:, role == r], fabrics) for r in range(int(role.max()) + 1)]
    )
    pairs = itertools.combinations(range(usual.shape[1]), 2)
    return all(float((usual[:, a] != usual[:, b]).mean()) > s.share for a, b in pairs)


def best_turned(
    fabric: Indices, pose: Indices, symmetry: list[tuple[int, Indices]], rounds: int = 3
) -> tuple[Indices, Indices]:
    """Return poses (P,) and member orders (P, M) whose fabrics agree best over all placements.

    Where a block's seams lie on themselves in several poses, its fabrics choose; first by which
    members share one, then by the fabrics themselves.
    """
    placements, m = fabric.shape
    order = np.tile(np.arange(m), (placements, 1))
    if len(symmetry) < 2 or m < 2 or placements < 2:
        return pose, order
    composed = np.array(COMPOSED)
    ways = np.empty((len(symmetry), m), dtype=np.intp)
    for k, (_, onto) in enumerate(symmetry):
        ways[k, onto] = np.arange(m)
    by_way = fabric[:, ways]
    same = by_way[..., :, None] == by_way[..., None, :]
    known = (by_way >= 0)[..., :, None] & (by_way >= 0)[..., None, :]
    pairs = np.maximum(known.sum(axis=(2, 3)), 1)
    chosen = np.zeros(placements, dtype=np.intp)
    every = np.arange(placements)
    for _ in range(rounds):
        shared = same[every, chosen].mean(axis=0)
        usual = _commonest(by_way[every, chosen].T, int(fabric.max()) + 1)
        score = (np.where(same, shared, 1 - shared) * known).sum(axis=(2, 3)) / pairs
        score = score + COLOURS * (by_way == usual).mean(axis=2)
        # Of poses that are as good, the first: a wrong label must not turn a block.
        new = (score > score.max(axis=1, keepdims=True) - AS_GOOD).argmax(axis=1)
        if (new == chosen).all():
            break
        chosen = new
    number = np.array([s for s, _ in symmetry])[chosen]
    return composed[number, pose], ways[chosen]


def _grouped(fabric: Indices, s: FabricSettings) -> Indices:
    known = fabric >= 0
    both = (known[:, :, None] & known[:, None, :]).sum(axis=0)
    same = ((fabric[:, :, None] == fabric[:, None, :]) & known[:, :, None]).sum(axis=0)
    alike = same > s.share * np.maximum(both, 1)
    m = fabric.shape[1]
    role = np.full(m, -1, dtype=np.intp)
    number = 0
    for k in range(m):
        if role[k] >= 0:
            continue
        role[alike[k] & (role < 0)] = number
        role[k] = number
        number += 1
    return role


def _commonest(fabric: Indices, fabrics: int) -> Indices:
    """Return the commonest fabric of each row (P, K); -1 where none is known."""
    count = np.zeros((len(fabric), fabrics), dtype=np.intp)
    for column in fabric.T:
        known = np.flatnonzero(column >= 0)
        count[known, column[known]] += 1
    out: Indices = np.where(count.sum(axis=1) > 0, count.argmax(axis=1), -1)
    return out
