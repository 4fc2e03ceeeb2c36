"""The fit of the single diode to a datasheet: what it gives back, what it refuses, and a whole module list."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings

from tests.builders import numbers
from tests.unit.diodes import HIGH_VOLTAGE, MODULES, NO_SHUNT, ORDINARY, at, single
from tests.validation import module_list
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.module.single_diode import (
    GAMMA_RANGE_C,
    SixParameters,
    curve_at,
    fit,
    maximum_power,
    open_circuit_voltage,
    short_circuit_current,
)


@settings(max_examples=settings().max_examples * 2)
@given(numbers(0.3, 1.1), numbers(0.3, 1.1), numbers(-1.0, 0.1), numbers(-1.0, 0.1), numbers(0.5, 300.0))
def test_any_datasheet_is_reproduced_or_refused(
    voltage_share: float, current_share: float, beta: float, gamma: float, voltage_oc: float
) -> None:
    module = replace(
        ORDINARY,
        voltage_oc_v=voltage_oc,
        voltage_mp_v=voltage_oc * voltage_share,
        current_mp_a=ORDINARY.current_sc_a * current_share,
        power_w=voltage_oc * voltage_share * ORDINARY.current_sc_a * current_share,
        temp_coefficient_voc_percent_per_k=beta,
        temp_coefficient_pmp_percent_per_k=gamma,
    )
    named: set[str] | None = None
    try:
        fit(module)
    except DatasheetError as error:
        named = set(error.fields)
    if named is None:
        assert single(maximum_power(at(module)).power_w) == pytest.approx(module.power_w, rel=1e-9)
    else:
        assert set() < named <= set(Module.__dataclass_fields__)


@pytest.mark.parametrize("module", MODULES)
def test_fit_gives_the_datasheet_back(module: Module) -> None:
    curve = at(module)
    best = maximum_power(curve)
    assert single(best.voltage_v) == pytest.approx(module.voltage_mp_v, rel=1e-7)
    assert single(best.current_a) == pytest.approx(module.current_mp_a, rel=1e-7)
    assert single(best.power_w) == pytest.approx(module.voltage_mp_v * module.current_mp_a, rel=1e-10)
    assert single(open_circuit_voltage(curve)) == pytest.approx(module.voltage_oc_v, rel=1e-10)
    raised = 1.0 + fit(module).current_sc_raised_percent / 100.0
    assert single(short_circuit_current(curve)) == pytest.approx(module.current_sc_a * raised, rel=1e-6)


@pytest.mark.parametrize("module", MODULES)
def test_fit_honours_the_coefficients(module: Module) -> None:
    fitted = fit(module)
    step = 0.01
    curve = curve_at(fitted, irradiance_w_m2=1000.0, cell_temp_c=[25.0 - step, 25.0 + step])
    slope = np.diff(open_circuit_voltage(curve)).item() / (2.0 * step) / module.voltage_oc_v * 100.0
    adjust = fitted.adjust_percent / 100.0
    assert slope == pytest.approx(module.temp_coefficient_voc_percent_per_k * (1.0 + adjust), rel=1e-6)
    # Of the photocurrent: what the shunt takes at short circuit hardly changes.
    slope = np.diff(short_circuit_current(curve)).item() / (2.0 * step) / module.current_sc_a * 100.0
    assert slope == pytest.approx(module.temp_coefficient_isc_percent_per_k * (1.0 - adjust), rel=1e-2)
    cold, warm = maximum_power(curve_at(fitted, irradiance_w_m2=1000.0, cell_temp_c=GAMMA_RANGE_C)).power_w
    slope = (warm - cold) / 60.0 / (module.voltage_mp_v * module.current_mp_a) * 100.0
    assert slope == pytest.approx(module.temp_coefficient_pmp_percent_per_k, rel=1e-8)


@pytest.mark.parametrize("module", [ORDINARY, HIGH_VOLTAGE], ids=lambda module: module.name)
def test_parameters_are_physical(module: Module) -> None:
    fitted = fit(module)
    assert 20.0 < module.voltage_oc_v / fitted.a_ref_v < 32.0
    assert 0.05 < fitted.series_resistance_ohm < 0.5
    assert 50.0 < fitted.shunt_resistance_ref_ohm < 5000.0
    assert abs(fitted.adjust_percent) < 20.0
    assert fitted.current_sc_raised_percent == 0.0
    assert fit(replace(module)) is fitted, "computed once"


def test_without_room_for_a_shunt_the_short_circuit_current_is_raised() -> None:
    fitted = fit(NO_SHUNT)
    assert math.isinf(fitted.shunt_resistance_ref_ohm)
    assert 0.0 < fitted.current_sc_raised_percent < 3.0


RISING = {"temp_coefficient_pmp_percent_per_k": -1e-6, "temp_coefficient_isc_percent_per_k": -0.05}


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        # Fill factor 0.95.
        ({"voltage_mp_v": 39.5, "current_mp_a": 12.09, "power_w": 477.6}, "voltage_mp_v", "fill factor"),
        ({"voltage_mp_v": 67.4, "power_w": 796.7}, "voltage_mp_v", "0.5 to 1"),
        ({"current_mp_a": 12.47, "power_w": 420.2}, "current_mp_a", "0.5 to 1"),
        ({"current_mp_a": 5.0, "power_w": 168.5}, "current_mp_a", "0.5 to 1"),
        ({"power_w": 450.0}, "power_w", "rated power"),
        ({"voltage_oc_v": 0.0}, "voltage_oc_v", "above zero"),
        ({"current_sc_a": math.nan}, "current_sc_a", "finite"),
        ({"temp_coefficient_isc_percent_per_k": math.inf}, "temp_coefficient_isc_percent_per_k", "finite"),
        ({"temp_coefficient_voc_percent_per_k": 0.265}, "temp_coefficient_voc_percent_per_k", "below zero"),
        ({"temp_coefficient_pmp_percent_per_k": 0.0}, "temp_coefficient_pmp_percent_per_k", "below zero"),
        ({"temp_coefficient_pmp_percent_per_k": -0.95}, "temp_coefficient_pmp_percent_per_k", "power coefficient"),
        (RISING, "temp_coefficient_pmp_percent_per_k", "power coefficient"),
        ({"temp_coefficient_voc_percent_per_k": -0.08}, "temp_coefficient_voc_percent_per_k", "contradict"),
        ({"temp_coefficient_pmp_percent_per_k": -0.03}, "temp_coefficient_pmp_percent_per_k", "contradict"),
        ({"voltage_mp_v": 31.0, "current_mp_a": 12.45, "power_w": 386.0}, "current_mp_a", "too close"),
    ],
)
def test_impossible_datasheets_are_refused(changes: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(DatasheetError, match=words) as caught:
        fit(replace(ORDINARY, **changes))
    assert field in caught.value.fields


def refusing(module: Module) -> SixParameters:
    if module.current_sc_a > 9.0:
        raise DatasheetError("No.", ("current_sc_a",))
    return fit(module)


def with_power_coefficient(module: Module, factor: float) -> Module:
    return replace(module, temp_coefficient_pmp_percent_per_k=module.temp_coefficient_pmp_percent_per_k * factor)


FITS: dict[str, tuple[Callable[[Module], SixParameters], bool]] = {
    "as it is": (fit, True),
    "power coefficient 5 % higher": (lambda module: fit(with_power_coefficient(module, 1.05)), False),
    "series resistance 2 % higher": (
        lambda module: replace(fit(module), series_resistance_ohm=fit(module).series_resistance_ohm * 1.02), False,
    ),
    "shunt of 100 ohm": (lambda module: replace(fit(module), shunt_resistance_ref_ohm=100.0), False),
    "refuses some": (refusing, False),
}  # fmt: skip


@pytest.mark.parametrize(("fit_module", "passes"), FITS.values(), ids=FITS)
def test_a_published_module_list_tells_a_right_fit_from_a_wrong_one(
    fit_module: Callable[[Module], SixParameters], passes: bool
) -> None:
    assert module_list.run(rows=60, fit_module=fit_module).passed == passes
