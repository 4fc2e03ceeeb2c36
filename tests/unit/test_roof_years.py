"""Sums for many microinverters at once, against the same year point by point."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.builders import microinverters, numbers
from tests.unit.test_pairing_power import hours_by_face, side
from tests.validation.yields import unit
from wattpair_service.engineering import roof_years as roof_years_file
from wattpair_service.engineering.conversion import Conversion, LossCurve, SandiaCurve
from wattpair_service.engineering.equipment import Microinverter
from wattpair_service.engineering.face_years import FaceYears, YearJob
from wattpair_service.engineering.pairing_power import PairingJob, pairing_powers
from wattpair_service.engineering.roof_side import RoofSide
from wattpair_service.engineering.roof_years import RoofYears, roof_years

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

BENT = SandiaCurve(300.0, 312.0, 32.0, 4.0, 3e-5, -2e-2, 5e-3, 4e-2)
"""Bends upwards, and strongly with the voltage."""
WITH_A_POLE = replace(BENT, c1_per_v=-0.12)
"""Its coefficients have a pole at the warmest hours' voltage: no polynomial stands for it."""
WASTEFUL = LossCurve(300.0, (0.12, 0.05, 0.02), 32.0, (0.03, 0.02, 0.0), (31.0, 33.0))
HUNGRY = LossCurve(300.0, (0.01, -0.05, 0.02))
"""Would give more than goes in."""


def years() -> FaceYears:
    found = side()
    return FaceYears.of(found.response, found.face, found.hour_face, found.dark_hours_h)


def points_by_face(roof: RoofSide, index: IntArray, values: FloatArray) -> FloatArray:
    """Sums of values at some of the points, times their hours, over each face."""
    everywhere = np.zeros(roof.face.size)
    everywhere[index] = values
    return roof.by_face(everywhere)


def point_by_point(microinverter: Microinverter, modules_per_input: int, factors: FloatArray) -> dict[str, FloatArray]:
    """What `RoofYears` says of one job, from the power of each point."""
    found = side()
    limits = microinverter.per_module(modules_per_input)
    power = next(pairing_powers(found.response, [PairingJob(microinverter, limits, factors[found.hour_face])]))
    at, held = power.limited, power.held
    nothing = np.zeros(found.response.weight_h.size)
    nothing[power.stopped] = 1.0
    idle = np.zeros(found.response.hour_weight_h.size)
    idle[power.idle_hours] = 1.0
    return {
        "start_up_kwh": points_by_face(found, at.index, at.available_w - at.started_w) / 1000.0,
        "voltage_window_kwh": points_by_face(found, at.index, at.started_w - at.in_window_w) / 1000.0,
        "current_limit_kwh": points_by_face(found, at.index, at.in_window_w - at.power_w) / 1000.0,
        "converted_kwh": hours_by_face(found, power.hour_ac_w) / 1000.0,
        "clipping_kwh": points_by_face(found, held.index, held.before_w - held.clipped_w) / 1000.0,
        "derating_kwh": points_by_face(found, held.index, held.clipped_w - held.derated_w) / 1000.0,
        "night_draw_kwh": (found.dark_hours_h + found.by_face(nothing) + hours_by_face(found, idle))
        * (limits.night_draw_w / 1000.0),
    }


def require_alike(found: RoofYears, job: int, expected: dict[str, FloatArray]) -> None:
    for name, values in expected.items():
        np.testing.assert_allclose(getattr(found, name)[job], values, rtol=1e-7, atol=1e-6, err_msg=name)


FACTORS = st.tuples(numbers(0.5, 1.6), numbers(0.5, 1.6)).map(np.array)


@settings(max_examples=settings().max_examples // 2)
@given(st.lists(st.tuples(microinverters(), FACTORS), min_size=1, max_size=4), st.integers(1, 2))
def test_sums_are_those_of_the_points(asked: list[tuple[Microinverter, FloatArray]], in_series: int) -> None:
    jobs = [YearJob(each, in_series, factors) for each, factors in asked]
    found = roof_years(years(), jobs)
    for job, (each, factors) in enumerate(asked):
        require_alike(found, job, point_by_point(each, in_series, factors))


@pytest.mark.parametrize("conversion", [BENT, WITH_A_POLE, WASTEFUL, HUNGRY], ids=["bent", "a pole", "wasteful", "hungry"])
@pytest.mark.parametrize("factor", [0.6, 1.0, 3.0])
def test_odd_conversions_beside_an_ordinary_one(conversion: Conversion, factor: float) -> None:
    units = unit(300.0), replace(unit(300.0), conversion=conversion, night_draw_w=0.2)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = roof_years(years(), [YearJob(each, 1, factor) for each in units])
        for job, each in enumerate(units):
            require_alike(found, job, point_by_point(each, 1, np.full(2, factor)))


def test_hours_that_a_limit_moves_beyond_the_range_of_a_conversion() -> None:
    volts = side().response.hour_voltage_v
    up_to_the_hours = LossCurve(300.0, (0.005, 0.01, 0.02), 32.0, (0.0, 0.03, 0.0), (1.0, float(volts.max())))
    raised = replace(unit(300.0), conversion=up_to_the_hours, dc_current_max_a=1.5)
    straight = SandiaCurve(300.0, 330.0, 32.0, 4.0, -5e-6, -5e-3, -2e-3, 1e-3)
    lowered = replace(unit(300.0), conversion=straight, dc_operating_voltage_max_v=0.6 * float(volts.min()))
    found = roof_years(years(), [YearJob(raised, 1), YearJob(lowered, 1)])
    for job, each in enumerate((raised, lowered)):
        require_alike(found, job, point_by_point(each, 1, np.ones(2)))


def test_many_jobs_are_computed_some_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    jobs = [YearJob(each, 1) for each in (unit(power) for power in (250.0, 300.0, 350.0))]
    together = roof_years(years(), jobs)
    monkeypatch.setattr(roof_years_file, "POINTS_TOGETHER", 2 * side().response.weight_h.size)
    apart = roof_years(years(), jobs)
    np.testing.assert_allclose(apart.converted_kwh, together.converted_kwh, rtol=1e-12)
    np.testing.assert_array_equal(apart.held.place, together.held.place)
    assert apart.clipping_kwh.shape == (3, 2)


def test_cached_units_keep_their_own_limits() -> None:
    cached, units = years(), [(unit(280.0), 1), (unit(330.0), 1), (unit(330.0), 2)]
    expected = [roof_years(years(), [YearJob(*each)]).clipping_kwh for each in units]
    for order in ([0], [2, 0], [1, 2, 0], [2], [1, 2]):
        found = roof_years(cached, [YearJob(*units[which]) for which in order])
        np.testing.assert_allclose(found.clipping_kwh, [expected[which][0] for which in order], rtol=1e-12)
    # More units than the cache holds.
    for power in np.linspace(250.0, 350.0, 20).tolist():
        mine, alone = (roof_years(each, [YearJob(unit(power), 1)]).clipping_kwh for each in (cached, years()))
        np.testing.assert_allclose(mine, alone, rtol=1e-12)
