"""A picture file read safely: upright, sRGB, with what is known of the camera.

The kind of file is told by its content, never by its name; the size is known before a single
pixel is decoded; nothing about the place where it was taken is read.  Every reason why a file
cannot serve has its own sentence.
"""

import hashlib
import io
import struct
import threading
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from seamwalk.errors import PhotoError
from seamwalk.model.picture import Photo
from seamwalk.vision.photo_camera import Camera, read_camera

if TYPE_CHECKING:
    from PIL import Image


@dataclass(frozen=True, slots=True)
class PhotoSettings:
    """Limits for a picture file.

    Attributes
    ----------
    limit_mp : float
        Largest picture that is opened, million pixels; phones make up to 200.
    work_mp : float
        Larger ones are halved until they fit: more pixels than this cost memory, and their
        lenses resolve no more.
    least_px : int
        Shorter side below which nothing can be measured, pixels.
    widest : float
        Aspect ratio above which it must be a panorama; cinema formats of phones end at 2.17.
    dark : int
        Where 995 of 1,000 pixels stay below this, of 255, noise outweighs seams.
    """

    limit_mp: float = 250.0
    work_mp: float = 51.0
    least_px: int = 240
    widest: float = 2.2
    dark: int = 40


_READS = "Use a photo straight from the phone or camera: JPEG, HEIC, PNG, WebP, TIFF or AVIF."
_FORMATS = {"jpeg": ["JPEG", "MPO"], "png": ["PNG"], "webp": ["WEBP"], "tiff": ["TIFF"]}
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_AVIF_BRANDS = {b"avif", b"avis"}
_OTHER_KINDS = (
    (b"%PDF", "a PDF document"),
    (b"GIF8", "a GIF drawing"),
    (b"PK\x03\x04", "a zip archive or office document"),
    (b"\x1aE\xdf\xa3", "a video"),
    (b"<svg", "an SVG drawing"),
    (b"<?xml", "an XML document"),
)
_PANORAMA_HINTS = (b"GPano:ProjectionType", b"GPano:UsePanoramaViewer")
_ORIENTATION = 0x0112
_UPRIGHT = {
    2: "FLIP_LEFT_RIGHT",
    3: "ROTATE_180",
    4: "FLIP_TOP_BOTTOM",
    5: "TRANSPOSE",
    6: "ROTATE_270",
    7: "TRANSVERSE",
    8: "ROTATE_90",
}
"""Exif orientation to the turn that makes the picture upright (CIPA DC-008)."""

_DAMAGE = (
    OSError,
    ValueError,
    SyntaxError,
    EOFError,
    RuntimeError,
    LookupError,
    TypeError,
    struct.error,
    zlib.error,
)
"""What the decoders raise on broken files."""

_PILLOW_LOCK = threading.Lock()


def read_photo(
    path: str | Path, *, limit_mp: float = 250.0, settings: PhotoSettings | None = None
) -> Photo:
    """Return the photo in a file, upright and in sRGB.

    Parameters
    ----------
    path : str or Path
        JPEG, PNG, WebP, TIFF, HEIC/HEIF or AVIF.
    limit_mp : float
        Largest picture that is opened, million pixels.
    settings : PhotoSettings, optional
        Further limits.

    Returns
    -------
    Photo
        Transparent parts come out white.  Pictures above ``work_mp`` are halved, which
        ``Photo.reduction`` says; the focal length is on the pixels that are returned.

    Raises
    ------
    PhotoError
        If the file is missing, a folder, empty, no picture, damaged, too large, too small or a
        panorama.
    """
    s = settings or PhotoSettings()
    file = Path(path)
    data = _bytes(file)
    kind = _kind(data, file.name)
    with _no_pixel_limit():
        opened = _open(data, kind, file.name)
        stored = opened.size
        _check_size(stored, file.name, limit_mp, s)
        image, reduction, exif, icc = _decode(opened, s, file.name)
        rgb, colour_warnings = _srgb(image, icc)
    turned = _swaps(exif)
    upright = (stored[1], stored[0]) if turned else stored
    camera = read_camera(exif, upright)
    _refuse_panorama(data, upright, camera, file.name, s)
    warnings = [*camera.warnings, *colour_warnings]
    if reduction > 1:
        warnings.append(
            f"{upright[0]} × {upright[1]} pixels are more than needed; every {reduction} × "
            f"{reduction} of them were averaged."
        )
    if float(np.percentile(rgb[::8, ::8].max(axis=2), 99.5)) < s.dark:
        raise PhotoError(
            f"{file.name} is too dark to see seams in.",
            "Take it by daylight or with the lamps on, without flash.",
        )
    rgb.setflags(write=False)
    return Photo(
        rgb=rgb,
        name=file.name,
        sha256=hashlib.sha256(data).hexdigest(),
        focal_px=None if camera.focal_px is None else camera.focal_px / reduction,
        native=camera.native,
        make_model=camera.make_model,
        warnings=tuple(warnings),
        focal_sigma=camera.focal_sigma,
        reduction=reduction,
        file_size=upright,
    )


def _bytes(file: Path) -> bytes:
    if file.is_dir():
        raise PhotoError(f"{file.name} is a folder.", "Give one photo at a time.")
    try:
        data = file.read_bytes()
    except FileNotFoundError:
        raise PhotoError(
            f"There is no file {file.name}.", "Check the name and the folder it is in."
        ) from None
    except OSError as error:
        raise PhotoError(
            f"{file.name} cannot be opened ({error.strerror or error}).",
            "Check that you may read it.",
        ) from None
    if not data:
        raise PhotoError(
            f"{file.name} is empty.", "Copy it from the phone again; the transfer was cut short."
        )
    return data


def _kind(data: bytes, name: str) -> str:
    """Return what the first bytes say the file is."""
    if data.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    if data[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"):
        return "tiff"
    if data[4:8] == b"ftyp":
        length = min(int.from_bytes(data[:4], "big"), 256)
        brands = {data[i : i + 4] for i in (8, *range(16, length, 4))}
        if brands & _AVIF_BRANDS:
            return "avif"
        if brands & _HEIF_BRANDS:
            return "heif"
        raise PhotoError(f"{name} is a video or sound file.", "Take a photo instead.")
    for start, what in _OTHER_KINDS:
        if data.lstrip()[: len(start)] == start:
            raise PhotoError(f"{name} is {what}, not a photo.", _READS)
    raise PhotoError(f"{name} is not a picture that I can read.", _READS)


@contextmanager
def _no_pixel_limit() -> Iterator[None]:
    """Lift the imaging library's own limit, which is below what phones make.

    The size is checked here instead, before decoding.
    """
    from PIL import Image

    with _PILLOW_LOCK:
        before = Image.MAX_IMAGE_PIXELS
        Image.MAX_IMAGE_PIXELS = None
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = before


def _open(data: bytes, kind: str, name: str) -> Any:
    """Return the image, its head read and its pixels not yet."""
    from PIL import Image

    try:
        if kind == "heif":
            import pi_heif

            return pi_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=True)
        formats = ["AVIF"] if kind == "avif" else _FORMATS[kind]
        return Image.open(io.BytesIO(data), formats=formats)
    except ImportError:
        raise PhotoError(
            f"{name} is a {kind.upper()} picture, which this installation cannot read.",
            "Save it as JPEG.",
        ) from None
    except _DAMAGE:
        raise _damaged(name) from None


def _damaged(name: str) -> PhotoError:
    return PhotoError(
        f"{name} begins like a picture but is damaged or cut short.",
        "Copy it from the phone again, or take another photo.",
    )


def _check_size(
    size: tuple[int, int], name: str, limit_mp: float, settings: PhotoSettings
) -> None:
    width, height = size
    if width * height > limit_mp * 1e6:
        raise PhotoError(
            f"{name} has {width} × {height} pixels, over the limit of {limit_mp:g} million.",
            "Save it smaller, or take it at the phone's normal resolution.",
        )
    if min(size) < settings.least_px:
        raise PhotoError(
            f"{name} has only {width} × {height} pixels: too few to measure anything.",
            "Use the photo itself, not a preview of it.",
        )


def _swaps(exif: Any) -> bool:
    """Say whether turning the picture upright swaps its width and height."""
    return exif.get(_ORIENTATION) in (5, 6, 7, 8)


def _decode(
    opened: Any, settings: PhotoSettings, name: str
) -> tuple["Image.Image", int, Any, bytes | None]:
    """Return the image decoded, upright and possibly halved; by how much; EXIF; profile."""
    from PIL import Image

    width, height = opened.size
    reduction = 1
    while width * height / reduction**2 > settings.work_mp * 1e6:
        reduction *= 2
    try:
        if hasattr(opened, "to_pillow"):
            exif = Image.Exif()
            if opened.info.get("exif"):
                exif.load(opened.info["exif"])
            # The decoder has already turned the picture.
            exif.pop(_ORIENTATION, None)
            decoded: Image.Image = opened.to_pillow()
        else:
            decoded = opened
            if reduction > 1 and decoded.format in ("JPEG", "MPO"):
                # The JPEG decoder averages 8 × 8 blocks while it decodes, saving memory.
                decoded.draft(decoded.mode, (width // reduction, height // reduction))
            decoded.load()
            exif = decoded.getexif()
    except _DAMAGE:
        raise _damaged(name) from None
    except MemoryError:
        raise PhotoError(f"{name} needs more memory than there is.", "Save it smaller.") from None
    decoded = _plain(decoded)
    done = max(1, round(width / decoded.size[0]))
    if reduction > done:
        decoded = decoded.reduce(reduction // done)
    icc = opened.info.get("icc_profile")
    if exif.get(_ORIENTATION, 1) in range(2, 9):
        decoded = decoded.transpose(getattr(Image.Transpose, _UPRIGHT[exif[_ORIENTATION]]))
    return decoded, reduction, exif, icc


def _plain(image: "Image.Image") -> "Image.Image":
    """Return the image with eight bits a channel and no palette."""
    if image.mode.startswith("I") or image.mode == "F":
        return _eight_bit(image)
    if image.mode == "1":
        return image.convert("L")
    if image.mode in ("P", "PA", "La", "RGBa", "RGBX"):
        return image.convert("RGBA" if "transparency" in image.info else "RGB")
    return image


def _srgb(image: "Image.Image", icc: bytes | None) -> tuple[NDArray[np.uint8], list[str]]:
    """Return the picture as sRGB (H, W, 3) uint8, and what could not be converted."""
    from PIL import Image, ImageCms

    warnings: list[str] = []
    if image.mode in ("LA", "RGBA"):
        paper = Image.new("RGBA", image.size, "white")
        image = Image.alpha_composite(paper, image.convert("RGBA")).convert("RGB")
    if icc:
        try:
            profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
            if "srgb" not in ImageCms.getProfileDescription(profile).lower():
                converted = ImageCms.profileToProfile(
                    image, profile, ImageCms.createProfile("sRGB"), outputMode="RGB"
                )
                image = converted if converted is not None else image
        except (ImageCms.PyCMSError, OSError, ValueError):
            warnings.append(
                "The picture's colour profile could not be used; its colours are taken as sRGB."
            )
    if image.mode != "RGB":
        image = image.convert("RGB")
    return np.array(image, dtype=np.uint8), warnings


def _eight_bit(image: "Image.Image") -> "Image.Image":
    """Return a 16- or 32-bit grey image with 8 bits."""
    from PIL import Image

    values = np.asarray(image, dtype=np.float64)
    top = 255.0 if values.max(initial=0) <= 255 and image.mode == "I" else 65535.0
    if image.mode == "F":
        top = max(float(values.max(initial=0)), 1.0)
    return Image.fromarray(np.rint(np.clip(values / top, 0, 1) * 255).astype(np.uint8))


def _refuse_panorama(
    data: bytes, size: tuple[int, int], camera: Camera, name: str, settings: PhotoSettings
) -> None:
    # Only the head of the file: the hint stands before the pixels.
    head = data[: 1 << 18]
    if camera.panorama or any(hint in head for hint in _PANORAMA_HINTS):
        raise PhotoError(
            f"{name} is a panorama ({size[0]} × {size[1]} pixels): several views were merged, so "
            "no single camera explains it.",
            "Take one ordinary photo of the whole top.",
        )
    if _aspect(size) > settings.widest and not _cut_from(size, camera.native, settings):
        raise PhotoError(
            f"{name} is longer than a camera's picture ({size[0]} × {size[1]} pixels): a panorama "
            "merged from several views, or a strip cut from a photo.",
            "Take one ordinary photo of the whole top, and give it as it came from the camera.",
        )


def _cut_from(
    size: tuple[int, int], native: tuple[int, int] | None, settings: PhotoSettings
) -> bool:
    """Say whether a picture was cropped from the one that the camera says it took."""
    if native is None or _aspect(native) > settings.widest:
        return False
    # Merged views are larger than any one of them.
    return size[0] <= native[0] and size[1] <= native[1]


def _aspect(size: tuple[int, int]) -> float:
    return max(size) / min(size)
