"""Published limits: one TOML file for each region, with place, edition, and the clause and origin of each value."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from functools import cache
from importlib import resources
from typing import Any

from wattpair_service.engineering.circuits.board import BoardRule
from wattpair_service.engineering.circuits.branch_circuits import BranchCircuitRules
from wattpair_service.engineering.circuits.conductors import CapacityTable, Conductor, ConductorTable, InstallationMethod
from wattpair_service.engineering.circuits.devices import DeviceRules, ResidualCurrentRules
from wattpair_service.engineering.circuits.grid_connection import ConnectionRules, Filing, Limit, Route
from wattpair_service.engineering.inverter.electrical_checks import ElectricalRules
from wattpair_service.engineering.materials.material_rules import Demand, Label, MaterialRules
from wattpair_service.engineering.roof.access import AccessRules, EdgeRule, PathRule, RidgeRule
from wattpair_service.engineering.roof.edges import EDGE_KINDS
from wattpair_service.engineering.sentences import LANGUAGES, Cited, Given, Phrase, several
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
        place=_words(data["place"]),
        edition=data["edition"],
        short_circuit_factor=current["factor"],
        short_circuit_source=_source(current),
        cold_voltage_source=_source(voltage),
        cold_voltage_factors=tuple((float(edge), float(factor)) for edge, factor in factors) if factors else None,
        cold_temperature=_words(voltage["lowest_temperature"]) if "lowest_temperature" in voltage else None,
        cold_floors=tuple(map(_cold_floor, data.get("cold_floor", ()))),
        high_voltage_v=float(high["at_least_v"]),
        high_voltage_consequences=_words(high["says"]),
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


def standard_time(region: str) -> tuple[float, Given] | None:
    """Standard time of a region of `regions` [h from UTC] and its source; None where it has more than one."""
    found = _region(region).get("standard_time")
    return None if found is None else (float(found["utc_offset_h"]), _source(found))


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
    supply, residual = data["supply"], data["residual_current"]
    documents, central = data["commissioning"], data.get("central_protection")
    return ConnectionRules(
        region=region,
        place=_words(data["place"]),
        edition=data["edition"],
        phase_counts=tuple(supply["phase_counts"]),
        voltage_v=float(supply["voltage_v"]),
        supply_source=_source(supply),
        voltage_rise=_limit(data["voltage_rise"], "limit_share"),
        phase_difference_va=_limit(data["phase_balance"], "difference_max_va"),
        counts_one_phase=bool(data["phase_balance"].get("counts_one_phase")),
        uncoupled_max_va=_figure(data["phase_balance"], "uncoupled_max_va"),
        routes=tuple(_route(route) for route in data["routes"]),
        board=_board_rule(data.get("busbar")),
        residual_current=ResidualCurrentRules(
            residual.get("type_without_declaration"), residual.get("type_if_declared"), _source(residual)
        ),
        devices=_device_rules(data),
        central_protection_above_va=float(central["above_va"]) if central else None,
        central_protection_source=_source(central) if central else None,
        conductor_table=data["conductors"]["table"],
        documents=tuple(map(_words, documents["documents"])),
        documents_source=_source(documents),
        voltage_rise_is_code=bool(data["voltage_rise"].get("limit_is_code")),
        main_device_source=_source(data.get("main_device") or _region(DEFAULT_REGION)["main_device"]),
        is_split_phase=bool(supply.get("split_phase")),
        asks_rapid_shutdown=bool((data.get("rapid_shutdown") or {}).get("asked")),
    )


def _board_rule(busbar: Mapping[str, Any] | None) -> BoardRule | None:
    if not busbar:
        return None
    return BoardRule(
        share=float(busbar["share"]),
        continuous_current_factor=float(busbar["continuous_current_factor"]),
        opposite_end=bool(busbar.get("opposite_end")),
        source=_source(busbar),
        source_elsewhere=_source(busbar["elsewhere"]) if busbar.get("elsewhere") else None,
        sum_of_devices=busbar.get("sum_of_devices") or "",
        supply_side=busbar.get("supply_side") or "",
        power_control=busbar.get("power_control") or "",
    )


def _device_rules(data: Mapping[str, Any]) -> DeviceRules:
    """What devices are made as; where a caller's own rules say nothing of it, as in the international rules."""
    standard = data["standard_devices"]
    made = data.get("overcurrent_device") or _region(DEFAULT_REGION)["overcurrent_device"]
    return DeviceRules(
        ratings_a=tuple(sorted(float(rating) for rating in standard["ratings_a"])),
        isolator_ratings_a=tuple(sorted(float(rating) for rating in made["isolator_ratings_a"])),
        poles_of_one_phase=made["poles_of_one_phase"],
        poles_of_three_phases=made["poles_of_three_phases"],
        curve=made.get("curve"),
        breaking_capacity_ka=float(made["breaking_capacity_ka"]),
        direction=_words(made["direction"]),
        source=several(_source(standard), _source(made)),
    )


def cable_rules_of(data: Mapping[str, Any]) -> Mapping[str, Any]:
    """How cables are installed where a request says nothing, as in a region's file; else as in the international rules."""
    rules: Mapping[str, Any] = data.get("cables") or _region(DEFAULT_REGION)["cables"]
    return rules


def material_rules_of(data: Mapping[str, Any]) -> MaterialRules:
    """What the order must have; where a caller's own rules say nothing of it, as in the international rules."""
    usual = _region(DEFAULT_REGION)
    bonding = data.get("array_bonding") or usual["array_bonding"]
    surge, meter = (data.get(name) or usual[name] for name in ("surge_protection", "generation_meter"))
    labels = usual["labels"] if data.get("labels") is None else data["labels"]
    return MaterialRules(
        labels=tuple(Label(each["text"], each["count"], _words(each["where"]), _source(each)) for each in labels),
        surge_protection=Demand(surge["asked"], _source(surge)),
        generation_meter=Demand(meter["asked"], _source(meter)),
        bonding_size=bonding["size"],
        bonding_source=_source(bonding),
        lines_per_phase=2 if data["supply"].get("split_phase") else 1,
    )


def access_rules(region: str) -> AccessRules:
    """Distances from edges and access paths of a region of `regions`."""
    return access_rules_of(_region(region)["access"])


def access_rules_of(data: Mapping[str, Any]) -> AccessRules:
    """Distances from edges and access paths from the table `access` of region data as in a region's file."""
    ridge, path = data.get("ridge"), data.get("path")
    kinds = [(kind, data[kind]) for kind in EDGE_KINDS if kind != "ridge" and data.get(kind) is not None]
    return AccessRules(
        edge=EdgeRule(float(data["edge_distance_m"]), _source(data)),
        ridge=ridge
        and RidgeRule(
            float(ridge["distance_m"]), _source(ridge), ridge.get("covered_share_max"), ridge.get("distance_above_m")
        ),
        kinds=tuple((kind, EdgeRule(float(rule["distance_m"]), _source(rule))) for kind, rule in kinds),
        path=path and PathRule(float(path["width_m"]), path["side"], _source(path)),
        cautions=tuple(map(_words, data.get("cautions") or ())),
    )


@cache
def conductor_tables() -> dict[str, ConductorTable]:
    """Standard copper conductors by the name of their table."""
    text = resources.files(__name__).joinpath("conductors", "copper.toml").read_text(encoding="utf-8")
    return {name: _table(name, table) for name, table in tomllib.loads(text).items()}


def _table(name: str, table: dict[str, Any]) -> ConductorTable:
    sizes = [row["size"] for row in table["conductors"]]
    thickest = sizes.index(table["thickest_in_a_breaker"]) if "thickest_in_a_breaker" in table else len(sizes)
    conductors = tuple(
        Conductor(
            size=row["size"],
            resistance_ohm_km=row["resistance_ohm_km"]
            if "resistance_ohm_km" in row
            else row["resistance_ohm_kft"] / M_PER_KFT * 1000.0,
            device_max_a=row.get("device_max_a"),
            fits_breaker=index <= thickest,
        )
        for index, row in enumerate(table["conductors"])
    )
    return ConductorTable(name, float(table["temp_c"]), conductors, _source(table))


@cache
def capacity_tables() -> dict[str, CapacityTable]:
    """Current-carrying capacities of copper conductors by the name of their table."""
    text = resources.files(__name__).joinpath("conductors", "capacities.toml").read_text(encoding="utf-8")
    return {name: _capacities(name, table) for name, table in tomllib.loads(text).items()}


def _capacities(name: str, table: dict[str, Any]) -> CapacityTable:
    def by_size(row: list[float]) -> dict[str, float]:
        return {size: float(capacity) for size, capacity in zip(table["sizes"], row, strict=False)}

    def pairs(rows: dict[str, list[float]] | None) -> tuple[tuple[float, float], ...]:
        return tuple((float(place), float(factor)) for place, factor in zip(*rows.values(), strict=True)) if rows else ()

    return CapacityTable(
        name=name,
        methods={
            method: InstallationMethod(
                method, each.get("in_ground", False), by_size(each["loaded_2"]), by_size(each["loaded_3"]), each["clause"]
            )
            for method, each in table["installations"].items()
        },
        reference_c=float(table["reference_c"]),
        ambient=pairs(table["ambient"]),
        ground=pairs(table.get("ground")),
        grouping=pairs(table["grouping"]),
        terminal_limits=tuple((float(up_to), by_size(row)) for up_to, row in table.get("terminal_limits", ())),
        source=_source(table),
    )


def _limit(entry: Mapping[str, Any], key: str) -> Limit:
    return Limit(_figure(entry, key), _source(entry))


def _route(route: Mapping[str, Any]) -> Route:
    return Route(
        code=route.get("code") or _slug(str(_words(route["name"]))),
        name=_words(route["name"]),
        phase_counts=tuple(route.get("phase_counts") or ()),
        current_per_phase_max_a=_figure(route, "current_per_phase_max_a"),
        power_per_phase_max_va=_figure(route, "power_per_phase_max_va"),
        power_total_max_va=_figure(route, "power_total_max_va"),
        export_per_phase_max_a=_figure(route, "export_per_phase_max_a"),
        asks_nobody=bool(route.get("asks_nobody")),
        is_plug_in=bool(route.get("is_plug_in")),
        several_premises=route.get("several_premises"),
        filings=tuple(
            Filing(_words(each["document"]), _words(each["when"]), each.get("stage") or "before_installation")
            for each in route["filings"]
        ),
        allows=_words(route["allows"]),
        source=_source(route),
    )


def _figure(entry: Mapping[str, Any], key: str) -> float | None:
    value = entry.get(key)
    return None if value is None else float(value)


Text = str | Mapping[str, str]
"""A text as a region's file has it: the same in every language, as a citation is, or one for each."""


def _words(text: Text) -> Given:
    return Cited(text) if isinstance(text, str) else Phrase(tuple(text.items()))


def _source(entry: Mapping[str, Any]) -> Given:
    parts = entry["clause"], entry["obtained"]
    clause, obtained = map(_words, parts)
    if all(isinstance(each, str) for each in parts):
        return Cited(f"{clause} ({obtained})")
    return Phrase(tuple((each, f"{clause.text_in(each)} ({obtained.text_in(each)})") for each in LANGUAGES))


def _slug(name: str) -> str:
    """A code from a name."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")


def require_languages() -> None:
    """Refuse to start while a text of a region's rules lacks a language.

    Raises
    ------
    RuntimeError
        Names region, language and text.
    """
    for region in regions():
        for text in _by_language(_region(region)):
            for language in LANGUAGES:
                if not text.get(language, "").strip():
                    raise RuntimeError(f"rules/{region}.toml has no words in {language} for {next(iter(text.values()))!r}")


def _by_language(node: Any) -> Iterator[Mapping[str, str]]:
    """Every text by language below a node of a region's data."""
    if isinstance(node, dict) and node and set(node) <= set(LANGUAGES):
        yield node
    elif isinstance(node, dict | list):
        for inner in node.values() if isinstance(node, dict) else node:
            yield from _by_language(inner)
