"""A scene as a photo on disk with its truth, for as long as it is measured."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from seamwalk.scenes.render import Scene


@contextmanager
def scene_photo(scene: Scene, folder: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Yield the photo's file and its truth document; both files go when the block ends."""
    from seamwalk.scenes.render import save

    photo, truth = save(scene, folder, f"scene-{scene.settings.seed}")
    try:
        yield photo, json.loads(truth.read_text(encoding="utf-8"))
    finally:
        photo.unlink()
        truth.unlink()
