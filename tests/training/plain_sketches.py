"""Sketches and stores plain enough that the right picture is known beforehand."""

from functools import cache

import numpy as np
import scipy.ndimage
import torch

from seamwalk.training.fabric_store import FabricStore, srgb_from_linear
from seamwalk.training.light import Light
from seamwalk.training.render import batch_of, render
from seamwalk.training.sketch import GRID, ROW, ClothRow, Sketch

SMALL = 64
_ROW = ClothRow()


def cloth_row(swatch=0, affine=(30, 0, 0, 0, 30, 0), kind=1):
    row = np.zeros(ROW, np.float32)
    row[_ROW.swatch] = swatch
    row[_ROW.affine] = affine
    row[_ROW.colour] = np.eye(3, 4).ravel()
    row[_ROW.kind] = kind
    return row


def flat_plane(width_in):
    nodes = np.linspace(0, width_in, GRID, dtype=np.float32)
    return np.stack(np.meshgrid(nodes, nodes), -1)


def sketch_of(labels, rows, light=None, width_in=10.0, **maps):
    side = labels.shape[0] // 2
    given = {
        "relief": np.zeros((side, side), np.uint8),
        "grooves": np.zeros((side, side), np.uint8),
        "shade": np.full((side, side), 255, np.uint8),
        "targets": np.zeros((side, side, 6), np.uint8),
        "plane": flat_plane(width_in),
    } | maps
    return Sketch(
        labels=labels.astype(np.uint16),
        cloth=np.stack(rows),
        light=(light or Light()).pack(),
        **given,
    )


def plain_store(*colours):
    return FabricStore(
        np.stack([np.full((384, 384, 3), c, np.uint8) for c in colours]), device="cpu"
    )


@cache
def prints(seed=0, count=2):
    """Prints of soft blobs: neither flat nor finer than a few pixels."""
    white = np.random.default_rng(seed).normal(size=(count, 384, 384, 3))
    soft = scipy.ndimage.gaussian_filter(white, (0, 5, 5, 0), mode="wrap")
    soft = 127 + 50 * soft / soft.std()
    return np.clip(soft, 0, 255).astype(np.uint8)


@cache
def print_store():
    return FabricStore(prints(), "cpu")


def quarters(side=SMALL):
    labels = np.zeros((2 * side, 2 * side), np.int64)
    labels[side:, :side] = 1
    labels[:side, side:] = 2
    labels[side:, side:] = 3
    return labels


def rendered(sketch, store):
    return render(batch_of([sketch]), store)[0].permute(1, 2, 0).numpy()


def packed(**numbers):
    return torch.from_numpy(Light(**numbers).pack())[None]


def srgb(light):
    return srgb_from_linear(torch.as_tensor(light)).numpy()
