"""From light to file: lens, sensor, tone curve, sharpening, compression, enlarging.

Lens blur, shake, lateral colour error and shrinking to the file's size are one matrix for each
axis and colour, enlarging is another; a batch of pictures with different cameras is then a few
matrix products. A file smaller than the picture lies in the upper left of a canvas of the
picture's size, so all pictures of a batch have one shape.

References
----------
ITU-T Recommendation T.81 (1992), Annex K: quantisation tables; the quality scale is that of the
Independent JPEG Group's library. ITU-T T.871: YCbCr of JFIF files.
"""

import math
from functools import cache

import torch

from seamwalk.training.fabric_store import srgb_from_linear
from seamwalk.training.laid_cloth import keys
from seamwalk.training.light import COLUMN, GRID_PX
from seamwalk.training.noise import SIDE
from seamwalk.training.shading import both_axes, gaussian, number

_LUMA = (0.299, 0.587, 0.114)
"""Weights of ITU-R BT.601, as JFIF files use."""

_Table = tuple[tuple[int, ...], ...]

_LUMINANCE_TABLE: _Table = (
    (16, 11, 10, 16, 24, 40, 51, 61),
    (12, 12, 14, 19, 26, 58, 60, 55),
    (14, 13, 16, 24, 40, 57, 69, 56),
    (14, 17, 22, 29, 51, 87, 80, 62),
    (18, 22, 37, 56, 68, 109, 103, 77),
    (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101),
    (72, 92, 95, 98, 112, 100, 103, 99),
)
_CHROMINANCE_TABLE: _Table = (
    (17, 18, 24, 47, 99, 99, 99, 99),
    (18, 21, 26, 66, 99, 99, 99, 99),
    (24, 26, 56, 99, 99, 99, 99, 99),
    (47, 66, 99, 99, 99, 99, 99, 99),
    *(((99,) * 8,) * 4),
)

_PIXEL_SIGMA = 0.3
"""Least blur of the way to the file, pixels: no lens is sharper than its sensor."""


def canvas_side(side: int) -> int:
    """Side of the canvas for pictures of a side: room to move the compression grid."""
    return side + GRID_PX


def grain_at(tile: torch.Tensor, light: torch.Tensor, side: int) -> torch.Tensor:
    """Noise of every picture, cut from the fixed tile: (B, side, side, 8), half precision."""
    place = light[:, COLUMN["noise_place"]].int()
    at = torch.arange(side, device=light.device, dtype=torch.int32)
    rows = (place.div(SIDE, rounding_mode="floor").view(-1, 1) + at) % SIDE
    columns = (place.view(-1, 1) + at) % SIDE
    flat = (rows[:, :, None] * SIDE + columns[:, None, :]).flatten()
    return tile.index_select(0, flat).view(len(place), side, side, -1)


def _to_file(light: torch.Tensor, side: int, axis: str) -> torch.Tensor:
    """Matrices from picture to canvas along one axis, for red, green, blue: (B, 3, C, S)."""
    shrink = number(light, "shrink", 3)
    at = torch.arange(canvas_side(side), device=light.device, dtype=torch.float32)
    seen = (at.view(1, 1, -1, 1) - number(light, f"shift_{axis}", 3) + 0.5) / shrink - 0.5
    colours = torch.tensor((-1.0, 0.0, 1.0), device=light.device).view(1, 3, 1, 1)
    middle = (side - 1) / 2
    seen = middle + (seen - middle) * (1 + number(light, "aberration", 3) * colours)
    seen = seen.clamp(0, side - 1)
    shaken = 0.5 * number(light, f"motion_{axis}_px", 3).clamp_min(1.0)
    # A file pixel averages 1 / shrink picture pixels: the variance of that box, less the box of
    # the pixel itself, joins the lens's blur.
    variance = (
        number(light, "blur_sigma_px", 3) ** 2
        + _PIXEL_SIGMA**2
        + (shrink**-2 - 1).clamp_min(0) / 12
    )
    scale = torch.rsqrt(2 * variance)
    from_ = torch.arange(side, device=light.device, dtype=torch.float32)
    distance = from_ - seen
    weight = torch.erf((distance + shaken) * scale) - torch.erf((distance - shaken) * scale)
    return weight / weight.sum(-1, keepdim=True)


def _to_picture(light: torch.Tensor, side: int, axis: str) -> torch.Tensor:
    """Matrices from canvas to picture along one axis, cubic: (B, S, C)."""
    at = torch.arange(side, device=light.device, dtype=torch.float32).view(1, -1, 1)
    shrink = number(light, "shrink")
    seen = (at + 0.5) * shrink - 0.5 + number(light, f"shift_{axis}")
    from_ = torch.arange(canvas_side(side), device=light.device, dtype=torch.float32)
    weight = keys(from_ - seen)
    return weight / weight.sum(-1, keepdim=True)


def expose(received: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Scale light as the camera's meter would: (B, 3, S, S) to the same."""
    mean = received.clamp(0, 2).mean((1, 2, 3), keepdim=True).clamp_min(0.01)
    wanted = number(light, "exposure_target", 3) / mean
    return received * wanted ** number(light, "exposure_share", 3)


def add_noise(image: torch.Tensor, noise: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Shot and read noise in linear light.

    Parameters
    ----------
    image : (B, 3, C, C) tensor
    noise : (B, C, C, 8) tensor
        Cut from the grain tile.
    light : (B, 64) tensor

    Returns
    -------
    (B, 3, C, C) tensor
        Variance `noise_shot` × light + `noise_read`² added.
    """
    spread = number(light, "noise_spread", 3)
    # Independent parts: shares of variance, so that σ stays as stated.
    mixed = noise[..., :3].float() * (1 - spread).sqrt() + noise[..., 4:7].float() * spread.sqrt()
    variance = number(light, "noise_shot", 3) * image.clamp_min(0) + (
        number(light, "noise_read", 3) ** 2
    )
    return image + mixed.permute(0, 3, 1, 2) * variance.sqrt()


def develop(image: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Saturation, sRGB and the tone curve: linear (B, 3, C, C) to sRGB 0 to 1."""
    luma = torch.tensor(_LUMA, device=image.device).view(1, 3, 1, 1)
    grey = (image * luma).sum(1, keepdim=True)
    image = torch.lerp(grey, image, number(light, "saturation", 3)).clamp(0, 1)
    image = srgb_from_linear(image).clamp(1e-6, 1) ** number(light, "gamma", 3)
    curved = image * image * (3 - 2 * image)
    image = torch.lerp(image, curved, number(light, "s_curve", 3))
    lift = number(light, "lift", 3)
    return (lift + image * (1 - lift)).clamp(0, 1)


def sharpen(image: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Unsharp mask with its halo: (B, 3, C, C) to the same, clipped."""
    soft = both_axes(
        gaussian(light[:, COLUMN["sharpen_sigma_px"]], image.shape[-1])[:, None], image
    )
    return (image + number(light, "sharpen", 3) * (image - soft)).clamp(0, 1)


@cache
def cosines(device: torch.device) -> torch.Tensor:
    """Matrix of the orthonormal 8-point DCT-II: (8, 8), a row for each frequency."""
    k = torch.arange(8, dtype=torch.float32, device=device)
    matrix = torch.cos(math.pi / 8 * (k[None, :] + 0.5) * k[:, None]) / 2
    matrix[0] /= math.sqrt(2)
    return matrix


def block_dct(planes: torch.Tensor, matrix: torch.Tensor) -> torch.Tensor:
    """Transform each 8 × 8 block by the matrix along both axes; its transpose goes back."""
    *front, height, width = planes.shape
    across = planes.reshape(*front, height, width // 8, 8) @ matrix.T
    down = matrix @ across.reshape(*front, height // 8, 8, width)
    return down.reshape(planes.shape)


@cache
def _on(device: torch.device, table: _Table) -> torch.Tensor:
    """Quantisation table, on a device."""
    return torch.tensor(table, dtype=torch.float32, device=device)


def _quantise(planes: torch.Tensor, table: _Table, scale: torch.Tensor) -> torch.Tensor:
    """Planes (B, n, H, W) of −128 to 127 after rounding their cosine coefficients."""
    height, width = planes.shape[-2:]
    steps = (
        ((_on(planes.device, table) * scale.view(-1, 1, 1, 1) + 50) / 100).floor().clamp(1, 255)
    )
    steps = steps.repeat(1, 1, height // 8, width // 8)
    matrix = cosines(planes.device)
    rounded = (block_dct(planes, matrix) / steps).round() * steps
    return block_dct(rounded, matrix.T)


def compress(image: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Write and read a JPEG file.

    Parameters
    ----------
    image : (B, 3, C, C) tensor
        sRGB 0 to 1; C a multiple of 16.
    light : (B, 64) tensor

    Returns
    -------
    (B, 3, C, C) tensor
        Pictures of quality 0 are handed back as they are. Where colour is kept at full size its
        own rounding, slight beside that of brightness, is left out.
    """
    quality = number(light, "quality", 3)
    fine = quality.clamp(1, 100)
    scale = torch.where(fine < 50, 5000 / fine, 200 - 2 * fine)
    red, green, blue = (image * 255).unbind(1)
    luma = _LUMA[0] * red + _LUMA[1] * green + _LUMA[2] * blue
    chroma = torch.stack(((blue - luma) / 1.772, (red - luma) / 1.402), 1)
    halved = _quantise(torch.nn.functional.avg_pool2d(chroma, 2), _CHROMINANCE_TABLE, scale)
    halved = torch.nn.functional.interpolate(
        halved, scale_factor=2.0, mode="bilinear", align_corners=False
    )
    cb, cr = torch.lerp(chroma, halved, number(light, "chroma_halved", 3)).unbind(1)
    luma = _quantise(luma[:, None] - 128, _LUMINANCE_TABLE, scale)[:, 0] + 128
    red, blue = luma + 1.402 * cr, luma + 1.772 * cb
    green = (luma - _LUMA[0] * red - _LUMA[2] * blue) / _LUMA[1]
    stored = (torch.stack((red, green, blue), 1) * (1 / 255)).clamp(0, 1)
    return torch.where(quality > 0, stored, image)


def photograph(received: torch.Tensor, noise: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Take, store and read back pictures.

    Parameters
    ----------
    received : (B, S, S, 3) tensor
        Linear light.
    noise : (B, C, C, 8) tensor
        Cut from the grain tile; C is :func:`canvas_side` of S.
    light : (B, 64) tensor

    Returns
    -------
    (B, 3, S, S) tensor
        sRGB 0 to 1.
    """
    side = received.shape[1]
    image = expose(received.permute(0, 3, 1, 2), light)
    image = both_axes(_to_file(light, side, "y"), image, _to_file(light, side, "x"))
    image = develop(add_noise(image, noise, light), light)
    image = compress(sharpen(image, light), light)
    enlarged = both_axes(
        _to_picture(light, side, "y")[:, None], image, _to_picture(light, side, "x")[:, None]
    )
    return enlarged.clamp(0, 1)
