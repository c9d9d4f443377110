"""A small top of plain squares with a plan drawn up by hand: input for the sheets' tests."""

from collections import Counter
from dataclasses import replace

import numpy as np
from shapely import box

from seamwalk.geometry.curve import Arc, Curve, Line
from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import FlatPicture, Photo, Rectification, View
from seamwalk.model.route import Leg, Network, NodeId, Piece, PieceId, Route, Thread, Totals
from seamwalk.model.sizes import (
    Angle,
    BlockSize,
    Finished,
    Length,
    PatchSize,
    Sizes,
    Straightness,
    TopSize,
)
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import Junction, JunctionId, Patch, PatchId, Seam, SeamId, Top

SIDE = 4.0


def grid_top(columns=4, rows=3, side=SIDE):
    """Squares in rows; patches numbered along the rows from 1."""
    ids = {}
    junctions = []
    for j in range(rows + 1):
        for i in range(columns + 1):
            ids[i, j] = JunctionId(len(junctions) + 1)
            junctions.append(Junction(ids[i, j], (i * side, j * side)))
    patch_at = {(i, j): PatchId(j * columns + i + 1) for j in range(rows) for i in range(columns)}
    seams = []
    round_patch = {p: [] for p in patch_at.values()}

    def seam(a, b, left, right):
        points = tuple((x * side, y * side) for x, y in (a, b))
        sid = SeamId(len(seams) + 1)
        sides = patch_at.get(left), patch_at.get(right)
        seams.append(Seam(sid, (ids[a], ids[b]), points, *sides, confidence=0.95))
        for p in sides:
            if p is not None:
                round_patch[p].append(sid)

    for j in range(rows + 1):
        for i in range(columns):
            seam((i, j), (i + 1, j), (i, j - 1), (i, j))
    for i in range(columns + 1):
        for j in range(rows):
            seam((i, j), (i, j + 1), (i, j), (i - 1, j))
    patches = tuple(
        Patch(
            p,
            box(i * side, j * side, (i + 1) * side, (j + 1) * side),
            tuple(round_patch[p]),
            "light" if (i + j) % 2 else "dark",
        )
        for (i, j), p in patch_at.items()
    )
    outline = box(0, 0, columns * side, rows * side)
    return Top(outline, tuple(junctions), tuple(seams), patches)


class Builder:
    """Strings pieces to threads, by node positions."""

    def __init__(self):
        self.nodes, self.pieces, self.threads = {}, {}, [[]]
        self.step = 1

    def node(self, xy):
        name = NodeId(f"{xy[0]:g},{xy[1]:g}")
        self.nodes[name] = xy
        return name

    def stitch(self, curve, kind="motif", *, required=True, pass_no=1, line=None):
        """Add a leg; a piece with the same ends and kind of ditch is used again."""
        u, v = self.node(curve.start), self.node(curve.end)
        reverse = False
        pid = PieceId(f"{kind} {len(self.pieces)}")
        if kind == "ditch":
            pid = PieceId(f"ditch {u} {v}")
            back = PieceId(f"ditch {v} {u}")
            if back in self.pieces:
                pid, reverse = back, True
        if pid not in self.pieces:
            stroke = Stroke(
                StrokeId(pid), curve, kind, required, "test", line=line, pass_no=pass_no
            )
            self.pieces[pid] = Piece(pid, u, v, curve, stroke)
        self.threads[-1].append(Leg(pid, reverse, self.step))

    def cut(self):
        self.threads.append([])
        self.step += 1

    def route(self):
        threads = tuple(Thread(tuple(t)) for t in self.threads if t)
        stitched = sum(self.pieces[leg.piece].curve.length for t in threads for leg in t.legs)
        passes = Counter(leg.piece for t in threads for leg in t.legs)
        doubled = sum(self.pieces[p].curve.length * (n - 1) for p, n in passes.items())
        totals = Totals(
            len(threads), 0, 2 * len(threads), stitched, doubled, 0.0, 0, 0.0, 0, {}, 1.0, 1
        )
        return Route(Network(self.nodes, self.pieces), threads, totals)


def line(a, b):
    return Curve((Line(a, b),))


def arc(a, b, rise):
    return Curve((Arc.by_rise(a, b, rise),))


def sampler_route(columns=4, rows=3, side=SIDE, rise=0.7):
    """Arches in every square, row by row, then leaf lines there and back on each inner seam."""
    b = Builder()
    for j in range(rows):
        cells = range(columns) if j % 2 == 0 else range(columns - 1, -1, -1)
        for i in cells:
            x0, y0, x1, y1 = i * side, j * side, (i + 1) * side, (j + 1) * side
            ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            turn = ring if j % 2 == 0 else [ring[1], ring[0], ring[3], ring[2]]
            bow = rise if j % 2 == 0 else -rise
            for p, q in zip(turn, turn[1:] + turn[:1], strict=True):
                b.stitch(arc(p, q, bow))
            b.step += 1
            if i != list(cells)[-1]:
                b.stitch(line(turn[0], turn[1]), "ditch", required=False)
        if j + 1 < rows:
            b.stitch(line(turn[0], turn[1]), "ditch", required=False)
            b.stitch(line(turn[1], turn[2]), "ditch", required=False)
    for j in range(1, rows):
        b.cut()
        y = j * side
        for i in range(columns):
            bow = rise / 2 if i % 2 else -rise / 2
            b.stitch(arc((i * side, y), ((i + 1) * side, y), bow), line=f"row {j}")
        for i in reversed(range(columns)):
            bow = rise / 2 if i % 2 else -rise / 2
            b.stitch(arc(((i + 1) * side, y), (i * side, y), bow), pass_no=2, line=f"row {j}")
    return b.route()


def tilted_pose(width=1200, height=900, columns=4, rows=3, side=SIDE, tilt_deg=25.0):
    """Lens, rotation (3, 3) and shift (3,) of a tilted camera over the middle of the top."""
    lens = Lens(0.85 * width, ((width - 1) / 2, (height - 1) / 2), (-0.05, 0.01, 0.0))
    middle = np.array([columns * side / 2, rows * side / 2, 0])
    t = np.radians(tilt_deg)
    rotation = np.array([[1, 0, 0], [0, np.cos(t), -np.sin(t)], [0, np.sin(t), np.cos(t)]])
    return lens, rotation, np.array([0, 0, 1.35 * columns * side]) - rotation @ middle


def tilted_view(**camera):
    """The same camera as a view of the plane z = 0."""
    lens, rotation, shift = tilted_pose(**camera)
    ray_from_top = np.column_stack([rotation[:, 0], rotation[:, 1], shift])
    return View(lens, np.linalg.inv(ray_from_top))


def tilted_photo(view, width=1200, height=900, columns=4, rows=3, side=SIDE):
    """A checked top on a floor as `view` sees it."""
    y, x = np.mgrid[0:height, 0:width]
    p = view.top_from_px(np.column_stack([x.ravel(), y.ravel()])).reshape(height, width, 2)
    i, j = np.floor(p[..., 0] / side), np.floor(p[..., 1] / side)
    on = (i >= 0) & (i < columns) & (j >= 0) & (j < rows)
    dark = (i + j) % 2 == 0
    rgb = np.where(
        on[..., None],
        np.where(dark[..., None], [60, 40, 90], [225, 215, 190]),
        [150, 120, 90],
    )
    return Photo(rgb.astype(np.uint8), "sampler.jpg")


def rectification_of(view):
    return Rectification(view, (), "card", 6.0, 0.1)


def flat_picture(columns=4, rows=3, side=SIDE, px_per_in=40.0, margin_in=1.0):
    """The checked top seen straight down."""
    w, h = (int((n * side + 2 * margin_in) * px_per_in) for n in (columns, rows))
    y, x = np.mgrid[0:h, 0:w]
    xi, yi = (x + 0.5) / px_per_in - margin_in, (y + 0.5) / px_per_in - margin_in
    i, j = np.floor(xi / side), np.floor(yi / side)
    on = (i >= 0) & (i < columns) & (j >= 0) & (j < rows)
    rgb = np.where(
        on[..., None],
        np.where(((i + j) % 2 == 0)[..., None], [60, 90, 120], [225, 215, 190]),
        [150, 120, 90],
    )
    return FlatPicture(
        rgb.astype(np.uint8),
        np.ones((h, w), dtype=bool),
        px_per_in,
        (-margin_in, -margin_in),
        rectification_of(tilted_view()),
    )


def sampler_sizes(top, side=SIDE, *, off=(), unsure=()):
    """Every patch a square; those in `off` 3/8 in too large, those in `unsure` doubtful."""
    rows = []
    for patch in top.patches:
        much = 0.375 if patch.id in off else 0.02
        pm = 0.5 if patch.id in unsure else 0.06
        verdict = "off" if patch.id in off else "cannot tell" if patch.id in unsure else "right"
        rows.append(
            PatchSize(
                patch.id,
                "square",
                f"square {side:g}",
                tuple(Length(side + much, pm) for _ in range(4)),
                Finished((side,) * 4, much, verdict),
                0,
            )
        )
    x0, y0, x1, y1 = top.outline.bounds
    w, h = Length(x1 - x0, 0.11), Length(y1 - y0, 0.09)
    d = Length(float(np.hypot(x1 - x0, y1 - y0)), 0.14)
    right = Angle(90.0, 0.3)
    whole = TopSize(w, h, (w, h, w, h), (d, d), (right, Angle(90.6, 0.2), right, right))
    return Sizes(tuple(rows), whole)


def crooked():
    """Leans by 1.5°, widens downwards, bows in on the right and waves below."""
    return Straightness(
        Angle(1.5, 0.3),
        Angle(0.6, 0.25),
        Angle(-0.1, 0.25),
        (Length(0.05, 0.1), Length(-0.4, 0.1), Length(0.0, 0.1), Length(0.1, 0.1)),
        (Length(0.05, 0.1), Length(0.06, 0.1), Length(0.3, 0.1), Length(0.01, 0.1)),
        "not square",
    )


def full_sizes(sizes, *, chance=1.0, verdict=None):
    """Add all that can be known beyond sides and edges."""
    patches = tuple(
        replace(
            p,
            finished=replace(p.finished, chance=chance),
            angles=tuple(Angle(90.0 + k, 0.5 + k) for k in range(len(p.sides))),
        )
        for p in sizes.patches
    )
    straight = crooked()
    block = BlockSize(
        Length(8.03, 0.05), Length(7.98, 0.06), (8.0, 8.0), 0.9, 2, 1, (0.0, 0.0), 0.97
    )
    return replace(
        sizes,
        patches=patches,
        straightness=replace(straight, verdict=verdict) if verdict else straight,
        block=block,
        advice=("Cut both side borders 12 in long.", "Pin the lower edge before sewing."),
    )
