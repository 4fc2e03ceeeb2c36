"""The trunk as its maker sells it: sections with a drop each at a made spacing, or cable by length with connectors."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from wattpair_service.engineering.roof.layout import Orientation
from wattpair_service.engineering.rounding import ROUNDING


@dataclass(frozen=True, slots=True)
class Drops:
    """Spacing of the drops as made [m], and the most sections from one unit to the next: the drops between stay unused."""

    spacing_m: float
    sections_per_unit: int

    @property
    def reach_m(self) -> float:
        """Most trunk from one used drop to the next [m]."""
        return self.spacing_m * self.sections_per_unit

    def step(self, length_m: float, *, over_a_gap: bool = False) -> Step:
        """The trunk to a unit from the one before: sections that reach, else a piece without drops and the unit's section.

        Over a gap in a row it is always a piece without drops, since the trunk goes around what stands there.
        """
        if over_a_gap or length_m > self.reach_m + ROUNDING:
            return Step(length_m, 1, extended=True)
        return Step(length_m, max(1, ceil(length_m / self.spacing_m - ROUNDING)), extended=False)


@dataclass(frozen=True, slots=True)
class Step:
    """The trunk to a unit from the one before it [m]: its sections, and whether a piece without drops lies between."""

    length_m: float
    sections: int
    extended: bool


@dataclass(frozen=True, slots=True)
class TrunkSystem:
    """Drop spacings that are made for each orientation of the modules [m], and how the trunk is sold."""

    portrait_spacings_m: tuple[float, ...]
    landscape_spacings_m: tuple[float, ...]
    sold_by_length: bool
    disconnect_tools: int

    def spacing_m(self, orientation: Orientation, unit_spacing_m: float) -> float:
        """Trunk from one microinverter to the next as it is ordered [m]: the used drops as made, or the length itself."""
        return unit_spacing_m if self.sold_by_length else self.drops(orientation, unit_spacing_m).reach_m

    def drops(self, orientation: Orientation, unit_spacing_m: float) -> Drops:
        """The smallest made spacing that reaches from unit to unit; where none does, several of the longest."""
        made = sorted(self.portrait_spacings_m if orientation == "portrait" else self.landscape_spacings_m)
        reaching = (each for each in made if each >= unit_spacing_m - ROUNDING)
        spacing_m = next(reaching, made[-1])
        return Drops(spacing_m, ceil(unit_spacing_m / spacing_m - ROUNDING))


JOINTS_OF_EXTENSION = 2
"""Joints of a piece of trunk without drops: one at each end."""
