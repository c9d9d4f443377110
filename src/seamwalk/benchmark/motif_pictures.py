"""Pictures of motifs for their pages: ``python -m seamwalk.benchmark.motif_pictures [NAME …]``.

Each picture shows one motif on a few tops of the scenes' designs, perfectly sewn, so that what is
seen is the motif's own geometry.  Required strokes are drawn over pale patches; the binding line
is dashed.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Annotated

import numpy as np
import shapely
import typer
from PIL import Image

from seamwalk.geometry.curve import Curve
from seamwalk.geometry.polyline import corners
from seamwalk.model.machine import MachineProfile
from seamwalk.model.picture import Rgb
from seamwalk.model.sizes import Angle, Finished, Length, PatchSize, Sizes, TopSize
from seamwalk.model.top import Top
from seamwalk.motifs.area import Area, lay_out
from seamwalk.motifs.choose import choose
from seamwalk.motifs.plan import StrokePlan, make_strokes
from seamwalk.scenes.allowance import with_allowance
from seamwalk.scenes.designs.pattern import Layout, Pattern, moved, rect
from seamwalk.scenes.planar_map import Piece, joined, top_of
from seamwalk.scenes.tops import pattern
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Item, Pen
from seamwalk.sheets.palette import BLUE, GREY, INK, WHITE, components
from seamwalk.sheets.raster import picture
from seamwalk.vision.shapes import name_shape

FOLDER = Path(__file__).parents[3] / "docs" / "motifs"
"""Where the motifs' pages lie in a checkout."""

MOST_BYTES = 60_000
"""Largest picture: pages must stay a small download."""


@dataclass(frozen=True, slots=True)
class PictureSettings:
    """How a picture is drawn; lengths on the picture, not on the cloth."""

    panel_px: int = 380
    """Longer side of one top: three of them are as wide as a page."""
    gap_px: int = 16
    """White between tops."""
    stitch_px: float = 1.8
    """Width of a stroke."""
    seam_px: float = 0.9
    """Width of a seam."""
    tints: tuple[str, ...] = ("#F4F4F4", "#E8E8E8", "#DCDCDC")
    """Fabrics in turn: the stitching must stay the strongest thing on the picture."""
    steps: int = 3
    """Steps of colour between tints and ink that the file keeps for smooth edges."""


@dataclass(frozen=True, slots=True)
class Panel:
    """One top of a picture.

    Attributes
    ----------
    top : str
        A key of `TOPS`.
    wishes : tuple of str
        As on the command line; what they don't name stays empty.
    """

    top: str
    wishes: tuple[str, ...]


def _design(name: str, columns: int, rows: int, block_in: float, border_in: float = 0.0) -> Top:
    rng = np.random.default_rng(0)
    return _sewn(pattern(name, Layout(columns, rows, block_in), border_in, rng))


def _framed(name: str, layout: Layout, width_in: float, corner: str) -> Top:
    """Return a design in a border whose corners are mitred or have squares."""
    inner = pattern(name, layout, 0.0, np.random.default_rng(0))
    w, h, b = inner.width_in, inner.height_in, width_in
    pieces = list(moved(inner.pieces, (b, b)))
    if corner == "mitred":
        outer = [(0.0, 0.0), (w + 2 * b, 0.0), (w + 2 * b, h + 2 * b), (0.0, h + 2 * b)]
        inside = [(b, b), (b + w, b), (b + w, b + h), (b, b + h)]
        pieces += [
            Piece((outer[k], outer[(k + 1) % 4], inside[(k + 1) % 4], inside[k]), "border")
            for k in range(4)
        ]
    else:
        pieces += [rect(b, y, w, b, "border") for y in (0.0, b + h)]
        pieces += [rect(x, b, b, h, "border") for x in (0.0, b + w)]
        pieces += [rect(x, y, b, b, "corner") for x in (0.0, b + w) for y in (0.0, b + h)]
    return _sewn(Pattern(tuple(pieces), w + 2 * b, h + 2 * b))


def _sewn(finished: Pattern) -> Top:
    return top_of(joined(with_allowance(finished).pieces), raw_edges=not finished.trimmed)


TOPS: dict[str, Callable[[], Top]] = {
    "nine patch": lambda: _design("nine patch", 3, 4, 9.0, 3.0),
    "on point": lambda: _design("on point", 3, 4, 8.0, 3.0),
    "set on point": lambda: _design("on point", 3, 4, 8.0),
    "hexagons": lambda: _design("hexagons", 5, 6, 6.0, 3.0),
    "star": lambda: _design("star", 3, 4, 9.0, 3.0),
    "sashed": lambda: _design("sashed", 3, 4, 8.0),
    "medallion": lambda: _framed("square in square", Layout(1, 1, 16.0), 5.0, "mitred"),
    "mitred": lambda: _framed("nine patch", Layout(3, 4, 9.0), 4.0, "mitred"),
    "corner squares": lambda: _framed("nine patch", Layout(3, 4, 9.0), 4.0, "squares"),
}
"""Tops to show motifs on."""

PICTURES: dict[str, tuple[Panel, ...]] = {
    "arches": (
        Panel("nine patch", ("square=arches",)),
        Panel("set on point", ("all=arches",)),
        Panel("hexagons", ("hexagon=arches depth=1/2",)),
    ),
    "cable": (
        Panel("mitred", ("border=cable",)),
        Panel("corner squares", ("border=cable",)),
        Panel("sashed", ("rectangle=cable",)),
    ),
    "clamshells": (
        Panel("nine patch", ("all=clamshells",)),
        Panel("on point", ("square=clamshells spacing=1 1/2",)),
        Panel("hexagons", ("hexagon=clamshells",)),
    ),
    "crosshatch": (
        Panel("medallion", ("middle=crosshatch",)),
        Panel("on point", ("square=crosshatch spacing=1 1/2 angle=0",)),
        Panel("nine patch", ("all=crosshatch spacing=3",)),
    ),
    "ditch": (
        Panel("star", ("all=ditch",)),
        Panel("sashed", ("rectangle=ditch",)),
        Panel("medallion", ("triangle=ditch",)),
    ),
    "fans": (
        Panel("medallion", ("all=fans",)),
        Panel("on point", ("square=fans depth=4 1/2 spacing=1 1/2",)),
        Panel("hexagons", ("all=fans depth=8 spacing=2 angle=60",)),
    ),
    "leaf-diagonals": (
        Panel("nine patch", ("square=leaf-diagonals",)),
        Panel("set on point", ("all=leaf-diagonals",)),
        Panel("sashed", ("square=leaf-diagonals depth=3/4",)),
    ),
    "leaf-lines": (
        Panel("nine patch", ("square=leaf-lines",)),
        Panel("set on point", ("all=leaf-lines",)),
        Panel("sashed", ("all=leaf-lines",)),
    ),
    "lines": (
        Panel("mitred", ("border=lines",)),
        Panel("sashed", ("rectangle=lines spacing=3/4",)),
        Panel("star", ("all=lines angle=30 spacing=1 1/2",)),
    ),
    "outline": (
        Panel("star", ("all=outline", "border=none")),
        Panel("hexagons", ("hexagon=outline spacing=1",)),
        Panel("medallion", ("all=outline depth=1/2 spacing=1", "border=outline")),
    ),
    "piano-keys": (
        Panel("mitred", ("border=piano-keys",)),
        Panel(
            "corner squares", ("border=piano-keys spacing=1", "square corner=piano-keys spacing=1")
        ),
        Panel("nine patch", ("border=piano-keys",)),
        Panel("sashed", ("rectangle=piano-keys",)),
    ),
    "spiral": (
        Panel("star", ("all=spiral",)),
        Panel("medallion", ("square=spiral spacing=1",)),
        Panel("hexagons", ("all=spiral spacing=1 1/2",)),
    ),
    "three-strand-cable": (
        Panel("nine patch", ("border=three-strand-cable",)),
        Panel("mitred", ("border=three-strand-cable",)),
        Panel("sashed", ("rectangle=three-strand-cable",)),
    ),
    "waves": (
        Panel("star", ("all=waves",)),
        Panel("on point", ("all=waves angle=45",)),
        Panel("medallion", ("border=waves",)),
        Panel("sashed", ("rectangle=waves",)),
    ),
}
"""The panels of each motif's picture, by the motif's name."""


def plain_sizes(top: Top, area: Area) -> Sizes:
    """Return the sizes of a top that nobody measured, each class named after its shape."""
    out = []
    for patch in top.patches:
        outline = area.outlines.get(patch.id)
        ring = np.asarray(patch.polygon.exterior.coords)[:-1] if outline is None else outline.ring
        at = ring[corners(ring)]
        shape = name_shape(at)
        sides = np.hypot(*(np.roll(at, -1, axis=0) - at).T).tolist()
        raw = sum(s.kind == "edge" for s in top.seams if s.id in patch.seams)
        finished = Finished(tuple(sides), 0.0, "right")
        lengths = tuple(Length(s, 0.0) for s in sides)
        out.append(PatchSize(patch.id, shape, f"{shape} {patch.fabric}", lengths, finished, raw))
    x0, y0, x1, y1 = top.outline.bounds
    w, h, d = (Length(v, 0.0) for v in (x1 - x0, y1 - y0, math.hypot(x1 - x0, y1 - y0)))
    right = Angle(90.0, 0.0)
    return Sizes(tuple(out), TopSize(w, h, (w, h, w, h), (d, d), (right,) * 4))


def planned(top: Top, wishes: Iterable[str]) -> StrokePlan:
    """Return all strokes of a top with these wishes; patches that none names stay empty."""
    area = lay_out(top)
    sizes = plain_sizes(top, area)
    choices = choose(top, sizes, ["all=none", *wishes], area=area)
    return make_strokes(top, sizes, choices, MachineProfile(), area=area)


def drawn(top: Top, plan: StrokePlan, settings: PictureSettings | None = None) -> Rgb:
    """Return a picture of a top with the required strokes of a plan, (H, W, 3) uint8."""
    settings = settings or PictureSettings()
    x0, y0, x1, y1 = top.outline.bounds
    px_per_in = settings.panel_px / max(x1 - x0, y1 - y0)
    fabrics = sorted({p.fabric for p in top.patches})
    seam = Pen(GREY, settings.seam_px / px_per_in)
    items: list[Item] = [
        Fill(
            tuple((float(x), float(y)) for x, y in shapely.get_coordinates(p.polygon)[:-1]),
            settings.tints[fabrics.index(p.fabric) % len(settings.tints)],
            seam,
        )
        for p in top.patches
    ]
    dashed = Pen(INK, settings.seam_px / px_per_in, (6 / px_per_in, 4 / px_per_in))
    items.append(InkLine(Curve.through(lay_out(top).binding.exterior.coords), dashed))
    thread = Pen(BLUE, settings.stitch_px / px_per_in)
    items += [InkLine(s.curve, thread) for s in plan.strokes if s.required]
    return picture(Drawing((x0, y0, x1, y1), tuple(items)), px_per_in)


def motif_picture(panels: Iterable[Panel], settings: PictureSettings | None = None) -> Rgb:
    """Return the panels side by side, (H, W, 3) uint8."""
    settings = settings or PictureSettings()
    parts = []
    for panel in panels:
        top = TOPS[panel.top]()
        parts.append(drawn(top, planned(top, panel.wishes), settings))
    h, gap = max(p.shape[0] for p in parts), settings.gap_px
    w = sum(p.shape[1] for p in parts) + gap * (len(parts) - 1)
    out = np.full((h, w, 3), 255, np.uint8)
    x = 0
    for part in parts:
        y = (h - part.shape[0]) // 2
        out[y : y + part.shape[0], x : x + part.shape[1]] = part
        x += part.shape[1] + gap
    return out


def _colours(settings: PictureSettings) -> list[int]:
    """Return the colours of a file, red, green and blue in turn."""
    tints = [np.array(components(t)) for t in (WHITE, *settings.tints)]
    middle = tints[len(tints) // 2]
    mixed = [
        middle + (np.array(components(ink)) - middle) * k / settings.steps
        for ink in (BLUE, GREY, INK)
        for k in range(1, settings.steps + 1)
    ]
    return [round(float(v)) for colour in (*tints, *mixed) for v in colour]


def write_picture(name: str, folder: Path = FOLDER) -> Path:
    """Write the picture of a motif as NAME.png and return its path.

    Raises
    ------
    ValueError
        If the file is larger than `MOST_BYTES`.
    """
    settings = PictureSettings()
    image = Image.fromarray(motif_picture(PICTURES[name], settings))
    palette = Image.new("P", (1, 1))
    palette.putpalette(_colours(settings))
    few = image.quantize(palette=palette, dither=Image.Dither.NONE)
    path = folder / f"{name}.png"
    file = BytesIO()
    few.save(file, "png", optimize=True)
    if file.tell() > MOST_BYTES:
        raise ValueError(f"{path.name} would have {file.tell()} bytes, more than {MOST_BYTES}")
    path.write_bytes(file.getvalue())
    return path


def main(
    names: Annotated[list[str] | None, typer.Argument(help="Motifs; without any, all.")] = None,
    folder: Annotated[Path, typer.Option(help="Where to write them.")] = FOLDER,
) -> None:
    """Draw the pictures of the motifs' pages anew."""
    for name in names or sorted(PICTURES):
        path = write_picture(name, folder)
        typer.echo(f"{path}: {path.stat().st_size} bytes")


if __name__ == "__main__":
    typer.run(main)
