"""Limits computed only where they apply, against the same limits computed at every point."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.builders import numbers
from tests.selection_cases import spread
from tests.validation.yields import amsterdam, module_420, roof_face, unit
from wattpair_service.engineering import pairing_power as pairing_power_file
from wattpair_service.engineering.dc_response import DcResponse
from wattpair_service.engineering.energy_balance import StepPowers, step_powers
from wattpair_service.engineering.equipment import Microinverter, ThermalDerating
from wattpair_service.engineering.pairing_power import PairingJob, pairing_powers
from wattpair_service.engineering.roof_light import RoofLight
from wattpair_service.engineering.roof_side import RoofSide, roof_side, scaled
from wattpair_service.engineering.single_diode import current_at_voltage, fit, short_circuit_current, voltage_at_current

FloatArray = npt.NDArray[np.float64]


@cache
def side() -> RoofSide:
    faces = (roof_face(100.0), roof_face(200.0))
    light = RoofLight(amsterdam(), "perez_1990")
    return roof_side(light, spread(), faces=faces, module=module_420(), parameters=fit(module_420()))


def hours_by_face(roof: RoofSide, values: FloatArray) -> FloatArray:
    """Sums of values, one for each lit hour, times its hours, over each face."""
    weighted = values * roof.response.hour_weight_h
    return np.bincount(roof.hour_face, weights=weighted, minlength=roof.face_count).astype(np.float64)


def at_every_point(response: DcResponse, microinverter: Microinverter) -> StepPowers:
    """The definition: each limit at each point, nothing left out."""
    limits, best, curve = microinverter.per_module(1), response.maximum_power, response.curve
    started = (response.voltage_oc_v >= limits.start_voltage_v) & (best.power_w >= limits.start_power_w)
    start = np.where(started, best.power_w, 0.0)
    voltage = np.clip(best.voltage_v, limits.operating_voltage_min_v, limits.operating_voltage_max_v)
    moved = voltage != best.voltage_v
    current = np.where(moved, current_at_voltage(curve, voltage), best.current_a)
    window = np.where(moved & started, np.minimum(voltage * current, start), start)
    over = (window > 0.0) & (current > limits.current_max_a)
    higher = voltage_at_current(curve, limits.current_max_a)
    higher = np.where(short_circuit_current(curve) > limits.current_max_a, higher, voltage)
    at_limit = np.where(higher <= limits.operating_voltage_max_v, np.minimum(higher * limits.current_max_a, window), 0.0)
    power, voltage = np.where(over, at_limit, window), np.where(over, higher, voltage)
    mean_power, mean_voltage = (
        np.bincount(response.interval, weights=each * response.share).astype(np.float64) for each in (power, voltage)
    )
    hour_ac = np.minimum(microinverter.conversion.ac_power_w(mean_power, mean_voltage), mean_power)
    efficiency = np.divide(hour_ac, mean_power, out=np.zeros_like(hour_ac), where=mean_power > 0.0)
    converted = power * efficiency[response.interval]
    limit = np.where(response.brief, limits.ac_peak_power_w, limits.ac_power_w)
    clipped = np.minimum(converted, limit)
    left = np.ones(power.size)
    if (derating := microinverter.derating) is not None:
        temp_c = response.temp_under_module_c
        left = np.clip(1.0 - derating.percent_per_k / 100.0 * (temp_c - derating.start_temp_c), 0.0, 1.0)
        left[temp_c > derating.shutdown_temp_c] = 0.0
    return StepPowers(best.power_w, start, window, power, converted, clipped, np.minimum(clipped, limit * left))


DERATINGS = st.none() | st.builds(ThermalDerating, numbers(10.0, 50.0), numbers(0.5, 5.0), numbers(40.0, 90.0))
UNITS = st.builds(
    lambda power, peak, lowest, width, start, current, start_power, derating: replace(
        unit(power), ac_peak_power_w=power * peak, dc_operating_voltage_min_v=lowest, dc_operating_voltage_max_v=lowest + width,
        dc_start_voltage_v=start, dc_current_max_a=current, start_power_w=start_power, derating=derating,
    ),
    numbers(150.0, 500.0), numbers(1.0, 1.2), numbers(10.0, 32.0), numbers(1.0, 40.0), numbers(0.0, 36.0), numbers(4.0, 16.0),
    numbers(0.0, 20.0), DERATINGS,
)  # fmt: skip


@given(st.lists(UNITS, min_size=1, max_size=3), numbers(0.6, 1.6))
def test_every_step_is_that_of_the_definition(units: list[Microinverter], factor: float) -> None:
    response = side().response
    jobs = [PairingJob(each, each.per_module(1), factor) for each in units]
    other = scaled(response, np.full(response.hour_power_w.size, factor))
    for each, power in zip(units, pairing_powers(response, jobs), strict=True):
        mine, theirs = step_powers(power), at_every_point(other, each)
        for name in StepPowers.__slots__:
            np.testing.assert_allclose(getattr(mine, name), getattr(theirs, name), rtol=1e-7, atol=1e-7, err_msg=name)
        idle = np.isin(response.interval, power.idle_hours)
        assert not idle[power.stopped].any(), "a point without output is counted once"
        idle[power.stopped] = True
        np.testing.assert_array_equal(idle, mine.after_derating <= 0.0)


def test_a_face_may_have_a_module_of_its_own() -> None:
    microinverter, both = replace(unit(320.0), dc_current_max_a=11.0), side()
    factors = np.array([0.8, 1.2])
    job = PairingJob(microinverter, microinverter.per_module(1), factors[both.hour_face])
    each_kwh = hours_by_face(both, next(pairing_powers(both.response, [job])).hour_ac_w)
    for face, factor in enumerate(factors.tolist()):
        alone = PairingJob(microinverter, microinverter.per_module(1), factor)
        kwh = hours_by_face(both, next(pairing_powers(both.response, [alone])).hour_ac_w)
        assert each_kwh[face] == pytest.approx(kwh[face], rel=1e-12)


def test_many_jobs_are_solved_some_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    response, units = side().response, [unit(power, 96.0) for power in (250.0, 300.0, 350.0)]
    jobs = [PairingJob(each, replace(each, dc_current_max_a=9.0).per_module(1)) for each in units]
    together = [power.hour_ac_w for power in pairing_powers(response, jobs)]
    monkeypatch.setattr(pairing_power_file, "POINTS_TOGETHER", response.weight_h.size)
    for one, other in zip(together, pairing_powers(response, jobs), strict=True):
        np.testing.assert_array_equal(one, other.hour_ac_w)
