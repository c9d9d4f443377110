"""The radial lens model against measured profiles of real cameras with a fixed lens.

Source: the open lens-profile collection that the lensfunpy wheel carries; its three models, with
r = 1 at half the shorter side of the calibrated picture, are from its documentation::

    poly3   1 − k1 + k1 r²
    poly5   1 + k1 r² + k2 r⁴
    ptlens  1 − a − b − c + c r + b r² + a r³

times the undistorted radius r.  Ours is the even polynomial 1 + k1 r² + k2 r⁴ + k3 r⁶, so the
first two are ours exactly and the third, with its odd powers, can only be followed.  Where it
cannot: the odd term is a kink on the axis that no real lens has, so part of the error is the
profile's.
"""

import math
import statistics
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from seamwalk.geometry.lens import Lens

lensfunpy = pytest.importorskip(
    "lensfunpy", reason="lensfunpy is not installed: no measured lens profiles to compare with"
)

MEGAPIXELS = 12.0
MAIN_CAMERA_MM = (22.0, 31.0)
"""35 mm-equivalent focal lengths that main cameras of phones have, with room on both sides."""


@dataclass(frozen=True)
class Profile:
    label: str
    model: str
    terms: tuple[float, ...]
    equivalent_mm: float
    focal_mm: float
    crop: float
    aspect: float

    @property
    def size_px(self):
        """Width and height of a 12 MP picture of the calibrated shape."""
        height = math.sqrt(MEGAPIXELS * 1e6 / self.aspect)
        return round(height * self.aspect), round(height)

    def gain(self, r):
        """Return the image's radius over the undistorted one, r in half shorter sides."""
        t = self.terms
        if self.model == "poly3":
            return 1 - t[0] + t[0] * r**2
        if self.model == "poly5":
            return 1 + t[0] * r**2 + t[1] * r**4
        a, b, c = t
        return 1 - a - b - c + c * r + b * r**2 + a * r**3


def read_profiles():
    """Return the profiles of rectilinear lenses that cannot be taken off their camera."""
    names = {"poly3": ("k1",), "poly5": ("k1", "k2"), "ptlens": ("a", "b", "c")}
    found = []
    for path in sorted((Path(lensfunpy.__file__).parent / "db_files").glob("*.xml")):
        for lens in ET.parse(path).getroot().iter("lens"):
            mounts = [m.text or "" for m in lens.findall("mount")]
            # The collection writes mounts of fixed lenses with a small first letter.
            if len(mounts) != 1 or not mounts[0][:1].islower():
                continue
            if (lens.findtext("type") or "rectilinear") != "rectilinear":
                continue
            crop = float(lens.findtext("cropfactor") or 1)
            across, _, down = (lens.findtext("aspect-ratio") or "3:2").partition(":")
            aspect = float(across) / float(down or 1)
            for d in lens.iter("distortion"):
                if d.get("model") not in names:
                    continue
                terms = tuple(float(d.get(n, 0)) for n in names[d.get("model")])
                focal = float(d.get("focal"))
                found.append(
                    Profile(
                        f"{path.stem} {mounts[0]} {focal:g} mm",
                        d.get("model"),
                        terms,
                        focal * crop,
                        focal,
                        crop,
                        max(aspect, 1 / aspect),
                    )
                )
    return found


def undistorted(profile, steps=(41, 31)):
    """Return undistorted and real positions (N, 2) off the picture's middle, pixels.

    They cover the whole picture: the grid is wider and what falls outside is left out.
    """
    half = (np.array(profile.size_px) - 1) / 2
    x, y = np.meshgrid(
        *(np.linspace(-1.4 * h, 1.4 * h, n) for h, n in zip(half, steps, strict=True))
    )
    straight = np.column_stack([x.ravel(), y.ravel()])
    r = np.hypot(*straight.T) / (min(profile.size_px) / 2)
    real = straight * profile.gain(r)[:, None]
    inside = (np.abs(real) <= half).all(axis=1)
    # Some strong profiles turn back on themselves outside the picture they were measured on.
    order = np.linspace(0, r.max(), 400)
    rising = np.diff(order * profile.gain(order)) > 0
    most = order[-1] if rising.all() else order[np.argmin(rising)]
    inside &= r <= most
    return straight[inside], real[inside]


def nearest_lens(profile):
    """Return our lens closest to a profile, its rays and the pixels that they should reach."""
    straight, real = undistorted(profile)
    width, height = profile.size_px
    focal = profile.equivalent_mm / math.hypot(36, 24) * math.hypot(width, height)
    rays = straight / focal
    r2 = (rays**2).sum(axis=1)
    powers = np.column_stack([(rays * (r2**k)[:, None]).ravel() for k in range(4)])
    f, *k = np.linalg.lstsq(powers, real.ravel(), rcond=None)[0]
    centre = (width - 1) / 2, (height - 1) / 2
    return Lens(float(f), centre, tuple(float(v / f) for v in k)), rays, real + centre


def worst_px(profile):
    lens, rays, pixels = nearest_lens(profile)
    return float(np.hypot(*(lens.px_from_ray(rays) - pixels).T).max())


PROFILES = read_profiles()
MAIN = [p for p in PROFILES if MAIN_CAMERA_MM[0] <= p.equivalent_mm <= MAIN_CAMERA_MM[1]]


def test_the_collection_is_there():
    assert len(PROFILES) > 1000
    assert len(MAIN) > 100
    assert {p.model for p in MAIN} == {"poly3", "poly5", "ptlens"}


@pytest.mark.parametrize("model", ["poly3", "poly5", "ptlens"])
def test_the_formulas_are_the_collections_own(model):
    # Against the collection's own library, on a small picture.  Its vectorised code gives groups
    # of four neighbours one another's radius, hence the loose limit and the median.
    profile = max(
        (p for p in MAIN if p.model == model), key=lambda p: abs(p.gain(1.6) - p.gain(0.0))
    )
    database = lensfunpy.Database()
    mount = profile.label.split(" ")[1]
    (lens,) = (
        lens
        for lens in database.lenses
        if lens.mounts == [mount]
        and any(
            c.focal == pytest.approx(profile.focal_mm)
            and c.terms[: len(profile.terms)] == pytest.approx(profile.terms)
            for c in lens.calib_distortion
        )
    )
    height = 300
    width = round(height * profile.aspect)
    modifier = lensfunpy.Modifier(lens, lens.crop_factor, width, height)
    modifier.initialize(profile.focal_mm, 4.0, scale=1.0, flags=lensfunpy.ModifyFlags.DISTORTION)
    theirs = modifier.apply_geometry_distortion()
    middle = np.array([(width - 1) / 2, (height - 1) / 2])
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    off = np.stack([x, y], axis=-1) - middle
    ours = (
        middle + off * profile.gain(np.hypot(off[..., 0], off[..., 1]) / (height / 2))[..., None]
    )
    miss = np.hypot(*np.moveaxis(theirs - ours, -1, 0))
    moved = np.hypot(*np.moveaxis(theirs - off - middle, -1, 0))
    assert moved.max() > 4
    assert np.median(miss) < 0.15
    assert miss.max() < 1.5


def test_profiles_in_even_powers_are_followed_exactly():
    even = [p for p in PROFILES if p.model in ("poly3", "poly5")]
    assert len(even) > 150
    assert max(map(worst_px, even)) < 1e-5


def test_profiles_with_odd_powers_are_followed_within_a_few_pixels():
    # Measured with collection 0.3.4 on 151 profiles: median 1.06 px, 95 % under 3.99 px, worst
    # 6.25 px.  The limits guard against getting worse; the design sets no target here.  Without
    # k1 to k3 the median of the same profiles is off by about 100 px.
    errors = [worst_px(p) for p in MAIN if p.model == "ptlens"]
    assert statistics.median(errors) < 1.5
    assert np.percentile(errors, 95) < 6
    assert max(errors) < 8


def test_rays_come_back_from_every_pixel_of_every_main_camera():
    for profile in MAIN:
        lens, _, _ = nearest_lens(profile)
        width, height = profile.size_px
        x, y = np.meshgrid(np.linspace(0, width - 1, 17), np.linspace(0, height - 1, 13))
        pixels = np.column_stack([x.ravel(), y.ravel()])
        again = lens.px_from_ray(lens.ray_from_px(pixels))
        assert again == pytest.approx(pixels, abs=1e-6), profile.label
