"""What a picture file says about the camera: focal length, native size, make.

Only the tags named here are looked at.  Where the photo was taken is in a directory of its own
(GPS) that is never opened.

References
----------
CIPA DC-008 (Exif 2.32): tags and their meaning.  The 35 mm-equivalent focal length is taken by
the picture's diagonal, 43.27 mm for the 36 × 24 mm frame, as CIPA DCG-001 describes it.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

DIAGONAL_35_MM = math.hypot(36.0, 24.0)
"""Diagonal of the 36 × 24 mm frame, millimetres (43.267)."""

_MAKE, _MODEL = 0x010F, 0x0110
_EXIF_DIRECTORY = 0x8769
_FOCAL_MM, _FOCAL_35, _ZOOM = 0x920A, 0xA405, 0xA404
_NATIVE_W, _NATIVE_H = 0xA002, 0xA003
_PLANE_X, _PLANE_UNIT = 0xA20E, 0xA210
_CUSTOM_RENDERED, _PANORAMA = 0xA401, 6
_MM_PER_PLANE_UNIT = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}
_SENSOR_ASPECTS = (4 / 3, 3 / 2)


@dataclass(frozen=True, slots=True)
class CameraSettings:
    """How far the file's own figures are believed.

    Attributes
    ----------
    focal_sigma : float
        Relative standard deviation of the focal length, from whole millimetres in the tag and
        from focus breathing.
    crop_sigma : float
        The same when the picture looks cropped.
    aspect_slack : float
        Relative difference of aspect ratios that rounding to whole pixels can explain.
    """

    focal_sigma: float = 0.03
    crop_sigma: float = 0.12
    aspect_slack: float = 0.01


@dataclass(frozen=True, slots=True)
class Camera:
    """Facts about the camera, on the pixels of the picture as stored.

    Attributes
    ----------
    focal_px : float or None
        Focal length, pixels.
    focal_sigma : float
        Its relative standard deviation.
    native : (int, int) or None
        Width and height that the camera recorded, upright.
    make_model : str
        Empty when unknown.
    panorama : bool
        The camera calls it a panorama.
    warnings : tuple of str
        Reasons to doubt the focal length.
    """

    focal_px: float | None
    focal_sigma: float
    native: tuple[int, int] | None
    make_model: str
    panorama: bool
    warnings: tuple[str, ...]


def read_camera(
    exif: Any, upright: tuple[int, int], settings: CameraSettings | None = None
) -> Camera:
    """Return what the EXIF data of a picture says about the camera.

    Parameters
    ----------
    exif : PIL.Image.Exif
        The picture's EXIF data; may be empty.
    upright : (int, int)
        Width and height of the stored picture once turned upright, pixels.
    settings : CameraSettings, optional
        How far the figures are believed.

    Returns
    -------
    Camera
        Focal length on the stored picture's pixels.
    """
    s = settings or CameraSettings()
    tags: Mapping[int, Any] = exif.get_ifd(_EXIF_DIRECTORY)
    warnings: list[str] = []
    native = _native(tags, upright)
    focal, sigma = _focal_px(tags, native or upright), s.focal_sigma
    if focal is not None and native is not None and native != upright:
        across = upright[0] / native[0], upright[1] / native[1]
        if abs(across[0] / across[1] - 1) <= s.aspect_slack:
            focal *= math.hypot(*upright) / math.hypot(*native)
        else:
            sigma = s.crop_sigma
            warnings.append(
                f"The picture is {upright[0]} × {upright[1]} pixels but the camera took "
                f"{native[0]} × {native[1]}: it was cropped or zoomed digitally, so the lens is "
                "known less well. Use the photo as it came from the camera."
            )
    elif focal is not None and not _looks_like_sensor(upright, s):
        sigma = s.crop_sigma
        warnings.append(
            f"A picture of {upright[0]} × {upright[1]} pixels has not the shape of a camera's "
            "sensor (4:3 or 3:2): it may be cropped, so the lens is known less well."
        )
    zoom = _number(tags.get(_ZOOM))
    if focal is not None and zoom is not None and zoom > 1.01:
        # Makers differ in whether the 35 mm figure already has the zoom in it.
        sigma = max(sigma, 0.7 * math.log(zoom))
        warnings.append(
            f"The camera zoomed digitally by {zoom:.1f}, so the lens is known less well. "
            "Step closer rather than zoom."
        )
    maker = " ".join(t for t in (_text(exif.get(_MAKE)), _text(exif.get(_MODEL))) if t)
    return Camera(
        focal_px=focal,
        focal_sigma=sigma,
        native=native,
        make_model=maker,
        panorama=tags.get(_CUSTOM_RENDERED) == _PANORAMA,
        warnings=tuple(warnings),
    )


def _native(tags: Mapping[int, Any], upright: tuple[int, int]) -> tuple[int, int] | None:
    """Return the recorded size, turned the way the upright picture lies."""
    w, h = _number(tags.get(_NATIVE_W)), _number(tags.get(_NATIVE_H))
    if w is None or h is None or w < 1 or h < 1:
        return None
    size = int(w), int(h)
    lies_otherwise = (size[0] > size[1]) != (upright[0] > upright[1])
    return (size[1], size[0]) if lies_otherwise and size[0] != size[1] else size


def _focal_px(tags: Mapping[int, Any], native: tuple[int, int]) -> float | None:
    """Return the focal length on the native pixels, or None."""
    focal_35 = _number(tags.get(_FOCAL_35))
    if focal_35 is not None and 5 <= focal_35 <= 2000:
        return focal_35 * math.hypot(*native) / DIAGONAL_35_MM
    focal, across = _number(tags.get(_FOCAL_MM)), _number(tags.get(_PLANE_X))
    unit = _MM_PER_PLANE_UNIT.get(tags.get(_PLANE_UNIT, 2))
    if focal is not None and across is not None and unit is not None and across > 0:
        value = focal * across / unit
        # Anything else is a plane resolution of a thumbnail or in a wrong unit.
        if 0.3 * max(native) <= value <= 30 * max(native):
            return value
    return None


def _looks_like_sensor(size: tuple[int, int], settings: CameraSettings) -> bool:
    aspect = max(size) / min(size)
    return any(abs(aspect / a - 1) <= settings.aspect_slack for a in _SENSOR_ASPECTS)


def _number(value: object) -> float | None:
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) and number > 0 else None


def _text(value: object) -> str:
    return "".join(c for c in str(value or "") if c.isprintable()).strip()
