"""Pictures of patchwork of any shape on floors with lines of their own, drawn for tests."""

import math

import cv2
import numpy as np
import shapely

SHAPE = (700, 800)


def covered(ring, shape=SHAPE):
    """Share of each pixel (H, W) that lies within a ring, by 8 × 8 samples."""
    ring = np.asarray(ring, dtype=np.float64)
    out = np.zeros(shape, np.float32)
    # Only what the ring can reach is drawn large.
    low = np.maximum(np.floor(ring.min(axis=0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(ring.max(axis=0)).astype(int) + 2, shape[::-1])
    if (high <= low).any():
        return out
    w, h = (high - low).tolist()
    big = np.zeros((h * 8, w * 8), np.uint8)
    cv2.fillPoly(big, [np.rint((ring - low + 0.5) * 8 - 0.5).astype(np.int32)], 1)
    part = cv2.resize(big.astype(np.float32), (w, h), interpolation=cv2.INTER_AREA)
    out[low[1] : high[1], low[0] : high[0]] = part
    return out


def floor(kind, rng, shape=SHAPE):
    """A floor (H, W, 3): plain, planks or checked."""
    rows, cols = np.indices(shape)
    if kind == "checked":
        tone = np.where((rows // 55 + cols // 55) % 2, 60.0, 190.0)
        return np.repeat(tone[..., None], 3, axis=2)
    if kind == "planks":
        grain = cv2.GaussianBlur(rng.normal(size=shape), (0, 0), sigmaX=25, sigmaY=1)
        tone = np.array([150.0, 110.0, 75.0]) * (1 + 2 * grain[..., None])
        tone[rows % 61 < 2] *= 0.4
        return tone
    return np.full((*shape, 3), (120.0, 125.0, 118.0))


def squares(x0, y0, x1, y1, cell=40):
    """Square patches (4, 2)."""
    return [
        np.array([[x, y], [x + cell, y], [x + cell, y + cell], [x, y + cell]], float)
        for y in np.arange(y0, y1, cell)
        for x in np.arange(x0, x1, cell)
    ]


def hexagons(columns, rows, side, x0, y0):
    """Hexagonal patches (6, 2), whole ones at the edges too."""
    angle = np.arange(6) * math.pi / 3 + math.pi / 6
    ring = side * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    step = math.sqrt(3) * side
    return [
        ring + [x0 + c * step + (r % 2) * step / 2, y0 + 1.5 * r * side]
        for r in range(rows)
        for c in range(columns)
    ]


def joined(patches):
    """The polygon that patches make together."""
    return shapely.union_all(
        [shapely.Polygon(p).buffer(0.01, join_style="mitre") for p in patches]
    )


def turned(rings, degrees, centre=(400, 350)):
    """Rings turned about a place."""
    a = math.radians(degrees)
    turn = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    return [(np.asarray(r) - centre) @ turn + centre for r in rings]


def picture(patches, kind, *, within=None, seed=0):
    """Patches of seven colours on a floor, cut off along `within`; blurred, with noise."""
    rng = np.random.default_rng(seed)
    colours = rng.integers(30, 235, (7, 3)).astype(float)
    ground = floor(kind, rng)
    out = ground
    for patch in patches:
        share = covered(patch)[..., None]
        out = out * (1 - share) + share * (colours[rng.integers(7)] + rng.normal(0, 8, 3))
    if within is not None:
        share = covered(np.array(within.exterior.coords)[:-1])[..., None]
        out = out * share + ground * (1 - share)
    out = cv2.GaussianBlur(out.astype(np.float32), (0, 0), 0.7) + rng.normal(0, 3, out.shape)
    return np.clip(out, 0, 255).astype(np.uint8)
