"""Colours of floor, cloth and things as they lie, before light.

Each half pixel looks up its row of cloth, turns its place on the floor into a place on the
swatch, reads the swatch there at the size that suits the distance, and changes the colours by the
row's matrix. The four half pixels of a pixel are averaged as light. The loop over the four bounds
memory: every step handles one half pixel of each pixel.

References
----------
R. Keys, "Cubic convolution interpolation for digital image processing", IEEE Trans. ASSP 29(6),
1981 (inches between the nodes of the plane).
"""

from dataclasses import dataclass
from functools import cache

import torch

from seamwalk.training.fabric_store import SIDES, STARTS, TEXELS, FabricStore, linear_from_srgb
from seamwalk.training.sketch import ROW, ClothRow

_ROW = ClothRow()
_CLOTH, _FLOOR = 1, 0

_LOG_SCALE = ROW - 1
"""Spare column of a row, used here for log2 of the swatch's pixels per inch."""

_PHASES = ((0, 0, 0.125), (1, 1, 0.375), (0, 1, 0.625), (1, 0, 0.875))
"""Row and column of each half pixel, and what it adds to the level before rounding down: the four
together blend two neighbouring sizes of the swatch without looking up both."""


@dataclass(frozen=True, slots=True, eq=False)
class LaidCloth:
    """What lies where.

    Attributes
    ----------
    light : (B, S, S, 3) tensor
        Reflected share of each colour, linear.
    gloss, cloth, floor : (B, S, S) tensor
        Share of light mirrored; shares of the pixel that are cloth of the top, and floor.
    """

    light: torch.Tensor
    gloss: torch.Tensor
    cloth: torch.Tensor
    floor: torch.Tensor


def keys(distance: torch.Tensor) -> torch.Tensor:
    """Cubic convolution kernel of Keys, a = −1/2."""
    d = distance.abs()
    near = (1.5 * d - 2.5) * d * d + 1
    far = ((-0.5 * d + 2.5) * d - 4) * d + 2
    return torch.where(d < 1, near, torch.where(d < 2, far, torch.zeros_like(d)))


def _stretch(nodes: torch.Tensor, places: torch.Tensor) -> torch.Tensor:
    """Values between nodes along the second axis, straight on beyond the first and last node."""
    ends = (2 * nodes[:, :1] - nodes[:, 1:2], nodes, 2 * nodes[:, -1:] - nodes[:, -2:-1])
    nodes = torch.cat(ends, 1)
    first = places.floor().clamp(0, nodes.shape[1] - 4)
    shape = (1, -1) + (1,) * (nodes.dim() - 2)
    # All taps' weights at once: a compiler's time goes by the number of operations.
    weights = keys((places - first + 1)[:, None] - torch.arange(4, device=places.device))
    # Sums of four, not a matrix product: those may run in reduced precision on graphics cards,
    # which inches over a whole top cannot bear.
    return sum(
        (
            nodes.index_select(1, first.int() + tap) * weight.reshape(shape)
            for tap, weight in enumerate(weights.unbind(1))
        ),
        start=nodes.new_zeros(()),
    )


def inches(plane: torch.Tensor, side: int, row: int, column: int) -> torch.Tensor:
    """Inches on the floor seen by one half pixel of every pixel.

    Parameters
    ----------
    plane : (B, G, G, 2) float32 tensor
        Nodes from edge to edge of the picture.
    side : int
        S, pixels.
    row, column : int
        0 or 1: which half pixel.

    Returns
    -------
    (B, S, S, 2) float32 tensor
    """
    spans = plane.shape[1] - 1
    half = torch.arange(side, device=plane.device, dtype=torch.float32) * 2 + 0.5
    down = _stretch(plane, (half + row) * (spans / (2 * side)))
    across = _stretch(down.transpose(1, 2), (half + column) * (spans / (2 * side)))
    return across.transpose(1, 2)


def _step(plane: torch.Tensor, side: int) -> torch.Tensor:
    """Inches from one half pixel to the next, root mean square of both axes: (B, S, S)."""
    spans = plane.shape[1] - 1
    down = (plane[:, 1:] - plane[:, :-1]).square().sum(-1)
    across = (plane[:, :, 1:] - plane[:, :, :-1]).square().sum(-1)
    per_cell = 0.25 * (down[:, :, 1:] + down[:, :, :-1] + across[:, 1:] + across[:, :-1])
    per_half = per_cell.sqrt() * (spans / (2 * side))
    return torch.nn.functional.interpolate(
        per_half[:, None], size=(side, side), mode="bilinear", align_corners=False
    )[:, 0]


@cache
def _sizes(device: torch.device) -> tuple[torch.Tensor, torch.Tensor]:
    """Sides and starts of the kept sizes, on a device."""
    sides = torch.tensor(SIDES, dtype=torch.int32, device=device)
    return sides, torch.tensor(STARTS, dtype=torch.int32, device=device)


def sample(
    store: FabricStore,
    swatch: torch.Tensor,
    u: torch.Tensor,
    v: torch.Tensor,
    level: torch.Tensor,
) -> torch.Tensor:
    """Colours of swatches at places between pixels, wrapped round.

    Parameters
    ----------
    store : FabricStore
    swatch, level : (N,) int32 tensor
        Number of the swatch; 0 for 384 pixels a side, 1 for 192, and so on.
    u, v : (N,) float32 tensor
        Column and row at 384 pixels a side; the centre of the first pixel is at 0.5.

    Returns
    -------
    (N, 3) float32 tensor
        sRGB, 0 to 1.
    """
    sides, starts = _sizes(u.device)
    # Four bytes are gathered as one number and taken apart afterwards.
    packed = store.texels.view(torch.int32).view(-1)
    side = sides.index_select(0, level)
    shrink = torch.exp2(-level.float())
    column = u * shrink - 0.5
    row = v * shrink - 0.5
    left, above = column.floor(), row.floor()
    right_share, below_share = (column - left)[:, None], (row - above)[:, None]
    x0 = left.int().remainder(side)
    y0 = above.int().remainder(side)
    x1 = torch.where(x0 + 1 == side, 0, x0 + 1)
    y1 = torch.where(y0 + 1 == side, 0, y0 + 1)
    base = swatch * TEXELS + starts.index_select(0, level)
    upper, lower = base + y0 * side, base + y1 * side

    def texels(at: torch.Tensor) -> torch.Tensor:
        return packed.index_select(0, at).view(torch.uint8).view(-1, 4)[:, :3].float()

    top = torch.lerp(texels(upper + x0), texels(upper + x1), right_share)
    bottom = torch.lerp(texels(lower + x0), texels(lower + x1), right_share)
    return torch.lerp(top, bottom, below_share) * (1 / 255)


def lay(
    labels: torch.Tensor, plane: torch.Tensor, cloth: torch.Tensor, store: FabricStore
) -> LaidCloth:
    """Lay the fabrics of every picture.

    Parameters
    ----------
    labels : (B, 2S, 2S) int16 tensor
    plane : (B, GRID, GRID, 2) float32 tensor
    cloth : (B, L, ROW) float32 tensor
    store : FabricStore

    Returns
    -------
    LaidCloth
    """
    b, side = labels.shape[0], labels.shape[1] // 2
    rows = cloth.clone()
    a, b_, _, d, e, _ = cloth[..., _ROW.affine].unbind(-1)
    per_inch = (0.5 * (a * a + b_ * b_ + d * d + e * e)).sqrt()
    rows[..., _LOG_SCALE] = torch.log2(per_inch.clamp_min(1e-6))
    table = rows.view(-1, ROW)
    first_row = torch.arange(b, device=cloth.device, dtype=torch.int32).view(b, 1, 1)
    log_step = torch.log2(_step(plane, side).clamp_min(1e-9)).flatten()
    light = cloth.new_zeros((b, side, side, 3))
    gloss, of_top, floor = (cloth.new_zeros((b, side, side)) for _ in range(3))
    for down, across, dither in _PHASES:
        label = labels[:, down::2, across::2].int() + first_row * cloth.shape[1]
        row = table.index_select(0, label.flatten())
        x, y = inches(plane, side, down, across).reshape(-1, 2).unbind(-1)
        a, b_, c, d, e, f = row[:, _ROW.affine].unbind(-1)
        level = (log_step + row[:, _LOG_SCALE] + dither).floor().clamp(0, len(SIDES) - 1)
        swatch = row[:, _ROW.swatch].int()
        print_ = sample(store, swatch, a * x + b_ * y + c, d * x + e * y + f, level.int())
        m = row[:, _ROW.colour].view(-1, 3, 4)
        colour = m[:, :, 3]
        for channel in range(3):
            colour = torch.addcmul(colour, m[:, :, channel], print_[:, channel : channel + 1])
        light += linear_from_srgb(colour.clamp(0, 1)).view(b, side, side, 3)
        kind = row[:, _ROW.kind].view(b, side, side)
        gloss += row[:, _ROW.gloss].view(b, side, side)
        of_top += (kind - _CLOTH).abs() < 0.5
        floor += (kind - _FLOOR).abs() < 0.5
    return LaidCloth(light=light / 4, gloss=gloss / 4, cloth=of_top / 4, floor=floor / 4)
