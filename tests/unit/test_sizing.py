"""Electrical checks of many pairings at a site."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.builders import FACE, MODULE, UNLIMITED, real_response, real_year, site_year_of
from wattpair_service.engineering.equipment import ONE_MODULE
from wattpair_service.engineering.errors import DatasheetError, EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import ElectricalRules
from wattpair_service.engineering.inverter.sizing import SizingRequest, sizing
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.site import DesignTemperatures
from wattpair_service.rules import electrical_rules

DESIGN = DesignTemperatures(-18.0, Cited("a test"), 38.0, Cited("another test"))
UNSAFE = replace(UNLIMITED, name="unsafe", dc_voltage_max_v=35.0)
TIGHT = replace(UNLIMITED, name="tight", dc_current_max_a=9.0)
REQUEST = SizingRequest(
    module=MODULE,
    microinverters=(UNLIMITED, UNSAFE, TIGHT),
    mounting="close_roof",
    input_wiring=ONE_MODULE,
    cold_voltage_by_table=False,
    faces=(),
    transposition="perez_1990",
)
INTERNATIONAL, UNITED_STATES = electrical_rules("international"), electrical_rules("united_states")


def test_each_pairing_has_the_worst_verdict_of_its_checks() -> None:
    result = sizing(REQUEST, INTERNATIONAL, DESIGN, None)
    verdicts = {pairing.microinverter: pairing.verdict for pairing in result.pairings}
    assert verdicts == {"unlimited": "ok", "unsafe": "fail", "tight": "caution"}
    assert result.design_temperatures == DESIGN


@pytest.mark.parametrize(
    ("check", "colder", "hotter"), [("open_circuit_voltage_cold", 1, 0), ("mp_voltage_hot_operating_window", 0, -1)]
)
def test_each_design_temperature_changes_its_own_checks(check: str, colder: int, hotter: int) -> None:
    def value(design: DesignTemperatures) -> float:
        return next(
            each.value for each in sizing(REQUEST, INTERNATIONAL, design, None).pairings[0].checks if each.name == check
        )

    cold, hot = value(replace(DESIGN, lowest_c=-30.0)), value(replace(DESIGN, highest_c=48.0))
    assert (np.sign(cold - value(DESIGN)), np.sign(hot - value(DESIGN))) == (colder, hotter)


def test_the_ratio_at_the_sites_irradiance_is_of_its_faces() -> None:
    north = replace(FACE, name="north", azimuth_deg=0.0)
    result = sizing(replace(REQUEST, faces=(FACE, north)), INTERNATIONAL, DESIGN, site_year_of(real_year()))
    found = {check.face: check.value for check in result.pairings[0].checks if check.name == "dc_ac_ratio_site_irradiance"}
    assert list(found) == ["roof", "north"]
    assert found["north"] < found["roof"]
    light = real_response().energy_weighted_irradiance_w_m2
    assert found["roof"] == pytest.approx(MODULE.power_w / 1000.0 * light / 1000.0, rel=0.05)


NO_DIODE = replace(MODULE, temp_coefficient_pmp_percent_per_k=-0.9)
CONTRADICTING = (*(f"module/temp_coefficient_{each}_percent_per_k" for each in ("voc", "isc", "pmp")),)
COLDER = replace(DESIGN, lowest_c=-40.5)


@pytest.mark.parametrize(
    ("changes", "rules", "design", "named", "says"),
    [
        ({"cold_voltage_by_table": True}, INTERNATIONAL, DESIGN, ("cold_voltage_method",), "international have no table"),
        ({"cold_voltage_by_table": True}, UNITED_STATES, COLDER, ("site/temp_lowest_c",), "at least -40"),
        ({"module": NO_DIODE}, INTERNATIONAL, DESIGN, CONTRADICTING, "contradict"),
    ],
    ids=["no table", "colder than the table", "no diode"],
)
def test_what_cannot_be_checked_is_refused(
    changes: dict[str, Any], rules: ElectricalRules, design: DesignTemperatures, named: tuple[str, ...], says: str
) -> None:
    with pytest.raises((EngineeringError, DatasheetError), match=says) as error:
        sizing(replace(REQUEST, **changes), rules, design, None)
    assert error.value.fields == named


def test_the_table_is_used_down_to_its_end() -> None:
    request = replace(REQUEST, cold_voltage_by_table=True)
    result = sizing(request, UNITED_STATES, replace(DESIGN, lowest_c=-40.0), None)
    assert result.pairings[0].checks[0].value == pytest.approx(37.6 * 1.25)
