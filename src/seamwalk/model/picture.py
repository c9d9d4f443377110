"""Pictures and what is known of the camera that took them."""

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.lens import Lens
from seamwalk.geometry.projective import Matrix, Points, apply

Rgb = NDArray[np.uint8]
ScaleSource = Literal["card", "square", "known-length", "size", "none"]


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A photo as the camera saw it, turned upright.

    Attributes
    ----------
    rgb : (H, W, 3) uint8
        sRGB, EXIF orientation applied, read only.
    name : str
        File name without folders.
    sha256 : str
        Of the file's bytes; empty for a picture made in memory.
    focal_px : float or None
        From the 35 mm-equivalent focal length, on this picture's pixels.
    native : (int, int) or None
        Width and height that the camera's own data says, upright; None when it says nothing.
    make_model : str
        Camera, for the report; empty when unknown.
    warnings : tuple of str
        What reading the file gave reason to doubt.
    focal_sigma : float
        Relative standard deviation of `focal_px`; larger when the picture looks cropped.
    reduction : int
        How many of the file's pixels one pixel here stands for, along each axis: file position
        = (position + 0.5) · reduction − 0.5.
    file_size : (int, int) or None
        Width and height of the file's picture turned upright, pixels; None for those of `rgb`.
    """

    rgb: Rgb
    name: str
    sha256: str = ""
    focal_px: float | None = None
    native: tuple[int, int] | None = None
    make_model: str = ""
    warnings: tuple[str, ...] = ()
    focal_sigma: float = 0.03
    reduction: int = 1
    file_size: tuple[int, int] | None = None

    @property
    def file_size_px(self) -> tuple[int, int]:
        """Width and height of the file's picture turned upright, pixels."""
        return self.file_size or (self.width_px, self.height_px)

    @property
    def width_px(self) -> int:
        """Width in pixels."""
        return int(self.rgb.shape[1])

    @property
    def height_px(self) -> int:
        """Height in pixels."""
        return int(self.rgb.shape[0])


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """One square of known size, as seen.

    Attributes
    ----------
    corners_px : (4, 2) float64
        Outer corners in order round the square; for a card: its own upper left, upper right,
        lower right, lower left.
    side_in : float
        True side, inches.
    source : {"card", "square"}
        What it is.
    card_id : int or None
        Number of the card.
    sigma_px : float
        Standard deviation of one corner coordinate, pixels.
    warnings : tuple of str
        What finding it gave reason to doubt.
    by_sides : bool
        The corners are where straight lines fitted along the sides meet, so a lens that bends
        the sides has moved them a little; else they are the corners themselves.
    blur_px : float
        Standard deviation of the blur of its edges, pixels; 0 where it was not measured.
    """

    corners_px: Points
    side_in: float
    source: Literal["card", "square"]
    card_id: int | None = None
    sigma_px: float = 0.1
    warnings: tuple[str, ...] = ()
    by_sides: bool = False
    blur_px: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A lens and the plane it looks at.

    Attributes
    ----------
    lens : Lens
        The camera's inner geometry.
    top_from_ray : (3, 3) float64
        Homography from rays to the plane of the cloth, inches.
    """

    lens: Lens
    top_from_ray: Matrix

    def top_from_px(self, pixels: ArrayLike) -> Points:
        """Return where `pixels` (N, 2) lie on the cloth, (N, 2) inches."""
        return apply(self.top_from_ray, self.lens.ray_from_px(pixels))

    def px_from_top(self, points_in: ArrayLike) -> Points:
        """Return the pixels (N, 2) that show `points_in` (N, 2) inches."""
        return self.lens.px_from_ray(
            apply(np.linalg.inv(self.top_from_ray).astype(np.float64), points_in)
        )

    def enlarged(self, factor: float) -> "View":
        """Return the view on a grid whose pixels are `factor` times smaller."""
        return replace(self, lens=self.lens.enlarged(factor))

    def moved(self, new_from_old: Matrix) -> "View":
        """Return the view with the plane's frame changed by a rigid motion (3, 3)."""
        return replace(self, top_from_ray=new_from_old @ self.top_from_ray)


@dataclass(frozen=True, slots=True, eq=False)
class Rectification:
    """The fitted camera, with its doubt.

    Attributes
    ----------
    view : View
        Best estimate.
    modes : tuple of View
        The estimate moved by one standard deviation along each principal direction of the
        fit's covariance, independent of one another.  For any quantity q computed from the
        view, variance = Σ (q(mode) − q(view))².
    source : str
        What gave the scale.
    reference_in : float
        Size that the scale rests on, inches (card side, known length …).
    rms_px : float
        Root mean square residual of the references, pixels.
    warnings : tuple of str
        What the fit gave reason to doubt.
    """

    view: View
    modes: tuple[View, ...]
    source: ScaleSource
    reference_in: float
    rms_px: float
    warnings: tuple[str, ...] = field(default=())

    def moved(self, new_from_old: Matrix) -> "Rectification":
        """Return the same camera with the top frame changed by a rigid motion (3, 3)."""
        return replace(
            self,
            view=self.view.moved(new_from_old),
            modes=tuple(m.moved(new_from_old) for m in self.modes),
        )

    def enlarged(self, factor: float) -> "Rectification":
        """Return the same camera on a grid whose pixels are `factor` times smaller."""
        return replace(
            self,
            view=self.view.enlarged(factor),
            modes=tuple(m.enlarged(factor) for m in self.modes),
            rms_px=self.rms_px * factor,
        )

    def px_per_in(self, points_in: ArrayLike) -> NDArray[np.float64]:
        """Return the local resolution at `points_in` (N, 2): pixels per inch, shape (N,).

        The lesser of the two principal scales, so that what is promised holds in every
        direction.
        """
        p = np.asarray(points_in, dtype=np.float64).reshape(-1, 2)
        h = 0.05
        dx = (self.view.px_from_top(p + [h, 0]) - self.view.px_from_top(p - [h, 0])) / (2 * h)
        dy = (self.view.px_from_top(p + [0, h]) - self.view.px_from_top(p - [0, h])) / (2 * h)
        out: NDArray[np.float64] = np.linalg.svd(np.stack([dx, dy], axis=2))[1][:, 1]
        return out


@dataclass(frozen=True, slots=True, eq=False)
class FlatPicture:
    """The photo resampled straight down on the cloth.

    Pixel [row, col] shows ``origin_in + (col + 0.5, row + 0.5) / px_per_in``.

    Attributes
    ----------
    rgb : (H, W, 3) uint8
        sRGB; black where the photo does not reach.
    seen : (H, W) bool
        Where the photo reaches.
    px_per_in : float
        Resolution.
    origin_in : (float, float)
        Position of the picture's outer upper-left corner, inches.
    rectification : Rectification
        Camera that this was made with.
    """

    rgb: Rgb
    seen: NDArray[np.bool_]
    px_per_in: float
    origin_in: tuple[float, float]
    rectification: Rectification

    def in_from_px(self, pixels: ArrayLike) -> Points:
        """Return inches (N, 2) of flat-picture positions (N, 2) given as (col, row)."""
        p = np.asarray(pixels, dtype=np.float64).reshape(-1, 2)
        out: Points = np.asarray(self.origin_in) + (p + 0.5) / self.px_per_in
        return out

    def px_from_in(self, points_in: ArrayLike) -> Points:
        """Return flat-picture positions (N, 2) as (col, row) of inches (N, 2)."""
        p = np.asarray(points_in, dtype=np.float64).reshape(-1, 2)
        out: Points = (p - np.asarray(self.origin_in)) * self.px_per_in - 0.5
        return out


@dataclass(frozen=True, slots=True, eq=False)
class SeamMap:
    """How much each pixel of a flat picture looks like a seam.

    Attributes
    ----------
    strength : (H, W) float32
        0 (cloth) to 1 (surely a seam).
    angle_rad : (H, W) float32
        Direction of the seam there, 0 to pi, x towards y.
    mask : (H, W) bool
        The top itself.
    """

    strength: NDArray[np.float32]
    angle_rad: NDArray[np.float32]
    mask: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class SeamEvidence:
    """What a network says of every pixel of a flat picture, before anything is decided.

    Attributes
    ----------
    seam : (H, W) float32
        Seam heat: 0 (cloth) to 1 (surely a seam); ridges a few pixels wide.
    junction : (H, W) float32
        Junction heat: 0 to 1, spots where seams meet.
    cos2, sin2 : (H, W) float32
        Cosine and sine of twice the seam's direction (x towards y), -1 to 1; they mean something
        only where the seam heat is not 0, and are short where the direction is in doubt.
    """

    seam: NDArray[np.float32]
    junction: NDArray[np.float32]
    cos2: NDArray[np.float32]
    sin2: NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Partition:
    """The top cut into regions, pixel by pixel, on the grid of a flat picture.

    Attributes
    ----------
    labels : (H, W) int32
        0 outside the top, 1 … n the regions, each 4-connected and without holes.
    inferred : (H, W) bool or None
        Pixels along cuts that construction demands and the picture does not show; None when
        there are none.
    confidence : (H, W) float32 or None
        Within a few pixels of a seam, how sure it is that there is one, 0 to 1; else 0.  None
        where nothing is known of it.
    """

    labels: NDArray[np.int32]
    inferred: NDArray[np.bool_] | None = None
    confidence: NDArray[np.float32] | None = None
