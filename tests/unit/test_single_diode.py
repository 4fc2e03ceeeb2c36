"""The single-diode model: against pvlib, its own inverse, and at the edges of the curve."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pvlib
import pytest
from hypothesis import given, strategies as st

from tests.builders import numbers
from tests.unit.diodes import HIGH_VOLTAGE, IRRADIANCES, MODULES, NO_SHUNT, ORDINARY, TEMPS, at, by_pvlib, grid, single
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.equipment import Module
from wattpair_service.engineering.module.single_diode import (
    DiodeCurve,
    current_at_voltage,
    curve_at,
    fit,
    maximum_power,
    open_circuit_voltage,
    select,
    short_circuit_current,
    voltage_at_current,
)


def test_published_fixture() -> None:
    # pvlib's own tests of singlediode(7, 6e-7, .1, 20, .5); read there.
    curve = DiodeCurve(*(np.array(value) for value in (7.0, 6e-7, 0.1, 20.0, 0.5)))
    assert single(short_circuit_current(curve)) == pytest.approx(6.965172322, rel=1e-9)
    assert single(open_circuit_voltage(curve)) == pytest.approx(8.106300147, rel=1e-9)
    assert single(maximum_power(curve).power_w) == pytest.approx(38.19421055, rel=1e-9)


@pytest.mark.parametrize("module", MODULES)
def test_curves_agree_with_pvlib(module: Module) -> None:
    fitted, curve = fit(module), grid(module)
    parameters = pvlib.pvsystem.calcparams_cec(
        IRRADIANCES.ravel(), TEMPS.ravel(), fitted.isc_coefficient_a_per_k, fitted.a_ref_v, fitted.photocurrent_ref_a,
        fitted.saturation_current_ref_a, fitted.shunt_resistance_ref_ohm, fitted.series_resistance_ohm, fitted.adjust_percent,
    )  # fmt: skip
    # pvlib's Boltzmann constant differs in the eighth digit, which the exponent magnifies.
    for ours, theirs in zip(by_pvlib(curve), parameters, strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-6)
    points = pvlib.pvsystem.singlediode(*by_pvlib(curve), method="newton")
    best = maximum_power(curve)
    np.testing.assert_allclose(best.power_w, points["p_mp"], rtol=1e-10)
    np.testing.assert_allclose(best.voltage_v, points["v_mp"], rtol=1e-8)
    np.testing.assert_allclose(best.current_a, points["i_mp"], rtol=1e-8)
    np.testing.assert_allclose(open_circuit_voltage(curve), points["v_oc"], rtol=1e-10)
    np.testing.assert_allclose(short_circuit_current(curve), points["i_sc"], rtol=1e-10)


@pytest.mark.parametrize("module", MODULES)
@pytest.mark.parametrize("share", [0.0, 0.3, 0.7, 0.9, 0.99])
def test_current_and_voltage_agree_with_pvlib(module: Module, share: float) -> None:
    curve = grid(module)
    voltage = share * open_circuit_voltage(curve)
    current = current_at_voltage(curve, voltage)
    np.testing.assert_allclose(current, pvlib.pvsystem.i_from_v(voltage, *by_pvlib(curve), method="newton"), rtol=1e-9)
    current = share * short_circuit_current(curve)
    theirs = pvlib.pvsystem.v_from_i(current, *by_pvlib(curve), method="newton")
    np.testing.assert_allclose(voltage_at_current(curve, current), theirs, rtol=1e-9)


@pytest.mark.parametrize(
    ("saturation_a", "series_ohm", "shunt_ohm", "a_v"),
    [
        pytest.param(1e-10, 3.0, 300.0, 1.5, id="series resistance far too high"),
        pytest.param(1e-10, 0.2, 2.0, 1.5, id="all but short-circuited"),
        pytest.param(1e-30, 0.2, 1.0, 1.5, id="shunt takes all"),
        pytest.param(1e-5, 0.0, math.inf, 3.0, id="no resistances"),
    ],
)
def test_curves_beyond_any_module(saturation_a: float, series_ohm: float, shunt_ohm: float, a_v: float) -> None:
    photocurrent = np.geomspace(1e-3, 15.0, 400)
    curve = DiodeCurve(photocurrent, *(np.array(value) for value in (saturation_a, series_ohm, shunt_ohm, a_v)))
    best, voltage_oc = maximum_power(curve), open_circuit_voltage(curve)
    np.testing.assert_allclose(current_at_voltage(curve, best.voltage_v), best.current_a, rtol=1e-9)
    assert np.all(current_at_voltage(curve, voltage_oc) < 1e-9 * photocurrent)
    for factor in (0.999, 1.001):
        neighbour = factor * best.voltage_v * current_at_voltage(curve, factor * best.voltage_v)
        assert np.all(neighbour < best.power_w)


@given(
    numbers(-3.0, 1.2), numbers(-14.0, -6.0), numbers(0.0, 1.0), numbers(0.0, 4.0) | st.just(math.inf), numbers(0.5, 3.0),
    numbers(0.0, 1.5),
)  # fmt: skip
def test_the_voltage_at_a_current_is_exact_from_any_start(
    light: float, saturation: float, series_ohm: float, shunt: float, a_v: float, share: float
) -> None:
    """The current, by the curve's own equation in long numbers, is more a little below the voltage, and less above it."""
    given = [10.0**light, 10.0**saturation, series_ohm, 10.0**shunt, a_v]
    curve = DiodeCurve(*(np.full(10, value) for value in given))
    # To all but the short-circuit current, where the curve is flat.
    current = short_circuit_current(curve) * (1.0 - 10.0 ** -np.linspace(0.0, 9.0 if shunt < 4.0 else 3.0, 10))
    source, saturation_a, in_series, across, a = map(np.longdouble, given)

    def more(voltage_v: FloatArray) -> npt.NDArray[np.longdouble]:
        diode_v = voltage_v.astype(np.longdouble) + current * in_series
        return np.asarray(source - saturation_a * np.expm1(diode_v / a) - diode_v / across - current)

    rounding = 1e-15 * given[0]
    for near_v in (None, np.zeros(10), share * open_circuit_voltage(curve), maximum_power(curve).voltage_v):
        voltage = voltage_at_current(curve, current, near_v)
        assert np.all(more(voltage - 1e-10) > -rounding)
        assert np.all(more(voltage + 1e-10) < rounding)


def every_figure(curve: DiodeCurve) -> tuple[FloatArray, ...]:
    best = maximum_power(curve)
    inner = current_at_voltage(curve, 30.0), voltage_at_current(curve, 0.0)
    return best.power_w, best.voltage_v, best.current_a, open_circuit_voltage(curve), short_circuit_current(curve), *inner


def test_dark_points_are_zero_and_nan_stays_nan() -> None:
    irradiance, temp = [0.0, -3.0, np.nan, 500.0, 500.0], [-20.0, -20.0, 25.0, np.nan, 40.0]
    curve = curve_at(fit(ORDINARY), irradiance_w_m2=irradiance, cell_temp_c=temp)
    for values in every_figure(curve):
        np.testing.assert_array_equal(values[:4], [0.0, 0.0, np.nan, np.nan])
        assert values[4] > 0.0
    assert np.isnan(single(current_at_voltage(at(ORDINARY), np.nan)))
    assert np.isnan(single(voltage_at_current(at(ORDINARY), np.nan)))
    dark = curve_at(fit(ORDINARY), irradiance_w_m2=np.zeros(3), cell_temp_c=20.0)
    assert maximum_power(dark).power_w.tolist() == [0.0, 0.0, 0.0]
    faint = maximum_power(curve_at(fit(ORDINARY), irradiance_w_m2=[1e-12, 1e-6, 1e-3], cell_temp_c=80.0))
    assert np.all(np.diff(faint.power_w) > 0.0)
    assert np.all((faint.power_w > 0.0) & (faint.power_w < 1e-3))


def test_beyond_the_ends_of_the_curve() -> None:
    curve = at(ORDINARY)
    voltage_oc, current_sc = single(open_circuit_voltage(curve)), single(short_circuit_current(curve))
    assert single(current_at_voltage(curve, voltage_oc)) == pytest.approx(0.0, abs=1e-9)
    assert current_at_voltage(curve, [voltage_oc + 1e-6, 60.0, 1e6]).tolist() == [0.0, 0.0, 0.0]
    assert single(voltage_at_current(curve, 0.0)) == pytest.approx(voltage_oc, rel=1e-12)
    assert single(voltage_at_current(curve, current_sc)) == pytest.approx(0.0, abs=1e-6)
    assert np.all(np.isnan(voltage_at_current(curve, [-0.1, current_sc * 1.0001, 100.0])))
    without_resistances = DiodeCurve(*(np.array([value]) for value in (5.0, 1e-10, 0.0, np.inf, 1.5)))
    assert np.isnan(voltage_at_current(without_resistances, 6.0)).all()
    assert voltage_at_current(without_resistances, 5.0) == pytest.approx(0.0)


def test_shapes_and_selection() -> None:
    curve = curve_at(fit(ORDINARY), irradiance_w_m2=np.array([[200.0], [900.0]]), cell_temp_c=[10.0, 30.0, 50.0])
    assert maximum_power(curve).power_w.shape == (2, 3)
    assert curve.series_resistance_ohm.shape == (2, 3)
    power = maximum_power(curve).power_w
    assert maximum_power(select(curve, power > 100.0)).power_w.tolist() == power[power > 100.0].tolist()
    assert current_at_voltage(at(ORDINARY), np.linspace(0.0, 40.0, 7)).shape == (7,)
    half_dark = curve_at(fit(ORDINARY), irradiance_w_m2=np.array([[0.0], [900.0]]), cell_temp_c=[10.0, 30.0, 50.0])
    assert maximum_power(half_dark).power_w[1].tolist() == power[1].tolist()


@given(
    st.sampled_from([ORDINARY, HIGH_VOLTAGE, NO_SHUNT]), numbers(5.0, 1200.0), numbers(-30.0, 84.0), numbers(0.01, 30.0),
    numbers(0.0, 1.2),
)  # fmt: skip
def test_power_and_voltage_fall_as_the_cell_warms_and_no_point_beats_maximum_power(
    module: Module, irradiance: float, temp: float, warmer: float, share: float
) -> None:
    curve = curve_at(fit(module), irradiance_w_m2=irradiance, cell_temp_c=[temp, temp + warmer])
    best, voltage_oc, current_sc = maximum_power(curve), open_circuit_voltage(curve), short_circuit_current(curve)
    assert best.power_w[1] < best.power_w[0]
    assert voltage_oc[1] < voltage_oc[0]
    current = current_at_voltage(curve, share * voltage_oc)
    assert np.all((current >= 0.0) & (current <= current_sc * (1.0 + 1e-12)))
    assert np.all(share * voltage_oc * current <= best.power_w * (1.0 + 1e-12))
    # The two directions are inverse; left of maximum power the curve is too flat for the way back.
    inside = min(share, 1.0)
    voltage = voltage_at_current(curve, inside * current_sc)
    assert np.all(voltage >= 0.0)
    np.testing.assert_allclose(current_at_voltage(curve, voltage), inside * current_sc, atol=1e-10 * current_sc.max())
    voltage = best.voltage_v * (1.0 - inside) + voltage_oc * inside
    np.testing.assert_allclose(voltage_at_current(curve, current_at_voltage(curve, voltage)), voltage, rtol=1e-9)
