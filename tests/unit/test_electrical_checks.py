from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given

from tests.builders import MODULE, UNLIMITED, numbers
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Microinverter, Module, ThermalDerating
from wattpair_service.engineering.inverter.electrical_checks import (
    ElectricalCheck,
    Verdict,
    check_pairing,
    table_voltage,
    verdict_of,
)
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.site import DesignTemperatures
from wattpair_service.rules import electrical_rules
from wattpair_service.words.catalogue import english

ROOMY = replace(UNLIMITED, modules_per_input_max=4)
TABLE = electrical_rules("united_states").cold_voltage_factors or ()


def at(lowest_c: float, highest_c: float) -> DesignTemperatures:
    return DesignTemperatures(lowest_c, Cited("a test"), highest_c, Cited("a test"))


BASE: dict[str, Any] = {
    "design": at(-15.0, 38.0),
    "mountings": frozenset({"close_roof"}),
    "rules": electrical_rules("united_states"),
    "by_table": False,
    "input_wiring": ONE_MODULE,
    "site_irradiance_w_m2": {},
}


def checks(unit: Microinverter = ROOMY, *, module: Module = MODULE, **changes: object) -> dict[str, ElectricalCheck]:
    found = check_pairing(module=module, parameters=fit(module), microinverter=unit, **(BASE | changes))
    return {f"{check.name} {check.face or ''}".strip(): check for check in found}


UPPER, LOWER = 1.0, -1.0
COLD_VOLTAGE = "open_circuit_voltage_cold"
HOT_WINDOW = "mp_voltage_hot_operating_window"
LIMITS: dict[str, tuple[str, float, Verdict]] = {
    "open_circuit_voltage_cold": ("dc_voltage_max_v", UPPER, "fail"),
    "short_circuit_current": ("dc_short_circuit_current_max_a", UPPER, "fail"),
    "mp_voltage_cold_operating_window": ("dc_operating_voltage_max_v", UPPER, "caution"),
    "mp_voltage_cold_full_power_window": ("dc_full_power_voltage_max_v", UPPER, "caution"),
    "mp_voltage_hot_full_power_window": ("dc_full_power_voltage_min_v", LOWER, "caution"),
    "mp_voltage_hot_operating_window": ("dc_operating_voltage_min_v", LOWER, "caution"),
    "start_voltage_hot": ("dc_start_voltage_v", LOWER, "fail"),
    "start_voltage_low_light": ("dc_start_voltage_v", LOWER, "caution"),
    "operating_current": ("dc_current_max_a", UPPER, "caution"),
}


@pytest.mark.parametrize(("name", "field", "side", "beyond"), [(name, *limit) for name, limit in LIMITS.items()], ids=LIMITS)
def test_a_check_on_both_sides_of_its_limit(name: str, field: str, side: float, beyond: Verdict) -> None:
    value = checks()[name].value
    # A cold voltage near the absolute limit is a caution of its own.
    room = 1.0 / 0.97 if name == COLD_VOLTAGE else 1.0
    limits: list[dict[str, Any]] = [{field: value * room * (1.0 + side * 1e-6)}, {field: value * (1.0 - side * 1e-6)}]
    safe, unsafe = (checks(replace(ROOMY, **limit))[name] for limit in limits)
    assert (safe.verdict, unsafe.verdict) == ("ok", beyond)
    assert safe.limit == limits[0][field]
    assert safe.margin is not None
    assert unsafe.margin is not None
    assert safe.margin > 0.0 > unsafe.margin
    if name == COLD_VOLTAGE:
        assert checks(replace(ROOMY, dc_voltage_max_v=value * room * (1.0 - 1e-6)))[name].verdict == "caution"


@pytest.mark.parametrize(("in_series", "verdict"), [(1, "ok"), (2, "ok"), (3, "fail")])
def test_modules_on_one_input(in_series: int, verdict: Verdict) -> None:
    unit = replace(ROOMY, modules_per_input_max=2)
    assert checks(unit, input_wiring=InputWiring(in_series))["modules_per_input"].verdict == verdict


def test_modules_in_series_add_their_voltages_but_not_their_currents() -> None:
    one, two = checks(), checks(input_wiring=InputWiring(2))
    assert set(one) == {*LIMITS, "modules_per_input", "dc_ac_ratio_stc"} == set(two) - {"arc_fault_and_rapid_shutdown"}
    assert {check.verdict for check in one.values()} == {"ok"}
    for name in LIMITS:
        factor = 1.0 if "current" in name else 2.0
        assert two[name].value == pytest.approx(factor * one[name].value)
    assert two["dc_ac_ratio_stc"].value == pytest.approx(2.0 * one["dc_ac_ratio_stc"].value)


def test_values_by_hand() -> None:
    found = checks(site_irradiance_w_m2={"south": 1000.0, "north": 400.0})
    assert found["short_circuit_current"].value == pytest.approx(13.86 * 1.25)
    assert found["dc_ac_ratio_stc"].value == pytest.approx(410.4 / 1000.0)
    assert checks(replace(ROOMY, input_count=4))["dc_ac_ratio_stc"].value == pytest.approx(410.4 / 250.0)
    assert found["dc_ac_ratio_site_irradiance south"].value == pytest.approx(found["dc_ac_ratio_stc"].value, rel=1e-3)
    assert found["dc_ac_ratio_site_irradiance north"].value < 0.45 * found["dc_ac_ratio_stc"].value
    assert found["dc_ac_ratio_site_irradiance north"].limit is None
    assert found[HOT_WINDOW].value < MODULE.voltage_mp_v < found["mp_voltage_cold_operating_window"].value


@pytest.mark.parametrize("by_table", [False, True])
@given(lowest_c=numbers(-40.0, 39.0), warmer_k=numbers(0.0, 30.0))
def test_a_warmer_site_never_raises_the_cold_voltage(by_table: bool, lowest_c: float, warmer_k: float) -> None:
    here, there = (checks(design=at(c, 60.0), by_table=by_table) for c in (lowest_c, lowest_c + warmer_k))
    assert there[COLD_VOLTAGE].value <= here[COLD_VOLTAGE].value


@given(numbers(10.0, 50.0), numbers(0.1, 10.0))
def test_a_hotter_site_never_raises_a_hot_voltage(highest_c: float, hotter_k: float) -> None:
    here, there = checks(design=at(-15.0, highest_c)), checks(design=at(-15.0, highest_c + hotter_k))
    for name in ("start_voltage_hot", "start_voltage_low_light", HOT_WINDOW):
        assert there[name].value < here[name].value


def test_the_hottest_mounting_counts_on_the_hot_side_only() -> None:
    by_mounting = {mounting: checks(mountings=frozenset({mounting})) for mounting in MOUNTINGS}
    assert len({found[HOT_WINDOW].value for found in by_mounting.values()}) == len(MOUNTINGS)
    assert len({found[COLD_VOLTAGE].value for found in by_mounting.values()}) == 1
    both = checks(mountings=frozenset({"open_rack", "insulated_back"}))[HOT_WINDOW].value
    assert both == by_mounting["insulated_back"][HOT_WINDOW].value < by_mounting["open_rack"][HOT_WINDOW].value


# Lower edge of each band, coldest last, and its factor.
BANDS = [
    (25.0, 1.0), (20.0, 1.02), (15.0, 1.04), (10.0, 1.06), (5.0, 1.08), (0.0, 1.10), (-5.0, 1.12), (-10.0, 1.14),
    (-15.0, 1.16), (-20.0, 1.18), (-25.0, 1.20), (-30.0, 1.21), (-35.0, 1.23), (-40.0, 1.25),
]  # fmt: skip


@pytest.mark.parametrize(("band", "colder"), list(pairwise(BANDS)), ids=str)
def test_table_factors_at_each_edge(band: tuple[float, float], colder: tuple[float, float]) -> None:
    edge_c, factor = band
    assert table_voltage(100.0, TABLE, edge_c) == pytest.approx(100.0 * factor)
    assert table_voltage(100.0, TABLE, edge_c + 0.5) == pytest.approx(100.0 * factor)
    assert table_voltage(100.0, TABLE, edge_c - 0.1) == pytest.approx(100.0 * colder[1])


def test_the_table_ends_at_its_coldest_band() -> None:
    assert table_voltage(100.0, TABLE, -40.0) == pytest.approx(125.0)
    with pytest.raises(ValueError, match="ends at -40 degC"):
        table_voltage(100.0, TABLE, -40.1)


def test_the_larger_of_table_and_own_coefficient_counts() -> None:
    by_table, by_coefficient = checks(by_table=True)[COLD_VOLTAGE], checks()[COLD_VOLTAGE]
    assert by_table.value == pytest.approx(37.6 * 1.16)
    assert "table of factors" in english(by_table.source)
    assert by_coefficient.value == pytest.approx(37.6 * (1.0 + 0.0027 * 40.0))
    assert "own coefficient" in english(by_coefficient.source)
    steep = replace(MODULE, temp_coefficient_voc_percent_per_k=-0.45)
    found = [checks(module=steep, design=at(-40.0, 38.0), by_table=by_table)[COLD_VOLTAGE].value for by_table in (True, False)]
    assert found == pytest.approx([37.6 * (1.0 + 0.0045 * 65.0)] * 2)


@pytest.mark.parametrize(
    ("verdicts", "worst"), [(["ok"], "ok"), (["ok", "caution"], "caution"), (["caution", "fail", "ok"], "fail")]
)
def test_the_worst_verdict_counts(verdicts: list[Any], worst: Verdict) -> None:
    one = checks()["dc_ac_ratio_stc"]
    assert verdict_of(tuple(replace(one, verdict=verdict) for verdict in verdicts)) == worst


def test_the_start_must_reach_the_operating_window_too() -> None:
    unit = replace(ROOMY, dc_start_voltage_v=20.0, dc_operating_voltage_min_v=33.0, dc_full_power_voltage_min_v=33.0)
    assert checks(unit)["start_voltage_hot"].limit == 33.0
    assert checks(unit)["start_voltage_hot"].verdict == "fail"


def test_heat_is_checked_where_the_datasheet_has_a_derating() -> None:
    assert "shutdown_temperature" not in checks()
    warm = replace(ROOMY, derating=ThermalDerating(50.0, 2.0, 90.0))
    assert checks(warm)["derating_temperature"].verdict == "caution"
    assert checks(warm)["shutdown_temperature"].verdict == "ok"
    off = replace(ROOMY, derating=ThermalDerating(30.0, 2.0, 40.0))
    assert checks(off)["shutdown_temperature"].verdict == "fail"
