"""The grid connection procedure of a system, by the region's rules and the rated AC current on each phase.

Rated currents are summed without diversity, with generation and storage that is on the premises already. Where no published
source gives a limit, the result says that the network operator sets it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import floor, inf
from typing import Literal, get_args

from wattpair_service.engineering.circuits.board import Board, BoardRule, feed_max_a, is_within, ways_out
from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit, phase_units
from wattpair_service.engineering.circuits.devices import DeviceRules, ResidualCurrentRules
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import Verdict
from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Given, Sentence, Words, family, fixed, sentence

NO_BOARD_RULE = fixed("source.no_rule_given")
ConnectionCheckName = Literal[
    "difference between phases",
    "difference between phases after a fault",
    "single-phase units",
    "board",
    "main device",
    "protection in the units",
    "device of the system",
    "circuit breaker of a circuit",
    "loop impedance",
    "earth electrode",
    "voltage rise",
]
CHECKS = family("connection_check", get_args(ConnectionCheckName))
MEETS_VERDICTS: dict[bool | None, Verdict] = {True: "ok", None: "caution", False: "fail"}
"""Verdict of a check: one that could not be made is a caution."""

ROUTE_FITS = sentence("route.fits", "route", "limits")
NO_LIMIT = fixed("route.no_limit")
UP_TO = sentence("route.up_to", "units", "current_a")
WITH_EXPORT_LIMIT = sentence("route.with_export_limit", "current_a")
REASONS = sentence("route.reasons", "parts")
APPLIES, DOES_NOT = sentence("route.applies", "route"), sentence("route.does_not", "route", "why")
SEVERAL_PREMISES = fixed("route.several_premises")
IS_ABOVE, IS_JUST_ABOVE = (sentence(f"route.is_{each}above", "value", "unit", "where", "limit") for each in ("", "just_"))
ON_PHASE, IN_ALL, ON_A_PHASE = sentence("route.on_phase", "phase"), fixed("route.in_all"), fixed("route.on_a_phase")
NO_EXPORT_LIMIT = sentence("route.no_export_limit", "current_a")
NONE_FITS = sentence("route.none_fits", "place", "reasons")
NONE_FOR_SUPPLY = fixed("route.none_for_supply")

DIFFERENCE = sentence("connection.difference", "power_va", "between", "limit_va", "advice")
FULLEST_AND_EMPTIEST, WORST_OFF = fixed("connection.fullest_and_emptiest"), fixed("connection.worst_off")
BALANCE = fixed("connection.balance")
UNCOUPLED = sentence("connection.uncoupled", "power_va", "limit_va")
BOARD_WITHOUT_RULE = fixed("connection.board_without_rule")
BOARD = sentence("connection.board", "factor", "current_a", "further")
BOARD_UNKNOWN = fixed("connection.board_unknown")
BOARD_LEAVES = sentence("connection.board_leaves", "rating_a", "share", "main_a", "limit_a")
FED_OPPOSITE = fixed("connection.fed_opposite")
WAYS_OUT = sentence("connection.ways_out", "ways")
BACK_FEED = sentence("connection.back_feed", "current_a", "main_a")
CENTRAL = sentence("connection.central_protection", "power_va", "limit_va")


FilingStage = Literal["before_installation", "after_installation"]


@dataclass(frozen=True, slots=True)
class Filing:
    """A document for the network operator or an authority, when it is due in words, and before or after the installation."""

    document: Given
    when: Words
    stage: FilingStage = "before_installation"


@dataclass(frozen=True, slots=True)
class Route:
    """One connection procedure. A limit of None does not restrict it; empty `phase_counts` mean any supply.

    `export_per_phase_max_a` is the largest export limit that it asks for; without one it does not apply, and `is_plug_in`
    is for systems on a plug alone. `asks_nobody` says that nobody needs to agree before the system is switched on.
    """

    code: str
    name: Words
    phase_counts: tuple[int, ...]
    current_per_phase_max_a: float | None
    power_per_phase_max_va: float | None
    power_total_max_va: float | None
    export_per_phase_max_a: float | None
    asks_nobody: bool
    is_plug_in: bool
    several_premises: bool | None
    filings: tuple[Filing, ...]
    allows: Words
    source: Words


@dataclass(frozen=True, slots=True)
class Limit:
    """One value with its source; None where the network operator sets it."""

    value: float | None
    source: Words


@dataclass(frozen=True, slots=True)
class ConnectionRules:
    """A region's rules for the AC side. The first of `routes` that fits a system applies."""

    region: str
    place: Given
    edition: str
    phase_counts: tuple[int, ...]
    voltage_v: float
    supply_source: Words
    voltage_rise: Limit
    phase_difference_va: Limit
    counts_one_phase: bool
    uncoupled_max_va: float | None
    routes: tuple[Route, ...]
    board: BoardRule | None
    residual_current: ResidualCurrentRules
    devices: DeviceRules
    central_protection_above_va: float | None
    central_protection_source: Words | None
    conductor_table: str
    documents: tuple[Given, ...]
    documents_source: Words
    voltage_rise_is_code: bool
    main_device_source: Words
    is_split_phase: bool
    asks_rapid_shutdown: bool

    def line_conductors(self, phases: Sequence[int]) -> str:
        """Names of the line conductors on some phases; a split phase has two, with the units between them."""
        return "L1-L2" if self.is_split_phase else ", ".join(f"L{phase}" for phase in sorted(phases))

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
class ExistingGeneration:
    """Generation or storage that is there already: rated current [A] on one phase, or on each where `phase` is None."""

    name: str
    current_a: float
    phase: int | None


@dataclass(frozen=True, slots=True)
class SupplyPoint:
    """The supply that the system is connected to. `export_limit_per_phase_a` is that of a limiter [A], None without one."""

    voltage_v: float
    board: Board
    several_premises: bool
    existing_generation: tuple[ExistingGeneration, ...] = ()
    export_limit_per_phase_a: float | None = None
    is_fed_at_opposite_end: bool = False
    is_plug_in: bool = False
    are_units_coupled: bool = False

    def existing_a(self, phase: int) -> float:
        """Rated current that is on a phase already [A]."""
        return sum(each.current_a for each in self.existing_generation if each.phase in (None, phase))


@dataclass(frozen=True, slots=True)
class PhaseTotal:
    """Rated AC current [A] and apparent power [VA] of one phase, with generation that is there already; `existing_a` of it."""

    phase: int
    unit_count: int
    current_a: float
    existing_a: float
    power_va: float


@dataclass(frozen=True, slots=True)
class RouteFit:
    """How a system fits one procedure: the most units that it allows on this supply, None without a limit."""

    code: str
    route: Words
    applies: bool
    asks_nobody: bool
    units_most: int | None
    explanation: Sentence


@dataclass(frozen=True, slots=True)
class ConnectionCheck:
    """A value and its limit; `limit` and `meets` are None where the operator sets the limit or an input is missing.

    Beyond a limit that `is_binding` nothing may be built; one of common practice alone is a caution.
    """

    name: ConnectionCheckName
    value: float
    limit: float | None
    unit: str
    meets: bool | None
    source: Words
    explanation: Sentence
    is_binding: bool = True

    @property
    def verdict(self) -> Verdict:
        """Whether the system may be built so."""
        return MEETS_VERDICTS[None if self.meets is False and not self.is_binding else self.meets]


@dataclass(frozen=True, slots=True)
class Connection:
    """The grid connection: procedure, reason for it, documents, what it allows, and further checks."""

    place: Given
    edition: str
    phases: tuple[PhaseTotal, ...]
    power_total_va: float
    route_code: str
    route: Words
    reason: Sentence
    filings: tuple[Filing, ...]
    allows: Words
    source: Words
    routes: tuple[RouteFit, ...]
    checks: tuple[ConnectionCheck, ...]


def connection(
    rules: ConnectionRules,
    circuits: Sequence[BranchCircuit],
    supply: SupplyPoint,
    *,
    unit_ac_current_a: float,
    phase_count: int,
    unit_phase_count: int = 1,
) -> Connection:
    """The grid connection of a system, given its circuits.

    Raises
    ------
    EngineeringError
        The region has no such supply, existing generation is on a phase that it has not, or none of its routes fits.
    """
    rules.require_phases(phase_count)
    for index, each in enumerate(supply.existing_generation):
        if each.phase is not None and each.phase > phase_count:
            raise EngineeringError(f"a phase of the supply, 1 to {phase_count}", (f"existing_generation/{index}/phase",))
    units = phase_units(circuits, phase_count)
    phases = tuple(_phase_total(index + 1, count, unit_ac_current_a, supply) for index, count in enumerate(units))
    route, reason = _route(rules, phases, supply)
    return Connection(
        place=rules.place,
        edition=rules.edition,
        phases=phases,
        power_total_va=sum(phase.power_va for phase in phases),
        route_code=route.code,
        route=route.name,
        reason=reason,
        filings=route.filings,
        allows=route.allows,
        source=route.source,
        routes=tuple(_fits(rules, route, phases, supply, unit_ac_current_a, unit_phase_count)),
        checks=(
            *_balance(rules, circuits, phases, unit_ac_current_a, supply, unit_phase_count),
            *_uncoupled(rules, phases, supply, unit_phase_count),
            *_board(rules, phases, unit_ac_current_a, supply),
            *_central_protection(rules, phases),
        ),
    )


def _phase_total(phase: int, unit_count: int, unit_ac_current_a: float, supply: SupplyPoint) -> PhaseTotal:
    existing = supply.existing_a(phase)
    current = unit_count * unit_ac_current_a + existing
    return PhaseTotal(phase, unit_count, current, existing, current * supply.voltage_v)


def _fits(
    rules: ConnectionRules,
    applied: Route,
    phases: Sequence[PhaseTotal],
    supply: SupplyPoint,
    unit_ac_current_a: float,
    unit_phase_count: int,
) -> Iterator[RouteFit]:
    """For each procedure with a limit how many units stay within it, spread over the phases, and the one that applies."""
    for route in rules.routes:
        if route.phase_counts and len(phases) not in route.phase_counts:
            continue
        if route.several_premises not in (None, supply.several_premises) or (route.is_plug_in and not supply.is_plug_in):
            continue
        most = _units_most(route, phases, supply, unit_ac_current_a, unit_phase_count)
        if most is None and route is not applied:
            continue
        limits = [NO_LIMIT if most is None else UP_TO(units=most, current_a=unit_ac_current_a)]
        if route.export_per_phase_max_a is not None:
            limits.append(WITH_EXPORT_LIMIT(current_a=route.export_per_phase_max_a))
        words = ROUTE_FITS(route=route.name, limits=tuple(limits))
        yield RouteFit(route.code, route.name, route is applied, route.asks_nobody, most, words)


def _units_most(
    route: Route, phases: Sequence[PhaseTotal], supply: SupplyPoint, unit_ac_current_a: float, unit_phase_count: int
) -> int | None:
    """Most units, spread over the phases, within a procedure's limits; None where it has none."""
    per_phase = min(
        inf if route.current_per_phase_max_a is None else route.current_per_phase_max_a,
        inf if route.power_per_phase_max_va is None else route.power_per_phase_max_va / supply.voltage_v,
    )
    total = inf if route.power_total_max_va is None else route.power_total_max_va / supply.voltage_v
    if per_phase == total == inf:
        return None
    existing = [phase.existing_a for phase in phases]
    in_all = max(0.0, (total - sum(existing)) / unit_ac_current_a / unit_phase_count)
    on_each = [max(0.0, (per_phase - each) / unit_ac_current_a) for each in existing]
    if unit_phase_count > 1:
        return floor(min(in_all, *on_each) + ROUNDING)
    return floor(min(in_all, sum(each if each == inf else floor(each + ROUNDING) for each in on_each)) + ROUNDING)


def _route(rules: ConnectionRules, phases: Sequence[PhaseTotal], supply: SupplyPoint) -> tuple[Route, Sentence]:
    reasons: list[Sentence] = []
    for route in rules.routes:
        if not _is_for(route, phases, supply):
            continue
        why_not = _excess(route, phases, supply)
        if why_not is None:
            return route, REASONS(parts=(*reasons, APPLIES(route=route.name)))
        reasons.append(DOES_NOT(route=route.name, why=why_not))
    raise EngineeringError(NONE_FITS(place=rules.place, reasons=tuple(reasons) or (NONE_FOR_SUPPLY,)), ("phase_count",))


def _is_for(route: Route, phases: Sequence[PhaseTotal], supply: SupplyPoint) -> bool:
    """Whether a route is for this kind of supply and system."""
    if route.phase_counts and len(phases) not in route.phase_counts:
        return False
    return (supply.is_plug_in or not route.is_plug_in) and (supply.several_premises or not route.several_premises)


def _excess(route: Route, phases: Sequence[PhaseTotal], supply: SupplyPoint) -> Sentence | None:
    """Why a route for this supply does not apply; None where it does."""
    if route.several_premises is False and supply.several_premises:
        return SEVERAL_PREMISES
    fullest = max(phases, key=lambda phase: phase.current_a)
    total = sum(phase.power_va for phase in phases)
    limits = (
        (fullest.current_a, route.current_per_phase_max_a, "A", ON_PHASE(phase=fullest.phase)),
        (fullest.power_va, route.power_per_phase_max_va, "VA", ON_PHASE(phase=fullest.phase)),
        (total, route.power_total_max_va, "VA", IN_ALL),
    )
    for value, limit, unit, where in limits:
        if limit is not None and value > limit * (1.0 + ROUNDING):
            form = IS_ABOVE if round(value, 2) > limit else IS_JUST_ABOVE
            return form(value=value, unit=unit, where=where, limit=limit)
    if route.export_per_phase_max_a is not None:
        given = supply.export_limit_per_phase_a
        if given is None or given > route.export_per_phase_max_a * (1.0 + ROUNDING):
            return NO_EXPORT_LIMIT(current_a=route.export_per_phase_max_a)
    return None


def _balance(
    rules: ConnectionRules,
    circuits: Sequence[BranchCircuit],
    phases: Sequence[PhaseTotal],
    unit_ac_current_a: float,
    supply: SupplyPoint,
    unit_phase_count: int,
) -> Iterator[ConnectionCheck]:
    """The difference between phases with all circuits on, and with a circuit, a unit or existing generation off."""
    limit = rules.phase_difference_va.value
    if limit is None or (len(phases) == 1 and not rules.counts_one_phase):
        return
    powers = [phase.power_va for phase in phases]
    yield _difference_check(rules, "difference between phases", powers, FULLEST_AND_EMPTIEST)
    if len(phases) == 1:
        return
    off = [(0,) * len(phases), *(circuit.units_by_phase for circuit in circuits)]
    if unit_phase_count == 1:
        # A circuit on all phases takes its units from all of them; one unit alone is the worse fault.
        off += [tuple(int(other is phase) for other in phases) for phase in phases if phase.unit_count]
    # What is there already may be off too, one by one or all: it must not be what keeps the phases equal.
    existing = [(), *((each,) for each in supply.existing_generation), supply.existing_generation]
    without = [
        [
            (
                phase.current_a
                - units * unit_ac_current_a
                - sum(each.current_a for each in existing_off if each.phase in (None, phase.phase))
            )
            * supply.voltage_v
            for phase, units in zip(phases, units_off, strict=True)
        ]
        for units_off, existing_off in product(off, existing)
    ]
    worst = max(without, key=lambda powers: max(powers) - min(powers))
    yield _difference_check(rules, "difference between phases after a fault", worst, WORST_OFF)


def _difference_check(
    rules: ConnectionRules, name: ConnectionCheckName, powers: Sequence[float], between: Sentence
) -> ConnectionCheck:
    limit = rules.phase_difference_va.value
    assert limit is not None, "the region has a limit"
    # A single-phase system feeds one phase of the network only.
    difference = powers[0] if len(powers) == 1 else max(powers) - min(powers)
    meets = difference <= limit * (1.0 + ROUNDING)
    return ConnectionCheck(
        name=name,
        value=difference,
        limit=limit,
        unit="VA",
        meets=meets,
        source=rules.phase_difference_va.source,
        explanation=DIFFERENCE(power_va=difference, between=between, limit_va=limit, advice=() if meets else (BALANCE,)),
    )


def _uncoupled(
    rules: ConnectionRules, phases: Sequence[PhaseTotal], supply: SupplyPoint, unit_phase_count: int
) -> Iterator[ConnectionCheck]:
    """The power of single-phase units that nothing couples, where the region limits it."""
    limit = rules.uncoupled_max_va
    if limit is None or unit_phase_count > 1 or supply.are_units_coupled:
        return
    value = sum(phase.power_va for phase in phases)
    words = UNCOUPLED(power_va=value, limit_va=limit)
    meets = value <= limit * (1.0 + ROUNDING)
    yield ConnectionCheck("single-phase units", value, limit, "VA", meets, rules.phase_difference_va.source, words)


def _board(
    rules: ConnectionRules, phases: Sequence[PhaseTotal], unit_ac_current_a: float, supply: SupplyPoint
) -> Iterator[ConnectionCheck]:
    rule, board = rules.board, supply.board
    fullest = max(phases, key=lambda phase: phase.current_a)
    if rule is None:
        yield ConnectionCheck("board", fullest.current_a, None, "A", None, NO_BOARD_RULE, BOARD_WITHOUT_RULE)
        return
    at_opposite_end = rule.opposite_end and supply.is_fed_at_opposite_end
    if rule.opposite_end and not at_opposite_end:
        rule = replace(rule, share=1.0, source=rule.source_elsewhere or rule.source)
    value = fullest.current_a * rule.continuous_current_factor
    further: list[Sentence] = []
    limit = None
    meets = is_within(rule, board, fullest.current_a)
    if meets is None:
        further.append(BOARD_UNKNOWN)
    else:
        assert board.rating_a is not None and board.main_device_a is not None, "both are known"  # noqa: PT018
        limit = feed_max_a(rule, rating_a=board.rating_a, main_device_a=board.main_device_a)
        further.append(BOARD_LEAVES(rating_a=board.rating_a, share=rule.share, main_a=board.main_device_a, limit_a=limit))
        further += [FED_OPPOSITE] if at_opposite_end else []
    if meets is False:
        out = ways_out(
            rule,
            board,
            generation_a=fullest.current_a,
            existing_a=fullest.existing_a,
            unit_current_a=unit_ac_current_a,
            pv_device_a=rules.devices.rating_a((fullest.current_a - fullest.existing_a) * rule.continuous_current_factor),
            standard_ratings_a=rules.devices.ratings_a,
            where=ON_A_PHASE if len(phases) > 1 else IN_ALL,
            opposite_end_share=rules.board.share if rules.board and rule.opposite_end and not at_opposite_end else None,
        )
        further.append(WAYS_OUT(ways=tuple(out)))
    words = BOARD(factor=rule.continuous_current_factor, current_a=value, further=tuple(further))
    yield ConnectionCheck("board", value, limit, "A", meets, rule.source, words)
    main = board.main_device_a
    if main is not None:
        within = value <= main * (1.0 + ROUNDING)
        words = BACK_FEED(current_a=value, main_a=main)
        yield ConnectionCheck("main device", value, main, "A", within, rules.main_device_source, words)


def _central_protection(rules: ConnectionRules, phases: Sequence[PhaseTotal]) -> Iterator[ConnectionCheck]:
    limit, source = rules.central_protection_above_va, rules.central_protection_source
    if limit is None or source is None:
        return
    value = sum(phase.power_va for phase in phases)
    meets = True if value <= limit * (1.0 + ROUNDING) else None
    words = CENTRAL(power_va=value, limit_va=limit)
    yield ConnectionCheck("protection in the units", value, limit, "VA", meets, source, words)
