"""The seam network: a picture of a top in, six planes of evidence out.

An encoder and decoder joined level by level [1]_. Its blocks mix places with depthwise
convolutions and channels with pointwise ones [2]_; from an eighth of the picture's size
downwards two long strips, one along rows and one along columns, join the square kernel [3]_, so
that a straight seam is followed over many patches. Seams are a pixel wide, so the last layers
work at the picture's own size and see the picture itself again.

All layers are convolutions, additions and bilinear doublings: the trained network becomes a file
that common runtimes read (:mod:`seamwalk.training.export`), and takes pictures of any size whose
sides are multiples of `STRIDE`.

References
----------
.. [1] O. Ronneberger, P. Fischer, T. Brox, "U-Net: convolutional networks for biomedical image
   segmentation", MICCAI 2015.
.. [2] Z. Liu et al., "A ConvNet for the 2020s", CVPR 2022 (inverted blocks with large depthwise
   kernels).
.. [3] M.-H. Guo et al., "SegNeXt: rethinking convolutional attention design for semantic
   segmentation", NeurIPS 2022 (strip convolutions for lines).
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Self

import torch
from torch import Tensor, nn
from torch.nn import functional
from torch.nn.utils.fusion import fuse_conv_bn_eval

from seamwalk.training.sketch import TARGETS

STRIDE = 32
"""Sides of a picture must be multiples of this, in pixels."""

HEATS = 4
"""The first planes of `TARGETS` are shares between 0 and 1; the rest are cos and sin."""


@dataclass(frozen=True, slots=True)
class NetworkSettings:
    """Size of the network.

    Attributes
    ----------
    widths : tuple of int
        Channels at 1/2, 1/4, 1/8, 1/16 and 1/32 of the picture's size; multiples of 16, which
        processors work on without remainder.
    depths : tuple of int
        Blocks of the encoder at those sizes. Most of them sit deep, where a block costs little
        and sees far.
    kernels : tuple of int
        Side of the square depthwise kernels, in pixels of their level; none at 1/2, where plain
        3 × 3 convolutions find thin lines.
    strips : tuple of int
        Length of the strips, in pixels of their level, 0 for none: 168, 336 and 480 px of the
        picture, two to four patches of a whole top at working size.
    expand : int
        Channels inside a block, in widths. Three rather than the usual four: depth serves
        better than width for the same weight.
    decoder_expand : int
        The same in the decoder, which only joins what the encoder found.
    fine : int
        Channels at the picture's own size; the dearest ones in time.
    """

    widths: tuple[int, int, int, int, int] = (32, 64, 112, 176, 240)
    depths: tuple[int, int, int, int, int] = (1, 2, 3, 6, 4)
    kernels: tuple[int, int, int, int, int] = (0, 5, 5, 7, 7)
    strips: tuple[int, int, int, int, int] = (0, 0, 21, 21, 15)
    expand: int = 3
    decoder_expand: int = 2
    fine: int = 16

    def as_lists(self) -> dict[str, object]:
        """Return the settings as plain values for a file's header."""
        return {k: list(v) if isinstance(v, tuple) else v for k, v in asdict(self).items()}

    @classmethod
    def of(cls, values: Mapping[str, Any]) -> Self:
        """Return the settings of a file's header; what it doesn't name is as usual."""
        known = {field.name for field in fields(cls)}
        given: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in values.items()
            if name in known
        }
        return cls(**given)


def _conv(
    inside: int,
    outside: int,
    kernel: int | tuple[int, int] = 1,
    *,
    stride: int = 1,
    groups: int = 1,
    relu: bool = False,
) -> nn.Sequential:
    """Convolution and batch norm, made one by `fold`; zero padding keeps the size."""
    sides = (kernel, kernel) if isinstance(kernel, int) else kernel
    layers: list[nn.Module] = [
        nn.Conv2d(
            inside,
            outside,
            sides,
            stride,
            (sides[0] // 2, sides[1] // 2),
            groups=groups,
            bias=False,
        ),
        nn.BatchNorm2d(outside),
    ]
    if relu:
        layers.append(nn.ReLU(inplace=True))
    return nn.Sequential(*layers)


def _last_norm(layers: nn.Sequential) -> nn.BatchNorm2d:
    norm = layers[1]
    if not isinstance(norm, nn.BatchNorm2d):
        raise TypeError("A convolution here is followed by its batch norm.")
    return norm


class FineBlock(nn.Module):
    """Two plain 3 × 3 convolutions added to what came in."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.first = _conv(width, width, 3, relu=True)
        self.second = _conv(width, width, 3)

    def forward(self, x: Tensor) -> Tensor:
        """Return (B, width, H, W) from the same."""
        return functional.relu(x + self.second(self.first(x)))


class WideBlock(nn.Module):
    """Square and strip depthwise convolutions, then two pointwise ones, added to what came in."""

    def __init__(self, width: int, kernel: int, strip: int, expand: int) -> None:
        super().__init__()
        self.square = _conv(width, width, kernel, groups=width)
        self.along_rows = _conv(width, width, (1, strip), groups=width) if strip else None
        self.along_columns = _conv(width, width, (strip, 1), groups=width) if strip else None
        self.widen = _conv(width, width * expand, relu=True)
        self.narrow = _conv(width * expand, width)
        # A block starts as a small correction, so that a deep stack of them trains from the start.
        nn.init.constant_(_last_norm(self.narrow).weight, 0.3)

    def forward(self, x: Tensor) -> Tensor:
        """Return (B, width, H, W) from the same."""
        seen = self.square(x)
        if self.along_rows is not None and self.along_columns is not None:
            seen = seen + self.along_rows(x) + self.along_columns(x)
        out: Tensor = x + self.narrow(self.widen(seen))
        return out


def _halve(inside: int, outside: int) -> nn.Sequential:
    """Half the size: a depthwise step, then a pointwise one; plain where channels are few."""
    if inside <= 32:
        return _conv(inside, outside, 3, stride=2)
    return nn.Sequential(_conv(inside, inside, 3, stride=2, groups=inside), _conv(inside, outside))


def _doubled(x: Tensor) -> Tensor:
    return functional.interpolate(x, scale_factor=2.0, mode="bilinear", align_corners=False)


class SeamNetwork(nn.Module):
    """Six planes of evidence for every pixel of a picture.

    Parameters
    ----------
    settings : NetworkSettings
    """

    def __init__(self, settings: NetworkSettings | None = None) -> None:
        super().__init__()
        self.settings = made = settings or NetworkSettings()
        widths, expand, lower = made.widths, made.expand, made.decoder_expand
        levels = range(1, len(widths))
        self.stem = _conv(3, widths[0], 3, stride=2, relu=True)
        self.fine_in = nn.Sequential(*[FineBlock(widths[0]) for _ in range(made.depths[0])])
        self.halvings = nn.ModuleList([_halve(widths[i - 1], widths[i]) for i in levels])
        self.encoders = nn.ModuleList(
            nn.Sequential(
                *[
                    WideBlock(widths[i], made.kernels[i], made.strips[i], expand)
                    for _ in range(made.depths[i])
                ]
            )
            for i in levels
        )
        self.lifts = nn.ModuleList([nn.Conv2d(widths[i], widths[i - 1], 1) for i in levels])
        self.decoders = nn.ModuleList(
            nn.Sequential(
                *[
                    WideBlock(widths[i], made.kernels[i], made.strips[i], lower)
                    for _ in range(2 if i < 3 else 1)
                ]
            )
            for i in levels[:-1]
        )
        self.fine_out = FineBlock(widths[0])
        self.to_full = nn.ConvTranspose2d(widths[0], made.fine, 2, 2)
        self.picture = nn.Conv2d(3, made.fine, 3, padding=1)
        self.head = nn.Conv2d(made.fine, len(TARGETS), 3, padding=1)
        self._start_head()

    def _start_head(self) -> None:
        # Seams, things and junctions are rare: without this the first steps only unlearn 0.5.
        if self.head.bias is None:
            raise TypeError("The head needs its bias.")
        rare = torch.tensor([-2.0, 0.0, -2.0, -4.0, 0.0, 0.0])
        with torch.no_grad():
            self.head.bias.copy_(rare)

    def forward(self, picture: Tensor) -> Tensor:
        """Return the planes before the sigmoid.

        Parameters
        ----------
        picture : (B, 3, H, W) Tensor
            sRGB between 0 and 1; H and W multiples of `STRIDE`.

        Returns
        -------
        (B, 6, H, W) Tensor
            Planes in the order of `TARGETS`: log odds of the first four, then cos and sin of
            twice the seam's direction, which shrink where the direction is in doubt.
        """
        kept = [self.fine_in(self.stem(picture))]
        for halve, encode in zip(self.halvings, self.encoders, strict=True):
            kept.append(encode(halve(kept[-1])))
        x = kept.pop()
        for level in range(len(kept) - 1, 0, -1):
            x = self.decoders[level - 1](kept[level] + _doubled(self.lifts[level](x)))
        x = self.fine_out(kept[0] + _doubled(self.lifts[0](x)))
        planes: Tensor = self.head(functional.relu(self.to_full(x) + self.picture(picture)))
        return planes


class Evidence(nn.Module):
    """The network as it is used: heats between 0 and 1, cos and sin as they come."""

    def __init__(self, network: SeamNetwork) -> None:
        super().__init__()
        self.network = network

    def forward(self, picture: Tensor) -> Tensor:
        """Return (B, 6, H, W) evidence from (B, 3, H, W) sRGB between 0 and 1."""
        planes = self.network(picture)
        return torch.cat([torch.sigmoid(planes[:, :HEATS]), planes[:, HEATS:]], 1)


def weight_count(network: nn.Module) -> int:
    """Return how many trained numbers the network holds."""
    return sum(p.numel() for p in network.parameters())


def fold(network: SeamNetwork) -> SeamNetwork:
    """Return a copy for use, each batch norm taken up by the convolution before it.

    The copy gives the same planes as ``network.eval()`` up to rounding and cannot be trained on.
    """
    copy = SeamNetwork(network.settings)
    copy.load_state_dict(network.state_dict())
    copy.eval()
    for layers in [m for m in copy.modules() if isinstance(m, nn.Sequential)]:
        if len(layers) < 2:
            continue
        conv, norm = layers[0], layers[1]
        if isinstance(conv, nn.Conv2d) and isinstance(norm, nn.BatchNorm2d):
            layers[0] = fuse_conv_bn_eval(conv, norm)
            layers[1] = nn.Identity()
    return copy
