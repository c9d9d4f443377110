"""What stays the same from quilt to quilt: machine, batting, round things, units, paper."""

from dataclasses import dataclass, field
from typing import Literal

from seamwalk.model.machine import MachineProfile
from seamwalk.trade import (
    BATTING_GAP_IN,
    BATTING_GAP_MOST_IN,
    BINDING_SEAM_IN,
    PLAIN_CIRCLES_CM,
    PLAIN_CIRCLES_IN,
)
from seamwalk.units import Units, to_inches

PaperName = Literal["letter", "a4"]


@dataclass(frozen=True, slots=True)
class Batting:
    """What lies between top and backing.

    Attributes
    ----------
    kind : str
        One of `trade.BATTING_GAP_IN`.
    package_in : float or None
        Widest gap between stitching that the package allows, inches; None where it says nothing.
    """

    kind: str = "unknown"
    package_in: float | None = None

    @property
    def named(self) -> bool:
        """True if anything is known of it."""
        return self.kind != "unknown" or self.package_in is not None

    @property
    def gap_in(self) -> float:
        """Widest gap between stitching to plan for, inches."""
        known = BATTING_GAP_IN[self.kind] if self.package_in is None else self.package_in
        return min(known, BATTING_GAP_MOST_IN)


@dataclass(frozen=True, slots=True)
class OwnSettings:
    """Everything that a settings file may say.

    Attributes
    ----------
    units : {"in", "cm"}
        Of bare numbers and of the results.
    paper : {"letter", "a4"}
        For everything printed.
    binding_in : float
        Distance of the binding's seam from the raw edge, inches.
    circles : tuple of float or None
        Diameters of the round things that she owns, inches; None while she has named none.
    motifs : tuple of str
        Wishes that hold wherever a top has their place and nothing else is asked for.
    batting, machine
        Of this quilt and house.
    """

    units: Units = "in"
    paper: PaperName = "letter"
    binding_in: float = BINDING_SEAM_IN
    circles: tuple[float, ...] | None = None
    motifs: tuple[str, ...] = ()
    batting: Batting = field(default_factory=Batting)
    machine: MachineProfile = field(default_factory=MachineProfile)

    @property
    def circles_in(self) -> tuple[float, ...]:
        """Circles to choose from, inches: her own, or plain sizes in her units."""
        return plain_circles(self.units) if self.circles is None else self.circles


def plain_circles(units: Units) -> tuple[float, ...]:
    """Return the diameters to choose from where none are named, inches."""
    plain = PLAIN_CIRCLES_CM if units == "cm" else PLAIN_CIRCLES_IN
    return tuple(to_inches(d, units) for d in plain)
