"""Scenes as files: a JPEG as a phone would write it, and the truth beside it."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

if TYPE_CHECKING:
    from seamwalk.scenes.render import Scene

FOCAL_35MM, ORIENTATION, EXIF_IFD, WIDTH, HEIGHT = 0xA405, 0x0112, 0x8769, 0xA002, 0xA003

_STORED = {
    1: None,
    3: Image.Transpose.ROTATE_180,
    6: Image.Transpose.ROTATE_90,
    8: Image.Transpose.ROTATE_270,
}
"""How an upright picture is turned to be stored under each EXIF orientation."""


def write(
    scene: "Scene", folder: Path, name: str, *, quality: int, orientation: int
) -> tuple[Path, Path]:
    """Write NAME.jpg and NAME.truth.json and return their paths."""
    from seamwalk.scenes.render import settings_as_json

    if orientation not in _STORED:
        raise ValueError(f"orientation is one of {sorted(_STORED)}, not {orientation}")
    folder.mkdir(parents=True, exist_ok=True)
    picture = Image.fromarray(scene.photo.rgb)
    turn = _STORED[orientation]
    if turn is not None:
        picture = picture.transpose(turn)
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    inner = exif.get_ifd(EXIF_IFD)
    inner[FOCAL_35MM] = round(scene.settings.focal_mm_equiv)
    inner[WIDTH], inner[HEIGHT] = picture.size
    photo, truth = folder / f"{name}.jpg", folder / f"{name}.truth.json"
    picture.save(photo, quality=quality, exif=exif, subsampling=2)
    data = scene.truth.as_json(settings_as_json(scene.settings))
    truth.write_text(json.dumps(data) + "\n", encoding="utf-8")
    return photo, truth
