"""The DC side of an input: modules in series and in parallel, bifacial modules, and what a high or a close voltage asks for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, strategies as st

from tests.builders import FACE, MODULE, UNLIMITED, numbers, real_response, real_year
from tests.selection_cases import amsterdam_year, offer, request
from tests.validation.yields import module_420
from wattpair_service.engineering.energy.energy_balance import pairing_year
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import ONE_MODULE, InputWiring, Microinverter, Module, Wiring
from wattpair_service.engineering.inverter.electrical_checks import (
    SITE_RECORD_CHECK,
    SMALL_MARGIN_SHARE,
    ElectricalCheck,
    check_pairing,
    coefficient_voltage,
    is_buildable,
    verdict_of,
)
from wattpair_service.engineering.irradiance.plane_of_array import plane_of_array
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS
from wattpair_service.engineering.module.dc_response import DcResponse, dc_response
from wattpair_service.engineering.module.rear_irradiance import REAR_SIDES, rear_current_factor, rear_gain
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.selection import NEEDS_SITE_RECORD, SelectionResult, selection
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.site import DesignTemperatures
from wattpair_service.rules import electrical_rules, regions
from wattpair_service.words.catalogue import english

ROOMY = replace(UNLIMITED, modules_per_input_max=4, dc_voltage_max_v=400.0)
CURRENTS = {"short_circuit_current", "operating_current"}
KNOWN = DesignTemperatures(-15.0, Cited("a test"), 38.0, Cited("a test"))
SEVERITY = {"ok": 0, "caution": 1, "fail": 2}


def checks(
    unit: Microinverter = ROOMY,
    *,
    module: Module = MODULE,
    wiring: InputWiring = ONE_MODULE,
    design: DesignTemperatures = KNOWN,
    region: str = "international",
    **changes: Any,
) -> dict[str, ElectricalCheck]:
    found = check_pairing(
        module=module,
        parameters=fit(module),
        microinverter=unit,
        design=design,
        mountings=frozenset({"close_roof"}),
        rules=electrical_rules(region),
        by_table=False,
        input_wiring=wiring,
        site_irradiance_w_m2={},
        **changes,
    )
    return {check.name: check for check in found}


def verdict(found: dict[str, ElectricalCheck]) -> int:
    return SEVERITY[verdict_of(tuple(found.values()))]


def test_two_modules_in_parallel_carry_twice_the_current() -> None:
    """14.24 A twice on one input: 35.6 A with the factor 1.25 (IEC 62548-1), not the 17.8 A of a module alone."""
    module = replace(MODULE, current_sc_a=14.24)
    one, two = checks(module=module), checks(module=module, wiring=InputWiring(2, "parallel"))
    assert one["short_circuit_current"].value == pytest.approx(17.8)
    assert two["short_circuit_current"].value == pytest.approx(35.6)
    assert "2 modules in parallel" in english(two["short_circuit_current"].explanation)
    assert two["short_circuit_current"].verdict == "ok"
    tight = replace(ROOMY, dc_short_circuit_current_max_a=25.0)
    assert checks(tight, module=module)["short_circuit_current"].verdict == "ok"
    assert checks(tight, module=module, wiring=InputWiring(2, "parallel"))["short_circuit_current"].verdict == "fail"


@pytest.mark.parametrize(
    ("mounting", "current_a"),
    [("close_roof", 20.475), ("insulated_back", 20.475), ("open_rack", 25.35), ("open_rack_faiman", 25.35)],
)
def test_irradiance_on_the_back_counts_in_the_currents(mounting: str, current_a: float) -> None:
    """15.6 A on a 20 A input: 19.5 A passes, and fails with the factors for a bifacial module, 1.05 flush and 1.30 tilted."""
    module, unit = replace(MODULE, current_sc_a=15.6, bifaciality=0.75), replace(ROOMY, dc_short_circuit_current_max_a=20.0)
    assert checks(unit, module=module)["short_circuit_current"].value == pytest.approx(19.5)
    assert checks(unit, module=module)["short_circuit_current"].verdict == "ok"
    factor = rear_current_factor(module.bifaciality, [mounting], ())
    found = checks(unit, module=module, rear_current_factor=factor)["short_circuit_current"]
    assert found.value == pytest.approx(current_a)
    assert found.verdict == "fail"
    assert "irradiance on the back" in english(found.explanation)
    assert "bifacial modules: 1.05 close to the roof, 1.30 on open racks" in english(found.source)


def test_the_larger_of_the_mountings_factor_and_the_given_irradiance_counts() -> None:
    bright = replace(FACE, rear_irradiance_share=0.6)
    assert rear_current_factor(0.8, ["close_roof"], [bright]) == pytest.approx(1.48)
    assert rear_current_factor(0.8, ["close_roof"], [replace(FACE, rear_irradiance_share=0.01)]) == 1.05
    assert rear_current_factor(0.8, ["close_roof", "open_rack"], [FACE]) == 1.30
    assert rear_current_factor(0.0, MOUNTINGS, [bright]) == 1.0
    assert REAR_SIDES.keys() == MOUNTINGS.keys()


def response_of(bifaciality: float, **face: Any) -> DcResponse:
    changed = replace(FACE, **face)
    plane = plane_of_array(real_year(), changed, transposition="perez_1990")
    return dc_response(real_year(), plane, face=changed, parameters=fit(MODULE), bifaciality=bifaciality)


@pytest.mark.parametrize("face", [{"mounting": "open_rack"}, {"rear_irradiance_share": 0.3}, {}], ids=str)
def test_a_module_that_is_not_bifacial_is_unchanged(face: dict[str, Any]) -> None:
    plain = real_response(replace(FACE, mounting=face.get("mounting", FACE.mounting)))
    np.testing.assert_array_equal(response_of(0.0, **face).maximum_power.power_w, plain.maximum_power.power_w)
    np.testing.assert_array_equal(response_of(0.0, **face).temp_cell_c, plain.temp_cell_c)


def test_irradiance_on_the_back_adds_energy_less_the_heat() -> None:
    """0.8 of 5 % more irradiance gives less than 4 % more power, as the cells are warmer."""
    bare, bifacial = response_of(0.0, mounting="open_rack"), response_of(0.8, mounting="open_rack")
    bare_wh, bifacial_wh = (float(each.maximum_power.power_w @ each.weight_h) for each in (bare, bifacial))
    assert 1.03 < bifacial_wh / bare_wh < 1.045
    assert np.all(bifacial.temp_cell_c >= bare.temp_cell_c)
    np.testing.assert_array_equal(bifacial.irradiance_w_m2, bare.irradiance_w_m2)
    close = response_of(0.8)
    np.testing.assert_array_equal(close.maximum_power.power_w, response_of(0.0).maximum_power.power_w)
    assert rear_gain(0.8, replace(FACE, rear_irradiance_share=0.2)) == pytest.approx(1.16)


def test_every_part_of_a_year_knows_the_back() -> None:
    cache, face = FaceCache(amsterdam_year(), "perez_1990"), replace(FACE, rear_irradiance_share=0.1)
    powers = [
        float(cache.subhourly_response(face, fit(MODULE), -0.0034, bifaciality).maximum_power.power_w.sum())
        for bifaciality in (0.0, 0.7)
    ]
    assert 1.05 < powers[1] / powers[0] < 1.08


@pytest.mark.parametrize("inputs", [1, 2])
def test_modules_in_parallel_share_the_input_current_at_their_own_voltage(inputs: int) -> None:
    """Two modules in parallel on an input of 20 A deliver what two on inputs of 10 A each do, and twice what one does."""
    apart = replace(UNLIMITED, ac_power_w=700.0, ac_peak_power_w=700.0, dc_current_max_a=10.0, input_count=2 * inputs)
    joined = replace(apart, dc_current_max_a=20.0, input_count=inputs)
    years = [
        pairing_year(real_response(), unit, input_wiring=wiring).year
        for unit, wiring in ((apart, ONE_MODULE), (joined, InputWiring(2, "parallel")))
    ]
    assert years[0].input_current_limit_kwh > 1.0
    assert years[1] == years[0]
    in_series = pairing_year(real_response(), joined, input_wiring=InputWiring(2, "series")).year
    assert in_series.input_current_limit_kwh < years[1].input_current_limit_kwh


@pytest.mark.parametrize(
    ("in_parallel", "rating_a", "expected"),
    [
        (2, 25.0, "ok"),
        (2, 17.0, "fail"),
        (3, 30.0, "fail"),
        (3, 35.0, "ok"),
        (3, None, "caution"),
        (2, None, None),
        (1, 14.0, None),
    ],
)  # fmt: skip
def test_what_the_others_feed_into_a_faulty_module(in_parallel: int, rating_a: float | None, expected: str | None) -> None:
    """(n - 1) x 1.25 x Isc against the module's series fuse: 17.3 A for two modules of 13.86 A, 34.7 A for three."""
    module = replace(MODULE, series_fuse_rating_a=rating_a)
    found = checks(module=module, wiring=InputWiring(in_parallel, "parallel")).get("module_series_fuse")
    assert (found and found.verdict) == expected
    if found is not None:
        assert found.value == pytest.approx((in_parallel - 1) * 1.25 * 13.86)


@pytest.mark.parametrize("region", regions())
@pytest.mark.parametrize(("wiring", "expected"), [(InputWiring(2), "caution"), (InputWiring(2, "parallel"), None)])
def test_above_80_v_the_unit_alone_does_not_settle_arc_fault_and_shutdown(
    region: str, wiring: InputWiring, expected: str | None
) -> None:
    found = checks(wiring=wiring, region=region).get("arc_fault_and_rapid_shutdown")
    assert (found and found.verdict) == expected
    if found is not None:
        assert found.value == pytest.approx(2.0 * coefficient_voltage(37.6, -0.27, -15.0))
        assert found.limit == 80.0
        named = "690.11 and 690.12(B)(2)" if region == "united_states" else "from memory"
        assert named in english(found.source)


def test_a_single_module_of_high_voltage_is_told_too() -> None:
    high = replace(MODULE, voltage_oc_v=75.2, voltage_mp_v=62.8, current_sc_a=6.93, current_mp_a=6.535)
    assert checks(module=high)["arc_fault_and_rapid_shutdown"].verdict == "caution"
    low = replace(MODULE, voltage_oc_v=33.0, voltage_mp_v=28.0, current_sc_a=15.6, current_mp_a=14.66)
    assert checks(module=low, wiring=InputWiring(2))["arc_fault_and_rapid_shutdown"].verdict == "ok"


ESTIMATED = DesignTemperatures(-15.0, Cited("a map"), 38.0, Cited("a map"), lowest_estimated=True)
COLD_V = coefficient_voltage(37.6, -0.27, -15.0)


@pytest.mark.parametrize(
    ("over_limit", "estimated", "buildable"),
    [
        (0.96, True, True),
        (0.975, True, False),
        (0.999, True, False),
        (1.001, True, False),
        (0.975, False, True),
        (1.001, False, False),
    ],
)
def test_no_pairing_near_the_limit_is_built_on_an_estimate(over_limit: float, estimated: bool, buildable: bool) -> None:
    unit = replace(ROOMY, dc_voltage_max_v=COLD_V / over_limit)
    found = checks(unit, design=replace(ESTIMATED, lowest_estimated=estimated))
    assert is_buildable(tuple(found.values())) == buildable
    near = 1.0 - SMALL_MARGIN_SHARE < over_limit <= 1.0
    assert (SITE_RECORD_CHECK in found) == (near and estimated)
    assert found["open_circuit_voltage_cold"].verdict == ("fail" if over_limit > 1.0 else "caution" if near else "ok")
    if SITE_RECORD_CHECK in found:
        assert "site.temp_lowest_c" in english(found[SITE_RECORD_CHECK].explanation)


def select_at(design: DesignTemperatures, *voltages_max_v: float) -> SelectionResult:
    units = [offer(330.0 + n, 100.0, name=f"unit {n}", dc_voltage_max_v=limit_v) for n, limit_v in enumerate(voltages_max_v)]
    year = replace(amsterdam_year(), design_temperatures=design)
    return selection(request(*units), electrical_rules("international"), year)


def test_a_selection_waits_for_the_sites_own_record_low() -> None:
    close_v = coefficient_voltage(module_420().voltage_oc_v, -0.26, -15.0) / 0.985
    alone = select_at(ESTIMATED, close_v)
    assert alone.recommendation.microinverter is None
    assert alone.recommendation.sentence == NEEDS_SITE_RECORD
    (change,) = alone.what_would_have_to_change
    assert change.check == SITE_RECORD_CHECK
    assert "give the site's own record low as site.temp_lowest_c" in english(change.sentence)
    both = select_at(ESTIMATED, close_v, 120.0)
    assert [each.rank for each in both.candidates] == [None, 1]
    assert (both.candidates[0].verdict, both.candidates[0].energy) == ("caution", None)
    assert SITE_RECORD_CHECK in {check.name for check in both.candidates[0].reasons}
    known = select_at(replace(ESTIMATED, lowest_estimated=False), close_v, 120.0)
    assert sorted(each.rank or 0 for each in known.candidates) == [1, 2]


def test_the_american_code_names_its_own_temperature() -> None:
    design = DesignTemperatures(-20.5, Cited("a station"), 38.0, Cited("a station"), mean_yearly_lowest_c=-14.4)
    found = checks(design=design, region="united_states")["open_circuit_voltage_cold"]
    assert found.value == pytest.approx(coefficient_voltage(37.6, -0.27, -20.5))
    assert "extreme annual mean minimum design dry-bulb temperature" in english(found.explanation)
    assert "-14.4 degC at the station" in english(found.explanation)
    assert "code itself" not in english(checks(design=design)["open_circuit_voltage_cold"].explanation)


UNITS = st.builds(
    lambda inputs, most, voltage_v, current_a, short_a, window_v: replace(
        UNLIMITED,
        input_count=inputs,
        modules_per_input_max=most,
        dc_voltage_max_v=voltage_v,
        dc_operating_voltage_max_v=min(window_v, voltage_v),
        dc_full_power_voltage_max_v=min(window_v, voltage_v),
        dc_current_max_a=current_a,
        dc_short_circuit_current_max_a=short_a,
    ),
    st.sampled_from([1, 2, 4]),
    st.integers(1, 4),
    numbers(35.0, 200.0),
    numbers(5.0, 60.0),
    numbers(5.0, 100.0),
    numbers(30.0, 200.0),
)
WIRINGS: st.SearchStrategy[Wiring] = st.sampled_from(["series", "parallel"])
LIMITED_ABOVE = {
    "open_circuit_voltage_cold", "short_circuit_current", "modules_per_input", "mp_voltage_cold_operating_window",
    "mp_voltage_cold_full_power_window", "operating_current", "module_series_fuse", "arc_fault_and_rapid_shutdown",
}  # fmt: skip
"""Checks that more modules or a colder site can only make worse; those of heat and start may become better."""


def worst(found: dict[str, ElectricalCheck]) -> int:
    return max(SEVERITY[check.verdict] for name, check in found.items() if name in LIMITED_ABOVE)


@given(UNITS, WIRINGS, st.integers(1, 3), numbers(-40.0, 10.0), numbers(0.0, 20.0), st.booleans())
def test_neither_cold_nor_more_modules_make_a_failing_pairing_pass(
    unit: Microinverter, wiring: Wiring, modules: int, lowest_c: float, colder_k: float, estimated: bool
) -> None:
    def at(count: int, temp_c: float) -> dict[str, ElectricalCheck]:
        design = DesignTemperatures(temp_c, Cited("a test"), 38.0, Cited("a test"), lowest_estimated=estimated)
        return checks(unit, wiring=InputWiring(count, wiring), design=design)

    here, colder, more = at(modules, lowest_c), at(modules, lowest_c - colder_k), at(modules + 1, lowest_c)
    assert worst(here) <= worst(colder)
    assert worst(here) <= worst(more)
    for name in ("open_circuit_voltage_cold", "short_circuit_current", "modules_per_input"):
        assert SEVERITY[here[name].verdict] <= min(SEVERITY[colder[name].verdict], SEVERITY[more[name].verdict])


@given(UNITS, st.integers(2, 4), numbers(1.0, 1.5))
def test_currents_follow_modules_in_parallel_and_voltages_those_in_series(
    unit: Microinverter, modules: int, rear: float
) -> None:
    one = checks(unit, rear_current_factor=rear)
    parallel, series = (
        checks(unit, wiring=InputWiring(modules, wiring), rear_current_factor=rear) for wiring in ("parallel", "series")
    )
    for name, check in one.items():
        if name in CURRENTS:
            assert parallel[name].value == pytest.approx(modules * check.value)
            assert series[name].value == check.value
        elif "voltage" in name:
            assert parallel[name].value == check.value
            assert series[name].value == pytest.approx(modules * check.value)
    assert parallel["dc_ac_ratio_stc"].value == series["dc_ac_ratio_stc"].value


@given(UNITS, WIRINGS, st.integers(1, 4), st.integers(1, 4))
def test_a_pairing_that_passes_has_no_input_above_its_rating(
    unit: Microinverter, wiring: Wiring, modules: int, bifacial_tenths: int
) -> None:
    module = replace(MODULE, bifaciality=bifacial_tenths / 10.0, series_fuse_rating_a=25.0)
    factor = rear_current_factor(module.bifaciality, ["open_rack"], ())
    on_input = InputWiring(modules, wiring)
    found = checks(unit, module=module, wiring=on_input, rear_current_factor=factor)
    if verdict(found) == SEVERITY["fail"]:
        return
    current_a = module.current_sc_a * on_input.in_parallel * 1.30 * 1.25
    assert current_a <= unit.dc_short_circuit_current_max_a
    assert on_input.in_series * COLD_V <= unit.dc_voltage_max_v
    assert (on_input.in_parallel - 1) * module.current_sc_a * 1.30 * 1.25 <= 25.0
    assert modules <= unit.modules_per_input_max
