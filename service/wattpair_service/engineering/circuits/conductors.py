"""Standard copper conductors: their resistance, and the current that they carry as they are installed.

Carrying capacity is the published table's value for the way of installing, times factors for the temperature around the
cable and for circuits that run together. Neglected: short lengths of a worse kind along a run, soil of other than the
table's resistivity, harmonics in the neutral, and heating by the sun beyond the temperature that is given.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, Words, family, fixed, sentence

TEMP_COEFFICIENT_PER_K = 0.00393
"""Copper at 20 degC, from memory."""
REFERENCE_C = 20.0
InstallationName = Literal[
    "free_air",
    "clipped_direct",
    "conduit_on_wall",
    "insulated_wall",
    "above_ceiling",
    "above_ceiling_thick_insulation",
    "surrounded_by_insulation",
    "in_ground",
]
"""Ways of installing that some table of carrying capacities has."""
INSTALLATIONS = family("installation", get_args(InstallationName))
INSTALLED = sentence("cable_text.installed", "method", "ambient_c", "together", "ambient_factor", "grouping_factor")
ALONE, TOGETHER = fixed("cable_text.alone"), sentence("cable_text.together", "count")


@dataclass(frozen=True, slots=True)
class Conductor:
    """One size of a table. `device_max_a` is the largest overcurrent device by code, None where the installation decides.

    `fits_breaker` says whether the terminals of a branch circuit's breaker take it.
    """

    size: str
    resistance_ohm_km: float
    device_max_a: float | None = None
    fits_breaker: bool = True

    def allows_device(self, device_rating_a: float) -> bool:
        """Whether the table allows an overcurrent device of this rating."""
        return self.device_max_a is None or device_rating_a <= self.device_max_a


@dataclass(frozen=True, slots=True)
class ConductorTable:
    """Standard copper conductors, thinnest first, with the resistance of one conductor at `temp_c`."""

    name: str
    temp_c: float
    conductors: tuple[Conductor, ...] = field(repr=False)
    source: Words

    def conductor(self, size: str, field: str) -> Conductor:
        """The conductor of a size.

        Raises
        ------
        EngineeringError
            The table has no such size.
        """
        for conductor in self.conductors:
            if conductor.size == size:
                return conductor
        sizes = ", ".join(f'"{conductor.size}"' for conductor in self.conductors)
        raise EngineeringError(f"a size of the table {self.name}: {sizes}", (field,))

    def resistance_ohm_m(self, conductor: Conductor, temp_c: float) -> float:
        """Resistance of one conductor [ohm/m] at its operating temperature."""
        at_20 = 1.0 + TEMP_COEFFICIENT_PER_K * (self.temp_c - REFERENCE_C)
        return conductor.resistance_ohm_km / 1000.0 * (1.0 + TEMP_COEFFICIENT_PER_K * (temp_c - REFERENCE_C)) / at_20


@dataclass(frozen=True, slots=True)
class InstallationMethod:
    """A published way of installing: capacity [A] by size, with two and with three loaded conductors."""

    name: str
    in_ground: bool
    two_loaded_a: Mapping[str, float]
    three_loaded_a: Mapping[str, float]
    clause: str


@dataclass(frozen=True, slots=True)
class CapacityTable:
    """Current-carrying capacities of one code and insulation.

    `ambient` and `ground` are pairs of temperature [degC] and factor, rising; `grouping` pairs of circuits that run
    together and factor. `terminal_limits` are the most that terminals of devices up to a rating [A] allow, by size; empty
    where the code has no such limit.
    """

    name: str
    methods: Mapping[str, InstallationMethod] = field(repr=False)
    reference_c: float
    ambient: tuple[tuple[float, float], ...] = field(repr=False)
    ground: tuple[tuple[float, float], ...] = field(repr=False)
    grouping: tuple[tuple[float, float], ...] = field(repr=False)
    terminal_limits: tuple[tuple[float, Mapping[str, float]], ...] = field(repr=False)
    source: Words

    def largest_capacity_a(self, size: str) -> float:
        """The most that the table has for a size, however it is installed [A]; 0 where it has no such size."""
        best = max((method.two_loaded_a.get(size, 0.0) for method in self.methods.values()), default=0.0)
        return best * max(factor for _, factor in self.ambient)

    def require_method(self, name: str, field: str) -> InstallationMethod:
        """The way of installing of this name.

        Raises
        ------
        EngineeringError
            The table has none of it.
        """
        if name not in self.methods:
            raise EngineeringError(f"{', '.join(self.methods)}: the ways of installing in the table {self.name}", (field,))
        return self.methods[name]


@dataclass(frozen=True, slots=True)
class Installation:
    """How a cable is installed. `ambient_c` is the ground's where it lies there.

    `circuits_together` counts its own circuit; None stands for all circuits of the system, which the split decides.
    """

    table: CapacityTable
    method: InstallationMethod
    ambient_c: float
    circuits_together: int | None

    @property
    def ambient_factor(self) -> float:
        """Factor for the temperature around the cable; 0 where the table ends below it."""
        pairs = self.table.ground if self.method.in_ground else self.table.ambient
        return _at_next(pairs, self.ambient_c)

    @property
    def grouping_factor(self) -> float:
        """Factor for circuits that run together; beyond the table its last one."""
        return _at_next(self.table.grouping, self.circuits_together or 1) or self.table.grouping[-1][1]

    def table_capacity_a(self, size: str, loaded: int) -> float:
        """The table's capacity of a size with two or three loaded conductors [A]; 0 where the table has no such size."""
        capacities = self.method.three_loaded_a if loaded > 2 else self.method.two_loaded_a
        return capacities.get(size, 0.0)

    def capacity_a(self, size: str, loaded: int, device_rating_a: float) -> float:
        """Current-carrying capacity of a size as it is installed [A]; 0 where nothing is published for it.

        It ends on the terminals of its device, which may allow less than the cable.
        """
        capacity = self.table_capacity_a(size, loaded) * self.ambient_factor * self.grouping_factor
        allowed = (limits.get(size, 0.0) for up_to_a, limits in self.table.terminal_limits if device_rating_a <= up_to_a)
        return min(capacity, next(allowed, capacity))

    def in_words(self) -> Sentence:
        """The installation in words."""
        return INSTALLED(
            method=INSTALLATIONS[self.method.name],
            ambient_c=self.ambient_c,
            together=ALONE if self.circuits_together == 1 else TOGETHER(count=self.circuits_together or 1),
            ambient_factor=self.ambient_factor,
            grouping_factor=self.grouping_factor,
        )


def _at_next(pairs: tuple[tuple[float, float], ...], value: float) -> float:
    """The factor at the next place of a table, the safe side; 0 beyond its end. Below its first place that of the first."""
    index = bisect_left([place for place, _ in pairs], value - ROUNDING)
    return pairs[index][1] if index < len(pairs) else 0.0
