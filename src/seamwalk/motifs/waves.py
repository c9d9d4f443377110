"""Gentle waves: parallel serpentines along borders and strips, or over a whole region.

A wave is a chain of equal arcs that bow to one side and the other of its middle line in turn.  It
is exact, it runs on without a corner because neighbouring arcs leave the line at one angle, and
one round thing marks all of it.  A sine of the same length and height is tighter at its crests
and needs a template.  Rows over a region are shifted copies, so that they never meet.
"""

import math

from seamwalk.geometry.curve import Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Marking
from seamwalk.motifs.border_waves import WaveWish, border_waves
from seamwalk.motifs.borders import Border, borders
from seamwalk.motifs.instead import FINEST, KEPT_IN
from seamwalk.motifs.laid_over import Laid, laid_over
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.rows import row_axes
from seamwalk.motifs.wave_shape import WaveSettings, fitting_wave, serpentine
from seamwalk.units import Units, format_length

ONE_CIRCLE_IN = 1 / 64
"""Radii that differ by less are one to the hand, inches."""


def waves(region: Region, choice: MotifChoice, settings: WaveSettings | None = None) -> StrokePlan:
    """Return waves along each border and strip, or over the whole region.

    They run along where no angle is asked for and all patches are strips or corner squares,
    unless they are the whole top.  `choice.depth_in` is the height of the crests over the middle
    line, `choice.spacing_in` the distance of rows (along strips at most), `choice.angle_deg`
    their direction, level by default.

    Notes
    -----
    Fits any shape.  At a part shape rows are cut at the binding line, as on any other.
    """
    settings = settings or WaveSettings()
    if not region.outlines:
        return StrokePlan(())
    found = _strips(region, choice, settings)
    if found:
        laid, flattest = _along(region, found, choice, settings)
    else:
        laid, flattest = _across(region, choice, settings)
    wish = choice.depth_in or settings.depth_in
    least = settings.least_in if choice.depth_in is None else wish - KEPT_IN
    warnings = () if flattest >= least else (_flatter(flattest, wish, settings, region.units),)
    strokes = laid_over(region, laid, choice)
    stitched = {s.patch for s in strokes}
    left_out = tuple(p for b in found for p in b.squares if p not in stitched)
    return StrokePlan(strokes, warnings, left_out)


def _strips(region: Region, choice: MotifChoice, settings: WaveSettings) -> tuple[Border, ...]:
    """Return the borders and strips that the region consists of; none if it has other patches."""
    if choice.angle_deg is not None or len(region.patches) == len(region.area.top.patches) > 1:
        return ()
    found = borders(region)
    covered = frozenset[int]().union(*(b.patches for b in found))
    sides = [s for border in found for s in border.sides]
    long = all(math.dist(*s.centre) >= settings.strip * s.width_in for s in sides)
    return found if long and all(o.patch in covered for o in region.outlines) else ()


def _along(
    region: Region, found: tuple[Border, ...], choice: MotifChoice, settings: WaveSettings
) -> tuple[list[Laid], float]:
    """Return rows along each border and strip, and the lowest crests."""
    wish = WaveWish(
        choice.depth_in or settings.depth_in,
        choice.spacing_in or settings.strip_spacing_in,
        region.machine.smallest_radius_in,
        asked=choice.depth_in is not None,
    )
    laid: list[Laid] = []
    flattest = wish.depth_in
    for border in found:
        made = border_waves(border, region.area.outlines, wish, settings)
        flattest = min(flattest, made.highest_in)
        for k, row in enumerate(made.rows, start=1):
            name = f"wave-{min(border.patches)}-{k}"
            laid += [
                Laid(
                    name if len(row) == 1 else f"{name}-{i}",
                    curve,
                    name,
                    _marking(curve),
                    round=curve.start == curve.end,
                )
                for i, curve in enumerate(row, start=1)
            ]
    return laid, flattest


def _across(
    region: Region, choice: MotifChoice, settings: WaveSettings
) -> tuple[list[Laid], float]:
    """Return rows over the whole region, as much room over them as below, and the crests."""
    spacing = choice.spacing_in or settings.spacing_in
    axes = row_axes(region, choice.angle_deg or 0.0)
    depth = choice.depth_in or settings.depth_in
    most = min(depth, settings.share * axes.height / 2)
    smallest = region.machine.smallest_radius_in
    asked = choice.depth_in is not None
    wave = fitting_wave(axes.width, most, smallest, settings, asked=asked)
    room = axes.height - 2 * (wave.rise_in + settings.clear_in)
    gaps = max(0, math.floor(room / spacing + 1e-9))
    first = axes.height / 2 + gaps * spacing / 2
    laid: list[Laid] = []
    for k in range(gaps + 1):
        y = first - k * spacing
        name = f"wave-{min(region.patches)}-{k + 1}"
        curve = serpentine(axes.place(0.0, y), axes.place(axes.width, y), wave)
        laid.append(Laid(name, curve, name, _marking(curve)))
    return laid, wave.rise_in


def _marking(curve: Curve) -> Marking:
    """Return what marks a row: one round thing only where all its arcs are equal."""
    radii = [piece.radius for piece in curve]
    if min(radii) == math.inf:
        return "ruler"
    return "circle" if max(radii) - min(radii) < ONE_CIRCLE_IN else "template"


def _flatter(rise: float, wish: float, settings: WaveSettings, units: Units) -> str:
    asked = format_length(wish, units, FINEST)
    if rise < settings.straight_in:
        return (
            f"Waves of {asked} have no room or would be too tight for the foot: straight lines "
            "take their place."
        )
    return (
        f"Waves are {format_length(rise, units, FINEST)} high instead of {asked}: there is no "
        "room for more, or the foot could not follow."
    )
