"""Accuracy on a folder of photos that have a truth file beside them."""

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from seamwalk.benchmark.scoring import Score, score
from seamwalk.benchmark.seam_scenes import SeamResult, map_photo
from seamwalk.errors import SeamwalkError, UsageError
from seamwalk.pipeline import measure_photo
from seamwalk.scale import ScaleChoice

ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic")


@dataclass(frozen=True, slots=True, eq=False)
class PhotoResult:
    """One photo's score, or why there is none."""

    name: str
    score: Score | None
    warnings: tuple[str, ...] = ()
    error: str = ""


def truth_of(photo: Path) -> Path | None:
    """Return the truth file beside `photo`: NAME.truth.json or NAME.json, None without one."""
    for ending in (".truth.json", ".json"):
        path = photo.with_name(photo.stem + ending)
        if path.is_file():
            return path
    return None


def score_folder(
    folder: Path, *, progress: Callable[[str], None] = lambda _: None
) -> Iterator[PhotoResult]:
    """Yield the result of each photo with a truth file in `folder`, by name.

    Raises
    ------
    UsageError
        If there is no such photo.
    """
    for photo in photos_in(folder):
        progress(photo.name)
        yield _score_photo(photo)


def photos_in(folder: Path) -> list[Path]:
    """Return the photos in a folder that have a truth file beside them, by name.

    Raises
    ------
    UsageError
        If there is none.
    """
    photos = sorted(p for p in folder.glob("*") if p.suffix.lower() in ENDINGS and truth_of(p))
    if not photos:
        raise UsageError(
            f"{folder} holds no photo with a truth file beside it.",
            "Name the truth like the photo: top.jpg and top.truth.json.",
        )
    return photos


def map_folder(
    folder: Path, *, progress: Callable[[str], None] = lambda _: None
) -> Iterator[SeamResult]:
    """Yield how each photo of a folder is mapped, by name.

    A photo whose truth lists no cards is told its corners and size, so that the map alone is
    judged.

    Raises
    ------
    UsageError
        If there is no such photo.
    """
    for k, photo in enumerate(photos_in(folder)):
        progress(photo.name)
        path = truth_of(photo)
        assert path is not None
        truth = json.loads(path.read_text(encoding="utf-8"))
        yield map_photo(k, photo.name, photo, truth, _scale_of(truth))


def _scale_of(truth: Mapping[str, Any]) -> ScaleChoice:
    if truth.get("cards") or "top_corners_px" not in truth:
        return ScaleChoice()
    corners = " ".join(f"{x},{y}" for x, y in truth["top_corners_px"])
    width, height = truth["size_in"]
    return ScaleChoice(corners=corners, size=f"{width} x {height} in")


def _score_photo(photo: Path) -> PhotoResult:
    from seamwalk.files.top_file import to_document

    truth_path = truth_of(photo)
    assert truth_path is not None
    truth = json.loads(truth_path.read_text(encoding="utf-8"))
    try:
        result = measure_photo(photo, ScaleChoice())
    except SeamwalkError as error:
        return PhotoResult(photo.name, None, error=str(error))
    document = to_document(
        result.top,
        result.sizes,
        photo=result.photo,
        rectification=result.rectification,
        units="in",
        warnings=result.warnings,
    )
    return PhotoResult(photo.name, score(truth, document), result.warnings)
