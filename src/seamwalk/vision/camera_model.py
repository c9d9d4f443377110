"""A pinhole camera over a plane, as one vector of numbers.

Twelve parameters: log focal length, principal point (2), k1, k2, k3, rotation vector (3), and the
plane's origin in camera axes as x/z, y/z, log z.  The logarithms keep both lengths above zero and
make "twice as long a lens from twice as far" a straight line through the parameters.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.lens import Lens
from seamwalk.geometry.projective import Matrix, Points
from seamwalk.model.picture import View

Floats = NDArray[np.float64]

LENS, POSE = slice(0, 6), slice(6, 12)


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A parameter vector read as lens and pose.

    Attributes
    ----------
    lens : Lens
    rotation : (3, 3) float64
        From plane to camera axes.
    shift : (3,) float64
        Of the plane's origin in camera axes, inches.
    """

    lens: Lens
    rotation: Matrix
    shift: Floats

    @property
    def ray_from_top(self) -> Matrix:
        """Homography (3, 3) from the plane to rays."""
        return np.column_stack([self.rotation[:, 0], self.rotation[:, 1], self.shift])

    @property
    def top_from_ray(self) -> Matrix:
        """Homography (3, 3) from rays to the plane, inches."""
        h = np.linalg.inv(self.ray_from_top).astype(np.float64)
        out: Matrix = h / np.linalg.norm(h)
        return out

    @property
    def view(self) -> View:
        """The same as a noun."""
        return View(self.lens, self.top_from_ray)

    @property
    def tilt_rad(self) -> float:
        """Angle between the line of sight and straight down."""
        return float(np.arccos(np.clip(self.rotation[2, 2], -1, 1)))

    def px_from_space(self, points: Floats) -> Points:
        """Return the pixels (N, 2) of points (N, 3) inches in the plane's frame."""
        p = points @ self.rotation.T + self.shift
        # Behind the camera nothing is seen; a large finite miss keeps the fit from going there.
        z = np.maximum(p[:, 2], 1e-3)
        return self.lens.px_from_ray(p[:, :2] / z[:, None])


def camera_from(theta: Floats) -> Camera:
    """Return the camera that a parameter vector (≥ 12,) stands for."""
    return Camera(
        lens=Lens(
            float(np.exp(theta[0])),
            (float(theta[1]), float(theta[2])),
            (float(theta[3]), float(theta[4]), float(theta[5])),
        ),
        rotation=rotation_from(theta[6:9]),
        shift=np.array([theta[9], theta[10], 1.0]) * np.exp(theta[11]),
    )


def rotation_from(vector: Floats) -> Matrix:
    """Return the rotation matrix (3, 3) of a rotation vector (3,)."""
    from scipy.spatial.transform import Rotation

    out: Matrix = Rotation.from_rotvec(vector).as_matrix()
    return out


def pose_vector(rotation: Matrix, shift: Floats) -> Floats:
    """Return the six pose parameters of a rotation (3, 3) and shift (3,) with z > 0."""
    from scipy.spatial.transform import Rotation

    return np.concatenate(
        [
            Rotation.from_matrix(rotation).as_rotvec(),
            shift[:2] / shift[2],
            [np.log(shift[2])],
        ]
    )


def theta_from_view(view: View) -> Floats:
    """Return the twelve parameters of lens and pose of a view."""
    lens = view.lens
    m = np.linalg.inv(view.top_from_ray)
    m = m / np.sqrt(np.linalg.norm(m[:, 0]) * np.linalg.norm(m[:, 1]))
    m = m if m[2, 2] > 0 else -m
    u, _, vt = np.linalg.svd(np.column_stack([m[:, 0], m[:, 1], np.cross(m[:, 0], m[:, 1])]))
    return np.concatenate(
        [
            [np.log(lens.focal_px), *lens.centre_px, *lens.radial],
            pose_vector(u @ vt, m[:, 2]),
        ]
    )
