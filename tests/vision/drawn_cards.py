"""A card drawn sample by sample in linear light, sharing nothing with what measures it."""

import math

import cv2
import numpy as np

from seamwalk.model.card import CELLS, figure
from seamwalk.model.picture import Photo


def camera_over(
    px_per_in, tilt_deg, turn_deg, middle_px, *, focal_px=3000.0, middle_in=(3.0, 3.0)
):
    """Return the homography (3, 3) from the card's plane, inches, to pixels."""
    lean, _ = cv2.Rodrigues(np.array([math.radians(tilt_deg), 0, 0]))
    turn, _ = cv2.Rodrigues(np.array([0, 0, math.radians(turn_deg)]))
    r = lean @ turn
    t = np.array([0, 0, focal_px / px_per_in]) - r @ np.array([*middle_in, 0])
    k = np.array([[focal_px, 0, middle_px[0]], [0, focal_px, middle_px[1]], [0, 0, 1.0]])
    return k @ np.column_stack([r[:, 0], r[:, 1], t])


def through(h, points):
    q = np.column_stack([points, np.ones(len(points))]) @ h.T
    return q[:, :2] / q[:, 2:]


def corners_in(side_in=6.0):
    return np.array([[0, 0], [side_in, 0], [side_in, side_in], [0, side_in]])


def light_of(
    px_from_in,
    size,
    *,
    card=0,
    side_in=6.0,
    blur_px=0.0,
    samples=5,
    paper=0.8,
    ink=0.04,
    floor=0.25,
    margin_cells=1.0,
    plain=False,
):
    """Return linear light (H, W) of a card on a floor; `plain` draws a dark square instead."""
    width, height = size
    dark = np.array(figure(card, side_in).dark)
    cell = side_in / CELLS
    back = np.linalg.inv(px_from_in)
    rows, cols = np.mgrid[0:height, 0:width].astype(float)
    total = np.zeros((height, width))
    for i in range(samples):
        for j in range(samples):
            x = cols + (j + 0.5) / samples - 0.5
            y = rows + (i + 0.5) / samples - 0.5
            d = back[2, 0] * x + back[2, 1] * y + back[2, 2]
            u = (back[0, 0] * x + back[0, 1] * y + back[0, 2]) / d
            v = (back[1, 0] * x + back[1, 1] * y + back[1, 2]) / d
            value = np.full((height, width), floor)
            m = 0.0 if plain else margin_cells * cell
            on_paper = (u > -m) & (u < side_in + m) & (v > -m) & (v < side_in + m)
            value[on_paper] = ink if plain else paper
            if not plain:
                c, r = np.floor(u / cell).astype(int), np.floor(v / cell).astype(int)
                inside = (c >= 0) & (c < CELLS) & (r >= 0) & (r < CELLS)
                value[inside] = np.where(dark[r[inside], c[inside]], ink, paper)
            total += value
    light = total / samples**2
    if blur_px > 0:
        light = cv2.GaussianBlur(light, (0, 0), blur_px, borderType=cv2.BORDER_REPLICATE)
    return light


def coded(light, gamma=None):
    """Return (H, W, 3) uint8: sRGB, or a plain power `gamma`."""
    x = np.clip(light, 0, 1)
    srgb = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    value = srgb if gamma is None else x ** (1 / gamma)
    return np.repeat(np.rint(value * 255).astype(np.uint8)[:, :, None], 3, axis=2)


def photo_of(light, *, gamma=None, focal_px=3000.0):
    return Photo(coded(light, gamma), "drawn.png", focal_px=focal_px)


def area(corners):
    x, y = corners.T
    return 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))
