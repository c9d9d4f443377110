"""Sets: how blocks are arranged in a top. Blocks are of side 1 here, scaled later."""

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely

from seamwalk.training.borders import pieced_border, plain_border
from seamwalk.training.lattices import copies
from seamwalk.training.pieces import (
    FRAME,
    Ints,
    Pieces,
    box,
    of,
    placed,
    shifted,
    together,
    trimmed,
    turned,
)

Set = Callable[[np.random.Generator, Sequence[Pieces], int, int], Pieces]

SASHING = FRAME
CORNERSTONE = FRAME + 5
SETTING = FRAME + 6
"""Classes of what lies between blocks."""

PLAIN = of([(box(0, 0, 1, 1), SETTING)])


def _dealt(
    rng: np.random.Generator, kinds: int, columns: int, rows: int
) -> tuple[Ints, Ints, Ints]:
    """Return which block lies at each place (row by row), its quarter turns, and its mirror."""
    y, x = np.divmod(np.arange(columns * rows), columns)
    way = str(rng.choice(["checker", "rows", "random"], p=[0.7, 0.1, 0.2]))
    if way == "checker":
        which = (x + y) % kinds
    elif way == "rows":
        which = y % kinds
    else:
        which = rng.integers(0, kinds, len(x))
    turn = str(
        rng.choice(["none", "checker", "four", "random", "barn"], p=[0.5, 0.14, 0.14, 0.12, 0.1])
    )
    quarter = {
        "none": np.zeros(len(x), dtype=np.int64),
        "checker": (x + y) % 2,
        "four": np.where(y % 2 == 0, x % 2, 3 - x % 2),
        "random": rng.integers(0, 4, len(x)),
        "barn": 2 * ((x // 2 + y // 2) % 2) + (x + y) % 2,
    }[turn]
    mirror = (x + y) % 2 if rng.random() < 0.12 else np.zeros(len(x), dtype=np.int64)
    return which, quarter, mirror


def laid(
    rng: np.random.Generator,
    blocks: Sequence[Pieces],
    columns: int,
    rows: int,
    gap: float = 0.0,
) -> Pieces:
    """Return blocks in columns and rows, `gap` apart, each place a home of its own."""
    which, quarter, mirror = _dealt(rng, len(blocks), columns, rows)
    y, x = np.divmod(np.arange(columns * rows), columns)
    at = np.stack([x, y], axis=1) * (1 + gap)
    parts = []
    code = which * 8 + quarter * 2 + mirror
    for c in np.unique(code):
        places = np.flatnonzero(code == c)
        k, q, m = int(c) // 8, int(c) // 2 % 4, bool(c % 2)
        p = copies(placed(blocks[k], (0, 0), (1, 1), q, m), at[places])
        parts.append(Pieces(p.points, p.counts, p.classes, places[p.homes]))
    return together(parts)


def straight(
    rng: np.random.Generator, blocks: Sequence[Pieces], columns: int, rows: int
) -> Pieces:
    """Return blocks side by side, sometimes every second one plain."""
    if len(blocks) == 1 and columns * rows > 3 and rng.random() < 0.2:
        blocks = [blocks[0], PLAIN]
    return laid(rng, blocks, columns, rows)


def sashed(rng: np.random.Generator, blocks: Sequence[Pieces], columns: int, rows: int) -> Pieces:
    """Return blocks with strips between them, with cornerstones or with long rows of strip."""
    gap = float(np.exp(rng.uniform(math.log(0.06), math.log(0.4))))
    outer = gap if rng.random() < 0.5 else 0.0
    inner = shifted(laid(rng, blocks, columns, rows, gap), (outer, outer))
    w = columns * (1 + gap) - gap + 2 * outer
    pieces = []
    at_x = [outer + j * (1 + gap) for j in range(columns)]
    at_y = [outer + i * (1 + gap) for i in range(rows)]
    between_x = [x - gap for x in at_x[0 if outer else 1 :]] + ([at_x[-1] + 1] if outer else [])
    between_y = [y - gap for y in at_y[0 if outer else 1 :]] + ([at_y[-1] + 1] if outer else [])
    pieces += [(box(x, y, x + gap, y + 1), SASHING) for x in between_x for y in at_y]
    if rng.random() < 0.6:
        pieces += [(box(x, y, x + 1, y + gap), SASHING) for x in at_x for y in between_y]
        pieces += [
            (box(x, y, x + gap, y + gap), CORNERSTONE) for x in between_x for y in between_y
        ]
    else:
        pieces += [(box(0, y, w, y + gap), SASHING) for y in between_y]
    return together([inner, of(pieces)]) if pieces else inner


def on_point(
    rng: np.random.Generator, blocks: Sequence[Pieces], columns: int, rows: int
) -> Pieces:
    """Return blocks standing on their corners, with side and corner triangles."""
    a = math.sqrt(2)
    columns, rows = max(1, round(columns / a)), max(1, round(rows / a))
    main = [(c + 0.5, r + 0.5) for r in range(rows) for c in range(columns)]
    between = [(c, r) for r in range(1, rows) for c in range(1, columns)]
    jagged = columns > 1 and rows > 1 and rng.random() < 0.08
    rim = [(c, r) for r in range(rows + 1) for c in range(columns + 1)]
    rim = [p for p in rim if p not in set(between)]
    stand = [turned(shifted(b, (-0.5, -0.5)), math.pi / 4) for b in (*blocks, PLAIN)]
    plain = stand[-1]
    second = stand[1] if len(blocks) > 1 else (stand[0] if rng.random() < 0.5 else plain)
    edge = plain if rng.random() < 0.8 else second
    parts = [copies(stand[0], np.array(main) * a)]
    if not jagged:
        parts.append(copies(edge, np.array(rim, dtype=float) * a))
    if between:
        parts.append(copies(second, np.array(between) * a))
    offset = 0
    homed = []
    for p in parts:
        homed.append(Pieces(p.points, p.counts, p.classes, p.homes + offset))
        offset += int(p.homes.max()) + 1
    if jagged:
        return together(homed)
    return trimmed(together(homed), shapely.box(0, 0, columns * a, rows * a))


def row_by_row(
    rng: np.random.Generator, blocks: Sequence[Pieces], columns: int, rows: int
) -> Pieces:
    """Return rows of different blocks of different sizes, with strips between some; or columns."""
    y = 0.0
    parts = []
    for k in range(max(2, rows)):
        n = max(1, columns + int(rng.integers(-1, 3)))
        side = columns / n
        block = blocks[int(rng.integers(len(blocks)))]
        row = laid(rng, [block], n, 1)
        parts.append(
            shifted(Pieces(row.points * side, row.counts, row.classes, row.homes), (0, y))
        )
        y += side
        if rng.random() < 0.6 and k < rows - 1:
            strip = float(rng.uniform(0.1, 0.4))
            parts.append(of([(box(0, y, columns, y + strip), SASHING + int(rng.integers(3)))]))
            y += strip
    out = together(parts, own_homes=True)
    if rng.random() < 0.4:
        return Pieces(out.points[:, ::-1].copy(), out.counts, out.classes, out.homes)
    return out


def staggered(
    rng: np.random.Generator, blocks: Sequence[Pieces], columns: int, rows: int
) -> Pieces:
    """Return columns of blocks, every second one half a block lower."""
    half = of([(box(0, 0, 1, 0.5), SETTING)])
    parts = []
    strip = float(rng.uniform(0.1, 0.4)) if rng.random() < 0.4 else 0.0
    rows = max(2, rows)
    for j in range(columns):
        x = j * (1 + strip)
        n = rows - j % 2
        block = blocks[j % len(blocks)]
        parts.append(shifted(laid(rng, [block], 1, n), (x, 0.5 * (j % 2))))
        if j % 2:
            parts += [shifted(half, (x, 0)), shifted(half, (x, rows - 0.5))]
        if strip and j < columns - 1:
            parts.append(of([(box(x + 1, 0, x + 1 + strip, rows), SASHING)]))
    return together(parts, own_homes=True)


def medallion(
    rng: np.random.Generator, blocks: Sequence[Pieces], columns: int, rows: int
) -> Pieces:
    """Return a middle block with frame round frame, plain and pieced by turns."""
    out = blocks[0]
    number = FRAME + 20
    for k in range(int(np.clip(columns, 2, 6))):
        w = float(out.points[:, 0].max())
        if k % 2 == int(rng.random() < 0.3):
            corners = str(rng.choice(["butted", "squares", "mitred"]))
            out = plain_border(out, w * float(rng.uniform(0.06, 0.2)), corners, number)
        else:
            out = pieced_border(rng, out, w / int(rng.integers(5, 12)), number)
        number += 10
    return out


SETS: dict[str, tuple[Set, float]] = {
    "straight": (straight, 0.47),
    "sashed": (sashed, 0.2),
    "on point": (on_point, 0.14),
    "row by row": (row_by_row, 0.06),
    "staggered": (staggered, 0.06),
    "medallion": (medallion, 0.07),
}
"""Each set with its share. From memory."""
