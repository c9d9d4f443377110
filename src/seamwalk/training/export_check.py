"""Does the exported file say what the weights say, in each runtime, and how fast?"""

import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray

from seamwalk.training.network import STRIDE, Evidence, SeamNetwork

Runtime = Callable[[NDArray[np.float32]], NDArray[np.float32]]
"""Evidence (1, 6, H, W) from a picture (1, 3, H, W)."""

TIMES = 3
"""Runs timed; the fastest counts, since others only add what else the machine does."""


def onnx_runtime(path: Path, threads: int | None = None) -> Runtime:
    """Return the file in onnxruntime, on the processor."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads or os.cpu_count() or 1
    session = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
    return lambda picture: np.asarray(session.run(None, {"picture": picture})[0])


def opencv(path: Path) -> Runtime:
    """Return the file in OpenCV's own runtime."""
    import cv2

    network = cv2.dnn.readNetFromONNX(str(path))

    def run(picture: NDArray[np.float32]) -> NDArray[np.float32]:
        network.setInput(picture)
        return np.asarray(network.forward(), np.float32)

    return run


def noise_picture(height: int, width: int) -> NDArray[np.float32]:
    """Return a (1, 3, height, width) picture with all scales in it."""
    rng = np.random.default_rng(0)
    picture = np.zeros((1, 3, height, width), np.float32)
    for step in (1, 4, 16, 64):
        small = rng.random((1, 3, -(-height // step), -(-width // step)), np.float32)
        large = small.repeat(step, 2).repeat(step, 3)
        picture += large[:, :, :height, :width] / 4
    return picture


def off_by(network: SeamNetwork, runtime: Runtime, height: int, width: int) -> float:
    """Return the largest difference between the weights' evidence and the runtime's."""
    picture = noise_picture(height, width)
    with torch.no_grad():
        wanted = Evidence(network.eval())(torch.from_numpy(picture)).numpy()
    return float(np.abs(runtime(picture) - wanted).max())


def compare(network: SeamNetwork, path: Path, side: int) -> Iterator[str]:
    """Yield a line for each runtime.

    Parameters
    ----------
    network : SeamNetwork
    path : Path
        Its exported file.
    side : int
        Of the picture that is timed, pixels.
    """
    for name, make in (("onnxruntime", onnx_runtime), ("OpenCV", opencv)):
        runtime = make(path)
        differences = [
            off_by(network, runtime, STRIDE * rows, STRIDE * columns)
            for rows, columns in ((8, 8), (6, 11))
        ]
        picture = noise_picture(side, side)
        took = []
        for _ in range(TIMES):
            start = time.monotonic()
            runtime(picture)
            took.append(time.monotonic() - start)
        yield f"{name}: off by {max(differences):.1e}, {side} px in {min(took):.3f} s"
