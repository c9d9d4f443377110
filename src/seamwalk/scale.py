"""What gives the scale: what the user said, and the first camera that follows from it.

The most certain reference there is counts: corners with a size, cards, a known length, a plain
square.  Where cards lie beside a top whose size was given, they are held against it.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from seamwalk.errors import ReferenceNotFoundError, ScaleUncertainError, UsageError
from seamwalk.geometry.projective import Points
from seamwalk.model.card import DEFAULT_SIDE_IN
from seamwalk.model.picture import Photo, Rectification, Reference
from seamwalk.units import (
    Units,
    format_length,
    parse_length,
    parse_length_between,
    parse_size,
)

if TYPE_CHECKING:
    from seamwalk.vision.tape import TapeMeasure

MIN_GRAIN_IN, MAX_GRAIN_IN = 1 / 16, 1.0
"""Steps that finished sizes may go in: finer ones no photo tells apart, coarser ones nobody
cuts."""

SQUARE_LIMITS = ("1 in", "48 in")
"""Sides of squares that lie beside a top: a smaller one tells nothing, a larger one is a floor."""

MOST_CARD_ERROR = 0.03
"""Share of a card's side that corners placed by hand, and a lens not well known, may be off."""


@dataclass(frozen=True, slots=True)
class ScaleChoice:
    """What the user said about the scale, as she typed it.

    Attributes
    ----------
    square : str or None
        True side of the card's frame or of a plain square.
    corners : str or None
        The top's four corners in photo pixels.
    size : str or None
        The top's width x height.
    known : str or None
        ``width=40`` or ``height=48``.
    tape : tuple of str
        Edges measured by hand, like ``left=71 3/8``.
    grain : str or None
        Finished sizes are multiples of this; None for what the sizes fit.
    """

    square: str | None = None
    corners: str | None = None
    size: str | None = None
    known: str | None = None
    units: Units = "in"
    tape: tuple[str, ...] = ()
    grain: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SaidScale:
    """The same, read.

    Attributes
    ----------
    square_in : float or None
        True side of the card's frame or of a plain square, inches.
    corners_px : (4, 2) float64 or None
        The top's corners in pixels of the photo's file; not yet held against the photo.
    size_in : (float, float) or None
        The top's width and height, inches; only where there are corners.
    known : (str, float) or None
        A side and its length, inches.
    tapes : tuple of TapeMeasure
        Edges measured by hand.
    grain_in : float or None
        Finished sizes are multiples of this, inches; None for what the sizes fit.
    """

    square_in: float | None = None
    corners_px: Points | None = None
    size_in: tuple[float, float] | None = None
    known: tuple[Literal["width", "height"], float] | None = None
    units: Units = "in"
    tapes: "tuple[TapeMeasure, ...]" = ()
    grain_in: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class FirstCamera:
    """A first camera, what it rests on, and the top's corners where they came by hand."""

    rectification: Rectification
    references: tuple[Reference, ...] = ()
    corners_px: Points | None = None
    warnings: tuple[str, ...] = ()


def read_scale(choice: ScaleChoice) -> SaidScale:
    """Return what the user said about the scale; no photo is needed to see a slip in it.

    Raises
    ------
    UsageError
        If some of it cannot be read, or can't be.
    """
    from seamwalk.vision.rectify_corners import parse_corners
    from seamwalk.vision.tape import parse_tape

    units = choice.units
    square_in = corners = size_in = None
    if choice.corners is not None:
        corners = parse_corners(choice.corners)
    if choice.square is not None:
        square_in = parse_length_between(choice.square, *SQUARE_LIMITS, default=units)
    if choice.size is not None:
        size_in = parse_size(choice.size, default=units)
        if corners is None:
            raise UsageError(
                "--size alone does not say where the top lies.",
                'Give the top\'s corners too: --corners "x,y x,y x,y x,y".',
            )
    return SaidScale(
        square_in,
        corners,
        size_in,
        None if choice.known is None else parse_known(choice.known, units),
        units,
        parse_tape(choice.tape, units),
        None if choice.grain is None else parse_grain(choice.grain, units),
    )


def first_camera(photo: Photo, scale: SaidScale) -> FirstCamera:
    """Return the camera from whatever of known size there is, the most certain first."""
    from seamwalk.vision import rectify, reference

    corners, side_in = scale.corners_px, scale.square_in
    if corners is not None:
        corners = rectify.corners_on(photo, corners)
    if scale.size_in is not None and corners is not None:
        camera = rectify.rectify_by_corners(photo, corners, scale.size_in)
        notes = _cards_beside(photo, camera, side_in or DEFAULT_SIDE_IN, scale.units)
        return FirstCamera(camera, (), corners, notes)
    try:
        found = reference.find_cards(photo, side_in=side_in or DEFAULT_SIDE_IN)
    except ReferenceNotFoundError:
        if scale.known is not None:
            if corners is None:
                corners = _corners_in_photo(photo)
            camera = rectify.rectify_by_known(photo, corners, *scale.known)
            return FirstCamera(camera, (), corners)
        if side_in is None:
            raise
        found = (reference.find_square(photo, side_in),)
    return FirstCamera(rectify.fit_camera(photo, found), found, corners)


def parse_grain(text: str, units: Units) -> float:
    """Return the grain of finished sizes in inches."""
    grain_in = parse_length(text, default=units)
    limits = {"in": "between 1/16 and 1 in", "cm": "between 2 and 25 mm"}
    if not MIN_GRAIN_IN <= grain_in <= MAX_GRAIN_IN:
        raise UsageError(
            f"Finished sizes can't go in steps of {text}.",
            f"Give a step {limits[units]}, like --grain 1/4in or --grain 5mm.",
        )
    return grain_in


def parse_known(text: str, units: Units) -> tuple[Literal["width", "height"], float]:
    """Return the side and its length in inches from ``width=40``."""
    name, _, value = text.partition("=")
    word = name.strip().lower().removeprefix("top-")
    if not value.strip() or word not in ("width", "height"):
        raise UsageError(
            f"--known “{text}” is not a side and a length.", "Write --known width=40."
        )
    length_in = parse_length(value, default=units)
    return ("width" if word == "width" else "height"), length_in


def _cards_beside(
    photo: Photo, camera: Rectification, side_in: float, units: Units
) -> tuple[str, ...]:
    """Return a sentence if cards in the photo contradict the scale that the user gave."""
    from seamwalk.vision.reference import find_cards

    try:
        found = find_cards(photo, side_in=side_in)
    except (ReferenceNotFoundError, ScaleUncertainError):
        return ()
    rings = [camera.view.top_from_px(card.corners_px) for card in found]
    sides = [np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).mean() for ring in rings]
    seen = float(np.mean(sides))
    if abs(seen - side_in) <= MOST_CARD_ERROR * side_in:
        return ()
    return (
        f"By the size that you gave, the card's dark frame would be {format_length(seen, units)} "
        f"instead of {format_length(side_in, units)}, and both can't be right: measure the top "
        "and the frame again before you mark. Without --size, sizes go by the card.",
    )


def _corners_in_photo(photo: Photo) -> Points:
    """Return the top's corners as seen in the unrectified photo, (4, 2) pixels."""
    from seamwalk.vision.outline import outline_in_photo
    from seamwalk.vision.outline_corners import four_corners

    return four_corners(outline_in_photo(photo))
