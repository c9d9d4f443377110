"""Pictures of where the seam map fails: the photo of a scene, with what was missed and invented.

Seams found where there are some are thin and white; missed ones are dotted, dark round orange;
seams that are none are solid vermilion, with a cross in the middle.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.benchmark.seam_comparison import Differences
from seamwalk.benchmark.seam_scenes import SeamDrawSettings, SeamResult, draw
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Rgb
from seamwalk.scenes.render import SceneSettings
from seamwalk.sheets.palette import INK, ORANGE, VERMILION, WHITE, Colour, components


@dataclass(frozen=True, slots=True)
class FailurePictureSettings:
    """How a picture of failures is drawn."""

    longest_px: int = 1100
    """Longer side: fits a page of documentation."""
    margin: float = 0.03
    """Floor shown round the top, of its longer side."""
    line_px: int = 2
    """Width of a line; casings and dots are multiples of it."""
    quality: int = 82
    """Of the JPEG file."""


def worst(results: Sequence[SeamResult], count: int) -> list[SeamResult]:
    """Return the measured scenes with the lowest F1 at IoU 0.8, the worst first."""
    measured = [r for r in results if not r.error]
    return sorted(measured, key=lambda r: (r.f1[1], r.seed))[:count]


def failure_picture(
    photo: Rgb, differences: Differences, settings: FailurePictureSettings | None = None
) -> Rgb:
    """Return the photo round the top, (H, W, 3) uint8, with the seam map's mistakes on it.

    Parameters
    ----------
    photo : (H, W, 3) uint8
    differences : Differences
        In pixels of the photo.
    """
    s = settings or FailurePictureSettings()
    x0, y0, x1, y1 = differences.bounds
    pad = s.margin * max(x1 - x0, y1 - y0)
    low = np.maximum(np.floor([x0 - pad, y0 - pad]), 0).astype(int)
    high = np.minimum(np.ceil([x1 + pad, y1 + pad]), [photo.shape[1], photo.shape[0]]).astype(int)
    part = photo[low[1] : high[1], low[0] : high[0]]
    scale = min(1.0, s.longest_px / max(part.shape[:2]))
    size = (round(part.shape[1] * scale), round(part.shape[0] * scale))
    canvas = np.array(cv2.resize(part, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)

    def placed(points: Points) -> NDArray[np.int32]:
        return np.asarray(((points - low + 0.5) * scale - 0.5).round(), dtype=np.int32)

    for line in differences.right:
        _line(canvas, placed(line), WHITE, s.line_px - 1)
    for line in differences.invented:
        at = placed(line)
        _line(canvas, at, INK, 3 * s.line_px)
        _line(canvas, at, VERMILION, s.line_px)
        _cross(canvas, at.mean(axis=0).round().astype(int), 4 * s.line_px, s.line_px)
    for x, y in placed(differences.missed).tolist():
        cv2.circle(canvas, (x, y), 2 * s.line_px, components(INK), -1, cv2.LINE_AA)
        cv2.circle(canvas, (x, y), s.line_px, components(ORANGE), -1, cv2.LINE_AA)
    return canvas


def write_failures(
    results: Sequence[SeamResult],
    folder: Path,
    count: int,
    settings: FailurePictureSettings | None = None,
    *,
    drawn: SeamDrawSettings | None = None,
) -> list[str]:
    """Map the worst scenes once more, write ``scene-N.jpg`` of each, and return their captions.

    Parameters
    ----------
    drawn : SeamDrawSettings or None
        From what the scenes were drawn.
    """
    s = settings or FailurePictureSettings()
    folder.mkdir(parents=True, exist_ok=True)
    captions = []
    for result in worst(results, count):
        photo, differences = _again(draw(result.seed, drawn), folder)
        picture = failure_picture(photo, differences, s)
        path = folder / f"scene-{result.seed}.jpg"
        cv2.imwrite(
            str(path),
            cv2.cvtColor(picture, cv2.COLOR_RGB2BGR),
            [cv2.IMWRITE_JPEG_QUALITY, s.quality],
        )
        captions.append(
            f"{path.name}: {result.name}; F1 at IoU 0.8 {result.f1[1]:.2f}, "
            f"{len(differences.invented)} seams that are none"
        )
    return captions


def _again(settings: SceneSettings, folder: Path) -> tuple[Rgb, Differences]:
    from seamwalk.benchmark.scene_photo import scene_photo
    from seamwalk.benchmark.seam_comparison import differences
    from seamwalk.pipeline import measure_photo
    from seamwalk.scale import ScaleChoice
    from seamwalk.scenes.render import render

    scene = render(settings)
    with scene_photo(scene, folder) as (photo, truth):
        found = measure_photo(photo, ScaleChoice())
    assert found.photo is not None
    assert found.rectification is not None
    return found.photo.rgb, differences(truth, found.top, found.rectification.view)


def _line(canvas: Rgb, at: NDArray[np.int32], colour: Colour, width: int) -> None:
    cv2.polylines(canvas, [at.reshape(-1, 1, 2)], False, components(colour), width, cv2.LINE_AA)


def _cross(canvas: Rgb, at: NDArray[np.int_], arm: int, width: int) -> None:
    x, y = int(at[0]), int(at[1])
    for colour, w in ((INK, 3 * width), (WHITE, width)):
        for dx in (arm, -arm):
            cv2.line(
                canvas, (x - dx, y - arm), (x + dx, y + arm), components(colour), w, cv2.LINE_AA
            )
