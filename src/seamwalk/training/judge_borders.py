"""Borders met while an over-cut top is joined, each with what it is judged by and the truth.

A border is real where its two regions lie mostly in different patches. Regions that are a mixture
teach nothing and are left out.

References
----------
Ross, Gordon and Bagnell, A reduction of imitation learning and structured prediction to no-regret
online learning, AISTATS 2011: a judge must learn on the states that its own verdicts lead to.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import FlatPicture, Rectification, SeamEvidence, View
from seamwalk.vision.heat import told_by
from seamwalk.vision.heat_cut import CutSettings, looked
from seamwalk.vision.heat_cut import cut as over_cut
from seamwalk.vision.heat_features import measures
from seamwalk.vision.heat_graph import Array, Indices, RegionMap
from seamwalk.vision.heat_lines import Field
from seamwalk.vision.heat_merge import MergeSettings, merged, weakest
from seamwalk.vision.heat_weights import Judge
from seamwalk.vision.partition import one_piece

Labels = NDArray[np.int32]
Odds = Callable[[Array], Array]
"""Log-odds of a seam (M,) for rows of measures (M, F)."""


@dataclass(frozen=True, slots=True)
class BorderSettings:
    """Which borders are learned from."""

    pure: float = 0.8
    """Least share of a region that lies in one patch."""
    least_px: int = 30
    """Smaller regions have no shape to speak of."""
    rounds: int = 60
    """Most rounds of joining."""
    iou: float = 0.8
    """A region is a patch where they share so much of their union."""
    least_area_in2: float = 0.12
    """Smaller regions are crumbs, that go to a neighbour in the end."""


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """An over-cut top with its truth.

    Attributes
    ----------
    regions : RegionMap
    heat, cos2, sin2, junction : (H, W) float16
        The field, in half the memory.
    found : (H, W) float16 or None
        What a first look found, in the cut of a second one.
    side : float
        Side of a typical region, pixels.
    overlap : (K, 3) int64
        First region, patch (0 outside), pixels that they share.
    least_px : float
        Regions with fewer pixels are crumbs.
    """

    regions: RegionMap
    heat: NDArray[np.float16]
    cos2: NDArray[np.float16]
    sin2: NDArray[np.float16]
    junction: NDArray[np.float16]
    found: NDArray[np.float16] | None
    side: float
    overlap: NDArray[np.int64]
    least_px: float

    def field(self) -> Field:
        """Return heat, direction and junction heat."""
        planes = (self.heat, self.cos2, self.sin2, self.junction)
        heat, cos2, sin2, junction = (p.astype(np.float32) for p in planes)
        found = None if self.found is None else self.found.astype(np.float32)
        return Field(heat, cos2, sin2, junction, found)

    def shared(self, regions: RegionMap) -> Array:
        """Return the pixels (n + 1, patches + 1) that regions share with patches."""
        first, patch, pixels = self.overlap.T
        n, m = len(regions.size), int(patch.max()) + 1
        flat = np.bincount(regions.home[first] * m + patch, pixels, n * m)
        return flat.astype(np.float64).reshape(n, m)


def cut_of(
    rgb: NDArray[np.uint8],
    evidence: SeamEvidence,
    mask: NDArray[np.bool_],
    truth: Labels,
    px_per_in: float,
    first: Judge | None = None,
    settings: BorderSettings | None = None,
) -> Cut:
    """Cut a top as :mod:`seamwalk.vision.heat` does, and count what each region truly is.

    Parameters
    ----------
    first : Judge or None
        With it the cut of the second look is returned, after joining by its verdicts.
    """
    s = settings or BorderSettings()
    h, w = mask.shape
    lens = Lens(float(max(h, w)), (w / 2, h / 2), (0.0, 0.0, 0.0))
    straight = Rectification(View(lens, np.eye(3)), (), "card", 1.0, 0.0)
    flat = FlatPicture(rgb, np.ones_like(mask), px_per_in, (0.0, 0.0), straight)
    how = CutSettings()
    look = looked(evidence, flat, one_piece(mask), how)
    cut = over_cut(look, how)
    if first is not None:
        joining = MergeSettings(judge=first, second=first)
        judged = merged(cut.regions, cut.field, cut.side, joining)
        # Cut anew even where the others say nothing: the judge must know that too.
        cut = over_cut(look, how, told_by(look, cut, judged, joining.again))
    m = int(truth.max()) + 1
    key, pixels = np.unique(
        cut.labels.ravel().astype(np.int64) * m + truth.ravel(), return_counts=True
    )
    overlap = np.stack([*np.divmod(key, m), pixels], axis=1)
    overlap = overlap[overlap[:, 0] > 0]
    field = (cut.field.heat, cut.field.cos2, cut.field.sin2, evidence.junction)
    heat, cos2, sin2, junction = (p.astype(np.float16) for p in field)
    least = s.least_area_in2 * px_per_in**2
    found = None if cut.field.found is None else cut.field.found.astype(np.float16)
    return Cut(cut.regions, heat, cos2, sin2, junction, found, cut.side, overlap, least)


@dataclass(frozen=True, slots=True, eq=False)
class Met:
    """Borders of one picture.

    Attributes
    ----------
    found : (M, F) float32
        Measures.
    real : (M,) bool
    last : (M,) bool
        Whether nothing was joined any more.
    """

    found: NDArray[np.float32]
    real: NDArray[np.bool_]
    last: NDArray[np.bool_]


def truth_of_borders(
    regions: RegionMap, shared: Array, s: BorderSettings
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which borders (M,) part two patches, and of which that can be said."""
    inner = shared[:, 1:]
    main = inner.argmax(axis=1)
    known = (inner.max(axis=1) > s.pure * regions.size) & (regions.size > s.least_px)
    a, b = regions.pair.T
    real: NDArray[np.bool_] = main[a] != main[b]
    return real, known[a] & known[b]


def met(cut: Cut, odds: Odds, limit: float, settings: BorderSettings | None = None) -> Met:
    """Join `cut` as `odds` say, and return all borders met on the way.

    Parameters
    ----------
    limit : float
        Log-odds below which a border is dissolved.
    """
    s = settings or BorderSettings()
    regions, field = cut.regions, cut.field()
    rows, reals, lasts = [], [], []
    found = None
    for _ in range(s.rounds):
        found = measures(regions, field, cut.side, found)
        into = weakest(regions, odds(found), limit)
        real, known = truth_of_borders(regions, cut.shared(regions), s)
        # Borders that did not change were met before.
        use = known if into is None else known & (regions.before < 0)
        rows.append(found[use].astype(np.float32))
        reals.append(real[use])
        lasts.append(np.full(int(use.sum()), into is None))
        if into is None:
            break
        regions = regions.joined(into)
    return Met(np.concatenate(rows), np.concatenate(reals), np.concatenate(lasts))


def f1_at(cut: Cut, odds: Odds, limits: Array, settings: BorderSettings | None = None) -> Array:
    """Return F1 (L,) of regions against patches for rising limits (L,) of the log-odds.

    Joining goes on from one limit to the next, which spares starting again.
    """
    s = settings or BorderSettings()
    regions, field = cut.regions, cut.field()
    found = measures(regions, field, cut.side)
    out = []
    for limit in limits.tolist():
        for _ in range(s.rounds):
            into = weakest(regions, odds(found), limit)
            if into is None:
                break
            regions = regions.joined(into)
            found = measures(regions, field, cut.side, found)
        out.append(region_f1(cut.shared(regions), regions.size, cut.least_px, s.iou))
    return np.array(out)


def region_f1(shared: Array, size: Array, least_px: float, iou: float) -> float:
    """Return F1 of regions against patches, crumbs of both left out.

    Parameters
    ----------
    shared : (n + 1, m + 1) float64
        Pixels in common; row and column 0 are the outside.
    size : (n + 1,) float64
        Pixels of the regions.
    """
    patch = shared.sum(axis=0)
    either = size[:, None] + patch[None] - shared
    rows: Indices = np.flatnonzero(size >= least_px)
    columns = np.flatnonzero(patch >= least_px)
    rows, columns = rows[rows > 0], columns[columns > 0]
    alike = (shared / np.maximum(either, 1))[np.ix_(rows, columns)] >= iou
    # Above one half, at most one region can be alike to a patch.
    return float(2 * alike.sum() / max(len(rows) + len(columns), 1))
