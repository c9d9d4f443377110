"""A camera over a top with cards, projected with OpenCV alone, for tests of the fit."""

import math

import cv2
import numpy as np

from seamwalk.model.picture import Photo, Reference
from seamwalk.vision.camera_fit import FitSettings

WIDTH, HEIGHT = 3000, 4000
FOCAL = 26 * 5000 / math.hypot(36, 24)
TOP = (48.0, 60.0)
RGB = np.broadcast_to(np.zeros(3, np.uint8), (HEIGHT, WIDTH, 3))


class Scene:
    """A camera over a top of 48 × 60 in, projecting with OpenCV."""

    def __init__(
        self, tilt_deg, *, azimuth_deg=80.0, radial=(0.0, 0.0, 0.0), focal=FOCAL, off=(0, 0)
    ):
        a = math.radians(azimuth_deg)
        lean, _ = cv2.Rodrigues(math.radians(tilt_deg) * np.array([math.sin(a), -math.cos(a), 0]))
        turn, _ = cv2.Rodrigues(np.array([0, 0, 0.04]))
        self.r = lean @ turn
        self.k = np.array(
            [
                [focal, 0, (WIDTH - 1) / 2 + off[0]],
                [0, focal, (HEIGHT - 1) / 2 + off[1]],
                [0, 0, 1],
            ]
        )
        self.d = np.array([radial[0], radial[1], 0, 0, radial[2]])
        self.t = np.array([0, 0, 95.0]) - self.r @ np.array([TOP[0] / 2, TOP[1] / 2, 0])

    def px(self, points, above=0.0):
        p = np.asarray(points, float).reshape(-1, 2)
        space = np.column_stack([p, np.full(len(p), -above)])
        rvec, _ = cv2.Rodrigues(self.r)
        return cv2.projectPoints(space, rvec, self.t, self.k, self.d)[0].reshape(-1, 2)

    def card(self, middle, turn_deg=20.0, side=6.0, above=0.0):
        t = math.radians(turn_deg)
        square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * side / 2
        square = square @ np.array([[math.cos(t), math.sin(t)], [-math.sin(t), math.cos(t)]])
        return self.px(square + middle, above)


IN_PLANE = FitSettings(height_in=0.0)
"""Cards in the plane of the cloth, not on the floor under it."""

CARDS_AT = ((-4.0, 3.0), (52.0, 57.0))
OUTLINE = np.array([[0, 0], [TOP[0], 0], TOP, [0, TOP[1]]])


def cards(scene, rng=None, sigma=0.0, count=2, **how):
    found = []
    for k, at in enumerate(CARDS_AT[:count]):
        px = scene.card(np.array(at), 20 + 70 * k, **how)
        if rng is not None:
            px = px + rng.normal(0, sigma, (4, 2))
        found.append(Reference(px, 6.0, "card", k, sigma_px=max(sigma, 0.02)))
    return tuple(found)


def photo(focal=FOCAL):
    return Photo(RGB, "scene", focal_px=focal)


def grid():
    x, y = np.meshgrid(np.linspace(0, TOP[0], 5), np.linspace(0, TOP[1], 6))
    return np.column_stack([x.ravel(), y.ravel()])


def worst(rectification, scene):
    """Return the largest error of a distance between grid points, inches."""
    true = grid()
    seen = rectification.view.top_from_px(scene.px(true))
    a = np.linalg.norm(true[:, None] - true[None], axis=2)
    b = np.linalg.norm(seen[:, None] - seen[None], axis=2)
    return float(np.abs(a - b).max())


def seam_lines(scene, rng, wobble=0.03, skew_deg=0.0):
    """Return points along the seam lines of 6 in squares, pixels, junctions off by `wobble`."""
    lean = math.tan(math.radians(skew_deg))
    x, y = np.meshgrid(np.arange(0, TOP[0] + 1, 6.0), np.arange(0, TOP[1] + 1, 6.0))
    at = np.stack([x + lean * y, y], axis=-1) + rng.normal(0, wobble, (*x.shape, 2))
    out = []
    for line in [*at, *at.transpose(1, 0, 2)]:
        k = np.linspace(0, len(line) - 1, 12 * (len(line) - 1))
        p = np.column_stack([np.interp(k, np.arange(len(line)), line[:, c]) for c in (0, 1)])
        out.append(scene.px(p) + rng.normal(0, 0.3, p.shape))
    return out
