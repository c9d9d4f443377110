"""Pictures from sketches, a batch at a time, on the graphics card or the processor.

The order is that of the world: fabrics are laid, light falls on them, a camera takes and stores
the picture. No random numbers are drawn: all come with the sketch, so the same sketches and store
give the same pictures on every machine (to rounding, which compression can raise to one of its
steps in a few blocks).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import torch

from seamwalk.training.camera_effects import canvas_side, grain_at, photograph
from seamwalk.training.fabric_store import FabricStore
from seamwalk.training.laid_cloth import lay
from seamwalk.training.shading import shine
from seamwalk.training.sketch import ROW, Sketch

__all__ = ["Batch", "FabricStore", "batch_of", "render"]


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Sketches of one size, stacked.

    Attributes
    ----------
    labels : (B, 2S, 2S) int16 tensor
    relief, grooves, shade : (B, S, S) uint8 tensor
    targets : (B, S, S, 6) uint8 tensor
    plane : (B, GRID, GRID, 2) float32 tensor
    cloth : (B, L, ROW) float32 tensor
        Rows of zeros after each sketch's own.
    light : (B, 64) float32 tensor
    """

    labels: torch.Tensor
    relief: torch.Tensor
    grooves: torch.Tensor
    shade: torch.Tensor
    targets: torch.Tensor
    plane: torch.Tensor
    cloth: torch.Tensor
    light: torch.Tensor

    def to(self, device: torch.device | str) -> "Batch":
        """Return the batch on a device; copies from pinned memory do not wait."""
        moved = {
            field.name: getattr(self, field.name).to(device, non_blocking=True)
            for field in fields(self)
        }
        return Batch(**moved)


def batch_of(sketches: Sequence[Sketch]) -> Batch:
    """Stack sketches.

    Parameters
    ----------
    sketches : sequence of Sketch
        All of one size.

    Returns
    -------
    Batch
        On the processor.

    Raises
    ------
    ValueError
        If there are none, or sizes differ.
    """
    sides = {sketch.relief.shape for sketch in sketches}
    if len(sides) != 1:
        raise ValueError(f"a batch needs sketches of one size, not {sorted(sides)}")
    cloth = np.zeros((len(sketches), max(len(s.cloth) for s in sketches), ROW), np.float32)
    for rows, sketch in zip(cloth, sketches, strict=True):
        rows[: len(sketch.cloth)] = sketch.cloth

    def stacked(name: str) -> torch.Tensor:
        return torch.from_numpy(np.stack([getattr(sketch, name) for sketch in sketches]))

    return Batch(
        # Rows number 4,096 at most, so the sign bit is free; torch computes little on uint16.
        labels=torch.from_numpy(np.stack([s.labels for s in sketches]).view(np.int16)),
        relief=stacked("relief"),
        grooves=stacked("grooves"),
        shade=stacked("shade"),
        targets=stacked("targets"),
        plane=stacked("plane"),
        cloth=torch.from_numpy(cloth),
        light=stacked("light"),
    )


@torch.no_grad()
def render(
    batch: Batch, store: FabricStore, *, device: torch.device | str | None = None
) -> torch.Tensor:
    """Make the pictures of a batch.

    Parameters
    ----------
    batch : Batch
    store : FabricStore
        On the device.
    device : torch.device or str, optional
        Where to render; by default where the store is.

    Returns
    -------
    (B, 3, S, S) float32 tensor
        sRGB, 0 to 1.
    """
    device = torch.device(store.texels.device if device is None else device)
    batch = batch.to(device)
    side = batch.relief.shape[1]
    # Lighting in the trainer's reduced precision would band smooth shades.
    with torch.autocast(device.type, enabled=False):
        noise = grain_at(store.grain, batch.light, canvas_side(side))
        laid = lay(batch.labels, batch.plane, batch.cloth, store)
        received = shine(
            laid,
            batch.labels,
            batch.relief.float(),
            batch.grooves.float() * (1 / 255),
            batch.shade.float() * (1 / 255),
            noise[:, :side, :side, 7].float(),
            store.hills,
            batch.light,
        )
        return photograph(received, noise, batch.light)
