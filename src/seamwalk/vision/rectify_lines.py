"""Seam lines as evidence about lens and pose.

A seam line is straight in the cloth up to wobble: every junction lies a little off, and junctions
within a few inches lie off together.  So a line's points are averaged over such lengths, and each
mean counts once.  Nearly parallel lines form a family.  What a whole family shares, its direction,
its taper and its bow, may be the cloth's own doing and is left free up to a weak prior; two
families at right angles may be askew by as much.  A crooked top is therefore not squared up.

Residuals are divided by the local inches per pixel of the camera in question: residuals in inches
would reward a camera that shrinks the cloth.

References
----------
Devernay and Faugeras, Straight lines have to be straight, Machine Vision and Applications 13:14,
2001 (lens from lines).  Liebowitz and Zisserman, Metric rectification for perspective images of
planes, CVPR 1998 (pose from families).  Elimination of the linear unknowns: Golub and Pereyra,
1973.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.projective import Points, apply, jacobian
from seamwalk.vision.camera_model import Camera

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class LineSettings:
    """What seam lines are believed to be.

    Attributes
    ----------
    wobble_in : float
        Standard deviation of a seam from its line, inches.  Piecing is good to a sixteenth; cloth
        that lies in bumps, seen at a slant, bends neighbouring lines alike, so each counts for
        less than it would by itself (in simulated photos with bumps up to 10 mm, a sixteenth made
        two cards worse, three sixteenths did not).
    wobble_length_in : float
        Length along which the wobble is alike, inches: a small patch.
    point_sigma_px : float
        Error of a mean of seam points in the picture, pixels: pressing, shadow of the ditch.
    shortest_in : float
        Shorter lines say nothing about straightness, inches.
    most_points : int
        Points used of one line.
    family_deg : float
        Lines this near to a family's direction belong to it, degrees.
    direction_deg : float
        How parallel a family's lines are, beyond what wobble at their ends does, degrees.
    taper_deg : float
        Prior on how much a family's directions fan out over half its extent, degrees.
    skew_deg : float
        Prior on two families' angle, off a right angle, degrees.
    bow_in : float
        Prior on a sag shared by a family's lines, inches at half its extent.
    outlier_sigmas : float
        Lines off by more than this, root mean square, are no seam lines.
    """

    wobble_in: float = 3 / 16
    wobble_length_in: float = 4.0
    point_sigma_px: float = 0.4
    shortest_in: float = 8.0
    most_points: int = 48
    family_deg: float = 5.0
    direction_deg: float = 0.15
    taper_deg: float = 0.35
    skew_deg: float = 0.6
    bow_in: float = 0.125
    outlier_sigmas: float = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class LineEvidence:
    """Lines prepared for the fit; call it for residuals.

    Attributes
    ----------
    px : (N, 2) float64
        Points of all lines, one after another.
    starts, bins : (L,) and (B,) int64
        Where each line, and each length of alike wobble, begins in `px`.
    bin_line : (B,) int64
        Which line a bin belongs to.
    towards : (L,) float64
        Direction at the start of the fit, radians; tells the two ends apart.
    base : (L,) float64
        Direction of the line's family, radians; nan when it has none.
    bin_sigma : (B,) float64
        Standard deviation of a bin's mean, pixels.
    line_sigma : (L,) float64
        Standard deviation of a line's direction, radians.
    shared : (B + F + P, K) float64
        Orthonormal columns: what families share, and so says nothing.
    """

    px: Points
    starts: Ints
    bins: Ints
    bin_line: Ints
    towards: Floats
    base: Floats
    bin_sigma: Floats
    line_sigma: Floats
    shared: Floats
    priors: int

    @property
    def freedom(self) -> int:
        """Number of independent residuals: two per line go into its place and direction."""
        member = int(np.isfinite(self.base).sum())
        rows = len(self.bins) - 2 * len(self.starts) + member
        return max(1, rows + self.priors - int(self.shared.shape[1]))

    def __call__(self, camera: Camera, theta: Floats) -> Floats:
        """Return the residuals, each over its standard deviation."""
        del theta
        means, angles = self._shape(camera)
        member = np.isfinite(self.base)
        fan = (angles[member] - self.base[member]) / self.line_sigma[member]
        y = np.concatenate([means / self.bin_sigma, fan, np.zeros(self.priors)])
        out: Floats = y - self.shared @ (self.shared.T @ y)
        return out

    def line_rms(self, camera: Camera) -> Floats:
        """Return how far each line is from straight, in standard deviations, (L,)."""
        means, _ = self._shape(camera)
        square = (means / self.bin_sigma) ** 2
        counts = np.bincount(self.bin_line, minlength=len(self.starts))
        sums = np.bincount(self.bin_line, square, minlength=len(self.starts))
        out: Floats = np.sqrt(sums / np.maximum(counts - 1.5, 0.5))
        return out

    def only(
        self, keep: NDArray[np.bool_], camera: Camera, settings: LineSettings
    ) -> "LineEvidence | None":
        """Return the evidence of the lines marked in `keep` (L,) alone, prepared anew."""
        lines = np.split(self.px, self.starts[1:])
        return line_evidence(
            [line for line, use in zip(lines, keep, strict=True) if use], camera, settings
        )

    def _shape(self, camera: Camera) -> tuple[Floats, Floats]:
        """Return each bin's mean distance from its line, pixels, and each line's direction."""
        rays = camera.lens.ray_from_px(self.px)
        h = camera.top_from_ray
        p = apply(h, rays)
        count = np.diff(np.append(self.starts, len(self.px)))
        line = np.repeat(np.arange(len(self.starts)), count)
        centre = np.add.reduceat(p, self.starts, axis=0) / count[:, None]
        d = p - centre[line]
        sxx, syy, sxy = (
            np.add.reduceat(v, self.starts)
            for v in (d[:, 0] ** 2, d[:, 1] ** 2, d[:, 0] * d[:, 1])
        )
        angle = 0.5 * np.arctan2(2 * sxy, sxx - syy)
        angle = self.towards + (angle - self.towards + np.pi / 2) % np.pi - np.pi / 2
        normal = np.column_stack([-np.sin(angle), np.cos(angle)])[line]
        r2 = (rays**2).sum(axis=1)
        k1, k2, k3 = camera.lens.radial
        gain = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        slope = (jacobian(h, rays) * normal[:, :, None]).sum(axis=1)
        in_per_px = np.hypot(*slope.T) / (camera.lens.focal_px * gain)
        off = (d * normal).sum(axis=1) / in_per_px
        sizes = np.diff(np.append(self.bins, len(self.px)))
        return np.add.reduceat(off, self.bins) / sizes, angle


def line_evidence(
    lines_px: Sequence[ArrayLike], camera: Camera, settings: LineSettings | None = None
) -> LineEvidence | None:
    """Return lines prepared for the fit, or None when none is long enough.

    Parameters
    ----------
    lines_px : sequence of (N, 2)
        Points along each seam line, in order, pixels.
    camera : Camera
        First estimate, for lengths and families.
    settings : LineSettings, optional
        What seam lines are believed to be.
    """
    s = settings or LineSettings()
    h = camera.top_from_ray
    chosen: list[Points] = []
    flats: list[Points] = []
    for line in lines_px:
        px = np.asarray(line, dtype=np.float64).reshape(-1, 2)
        px = px[np.isfinite(px).all(axis=1)]
        if len(px) < 4:
            continue
        px = px[np.unique(np.linspace(0, len(px) - 1, s.most_points).round().astype(int))]
        flat = apply(h, camera.lens.ray_from_px(px))
        if float(np.hypot(*(flat[-1] - flat[0]))) >= s.shortest_in:
            chosen.append(px)
            flats.append(flat)
    if not chosen:
        return None
    return _prepared(chosen, flats, camera, s)


def _prepared(
    chosen: list[Points], flats: list[Points], camera: Camera, s: LineSettings
) -> LineEvidence:
    counts = np.array([len(p) for p in chosen])
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]]).astype(np.int64)
    bins: list[int] = []
    bin_line: list[int] = []
    along: list[float] = []
    for k, (first, flat) in enumerate(zip(starts, flats, strict=True)):
        way = np.hypot(*(flat - flat[0]).T)
        # At least three means: a straight line through two fits anything.
        number = max(3, round(float(way[-1]) / s.wobble_length_in))
        cell = np.minimum((way / way[-1] * number).astype(int), number - 1)
        for j in np.flatnonzero(np.diff(cell, prepend=-1)):
            bins.append(int(first + j))
            bin_line.append(k)
            along.append(float((way[cell == cell[j]]).mean() - way.mean()))
    ends = np.array([f[-1] - f[0] for f in flats])
    towards = np.arctan2(ends[:, 1], ends[:, 0])
    length = np.hypot(*ends.T)
    base = _families(towards, length, s)
    sigma = np.hypot(s.wobble_in * np.sqrt(2) / length, np.radians(s.direction_deg))
    px = np.vstack(chosen)
    where = np.asarray(bins, dtype=np.int64)
    owner = np.asarray(bin_line, dtype=np.int64)
    bin_sigma = np.hypot(s.wobble_in / _in_per_px(camera, px[where]), s.point_sigma_px)
    middles = np.array([f.mean(axis=0) for f in flats])
    shared, priors = _shared(
        base, middles, np.asarray(along), owner, bin_sigma, sigma, (camera, px[where]), s
    )
    return LineEvidence(px, starts, where, owner, towards, base, bin_sigma, sigma, shared, priors)


def _in_per_px(camera: Camera, px: Points) -> Floats:
    """Return the mean scale of the plane at pixels (N, 2), inches per pixel, (N,)."""
    rays = camera.lens.ray_from_px(px)
    jac = jacobian(camera.top_from_ray, rays)
    out: Floats = np.sqrt(np.abs(np.linalg.det(jac))) / camera.lens.focal_px
    return out


def _families(towards: Floats, length: Floats, s: LineSettings) -> Floats:
    """Return each line's family direction, turned to the line's own sense; nan for none.

    The two main directions are at right angles; families at 45° to them come with blocks on
    point.
    """
    width = np.radians(s.family_deg)
    best, most = 0.0, -1.0
    for candidate in np.radians(np.arange(0, 90, 1.0)):
        off = (towards - candidate + np.pi / 4) % (np.pi / 2) - np.pi / 4
        weight = float((length * np.exp(-0.5 * (off / (0.4 * width)) ** 2)).sum())
        if weight > most:
            best, most = float(candidate), weight
    off = (towards - best + np.pi / 4) % (np.pi / 2) - np.pi / 4
    near = np.abs(off) < width
    best += float((off * length * near).sum() / max((length * near).sum(), 1e-9))
    folded = (towards - best + np.pi / 8) % (np.pi / 4) - np.pi / 8
    base = np.where(np.abs(folded) < width, towards - folded, np.nan)
    # A family of one or two says nothing about taper.
    name = np.round(((base - best) % np.pi) / (np.pi / 4)) % 4
    for k in range(4):
        if (name == k).sum() < 3:
            base[name == k] = np.nan
    return base


def _shared(
    base: Floats,
    middles: Points,
    along: Floats,
    owner: Ints,
    bin_sigma: Floats,
    line_sigma: Floats,
    seen: tuple[Camera, Points],
    s: LineSettings,
) -> tuple[Floats, int]:
    """Return an orthonormal basis of what families share, and the number of prior rows."""
    member = np.flatnonzero(np.isfinite(base))
    rows = len(owner) + len(member)
    if len(member) == 0:
        return np.zeros((rows, 0)), 0
    main = base[member[0]]
    name = np.round(((base - main) % np.pi) / (np.pi / 4)) % 4
    names = sorted({int(n) for n in name[member]})
    in_px = 1 / _in_per_px(*seen)
    columns: list[Floats] = []
    prior: list[tuple[dict[int, float], float]] = []
    for n in names:
        mine = name == n
        angle = main + n * np.pi / 4
        across = middles @ np.array([-np.sin(angle), np.cos(angle)])
        half = max(float(np.ptp(across[mine])) / 2, s.shortest_in)
        offset = (across - (across[mine].min() + across[mine].max()) / 2) / half
        turn, fan, bow = np.zeros(rows), np.zeros(rows), np.zeros(rows)
        turn[len(owner) :] = (mine / line_sigma)[member]
        fan[len(owner) :] = (mine * offset / line_sigma)[member]
        # A line's own sense may be the opposite of its family's.
        sense = np.sign(np.cos(base - angle))
        of_mine = mine[owner]
        longest = max(float(np.abs(along[of_mine]).max()), s.shortest_in)
        sag = (along / longest) ** 2
        mean = np.bincount(owner, sag) / np.bincount(owner)
        bow[: len(owner)] = np.where(
            of_mine, np.nan_to_num(sense)[owner] * (sag - mean[owner]) * in_px / bin_sigma, 0.0
        )
        at = len(columns)
        columns += [turn, fan, bow]
        prior.append(({at + 1: 1.0}, np.radians(s.taper_deg)))
        prior.append(({at + 2: 1.0}, s.bow_in))
    for n in names:
        if n + 2 in names:
            a, b = 3 * names.index(n), 3 * names.index(n + 2)
            prior.append(({a: -1.0, b: 1.0}, np.radians(s.skew_deg)))
    below = np.zeros((len(prior), len(columns)))
    for i, (terms, sigma) in enumerate(prior):
        for j, factor in terms.items():
            below[i, j] = factor / sigma
    basis, _ = np.linalg.qr(np.vstack([np.column_stack(columns), below]))
    return basis, len(prior)
