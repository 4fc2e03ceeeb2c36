"""The grid connection procedure of a system, by the region's rules and the rated AC current on each phase.

Rated currents are summed without diversity. Where no published source gives a limit, the result says that the network operator
sets it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wattpair_service.engineering.errors import EngineeringError

OPERATOR = "set by the network operator"
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Filing:
    """A document for the network operator or an authority, and when it is due."""

    document: str
    when: str


@dataclass(frozen=True, slots=True)
class Route:
    """One connection procedure. A limit of None does not restrict it; empty `phase_counts` mean any supply."""

    name: str
    phase_counts: tuple[int, ...]
    current_per_phase_max_a: float | None
    power_per_phase_max_va: float | None
    several_premises: bool | None
    filings: tuple[Filing, ...]
    allows: str
    source: str


@dataclass(frozen=True, slots=True)
class Limit:
    """One value with its source; None where the network operator sets it."""

    value: float | None
    source: str


@dataclass(frozen=True, slots=True)
class BusbarRule:
    """Most current that may be fed into a busbar: its rating times `share`, less the main overcurrent device's rating."""

    share: float
    continuous_current_factor: float
    source: str


@dataclass(frozen=True, slots=True)
class ConnectionRules:
    """A region's rules for the AC side. The first of `routes` that fits a system applies."""

    region: str
    place: str
    edition: str
    phase_counts: tuple[int, ...]
    voltage_v: float
    supply_source: str
    voltage_rise: Limit
    phase_difference_va: Limit
    routes: tuple[Route, ...]
    busbar: BusbarRule | None
    residual_current_type: str | None
    residual_current_type_if_declared: str | None
    residual_current_source: str
    standard_devices_a: tuple[float, ...]
    standard_devices_source: str
    conductor_table: str
    documents: tuple[str, ...]
    documents_source: str

    def require_phases(self, phase_count: int) -> None:
        """Refuse a supply that the region does not have.

        Raises
        ------
        EngineeringError
            Names the phase counts of the region.
        """
        if phase_count not in self.phase_counts:
            known = " or ".join(map(str, self.phase_counts))
            phases = "phase" if self.phase_counts == (1,) else "phases"
            raise EngineeringError(f"{known} {phases}: the supplies in {self.place} ({self.supply_source})", ("phase_count",))

    def balance_limit_a(self, voltage_v: float) -> float | None:
        """Largest difference between the currents of two phases [A]; None without a rule."""
        return None if self.phase_difference_va.value is None else self.phase_difference_va.value / voltage_v


@dataclass(frozen=True, slots=True)
class SupplyPoint:
    """The supply that the system is connected to. Busbar and main overcurrent device in A, None where not given."""

    voltage_v: float
    busbar_rating_a: float | None
    main_device_a: float | None
    several_premises: bool


@dataclass(frozen=True, slots=True)
class PhaseTotal:
    """Rated AC current [A] and apparent power [VA] of one phase."""

    phase: int
    unit_count: int
    current_a: float
    power_va: float


@dataclass(frozen=True, slots=True)
class ConnectionCheck:
    """A value and its limit; `limit` and `meets` are None where the operator sets the limit or an input is missing."""

    name: str
    value: float
    limit: float | None
    unit: str
    meets: bool | None
    source: str
    explanation: str


@dataclass(frozen=True, slots=True)
class Connection:
    """The grid connection: procedure, reason for it, documents, what it allows, and further checks."""

    place: str
    edition: str
    phases: tuple[PhaseTotal, ...]
    power_total_va: float
    route: str
    reason: str
    filings: tuple[Filing, ...]
    allows: str
    source: str
    checks: tuple[ConnectionCheck, ...]


def connection(
    rules: ConnectionRules, units_by_phase: Sequence[int], unit_ac_current_a: float, supply: SupplyPoint
) -> Connection:
    """The grid connection of a system, given its units on each phase.

    Raises
    ------
    EngineeringError
        The region has no such supply, or none of its routes fits.
    """
    rules.require_phases(len(units_by_phase))
    phases = tuple(
        PhaseTotal(index + 1, units, units * unit_ac_current_a, units * unit_ac_current_a * supply.voltage_v)
        for index, units in enumerate(units_by_phase)
    )
    route, reason = _route(rules, phases, several_premises=supply.several_premises)
    return Connection(
        place=rules.place,
        edition=rules.edition,
        phases=phases,
        power_total_va=sum(phase.power_va for phase in phases),
        route=route.name,
        reason=reason,
        filings=route.filings,
        allows=route.allows,
        source=route.source,
        checks=(*_balance(rules, phases), *_busbar(rules, phases, supply)),
    )


def busbar_feed_max_a(*, busbar_rating_a: float, main_device_a: float, share: float) -> float:
    """Most current that may be fed into a busbar at the end opposite its main overcurrent device [A]."""
    return busbar_rating_a * share - main_device_a


def _route(rules: ConnectionRules, phases: Sequence[PhaseTotal], *, several_premises: bool) -> tuple[Route, str]:
    reasons: list[str] = []
    for route in rules.routes:
        why_not = _excess(route, phases, several_premises=several_premises)
        if why_not is None:
            return route, "; ".join([*reasons, f"{route.name} applies"])
        if why_not:
            reasons.append(f"not {route.name}: {why_not}")
    raise EngineeringError(
        f"rules with a route for this system; in {rules.place} none does: {'; '.join(reasons) or 'none is for this supply'}",
        ("phase_count",),
    )


def _excess(route: Route, phases: Sequence[PhaseTotal], *, several_premises: bool) -> str | None:
    """Why a route does not apply; None where it applies, an empty text where it is for another kind of supply."""
    if route.phase_counts and len(phases) not in route.phase_counts:
        return ""
    if route.several_premises is not None and route.several_premises != several_premises:
        return "" if route.several_premises else "several premises close by are connected within its period"
    fullest = max(phases, key=lambda phase: phase.current_a)
    limits = (
        (fullest.current_a, route.current_per_phase_max_a, "A"),
        (fullest.power_va, route.power_per_phase_max_va, "VA"),
    )
    for value, limit, unit in limits:
        if limit is not None and value > limit * (1.0 + ROUNDING):
            return f"{_above(value, limit)} {unit} on phase {fullest.phase} is above {limit:g} {unit}"
    return None


def _above(value: float, limit: float) -> str:
    """A value with at least two decimals, and as many as show that it is above its limit."""
    return next((text for digits in range(2, 9) if float(text := f"{value:.{digits}f}") > limit), repr(value))


def _balance(rules: ConnectionRules, phases: Sequence[PhaseTotal]) -> tuple[ConnectionCheck, ...]:
    powers = [phase.power_va for phase in phases]
    limit = rules.phase_difference_va.value
    if limit is None and len(phases) == 1:
        return ()
    # A single-phase system feeds one phase of the network only.
    difference = powers[0] if len(powers) == 1 else max(powers) - min(powers)
    meets = None if limit is None else difference <= limit * (1.0 + ROUNDING)
    limit_text = OPERATOR if limit is None else f"the limit is {limit:g} VA"
    if meets is False:
        limit_text += "; use a supply of three phases, or fewer units on the fullest phase"
    return (
        ConnectionCheck(
            name="difference between phases",
            value=difference,
            limit=limit,
            unit="VA",
            meets=meets,
            source=rules.phase_difference_va.source,
            explanation=f"{difference:.0f} VA between the fullest and the emptiest phase; {limit_text}",
        ),
    )


def _busbar(rules: ConnectionRules, phases: Sequence[PhaseTotal], supply: SupplyPoint) -> tuple[ConnectionCheck, ...]:
    rule = rules.busbar
    if rule is None:
        return ()
    value = max(phase.current_a for phase in phases) * rule.continuous_current_factor
    current_text = f"output current times {rule.continuous_current_factor:g} is {value:.4g} A"
    if supply.busbar_rating_a is None or supply.main_device_a is None:
        return (
            ConnectionCheck(
                name="busbar",
                value=value,
                limit=None,
                unit="A",
                meets=None,
                source=rule.source,
                explanation=f"{current_text}; give busbar_rating_a and main_device_a to check it",
            ),
        )
    limit = busbar_feed_max_a(busbar_rating_a=supply.busbar_rating_a, main_device_a=supply.main_device_a, share=rule.share)
    return (
        ConnectionCheck(
            name="busbar",
            value=value,
            limit=limit,
            unit="A",
            meets=value <= limit + ROUNDING,
            source=rule.source,
            explanation=(
                f"{current_text}; a busbar of {supply.busbar_rating_a:g} A times {rule.share:g} less the main device of "
                f"{supply.main_device_a:g} A leaves {limit:g} A, fed in at the end opposite the main device"
            ),
        ),
    )
