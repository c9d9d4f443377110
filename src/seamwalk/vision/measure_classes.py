"""Patches of one kind together, and the size that each kind is meant to have.

Patches of one shape whose dimensions differ by less than piecing does are one kind.  The
commonest kinds first take all patches close to them, so that a patch sewn too small shows as an
odd one of its kind rather than as a kind of its own; then each patch that is left alone or nearly
so is laid on the members of the common kinds, and joins where its outline fits.
"""

from collections import defaultdict
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.spatial.distance import cdist

from seamwalk.geometry.cut_corners import CornerSettings, main_corners
from seamwalk.geometry.polygon import signed_area
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Shape
from seamwalk.units import CM_PER_IN, Units, format_inches, pattern_units
from seamwalk.vision.measure_doubt import Doubt
from seamwalk.vision.measure_finished import FinishedShape
from seamwalk.vision.measure_meant import MeantSettings, meant_size
from seamwalk.vision.shapes import dimensions, finished_sides

Floats = NDArray[np.float64]

CURVED: tuple[Shape, ...] = ("quarter circle", "curved")
"""Corners alone do not tell these from others."""


@dataclass(frozen=True, slots=True)
class ClassSettings:
    """When two patches are meant to be the same."""

    alike_in: float = 0.09
    """Dimensions of well-made equal patches differ by less than this, inches."""
    join_in: float = 0.19
    """A few patches off by up to this are meant to be the common size, inches …"""
    join_share: float = 0.08
    """… or by this share of their shorter dimension …"""
    most_in: float = 0.3
    """… but never by more than this, inches: more than can be eased in."""
    few: float = 0.34
    """They are a few below this share of the common ones."""
    alone: int = 2
    """Kinds of at most this many patches may be misseen members of a common kind …"""
    fits_in: float = 0.25
    """… if their outline comes within this of a member's everywhere, inches …"""
    fits_share: float = 0.12
    """… and within this share of its shorter extent: small patches are not all alike."""
    tried: int = 24
    """Members of common kinds that one such patch is laid on, at most."""
    strip: float = 3.0
    """Patches longer than this many usual ones lie along several of them."""
    sampled: int = 8
    """Members of a class that are measured with every mode of the camera, at most: what a
    camera does to sizes changes slowly over a top."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Patches meant to be equal.

    Attributes
    ----------
    members : tuple of int
        Places in the list of shapes.
    true : tuple of int
        Those whose dimensions tell what was meant; the others joined as odd ones.
    """

    shape: Shape
    members: tuple[int, ...]
    true: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class KindSize:
    """What was measured of a kind with D dimensions, and what its mean may be off by.

    Attributes
    ----------
    mean_in : (D,) float64
        Mean dimensions of the members that tell what was meant.
    own_in2 : (D,) float64
        Variance of the mean by what differs from patch to patch, inches².
    shared_in : (D, M + 1) float64
        One standard deviation of what moves all kinds alike, a column for each of the camera's M
        modes and a last one for the maker's seam allowance, inches.
    """

    kind: Kind
    mean_in: Floats
    own_in2: Floats
    shared_in: Floats

    @property
    def covariance(self) -> Floats:
        """Return that of measured − meant, (D, D), inches²."""
        out: Floats = self.shared_in @ self.shared_in.T + np.diag(self.own_in2)
        return out


@dataclass(frozen=True, slots=True)
class PatchClass:
    """A kind with the size it is meant to have.

    Attributes
    ----------
    name : str
        Shape and size, like ``square 3``.
    shape : str
        What its members are meant to be; one sewn too narrow is still meant as a square.
    dims_in : tuple of float
        Finished dimensions on the grain.
    chance : float
        Probability that these and no others on the grain were meant.
    mean_in : tuple of float
        Measured mean dimensions.
    sigma_in : float
        Their standard deviation, the maker's own seam allowance left out, inches.
    """

    name: str
    shape: Shape
    dims_in: tuple[float, ...]
    chance: float = 1.0
    mean_in: tuple[float, ...] = ()
    sigma_in: float = 0.0

    def sides_in(self, shape: FinishedShape, grain_in: float) -> Floats:
        """Return the finished sides of a member, in the order of its finished corners."""
        return finished_sides(self.shape, shape.finished, self.dims_in, grain_in)


def kinds(
    shapes: list[FinishedShape], settings: ClassSettings | None = None
) -> tuple[list[Kind], list[FinishedShape]]:
    """Return the kinds, and the shapes with the outlines of misseen members put right."""
    s = settings or ClassSettings()
    groups: dict[tuple[Shape, int], list[int]] = defaultdict(list)
    dims = []
    for k, shape in enumerate(shapes):
        # Squares and rectangles are told apart by what most of a kind are, not one by one.
        kind: Shape = "rectangle" if shape.name == "square" else shape.name
        dims.append(dimensions(kind, shape.finished))
        groups[kind, len(dims[k])].append(k)
    found: list[Kind] = []
    for members in groups.values():
        values = np.array([dims[k] for k in members])
        group = _grouped(values, s)
        for g in range(int(group.max()) + 1):
            places = [members[p] for p in np.flatnonzero(group == g).tolist()]
            names = [shapes[k].name for k in places]
            meant = max(sorted(set(names)), key=names.count)
            middle = np.median([dims[k] for k in places], axis=0)
            near = [k for k in places if np.abs(dims[k] - middle).max() <= s.alike_in]
            found.append(Kind(meant, tuple(places), tuple(near or places)))
    return _joined(found, list(shapes), s)


def _grouped(values: Floats, settings: ClassSettings) -> NDArray[np.int64]:
    """Return a group number for each row of dimensions (N, D)."""
    tree = cKDTree(values)
    near = [tree.query_ball_point(v, settings.alike_in, p=np.inf) for v in values]
    crowd = np.array([len(row) for row in near])
    group = np.full(len(values), -1, dtype=np.int64)
    number = 0
    order: list[int] = np.lexsort((np.arange(len(values)), -crowd)).tolist()
    for seed in order:
        if group[seed] >= 0:
            continue
        centre = np.median(values[near[seed]], axis=0)
        reach = max(settings.join_in, settings.join_share * float(centre.min()))
        for member in tree.query_ball_point(centre, min(reach, settings.most_in), p=np.inf):
            apart = np.abs(values[member] - centre).max() > settings.alike_in
            own_kind = crowd[member] > max(2, settings.few * crowd[seed])
            if group[member] < 0 and not (apart and own_kind):
                group[member] = number
        group[seed] = number
        number += 1
    return group


def _joined(
    found: list[Kind], shapes: list[FinishedShape], s: ClassSettings
) -> tuple[list[Kind], list[FinishedShape]]:
    """Return the kinds after misseen patches have joined the common kinds they fit."""
    of = np.full(len(shapes), -1)
    for number, kind in enumerate(found):
        if len(kind.members) > s.alone:
            of[list(kind.members)] = number
    common = np.flatnonzero(of >= 0)
    alone = np.flatnonzero(of < 0)
    if not len(common) or not len(alone):
        return found, shapes
    extent = np.array([np.ptp(shape.finished, axis=0) for shape in shapes])
    tree = cKDTree(extent[common])
    extra: dict[int, list[int]] = defaultdict(list)
    for k in alone.tolist():
        limit = min(s.fits_in, s.fits_share * float(extent[k].min()))
        near = tree.query_ball_point(extent[k], 2 * limit, p=np.inf, return_sorted=True)
        # A few of each kind will do.
        best, to = limit, -1
        ring = _centred(shapes[k].finished)
        for j in common[near[:: max(1, len(near) // s.tried)]].tolist():
            if (shapes[j].name in CURVED) != (shapes[k].name in CURVED):
                continue
            apart = shapely.hausdorff_distance(ring, _centred(shapes[j].finished))
            if apart < best and len(found[of[j]].members) * s.few > 1:
                best, to = float(apart), j
        right = None if to < 0 else _like(shapes[k], shapes[to])
        if right is not None:
            extra[int(of[to])].append(k)
            shapes[k] = right
    gone = {k for members in extra.values() for k in members}
    out = []
    for number, kind in enumerate(found):
        left = tuple(k for k in kind.members if k not in gone)
        more = tuple(extra.get(number, []))
        if left or more:
            true = tuple(k for k in kind.true if k not in gone) or left
            out.append(replace(kind, members=tuple(sorted(left + more)), true=true))
    return out, shapes


def _centred(ring: Points) -> shapely.LinearRing:
    """Return the ring with the middle of its extent at 0, 0."""
    return shapely.LinearRing(ring - (ring.min(axis=0) + ring.max(axis=0)) / 2)


def _like(shape: FinishedShape, model: FinishedShape) -> FinishedShape | None:
    """Return the shape with the corners that a patch like `model` has; None if it lacks some."""
    ring, count = shape.finished, len(model.finished)
    for stub_in in (0.25, 0.35, 0.5):
        if len(ring) == count:
            return replace(shape, name=model.name, finished=ring)
        ring = main_corners(ring, CornerSettings(stub_in=stub_in, stub_share=0.6, bend_in=stub_in))
    ring = shape.finished
    middle = (ring.min(axis=0) + ring.max(axis=0)) / 2
    wanted = model.finished - (model.finished.min(axis=0) + model.finished.max(axis=0)) / 2
    nearest = np.unique(np.argmin(cdist(wanted + middle, ring), axis=1))
    if len(nearest) != count:
        return None
    return replace(shape, name=model.name, finished=ring[nearest])


def kind_sizes(
    found: list[Kind],
    shapes: list[FinishedShape],
    doubt: Doubt,
    settings: ClassSettings | None = None,
    meant: MeantSettings | None = None,
) -> list[KindSize]:
    """Return what was measured of each kind."""
    s, m = settings or ClassSettings(), meant or MeantSettings()
    # All cameras see all sampled corners at one go.
    sampled = [_evenly(kind.true, s.sampled) for kind in found]
    rings = [shapes[k].finished for places in sampled for k in places]
    cuts = np.cumsum([len(r) for r in rings])[:-1]
    by_mode = [np.split(p, cuts) for p in doubt.by_mode(np.concatenate(rings))]
    usual = float(np.median(np.sqrt([abs(signed_area(shape.finished)) for shape in shapes])))
    out: list[KindSize] = []
    first = 0
    for kind, places in zip(found, sampled, strict=True):
        dims = np.array([_dims(kind.shape, shapes[k].finished) for k in kind.true])
        mine = np.array([_dims(kind.shape, shapes[k].finished) for k in places]).mean(axis=0)
        shared = np.zeros((len(mine), len(by_mode) + 1))
        for column, moved in enumerate(by_mode):
            ring_dims = [_dims(kind.shape, r) for r in moved[first : first + len(places)]]
            if any(len(d) != len(mine) for d in ring_dims):
                continue  # a hexagon on the brink of uneven: no change can be told
            shared[:, column] = np.mean(ring_dims, axis=0) - mine
        first += len(places)
        # A strip is as long as the many patches along it, with all their seams.
        shared[:, -1] = m.allowance_in * np.where(mine > s.strip * usual, mine / usual, 1.0)
        corner = np.concatenate([shapes[k].finished for k in places])
        stated = doubt.sigma_at(corner) ** 2 + doubt.bump_sigma_at(corner) ** 2
        own = np.full(dims.shape[1], float(stated.mean()) + m.piecing_in**2)
        n = len(dims)
        scatter = dims.var(axis=0) * n
        own = (m.piecing_patches * own + scatter) / (m.piecing_patches + n - 1)
        out.append(KindSize(kind, dims.mean(axis=0), own / n, shared))
    return out


def classes(
    sized: list[KindSize], grain_in: float, units: Units, meant: MeantSettings | None = None
) -> list[PatchClass]:
    """Return each patch's class, in the order of the shapes.

    Parameters
    ----------
    sized : list of KindSize
        All kinds, which hold each patch once.
    """
    out: dict[int, PatchClass] = {}
    for one in sized:
        covariance, shape = one.covariance, one.kind.shape
        size, chance = meant_size(one.mean_in, covariance, grain_in, meant)
        name = f"{shape} {size_text(size, grain_in, units)}"
        sigma = float(np.sqrt(np.mean(np.diag(covariance) - one.shared_in[:, -1] ** 2)))
        of_class = PatchClass(name, shape, size, chance, tuple(one.mean_in.tolist()), sigma)
        out.update(dict.fromkeys(one.kind.members, of_class))
    return [out[k] for k in sorted(out)]


def _dims(shape: Shape, ring: Points) -> Floats:
    return np.array(dimensions(shape, ring))


def _evenly(places: tuple[int, ...], most: int) -> tuple[int, ...]:
    if len(places) <= most:
        return places
    return tuple(places[k] for k in np.linspace(0, len(places) - 1, most).round().astype(int))


def size_text(size: tuple[float, ...], grain_in: float, units: Units) -> str:
    """Return a size in the units of its pattern, named where they aren't plain inches."""
    pattern = pattern_units(grain_in, units)
    if pattern == "cm":
        return " x ".join(f"{v * CM_PER_IN:.1f}".removesuffix(".0") for v in size) + " cm"
    return " x ".join(format_inches(v) for v in size) + ("" if units == "in" else " in")
