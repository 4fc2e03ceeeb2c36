"""Where a microinverter's energy goes: the balance closes, and each loss answers to its own cause only."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.builders import FACE, MODULE, UNLIMITED, loss_names, losses, microinverters, numbers, response_at
from tests.builders import real_response as response
from wattpair_service.engineering.conversion import LossCurve, SandiaCurve
from wattpair_service.engineering.dc_response import by_month
from wattpair_service.engineering.energy_balance import EnergyBalance, pairing_year, total
from wattpair_service.engineering.equipment import Microinverter, ThermalDerating
from wattpair_service.engineering.single_diode import fit

FloatArray = npt.NDArray[np.float64]

NORTH = replace(FACE, azimuth_deg=0.0, tilt_deg=60.0)
FACES = st.sampled_from([FACE, NORTH])


class TestBalance:
    @given(microinverters(), FACES)
    def test_losses_and_delivered_add_up_in_the_year_and_in_each_month(self, unit: Microinverter, face: Any) -> None:
        result = pairing_year(response(face), unit)
        for balance in (result.year, *result.months):
            gone = sum(losses(balance).values())
            assert balance.delivered_kwh + gone == pytest.approx(balance.available_kwh, rel=1e-9, abs=1e-12)

    @given(microinverters(), FACES)
    def test_no_loss_is_negative(self, unit: Microinverter, face: Any) -> None:
        result = pairing_year(response(face), unit)
        for balance in (result.year, *result.months):
            assert min(losses(balance).values()) >= 0.0
            assert balance.delivered_kwh + balance.night_draw_kwh >= 0.0

    @given(microinverters())
    def test_months_add_up_to_the_year(self, unit: Microinverter) -> None:
        result = pairing_year(response(), unit)
        assert len(result.months) == 12
        for name in ("available_kwh", *loss_names(), "delivered_kwh"):
            monthly = sum(getattr(month, name) for month in result.months)
            assert monthly == pytest.approx(getattr(result.year, name), rel=1e-9, abs=1e-12)

    @given(microinverters(), numbers(1.0, 10.0))
    def test_a_higher_ac_limit_never_delivers_less(self, unit: Microinverter, factor: float) -> None:
        larger = replace(unit, ac_power_w=unit.ac_power_w * factor)
        before, after = pairing_year(response(), unit).year, pairing_year(response(), larger).year
        assert after.delivered_kwh >= before.delivered_kwh
        assert after.clipping_kwh <= before.clipping_kwh

    @given(microinverters())
    def test_clipping_table_and_hours_agree_with_the_balance(self, unit: Microinverter) -> None:
        result = pairing_year(response(), unit)
        assert result.clipped_kwh_by_month_hour.shape == (12, 24)
        by_row = result.clipped_kwh_by_month_hour.sum(axis=1)
        np.testing.assert_allclose(by_row, [month.clipping_kwh for month in result.months], rtol=1e-9, atol=1e-9)
        assert (result.clipped_hours_h > 0.0) == (result.year.clipping_kwh > 0.0)

    @given(microinverters() | st.just(UNLIMITED))
    def test_duration_curve_falls_and_holds_the_energy_before_the_limit(self, unit: Microinverter) -> None:
        result = pairing_year(response(), unit)
        power, hours = result.duration.ac_power_w, result.duration.hours_h
        assert power[0] == 0.0
        assert np.all(np.diff(power) >= 0.0)
        assert np.all(np.diff(hours) <= 0.0)
        year = result.year
        unlimited = year.delivered_kwh + year.night_draw_kwh + year.thermal_derating_kwh + year.clipping_kwh
        # The trapezoidal rule on a falling curve is wrong by at most half a step's width times its fall.
        hours = np.concatenate([[hours[0] - response().dark_hours_by_month.sum()], hours[1:]])
        most = (power[1] - power[0]) * (hours[0] - hours[-1]) / 2.0 / 1000.0
        assert np.trapezoid(hours, power) / 1000.0 == pytest.approx(unlimited, rel=1e-9, abs=most)

    def test_duration_curve_of_an_ordinary_unit_is_close(self) -> None:
        result = pairing_year(response(), UNLIMITED)
        assert result.duration.hours_h[0] == pytest.approx(8760.0), "nothing or more is given in every hour, the dark ones too"
        lit_hours = result.duration.hours_h.copy()
        lit_hours[0] -= response().dark_hours_by_month.sum()
        energy = np.trapezoid(lit_hours, result.duration.ac_power_w) / 1000.0
        assert energy == pytest.approx(result.year.delivered_kwh, rel=0.01)

    def test_a_total_is_the_sum_and_a_multiple_is_scaled(self) -> None:
        one = EnergyBalance(*range(100, 109))
        assert total([one, one.scaled(2.0)]) == one.scaled(3.0)

    def test_without_light_only_the_night_draw_remains(self) -> None:
        result = pairing_year(response_at([0.0], weight_h=[8760.0]), replace(UNLIMITED, night_draw_w=0.1))
        assert result.year.delivered_kwh == pytest.approx(-0.876)
        assert result.year.clipped_share == 0.0


CAUSES: dict[str, tuple[str, dict[str, Any]]] = {
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


class TestEachLossAlone:
    def test_without_a_cause_only_conversion_costs(self) -> None:
        balance = losses(pairing_year(response(), UNLIMITED).year)
        assert balance.pop("conversion_kwh") > 0.0
        assert balance == dict.fromkeys(balance, 0.0)

    @pytest.mark.parametrize(("name", "changes"), CAUSES.values(), ids=CAUSES)
    def test_a_cause_shows_in_its_own_loss_only(self, name: str, changes: dict[str, Any]) -> None:
        balance = losses(pairing_year(response(), replace(UNLIMITED, **changes)).year)
        assert balance.pop(name) > 0.1
        assert balance.pop("conversion_kwh") > 0.0
        assert balance == dict.fromkeys(balance, 0.0)

    def test_heat_lowers_the_limit_and_not_what_stays_below_it(self) -> None:
        lit = response()
        unit = replace(UNLIMITED, ac_power_w=500.0, derating=ThermalDerating(30.0, 4.0, 60.0))
        ac_power_w = UNLIMITED.conversion.ac_power_w(lit.maximum_power.power_w, lit.maximum_power.voltage_v)
        left = np.where(lit.temp_under_module_c > 60.0, 0.0, 1.0 - 0.04 * np.maximum(lit.temp_under_module_c - 30.0, 0.0))
        lost_w = np.maximum(ac_power_w - 500.0 * np.maximum(left, 0.0), 0.0)
        balance = pairing_year(lit, unit).year
        assert balance.thermal_derating_kwh == pytest.approx(lost_w @ lit.weight_h / 1000.0)
        assert 10.0 < balance.thermal_derating_kwh < 0.5 * balance.available_kwh

    def test_night_draw_runs_in_every_hour_without_output(self) -> None:
        result = pairing_year(response(), replace(UNLIMITED, night_draw_w=0.5))
        lit = response()
        giving = lit.weight_h[UNLIMITED.conversion.ac_power_w(lit.maximum_power.power_w, lit.voltage_oc_v) > 0.0]
        assert result.year.night_draw_kwh == pytest.approx(0.0005 * (8760.0 - giving.sum()))

    def test_a_unit_of_two_inputs_shares_its_limit_and_its_draw(self) -> None:
        one = replace(UNLIMITED, ac_power_w=300.0, night_draw_w=0.2, start_power_w=5.0)
        curve = replace(UNLIMITED.conversion, rated_power_w=800.0)  # type: ignore[type-var]
        two = replace(one, ac_power_w=600.0, night_draw_w=0.4, start_power_w=10.0, input_count=2, conversion=curve)
        first, second = pairing_year(response(), one).year, pairing_year(response(), two).year
        assert losses(second) == pytest.approx(losses(first), rel=1e-12)

    def test_a_curve_that_claims_more_than_it_takes_in_gains_nothing(self) -> None:
        boastful = SandiaCurve(299.5, 300.0, 31.0, 0.1, -1e-4, 0.0, 0.0, 0.0)
        middle = response_at([350.0])
        power_w = middle.maximum_power.power_w
        assert boastful.ac_power_w(power_w, middle.maximum_power.voltage_v)[0] > power_w[0]
        balance = pairing_year(middle, replace(UNLIMITED, conversion=boastful)).year
        assert balance.conversion_kwh == 0.0
        assert balance.delivered_kwh == balance.available_kwh

    def test_clipped_hours_are_those_with_more_power_than_the_limit(self) -> None:
        lit = response()
        ac_power_w = UNLIMITED.conversion.ac_power_w(lit.maximum_power.power_w, lit.maximum_power.voltage_v)
        over = np.maximum(ac_power_w - 280.0, 0.0) * lit.weight_h / 1000.0
        result = pairing_year(lit, replace(UNLIMITED, ac_power_w=280.0))
        assert result.clipped_hours_h == pytest.approx(lit.weight_h[over > 0.0].sum())
        assert result.clipped_kwh_by_month_hour[6, 12] == pytest.approx(over[(lit.month == 7) & (lit.hour == 12)].sum())
        assert result.year.clipping_kwh == pytest.approx(by_month(lit.month, over).sum())


class TestInputCurrentLimit:
    LIMIT_A = 9.5

    def test_it_works_where_the_curve_carries_the_limit(self) -> None:
        lit = response()
        curve, best = lit.curve, lit.maximum_power
        voltage = pvlib.pvsystem.v_from_i(
            self.LIMIT_A,
            curve.photocurrent_a,
            curve.saturation_current_a,
            curve.series_resistance_ohm,
            curve.shunt_resistance_ohm,
            curve.a_v,
        )
        over = best.current_a > self.LIMIT_A
        lost_w = np.where(over, best.power_w - voltage * self.LIMIT_A, 0.0)
        result = pairing_year(lit, replace(UNLIMITED, dc_current_max_a=self.LIMIT_A)).year
        assert over.sum() > 500
        assert result.input_current_limit_kwh == pytest.approx(lost_w @ lit.weight_h / 1000.0, rel=1e-8)

    def test_it_is_off_where_that_point_lies_above_the_window(self) -> None:
        bright = response_at([1000.0])
        at_limit_v = pvlib.pvsystem.v_from_i(8.0, *_parameters_at_stc())
        for shift_v, share in ((0.01, 0.0), (-0.01, 1.0)):
            unit = replace(UNLIMITED, dc_current_max_a=8.0, dc_operating_voltage_max_v=float(at_limit_v) + shift_v)
            balance = pairing_year(bright, unit).year
            all_lost = balance.input_current_limit_kwh == pytest.approx(balance.available_kwh)
            assert all_lost == bool(share)


def _parameters_at_stc() -> tuple[float, ...]:
    found = fit(MODULE)
    return (
        found.photocurrent_ref_a,
        found.saturation_current_ref_a,
        found.series_resistance_ohm,
        found.shunt_resistance_ref_ohm,
        found.a_ref_v,
    )


class TestSmoothness:
    """Power over light at a fixed cell temperature bends gently; only an AC limit puts a kink into it."""

    TEMP_CELL_C = 40.0

    def _ac_power_w(self, unit: Microinverter, step_w_m2: float) -> tuple[FloatArray, FloatArray]:
        light = np.arange(120.0, 1160.1, step_w_m2)
        each = [pairing_year(response_at([e], temp_cell_c=self.TEMP_CELL_C), unit).year.delivered_kwh for e in light]
        return light, np.array(each) * 1000.0

    def _sharpest_bend(self, unit: Microinverter, step_w_m2: float) -> float:
        return float(np.abs(np.diff(self._ac_power_w(unit, step_w_m2)[1], 2)).max())

    @pytest.mark.parametrize(
        "changes",
        [{}, {"dc_current_max_a": 8.0}, {"dc_operating_voltage_max_v": 29.4}],
        ids=["free", "current limit", "window"],
    )
    def test_no_kink_without_an_ac_limit(self, changes: dict[str, Any]) -> None:
        unit = replace(UNLIMITED, **changes)
        # A bend shrinks with the square of the step, a kink only with the step itself.
        assert self._sharpest_bend(unit, 40.0) > 25.0 * self._sharpest_bend(unit, 4.0)

    @pytest.mark.parametrize("step_w_m2", [40.0, 8.0])
    def test_an_ac_limit_makes_exactly_one_kink_where_it_sets_in(self, step_w_m2: float) -> None:
        limit_w = 250.0
        light, free = self._ac_power_w(UNLIMITED, step_w_m2)
        _, limited = self._ac_power_w(replace(UNLIMITED, ac_power_w=limit_w), step_w_m2)
        sets_in = np.interp(limit_w, free, light)
        bends = np.abs(np.diff(limited, 2))
        kinks = light[1:-1][bends > 5.0 * np.abs(np.diff(free, 2)).max()]
        assert 1 <= kinks.size <= 2
        assert np.all(np.abs(kinks - sets_in) <= step_w_m2)
        np.testing.assert_allclose(limited, np.minimum(free, limit_w), rtol=1e-12)

    def test_the_current_limit_sets_in_where_the_best_current_reaches_it(self) -> None:
        limit_a = 8.0
        for light in np.arange(400.0, 800.0, 10.0):
            lit = response_at([light], temp_cell_c=self.TEMP_CELL_C)
            lost = pairing_year(lit, replace(UNLIMITED, dc_current_max_a=limit_a)).year.input_current_limit_kwh
            assert (lost > 0.0) == (lit.maximum_power.current_a[0] > limit_a)


def test_two_modules_in_series_share_a_units_limits() -> None:
    """A unit of twice the power and voltage with two in series is to each module what the single one is to its own."""
    single = replace(UNLIMITED, ac_power_w=300.0, dc_start_voltage_v=24.0, dc_operating_voltage_min_v=28.0, night_draw_w=0.1)
    conversion = single.conversion
    assert isinstance(conversion, LossCurve)
    double = replace(
        single,
        ac_power_w=600.0,
        dc_start_voltage_v=48.0,
        dc_operating_voltage_min_v=56.0,
        dc_operating_voltage_max_v=2.0 * single.dc_operating_voltage_max_v,
        start_power_w=2.0 * single.start_power_w,
        night_draw_w=0.2,
        conversion=replace(conversion, rated_power_w=2.0 * conversion.rated_power_w),
    )
    one, two = pairing_year(response(), single).year, pairing_year(response(), double, modules_per_input=2).year
    assert one.clipping_kwh > 0.0
    assert one.voltage_window_kwh > 0.0
    for term in (field.name for field in fields(EnergyBalance)):
        assert getattr(two, term) == pytest.approx(getattr(one, term), rel=1e-9), term
