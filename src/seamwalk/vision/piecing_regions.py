"""Make any label map one that can be traced: whole regions without holes, none too thin.

After :func:`tidy` the top and every region in it, and the complement of each, are connected
through pixel sides.  Then the boundary of each is one simple closed curve, the boundaries form
one connected net, and the traced map is valid before anything is straightened.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.errors import TopologyError

Labels = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class RegionSettings:
    """What counts as a patch at all."""

    thinnest_in: float = 0.16
    """A region that is nowhere wider than this is no patch but the noise between two, inches;
    the narrowest strips that are pieced finish at 1/4 in."""
    smallest_in2: float = 0.06
    """Nor is a smaller one, square inches: a quarter inch square, finished."""
    rounds: int = 8
    """Most passes over the map; each pass joins or cuts what the last one left over."""


def tidy(
    labels: Labels, px_per_in: float, settings: RegionSettings | None = None
) -> tuple[Labels, NDArray[np.bool_]]:
    """Return the label map made traceable, and where it had to be cut without evidence.

    Parameters
    ----------
    labels : (H, W) int32
        0 outside, anything else a region.

    Returns
    -------
    labels : (H, W) int32
        0 outside, 1 … n; see the module's guarantee.
    cut : (H, W) bool
        Pixels on both sides of cuts through regions that surrounded another.

    Raises
    ------
    TopologyError
        If nothing is left that is large enough for a patch.
    """
    settings = settings or RegionSettings()
    least_px = settings.smallest_in2 * px_per_in**2
    thinnest_px = settings.thinnest_in * px_per_in
    cut = np.zeros(labels.shape, dtype=bool)
    out = _numbered(_whole_top(labels))
    for _ in range(settings.rounds):
        merged = _join_small(out, least_px, thinnest_px)
        opened, new_cut = _open_rings(merged)
        cut |= new_cut
        if not new_cut.any() and merged is out:
            return out, cut & (out > 0)
        out = _numbered(opened)
    raise TopologyError(
        "The patches cannot be told apart cleanly enough to draw their seams.",
        "Take a sharper photo, closer and in even light.",
    )


def _whole_top(labels: Labels) -> Labels:
    """Return the labels with the largest connected top only, its holes filled from around."""
    parts, n = ndimage.label(labels > 0)
    if n == 0:
        raise TopologyError("There are no patches in the picture.", "Show the whole top.")
    largest = 1 + int(np.argmax(np.bincount(parts.ravel())[1:]))
    mask = np.pad(parts == largest, 1)
    filled = np.asarray(ndimage.binary_fill_holes(mask), dtype=bool)[1:-1, 1:-1]
    out = np.where(parts == largest, labels, 0).astype(np.int32)
    if (filled & (out == 0)).any():
        nearest = ndimage.distance_transform_edt(
            out == 0, return_distances=False, return_indices=True
        )
        out = np.where(filled, out[tuple(nearest)], 0).astype(np.int32)
    return out


def _numbered(labels: Labels) -> Labels:
    """Return the 4-connected regions numbered 1 … n; a region in two parts becomes two."""
    from skimage.measure import label

    out: Labels = label(labels, background=0, connectivity=1).astype(np.int32)
    return out


def _join_small(labels: Labels, least_px: float, thinnest_px: float) -> Labels:
    """Return the labels with regions too small or thin given to their longest neighbour."""
    n = int(labels.max())
    area = np.bincount(labels.ravel(), minlength=n + 1)
    wide = np.zeros(n + 1, dtype=bool)
    size = max(1, round(thinnest_px))
    same = ndimage.minimum_filter(labels, size) == ndimage.maximum_filter(labels, size)
    wide[labels[same]] = True
    small = (area < least_px) | ~wide
    small[0] = False
    if not small[1:].any():
        return labels
    if small[1:].all():
        raise TopologyError(
            "No region in the picture is large enough for a patch.",
            "Take the photo closer, so that each patch covers more of the picture.",
        )
    border = border_lengths(labels)
    out_of = np.arange(n + 1)
    # The smallest first, each to the neighbour it shares most with, then to whatever that became.
    for r in sorted(np.flatnonzero(small).tolist(), key=lambda r: (area[r], r)):
        shares: dict[int, int] = {}
        for other, length in border.get(r, {}).items():
            home = _home(out_of, other)
            if home not in (0, r):
                shares[home] = shares.get(home, 0) + length
        if not shares:
            continue
        into = max(shares, key=lambda k: (shares[k], -k))
        out_of[r] = into
        for other, length in border.pop(r, {}).items():
            if other != into:
                row = border.setdefault(into, {})
                row[other] = row.get(other, 0) + length
    table = np.array([_home(out_of, r) for r in range(n + 1)], dtype=np.int32)
    return _numbered(table[labels])


def _home(out_of: NDArray[np.intp], r: int) -> int:
    while out_of[r] != r:
        r = int(out_of[r])
    return r


def border_lengths(labels: Labels) -> dict[int, dict[int, int]]:
    """Return for each region how many pixel sides it shares with each neighbour (0: outside)."""
    padded = np.pad(labels, 1)
    n = int(labels.max()) + 1
    keys = []
    for a, b in ((padded[1:], padded[:-1]), (padded[:, 1:], padded[:, :-1])):
        differ = a != b
        keys.append(a[differ].astype(np.int64) * n + b[differ])
    pair, count = np.unique(np.concatenate(keys), return_counts=True)
    out: dict[int, dict[int, int]] = {}
    for key, length in zip(pair.tolist(), count.tolist(), strict=True):
        a, b = divmod(key, n)
        for r, other in ((a, b), (b, a)):
            row = out.setdefault(r, {})
            row[other] = row.get(other, 0) + length
    return out


def _open_rings(labels: Labels) -> tuple[Labels, NDArray[np.bool_]]:
    """Return the labels with every region that surrounds others cut beside them.

    The cuts run along rows, flush with the upper and lower end of what is surrounded: a frame
    falls into strips with butted ends, the upper and lower ones running full width.
    """
    cut = np.zeros(labels.shape, dtype=bool)
    out = labels
    following = int(labels.max()) + 1
    for r, box in enumerate(ndimage.find_objects(labels), start=1):
        if box is None:
            continue
        mask = labels[box] == r
        holes, n = ndimage.label(np.pad(~mask, 1, constant_values=True))
        if n == 1:
            continue
        if out is labels:
            out = labels.copy()
        inner = np.flatnonzero(np.bincount(holes.ravel()) > 0)
        inner = inner[(inner != 0) & (inner != holes[0, 0])]
        rows = np.flatnonzero(np.isin(holes[1:-1, 1:-1], inner).any(axis=1))
        top, bottom = int(rows[0]), int(rows[-1]) + 1
        view = out[box]
        for low, high in ((top, bottom), (bottom, mask.shape[0])):
            band = np.zeros_like(mask)
            band[low:high] = mask[low:high]
            view[band] = following
            following += 1
        beside = cut[box]
        for row in (top, bottom):
            beside[max(row - 1, 0) : row + 1] |= mask[max(row - 1, 0) : row + 1]
    return out, cut
