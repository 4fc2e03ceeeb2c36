"""The one definition of a year: its steps by hand, modules of other currents, and what condensed points cost of it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, strategies as st

from tests.builders import microinverters, numbers, response_at
from tests.selection_cases import amsterdam_year
from tests.validation.yields import module_420, roof_face, unit
from wattpair_service.engineering.energy.condensed_points import condensed
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.energy.roof_dc import RoofDc, roof_dc
from wattpair_service.engineering.equipment import InputWiring, Microinverter, ThermalDerating
from wattpair_service.engineering.inverter.conversion import LossCurve
from wattpair_service.engineering.inverter.power_steps import derating_factor, power_steps
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.single_diode import current_at_voltage, fit, scaled, voltage_at_current

CONDENSED_MISSES = [(False, 6e-4, 3e-4), (True, 4e-3, 4e-3)]
"""Whether moments are kept together, and what condensed points may miss of the energy before the AC limit and of clipping."""


@cache
def dc_of(*azimuths: float) -> RoofDc:
    """A roof with what happens inside the hours."""
    faces: tuple[Face, ...] = tuple(roof_face(azimuth) for azimuth in azimuths)
    cache = FaceCache(amsterdam_year(), "perez_1990")
    return roof_dc(cache, faces=faces, module=module_420(), parameters=fit(module_420()))


def test_no_step_adds_power_and_each_limit_holds() -> None:
    response, hot = dc_of(100.0, 200.0).response, ThermalDerating(30.0, 3.0, 45.0)
    given_unit = replace(
        unit(300.0), ac_peak_power_w=320.0, dc_operating_voltage_min_v=31.0, dc_operating_voltage_max_v=36.0,
        dc_start_voltage_v=34.0, start_power_w=4.0, dc_current_max_a=9.0, derating=hot,
    )  # fmt: skip
    steps = power_steps(response, given_unit)
    powers = [steps.available_w, steps.at_input_w, steps.converted_w, steps.limited_w, steps.delivered_w]
    for before, after in pairwise(powers):
        assert np.all(after <= before)
    for loss in (steps.start_up, steps.voltage_window, steps.input_current):
        assert loss.power_w.min() >= 0.0
        assert loss.power_w.sum() > 0.0
    taken = steps.available_w.copy()
    for loss in (steps.start_up, steps.voltage_window, steps.input_current):
        np.subtract.at(taken, loss.index, loss.power_w)
    np.testing.assert_allclose(taken, steps.at_input_w, atol=1e-9)
    weak = (response.voltage_oc_v < 34.0) | (response.maximum_power.power_w < 4.0)
    np.testing.assert_array_equal(steps.start_up.index, np.flatnonzero(weak))
    limit = np.where(response.is_surge, 320.0, 300.0)
    np.testing.assert_array_equal(steps.limited_w, np.minimum(steps.converted_w, limit))
    left = derating_factor(hot, response.temp_under_module_c)
    np.testing.assert_array_equal(steps.delivered_w, np.minimum(steps.limited_w, limit * left))


def test_a_limit_moves_the_point_along_its_own_curve() -> None:
    response = response_at([1000.0, 500.0])
    curve, best = response.curve, response.maximum_power
    held = power_steps(response, replace(unit(600.0, 100.0), dc_operating_voltage_min_v=33.0))
    expected = 33.0 * current_at_voltage(curve, 33.0)
    np.testing.assert_allclose(held.at_input_w, expected)
    assert np.all(expected < best.power_w)
    limited = power_steps(response, replace(unit(600.0, 100.0), dc_current_max_a=10.0))
    np.testing.assert_allclose(limited.at_input_w, [10.0 * voltage_at_current(curve, 10.0)[0], best.power_w[1]])
    # No voltage of the window lets so little current through.
    shut = power_steps(response, replace(unit(600.0, 100.0), dc_current_max_a=10.0, dc_operating_voltage_max_v=32.0))
    assert shut.at_input_w[0] == 0.0


BY_VOLTAGE = LossCurve(1000.0, (0.004, 0.01, 0.012), 32.0, (0.02, 0.03, 0.01), (20.0, 80.0))
"""Loses more, the higher the voltage."""
WIDE = replace(
    unit(1000.0, 100.0), conversion=BY_VOLTAGE, input_count=2, dc_operating_voltage_max_v=90.0, dc_current_max_a=60.0
)


@pytest.mark.parametrize("modules_per_input", [1, 2])
@pytest.mark.parametrize(
    ("changes", "voltage_v"),
    [
        ({}, None),
        ({"dc_operating_voltage_min_v": 33.0}, 33.0),
        ({"dc_operating_voltage_max_v": 27.0}, 27.0),
        ({"dc_current_max_a": 10.0}, "at 10 A"),
    ],
    ids=["none", "window above", "window below", "current limit"],
)
def test_conversion_is_at_the_points_own_power_and_voltage(
    modules_per_input: int, changes: dict[str, float], voltage_v: float | str | None
) -> None:
    response = response_at([1000.0], temp_cell_c=40.0)
    given_unit, modules, best = (
        replace(WIDE, **_in_series(changes, modules_per_input)),
        2 * modules_per_input,
        response.maximum_power,
    )
    if voltage_v is None:
        voltage, power = best.voltage_v, best.power_w
    elif isinstance(voltage_v, str):
        voltage = voltage_at_current(response.curve, 10.0)
        power = voltage * 10.0
    else:
        voltage = np.array([voltage_v])
        power = voltage * current_at_voltage(response.curve, voltage)
    steps = power_steps(response, given_unit, input_wiring=InputWiring(modules_per_input))
    np.testing.assert_allclose(steps.at_input_w, power)
    expected = BY_VOLTAGE.ac_power_w(power * modules, voltage * modules_per_input) / modules
    np.testing.assert_allclose(steps.converted_w, expected)


def _in_series(changes: dict[str, float], modules: int) -> dict[str, Any]:
    """Limits in voltage for so many modules in series."""
    return {name: value * modules if name.endswith("_v") else value for name, value in changes.items()}


def test_a_state_whose_curve_ends_below_the_current_limit_keeps_its_voltage() -> None:
    response = response_at([1000.0])
    best = response.maximum_power
    # A state inside the hour: its power is the hour's times a ratio, its curve has less light than that.
    dimmed = replace(response.curve, photocurrent_a=response.curve.photocurrent_a * 0.5)
    limit = 0.6 * float(best.current_a[0])
    steps = power_steps(replace(response, curve=dimmed), replace(unit(1000.0, 100.0), dc_current_max_a=limit))
    np.testing.assert_allclose(steps.at_input_w, limit * best.voltage_v)


@given(microinverters(), st.lists(numbers(0.6, 1.6), min_size=1, max_size=3))
def test_a_factor_on_the_current_is_a_module_of_that_current(given_unit: Microinverter, factors: list[float]) -> None:
    response = dc_of(100.0, 200.0).response
    together = power_steps(response, given_unit, current_factor=np.array(factors)[:, None])
    for row, factor in enumerate(factors):
        best = response.maximum_power
        other = replace(
            response,
            curve=scaled(response.curve, factor),
            maximum_power=replace(best, power_w=best.power_w * factor, current_a=best.current_a * factor),
        )
        alone = power_steps(other, given_unit)
        for name in ("available_w", "at_input_w", "converted_w", "limited_w", "delivered_w"):
            np.testing.assert_allclose(getattr(together, name)[row], getattr(alone, name), rtol=1e-7, atol=1e-7, err_msg=name)


DERATINGS = st.none() | st.builds(ThermalDerating, numbers(35.0, 60.0), numbers(0.5, 5.0), numbers(65.0, 90.0))
MATCHED = st.builds(
    lambda power, peak, lowest, start, current, start_power, derating: replace(
        unit(power), ac_peak_power_w=power * peak, dc_operating_voltage_min_v=lowest, dc_start_voltage_v=start,
        dc_current_max_a=current, start_power_w=start_power, derating=derating,
    ),
    numbers(200.0, 480.0), numbers(1.0, 1.2), numbers(12.0, 24.0), numbers(15.0, 26.0), numbers(8.0, 16.0), numbers(0.0, 8.0),
    DERATINGS,
)  # fmt: skip
"""Units whose window and start suit the module: others fail their checks, and nothing is condensed for them."""


@given(MATCHED, st.sampled_from([(100.0, 200.0), (10.0, 180.0, 270.0)]), st.sampled_from(CONDENSED_MISSES))
def test_condensed_points_come_near_all_points(
    given_unit: Microinverter, azimuths: tuple[float, ...], misses: tuple[bool, float, float]
) -> None:
    dc, (moments, energy_share, clipped_share) = dc_of(*azimuths), misses
    few = condensed(dc, moments=moments)
    assert few.face.size < dc.face.size / 3

    def of(which: RoofDc) -> tuple[np.ndarray, np.ndarray]:
        steps = power_steps(which.response, given_unit)
        return which.by_face(steps.converted_w) / 1000.0, which.by_face(steps.limited_w) / 1000.0

    (converted, clipped), (few_converted, few_clipped) = of(dc), of(few)
    available = dc.by_face(dc.response.maximum_power.power_w).sum() / 1000.0
    assert abs(few_converted.sum() - converted.sum()) <= energy_share * available
    lost, few_lost = converted - clipped, few_converted - few_clipped
    assert abs(few_lost.sum() - lost.sum()) <= clipped_share * available
