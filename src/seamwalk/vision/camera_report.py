"""A fit as the noun: its frame, its modes, and what it gives reason to doubt."""

from dataclasses import dataclass, replace

import numpy as np

from seamwalk.geometry.projective import similarity
from seamwalk.model.picture import Photo, Rectification, ScaleSource, View
from seamwalk.vision.camera_fit import Fit, FitSettings
from seamwalk.vision.camera_modes import modes_from, seen_on_cloth, spread_in

_WHAT: dict[ScaleSource, str] = {
    "card": "What the cards show",
    "square": "What the square shows",
    "size": "What the four corners show",
    "known-length": "What the four corners show",
    "none": "What the photo shows",
}


@dataclass(frozen=True, slots=True)
class DoubtSettings:
    """When a fit gives reason to warn.

    Attributes
    ----------
    focal_sigmas : float
        Distance of the fitted focal length from the file's, in its own standard deviations.
    chi2_tail : float
        Chance below which the references' residuals are not chance any more.
    rival_chi2 : float
        Two poses of one card are both possible while their χ² differ by less.
    steep_deg : float
        Tilt beyond which the far side gets too few pixels, degrees.
    far_in : float
        Standard deviation of place, somewhere in the picture, above which one card is too few,
        inches.
    """

    focal_sigmas: float = 3.0
    chi2_tail: float = 1e-3
    rival_chi2: float = 9.0
    steep_deg: float = 50.0
    far_in: float = 0.25


def implausible(fit: Fit, tail: float = 1e-3) -> bool:
    """Say whether the references' residuals are larger than chance makes them but `tail` often."""
    # Not scipy.stats, which takes a second to import.
    from scipy.special import chdtri

    count = len(fit.problem.targets)
    freedom = 8 * count - 6 - 3 * (count - 1)
    return fit.chi2 > float(chdtri(freedom, tail))


def rectification_from(
    photo: Photo,
    fit: Fit,
    scale: tuple[ScaleSource, float],
    settings: FitSettings,
    doubt: DoubtSettings,
) -> Rectification:
    """Return a fit as the noun, its frame turned to the picture, with warnings.

    Parameters
    ----------
    photo : Photo
        Whose camera was fitted.
    fit : Fit
        The estimate.
    scale : (str, float)
        What gave the scale, and its size, inches.
    settings, doubt : FitSettings, DoubtSettings
        Which modes to drop; when to warn.
    """
    view = fit.camera.view
    modes = modes_from(photo, fit.theta, fit.covariance, settings.negligible_in)
    found = Rectification(
        view=view,
        modes=modes,
        source=scale[0],
        reference_in=scale[1],
        rms_px=fit.rms_px,
        warnings=tuple(_doubts(photo, fit, view, modes, scale[0], settings, doubt)),
    )
    return turned_to_picture(photo, found)


def turned_to_picture(photo: Photo, rectification: Rectification) -> Rectification:
    """Return the same with x to the right in the picture's middle, the origin kept."""
    middle = np.array([(photo.width_px - 1) / 2, (photo.height_px - 1) / 2])
    step = 0.01 * photo.width_px
    a, b = rectification.view.top_from_px([middle - [step, 0], middle + [step, 0]])
    angle = float(np.arctan2(b[1] - a[1], b[0] - a[0]))
    return rectification.moved(similarity(-angle, (0.0, 0.0)))


def _doubts(
    photo: Photo,
    fit: Fit,
    view: View,
    modes: tuple[View, ...],
    source: ScaleSource,
    settings: FitSettings,
    doubt: DoubtSettings,
) -> list[str]:
    out: list[str] = []
    count, what = len(fit.problem.targets), _WHAT[source]
    if photo.focal_px is None:
        out.append(
            "The file does not say which lens took it, so sizes are less certain, the more so far "
            "from what gives the scale. Use the photo as it came from the camera, not one sent by "
            "a messenger."
        )
    elif abs(off := float(fit.theta[0] - np.log(photo.focal_px))) > (
        doubt.focal_sigmas * photo.focal_sigma
    ):
        out.append(
            f"{what} looks as if taken at {100 * np.exp(off):.0f} % of the focal "
            "length that the file names: the photo was cropped or zoomed, or another lens took "
            "it. Use the photo as it came from the camera."
        )
    axis = settings.centre_sigma * max(photo.width_px, photo.height_px)
    if fit.problem.lens_sigma[1] > 1.01 * axis:
        out.append(
            f"{what} only fits a photo that was cropped or edited, or a size that is not the true "
            "one. Use the photo as it came from the camera, and check the size."
        )
    if implausible(fit, doubt.chi2_tail):
        out.append(
            f"{what} does not fit one flat plane seen by an ordinary lens: is something bent or "
            "raised, or is the photo edited? Lay the cards flat on the floor beside the top."
        )
    if fit.rival_chi2 - fit.chi2 < doubt.rival_chi2:
        out.append(
            f"{what} is too small in the photo to tell which way the camera leaned. Add a card "
            "at the opposite corner."
        )
    if np.degrees(fit.camera.tilt_rad) > doubt.steep_deg:
        out.append(
            f"The camera looked at the top very flat ({np.degrees(fit.camera.tilt_rad):.0f}° from "
            "straight down), so its far side is measured less well. Hold the phone higher."
        )
    if count == 1 and source in ("card", "square"):
        far = spread_in(view, modes, seen_on_cloth(photo, view)).max(initial=0.0)
        if far > doubt.far_in:
            out.append(
                "Only one thing of known size gives the scale, so sizes far from it are less "
                "certain. Lay two cards, at opposite corners of the top."
            )
    return out


def with_warnings(rectification: Rectification, *notes: str) -> Rectification:
    """Return the same with `notes` added to its warnings, each once."""
    return replace(rectification, warnings=tuple(dict.fromkeys([*rectification.warnings, *notes])))
