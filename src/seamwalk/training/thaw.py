"""From the file in the package back to a network that learns.

The file holds each convolution with its batch norm folded in. A convolution gets its norm back
that leaves everything as it is; then the norms are told the mean and variance of what passes
through them, on pictures of the training, and the kernels the size that a fresh network gives
them, which sets how fast they learn. So trainings go on from the file in use: nothing else need be
kept.
"""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn

from seamwalk.training.network import NetworkSettings, SeamNetwork


def normed(network: nn.Module) -> list[tuple[str, nn.Conv2d, nn.BatchNorm2d]]:
    """Return every convolution that a batch norm follows, by its name."""
    found = []
    for name, layers in network.named_modules():
        if not isinstance(layers, nn.Sequential) or len(layers) < 2:
            continue
        conv, norm = layers[0], layers[1]
        if isinstance(conv, nn.Conv2d) and isinstance(norm, nn.BatchNorm2d):
            found.append((f"{name}.0", conv, norm))
    return found


def read(path: Path) -> tuple[SeamNetwork, dict[str, str]]:
    """Return the network in an exported file, and the notes on its training.

    Its planes in use are those of the file. Before it learns, call `settle`.

    Parameters
    ----------
    path : Path
        As :func:`seamwalk.training.export.write` writes it.

    Raises
    ------
    ValueError
        The file holds something else.
    """
    import onnx
    from onnx import numpy_helper

    model = onnx.load(str(path))
    held: dict[str, Any] = {}
    for weight in model.graph.initializer:
        name = weight.name.removesuffix(".half").removeprefix("network.")
        held[name] = torch.from_numpy(numpy_helper.to_array(weight).astype(np.float32))
    about = {p.key: p.value for p in model.metadata_props}
    network = SeamNetwork(NetworkSettings.of(json.loads(about.get("settings", "{}"))))
    state = network.state_dict()
    wrong = f"{path.name} holds no seam network of the size that it states."
    for name, conv, norm in normed(network):
        if f"{name}.bias" not in held:
            raise ValueError(wrong)
        affine = name[:-1] + "1"
        state[f"{affine}.weight"] = torch.full_like(norm.weight, (1 + norm.eps) ** 0.5)
        state[f"{affine}.bias"] = held.pop(f"{name}.bias")
        if conv.weight.shape != held.get(f"{name}.weight", norm.weight).shape:
            raise ValueError(wrong)
    for name, value in held.items():
        if name in state and state[name].shape == value.shape:
            state[name] = value
        elif not name.startswith("onnx::") and "." in name:
            raise ValueError(wrong)
    network.load_state_dict(state)
    return network.eval(), about


@torch.no_grad()
def settle(network: SeamNetwork, batches: Sequence[Tensor]) -> None:
    """Tell the norms what passes through them; the network in use says the same as before.

    Parameters
    ----------
    network : SeamNetwork
    batches : sequence of (B, 3, H, W) Tensor
        Pictures as the training shows them, all of one size.
    """
    parts = normed(network)
    sums = [torch.zeros(2, norm.num_features, device=norm.weight.device) for _, _, norm in parts]

    def watch(total: Tensor) -> Any:
        def seen(_: nn.Module, __: object, out: Tensor) -> None:
            planes = out.float()
            total.add_(torch.stack([planes.mean((0, 2, 3)), planes.square().mean((0, 2, 3))]))

        return seen

    hooks = [
        conv.register_forward_hook(watch(total))
        for (_, conv, _), total in zip(parts, sums, strict=True)
    ]
    network.eval()
    for pictures in batches:
        network(pictures)
    for hook in hooks:
        hook.remove()
    for (_, conv, norm), total in zip(parts, sums, strict=True):
        mean, square = total / len(batches)
        _restate(conv, norm, mean, (square - mean.square()).clamp_min(0))


def _restate(conv: nn.Conv2d, norm: nn.BatchNorm2d, mean: Tensor, variance: Tensor) -> None:
    """Say the same in other numbers: kernels of a fresh one's size, norms of what passes."""
    if norm.running_mean is None or norm.running_var is None:
        raise TypeError("The norms here follow what passes through them.")
    slope = norm.weight / (norm.running_var + norm.eps).sqrt()
    level = norm.bias - norm.running_mean * slope
    kernel = conv.weight
    # The spread of torch's own start, uniform within one over the root of the inputs.
    fresh = 1 / (3 * kernel[0].numel()) ** 0.5
    grow = fresh / kernel.square().mean((1, 2, 3)).sqrt().clamp_min(1e-8)
    kernel.mul_(grow[:, None, None, None])
    mean, variance, slope = mean * grow, variance * grow.square(), slope / grow
    norm.running_mean.copy_(mean)
    norm.running_var.copy_(variance)
    norm.weight.copy_(slope * (variance + norm.eps).sqrt())
    norm.bias.copy_(level + mean * slope)
