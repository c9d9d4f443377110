"""Points along many exact pieces, and distances to them, all together in arrays."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import Arc, Curve, Piece
from seamwalk.geometry.projective import Points

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Lines and arcs as arrays.

    Attributes
    ----------
    start, end, centre : ndarray (N, 2)
        A line's centre is its start.
    sweep : ndarray (N,)
        Radians; 0 for a line.
    length : ndarray (N,)
        Along the piece, in the unit of the points.
    """

    start: Floats
    end: Floats
    centre: Floats
    sweep: Floats
    length: Floats

    @classmethod
    def of(cls, curves: Iterable[Curve]) -> "Pieces":
        """Return all pieces of the curves, in order."""
        pieces: list[Piece] = [p for c in curves for p in c.pieces]
        start = np.array([p.start for p in pieces], dtype=np.float64).reshape(-1, 2)
        end = np.array([p.end for p in pieces], dtype=np.float64).reshape(-1, 2)
        centre = np.array([p.centre if isinstance(p, Arc) else p.start for p in pieces])
        sweep = np.array([p.sweep_rad if isinstance(p, Arc) else 0.0 for p in pieces])
        centre = centre.reshape(-1, 2)
        straight = np.hypot(*(end - start).T)
        arm = np.hypot(*(start - centre).T)
        length = np.where(sweep == 0, straight, arm * np.abs(sweep))
        return cls(start, end, centre, sweep, length)

    def near(self, bounds: tuple[float, float, float, float], reach: float) -> "Pieces":
        """Return the pieces that may come within `reach` of a rectangle, and a few more."""
        x0, y0, x1, y1 = bounds
        # A piece lies within its own length of its start.
        wide = self.length + reach
        x, y = self.start.T
        mine = (x > x0 - wide) & (x < x1 + wide) & (y > y0 - wide) & (y < y1 + wide)
        return self._some(np.nonzero(mine)[0])

    def joined(self, other: "Pieces") -> "Pieces":
        """Return these pieces and then the others."""
        return Pieces(
            np.concatenate([self.start, other.start]),
            np.concatenate([self.end, other.end]),
            np.concatenate([self.centre, other.centre]),
            np.concatenate([self.sweep, other.sweep]),
            np.concatenate([self.length, other.length]),
        )

    def _some(self, which: NDArray[np.intp]) -> "Pieces":
        return Pieces(
            self.start[which],
            self.end[which],
            self.centre[which],
            self.sweep[which],
            self.length[which],
        )

    def samples(self, spacing: float) -> tuple[Points, NDArray[np.intp], Floats]:
        """Return points at most `spacing` apart along each piece, both ends among them.

        Returns
        -------
        points : ndarray (M, 2)
        of : ndarray (M,)
            The piece that each lies on.
        length : ndarray (M,)
            What each stands for: the length of the piece up to half way to its neighbours.
        """
        n = np.maximum(1, np.ceil(self.length / spacing)).astype(np.intp)
        of = np.repeat(np.arange(len(n)), n + 1)
        first = np.cumsum(n + 1) - (n + 1)
        number = np.arange(len(of)) - first[of]
        share = self.length[of] / n[of]
        ends = (number == 0) | (number == n[of])
        return self._at(of, number / n[of]), of, np.where(ends, share / 2, share)

    def _at(self, of: NDArray[np.intp], t: Floats) -> Points:
        """Return the points at fractions `t` of the pieces `of`."""
        arm = (self.start - self.centre)[of]
        turn = self.sweep[of] * t
        c, s = np.cos(turn), np.sin(turn)
        turned = np.column_stack([c * arm[:, 0] - s * arm[:, 1], s * arm[:, 0] + c * arm[:, 1]])
        step = (self.end - self.start)[of] * t[:, None]
        straight = self.sweep[of][:, None] == 0
        out: Points = np.where(straight, self.start[of] + step, self.centre[of] + turned)
        return out

    def distance(self, points: Points, of: NDArray[np.intp]) -> Floats:
        """Return the exact distance of each point (N, 2) from the piece `of` (N,) beside it."""
        d = self.end[of] - self.start[of]
        w = points - self.start[of]
        t = (w * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-300)
        foot = w - np.clip(t, 0, 1)[:, None] * d
        flat = np.hypot(*foot.T)
        arm, out = self.start[of] - self.centre[of], points - self.centre[of]
        sweep = self.sweep[of]
        turn = np.arctan2(
            arm[:, 0] * out[:, 1] - arm[:, 1] * out[:, 0], (arm * out).sum(axis=1)
        ) * np.sign(sweep)
        # Turns are counted from the start in the direction of the sweep, 0 to a whole circle.
        beside = np.where(turn < 0, turn + 2 * np.pi, turn) <= np.abs(sweep)
        ends = np.minimum(np.hypot(*w.T), np.hypot(*(points - self.end[of]).T))
        round_ = np.where(beside, np.abs(np.hypot(*out.T) - np.hypot(*arm.T)), ends)
        return np.asarray(np.where(sweep == 0, flat, round_), dtype=np.float64)
