"""Connection routes by region."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, strategies as st

from tests.builders import numbers
from wattpair_service.engineering.circuits.board import Board
from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit, FaceUnits
from wattpair_service.engineering.circuits.grid_connection import (
    Connection,
    ConnectionCheck,
    ExistingGeneration,
    RouteFit,
    SupplyPoint,
    connection,
)
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.rules import connection_rules, regions
from wattpair_service.words.catalogue import english

NO_BOARD = Board(None, None)

OPERATOR = "set by the network operator"


def on_phases(*units: int) -> list[BranchCircuit]:
    """One circuit with so many units on each phase."""
    return [
        BranchCircuit(
            name=f"circuit {phase}",
            units_by_face=(FaceUnits("roof", count),),
            unit_count=count,
            phases=(phase,),
            units_by_phase=tuple(count * (other == phase) for other in range(1, len(units) + 1)),
            current_a=float(count),
            device_rating_a=20.0,
        )
        for phase, count in enumerate(units, 1)
        if count
    ]


def of(
    region: str,
    *units: int,
    current_a: float = 1.0,
    board: Board = NO_BOARD,
    several: bool = False,
    existing: tuple[ExistingGeneration, ...] = (),
    export_a: float | None = None,
    unit_phase_count: int = 1,
    opposite: bool = False,
    plug_in: bool = False,
    coupled: bool = False,
) -> Connection:
    """The connection of so many units on each phase."""
    rules = connection_rules(region)
    supply = SupplyPoint(
        rules.voltage_v,
        board,
        several,
        existing,
        export_a,
        is_fed_at_opposite_end=opposite,
        is_plug_in=plug_in,
        are_units_coupled=coupled,
    )
    return connection(
        rules,
        on_phases(*units),
        supply,
        unit_ac_current_a=current_a,
        phase_count=len(units),
        unit_phase_count=unit_phase_count,
    )


def check_of(found: Connection, name: str) -> ConnectionCheck:
    (check,) = [each for each in found.checks if each.name == name]
    return check


def fit_of(found: Connection, route: str) -> RouteFit:
    (fit,) = [each for each in found.routes if english(each.route) == route]
    return fit


@pytest.mark.parametrize("region", regions())
@given(st.integers(0, 2), st.integers(0, 500), numbers(0.1, 30.0), st.booleans())
def test_every_system_has_a_route_with_its_source(region: str, which: int, units: int, current_a: float, several: bool) -> None:
    phase_counts = connection_rules(region).phase_counts
    found = of(region, *[units] * phase_counts[which % len(phase_counts)], current_a=current_a, several=several)
    assert found.filings
    assert all(filing.document and filing.when for filing in found.filings)
    assert english(found.route) in english(found.reason)
    assert found.allows
    assert english(found.source).endswith(")"), "it says how the values were obtained"
    assert all(english(check.source).endswith(")") for check in found.checks)
    assert [fit.route for fit in found.routes if fit.applies] == [found.route]
    for fit in found.routes:
        assert fit.units_most is None or fit.units_most >= 0
    assert found.power_total_va == pytest.approx(sum(phase.power_va for phase in found.phases))


@pytest.mark.parametrize(
    ("region", "units", "route"),
    [
        ("great_britain", (16,), "EREC G98, single premises"),
        ("great_britain", (17,), "EREC G99"),
        ("great_britain", (16, 16, 16), "EREC G98, single premises"),
        ("great_britain", (16, 16, 17), "EREC G99"),
        ("ireland", (25,), "NC6, single-phase"),
        ("ireland", (26,), "NC7, single-phase"),
        ("ireland", (72,), "NC7, single-phase"),
        ("ireland", (73,), "application above NC7"),
        ("ireland", (16, 16, 16), "NC6, three-phase"),
        ("ireland", (16, 17, 16), "NC7, three-phase"),
        ("ireland", (72, 72, 72), "NC7, three-phase"),
        ("ireland", (72, 73, 72), "application above NC7"),
        ("germany", (3,), "within 4.6 kVA on each phase"),
        ("germany", (20,), "within 4.6 kVA on each phase"),
        ("germany", (20, 20, 20), "within 4.6 kVA on each phase"),
        ("germany", (21,), "not on one phase"),
        ("germany", (21, 21, 21), "three-phase above 4.6 kVA per phase"),
        ("netherlands", (80,), "small connection up to 3 x 80 A: connect and register"),
        ("netherlands", (81,), OPERATOR),
        ("australia", (21,), "small system within 5 kVA on each phase"),
        ("australia", (22,), "larger small system, single-phase"),
        ("australia", (44,), OPERATOR),
        ("united_states", (41,), "simplified interconnection, level 1"),
        ("united_states", (42,), "fast track, level 2"),
        ("international", (5, 5), OPERATOR),
    ],
)
def test_the_route_by_the_current_of_the_fullest_phase(region: str, units: tuple[int, ...], route: str) -> None:
    assert english(of(region, *units).route) == route


@pytest.mark.parametrize(
    ("found", "route", "reason"),
    [
        (of("great_britain", 10, several=True), "EREC G98, several premises", "several premises close by"),
        (of("great_britain", 17), "EREC G99", "17.00 A on phase 1 is above 16 A"),
        (of("great_britain", 4, current_a=4.0005), "EREC G99", "16.002 A on phase 1 is above 16 A"),
    ],
    ids=["several premises", "current", "digits that show it"],
)
def test_the_reason_says_what_was_exceeded(found: Connection, route: str, reason: str) -> None:
    assert english(found.route) == route
    assert reason in english(found.reason)


def test_units_between_lines_of_three_phases_are_refused() -> None:
    with pytest.raises(EngineeringError, match=r"^1 phase: .*line to line are not modelled") as error:
        of("united_states", 10, 10, 10)
    assert error.value.fields == ("phase_count",)


def test_germany_starts_with_a_connection_request() -> None:
    first = of("germany", 5).filings[0]
    assert english(first.document) == "connection request to the network operator"
    assert english(first.when).startswith("before installation")
    assert OPERATOR in english(first.when)


@pytest.mark.parametrize(
    ("region", "units", "limit_va", "meets", "explanation"),
    [
        ("germany", (20, 0, 0), 4600.0, True, "the limit is 4600 VA"),
        ("germany", (21, 0, 0), 4600.0, False, "fewer units on the fullest phase"),
        ("germany", (40, 40, 21), 4600.0, True, "the limit is 4600 VA"),
        ("germany", (20,), 4600.0, True, "the limit is 4600 VA"),
        ("australia", (21, 0, 0), 5000.0, True, "the limit is 5000 VA"),
        ("australia", (22, 0, 0), 5000.0, False, "fewer units on the fullest phase"),
    ],
)
def test_the_difference_between_phases(
    region: str, units: tuple[int, ...], limit_va: float, meets: bool, explanation: str
) -> None:
    check = check_of(of(region, *units), "difference between phases")
    assert (check.limit, check.meets) == (limit_va, meets)
    assert explanation in english(check.explanation)
    assert ("fewer units on the fullest phase" in english(check.explanation)) is (meets is False)


@pytest.mark.parametrize(
    ("units", "current_a", "existing", "value_va", "meets"),
    [
        ((20, 20, 20), 1.0, (), 4600.0, True),
        ((21, 21, 21), 1.0, (), 4830.0, False),
        ((20, 20, 19), 1.0, (), 4600.0, True),
        # A single unit off: 2 of 12 A against 0.
        ((2, 1, 1), 12.0, (), 5520.0, False),
        # What keeps the phases equal may be off itself, all of it or one.
        ((10, 10, 10), 1.0, (ExistingGeneration("a", 21.0, 1), ExistingGeneration("b", 21.0, 2)), 31 * 230.0, False),
        ((5, 5, 5), 1.0, (ExistingGeneration("battery", 21.0, None),), 1150.0, True),
        ((5, 5, 5), 1.0, (ExistingGeneration("battery", 20.0, 2),), 25 * 230.0, False),
        ((21, 21, 0), 1.0, (ExistingGeneration("battery", 21.0, 3),), 21 * 230.0, False),
    ],
)
def test_the_difference_holds_with_a_circuit_a_unit_or_existing_generation_off(
    units: tuple[int, ...], current_a: float, existing: tuple[ExistingGeneration, ...], value_va: float, meets: bool
) -> None:
    # VDE-AR-N 4100, 5.5: 4.6 kVA also after a fault.
    check = check_of(of("germany", *units, current_a=current_a, existing=existing), "difference between phases after a fault")
    assert check.value == pytest.approx(value_va)
    assert check.meets is meets


@pytest.mark.parametrize(("region", "units"), [("netherlands", (9, 0, 0)), ("great_britain", (9,)), ("australia", (30,))])
def test_without_a_limit_nothing_is_said_of_the_difference_between_phases(region: str, units: tuple[int, ...]) -> None:
    assert not [check for check in of(region, *units).checks if "difference" in check.name]


@pytest.mark.parametrize(
    ("units", "coupled", "unit_phases", "meets"),
    [
        ((20, 20, 20), False, 1, True),
        ((21, 20, 20), False, 1, False),
        ((21, 20, 20), True, 1, None),
        ((21, 21, 21), False, 3, None),
    ],
)
def test_in_germany_single_phase_units_that_nothing_couples_are_limited(
    units: tuple[int, ...], coupled: bool, unit_phases: int, meets: bool | None
) -> None:
    # VDE-AR-N 4105, 6.1: 3 x 4.6 kVA of single-phase units that are not coupled.
    found = of("germany", *units, coupled=coupled, unit_phase_count=unit_phases)
    assert [check.meets for check in found.checks if check.name == "single-phase units"] == ([] if meets is None else [meets])


@pytest.mark.parametrize(
    ("units", "existing", "plug_in", "route"),
    [
        ((3,), (), True, "plug-in system up to 800 VA"),
        ((4,), (), True, "within 4.6 kVA on each phase"),
        ((3,), (), False, "within 4.6 kVA on each phase"),
        ((3,), (ExistingGeneration("an older one", 1.0, None),), True, "within 4.6 kVA on each phase"),
    ],
)
def test_a_plug_in_system_is_one_on_a_plug_alone(
    units: tuple[int, ...], existing: tuple[ExistingGeneration, ...], plug_in: bool, route: str
) -> None:
    found = of("germany", *units, existing=existing, plug_in=plug_in)
    assert english(found.route) == route
    assert ("plug-in system up to 800 VA" in [english(fit.route) for fit in found.routes]) is plug_in


@pytest.mark.parametrize(
    ("bus", "current_a", "opposite", "meets"),
    [
        (200.0, 32.0, True, True),
        (200.0, 32.01, True, False),
        (100.0, 16.0, True, True),
        # NEC 2023, 705.12(B)(1): without the opposite end 125 % of the source and the main device within the busbar.
        (200.0, 1.0, False, False),
        (None, 9.0, True, None),
    ],
)
def test_the_busbar(bus: float | None, current_a: float, opposite: bool, meets: bool | None) -> None:
    found = of("united_states", 1, current_a=current_a, board=Board(bus, bus), opposite=opposite)
    check = check_of(found, "board")
    assert check.meets is meets
    assert check.value == pytest.approx(current_a * 1.25)


@pytest.mark.parametrize(
    ("region", "main_a", "units", "meets"),
    [("great_britain", 60.0, (60,), True), ("great_britain", 60.0, (61,), False), ("united_states", 50.0, (41,), False)],
)
def test_all_generation_feeds_back_through_the_main_device(
    region: str, main_a: float, units: tuple[int, ...], meets: bool
) -> None:
    check = check_of(of(region, *units, board=Board(None, main_a)), "main device")
    assert (check.limit, check.meets) == (main_a, meets)


@pytest.mark.parametrize(
    ("region", "units", "current_a", "existing", "unit_phases", "route", "most"),
    [
        # EREC G98, 16 A per phase: 9 units of 1.7 A are 15.3 A.
        ("great_britain", (12,), 1.7, (), 1, "EREC G98, single premises", 9),
        ("great_britain", (12, 0, 0), 1.7, (), 1, "EREC G98, single premises", 27),
        ("great_britain", (12,), 1.7, (ExistingGeneration("battery", 8.0, None),), 1, "EREC G98, single premises", 4),
        ("great_britain", (1, 1, 1), 1.7, (ExistingGeneration("battery", 8.0, 2),), 1, "EREC G98, single premises", 22),
        ("great_britain", (1, 1, 1), 1.7, (ExistingGeneration("battery", 8.0, 2),), 3, "EREC G98, single premises", 4),
        ("great_britain", (12,), 1.7, (ExistingGeneration("array", 40.0, None),), 1, "EREC G98, single premises", 0),
        ("germany", (3,), 1.0, (), 1, "within 4.6 kVA on each phase", 20),
        ("united_states", (5,), 1.4, (), 1, "simplified interconnection, level 1", 29),
        ("ireland", (30,), 1.6, (), 1, "NC6, single-phase", 15),
    ],
)
def test_the_largest_design_within_a_procedure(
    region: str,
    units: tuple[int, ...],
    current_a: float,
    existing: tuple[ExistingGeneration, ...],
    unit_phases: int,
    route: str,
    most: int,
) -> None:
    found = of(region, *units, current_a=current_a, existing=existing, unit_phase_count=unit_phases)
    fit = fit_of(found, route)
    assert fit.units_most == most
    assert f"up to {most} units" in english(fit.explanation)


@pytest.mark.parametrize(
    ("existing", "fields"),
    [
        ((ExistingGeneration("battery", 5.0, 2),), ("existing_generation/0/phase",)),
        ((ExistingGeneration("a", 5.0, 1), ExistingGeneration("b", 5.0, 3)), ("existing_generation/1/phase",)),
    ],
)
def test_existing_generation_on_a_phase_that_the_supply_has_not_is_refused(
    existing: tuple[ExistingGeneration, ...], fields: tuple[str, ...]
) -> None:
    with pytest.raises(EngineeringError, match="a phase of the supply, 1 to 1") as error:
        of("great_britain", 5, existing=existing)
    assert error.value.fields == fields


def test_rules_without_a_route_that_fits_are_refused() -> None:
    rules = connection_rules("great_britain")
    short = replace(rules, routes=rules.routes[:2])
    with pytest.raises(EngineeringError) as error:
        connection(short, on_phases(17), SupplyPoint(230.0, NO_BOARD, False), unit_ac_current_a=1.0, phase_count=1)
    assert "none does: not EREC G98, single premises: 17.00 A" in english(error.value.message)
