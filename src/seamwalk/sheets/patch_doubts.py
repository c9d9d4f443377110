"""Patches whose shape speaks against the seams found round them.

A missed seam leaves a patch that nobody cuts: one with a corner that turns inwards, or one as
large as two or three of a common kind.  A seam too many leaves a sliver, or two odd pieces that
together are one of a common kind.  What a design is made of comes often, so only rare kinds are
doubted by size; an inward corner is doubted however often it comes, since no straight seam could
sew it.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from seamwalk.geometry.polygon import inner_angles_deg, inner_width, oriented
from seamwalk.model.sizes import PatchSize, Shape, Sizes
from seamwalk.model.top import Patch, PatchId, Seam, SeamId, Top
from seamwalk.trade import SEAM_ALLOWANCE_IN

Reason = Literal["inward corner", "as large as several", "sliver", "two make one", "off"]
"""Why a patch is doubted."""


_PLAIN: tuple[Shape, ...] = (
    "square",
    "rectangle",
    "half-square triangle",
    "quarter-square triangle",
)
"""Shapes that others are measured by."""


@dataclass(frozen=True, slots=True)
class PatchDoubtSettings:
    """When a patch is odd enough to be asked about."""

    inward_deg: float = 225.0
    """An inner angle above this turns inwards, degrees: half way to the 270 of an L; a bent
    seam or two junctions for one stay well below."""
    inward_in: float = 0.75
    """Both sides at such a corner are at least this long, inches: shorter ones are a jog where
    a seam was found beside its place, not a patch too many."""
    wobble_in: float = 0.08
    """Wobble of a seam that is taken out first, inches: chords of a curve of 1 1/2 in radius
    then turn by less than 38°."""
    common: int = 4
    """Kinds of at least this many patches are part of the design …"""
    common_share: float = 0.04
    """… if they are at least this share of all patches."""
    rare: int = 2
    """Kinds of at most this many patches may be misseen: corners and borders come four or two
    at a time, and are kept by the next two limits."""
    same_share: float = 0.06
    """Areas are equal within this share: an eighth on both sides of a 4 in square."""
    strip: float = 0.4
    """Longer than this share of the top is a border or sash: of its own size."""
    sliver_in: float = 0.75
    """Narrower than this and rare, inches: three seam allowances, half the narrowest strips
    of usual patterns."""
    sliver_share: float = 0.35
    """… and narrower than this share of the usual patch: miniatures are narrow all over."""
    wrong: tuple[tuple[Reason, float], ...] = (
        ("inward corner", 0.85),
        ("sliver", 0.8),
        ("two make one", 0.5),
        ("as large as several", 0.6),
        ("off", 0.1),
    )
    """How likely the seams are drawn wrong, by reason, 0 to 1; for the order only.  On photos
    of made-up tops with many seams missed, 70 of 81 inward corners were wrong, 8 of 8 slivers,
    0 of 7 off.  Of 48 true tops none had a patch as large as several and 2 had two that make
    one; these are set by hand in between."""

    def wrong_by(self, reason: Reason) -> float:
        """Return how likely the seams are drawn wrong for this reason, 0 to 1."""
        return dict(self.wrong)[reason]


PATCH_DOUBTS = PatchDoubtSettings()


@dataclass(frozen=True, slots=True)
class PatchDoubt:
    """Patches of one kind that are doubted for one reason.

    Attributes
    ----------
    patches : tuple of PatchId
        The first is the one to look at; of `two make one` a pair after the other.
    seams : tuple of SeamId
        Seams in question, where known.
    length_in : float
        About how much seam is missing or too much at each of them, inches.
    like : tuple of str
        Classes of the patches that it is as large as, or of the one that a pair makes; empty
        where that is not the reason.
    """

    reason: Reason
    patches: tuple[PatchId, ...]
    seams: tuple[SeamId, ...]
    length_in: float
    like: tuple[str, ...] = ()


def patch_doubts(
    top: Top, sizes: Sizes, settings: PatchDoubtSettings = PATCH_DOUBTS
) -> tuple[PatchDoubt, ...]:
    """Return what is doubted about patches, each patch once, for its strongest reason."""
    looks = _Looks(top, sizes, settings)
    told: set[PatchId] = set()
    out: list[PatchDoubt] = []
    for doubts in (
        _inward(looks),
        _two_make_one(looks),
        _slivers(looks),
        _several(looks),
        _off(looks),
    ):
        for doubt in doubts:
            if told.isdisjoint(doubt.patches):
                told.update(doubt.patches)
                out.append(doubt)
    return tuple(out)


class _Looks:
    """What is known of each patch, and which kinds are common."""

    def __init__(self, top: Top, sizes: Sizes, settings: PatchDoubtSettings) -> None:
        self.settings = settings
        self.size: dict[PatchId, PatchSize] = {s.patch: s for s in sizes.patches}
        self.patches = [p for p in top.patches if p.id in self.size]
        self.patch = {p.id: p for p in self.patches}
        self.counts = Counter(s.class_name for s in sizes.patches)
        inside = top.outline.buffer(-SEAM_ALLOWANCE_IN) if top.raw_edges else top.outline
        self.area = {p.id: _finished_area(p, self.size[p.id], inside) for p in self.patches}
        x0, y0, x1, y1 = top.outline.bounds
        self.strip_in = settings.strip * max(x1 - x0, y1 - y0)
        self.between: dict[frozenset[PatchId], list[Seam]] = defaultdict(list)
        for seam in top.seams:
            if seam.left is not None and seam.right is not None and seam.left != seam.right:
                self.between[frozenset((seam.left, seam.right))].append(seam)

    def class_of(self, patch: PatchId) -> str:
        return self.size[patch].class_name

    def rare(self, patch: PatchId) -> bool:
        return self.counts[self.class_of(patch)] <= self.settings.rare

    def is_strip(self, patch: PatchId) -> bool:
        x0, y0, x1, y1 = self.patch[patch].polygon.bounds
        return max(x1 - x0, y1 - y0) > self.strip_in

    def common_areas(self) -> dict[str, float]:
        """Median area of each plain kind that the design is made of, square inches."""
        s = self.settings
        least = max(s.common, s.common_share * len(self.patches))
        by_class: dict[str, list[float]] = defaultdict(list)
        for p in self.patches:
            # Other shapes are often joined ones themselves, or cut off by the top's edge.
            if self.size[p.id].shape in _PLAIN:
                by_class[self.class_of(p.id)].append(self.area[p.id])
        return {
            name: float(np.median(areas))
            for name, areas in sorted(by_class.items())
            if len(areas) >= least
        }


def _finished_area(patch: Patch, size: PatchSize, inside: shapely.Polygon) -> float:
    polygon = patch.polygon
    return float((polygon.intersection(inside) if size.raw_edges else polygon).area)


def _inward_corner(patch: Patch, s: PatchDoubtSettings) -> bool:
    """Tell whether the outline turns inwards sharply between two sides of some length."""
    # Bends of a curved seam stay far below a corner when only wobble is taken out.
    outline = shapely.simplify(patch.polygon.exterior, s.wobble_in)
    ring = oriented(shapely.get_coordinates(outline)[:-1])
    after = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    short = np.minimum(after, np.roll(after, 1))
    return bool(((inner_angles_deg(ring) > s.inward_deg) & (short >= s.inward_in)).any())


def _by_class(looks: _Looks, found: Iterable[PatchId]) -> Iterator[tuple[PatchId, ...]]:
    """Yield the patches found, one tuple for each class, the largest patch first."""
    groups: dict[str, list[PatchId]] = defaultdict(list)
    for patch in found:
        groups[looks.class_of(patch)].append(patch)
    for members in groups.values():
        yield tuple(sorted(members, key=lambda p: (-looks.area[p], p)))


def _inward(looks: _Looks) -> Iterator[PatchDoubt]:
    found = [p.id for p in looks.patches if _inward_corner(p, looks.settings)]
    for members in _by_class(looks, found):
        across = inner_width(looks.patch[members[0]].polygon)
        yield PatchDoubt("inward corner", members, (), across)


def _two_make_one(looks: _Looks) -> Iterator[PatchDoubt]:
    """Yield pairs of rare neighbours that together are one of a common kind."""
    s, common = looks.settings, looks.common_areas()
    for pair, seams in looks.between.items():
        one, two = sorted(pair)
        if one not in looks.patch or two not in looks.patch:
            continue
        if not (looks.rare(one) and looks.rare(two)) or looks.is_strip(one) or looks.is_strip(two):
            continue
        whole = looks.patch[one].polygon.union(looks.patch[two].polygon)
        if whole.area < (1 - s.same_share) * whole.convex_hull.area:
            continue
        area = looks.area[one] + looks.area[two]
        like = _nearest(common, area, 1, s)
        if like:
            ids = tuple(seam.id for seam in seams)
            yield PatchDoubt("two make one", (one, two), ids, _length(seams), (like,))


def _slivers(looks: _Looks) -> Iterator[PatchDoubt]:
    s = looks.settings
    widths = {p.id: inner_width(p.polygon) for p in looks.patches}
    usual = float(np.median(list(widths.values()))) if widths else 0.0
    limit = min(s.sliver_in, s.sliver_share * usual)
    for p in looks.patches:
        if looks.rare(p.id) and widths[p.id] < limit:
            seams = tuple(q for key, of in looks.between.items() if p.id in key for q in of)
            longest = max(seams, key=lambda q: (_length([q]), -q.id), default=None)
            length = _length([longest]) if longest else 0.0
            yield PatchDoubt("sliver", (p.id,), tuple(q.id for q in seams), length)


def _several(looks: _Looks) -> Iterator[PatchDoubt]:
    """Yield rare patches as large as two or three of a common kind, or as two kinds end to end."""
    common = looks.common_areas()
    rectangles = _rectangles(looks, common)
    for p in looks.patches:
        if not looks.rare(p.id) or looks.is_strip(p.id):
            continue
        like = _times(common, looks.area[p.id], looks.settings)
        like = like or _end_to_end(looks.size[p.id], rectangles, looks.settings)
        if like:
            yield PatchDoubt("as large as several", (p.id,), (), inner_width(p.polygon), like)


def _times(common: dict[str, float], area: float, s: PatchDoubtSettings) -> tuple[str, ...]:
    for times in (2, 3):
        like = _nearest(common, area, times, s)
        if like:
            return (like,) * times
    return ()


def _rectangles(looks: _Looks, common: Iterable[str]) -> dict[str, tuple[float, float]]:
    """Return finished width and height of the common kinds that are squares or rectangles."""
    out: dict[str, tuple[float, float]] = {}
    for size in looks.size.values():
        if size.class_name in common and _sides(size):
            out.setdefault(size.class_name, _sides(size)[0])
    return out


def _sides(size: PatchSize) -> list[tuple[float, float]]:
    """Return the two finished sides of a square or rectangle, either one first; else nothing."""
    sides = size.finished.size_in
    if size.shape not in ("square", "rectangle") or len(sides) != 4:
        return []
    return [(sides[0], sides[1]), (sides[1], sides[0])]


def _end_to_end(
    size: PatchSize, rectangles: dict[str, tuple[float, float]], s: PatchDoubtSettings
) -> tuple[str, ...]:
    """Return two kinds that laid end to end have the sides of this rectangle, or nothing."""
    turned = [(name, sides) for name, (a, b) in rectangles.items() for sides in {(a, b), (b, a)}]
    for long, wide in _sides(size):
        fits = [(n, a) for n, (a, b) in turned if abs(b - wide) <= s.same_share / 2 * wide]
        for k, (one, a) in enumerate(fits):
            for other, b in fits[k:]:
                if abs(a + b - long) <= s.same_share / 2 * long:
                    return (one, other)
    return ()


def _off(looks: _Looks) -> Iterator[PatchDoubt]:
    """Yield neighbours of which one is too large and one too small, then what is left alone."""
    off = {p: s.finished.off_in for p, s in looks.size.items() if s.finished.verdict == "off"}
    paired: set[PatchId] = set()
    by_much = sorted(
        (pair for pair in looks.between if pair <= off.keys() and _opposite(off, pair)),
        key=lambda pair: (-sum(abs(off[p]) for p in pair), sorted(pair)),
    )
    for pair in by_much:
        if paired.isdisjoint(pair):
            paired |= pair
            seams = looks.between[pair]
            first, second = sorted(pair, key=lambda p: (-abs(off[p]), p))
            ids = tuple(seam.id for seam in seams)
            yield PatchDoubt("off", (first, second), ids, _length(seams))
    for p in sorted(off.keys() - paired, key=lambda p: (-abs(off[p]), p)):
        longest = max((side.value_in for side in looks.size[p].sides), default=0.0)
        yield PatchDoubt("off", (p,), (), longest)


def _opposite(off: dict[PatchId, float], pair: frozenset[PatchId]) -> bool:
    one, two = pair
    return off[one] * off[two] < 0


def _nearest(
    common: dict[str, float], area: float, times: int, settings: PatchDoubtSettings
) -> str:
    """Return the kind of which `times` have this area, or nothing."""
    share = {name: abs(area / (times * one) - 1) for name, one in common.items()}
    best = min(share, key=lambda name: (share[name], name), default="")
    return best if best and share[best] <= settings.same_share else ""


def _length(seams: Iterable[Seam]) -> float:
    return float(sum(shapely.LineString(seam.points).length for seam in seams))
