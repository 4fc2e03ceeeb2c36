"""A year of representative days from monthly totals."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given, strategies as st

from wattpair_service.climate.clearness import bendt_days, levelled_days
from wattpair_service.climate.monthly import (
    DAYS_OF_MONTH,
    RANK_OF_DAY,
    MonthlyFigures,
    conditions,
    representative_days,
)
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import Conditions

# A dry place at 31 degrees and a cloudy one at 51.5: invented.
SUNNY = (98.0, 108.0, 152.0, 186.0, 222.0, 232.0, 236.0, 214.0, 176.0, 138.0, 104.0, 90.0)
CLOUDY = (21.0, 36.0, 74.0, 114.0, 146.0, 150.0, 150.0, 128.0, 88.0, 52.0, 26.0, 16.0)
# Of 70 degrees north, with a twilight before the polar night.
POLAR = (0.1, 8.0, 45.0, 100.0, 140.0, 150.0, 140.0, 95.0, 45.0, 14.0, 1.0, 0.0)
MILD = (4.0, 5.0, 7.0, 9.0, 13.0, 16.0, 18.0, 18.0, 15.0, 11.0, 7.0, 5.0)
HAZE = (3.0,) * 12


def _figures(latitude: float = 51.5, ghi: tuple[float, ...] = CLOUDY, **others: object) -> MonthlyFigures:
    plain = MonthlyFigures(latitude, -0.5, 30.0, ghi, MILD, HAZE, 4.0)
    return dataclasses.replace(plain, **others)  # type: ignore[arg-type]


def _month_sums(year: Conditions) -> np.ndarray:
    return np.bincount(year.month - 1, weights=year.ghi_w_m2 * year.weight_h, minlength=12) / 1000.0


@pytest.mark.parametrize(
    ("latitude", "ghi"),
    [(51.5, CLOUDY), (31.0, SUNNY), (-31.0, SUNNY[6:] + SUNNY[:6]), (70.0, POLAR)],
    ids=["cloudy", "sunny", "southern hemisphere", "polar night"],
)
def test_months_add_up_and_beam_and_diffuse_make_the_global(latitude: float, ghi: tuple[float, ...]) -> None:
    year = conditions(_figures(latitude, ghi))
    np.testing.assert_allclose(_month_sums(year), ghi, rtol=1e-12)
    np.testing.assert_allclose(np.bincount(year.month - 1, weights=year.weight_h), 24.0 * DAYS_OF_MONTH, rtol=1e-12)
    lit = year.ghi_w_m2 > 0.0
    closed = year.dni_w_m2 * np.cos(np.radians(year.zenith_deg)) + year.dhi_w_m2
    np.testing.assert_allclose(closed[lit], year.ghi_w_m2[lit], rtol=1e-9)
    assert np.all((year.dni_w_m2 >= 0.0) & (year.dni_w_m2 <= year.dni_extra_w_m2) & (year.dhi_w_m2 >= 0.0))
    assert np.all(year.ghi_w_m2[~lit] == 0.0)


def test_points_are_few_and_in_the_order_of_the_calendar() -> None:
    year = conditions(_figures())
    assert np.count_nonzero(year.ghi_w_m2) <= 1500
    assert np.all(np.diff(year.month) >= 0)
    nights = np.flatnonzero(year.ghi_w_m2 == 0.0)
    assert len(nights) == 96
    assert np.all(np.diff(year.hour[nights[0] + 1 : nights[1]]) >= 0)
    # A cloudy place.
    assert 0.5 < year.dhi_w_m2 @ year.weight_h / (year.ghi_w_m2 @ year.weight_h) < 0.65


def test_order_of_days_does_not_follow_the_sun() -> None:
    day, rank = np.arange(8) - 3.5, RANK_OF_DAY - 3.5
    assert sorted(RANK_OF_DAY.tolist()) == list(range(8))
    assert day @ rank == day**2 @ rank == day @ rank**2 == 0.0


def test_extraterrestrial_irradiation_is_the_handbooks() -> None:
    """Klein's mean days of the month, 10.1016/0038-092X(77)90001-9, with Cooper's declination: June 11, December 10."""
    latitude = np.radians(40.0)
    days = representative_days(40.0)
    mean = days.month_sum(days.extraterrestrial_wh_m2) / DAYS_OF_MONTH
    for month, day in ((5, 162.0), (11, 344.0)):
        declination = np.radians(23.45 * np.sin(2.0 * np.pi * (284.0 + day) / 365.0))
        sunset = np.arccos(-np.tan(latitude) * np.tan(declination))
        height = np.cos(latitude) * np.cos(declination) * np.sin(sunset) + sunset * np.sin(latitude) * np.sin(declination)
        daily = 24.0 / np.pi * 1361.0 * (1.0 + 0.033 * np.cos(2.0 * np.pi * day / 365.0)) * height
        assert mean[month] == pytest.approx(daily, rel=0.01)


@pytest.mark.parametrize(
    ("latitude", "ghi", "noon", "winter"), [(51.5, CLOUDY, 180.0, 12), (-31.0, SUNNY[6:] + SUNNY[:6], 0.0, 6)]
)
def test_sun_at_noon_stands_towards_the_equator(latitude: float, ghi: tuple[float, ...], noon: float, winter: int) -> None:
    year = conditions(_figures(latitude, ghi, longitude_deg=0.0))
    lit = (year.ghi_w_m2 > 0.0) & (year.month == winter)
    highest = np.argmin(np.where(lit, year.zenith_deg, 180.0))
    assert abs((year.azimuth_deg[highest] - noon + 180.0) % 360.0 - 180.0) < 15.0
    morning = lit & (year.hour < 11)
    assert np.all((year.azimuth_deg[morning] > 0.0) & (year.azimuth_deg[morning] < 180.0))


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"ghi_kwh_m2_by_month": CLOUDY[:11]}, "ghi_kwh_m2_by_month", "11 values"),
        ({"ghi_kwh_m2_by_month": (21.0, 36.0, -1.0, *CLOUDY[3:])}, "ghi_kwh_m2_by_month", "month 3 has -1"),
        ({"ghi_kwh_m2_by_month": (400.0, *CLOUDY[1:])}, "ghi_kwh_m2_by_month", "month 1 has 400"),
        ({"ghi_kwh_m2_by_month": (*CLOUDY[:6], 400.0, *CLOUDY[7:])}, "ghi_kwh_m2_by_month", "month 7 has 400"),
        ({"temp_mean_c_by_month": (float("nan"), *MILD[1:])}, "temp_mean_c_by_month", "not a number"),
        ({"clearness_by_month": ((0.5,) * 8,)}, "clearness_by_month", "twelve months of 8 values"),
    ],
)
def test_impossible_figures_are_refused(changes: dict[str, Any], field: str, says: str) -> None:
    with pytest.raises(WeatherError, match=says) as caught:
        conditions(dataclasses.replace(_figures(), **changes))
    assert caught.value.fields == (field,)


def test_air_is_warmest_in_the_afternoon_and_its_mean_is_kept() -> None:
    year = conditions(_figures(temp_range_k_by_month=(8.0,) * 12))
    july = (year.month == 7) & (year.ghi_w_m2 > 0.0)
    assert 13 <= year.hour[july][np.argmax(year.temp_air_c[july])] <= 17
    assert 18.0 < year.temp_air_c[july] @ year.weight_h[july] / year.weight_h[july].sum() < 22.0
    assert year.wind_speed_m_s @ year.weight_h / 8760.0 == pytest.approx(4.0, rel=1e-9)
    # Without a given range, clearer days have a wider one.
    clearness = np.array([np.linspace(0.1, 0.7, 8)] * 12)
    year = conditions(_figures(clearness_by_month=tuple(tuple(row) for row in clearness.tolist())))
    june = (year.month == 6) & (year.ghi_w_m2 > 0.0)
    brightest, darkest = np.argmax(year.ghi_w_m2[june]), np.argmin(year.ghi_w_m2[june])
    assert year.temp_air_c[june][brightest] > year.temp_air_c[june][darkest]


def test_published_distribution_has_its_mean_and_ends() -> None:
    clearness, clear_day = np.linspace(0.1, 0.7, 12), np.full(12, 0.72)
    days = bendt_days(clearness, clear_day, 8)
    np.testing.assert_allclose(days.mean(axis=1), clearness, rtol=2e-3)
    assert np.all(np.diff(days, axis=1) >= 0.0)
    assert days.max() <= 1.05 * 0.72
    assert days.min() >= 0.05 * 0.99


def test_a_nearly_even_distribution_keeps_its_mean() -> None:
    """Half-way between the darkest and the clearest days the published density is flat, where its formula is 0 - 0."""
    clear_day = np.full(12, 0.06)
    highest = 1.05 * 0.06
    offsets = np.array([0.0, 1e-12, 1e-9, -1e-9, 1e-7, 1e-6, -1e-5, 1e-4, -1e-4, 1e-3, -1e-3, 2e-3])
    # The darkest days have half the mean.
    clearness = highest / 1.5 + offsets
    days = bendt_days(clearness, clear_day, 50)
    np.testing.assert_allclose(days.mean(axis=1), clearness, rtol=1e-6)
    assert np.all(np.diff(days, axis=1) > 0.0)


def test_bendt_generalised_distribution() -> None:
    """Duffie and Beckman's figure of Bendt et al., mean 0.5: about half of the days lie below 0.53, a tenth below 0.2."""
    days = bendt_days(np.full(12, 0.5), np.full(12, 0.7645 / 1.05), 100)[0]
    assert 0.49 < np.median(days) < 0.56
    assert 0.13 < np.quantile(days, 0.1) < 0.25


def test_levelling_keeps_clear_days_clear() -> None:
    days = np.array([[0.2, 0.4, 0.6, 0.7, 0.75, 0.756, 0.756, 0.756]] * 12)
    levelled = levelled_days(days, np.full(12, 0.5), np.full(12, 0.72))
    np.testing.assert_allclose(levelled.mean(axis=1), 0.5, rtol=1e-6)
    assert levelled[0, -1] == pytest.approx(0.756, rel=1e-3)
    assert levelled[0, 1] < days[0, 1]


@given(
    latitude=st.floats(-66.0, 66.0),
    share=st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12),
    elevation=st.floats(-400.0, 5000.0),
    haze=st.floats(1.5, 8.0),
)
def test_any_possible_months_are_reproduced(latitude: float, share: list[float], elevation: float, haze: float) -> None:
    days = representative_days(latitude)
    limits = days.month_sum(days.extraterrestrial_wh_m2) / 1000.0
    ghi = tuple((np.array(share) * limits).tolist())
    year = conditions(
        _figures(latitude, ghi, elevation_m=elevation, linke_turbidity_by_month=(haze,) * 12, longitude_deg=latitude)
    )
    np.testing.assert_allclose(_month_sums(year), ghi, rtol=1e-9, atol=1e-9)
    for each in year.arrays().values():
        assert np.all(np.isfinite(each))
    assert np.all(year.dni_w_m2 >= -1e-9)
    assert np.all((year.hour >= 0) & (year.hour < 24))
