"""The trunk as its maker sells it: sections with a drop each at a made spacing, or cable by length with connectors."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from wattpair_service.engineering.roof.layout import Orientation
from wattpair_service.engineering.rounding import ROUNDING


@dataclass(frozen=True, slots=True)
class Drops:
    """Spacing of the drops as made [m], and the sections from one microinverter to the next: all but one stay unused."""

    spacing_m: float
    sections_per_unit: int

    @property
    def reach_m(self) -> float:
        """Trunk from one used drop to the next [m]."""
        return self.spacing_m * self.sections_per_unit


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
"""Joints of a piece of trunk without drops, from row to row or from face to face: one at each end."""
