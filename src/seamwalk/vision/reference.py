"""The printed cards in a photo, each measured by its dark frame.

A marker says which card it is and roughly where.  What is measured is the frame round it: each
side's dark band is fitted in linear light, strip by strip; the middles of the band give four
straight lines, whose crossings are the corners of the band's *centre line*, a square of 11/12 of
the card's side.  The outer corners follow from it by projection.

References
----------
Marker: AprilTag family 36h11 (Olson, ICRA 2011), found with OpenCV's detector.  Why not its
corners: they follow a threshold of gamma-coded values, so blur moves them (measured: up to
0.65 % of the size).
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.errors import ReferenceNotFoundError, ScaleUncertainError
from seamwalk.geometry.blur import STEP_WIDTH
from seamwalk.geometry.projective import Matrix, Points, apply, fit
from seamwalk.model.card import CELLS, DEFAULT_SIDE_IN, IDS, MARKER_AT
from seamwalk.model.picture import Photo, Reference
from seamwalk.vision.bands import (
    BandSettings,
    FittedLine,
    Step,
    crossing,
    fit_band,
    profiles,
    robust_line,
)
from seamwalk.vision.linear_light import Light, luminance
from seamwalk.vision.reference_square import find_square

__all__ = ["CardSettings", "find_cards", "find_square"]

Grey = NDArray[np.uint8]

_MARKER_CELLS = CELLS - 2 * MARKER_AT
_OUTER = np.array([[0, 0], [CELLS, 0], [CELLS, CELLS], [0, CELLS]], dtype=np.float64)
_CENTRE_LINE = np.array(
    [[0.5, 0.5], [CELLS - 0.5, 0.5], [CELLS - 0.5, CELLS - 0.5], [0.5, CELLS - 0.5]]
)
_MARKER = np.array(
    [
        [MARKER_AT, MARKER_AT],
        [CELLS - MARKER_AT, MARKER_AT],
        [CELLS - MARKER_AT, CELLS - MARKER_AT],
        [MARKER_AT, CELLS - MARKER_AT],
    ],
    dtype=np.float64,
)
# Plane (cells) from (u along the side, s inwards from the band's middle, 1), side by side.
_SIDES = (
    np.array([[1, 0, 0.0], [0, 1, 0.5]]),
    np.array([[0, -1, CELLS - 0.5], [1, 0, 0.0]]),
    np.array([[-1, 0, CELLS], [0, -1, CELLS - 0.5]]),
    np.array([[0, 1, 0.5], [-1, 0, CELLS]]),
)
_ADVICE_WHOLE = (
    "Lay the printed card flat beside the top with white paper showing all round its dark frame, "
    "and take the photo so that all of it is in the picture."
)


@dataclass(frozen=True, slots=True)
class CardSettings:
    """How cards are looked for and when one is refused.

    Attributes
    ----------
    scales_px : tuple of int
        Longer sides of the picture at which to look, pixels: far cards need the finer one, noise
        is less at the coarser one.
    least_marker_px : float
        Side of the marker below which the frame's band is too thin to measure, pixels.
    most_blur_cells : float
        Blur of the frame's edges above which both edges of the band run together, cells.
    most_blur_px : float
        Blur above which the seams cannot be measured either, pixels.
    unreadable_blur_px : float
        When no card is found and not even the sharpest edge in the photo is sharper than this
        standard deviation, blur is to blame, pixels.
    least_strips : float
        Share of strips on each side that must show the band.
    most_misfit : float
        Root mean square residual of a strip, over its contrast, that paper and ink can explain.
    floor_sigma_px : float
        What a corner is never known better than, pixels: paper that is not quite flat.
    """

    scales_px: tuple[int, ...] = (1600, 3200)
    least_marker_px: float = 30.0
    most_blur_cells: float = 0.42
    most_blur_px: float = 6.0
    unreadable_blur_px: float = 3.5
    least_strips: float = 0.6
    most_misfit: float = 0.12
    floor_sigma_px: float = 0.01
    band: BandSettings = field(default_factory=lambda: BandSettings(strips=16))


def find_cards(
    photo: Photo, *, side_in: float = DEFAULT_SIDE_IN, settings: CardSettings | None = None
) -> tuple[Reference, ...]:
    """Return the reference cards in a photo, sorted by their number.

    Parameters
    ----------
    photo : Photo
        Upright.
    side_in : float
        True outer side of the dark frame, inches, the same for all cards.
    settings : CardSettings, optional
        How they are looked for.

    Returns
    -------
    tuple of Reference
        At least one.  Cards that were seen but cannot be used are named in the warnings of the
        first.

    Raises
    ------
    ReferenceNotFoundError
        If no whole card is in the picture, or the picture is mirrored.
    ScaleUncertainError
        If a card is too small, too blurred or there twice.
    """
    s = settings or CardSettings()
    grey = _grey(photo)
    markers = _markers(grey, s)
    if not markers:
        if _markers(np.ascontiguousarray(grey[:, ::-1]), s):
            raise ReferenceNotFoundError(
                "The photo is mirrored: the card can only be read in a looking glass.",
                "Switch off mirroring in the camera, or flip the photo left to right.",
            )
        blur_px = _sharpest_px(grey)
        if blur_px > s.unreadable_blur_px:
            raise ScaleUncertainError(
                "The photo is too blurred to make out a card (its sharpest edges are "
                f"{STEP_WIDTH * blur_px:.0f} pixels wide).",
                "Hold the phone still, tap on the card to focus, and give it more light.",
            )
        raise ReferenceNotFoundError("I can't see the whole card in this photo.", _ADVICE_WHOLE)
    numbers = [number for number, _ in markers]
    for number in sorted(set(numbers)):
        if numbers.count(number) > 1:
            raise ScaleUncertainError(
                f"Card number {number} is in the photo {numbers.count(number)} times.",
                "Print each card with a number of its own (seamwalk card --id 0, --id 1 …).",
            )
    light = luminance(photo.rgb)
    found: list[Reference] = []
    refused: list[ReferenceNotFoundError | ScaleUncertainError] = []
    for number, corners in sorted(markers, key=lambda m: m[0]):
        try:
            found.append(_measure(light, number, corners, side_in, s))
        except (ReferenceNotFoundError, ScaleUncertainError) as error:
            refused.append(error)
    if not found:
        raise refused[0]
    if refused:
        notes = tuple(f"{error.seen} It is left out." for error in refused)
        found[0] = replace(found[0], warnings=notes)
    return tuple(found)


def _grey(photo: Photo) -> Grey:
    import cv2

    return np.asarray(cv2.cvtColor(np.ascontiguousarray(photo.rgb), cv2.COLOR_RGB2GRAY))


def _markers(grey: Grey, settings: CardSettings) -> list[tuple[int, Points]]:
    """Return (number, corners (4, 2) px) of the markers seen at any scale, each once."""
    import cv2

    options = cv2.aruco.DetectorParameters()
    options.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    # The frame is a square round the marker, which must not be taken for it; and blur spoils the
    # rim of each cell first.
    options.minGroupDistance = 0.05
    options.perspectiveRemoveIgnoredMarginPerCell = 0.3
    detector = cv2.aruco.ArucoDetector(
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11), options
    )
    longer = max(grey.shape)
    scales = sorted({min(1.0, side / longer) for side in settings.scales_px})
    found: list[tuple[int, Points]] = []
    for scale in scales:
        _look(detector, grey, scale, found)
    if not found and scales[-1] < 1.0:
        _look(detector, grey, 1.0, found)
    return found


def _sharpest_px(grey: Grey) -> float:
    """Return the blur (standard deviation, pixels) of the photo's sharpest clear edges."""
    import cv2

    smooth = cv2.GaussianBlur(grey, (0, 0), 1.0).astype(np.float32)
    slope = np.hypot(
        cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8),
        cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8),
    )
    window = np.ones((41, 41), np.uint8)
    height = cv2.dilate(smooth, window) - cv2.erode(smooth, window)
    clear = (height > 50) & (slope > 0)
    if not clear.any():
        return 0.0
    return float(np.percentile(height[clear] / slope[clear], 2) / STEP_WIDTH)


def _look(detector, grey: Grey, scale: float, found: list[tuple[int, Points]]) -> None:  # type: ignore[no-untyped-def]
    """Add the markers seen at `scale` to `found`; a finer look replaces a coarser one."""
    import cv2

    small = grey
    if scale < 1.0:
        size = round(grey.shape[1] * scale), round(grey.shape[0] * scale)
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA))
    corners, ids, _ = detector.detectMarkers(small)
    if ids is None:
        return
    ratio = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]])
    for number, quad in zip(np.ravel(ids), corners, strict=True):
        if int(number) not in IDS:
            continue
        px = (np.asarray(quad, dtype=np.float64).reshape(4, 2) + 0.5) * ratio - 0.5
        centre, size_px = px.mean(axis=0), float(np.ptp(px, axis=0).max())
        for i, (other, seen) in enumerate(found):
            near = float(np.hypot(*(seen.mean(axis=0) - centre))) < 0.3 * size_px
            if other == number and near:
                found[i] = (int(number), px)
                break
        else:
            found.append((int(number), px))


def _measure(
    light: Light, number: int, marker: Points, side_in: float, settings: CardSettings
) -> Reference:
    """Return the card whose marker was seen, measured by its frame."""
    shorter = float(np.hypot(*(np.roll(marker, -1, axis=0) - marker).T).min())
    if shorter < settings.least_marker_px:
        raise ScaleUncertainError(
            f"Card {number} is too small in the photo: its marker is {shorter:.0f} pixels wide, "
            f"{settings.least_marker_px:.0f} are needed.",
            "Move closer, or print a larger card.",
        )
    px_from_cells = fit(_MARKER, marker)
    height, width = light.shape
    outer = apply(px_from_cells, _OUTER)
    if (outer < -1).any() or (outer > np.array([width, height])).any():
        raise ReferenceNotFoundError(
            f"Card {number} is cut off at the edge of the photo.", _ADVICE_WHOLE
        )
    blur = 0.1
    lines: list[FittedLine] = []
    for _ in range(3):
        lines, blur = _sides(light, number, px_from_cells, blur, settings)
        centre_line = np.array([crossing(lines[i - 1], lines[i]) for i in range(4)])
        px_from_cells = fit(_CENTRE_LINE, centre_line)
    cell_px = shorter / _MARKER_CELLS
    if blur > settings.most_blur_cells or blur * cell_px > settings.most_blur_px:
        raise _too_blurred(number, blur * cell_px)
    return Reference(
        corners_px=apply(px_from_cells, _OUTER),
        side_in=side_in,
        source="card",
        card_id=number,
        sigma_px=max(settings.floor_sigma_px, _corner_sigma(lines)),
        by_sides=True,
        blur_px=blur * cell_px,
    )


def _too_blurred(number: int, blur_px: float) -> ScaleUncertainError:
    return ScaleUncertainError(
        f"Card {number} is too blurred to measure (its edges are {STEP_WIDTH * blur_px:.0f} "
        "pixels wide).",
        "Hold the phone still, tap on the card to focus, and give it more light.",
    )


def _sides(
    light: Light, number: int, px_from_cells: Matrix, blur: float, settings: CardSettings
) -> tuple[list[FittedLine], float]:
    """Return the centre lines of the four sides' bands in pixels and their blur in cells."""
    corners = apply(px_from_cells, _OUTER)
    lines: list[FittedLine] = []
    blurs: list[float] = []
    start = 1 + max(0.25, min(2 * blur, 0.9))
    for k, plane_from_side in enumerate(_SIDES):
        across_px = 0.5 * float(
            np.hypot(*(corners[k - 1] - corners[k]))
            + np.hypot(*(corners[k - 2] - corners[(k + 1) % 4]))
        )
        per_cell = settings.band.samples_per_px * across_px / CELLS
        low = min(max(-1.45, -1.5 + 2.5 * blur), -0.95)
        high = min(1.9, max(1.3, 2.5 - 2 * blur))
        s = np.linspace(low, high, max(16, round((high - low) * per_cell)))
        light_in, u = profiles(
            light,
            px_from_cells,
            (start, CELLS - start),
            (s, plane_from_side),
            settings.band.strips,
        )
        steps: list[tuple[float, Step]] = []
        for position, profile in zip(u, light_in, strict=True):
            # Beside the marker's own corners there is no border to run into.
            beside = not MARKER_AT + 0.3 <= position <= CELLS - MARKER_AT - 0.3
            use = s <= 1.0 if beside else s <= high
            step = fit_band(s[use], profile[use], blur, 99.0 if beside else 2.0)
            if step is not None and _is_frame(step, settings):
                steps.append((float(position), step))
        line = None
        if len(steps) >= settings.least_strips * settings.band.strips:
            side = np.array([[p, step.at, 1.0] for p, step in steps])
            points = apply(px_from_cells, side @ plane_from_side.T)
            line = robust_line(points, settings.band.outlier_sigmas)
        if line is None:
            raise _frame_hidden(light, number, light_in)
        lines.append(line)
        blurs.append(float(np.median([step.blur for _, step in steps])))
    return lines, float(np.median(blurs))


def _is_frame(step: Step, settings: CardSettings) -> bool:
    return (
        step.contrast >= settings.band.least_contrast
        and 0.5 <= step.width <= 1.6
        and abs(step.at) <= 0.6
        and step.misfit <= settings.most_misfit
    )


def _frame_hidden(
    light: Light, number: int, light_in: NDArray[np.float64]
) -> ReferenceNotFoundError:
    if not np.isfinite(light_in).all():
        return ReferenceNotFoundError(
            f"Card {number} is cut off at the edge of the photo.", _ADVICE_WHOLE
        )
    return ReferenceNotFoundError(
        f"The dark frame of card {number} is not clear on all four sides (something lies on it, "
        "a shadow crosses it, or it is too blurred).",
        _ADVICE_WHOLE,
    )


def _corner_sigma(lines: list[FittedLine]) -> float:
    """Return the standard deviation of a corner coordinate from the lines' residuals.

    A corner lies outside the strips: at half the side h from their middle, while they spread
    over ± 0.88 h, so a line's variance there is (σ²/n)(1 + 3/0.88²).
    """
    variances = [line.sigma_px**2 / line.used * (1 + 3 / 0.88**2) for line in lines]
    return float(np.sqrt(np.mean(variances)))
