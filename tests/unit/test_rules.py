"""The regions' published limits."""

from __future__ import annotations

import json
from typing import Any

import pytest
from marshmallow import ValidationError

from wattpair_service.api.operations.regions import RegionRulesSchema
from wattpair_service.engineering.circuits.conductors import Installation
from wattpair_service.rules import (
    DEFAULT_REGION,
    access_rules,
    access_rules_of,
    branch_circuit_rules,
    branch_circuit_rules_of,
    cable_rules_of,
    capacity_tables,
    conductor_tables,
    connection_rules,
    connection_rules_of,
    electrical_rules,
    material_rules_of,
    region_data,
    regions,
)
from wattpair_service.words.catalogue import english

EVERY_REGION = pytest.mark.parametrize("region", regions())


def test_regions() -> None:
    assert DEFAULT_REGION in regions()
    assert list(regions()) == sorted(set(regions()))
    assert {"australia", "germany", "great_britain", "international", "ireland", "netherlands", "united_states"} <= set(
        regions()
    )
    assert electrical_rules("united_states").cold_voltage_factors is not None


@pytest.mark.parametrize("region", ["", "atlantis", "../settings"])
def test_an_unknown_region_has_no_rules(region: str) -> None:
    with pytest.raises(FileNotFoundError):
        electrical_rules(region)


@EVERY_REGION
def test_electrical_and_circuit_rules_are_plausible_and_sourced(region: str) -> None:
    rules, circuits = electrical_rules(region), branch_circuit_rules(region)
    assert rules.region == region
    assert rules.place
    assert rules.edition
    assert 1.0 <= rules.short_circuit_factor <= 1.6
    assert 6.0 <= circuits.device_rating_a <= 63.0
    assert 1.0 <= circuits.continuous_current_factor <= 1.5
    for source in (rules.short_circuit_source, rules.cold_voltage_source, circuits.source):
        assert str(source).endswith(")"), "it says how the value was obtained"
    factors = sorted(rules.cold_voltage_factors or (), reverse=True)
    edges, by_band = [edge for edge, _ in factors], [factor for _, factor in factors]
    assert edges == sorted(set(edges), reverse=True)
    assert by_band == sorted(set(by_band)), "colder is higher"
    assert all(1.0 < factor < 1.3 for factor in by_band)


@EVERY_REGION
def test_connection_rules_are_plausible_and_sourced(region: str) -> None:
    rules = connection_rules(region)
    assert rules.conductor_table in conductor_tables()
    assert 100.0 <= rules.voltage_v <= 250.0
    assert set(rules.phase_counts) <= {1, 2, 3}
    for ratings in (rules.devices.ratings_a, rules.devices.isolator_ratings_a):
        assert list(ratings) == sorted(set(ratings))
    assert branch_circuit_rules(region).device_rating_a in rules.devices.ratings_a
    assert rules.devices.poles_of_one_phase == 2
    assert rules.devices.poles_of_three_phases in (3, 4)
    assert rules.devices.breaking_capacity_ka >= 6.0
    assert rules.board is not None, "every region checks its board"
    sources = [rules.supply_source, rules.voltage_rise.source, rules.phase_difference_va.source, rules.residual_current.source]
    sources += [rules.devices.source, rules.board.source, rules.documents_source, *(route.source for route in rules.routes)]
    assert all(english(source).endswith(")") for source in sources), "it says how the values were obtained"
    for limit in (rules.voltage_rise, rules.phase_difference_va):
        assert limit.value is not None or "set by the network operator" in english(limit.source)


@EVERY_REGION
def test_access_rules_are_plausible_and_sourced(region: str) -> None:
    rules = access_rules(region)
    sourced = [rule for rule in (rules.edge, rules.ridge, *(rule for _, rule in rules.kinds)) if rule is not None]
    assert all(0.0 <= rule.distance_m <= 1.0 for rule in sourced)
    assert all(english(rule.source).endswith(")") for rule in sourced), "it says how the values were obtained"
    assert rules.ridge is None or (rules.ridge.distance_above_m or rules.ridge.distance_m) >= rules.ridge.distance_m
    assert rules.path is None or (0.5 <= rules.path.width_m <= 1.5 and english(rules.path.source).endswith(")"))


def test_the_american_distances_are_inches() -> None:
    rules = access_rules("united_states")
    assert rules.ridge is not None
    assert rules.path is not None
    assert rules.path.width_m == rules.ridge.distance_above_m == pytest.approx(36 * 0.0254, abs=0.0005)
    assert rules.ridge.distance_m == dict(rules.kinds)["hip"].distance_m == pytest.approx(18 * 0.0254, abs=0.0005)
    assert rules.ridge.covered_share_max == 0.33


@pytest.mark.parametrize(
    ("ridge", "field"),
    [
        ({"covered_share_max": 0.33}, "distance_above_m"),
        ({"distance_above_m": 0.9}, "covered_share_max"),
        ({"covered_share_max": 0.33, "distance_above_m": 0.4}, "distance_above_m"),
    ],
)
def test_a_ridge_rule_by_share_is_whole(ridge: dict[str, float], field: str) -> None:
    sourced = {"clause": "a clause", "obtained": "read"}
    access = sourced | {"edge_distance_m": 0.3, "ridge": sourced | {"distance_m": 0.5} | ridge}
    with pytest.raises(ValidationError) as refused:
        RegionRulesSchema().load(region_data("ireland") | {"access": access})
    messages: Any = refused.value.messages
    assert list(messages["access"]["ridge"]) == [field]


@EVERY_REGION
def test_cables_are_installed_in_a_way_that_their_table_has(region: str) -> None:
    rules = cable_rules_of(region_data(region))
    sizes = {conductor.size for conductor in conductor_tables()[connection_rules(region).conductor_table].conductors}
    for run, table_name in (("trunk", "trunk_capacity_table"), ("home_run", "capacity_table"), ("supply", "capacity_table")):
        table = capacity_tables()[rules[table_name]]
        method = table.require_method(rules[run]["installation"], run)
        assert set(method.two_loaded_a) <= sizes
        assert Installation(table, method, rules[run]["ambient_c"], 1).ambient_factor > 0.0


def test_rules_of_a_caller_without_cables_and_devices_take_the_international_ones() -> None:
    own, international = region_data("great_britain"), region_data("international")
    del own["cables"], own["overcurrent_device"]
    assert cable_rules_of(own) == international["cables"]
    assert connection_rules_of("own", own).devices.poles_of_three_phases == 3


@EVERY_REGION
def test_what_an_order_must_have_is_sourced(region: str) -> None:
    rules = material_rules_of(region_data(region))
    assert rules.labels, "two supplies are labelled everywhere"
    sources = [rules.surge_protection.source, rules.generation_meter.source, rules.bonding_source]
    assert all(english(source).endswith(")") for source in [*sources, *(label.source for label in rules.labels)])
    sizes = {conductor.size for conductor in conductor_tables()[connection_rules(region).conductor_table].conductors}
    assert rules.bonding_size in sizes
    assert rules.lines_per_phase == (2 if region == "united_states" else 1)
    texts = [label.text_for(38.4, 240.0) for label in rules.labels]
    assert not any("{" in text for text in texts)
    assert any("38.4 A" in text and "240 V" in text for text in texts) == (region == "united_states")


def test_rules_of_a_caller_say_what_an_order_must_have_or_take_the_international_ones() -> None:
    own = region_data("australia")
    for name in ("array_bonding", "surge_protection", "generation_meter", "labels"):
        del own[name]
    assert material_rules_of(own) == material_rules_of(region_data("international"))
    assert material_rules_of(own | {"labels": []}).labels == ()


@EVERY_REGION
def test_a_regions_file_is_what_a_request_may_send(region: str) -> None:
    loaded = RegionRulesSchema().load(json.loads(json.dumps(region_data(region))))
    assert connection_rules_of(region, loaded) == connection_rules(region)
    assert branch_circuit_rules_of(loaded) == branch_circuit_rules(region)
    assert access_rules_of(loaded["access"]) == access_rules(region)
    assert material_rules_of(loaded) == material_rules_of(region_data(region))


@pytest.mark.parametrize("name", conductor_tables())
def test_thicker_conductors_resist_less(name: str) -> None:
    table = conductor_tables()[name]
    resistances = [conductor.resistance_ohm_km for conductor in table.conductors]
    assert resistances == sorted(set(resistances), reverse=True)
    assert english(table.source).endswith(")")
