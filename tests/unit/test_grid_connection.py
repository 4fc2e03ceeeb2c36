"""Connection routes by region."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, strategies as st

from tests.builders import numbers
from wattpair_service.engineering.circuits.grid_connection import OPERATOR, Connection, SupplyPoint, connection
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.rules import connection_rules, regions


def of(region: str, *units: int, current_a: float = 1.0, bus: float | None = None, several: bool = False) -> Connection:
    """The connection of so many units on each phase."""
    rules = connection_rules(region)
    return connection(rules, units, current_a, SupplyPoint(rules.voltage_v, bus, bus, several))


@pytest.mark.parametrize("region", regions())
@given(st.integers(0, 2), st.integers(0, 500), numbers(0.1, 30.0), st.booleans())
def test_every_system_has_a_route_with_its_source(region: str, which: int, units: int, current_a: float, several: bool) -> None:
    phase_counts = connection_rules(region).phase_counts
    found = of(region, *[units] * phase_counts[which % len(phase_counts)], current_a=current_a, several=several)
    assert found.filings
    assert all(filing.document and filing.when for filing in found.filings)
    assert found.route in found.reason
    assert found.allows
    assert found.source.endswith(")"), "it says how the values were obtained"
    assert all(check.source.endswith(")") for check in found.checks)
    assert found.power_total_va == pytest.approx(sum(phase.power_va for phase in found.phases))


@pytest.mark.parametrize(
    ("region", "units", "route"),
    [
        ("great_britain", (16,), "EREC G98, single premises"),
        ("great_britain", (17,), "EREC G99"),
        ("great_britain", (16, 16, 16), "EREC G98, single premises"),
        ("great_britain", (16, 16, 17), "EREC G99"),
        ("ireland", (25,), "NC6, single-phase"),
        ("ireland", (26,), "application above NC6"),
        ("ireland", (16, 16, 16), "NC6, three-phase"),
        ("ireland", (16, 17, 16), "application above NC6"),
        ("germany", (20,), "single-phase or three-phase within 4.6 kVA per phase"),
        ("germany", (21,), "not on one phase"),
        ("germany", (21, 21, 21), "three-phase above 4.6 kVA per phase"),
        ("netherlands", (5,), OPERATOR),
        ("australia", (5,), OPERATOR),
        ("united_states", (5,), OPERATOR),
        ("international", (5, 5), OPERATOR),
    ],
)
def test_the_route_by_the_current_of_the_fullest_phase(region: str, units: tuple[int, ...], route: str) -> None:
    assert of(region, *units).route == route


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
    assert found.route == route
    assert reason in found.reason


def test_units_between_lines_of_three_phases_are_refused() -> None:
    with pytest.raises(EngineeringError, match=r"^1 phase: .*line to line are not modelled") as error:
        of("united_states", 10, 10, 10)
    assert error.value.fields == ("phase_count",)


def test_germany_starts_with_a_connection_request() -> None:
    first = of("germany", 5).filings[0]
    assert first.document == "connection request to the network operator"
    assert first.when.startswith("before installation")
    assert OPERATOR in first.when


@pytest.mark.parametrize(
    ("region", "units", "limit_va", "meets", "explanation"),
    [
        ("germany", (20, 0, 0), 4600.0, True, "the limit is 4600 VA"),
        ("germany", (21, 0, 0), 4600.0, False, "fewer units on the fullest phase"),
        ("germany", (40, 40, 21), 4600.0, True, "the limit is 4600 VA"),
        ("germany", (20,), 4600.0, True, "the limit is 4600 VA"),
        ("netherlands", (9, 0, 0), None, None, OPERATOR),
    ],
)
def test_the_difference_between_phases(
    region: str, units: tuple[int, ...], limit_va: float | None, meets: bool | None, explanation: str
) -> None:
    (check,) = of(region, *units).checks
    assert (check.limit, check.meets) == (limit_va, meets)
    assert explanation in check.explanation
    assert ("fewer units on the fullest phase" in check.explanation) is (meets is False)


@pytest.mark.parametrize(
    ("bus", "current_a", "meets"), [(200.0, 32.0, True), (200.0, 32.01, False), (100.0, 16.0, True), (None, 9.0, None)]
)
def test_the_busbar(bus: float | None, current_a: float, meets: bool | None) -> None:
    (check,) = of("united_states", 1, current_a=current_a, bus=bus).checks
    assert check.meets is meets
    assert check.value == pytest.approx(current_a * 1.25)


def test_rules_without_a_route_that_fits_are_refused() -> None:
    rules = connection_rules("great_britain")
    short = replace(rules, routes=rules.routes[:2])
    with pytest.raises(EngineeringError, match=r"none does: not EREC G98, single premises: 17\.00 A"):
        connection(short, (17,), 1.0, SupplyPoint(230.0, None, None, False))
