"""Published limits as data: one TOML file for each region, with place, edition, clause and how each value was obtained."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any

from wattpair_service.engineering.bill_of_materials import BranchCircuitRules
from wattpair_service.engineering.electrical_checks import ElectricalRules

DEFAULT_REGION = "international"


@cache
def regions() -> tuple[str, ...]:
    """Names of the regions that have a file, in alphabetical order."""
    files = resources.files(__name__).iterdir()
    return tuple(sorted(file.name.removesuffix(".toml") for file in files if file.name.endswith(".toml")))


@cache
def _region(region: str) -> dict[str, Any]:
    return tomllib.loads(resources.files(__name__).joinpath(f"{region}.toml").read_text(encoding="utf-8"))


def electrical_rules(region: str) -> ElectricalRules:
    """DC-side rules of a region that `regions` names."""
    data = _region(region)
    current, voltage = data["short_circuit_current"], data["cold_voltage"]
    factors = voltage.get("factors")
    return ElectricalRules(
        region=region,
        place=data["place"],
        edition=data["edition"],
        short_circuit_factor=current["factor"],
        short_circuit_source=_source(current),
        cold_voltage_source=_source(voltage),
        cold_voltage_factors=tuple((float(edge), float(factor)) for edge, factor in factors) if factors else None,
    )


def branch_circuit_rules(region: str) -> BranchCircuitRules:
    """AC branch-circuit rules of a region that `regions` names."""
    data = _region(region)
    circuit = data["branch_circuit"]
    return BranchCircuitRules(
        device_rating_a=float(circuit["device_rating_a"]),
        continuous_current_factor=float(circuit["continuous_current_factor"]),
        source=_source(circuit),
    )


def _source(entry: dict[str, Any]) -> str:
    return f"{entry['clause']} ({entry['obtained']})"
