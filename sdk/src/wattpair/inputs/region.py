"""A region's rules of the caller's own, in the form of the service's own regions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wattpair.inputs.shared import ConductorTable, Fields, Numbers

ResidualCurrentType = Literal["A", "F", "B"]
"""Type of a residual-current device."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """What every rule says of itself.

    Parameters
    ----------
    clause : str
        Clause or document of the rule.
    obtained : str
        How the value was obtained: read where, or from memory.
    """

    clause: str
    obtained: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortCircuitRule(Sourced):
    """Factor on the short-circuit current.

    Parameters
    ----------
    factor : float
        Factor on the short-circuit current.
    """

    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdVoltageRule(Sourced):
    """Open-circuit voltage in the cold, by temperature.

    Parameters
    ----------
    factors : sequence of collection of float, optional
        Lower edge of each temperature band [degC] with its factor.
    """

    factors: Sequence[Numbers] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchCircuitRule(Sourced):
    """Branch circuits.

    Parameters
    ----------
    continuous_current_factor : float
        Factor on the continuous current.
    device_rating_a : float
        Rating of its circuit breaker or fuse [A].
    """

    continuous_current_factor: float
    device_rating_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyRule(Sourced):
    """Supplies.

    Parameters
    ----------
    phase_counts : sequence of int
        Numbers of phases that a supply may have.
    voltage_v : float
        Nominal voltage of a unit's circuit [V].
    """

    phase_counts: Sequence[int]
    voltage_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardDevicesRule(Sourced):
    """Standard ratings of circuit breakers and fuses.

    Parameters
    ----------
    ratings_a : collection of float
        Standard ratings [A].
    """

    ratings_a: Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class ConductorsRule(Sourced):
    """Conductors.

    Parameters
    ----------
    table : {"iec_60228_class_2", "iec_60228_class_5", "nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"}
        Table of standard conductors.
    """

    table: ConductorTable


@dataclass(frozen=True, slots=True, kw_only=True)
class VoltageRiseRule(Sourced):
    """Limit on the voltage rise.

    Parameters
    ----------
    limit_share : float, optional
        Limit as a share of the nominal voltage; leave out where the network operator sets it.
    """

    limit_share: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseBalanceRule(Sourced):
    """Balance of phases.

    Parameters
    ----------
    difference_max_va : float, optional
        Highest difference between two phases; leave out where the network operator sets it [VA].
    """

    difference_max_va: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResidualCurrentRule(Sourced):
    """Residual-current device.

    Parameters
    ----------
    type_without_declaration : {"A", "F", "B"}, optional
        Type where the maker declares nothing.
    type_if_declared : {"A", "F", "B"}, optional
        Type where the maker declares that no DC fault current arises.
    """

    type_without_declaration: ResidualCurrentType | None = None
    type_if_declared: ResidualCurrentType | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BusbarRule(Sourced):
    """Busbar of the distribution board.

    Parameters
    ----------
    share : float
        Limit on main circuit breaker plus feed, as a share of the busbar's rating.
    continuous_current_factor : float
        Factor on the output current.
    """

    share: float
    continuous_current_factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CommissioningRule(Sourced):
    """Documents of the commissioning.

    Parameters
    ----------
    documents : sequence of str
        Documents of the commissioning.
    """

    documents: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class FilingRule:
    """What must be sent, and when.

    Parameters
    ----------
    document : str
        Document to send.
    when : str
        When it is due.
    """

    document: str
    when: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteRule(Sourced):
    """A grid connection procedure.

    Parameters
    ----------
    name : str
        Name of the procedure.
    filings : sequence of FilingRule
        Documents to send, and when.
    allows : str
        What the procedure allows.
    phase_counts : sequence of int, optional
        Supplies that it applies to, by number of phases.
    current_per_phase_max_a : float, optional
        Highest rated current of a phase [A].
    power_per_phase_max_va : float, optional
        Highest power of a phase [VA].
    several_premises : bool, optional
        Whether it applies to several premises close by; leave out where that makes no difference.
    """

    name: str
    filings: Sequence[FilingRule | Fields]
    allows: str
    phase_counts: Sequence[int] | None = None
    current_per_phase_max_a: float | None = None
    power_per_phase_max_va: float | None = None
    several_premises: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionRules:
    """The rules of a region.

    Parameters
    ----------
    place : str
        Country or area where the rules apply.
    edition : str
        Edition of the rules.
    branch_circuit : BranchCircuitRule
        Branch circuits.
    supply : SupplyRule
        Supplies.
    standard_devices : StandardDevicesRule
        Circuit breakers and fuses.
    conductors : ConductorsRule
        Conductors.
    voltage_rise : VoltageRiseRule
        Voltage rise.
    phase_balance : PhaseBalanceRule
        Balance of phases.
    residual_current : ResidualCurrentRule
        Residual-current device.
    commissioning : CommissioningRule
        Commissioning.
    routes : sequence of RouteRule
        Grid connection procedures, in the order of trying.
    short_circuit_current : ShortCircuitRule, optional
        Not used by this operation; a rule file may have it.
    cold_voltage : ColdVoltageRule, optional
        Not used by this operation; a rule file may have it.
    busbar : BusbarRule, optional
        Busbar, where the code has such a rule.
    """

    place: str
    edition: str
    branch_circuit: BranchCircuitRule | Fields
    supply: SupplyRule | Fields
    standard_devices: StandardDevicesRule | Fields
    conductors: ConductorsRule | Fields
    voltage_rise: VoltageRiseRule | Fields
    phase_balance: PhaseBalanceRule | Fields
    residual_current: ResidualCurrentRule | Fields
    commissioning: CommissioningRule | Fields
    routes: Sequence[RouteRule | Fields]
    short_circuit_current: ShortCircuitRule | Fields | None = None
    cold_voltage: ColdVoltageRule | Fields | None = None
    busbar: BusbarRule | Fields | None = None
