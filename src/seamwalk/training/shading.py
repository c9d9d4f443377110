"""Light on the laid cloth: ridges, grooves, folds, ditches, cast shadows and uneven light.

The cloth is a height map; the light on it follows Lambert's law for a lamp to the side. Blurring
with a width of its own for each picture is a product with a banded matrix for each axis, so a
whole batch needs one product.
"""

import math

import torch

from seamwalk.geometry.blur import STEP_WIDTH
from seamwalk.training.laid_cloth import LaidCloth
from seamwalk.training.light import COLUMN
from seamwalk.training.noise import HILLS

_LAYER = 16.0
"""Grey levels of `Sketch.relief` to one layer of cloth."""

_THREAD_FROM, _THREAD_FULL = 0.2, 0.55
"""Depth of groove where quilting thread begins to show and where it lies open; shallower grooves,
as creases are, hold none."""

_DARKEST, _BRIGHTEST = 0.25, 2.5
"""Least and most light that slopes receive: the sky lights what the lamp does not, and no lamp
shines flatter than some 20° over the floor."""

_FLOOR_FOLDS = 0.3
"""Folds of rugs and sheets under the top, beside those of the top."""


_FAINTEST = 0.3
"""Strength of the faintest seam's ditch beside the plainest of the same top."""

_SEAMS = 251
"""Different strengths of seams; a prime, so that rows at equal distances differ."""

_MOTTLE_CELLS, _TIGHT_CELLS = 3.0, 9.0
"""Hills across the picture of uneven light, and of ditches that lie here tight and there loose."""


def number(light: torch.Tensor, name: str, axes: int = 2) -> torch.Tensor:
    """One number of every packed light, shaped to spread over `axes` further axes."""
    return light[:, COLUMN[name]].reshape((-1,) + (1,) * axes)


def gaussian(sigma_px: torch.Tensor, side: int) -> torch.Tensor:
    """Matrices that blur along one axis.

    Parameters
    ----------
    sigma_px : (B,) tensor
    side : int

    Returns
    -------
    (B, side, side) tensor
        Rows sum to one, at the picture's edge too.
    """
    at = torch.arange(side, device=sigma_px.device, dtype=torch.float32)
    distance = (at[:, None] - at[None, :]) / sigma_px.clamp_min(0.05).view(-1, 1, 1)
    weight = torch.exp(-0.5 * distance * distance)
    return weight / weight.sum(-1, keepdim=True)


def both_axes(
    down: torch.Tensor, maps: torch.Tensor, across: torch.Tensor | None = None
) -> torch.Tensor:
    """Product of matrices with maps along rows and columns: D · X · Aᵀ."""
    across = down if across is None else across
    return down @ maps @ across.transpose(-1, -2)


def _hills(
    tile: torch.Tensor, light: torch.Tensor, side: int, cells: torch.Tensor, turn: torch.Tensor
) -> torch.Tensor:
    """Smooth hills cut from a tile, `cells` across the picture: (B, S, S)."""
    b = light.shape[0]
    at = (torch.arange(side, device=light.device, dtype=torch.float32) + 0.5) / side - 0.5
    y, x = at.view(1, side, 1), at.view(1, 1, side)
    cos, sin = turn.cos(), turn.sin()
    stretch = number(light, "fold_stretch")
    u = number(light, "fold_x") + cells * (cos * x - sin * y)
    v = number(light, "fold_y") + cells * stretch * (sin * x + cos * y)
    # The tile is looked up between its middle and its mirror: no seam shows.
    grid = torch.stack((u, v), -1) * (2 / HILLS) - 1
    return torch.nn.functional.grid_sample(
        tile.expand(b, 1, HILLS, HILLS),
        grid,
        mode="bicubic",
        padding_mode="reflection",
        align_corners=False,
    )[:, 0]


def _rises(height: torch.Tensor) -> torch.Tensor:
    """Slopes along x and y of a height map, by central differences: (2, B, S, S)."""
    padded = torch.nn.functional.pad(height[:, None], (1, 1, 1, 1), mode="replicate")[:, 0]
    across = padded[:, 1:-1, 2:] - padded[:, 1:-1, :-2]
    down = padded[:, 2:, 1:-1] - padded[:, :-2, 1:-1]
    return 0.5 * torch.stack((across, down))


def _slopes(
    relief: torch.Tensor,
    grooves: torch.Tensor,
    lines: torch.Tensor,
    laid: LaidCloth,
    hills: torch.Tensor,
    light: torch.Tensor,
) -> torch.Tensor:
    """Slopes along x and y of what lies there: (2, B, S, S)."""
    side = relief.shape[1]
    layers = relief * (1 / _LAYER)
    sewn = number(light, "layer_px") * layers - number(light, "groove_px") * grooves
    sewn = both_axes(gaussian(light[:, COLUMN["relief_sigma_px"]], side), sewn)
    sigma = light[:, COLUMN["loft_sigma_px"]]
    drawn = number(light, "loft_px") * lines + 0.5 * number(light, "groove_px") * grooves
    drawn = both_axes(gaussian(sigma, side), drawn) * _peak(sigma)
    turn = number(light, "fold_turn_rad")
    fold = _hills(hills[0], light, side, number(light, "fold_cells"), turn)
    fold = torch.lerp(fold, 0.5 - fold.abs(), number(light, "fold_crease"))
    wrinkle = _hills(hills[1], light, side, number(light, "wrinkle_cells"), turn + 1.0)
    folds = number(light, "fold_px") * fold + number(light, "wrinkle_px") * wrinkle
    # Slopes are weighed, not heights: at the edge of the top these would fall off like a cliff.
    bent = _rises(folds) * (laid.cloth + _FLOOR_FOLDS * laid.floor)
    return _rises(sewn) - _rises(drawn) * laid.cloth + bent


def slope_light(rises: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Light on sloping cloth relative to flat cloth, by Lambert's law.

    Parameters
    ----------
    rises : (2, B, S, S) tensor
        Slopes along x and y.
    light : (B, 64) tensor

    Returns
    -------
    (B, S, S) tensor
        1 where the cloth is flat, more where it faces the light.
    """
    along_x, along_y = rises.unbind(0)
    side = number(light, "side_rad")
    facing = -(along_x * side.cos() + along_y * side.sin()) * number(light, "side_tangent")
    # Without the length of the normal, steep cloth would brighten for ever.
    lit = (1 + facing) * torch.rsqrt(1 + along_x * along_x + along_y * along_y)
    return lit.clamp(_DARKEST, _BRIGHTEST)


def _strength(one: torch.Tensor, other: torch.Tensor) -> torch.Tensor:
    """How plainly two rows of cloth meet, 0 for a row and itself, else `_FAINTEST` to 1.

    A hash of the two rows, as no two seams are pressed and pulled alike; uint8, 255 for 1.
    """
    one, other = one.int(), other.int()
    spread = (one * other + one + other) * 97 % _SEAMS
    plain = (255 * _FAINTEST + spread * (255 * (1 - _FAINTEST) / (_SEAMS - 1))).to(torch.uint8)
    return torch.where(one == other, torch.zeros_like(plain), plain)


def meetings(labels: torch.Tensor) -> torch.Tensor:
    """Lines one pixel wide where two rows of cloth meet.

    Parameters
    ----------
    labels : (B, 2S, 2S) int16 tensor

    Returns
    -------
    (B, S, S) tensor
        0 to 1; one strength along each seam.
    """
    met = labels.new_zeros(labels.shape, dtype=torch.uint8)
    beside = _strength(labels[:, :, 1:], labels[:, :, :-1])
    below = _strength(labels[:, 1:], labels[:, :-1])
    met[:, :, 1:] = beside
    met[:, :, :-1] = torch.maximum(met[:, :, :-1], beside)
    met[:, 1:] = torch.maximum(met[:, 1:], below)
    met[:, :-1] = torch.maximum(met[:, :-1], below)
    # Two half pixels are marked across every line: together one pixel.
    return torch.nn.functional.avg_pool2d(met[:, None].float(), 2)[:, 0] * (1 / 255)


def _peak(sigma_px: torch.Tensor) -> torch.Tensor:
    """Bring the middle of a blurred line one pixel wide back to 1: (B,) to (B, 1, 1)."""
    return (sigma_px * STEP_WIDTH).clamp_min(1.0).view(-1, 1, 1)


def ditches(lines: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Lines softened to the width of the ditch, as strong in the middle as before: (B, S, S)."""
    sigma = light[:, COLUMN["ditch_sigma_px"]]
    soft = both_axes(gaussian(sigma, lines.shape[1]), lines)
    return (soft * _peak(sigma)).clamp_max(1.0)


def _cast(shade: torch.Tensor, light: torch.Tensor) -> torch.Tensor:
    """Light left in cast shadows, by colour: (B, S, S, 3)."""
    soft = both_axes(gaussian(light[:, COLUMN["shade_sigma_px"]], shade.shape[1]), 1 - shade)
    lost = number(light, "shade_depth") * soft
    spared = torch.tensor((0.0, 0.3, 1.0), device=light.device)
    return 1 - lost[..., None] * (1 - number(light, "shade_blue", 3) * spared)


def _lamp(
    hills: torch.Tensor, side: int, light: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor]:
    """Uneven light, and the share of it that shiny things mirror: (B, S, S) each."""
    at = (torch.arange(side, device=light.device, dtype=torch.float32) + 0.5) / side
    y, x = at.view(1, side, 1), at.view(1, 1, side)
    slope = number(light, "gradient_x") * (x - 0.5) + number(light, "gradient_y") * (y - 0.5)
    turn = number(light, "fold_turn_rad") * 2
    mottle = number(light, "mottle") * _hills(
        hills[1], light, side, light.new_full((), _MOTTLE_CELLS), turn
    )
    corner = ((x - 0.5) ** 2 + (y - 0.5) ** 2) * 2
    dx, dy = x - number(light, "hot_x"), y - number(light, "hot_y")
    spot = torch.exp(-0.5 * (dx * dx + dy * dy) / number(light, "hot_size") ** 2)
    even = torch.exp((slope + mottle).clamp(-1.5, 1.5)) * (1 - number(light, "vignette") * corner)
    return even * (1 + number(light, "hot") * spot), 0.15 + spot


def shine(
    laid: LaidCloth,
    labels: torch.Tensor,
    relief: torch.Tensor,
    grooves: torch.Tensor,
    shade: torch.Tensor,
    weave: torch.Tensor,
    hills: torch.Tensor,
    light: torch.Tensor,
) -> torch.Tensor:
    """Light that the camera receives.

    Parameters
    ----------
    laid : LaidCloth
    labels : (B, 2S, 2S) int16 tensor
    relief : (B, S, S) tensor
        Grey levels of `Sketch.relief`.
    grooves, shade : (B, S, S) tensor
        0 to 1.
    weave : (B, S, S) tensor
        Noise of σ 1.
    hills : (2, HILLS, HILLS) tensor
        Tile of smooth hills.
    light : (B, 64) tensor

    Returns
    -------
    (B, S, S, 3) tensor
        Linear light, not clipped.
    """
    side = relief.shape[1]
    lines = meetings(labels)
    slope = slope_light(_slopes(relief, grooves, lines, laid, hills, light), light)
    # Ditches show more in some places than in others, as cloth lies here tight and there loose.
    tightness = _hills(
        hills[0], light, side, light.new_full((), _TIGHT_CELLS), number(light, "side_rad")
    )
    ditch = ditches(lines, light) * (1 + 0.4 * tightness).clamp(0.1, 1.8)
    ditch = (number(light, "ditch") * ditch * laid.cloth).clamp(-0.3, 0.85)
    thread = ((grooves - _THREAD_FROM) / (_THREAD_FULL - _THREAD_FROM)).clamp(0, 1)
    at = torch.arange(side, device=light.device, dtype=torch.float32)
    wave = at * (2 * math.pi) / light[:, COLUMN["stitch_px"]].view(-1, 1)
    dips = 0.5 + 0.5 * wave.sin()[:, :, None] * wave.sin()[:, None, :]
    thread = thread * number(light, "thread_share") * (1 - number(light, "stitch_gap") * dips)
    names = ("thread_red", "thread_green", "thread_blue")
    yarn = torch.stack([light[:, COLUMN[name]] for name in names], -1).view(-1, 1, 1, 3)
    lamp, mirror = _lamp(hills, side, light)
    matt = slope * (1 - ditch) * (1 - number(light, "groove_dark") * grooves)
    matt = matt * (1 + number(light, "weave") * weave * laid.cloth)
    least = number(light, "least_light", 3)
    colour = (
        torch.lerp(least + (1 - least) * laid.light, yarn, thread[..., None]) * matt[..., None]
    )
    colour = colour * _cast(shade, light)
    # Shiny places mirror the lamp, most where the cloth leans towards it.
    glint = laid.gloss * mirror * slope.clamp_max(1.5) ** 6
    colour = (colour * (1 - 0.5 * laid.gloss[..., None]) + glint[..., None]) * lamp[..., None]
    names = ("light_red", "light_green", "light_blue")
    tint = torch.stack([light[:, COLUMN[name]] for name in names], -1).view(-1, 1, 1, 3)
    return torch.lerp(colour * tint, number(light, "haze_grey", 3), number(light, "haze", 3))
