"""From the shortest draft to the nouns: units in their own frame, placements in the top's."""

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.congruence import COMPOSED, INVERSE, POSES, matrix, posed_features
from seamwalk.geometry.projective import Points, apply
from seamwalk.model.block import Block, BlockPlan, Leftover, Member, Placement
from seamwalk.model.sizes import Shape, Sizes
from seamwalk.model.top import Top
from seamwalk.vision.blocks_cells import figures_about
from seamwalk.vision.blocks_draft import Draft, Laid
from seamwalk.vision.blocks_single import is_brick
from seamwalk.vision.shapes import name_shape

Indices = NDArray[np.intp]


def plan_of(top: Top, draft: Draft, sizes: Sizes | None = None) -> BlockPlan:
    """Return the blocks, the one that covers most first, their placements and what is left.

    The commonest pose of a block is its upright one.  Of its placements the most typical one
    gives its members' corners.
    """
    cloth = draft.cloth
    names = draft.names()
    order = sorted(
        range(len(draft.laid)),
        key=lambda n: -len(draft.laid[n].pose) * float(draft.laid[n].kind.area.sum()),
    )
    blocks, placements = [], []
    for number, n in enumerate(order):
        x, name = draft.laid[n], names[n]
        if is_brick(draft):
            name = "brick"
        upright = int(np.bincount(x.pose, minlength=len(POSES)).argmax())
        rings, reading = _unit(draft, x, upright)
        size = _size(draft, x, upright)
        corner = -size / 2
        members = tuple(
            Member(
                tuple((float(a), float(b)) for a, b in rings[k] - corner),
                _shape(rings[k], x.patches[:, k], sizes),
                draft.roles[n][k],
            )
            for k in reading
        )
        blocks.append(Block(name, float(size[0]), float(size[1]), members))
        for pose, patches, centre in zip(x.pose.tolist(), x.patches, x.centre, strict=True):
            own = COMPOSED[INVERSE[upright]][pose]
            at = apply(cloth.top_from_cloth, (corner @ matrix(POSES[own]) + centre)[None])[0]
            here = [int(patches[k]) for k in reading]
            placements.append(
                Placement(
                    number,
                    tuple(None if k < 0 else top.patches[k].id for k in here),
                    (float(at[0]), float(at[1])),
                    POSES[own].quarter_turns,
                    POSES[own].mirrored,
                )
            )
    left = zip(draft.left.tolist(), draft.setting, strict=True)
    return BlockPlan(
        tuple(blocks),
        tuple(placements),
        tuple(Leftover(top.patches[k].id, role) for k, role in left),
        cloth.angle_deg,
    )


def _shape(ring: Points, patches: Indices, sizes: Sizes | None) -> Shape:
    """Return the shape most placements' patches are meant to have."""
    if sizes is None:
        return name_shape(ring)
    meant = [sizes.patches[k].shape for k in patches.tolist() if k >= 0]
    return max(sorted(set(meant)), key=meant.count)


def _unit(draft: Draft, x: Laid, upright: int) -> tuple[list[Points], list[int]]:
    """Return the members' corners about the unit's centre, and the order they are read in."""
    cloth = draft.cloth
    whole = np.flatnonzero((x.patches >= 0).all(axis=1))
    seen = figures_about(cloth, x.patches[whole], x.centre[whole])
    back = np.stack(
        [
            posed_features(f, COMPOSED[INVERSE[p]][upright])
            for f, p in zip(seen, x.pose[whole].tolist(), strict=True)
        ]
    )
    typical = int(np.abs(back - np.median(back, axis=0)).sum(axis=(1, 2)).argmin())
    c = int(whole[typical])
    turn = matrix(POSES[COMPOSED[INVERSE[int(x.pose[c])]][upright]])
    rings = [(cloth.rings[k] - x.centre[c]) @ turn for k in x.patches[c].tolist()]
    row = cloth.near_in
    middle = np.array([r.mean(axis=0) for r in rings])
    reading = sorted(range(len(rings)), key=lambda k: (round(middle[k, 1] / row), middle[k, 0]))
    return rings, reading


def _size(draft: Draft, x: Laid, upright: int) -> Points:
    """Return the unit's width and height (2,), the median over its whole placements, inches."""
    whole = (x.patches >= 0).all(axis=1)
    patches = x.patches[whole]
    extent = draft.cloth.high[patches].max(axis=1) - draft.cloth.low[patches].min(axis=1)
    odd = (x.pose[whole] - upright) % 2 == 1
    extent[odd] = extent[odd, ::-1]
    out: Points = np.median(extent, axis=0)
    return out
