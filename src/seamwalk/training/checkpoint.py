"""Weights between trainings: small enough to travel, exact enough to go on from."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import torch
from torch import Tensor

from seamwalk.training.network import NetworkSettings, SeamNetwork

FORMAT = "seam network 1"
"""Changes when older files cannot be read any more."""

MOMENTS_FORMAT = "seam network's moments 1"
"""The same for the optimiser's."""

MOMENTS = "state.pt"
"""Name of the file of moments, beside that of the weights."""


def _small(value: Tensor) -> Tensor:
    # Kernels keep three significant figures; norms hold variances that outgrow float16.
    if value.dtype == torch.float32 and value.ndim > 1:
        return value.detach().cpu().half()
    return value.detach().cpu().clone()


def write(network: SeamNetwork, path: Path, about: Mapping[str, Any] | None = None) -> None:
    """Write a network's weights, kernels as float16.

    Parameters
    ----------
    network : SeamNetwork
    path : Path
        The file is replaced whole, or not at all.
    about : mapping, optional
        Notes on the training: plain numbers and strings.
    """
    content = {
        "format": FORMAT,
        "settings": network.settings.as_lists(),
        "about": dict(about or {}),
        "state": {name: _small(value) for name, value in network.state_dict().items()},
    }
    part = path.with_suffix(path.suffix + ".part")
    torch.save(content, part)
    part.replace(path)


def read(path: Path) -> tuple[SeamNetwork, dict[str, Any]]:
    """Return the network in a file, as float32, and the notes on its training.

    Raises
    ------
    ValueError
        The file holds something else.
    """
    content = torch.load(path, map_location="cpu", weights_only=True)
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise ValueError(f"{path.name} holds no weights of a seam network.")
    network = SeamNetwork(NetworkSettings.of(content["settings"]))
    state = {
        name: value.float() if value.is_floating_point() else value
        for name, value in content["state"].items()
    }
    network.load_state_dict(state)
    return network, dict(content["about"])


def write_moments(optimiser: torch.optim.Optimizer, steps: int, path: Path) -> None:
    """Write the optimiser's moments, as bfloat16: their size matters, not their third figure.

    Parameters
    ----------
    optimiser : Optimizer
    steps : int
        Taken so far.
    path : Path
        The file is replaced whole, or not at all.
    """
    state = {
        number: {
            name: value.detach().cpu().bfloat16() if value.ndim else value.detach().cpu()
            for name, value in moments.items()
        }
        for number, moments in optimiser.state_dict()["state"].items()
    }
    part = path.with_suffix(path.suffix + ".part")
    torch.save({"format": MOMENTS_FORMAT, "steps": steps, "state": state}, part)
    part.replace(path)


def read_moments(optimiser: torch.optim.Optimizer, path: Path) -> int:
    """Give an optimiser the moments in a file, and return the steps taken before.

    Raises
    ------
    ValueError
        The file holds something else, or the moments of another network.
    """
    content = torch.load(path, map_location="cpu", weights_only=True)
    if not isinstance(content, dict) or content.get("format") != MOMENTS_FORMAT:
        raise ValueError(f"{path.name} holds no moments. Delete it to train without them.")
    parameters = [p for group in optimiser.param_groups for p in group["params"]]
    state = content["state"]
    known = {n: m["exp_avg"].shape for n, m in state.items()}
    if known != {n: p.shape for n, p in enumerate(parameters)} and state:
        raise ValueError(
            f"{path.name} holds the moments of another network than the weights beside it."
            " Delete it to train without them."
        )
    whole = optimiser.state_dict()
    whole["state"] = state
    optimiser.load_state_dict(whole)
    return int(content["steps"])
