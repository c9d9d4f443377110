"""Label maps drawn into the heat that a network would show for them."""

import cv2
import numpy as np
import shapely

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import FlatPicture, Rectification, SeamEvidence, View

PPI = 16.0


def labels_of(polygons, margin=12):
    """Return the polygons, in pixels, as labels 1 … n with a margin of 0 round them."""
    x0, y0, x1, y1 = shapely.unary_union(polygons).bounds
    shape = (int(np.ceil(y1 - y0)) + 2 * margin, int(np.ceil(x1 - x0)) + 2 * margin)
    out = np.zeros(shape, np.int32)
    for k, p in enumerate(polygons, start=1):
        ring = np.array(p.exterior.coords[:-1]) + margin - (x0, y0) - 0.5
        cv2.fillPoly(out, [np.round(ring * 16).astype(np.int32)], k, shift=4)
    return out


def cracks(labels):
    """Return where a pixel's right or lower neighbour has another label, (H, W) bool."""
    out = np.zeros(labels.shape, bool)
    out[:-1] |= labels[1:] != labels[:-1]
    out[:, :-1] |= labels[:, 1:] != labels[:, :-1]
    return out


def evidence_of(labels, *, faint=None, stray=None, peak=0.95, seed=0):
    """Return heat with ridges of 1.2 px along the borders of `labels`, a little noise on it.

    `faint` (H, W) multiplies it; `stray` (H, W) bool adds ridges that are no seams.
    """
    rng = np.random.default_rng(seed)
    ridge = cracks(labels)
    if stray is not None:
        ridge = ridge | stray
    away = cv2.distanceTransform((~ridge).astype(np.uint8), cv2.DIST_L2, 5)
    heat = (peak * np.exp(-(away**2) / (2 * 1.2**2))).astype(np.float32)
    if faint is not None:
        heat *= faint
    soft = cv2.GaussianBlur(heat, (0, 0), 2.0)
    gx, gy = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    xx, yy, xy = (cv2.GaussianBlur(p, (0, 0), 3.0) for p in (gx * gx, gy * gy, gx * gy))
    # The seam runs across the gradient: twice its angle is the structure tensor's, turned by π.
    long = np.hypot(xx - yy, 2 * xy) + 1e-9
    heat = np.clip(heat + rng.normal(0, 0.005, heat.shape), 0, 1).astype(np.float32)
    zero = np.zeros_like(heat)
    return SeamEvidence(heat, zero, ((yy - xx) / long), (-2 * xy / long))


def flat_of(labels, fabrics=None, seed=0):
    """Return a flat picture with one colour a label; `fabrics` gives the colour of label k."""
    rng = np.random.default_rng(seed)
    n = int(labels.max())
    fabrics = np.arange(n) if fabrics is None else np.asarray(fabrics)
    colour = rng.integers(60, 220, (int(fabrics.max()) + 2, 3))
    rgb = colour[np.concatenate([[0], fabrics + 1])[labels]]
    rgb = np.clip(rgb + rng.normal(0, 4, rgb.shape), 0, 255).astype(np.uint8)
    view = View(Lens(1000.0, (0.0, 0.0)), np.eye(3))
    seen = np.ones(labels.shape, bool)
    return FlatPicture(rgb, seen, PPI, (0.0, 0.0), Rectification(view, (), "none", 1.0, 0.0))
