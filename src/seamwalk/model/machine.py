"""The machine and the hands: what stitching costs."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MachineProfile:
    """A domestic machine with a walking foot; every field is a setting.

    Defaults are common practice without a published source unless a field says otherwise.
    """

    throat_in: float = 8.0
    """Needle to tower, inches (domestic machines: 6 to 11)."""
    packed_mm: float = 5.0
    """Thickness of the quilt rolled up tightly, millimetres (4 to 6)."""
    stitches_per_min: float = 400.0
    """Working speed while the needle moves."""
    stitch_mm: float = 2.8
    """Stitch length (walking foot: 2.5 to 3.0)."""
    smallest_radius_in: float = 1.0
    """Tightest curve stitched without lifting the foot, inches."""
    pivot_s: float = 4.0
    """Stop with the needle down, lift, turn: seconds before the angle counts."""
    pivot_s_per_deg: float = 0.14
    """Seconds for each degree above `smooth_deg`."""
    smooth_deg: float = 30.0
    """Turns up to this are steered through without a pivot, degrees."""
    meander_s_per_deg: float = 0.02
    """Charged for every degree of turn, so that equal routes do not meander."""
    buried_end_s: float = 120.0
    """A thread start or stop inside the top: pull up, knot, bury; seconds each."""
    edge_end_s: float = 15.0
    """A thread start or stop in the margin, under the binding; seconds each."""
    quilt_turn_s: float = 25.0
    """Turning the whole quilt round, seconds."""
    ditch_passes: int = 2
    """Most passes in one ditch: thread builds up."""
    thread_per_path: float = 3.0
    """Thread length over path length, needle and bobbin together (C = 2 + 2T/L for lockstitch
    301 with T 1.5 mm, L 2.8 mm: 3.07)."""
    thread_waste: float = 0.15
    """Extra for starts, stops and tests, as a share."""
    bobbin_m: float = 70.0
    """Thread on one bobbin, metres (class 15, 50-weight)."""
    bobbin_reserve: float = 0.1
    """Share of a bobbin that the plan leaves on it: windings differ."""
    bobbin_change_s: float = 90.0
    """Stop, change the bobbin, bring its thread up, seconds; thread ends are counted besides."""

    @property
    def s_per_in(self) -> float:
        """Seconds to stitch one inch."""
        return 25.4 / self.stitch_mm / self.stitches_per_min * 60.0

    def thread_at(self, stitch_mm: float) -> float:
        """Return `thread_per_path` for another stitch length: shorter stitches take more.

        References
        ----------
        Lockstitch 301, C = 2 + 2T/L with thickness T and stitch length L (textile handbooks;
        10 stitches to the inch through 0.01 in take 2.2).
        """
        return self.thread_per_path * _lockstitch(stitch_mm) / _lockstitch(self.stitch_mm)

    @property
    def in_per_bobbin(self) -> float:
        """Path that one bobbin is planned for, inches: it gives half of the thread."""
        thread_m = self.bobbin_m * (1 - self.bobbin_reserve)
        return thread_m / 0.0254 / (self.thread_per_path / 2 * (1 + self.thread_waste))

    def pivot_cost_s(self, turn_deg: float) -> float:
        """Return the seconds that a turn of `turn_deg` (0 to 180) costs."""
        steer = self.meander_s_per_deg * turn_deg
        if turn_deg <= self.smooth_deg:
            return steer
        return self.pivot_s + self.pivot_s_per_deg * (turn_deg - self.smooth_deg) + steer


def _lockstitch(stitch_mm: float, thickness_mm: float = 1.5) -> float:
    """Return needle and bobbin thread over path for lockstitch 301, a quilt under the foot."""
    return 2 + 2 * thickness_mm / stitch_mm
