"""The energy balance closes, and each loss has its own cause only."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

import numpy as np
import pvlib
import pytest
from hypothesis import example, given, strategies as st

from tests.builders import FACE, UNLIMITED, loss_names, losses, microinverters, numbers, real_response as response, response_at
from tests.unit.diodes import by_pvlib
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.energy_balance import EnergyBalance, pairing_year, total
from wattpair_service.engineering.equipment import InputWiring, Microinverter, ThermalDerating
from wattpair_service.engineering.inverter.conversion import SandiaCurve
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.dc_response import by_month

NORTH = replace(FACE, azimuth_deg=0.0, tilt_deg=60.0)
FACES = st.sampled_from([FACE, NORTH])


@given(microinverters() | st.just(UNLIMITED), FACES)
def test_losses_months_and_tables_add_up(unit: Microinverter, face: Face) -> None:
    result = pairing_year(response(face), unit)
    assert len(result.months) == 12
    for balance in (result.year, *result.months):
        lost = losses(balance)
        assert min(lost.values()) >= 0.0
        assert balance.delivered_kwh + balance.night_draw_kwh >= 0.0
        assert balance.delivered_kwh + sum(lost.values()) == pytest.approx(balance.unshaded_kwh, rel=1e-9, abs=1e-12)
        assert balance.available_kwh == balance.unshaded_kwh, "without shade"
    for name in ("unshaded_kwh", "available_kwh", *loss_names(), "delivered_kwh"):
        monthly = sum(getattr(month, name) for month in result.months)
        assert monthly == pytest.approx(getattr(result.year, name), rel=1e-9, abs=1e-12)
    assert result.clipped_kwh_by_month_hour.shape == (12, 24)
    by_row = result.clipped_kwh_by_month_hour.sum(axis=1)
    np.testing.assert_allclose(by_row, [month.clipping_kwh for month in result.months], rtol=1e-9, atol=1e-9)
    assert (result.clipped_hours_h > 0.0) == (result.year.clipping_kwh > 0.0)


@given(microinverters(), numbers(1.0, 10.0))
def test_a_higher_ac_limit_never_delivers_less(unit: Microinverter, factor: float) -> None:
    larger = replace(unit, ac_power_w=unit.ac_power_w * factor)
    before, after = pairing_year(response(), unit).year, pairing_year(response(), larger).year
    assert after.delivered_kwh >= before.delivered_kwh
    assert after.clipping_kwh <= before.clipping_kwh


@example(UNLIMITED)
@given(microinverters())
def test_the_duration_curve_falls_and_holds_the_energy_before_the_limit(unit: Microinverter) -> None:
    result = pairing_year(response(), unit)
    power, hours, year = result.duration.ac_power_w, result.duration.hours_h, result.year
    assert power[0] == 0.0
    assert np.all(np.diff(power) >= 0.0)
    assert np.all(np.diff(hours) <= 0.0)
    unlimited = year.delivered_kwh + year.night_draw_kwh + year.thermal_derating_kwh + year.clipping_kwh
    # The trapezoidal rule on a falling curve is wrong by at most half a step's width times its fall.
    hours = np.concatenate([[hours[0] - response().dark_hours_by_month.sum()], hours[1:]])
    most = (power[1] - power[0]) * (hours[0] - hours[-1]) / 2.0 / 1000.0
    energy = np.trapezoid(hours, power) / 1000.0
    assert energy == pytest.approx(unlimited, rel=1e-9, abs=most)
    if unit is UNLIMITED:
        assert result.duration.hours_h[0] == pytest.approx(8760.0), "the dark hours too"
        assert energy == pytest.approx(year.delivered_kwh, rel=0.01)


def test_a_total_is_the_sum_and_a_multiple_is_scaled() -> None:
    one = EnergyBalance(*range(100, 113))
    assert total([one, one.scaled(2.0)]) == one.scaled(3.0)


def test_a_dark_year_has_only_the_night_draw() -> None:
    result = pairing_year(response_at([0.0], weight_h=[8760.0]), replace(UNLIMITED, night_draw_w=0.1))
    assert result.year.delivered_kwh == pytest.approx(-0.876)
    assert result.year.clipped_share == 0.0


CAUSES: dict[str, tuple[str | None, dict[str, Any]]] = {
    "none": (None, {}),
    "window above": ("voltage_window_kwh", {"dc_operating_voltage_min_v": 33.0}),
    "window below": ("voltage_window_kwh", {"dc_operating_voltage_max_v": 27.0}),
    "current limit": ("input_current_limit_kwh", {"dc_current_max_a": 8.0}),
    "start voltage": ("start_up_kwh", {"dc_start_voltage_v": 34.0}),
    "start power": ("start_up_kwh", {"start_power_w": 30.0}),
    "derating": ("thermal_derating_kwh", {"derating": ThermalDerating(25.0, 4.0, 90.0)}),
    "shutdown": ("thermal_derating_kwh", {"derating": ThermalDerating(30.0, 0.001, 30.0)}),
    "clipping": ("clipping_kwh", {"ac_power_w": 280.0}),
    "night draw": ("night_draw_kwh", {"night_draw_w": 0.4}),
}


@pytest.mark.parametrize(("name", "changes"), CAUSES.values(), ids=CAUSES)
def test_a_cause_shows_in_its_own_loss_only(name: str | None, changes: dict[str, Any]) -> None:
    balance = losses(pairing_year(response(), replace(UNLIMITED, **changes)).year)
    assert name is None or balance.pop(name) > 0.1
    assert balance.pop("conversion_kwh") > 0.0
    assert balance == dict.fromkeys(balance, 0.0)


def test_heat_lowers_the_limit_and_not_what_stays_below_it() -> None:
    lit = response()
    unit = replace(UNLIMITED, ac_power_w=500.0, derating=ThermalDerating(30.0, 4.0, 60.0))
    ac_power_w = UNLIMITED.conversion.ac_power_w(lit.maximum_power.power_w, lit.maximum_power.voltage_v)
    left = np.where(lit.temp_under_module_c > 60.0, 0.0, 1.0 - 0.04 * np.maximum(lit.temp_under_module_c - 30.0, 0.0))
    lost_w = np.maximum(ac_power_w - 500.0 * np.maximum(left, 0.0), 0.0)
    balance = pairing_year(lit, unit).year
    assert balance.thermal_derating_kwh == pytest.approx(lost_w @ lit.weight_h / 1000.0)
    assert 10.0 < balance.thermal_derating_kwh < 0.5 * balance.available_kwh


def test_night_draw_runs_in_every_hour_without_output() -> None:
    lit = response()
    result = pairing_year(lit, replace(UNLIMITED, night_draw_w=0.5))
    giving = lit.weight_h[UNLIMITED.conversion.ac_power_w(lit.maximum_power.power_w, lit.voltage_oc_v) > 0.0]
    assert result.year.night_draw_kwh == pytest.approx(0.0005 * (8760.0 - giving.sum()))


def test_a_curve_that_claims_more_than_it_takes_in_gains_nothing() -> None:
    boastful = SandiaCurve(299.5, 300.0, 31.0, 0.1, -1e-4, 0.0, 0.0, 0.0)
    middle = response_at([350.0])
    power_w = middle.maximum_power.power_w
    assert boastful.ac_power_w(power_w, middle.maximum_power.voltage_v)[0] > power_w[0]
    balance = pairing_year(middle, replace(UNLIMITED, conversion=boastful)).year
    assert balance.conversion_kwh == 0.0
    assert balance.delivered_kwh == balance.available_kwh


def test_clipped_hours_are_those_with_more_power_than_the_limit() -> None:
    lit = response()
    ac_power_w = UNLIMITED.conversion.ac_power_w(lit.maximum_power.power_w, lit.maximum_power.voltage_v)
    over = np.maximum(ac_power_w - 280.0, 0.0) * lit.weight_h / 1000.0
    result = pairing_year(lit, replace(UNLIMITED, ac_power_w=280.0))
    assert result.clipped_hours_h == pytest.approx(lit.weight_h[over > 0.0].sum())
    assert result.clipped_kwh_by_month_hour[6, 12] == pytest.approx(over[(lit.month == 7) & (lit.hour == 12)].sum())
    assert result.year.clipping_kwh == pytest.approx(by_month(lit.month, over).sum())


def test_an_input_current_limit_moves_up_the_curve() -> None:
    limit_a, best = 9.5, response().maximum_power
    voltage = pvlib.pvsystem.v_from_i(limit_a, *by_pvlib(response().curve))
    over = best.current_a > limit_a
    lost_w = np.where(over, best.power_w - voltage * limit_a, 0.0)
    result = pairing_year(response(), replace(UNLIMITED, dc_current_max_a=limit_a)).year
    assert over.sum() > 500
    assert result.input_current_limit_kwh == pytest.approx(lost_w @ response().weight_h / 1000.0, rel=1e-8)


@pytest.mark.parametrize(("shift_v", "off"), [(0.01, False), (-0.01, True)])
def test_an_input_is_off_where_that_voltage_lies_above_the_window(shift_v: float, off: bool) -> None:
    bright = response_at([1000.0])
    at_limit_v = pvlib.pvsystem.v_from_i(8.0, *by_pvlib(bright.curve))[0]
    unit = replace(UNLIMITED, dc_current_max_a=8.0, dc_operating_voltage_max_v=float(at_limit_v) + shift_v)
    balance = pairing_year(bright, unit).year
    assert (balance.input_current_limit_kwh == pytest.approx(balance.available_kwh)) == off


def ac_power_w(unit: Microinverter, step_w_m2: float) -> FloatArray:
    """AC power [W] over irradiance at one cell temperature."""
    responses = (response_at([irradiance], temp_cell_c=40.0) for irradiance in np.arange(120.0, 1160.1, step_w_m2))
    return np.array([pairing_year(each, unit).year.delivered_kwh * 1000.0 for each in responses])


@pytest.mark.parametrize(
    "changes",
    [{}, {"dc_current_max_a": 8.0}, {"dc_operating_voltage_max_v": 29.4}],
    ids=["free", "current limit", "window"],
)
def test_power_has_no_kink_without_an_ac_limit(changes: dict[str, Any]) -> None:
    unit = replace(UNLIMITED, **changes)
    coarse, fine = (float(np.abs(np.diff(ac_power_w(unit, step), 2)).max()) for step in (40.0, 4.0))
    # A bend shrinks with the square of the step, a kink only with the step itself.
    assert coarse > 25.0 * fine


def test_an_ac_limit_cuts_the_power_and_nothing_else() -> None:
    free, limited = (ac_power_w(unit, 8.0) for unit in (UNLIMITED, replace(UNLIMITED, ac_power_w=250.0)))
    np.testing.assert_allclose(limited, np.minimum(free, 250.0), rtol=1e-12)


@pytest.mark.parametrize("irradiance", [400.0, *np.arange(550.0, 680.0, 10.0).tolist(), 790.0])
def test_the_current_limit_begins_where_the_best_current_reaches_it(irradiance: float) -> None:
    lit = response_at([irradiance], temp_cell_c=40.0)
    lost = pairing_year(lit, replace(UNLIMITED, dc_current_max_a=8.0)).year.input_current_limit_kwh
    assert (lost > 0.0) == (lit.maximum_power.current_a[0] > 8.0)


SINGLE = replace(
    UNLIMITED,
    ac_power_w=300.0,
    dc_start_voltage_v=24.0,
    dc_operating_voltage_min_v=28.0,
    start_power_w=5.0,
    night_draw_w=0.1,
)
POWERS = ("ac_power_w", "start_power_w", "night_draw_w")
VOLTAGES = ("dc_start_voltage_v", "dc_operating_voltage_min_v", "dc_operating_voltage_max_v")


@pytest.mark.parametrize(
    ("twice", "input_count", "in_series"), [(POWERS, 2, 1), (POWERS + VOLTAGES, 1, 2)], ids=["two inputs", "two in series"]
)
def test_two_modules_share_a_units_limits(twice: tuple[str, ...], input_count: int, in_series: int) -> None:
    changes: dict[str, Any] = {name: 2.0 * getattr(SINGLE, name) for name in twice} | {"input_count": input_count}
    double = replace(SINGLE, **changes, conversion=replace(UNLIMITED.conversion, rated_power_w=800.0))  # type: ignore[type-var]
    one, two = pairing_year(response(), SINGLE).year, pairing_year(response(), double, input_wiring=InputWiring(in_series)).year
    assert min(one.clipping_kwh, one.voltage_window_kwh, one.start_up_kwh) > 0.0
    assert asdict(two) == pytest.approx(asdict(one), rel=1e-9)
