"""The regions' published limits."""

from __future__ import annotations

import pytest

from wattpair_service.rules import DEFAULT_REGION, branch_circuit_rules, electrical_rules, regions

EVERY_REGION = pytest.mark.parametrize("region", regions())


def test_the_default_is_a_region() -> None:
    assert DEFAULT_REGION in regions()
    assert list(regions()) == sorted(set(regions()))


@EVERY_REGION
def test_electrical_rules_are_plausible_and_sourced(region: str) -> None:
    rules = electrical_rules(region)
    assert rules.region == region
    assert rules.place
    assert rules.edition
    assert 1.0 <= rules.short_circuit_factor <= 1.6
    for source in (rules.short_circuit_source, rules.cold_voltage_source):
        assert source.endswith(")"), "it says how the value was obtained"


@EVERY_REGION
def test_branch_circuit_rules_are_plausible_and_sourced(region: str) -> None:
    rules = branch_circuit_rules(region)
    assert 6.0 <= rules.device_rating_a <= 63.0
    assert 1.0 <= rules.continuous_current_factor <= 1.5
    assert rules.source.endswith(")"), "it says how the values were obtained"


@EVERY_REGION
def test_cold_voltage_factors_rise_as_it_gets_colder(region: str) -> None:
    factors = sorted(electrical_rules(region).cold_voltage_factors or (), reverse=True)
    edges = [edge for edge, _ in factors]
    by_band = [factor for _, factor in factors]
    assert edges == sorted(set(edges), reverse=True)
    assert by_band == sorted(set(by_band))
    assert all(1.0 < factor < 1.3 for factor in by_band)


def test_the_united_states_have_a_table() -> None:
    assert electrical_rules("united_states").cold_voltage_factors is not None


@pytest.mark.parametrize("region", ["", "atlantis", "../settings"])
def test_an_unknown_region_has_no_rules(region: str) -> None:
    with pytest.raises(FileNotFoundError):
        electrical_rules(region)
