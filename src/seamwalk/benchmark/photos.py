"""Accuracy on a folder of photos that have a truth file beside them."""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from seamwalk.benchmark.scoring import Score, score
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
    photos = sorted(p for p in folder.glob("*") if p.suffix.lower() in ENDINGS and truth_of(p))
    if not photos:
        raise UsageError(
            f"{folder} holds no photo with a truth file beside it.",
            "Name the truth like the photo: top.jpg and top.truth.json.",
        )
    for photo in photos:
        progress(photo.name)
        yield _score_photo(photo)


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
