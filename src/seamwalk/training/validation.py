"""Figures on pictures that no training draws: their seeds are set aside.

A heat's ridge is where it is the largest along the normal that the direction planes give. Seams
are judged by the share of ridge pixels that have a true one near, and the other way round, as is
usual for boundaries.

References
----------
D. Martin, C. Fowlkes, J. Malik, "Learning to detect natural image boundaries using local
brightness, color, and texture cues", PAMI 2004 (precision and recall of boundaries).
"""

from dataclasses import dataclass

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from seamwalk.training.feed import Feed, FeedSettings, Recipe
from seamwalk.training.loss import truth_planes
from seamwalk.training.network import Evidence, SeamNetwork
from seamwalk.training.render import FabricStore, batch_of, render
from seamwalk.training.sketch import Ingredients, Sketch


@dataclass(frozen=True, slots=True)
class ValidationSettings:
    """Which pictures, and when a seam counts as found.

    Attributes
    ----------
    count, side : int
        Pictures, and pixels of a side.
    prints, surfaces : int
        Swatches to choose from.
    seed : tuple of int
        Far from those that trainings count up from 1.
    near_px : int
        A ridge pixel within this distance of a true one is right.
    heats : tuple of float
        Where heat counts as seam; the figures are given at the best and at 0.5.
    true_heat : float
        Truth counts as ridge above this; the drawn line peaks at 1.
    at_once : int
        Pictures rendered together.
    """

    count: int = 64
    side: int = 768
    prints: int = 96
    surfaces: int = 24
    seed: tuple[int, ...] = (770_077,)
    near_px: int = 2
    heats: tuple[float, ...] = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8)
    true_heat: float = 0.7
    at_once: int = 8


@dataclass(frozen=True, slots=True, eq=False)
class HeldOut:
    """Sketches and swatches set aside."""

    sketches: tuple[Sketch, ...]
    swatches: NDArray[np.uint8]
    settings: ValidationSettings


@dataclass(frozen=True, slots=True)
class Figures:
    """How well a network does.

    Attributes
    ----------
    seam_f, precision, recall : float
        At heat 0.5.
    best_f, best_heat : float
        At the best heat.
    top_iou, object_iou : float
        Of all pictures together, at 0.5.
    """

    seam_f: float
    precision: float
    recall: float
    best_f: float
    best_heat: float
    top_iou: float
    object_iou: float

    def line(self) -> str:
        """Return the figures as one line of text."""
        return (
            f"seam F {self.seam_f:.4f} (precision {self.precision:.4f}, recall {self.recall:.4f})"
            f", best {self.best_f:.4f} at heat {self.best_heat:.1f}"
            f", top IoU {self.top_iou:.4f}, object IoU {self.object_iou:.4f}"
        )


def held_out(recipe: Recipe, settings: ValidationSettings, workers: int) -> HeldOut:
    """Draw the pictures set aside, always the whole recipe.

    Call it before the graphics card is touched: it starts processes.
    """
    feed_settings = FeedSettings(
        side=settings.side,
        workers=max(1, min(workers, settings.count)),
        slots=settings.count,
        prints=settings.prints,
        surfaces=settings.surfaces,
        seed=settings.seed,
        ingredients=Ingredients(),
        sketches_per_page=1_000_000,
    )
    with Feed(recipe, feed_settings) as feed:
        # Every worker fills its slots once, in order: slot k holds picture k, and page k its
        # first drawing, since no flag is turned down.
        feed.wait(lambda: len(feed.ready()) == settings.count and feed.pages_ready())
        sketches = tuple(feed.slots.get(k) for k in range(settings.count))
        swatches = np.array(feed.page_store.swatches)
    return HeldOut(sketches, swatches, settings)


def ridges(heat: Tensor, cos: Tensor, sin: Tensor) -> Tensor:
    """Return where heat is the largest across the seam.

    Parameters
    ----------
    heat, cos, sin : (B, S, S) Tensor
        Heat, and cos and sin of twice the seam's direction.

    Returns
    -------
    (B, S, S) bool Tensor
    """
    # Steps across a seam that runs at 0, 45, 90, 135 degrees (x right, y down), as (dy, dx).
    steps = ((1, 0), (1, -1), (0, 1), (1, 1))
    angle = torch.atan2(sin, cos)
    nearest = torch.remainder(torch.round(angle / (torch.pi / 2)), 4).long()
    room = functional.pad(heat[:, None], (1, 1, 1, 1))[:, 0]
    height, width = heat.shape[1:]
    out = torch.zeros_like(heat, dtype=torch.bool)
    for way, (dy, dx) in enumerate(steps):
        ahead = room[:, 1 + dy : 1 + dy + height, 1 + dx : 1 + dx + width]
        behind = room[:, 1 - dy : 1 - dy + height, 1 - dx : 1 - dx + width]
        # One side may be equal: a line between two pixels has two equal rows, and one is enough.
        out |= (nearest == way) & (heat > behind) & (heat >= ahead)
    return out


def _near(mask: Tensor, reach: int) -> Tensor:
    """Dilate by a disc."""
    span = torch.arange(-reach, reach + 1, device=mask.device)
    disc = (span[:, None] ** 2 + span[None] ** 2 <= reach**2).float()
    grown = functional.conv2d(mask[:, None].float(), disc[None, None], padding=reach)
    return grown[:, 0] > 0.5


@torch.no_grad()
def evidence_of(network: nn.Module, pictures: Tensor) -> Tensor:
    """Return (B, 6, S, S) float32 evidence."""
    layout = torch.channels_last if pictures.is_cuda else torch.contiguous_format
    planes: Tensor = network(pictures.contiguous(memory_format=layout))
    return planes.float()


@torch.no_grad()
def judge(
    network: SeamNetwork, held: HeldOut, device: torch.device, *, shown: int = 12
) -> tuple[Figures, list[tuple[Tensor, Tensor, Tensor]]]:
    """Return the figures, and `shown` examples as (picture, truth, evidence) on the processor."""
    s = held.settings
    was_training = network.training
    used = Evidence(network.eval())
    store = FabricStore(held.swatches, device)
    # Per heat: ridge pixels found, of them right, true ridge pixels, of them found.
    counts = torch.zeros(len(s.heats), 4, dtype=torch.float64)
    areas = torch.zeros(2, 2, dtype=torch.float64)
    examples: list[tuple[Tensor, Tensor, Tensor]] = []
    for start in range(0, len(held.sketches), s.at_once):
        batch = batch_of(held.sketches[start : start + s.at_once]).to(device)
        pictures = render(batch, store, device=device)
        truth = truth_planes(batch.targets.permute(0, 3, 1, 2))
        seen = evidence_of(used, pictures)
        true = ridges(truth[:, 0], truth[:, 4], truth[:, 5]) & (truth[:, 0] > s.true_heat)
        near_true, ridge = _near(true, s.near_px), ridges(seen[:, 0], seen[:, 4], seen[:, 5])
        for row, heat in enumerate(s.heats):
            found = ridge & (seen[:, 0] > heat)
            right, met = found & near_true, true & _near(found, s.near_px)
            counts[row] += torch.stack([m.sum() for m in (found, right, true, met)]).cpu()
        for row in range(2):
            said, is_so = seen[:, 1 + row] > 0.5, truth[:, 1 + row] > 0.5
            areas[row] += torch.stack([(said & is_so).sum(), (said | is_so).sum()]).cpu()
        left = max(0, shown - len(examples))
        examples += [
            (p.cpu(), t.cpu(), e.cpu())
            for p, t, e in zip(pictures[:left], truth[:left], seen[:left], strict=True)
        ]
    network.train(was_training)
    return _figures(counts, areas, s.heats), examples


def _figures(counts: Tensor, areas: Tensor, heats: tuple[float, ...]) -> Figures:
    precision = counts[:, 1] / counts[:, 0].clamp_min(1)
    recall = counts[:, 3] / counts[:, 2].clamp_min(1)
    f = 2 * precision * recall / (precision + recall).clamp_min(1e-9)
    half = min(range(len(heats)), key=lambda k: abs(heats[k] - 0.5))
    best = int(f.argmax())
    iou = areas[:, 0] / areas[:, 1].clamp_min(1)
    return Figures(
        seam_f=float(f[half]),
        precision=float(precision[half]),
        recall=float(recall[half]),
        best_f=float(f[best]),
        best_heat=heats[best],
        top_iou=float(iou[0]),
        object_iou=float(iou[1]),
    )
