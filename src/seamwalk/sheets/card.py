"""The reference card as a sheet to print.

The figure of `seamwalk.model.card` stands in the middle of the paper with white all round it.
Printers shrink pages without saying so, so the sheet asks to be measured and carries check bars
in both unit systems and both directions.
"""

from collections.abc import Iterator
from os import PathLike
from typing import BinaryIO, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from seamwalk.errors import UsageError
from seamwalk.model.card import CELLS, DEFAULT_SIDE_IN, IDS, PAPER_IN, CardFigure, figure
from seamwalk.sheets import lettering
from seamwalk.sheets.drawing import Drawing, Fill, Item, Label, box
from seamwalk.sheets.palette import BLACK, GREY, INK, WHITE
from seamwalk.trade import SAFETY_PHOTO
from seamwalk.units import MM_PER_IN

Paper = Literal["letter", "a4"]

PNG_PX_PER_IN = 200.0

MARGIN_IN = 0.4
"""Nothing is printed nearer to the paper's edge: home printers leave out 1/4 in or 10 mm."""

SMALLEST_SIDE_IN = 2.0
"""A smaller card is too few pixels in a photo of a whole top: 40 at 30 px/in."""

_TEXT_IN = 0.125
_SMALL_IN = 0.105
_LEADING = 1.4
_BAR_IN = 0.075


def card_sheet(
    *, paper: Paper = "letter", card_id: int = 0, side_in: float = DEFAULT_SIDE_IN
) -> Drawing:
    """Return the whole sheet.

    Parameters
    ----------
    paper : {"letter", "a4"}
        Sheet to print on.
    card_id : int
        0 to 3; each card in one photo needs its own.
    side_in : float
        Outer side of the dark frame, inches.

    Raises
    ------
    UsageError
        If there is no such paper or card, or the side does not fit.
    """
    _check(paper, card_id, side_in)
    w, h = PAPER_IN[paper]
    card = figure(card_id, side_in)
    left, top = (w - side_in) / 2, (h - side_in) / 2
    quiet = card.cell_in
    # Text has the width of the card with its quiet margin, but never less than six inches.
    half = max(side_in / 2 + quiet, 3.2)
    items = [
        *_figure(card, left, top),
        *_above(card, w / 2 - half, w / 2 + half, top - quiet),
        *_below(card, w / 2 - half, w / 2 + half, top + side_in + quiet),
        *_upright_bars(w, h, left - quiet),
    ]
    return Drawing((0.0, 0.0, w, h), tuple(items))


def card_pdf(
    target: str | PathLike[str] | BinaryIO,
    *,
    paper: Paper = "letter",
    card_id: int = 0,
    side_in: float = DEFAULT_SIDE_IN,
) -> None:
    """Write the sheet as a one-page PDF; see `card_sheet` for the parameters and errors."""
    from seamwalk.sheets.pdf import write_pdf

    sheet = card_sheet(paper=paper, card_id=card_id, side_in=side_in)
    write_pdf([sheet], target, f"Reference card {card_id}")


def card_png(
    target: str | PathLike[str] | BinaryIO,
    *,
    paper: Paper = "letter",
    card_id: int = 0,
    side_in: float = DEFAULT_SIDE_IN,
) -> None:
    """Write the whole sheet as a picture of 200 dpi; see `card_sheet` for the rest.

    The scale is exact by the sheet's width: A4 is not a whole number of pixels wide, so its
    resolution is 200.06.
    """
    from PIL import Image

    sheet = card_sheet(paper=paper, card_id=card_id, side_in=side_in)
    px_per_in = round(sheet.width_in * PNG_PX_PER_IN) / sheet.width_in
    rgb = _picture(sheet, figure(card_id, side_in), px_per_in)
    where = target if hasattr(target, "write") else str(target)
    Image.fromarray(rgb).save(where, format="PNG", dpi=(px_per_in, px_per_in))


def _check(paper: str, card_id: int, side_in: float) -> None:
    if paper not in get_args(Paper):
        raise UsageError(f"“{paper}” is not a paper I know.", "Use letter or a4.")
    if card_id not in IDS:
        raise UsageError(f"There is no card {card_id}.", "Cards are numbered 0, 1, 2 and 3.")
    room = PAPER_IN[paper][0] - 2 * MARGIN_IN
    largest = room * CELLS / (CELLS + 2)
    if not SMALLEST_SIDE_IN <= side_in <= largest:
        raise UsageError(
            f"A card of {_side_text(side_in)} does not suit {paper} paper.",
            f"Choose a side from {_side_text(SMALLEST_SIDE_IN)} to "
            f"{_side_text(int(largest * 8) / 8)}.",
        )


def _figure(card: CardFigure, left: float, top: float) -> Iterator[Fill]:
    """Dark shapes and the light shapes in them, the largest first.

    Whole outlines rather than single cells: neighbours would show hairlines between them.
    """
    import shapely

    cells = [
        shapely.box(c, r, c + 1, r + 1)
        for r, row in enumerate(card.dark)
        for c, dark in enumerate(row)
        if dark
    ]
    rings = []
    for part in shapely.get_parts(shapely.union_all(cells)):
        rings.append((part.exterior, BLACK))
        rings += [(hole, WHITE) for hole in part.interiors]
    for ring, colour in sorted(rings, key=lambda r: -shapely.Polygon(r[0]).area):
        points = np.array(ring.coords[:-1]) * card.cell_in + [left, top]
        yield Fill(tuple((float(x), float(y)) for x, y in points), colour, layer="card")


def _side_text(side_in: float) -> str:
    return f"{round(side_in, 3):g} in ({round(side_in * MM_PER_IN, 1):g} mm)"


def _above(card: CardFigure, left: float, right: float, bottom: float) -> Iterator[Item]:
    """Name, true side, what to measure; the last line stands just over the quiet margin."""
    measured = f"{card.side_in * 0.99:.2f}"
    text = (
        f"Before use: measure the outer side of the black frame, across and down. If it is not "
        f"{round(card.side_in, 3):g} in, type what it is, in inches or centimetres: for example "
        f"--square {measured} or --square {float(measured) * 2.54:.1f}cm. Print at 100 % or "
        f"“actual size”, never “fit to page”, and check the bars with a ruler."
    )
    lines = lettering.wrapped(text, _TEXT_IN, right - left)
    step = _TEXT_IN * _LEADING
    y = bottom - 0.08 - step * len(lines)
    for i, line in enumerate(lines):
        yield Label(line, (left, y + (i + 0.5) * step), _TEXT_IN, anchor="left")
    side = _side_text(card.side_in)
    yield Label(f"Side of the frame: {side}", (left, y - 0.16), 0.16, bold=True, anchor="left")
    yield Label(f"Reference card {card.id}", (left, y - 0.44), 0.24, bold=True, anchor="left")
    yield Label("seamwalk", (right, y - 0.44), 0.16, GREY, anchor="right")


def _below(card: CardFigure, left: float, right: float, top: float) -> Iterator[Item]:
    """Check bars, where to lay the card, how to stand."""
    y = top + 0.16
    yield from _bar(left, y, 4.0, "4 in")
    yield from _bar(right - 50 / MM_PER_IN, y, 50 / MM_PER_IN, "5 cm")
    yield from _bar(left, y + 0.27, 100 / MM_PER_IN, "100 mm")
    yield from _bar(right - 1.0, y + 0.27, 1.0, "1 in")
    other = 1 if card.id == 0 else 0
    texts = (
        f"Lay it flat on the floor beside the top, close to one corner; not on the top, where it "
        f"would hide seams. Lay card {other} near the opposite corner too: two cards measure a "
        f"top better than one. The whole card with its white margin must be in the photo.",
        SAFETY_PHOTO,
    )
    y += 0.27 + 0.20
    for text in texts:
        for line in lettering.wrapped(text, _SMALL_IN, right - left):
            yield Label(line, (left, y + _SMALL_IN * _LEADING / 2), _SMALL_IN, anchor="left")
            y += _SMALL_IN * _LEADING
        y += 0.04


def _bar(x: float, y: float, length: float, name: str) -> Iterator[Item]:
    """A bar that is exactly as long as it says, its name over it."""
    yield Fill(box(x, y, x + length, y + _BAR_IN), BLACK, layer="bar")
    yield Label(
        f"{name} exactly", (x + length / 2, y - 0.065), 0.09, INK, layer="bar", anchor="middle"
    )


def _upright_bars(w: float, h: float, room: float) -> Iterator[Item]:
    """4 in and 100 mm downwards, left and right of the card, if there is room for them.

    `room` is the distance from the paper's edge to the quiet margin.
    """
    if room < MARGIN_IN + _BAR_IN + 0.13:
        return
    for x, toward, length, name in (
        (MARGIN_IN, 1, 4.0, "4 in"),
        (w - MARGIN_IN - _BAR_IN, -1, 100 / MM_PER_IN, "100 mm"),
    ):
        y = (h - length) / 2
        yield Fill(box(x, y, x + _BAR_IN, y + length), BLACK, layer="bar")
        beside = x + _BAR_IN / 2 + toward * (_BAR_IN / 2 + 0.065)
        yield Label(f"{name} exactly", (beside, h / 2), 0.09, INK, turn_deg=270, layer="bar")


def _picture(sheet: Drawing, card: CardFigure, px_per_in: float) -> NDArray[np.uint8]:
    """The sheet as a picture, the figure with exact area shares in linear light."""
    from seamwalk.sheets.raster import picture

    text_only = Drawing(sheet.extent_in, tuple(i for i in sheet.items if i.layer != "card"))
    rgb = np.array(picture(text_only, px_per_in))
    dark = np.array(card.dark, dtype=np.float64)
    rows = _cell_shares(rgb.shape[0], (sheet.height_in - card.side_in) / 2, card, px_per_in)
    cols = _cell_shares(rgb.shape[1], (sheet.width_in - card.side_in) / 2, card, px_per_in)
    light = 1 - rows @ dark @ cols.T
    # sRGB encoding, IEC 61966-2-1: half covered is half the light, not half the number.
    srgb = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    ink = np.rint(255 * srgb).astype(np.uint8)
    out: NDArray[np.uint8] = np.minimum(rgb, ink[:, :, None])
    return out


def _cell_shares(
    n: int, start_in: float, card: CardFigure, px_per_in: float
) -> NDArray[np.float64]:
    """Share of each of `n` pixels that each cell covers along one axis, (n, cells)."""
    edges = (start_in + card.cell_in * np.arange(CELLS + 1)) * px_per_in
    px = np.arange(n)[:, None]
    shares: NDArray[np.float64] = np.clip(
        np.minimum(px + 1, edges[1:]) - np.maximum(px, edges[:-1]), 0, 1
    )
    return shares
