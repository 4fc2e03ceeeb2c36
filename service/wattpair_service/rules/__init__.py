"""Published limits: one TOML file for each region, with place, edition, and the clause and origin of each value."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from copy import deepcopy
from functools import cache
from importlib import resources
from typing import Any

from wattpair_service.engineering.circuits.branch_circuits import BranchCircuitRules
from wattpair_service.engineering.circuits.grid_connection import BusbarRule, ConnectionRules, Filing, Limit, Route
from wattpair_service.engineering.circuits.voltage_rise import Conductor, ConductorTable
from wattpair_service.engineering.inverter.electrical_checks import ElectricalRules
from wattpair_service.engineering.site import ColdFloor

DEFAULT_REGION = "international"
M_PER_KFT = 304.8
"""A thousand feet [m], exact."""


@cache
def regions() -> tuple[str, ...]:
    """Names of all regions, in alphabetical order."""
    files = resources.files(__name__).iterdir()
    return tuple(sorted(file.name.removesuffix(".toml") for file in files if file.name.endswith(".toml")))


@cache
def _region(region: str) -> dict[str, Any]:
    return tomllib.loads(resources.files(__name__).joinpath(f"{region}.toml").read_text(encoding="utf-8"))


def electrical_rules(region: str) -> ElectricalRules:
    """DC rules of a region of `regions`."""
    data = _region(region)
    current, voltage, high = data["short_circuit_current"], data["cold_voltage"], data["high_dc_voltage"]
    factors = voltage.get("factors")
    return ElectricalRules(
        region=region,
        place=data["place"],
        edition=data["edition"],
        short_circuit_factor=current["factor"],
        short_circuit_source=_source(current),
        cold_voltage_source=_source(voltage),
        cold_voltage_factors=tuple((float(edge), float(factor)) for edge, factor in factors) if factors else None,
        cold_temperature=voltage.get("lowest_temperature"),
        cold_floors=tuple(map(_cold_floor, data.get("cold_floor", ()))),
        high_voltage_v=float(high["at_least_v"]),
        high_voltage_consequences=high["says"],
        high_voltage_source=_source(high),
    )


def _cold_floor(entry: Mapping[str, Any]) -> ColdFloor:
    above, south_of = entry.get("above_elevation_m"), entry.get("south_of_latitude_deg")
    return ColdFloor(
        lowest_c=float(entry["lowest_c"]),
        above_elevation_m=None if above is None else float(above),
        south_of_latitude_deg=None if south_of is None else float(south_of),
        source=_source(entry),
    )


def branch_circuit_rules(region: str) -> BranchCircuitRules:
    """AC branch-circuit rules of a region of `regions`."""
    return branch_circuit_rules_of(_region(region))


def branch_circuit_rules_of(data: Mapping[str, Any]) -> BranchCircuitRules:
    """AC branch-circuit rules from region data as in a region's file."""
    circuit = data["branch_circuit"]
    return BranchCircuitRules(
        device_rating_a=float(circuit["device_rating_a"]),
        continuous_current_factor=float(circuit["continuous_current_factor"]),
        source=_source(circuit),
    )


def region_data(region: str) -> dict[str, Any]:
    """Data of a region of `regions`, as in its file."""
    return deepcopy(_region(region))


def connection_rules(region: str) -> ConnectionRules:
    """Grid connection rules of a region of `regions`."""
    return connection_rules_of(region, _region(region))


def connection_rules_of(region: str, data: Mapping[str, Any]) -> ConnectionRules:
    """Grid connection rules from region data as in a region's file."""
    supply, residual, devices = data["supply"], data["residual_current"], data["standard_devices"]
    busbar, documents = data.get("busbar"), data["commissioning"]
    return ConnectionRules(
        region=region,
        place=data["place"],
        edition=data["edition"],
        phase_counts=tuple(supply["phase_counts"]),
        voltage_v=float(supply["voltage_v"]),
        supply_source=_source(supply),
        voltage_rise=_limit(data["voltage_rise"], "limit_share"),
        phase_difference_va=_limit(data["phase_balance"], "difference_max_va"),
        routes=tuple(_route(route) for route in data["routes"]),
        busbar=busbar and BusbarRule(float(busbar["share"]), float(busbar["continuous_current_factor"]), _source(busbar)),
        residual_current_type=residual.get("type_without_declaration"),
        residual_current_type_if_declared=residual.get("type_if_declared"),
        residual_current_source=_source(residual),
        standard_devices_a=tuple(float(rating) for rating in devices["ratings_a"]),
        standard_devices_source=_source(devices),
        conductor_table=data["conductors"]["table"],
        documents=tuple(documents["documents"]),
        documents_source=_source(documents),
    )


@cache
def conductor_tables() -> dict[str, ConductorTable]:
    """Standard copper conductors by the name of their table."""
    text = resources.files(__name__).joinpath("conductors", "copper.toml").read_text(encoding="utf-8")
    return {name: _table(name, table) for name, table in tomllib.loads(text).items()}


def _table(name: str, table: dict[str, Any]) -> ConductorTable:
    conductors = tuple(
        Conductor(
            size=row["size"],
            resistance_ohm_km=row["resistance_ohm_km"]
            if "resistance_ohm_km" in row
            else row["resistance_ohm_kft"] / M_PER_KFT * 1000.0,
            device_max_a=row.get("device_max_a"),
        )
        for row in table["conductors"]
    )
    return ConductorTable(name, float(table["temp_c"]), conductors, _source(table))


def _limit(entry: Mapping[str, Any], key: str) -> Limit:
    value = entry.get(key)
    return Limit(None if value is None else float(value), _source(entry))


def _route(route: Mapping[str, Any]) -> Route:
    current, power = route.get("current_per_phase_max_a"), route.get("power_per_phase_max_va")
    return Route(
        name=route["name"],
        phase_counts=tuple(route.get("phase_counts") or ()),
        current_per_phase_max_a=None if current is None else float(current),
        power_per_phase_max_va=None if power is None else float(power),
        several_premises=route.get("several_premises"),
        filings=tuple(Filing(filing["document"], filing["when"]) for filing in route["filings"]),
        allows=route["allows"],
        source=_source(route),
    )


def _source(entry: Mapping[str, Any]) -> str:
    return f"{entry['clause']} ({entry['obtained']})"
