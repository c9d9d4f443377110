"""Corners that are cut one way in one block and the other way in the next: settled together.

Where two strips of one fabric meet at a right angle, as the logs of a log cabin do, one of them
takes the corner, and often hardly anything shows which.  Seen alone each corner is a guess; but
blocks are sewn alike, so that of all such corners of one size the strip that takes the corner lies
on the same hand.  What the heat says of all of them is added up, and where the sum is clear, all
follow it.  Where corners of one size are cut both ways, as in butted borders, the sum is not
clear, and all stay as they are.

References
----------
Condorcet's jury theorem (1785): many guesses, each only a little better than chance, are together
nearly certain.
"""

import itertools
import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.vision.piecing_regions import border_lengths

Float = NDArray[np.float32]
Labels = NDArray[np.int32]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CornerSettings:
    """Which corners are looked at, and when all follow one hand."""

    fill: float = 0.82
    """A strip fills this share of the box round it; its edges may be rough."""
    off_deg: float = 10.0
    """Strips meet at a right angle within this."""
    near: float = 0.3
    """Ends are flush within this share of a strip's width."""
    square: float = 1.4
    """The corner is no longer than this times its width."""
    arm: float = 0.6
    """Each strip goes on beyond the corner by at least this share of its width."""
    same_lab: float = 7.0
    """Strips whose mean colours differ by less, CIELAB, may be one fabric."""
    alike: float = 0.12
    """Corners of one kind differ in their sizes by less than this share."""
    fewest: int = 8
    """Corners of one kind that can settle anything."""
    clear: float = 0.25
    """Log-odds a corner, in the mean, by which one hand must lead …"""
    beyond_chance: float = 1.5
    """… and of n corners so many times √n more must be cut that way now than the other way: more
    than chance would give where both are sewn."""
    rounds: int = 3
    """Times that all corners are looked at."""
    reach_px: int = 2
    """Heat is looked for this far beside a line."""


@dataclass(frozen=True, slots=True, eq=False)
class _Strip:
    """A region much like a rectangle: its middle, one axis, and its length on both."""

    middle: Array
    axis: Array
    sides: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Corner:
    """A corner that `owner` takes and `other` ends at.

    Attributes
    ----------
    hand : int
        1 where the owner's way from the corner turns to the other's as x turns to y, else −1.
    size : (3,) float
        Outer sides of the pair, the longer first, and width of the corner: what tells its kind.
    box : (4, 2) float
        The corner itself, pixels.
    cloth : (3,) float
        CIELAB, mean of both strips.
    odds : float
        What the heat says for this cut against the other one.
    alone : int
        The corner where it is a region of its own now, cut both ways; 0 where it is not.
    """

    owner: int
    other: int
    hand: int
    size: Array
    box: Array
    odds: float
    cloth: Array
    alone: int = 0


def alike_cut(
    labels: Labels, heat: Float, lab: Float, settings: CornerSettings | None = None
) -> Labels:
    """Return the labels with corners of one kind all cut on one hand, where heat says which.

    Parameters
    ----------
    labels : (H, W) int32
        0 outside, regions from 1.
    heat : (H, W) float32
        Seam heat, 0 to 1.
    lab : (H, W, 3) float32
        CIELAB.
    """
    s = settings or CornerSettings()
    out = labels
    # A corner that was cut the wrong way made the strips at its ends look longer.
    for _ in range(s.rounds):
        found = _corners(out, heat, lab, s)
        settled = _settled(found, s)
        if not settled:
            break
        new = out.copy()
        for corner, hand in settled:
            _give(new, out, corner, hand)
        out = new
    return out


def _settled(found: list[_Corner], s: CornerSettings) -> list[tuple[_Corner, int]]:
    """Return the corners that are to be cut otherwise, each with the hand of its kind."""
    kinds = _kinds(found, s)
    rounds = [k for k in kinds if _is_round(k[0], s)]
    # Where a log and the next round's are of one fabric, their corner lies on the other hand.
    plain = [k for k in rounds if not any(_follows(o[0], k[0], s) for o in rounds)]
    out = []
    for kind in kinds:
        hand = _hand(kind, s)
        if hand == 0 and kind in plain:
            width = kind[0].size[2]
            alike = [k for k in plain if abs(k[0].size[2] - width) <= s.alike * width]
            hand = _hand([c for k in alike for c in k], s)
            if hand * _lead(kind) < 0:
                hand = 0
        out += [(c, hand) for c in kind if hand and (c.alone or c.hand != hand)]
    return out


def _is_round(corner: _Corner, s: CornerSettings) -> bool:
    """Return whether both arms are equally long, as in one round of a log cabin."""
    return bool(corner.size[0] - corner.size[1] <= s.near * corner.size[2])


def _follows(other: _Corner, corner: _Corner, s: CornerSettings) -> bool:
    """Return whether corners of two kinds have one fabric, and sides that differ by a width."""
    width = corner.size[2]
    step = abs(float(other.size[0] - corner.size[0])) / width
    alike = np.linalg.norm(other.cloth - corner.cloth) <= s.same_lab
    return bool(alike and abs(step - 1) <= s.near)


def _hand(corners: list[_Corner], s: CornerSettings) -> int:
    """Return the hand that corners settle on, 0 where they don't."""
    if len(corners) < s.fewest:
        return 0
    lead = _lead(corners)
    hand = 1 if lead > 0 else -1
    cut = [c.hand for c in corners if not c.alone]
    more = hand * sum(cut) / max(1.0, math.sqrt(len(cut)))
    return hand if abs(lead) >= s.clear and more >= s.beyond_chance else 0


def _lead(corners: list[_Corner]) -> float:
    return sum(c.hand * c.odds for c in corners) / len(corners)


def _give(out: Labels, labels: Labels, corner: _Corner, hand: int) -> None:
    """Give the corner to the strip on that hand."""
    if corner.alone:
        out[labels == corner.alone] = corner.owner if corner.hand == hand else corner.other
        return
    box = np.rint(corner.box).astype(np.int32)
    low = np.maximum(box.min(axis=0), 0)
    high = np.minimum(box.max(axis=0) + 1, labels.shape[::-1])
    part = np.zeros((high - low)[::-1], np.uint8)
    cv2.fillConvexPoly(part, box - low.astype(np.int32), 1)
    window = slice(low[1], high[1]), slice(low[0], high[0])
    out[window][(part > 0) & (labels[window] == corner.owner)] = corner.other


def _corners(labels: Labels, heat: Float, lab: Float, s: CornerSettings) -> list[_Corner]:
    n = int(labels.max())
    count = np.maximum(np.bincount(labels.ravel(), minlength=n + 1), 1)
    cloth = np.stack(
        [np.bincount(labels.ravel(), lab[..., k].ravel(), n + 1) / count for k in range(3)], axis=1
    )
    strips = {
        r: strip
        for r, window in enumerate(ndimage.find_objects(labels), start=1)
        if window is not None and (strip := _strip(labels[window] == r, window, s)) is not None
    }
    warm = np.asarray(cv2.dilate(heat, np.ones((2 * s.reach_px + 1,) * 2, np.uint8)), np.float32)
    beside: dict[int, list[int]] = {r: [] for r in strips}
    out = []
    for a, b in _neighbours(labels):
        step = cloth[a] - cloth[b]
        if a not in strips or b not in strips or np.linalg.norm(step) > s.same_lab:
            continue
        beside[a].append(b)
        beside[b].append(a)
        for owner, other in ((a, b), (b, a)):
            corner = _corner(strips[owner], strips[other], warm, s)
            if corner is not None:
                mean = (cloth[a] + cloth[b]) / 2
                out.append(replace(corner, owner=owner, other=other, cloth=mean))
                break
    for alone, near in beside.items():
        out += [replace(c, cloth=cloth[alone]) for c in _alone(alone, near, strips, warm, s)]
    return out


def _alone(
    alone: int, near: list[int], strips: dict[int, _Strip], warm: Float, s: CornerSettings
) -> list[_Corner]:
    """Return the corner that a region is by itself, between two strips of its fabric."""
    square = strips[alone]
    if square.sides.max() > s.square * square.sides.min():
        return []
    for owner, other in itertools.permutations(near, 2):
        both = _in_line(square, strips[owner], s)
        if both is None or _in_line(square, strips[other], s) is None:
            continue
        corner = _corner(both, strips[other], warm, s)
        if corner is not None:
            return [replace(corner, owner=owner, other=other, alone=alone)]
    return []


def _in_line(square: _Strip, strip: _Strip, s: CornerSettings) -> _Strip | None:
    """Return both as one strip where the square goes on from the strip's end, as wide as it."""
    long = strip.sides.argmax()
    ways = np.stack([strip.axis, strip.axis[::-1] * (-1, 1)])
    way, wide, length = ways[long], strip.sides.min(), strip.sides.max()
    turn = np.degrees(np.arctan2(*(ways @ square.axis)[::-1])) % 90
    at = square.middle - strip.middle
    along, across = float(at @ way), float(at @ ways[1 - long])
    size = float(square.sides.mean())
    if min(turn, 90 - turn) > s.off_deg or abs(size - wide) > s.near * wide:
        return None
    if abs(across) > s.near * wide or abs(abs(along) - (length + size) / 2) > s.near * wide:
        return None
    middle = strip.middle + np.sign(along) * size / 2 * way
    return _Strip(middle, way, np.array([length + size, wide]))


def _strip(
    inside: NDArray[np.bool_], window: tuple[slice, ...], s: CornerSettings
) -> _Strip | None:
    contours, _ = cv2.findContours(
        inside.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    middle, sides, angle = cv2.minAreaRect(np.vstack(contours))
    # The box goes through the middles of the outermost pixels.
    size = np.array(sides, dtype=np.float64) + 1
    if inside.sum() < s.fill * size.prod():
        return None
    t = np.radians(angle)
    at = np.array(middle) + (window[1].start, window[0].start)
    return _Strip(at, np.array([np.cos(t), np.sin(t)]), size)


def _neighbours(labels: Labels) -> list[tuple[int, int]]:
    beside = border_lengths(labels)
    return [(a, b) for a in sorted(beside) for b in sorted(beside[a]) if 0 < a < b]


def _corner(own: _Strip, end: _Strip, warm: Float, s: CornerSettings) -> _Corner | None:
    """Return the corner that one strip takes and another ends at, if they meet in one."""
    ways = np.stack([own.axis, own.axis[::-1] * (-1, 1)])
    turn = np.degrees(np.arctan2(*(ways @ end.axis)[::-1])) % 90
    if min(turn, 90 - turn) > s.off_deg:
        return None
    # The other strip's box along the owner's axes, about the owner's middle.
    across = abs(float(end.axis @ ways[0])) < abs(float(end.axis @ ways[1]))
    sides = end.sides[::-1] if across else end.sides
    at = ways @ (end.middle - own.middle)
    for k in (0, 1):
        # The other lies beyond the owner's side across axis k; along axis k it is flush.
        j = 1 - k
        wide, deep = sides[k], own.sides[j]
        near = s.near * min(wide, deep)
        beside, along = np.sign(at[j]), np.sign(at[k])
        touching = abs(abs(at[j]) - (own.sides[j] + sides[j]) / 2) <= near
        flush = abs(abs(at[k]) + wide / 2 - own.sides[k] / 2) <= near
        arms = min(own.sides[k] - wide, sides[j]) >= s.arm * wide
        if not (touching and flush and arms) or max(wide, deep) > s.square * min(wide, deep):
            continue
        out_k, out_j = along * ways[k], beside * ways[j]
        tip = own.middle + own.sides[k] / 2 * out_k
        inner = tip - wide * out_k
        half = deep / 2 * out_j
        box = np.array([tip - half, tip + half, inner + half, inner - half])
        now = _logit(_seen(warm, box[1], box[2]))
        then = _logit(_seen(warm, box[2], box[3]))
        # From the corner the owner runs back along axis k, the other away from its side.
        cross = float(out_j[0] * out_k[1] - out_j[1] * out_k[0])
        outer = np.sort([own.sides[k], deep + sides[j]])[::-1]
        size = np.array([*outer, (wide + deep) / 2])
        return _Corner(0, 0, 1 if cross > 0 else -1, size, box, now - then, np.zeros(3))
    return None


def _seen(warm: Float, a: Array, b: Array) -> float:
    """Return the mean heat along a line, its ends left out: others' seams end there."""
    t = np.linspace(0.2, 0.8, 25)[:, None]
    x, y = np.rint(a + t * (b - a)).astype(np.intp).T
    inside = (x >= 0) & (y >= 0) & (x < warm.shape[1]) & (y < warm.shape[0])
    return float(warm[y[inside], x[inside]].mean()) if inside.any() else 0.0


def _logit(p: float) -> float:
    p = float(np.clip(p, 0.02, 0.98))
    return float(np.log(p / (1 - p)))


def _kinds(found: list[_Corner], s: CornerSettings) -> list[list[_Corner]]:
    """Return the corners sorted by size and fabric into kinds, each like the first of its kind."""
    out: list[list[_Corner]] = []
    for corner in sorted(found, key=lambda c: (c.size.tolist(), c.owner, c.other)):
        for kind in out:
            sized = (np.abs(corner.size - kind[0].size) <= s.alike * kind[0].size).all()
            if sized and np.linalg.norm(corner.cloth - kind[0].cloth) <= s.same_lab:
                kind.append(corner)
                break
        else:
            out.append([corner])
    return out
