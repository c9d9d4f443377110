"""From trained weights to the file that :mod:`seamwalk.vision` reads.

The file is ONNX: input ``picture`` (1, 3, H, W) float32, sRGB between 0 and 1, H and W multiples
of 32; output ``evidence`` (1, 6, H, W) float32, planes in the order of
:data:`seamwalk.training.sketch.TARGETS`. Weights are stored as float16 and cast to float32 by the
graph: half the bytes, and runtimes still compute in float32.
"""

import io
import json
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import torch

from seamwalk.training.network import STRIDE, Evidence, SeamNetwork, fold

MOST_BYTES = 8_000_000
"""The weights travel inside the package; this much is set aside for them."""

OPSET = 17
"""The newest set of operations that both runtimes in use read."""

SMALLEST_HALVED = 256
"""Shorter arrays (biases) stay float32: nothing to gain, and they set the level of a plane."""


def graph_bytes(network: SeamNetwork) -> bytes:
    """Return the ONNX file's bytes, weights still float32."""
    used = Evidence(fold(network).cpu()).eval()
    example = torch.zeros(1, 3, 4 * STRIDE, 4 * STRIDE)
    out = io.BytesIO()
    with warnings.catch_warnings():
        # The exporter by tracing is called old, but needs no further package and suffices for a
        # graph without branches.
        warnings.simplefilter("ignore", DeprecationWarning)
        warnings.simplefilter("ignore", UserWarning)
        torch.onnx.export(
            used,
            (example,),
            out,  # type: ignore[arg-type]
            input_names=["picture"],
            output_names=["evidence"],
            opset_version=OPSET,
            dynamo=False,
            dynamic_axes={
                "picture": {2: "height", 3: "width"},
                "evidence": {2: "height", 3: "width"},
            },
        )
    return out.getvalue()


def halved(graph: bytes) -> bytes:
    """Return the ONNX file with its large weights as float16, cast back by the graph."""
    import onnx
    from onnx import numpy_helper

    model = onnx.load_model_from_string(graph)
    casts = []
    for weight in model.graph.initializer:
        values = numpy_helper.to_array(weight)
        if values.dtype != np.float32 or values.size < SMALLEST_HALVED:
            continue
        name = weight.name
        small = numpy_helper.from_array(values.astype(np.float16), name + ".half")
        weight.CopyFrom(small)
        casts.append(
            onnx.helper.make_node("Cast", [name + ".half"], [name], to=onnx.TensorProto.FLOAT)
        )
    nodes = list(model.graph.node)
    del model.graph.node[:]
    model.graph.node.extend(casts + nodes)
    onnx.checker.check_model(model)
    return bytes(model.SerializeToString())


def write(network: SeamNetwork, path: Path, about: Mapping[str, Any] | None = None) -> int:
    """Write the network for use and return the file's size in bytes.

    Parameters
    ----------
    network : SeamNetwork
    path : Path
        Ends in ``.onnx``.
    about : mapping, optional
        Notes on the training, kept in the file as text.

    Raises
    ------
    ValueError
        The file would be larger than `MOST_BYTES`.
    """
    import onnx

    model = onnx.load_model_from_string(halved(graph_bytes(network)))
    notes = {k: str(v) for k, v in (about or {}).items()}
    # So that a training can go on from this file, see `thaw`.
    notes["settings"] = json.dumps(network.settings.as_lists())
    onnx.helper.set_model_props(model, notes)
    content = model.SerializeToString()
    if len(content) > MOST_BYTES:
        raise ValueError(f"{path.name} would take {len(content)} bytes of {MOST_BYTES}.")
    path.write_bytes(content)
    return len(content)
