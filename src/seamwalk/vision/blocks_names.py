"""Names that the trade has for units of plain geometry.

A name is given for the seams alone, or for the seams and which patches share a fabric where the
seams alone could be something else (nine squares are a nine patch only if two fabrics alternate).
Everything else has no name here.  The names are common words of the trade, from memory, no single
source; each drawing below is the definition that is used.
"""

import functools
import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.congruence import agreeing, areas, features
from seamwalk.geometry.projective import Points

Floats = NDArray[np.float64]

ONE_SIDE = 0.06
"""How far corners may be from the drawing's, as share of the block's side: 1/8 in of 2 in."""
BOX = 0.8
"""A strip fills at least this share of its own extent, however it leans."""
NAMED_STRIPS = (3, 4, 5, 6)
"""A rail fence has so many strips."""
SNOWBALL_CORNER = (0.15, 0.4)
"""Leg of a snowball's corners as share of its side."""
BULGE = 0.3
"""A patch with so much more area than its corners enclose has a curved seam: a quarter circle has
π / 2 − 1 = .57 more than its triangle."""
PATH_RADII = (0.55, 0.65, 0.75)
"""Radii of a drunkard's path's quarter circle, as share of its side, each for those near it."""
ROUND_LOGS = 4
"""A log cabin has at least one whole round of logs."""


@dataclass(frozen=True, slots=True)
class Known:
    """A name that the seams allow.

    Attributes
    ----------
    letters : str
        One for each patch: equal letters share a fabric, different ones do not; empty where the
        seams are enough.
    """

    name: str
    letters: str = ""

    def holds(self, roles: tuple[int, ...]) -> bool:
        """Return whether the patches' fabrics (-1 not known) are as the name wants them."""
        if not self.letters:
            return True
        if min(roles) < 0:
            return False
        pairs = set(zip(self.letters, roles, strict=True))
        return len(pairs) == len(set(self.letters)) == len({r for _, r in pairs})


@dataclass(frozen=True, slots=True)
class _Drawing:
    """An ideal block on a grid, whatever its scale."""

    name: str
    pieces: tuple[tuple[tuple[float, float], ...], ...]
    letters: str = ""
    curved: bool = False


def known_names(
    figure: Floats, corners: tuple[int, ...], *, curved: bool = False
) -> tuple[Known, ...]:
    """Return the names that a block's seams allow, the most special first.

    Parameters
    ----------
    figure : (M, 7) float64
        Features of its patches (:mod:`seamwalk.geometry.congruence`), along its sides.
    corners : tuple of int
        How many corners each patch has.
    curved : bool
        Whether seams between corners are curved.
    """
    found = _drawn(figure, curved)
    if not found and not curved:
        found = [*_strips(figure, corners), *_snowball(figure, corners)]
    if corners == (6,):
        found.append(Known("hexagon"))
    return tuple(found)


def could_be_named(figures: Floats) -> NDArray[np.bool_]:
    """Return which of the figures (C, M, 7) of one size are worth asking for a name, (C,).

    Those that agree with a drawing, and those with a strip along a whole side.
    """
    size = figures[..., 2:4] - figures[..., :2]
    whole = figures[..., 2:4].max(axis=1) - figures[..., :2].min(axis=1)
    out: NDArray[np.bool_] = (size > (1 - ONE_SIDE) * whole[:, None]).any(axis=(1, 2))
    large = float(np.median(whole.max(axis=1)))
    for _, ideal in _drawings().get(figures.shape[1], ()):
        scale = large / float(_extent(ideal).max())
        near = np.full(figures.shape[1], 1.5 * ONE_SIDE * large)
        out = out | (agreeing(figures, ideal * scale, near)[0] >= 0)
    return out


def _extent(figure: Floats) -> Floats:
    out: Floats = figure[:, 2:4].max(axis=0) - figure[:, :2].min(axis=0)
    return out


def _drawn(figure: Floats, curved: bool) -> list[Known]:
    small, large = np.sort(_extent(figure)).tolist()
    near = ONE_SIDE * large
    out = []
    for drawing, ideal in _drawings().get(len(figure), ()):
        extent = _extent(ideal)
        scale = large / float(extent.max())
        if drawing.curved != curved or abs(float(extent.min()) * scale - small) > near:
            continue
        pose, piece = agreeing(ideal[None] * scale, figure, np.full(len(figure), near))
        if pose[0] >= 0:
            letters = "".join(drawing.letters[k] for k in piece[0]) if drawing.letters else ""
            out.append(Known(drawing.name, letters))
    return out


@functools.cache
def _drawings() -> dict[int, list[tuple[_Drawing, Floats]]]:
    """Return the drawings by number of patches, each with its figure about its centroid."""
    out: dict[int, list[tuple[_Drawing, Floats]]] = {}
    for drawing in _every_drawing():
        rings = [np.array(p, dtype=np.float64) for p in drawing.pieces]
        start = np.cumsum([0, *(len(r) for r in rings[:-1])])
        area, middle = areas(np.concatenate(rings), start)
        centre = (middle * area[:, None]).sum(axis=0) / area.sum()
        low = np.array([r.min(axis=0) for r in rings]) - centre
        high = np.array([r.max(axis=0) for r in rings]) - centre
        figure = features(low, high, middle - centre, area)
        out.setdefault(len(rings), []).append((drawing, figure))
    return out


def _box(x: float, y: float, w: float = 1, h: float = 1) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + w, y), (x + w, y + h), (x, y + h))


def _cell(x: float, y: float, cut: str) -> list[tuple[tuple[float, float], ...]]:
    r"""Return a grid cell: whole (``.``), halved (``/`` or ``\``), quartered (``X``), two bars."""
    a, b, c, d = _box(x, y)
    m = (x + 0.5, y + 0.5)
    cuts: dict[str, list[tuple[tuple[float, float], ...]]] = {
        ".": [(a, b, c, d)],
        "\\": [(a, b, c), (a, c, d)],
        "/": [(a, b, d), (b, c, d)],
        "X": [(a, b, m), (b, c, m), (c, d, m), (d, a, m)],
        "=": [_box(x, y, 1, 0.5), _box(x, y + 0.5, 1, 0.5)],
        "|": [_box(x, y, 0.5, 1), _box(x + 0.5, y, 0.5, 1)],
    }
    return cuts[cut]


def _grid(name: str, rows: tuple[str, ...], letters: str = "") -> _Drawing:
    pieces = [
        p for y, row in enumerate(rows) for x, cut in enumerate(row) for p in _cell(x, y, cut)
    ]
    return _Drawing(name, tuple(pieces), letters)


def _every_drawing() -> tuple[_Drawing, ...]:
    corners = tuple(_box(x, y) for x in (0, 3) for y in (0, 3))
    skies = (
        ((1.0, 0.0), (3.0, 0.0), (2.0, 1.0)),
        ((4.0, 1.0), (4.0, 3.0), (3.0, 2.0)),
        ((3.0, 4.0), (1.0, 4.0), (2.0, 3.0)),
        ((0.0, 3.0), (0.0, 1.0), (1.0, 2.0)),
    )
    points = tuple(
        (base, tip, foot)
        for base, tip, foot in (
            ((1.0, 1.0), (1.0, 0.0), (2.0, 1.0)),
            ((3.0, 1.0), (3.0, 0.0), (2.0, 1.0)),
            ((3.0, 1.0), (4.0, 1.0), (3.0, 2.0)),
            ((3.0, 3.0), (4.0, 3.0), (3.0, 2.0)),
            ((3.0, 3.0), (3.0, 4.0), (2.0, 3.0)),
            ((1.0, 3.0), (1.0, 4.0), (2.0, 3.0)),
            ((1.0, 3.0), (0.0, 3.0), (1.0, 2.0)),
            ((1.0, 1.0), (0.0, 1.0), (1.0, 2.0)),
        )
    )
    diamond = ((1.0, 0.0), (2.0, 1.0), (1.0, 2.0), (0.0, 1.0))
    tips = tuple(_three(x, y, 1) for x in (0, 2) for y in (0, 2))
    return (
        _grid("four patch", ("..", ".."), "ABBA"),
        _grid("nine patch", ("...", "...", "..."), "ABABABABA"),
        _grid("half-square triangle", ("\\",)),
        _grid("hourglass", ("X",), "ABAB"),
        _grid("quarter-square triangle", ("X",)),
        _grid("pinwheel", ("\\/", "/\\"), "ABBAABBA"),
        _Drawing(
            "flying geese",
            (((1, 0), (2, 1), (0, 1)), ((0, 0), (1, 0), (0, 1)), ((1, 0), (2, 0), (2, 1))),
        ),
        _Drawing("square in a square", (diamond, *tips)),
        _Drawing("sawtooth star", (_box(1, 1, 2, 2), *corners, *skies, *points)),
        _grid("friendship star", (r"./.", r"\.\ ".strip(), r"./.")),
        _grid("Ohio star", (".X.", "X.X", ".X.")),
        _grid("shoo fly", ("/.\\", "...", "\\./")),
        _grid("churn dash", ("/=\\", "|.|", "\\=/")),
        _Drawing("eight-pointed star", _eight_points()),
        *(_Drawing("drunkard's path", _quarter_round(r), curved=True) for r in PATH_RADII),
    )


def _quarter_round(radius: float) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return the corners of a quarter circle in the unit square, and of the rest of it."""
    a, b = (radius, 0.0), (0.0, radius)
    return (((0.0, 0.0), a, b), (b, a, (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)))


def _three(x: float, y: float, leg: float) -> tuple[tuple[float, float], ...]:
    """Return the triangle that cuts off the corner (x, y) of the square from 0, 0 to 2, 2."""
    u, v = (leg if x == 0 else -leg), (leg if y == 0 else -leg)
    return ((x, y), (x + u, y), (x, y + v))


def _eight_points() -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return eight 45° diamonds round the centre of a square of side 1, squares and triangles.

    Their tips are the corners of the regular octagon in the square, so a = 1 / (2 + √2).
    """
    a = 1 / (2 + np.sqrt(2))
    turned: list[tuple[tuple[float, float], ...]] = []
    # One diamond left and one right of the upward direction, a side triangle and a corner square.
    inner, next_inner = (0.5, 0.5 - a), (0.5 + a / np.sqrt(2), 0.5 - a / np.sqrt(2))
    last_inner = (0.5 - a / np.sqrt(2), 0.5 - a / np.sqrt(2))
    wedge: tuple[tuple[tuple[float, float], ...], ...] = (
        ((0.5, 0.5), inner, (1 - a, 0.0), next_inner),
        ((0.5, 0.5), last_inner, (a, 0.0), inner),
        ((a, 0.0), (1 - a, 0.0), inner),
        ((1 - a, 0.0), (1.0, 0.0), (1.0, a), next_inner),
    )
    for _ in range(4):
        turned += wedge
        wedge = tuple(tuple((1 - y, x) for x, y in p) for p in wedge)
    return tuple(turned)


def _strips(figure: Floats, corners: tuple[int, ...]) -> list[Known]:
    """Return rail fence, log cabin or courthouse steps."""
    low, high = figure[:, :2], figure[:, 2:4]
    width, height = _extent(figure).tolist()
    near = ONE_SIDE * max(width, height)
    if len(figure) < 3 or abs(width - height) > near or set(corners) != {4}:
        return []
    across = high - low
    if (figure[:, 6] ** 2 < BOX * across.prod(axis=1)).any():
        return []
    for axis in (0, 1):
        equal = np.ptp(across[:, axis]) < near and (across[:, 1 - axis] > width - near).all()
        if equal and len(figure) in NAMED_STRIPS:
            return [Known("rail fence")]
    way = _taken_off(low, high, near)
    if len(way) < ROUND_LOGS or len(way) != len(figure) - 1:
        return []
    # Which side each log lay on, from the outside in; the last round may be told either way.
    step = {(b - a) % 4 for a, b in itertools.pairwise(way)}
    if len(step) == 1 and step <= {1, 3}:
        return [Known("log cabin")]
    pairs = [way[k : k + 2] for k in range(0, len(way) - 1, 2)]
    opposite = all((p[0] - p[1]) % 4 == 2 for p in pairs)
    turns = all((p[0] - q[0]) % 2 == 1 for p, q in itertools.pairwise(pairs))
    if opposite and turns and len(way) % 2 == 0:
        return [Known("courthouse steps")]
    return []


def _taken_off(low: Points, high: Points, near: float) -> list[int]:
    """Return on which side (0 right, 1 below, 2 left, 3 above) logs come off, the outermost first.

    A log lies along one whole side of what is left; stops where none does, or at the centre.
    """
    left = np.arange(len(low))
    way: list[int] = []
    while len(left) > 1:
        a, b = low[left].min(axis=0), high[left].max(axis=0)
        options = []
        for k, i in enumerate(left.tolist()):
            full = (low[i] < a + near) & (high[i] > b - near)
            for side in range(4):
                axis = side % 2
                ends = (
                    high[i, axis] > b[axis] - near if side < 2 else low[i, axis] < a[axis] + near
                )
                if full[1 - axis] and ends:
                    options.append((side, k))
        if not options:
            break
        # The last log and the centre look alike: the way so far goes on, round or to and fro.
        onward = [(2 * way[-1] - way[-2]) % 4] if len(way) > 1 else []
        across = [(way[-1] + 2) % 4] if way else []
        side, k = next((o for w in onward + across for o in options if o[0] == w), options[0])
        way.append(side)
        left = np.delete(left, k)
    return way


def _snowball(figure: Floats, corners: tuple[int, ...]) -> list[Known]:
    """Return snowball for an octagon with four corners cut off alike."""
    if sorted(corners) != [3, 3, 3, 3, 8]:
        return []
    width, height = _extent(figure).tolist()
    near = ONE_SIDE * max(width, height)
    three = np.array(corners) == 3
    legs = (figure[:, 2:4] - figure[:, :2])[three]
    share = float(legs.mean()) / max(width, height)
    alike = np.ptp(legs) < near and abs(width - height) < near
    if alike and SNOWBALL_CORNER[0] < share < SNOWBALL_CORNER[1]:
        return [Known("snowball")]
    return []
