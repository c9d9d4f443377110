"""How far the network's planes are from the truth."""

from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional

PARTS = ("seam", "seam overlap", "top", "top overlap", "object", "junction", "direction")
"""What `losses` returns, in this order."""


@dataclass(frozen=True, slots=True)
class LossSettings:
    """Weights of the parts, and of the rare pixels inside them.

    Attributes
    ----------
    seam, seam_overlap, top, top_overlap, object, junction, direction : float
        Share of each part. Seams are what the network is for, so they weigh most; direction is
        an aid.
    seam_boost, object_boost, junction_boost : float
        How much more a pixel of the rare kind counts than another; between one pixel in ten and
        one in three hundred is such a one, and full balance would smear the heats.
    seam_ease_px, top_ease_px : float
        Pixels added above and below in the overlaps, so that pictures with hardly any seam or
        cloth don't swing the mean.
    on_seam : float
        Direction is asked for where the seam's truth is above this: within 1.7 px of its line.
    """

    seam: float = 2.0
    seam_overlap: float = 1.0
    top: float = 0.5
    top_overlap: float = 0.25
    object: float = 0.3
    junction: float = 1.0
    direction: float = 0.15
    seam_boost: float = 4.0
    object_boost: float = 2.0
    junction_boost: float = 12.0
    seam_ease_px: float = 20.0
    top_ease_px: float = 400.0
    on_seam: float = 0.25


def truth_planes(targets: Tensor) -> Tensor:
    """Return truth as numbers from the bytes of sketches.

    Parameters
    ----------
    targets : (B, 6, S, S) uint8 Tensor

    Returns
    -------
    (B, 6, S, S) float32 Tensor
        Shares between 0 and 1, then cos and sin between -1 and 1.
    """
    shares = targets[:, :4].float() / 255.0
    turns = (targets[:, 4:].float() - 128.0) / 127.0
    return torch.cat([shares, turns.clamp(-1.0, 1.0)], 1)


def _boosted(odds: Tensor, truth: Tensor, boost: float) -> Tensor:
    """Cross entropy, pixels of the rare kind counting more."""
    weight = 1.0 + boost * truth
    each = functional.binary_cross_entropy_with_logits(odds, truth, reduction="none")
    return (each * weight).sum() / weight.sum()


def _overlap_lack(odds: Tensor, truth: Tensor, ease: float) -> Tensor:
    """One minus the overlap (Dice's coefficient on squares), mean over pictures."""
    heat = torch.sigmoid(odds)
    both = (heat * truth).sum((1, 2))
    each = (heat * heat).sum((1, 2)) + (truth * truth).sum((1, 2))
    return (1.0 - (2.0 * both + ease) / (each + ease)).mean()


def losses(planes: Tensor, truth: Tensor, settings: LossSettings | None = None) -> Tensor:
    """Return the parts of the loss.

    Parameters
    ----------
    planes : (B, 6, S, S) Tensor
        As :class:`seamwalk.training.network.SeamNetwork` gives them.
    truth : (B, 6, S, S) float32 Tensor
        As `truth_planes` gives them.
    settings : LossSettings, optional

    Returns
    -------
    (7,) Tensor
        In the order of `PARTS`, unweighted.

    References
    ----------
    F. Milletari, N. Navab, S.-A. Ahmadi, "V-Net", 3DV 2016 (the overlap of soft masks).
    """
    s = settings or LossSettings()
    planes = planes.float()
    seam, top, thing, junction = (truth[:, i] for i in range(4))
    on_seam = (seam > s.on_seam).float()
    off = ((planes[:, 4:] - truth[:, 4:]) ** 2).sum(1)
    return torch.stack(
        [
            _boosted(planes[:, 0], seam, s.seam_boost),
            _overlap_lack(planes[:, 0], seam, s.seam_ease_px),
            functional.binary_cross_entropy_with_logits(planes[:, 1], top),
            _overlap_lack(planes[:, 1], top, s.top_ease_px),
            _boosted(planes[:, 2], thing, s.object_boost),
            _boosted(planes[:, 3], junction, s.junction_boost),
            (off * on_seam).sum() / (on_seam.sum() + 1.0),
        ]
    )


def total(parts: Tensor, settings: LossSettings | None = None) -> Tensor:
    """Return the loss to descend: the parts of `losses`, weighted."""
    s = settings or LossSettings()
    weights = [s.seam, s.seam_overlap, s.top, s.top_overlap, s.object, s.junction, s.direction]
    # Not as a tensor of weights: bringing one to the card would wait for all its work in hand.
    return torch.stack([w * p for w, p in zip(weights, parts.unbind(), strict=True)]).sum()
