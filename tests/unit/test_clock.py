"""A wrong clock is found from the irradiance, corrected where possible, and refused elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest

from tests.builders import real_weather
from tests.open_data import amsterdam_epw, pvlib_bundled, pvlib_source
from wattpair_service.climate import files
from wattpair_service.climate.clock import clock_offset_min, with_right_clock
from wattpair_service.climate.hourly import from_arrays
from wattpair_service.climate.plausibility import require_plausible
from wattpair_service.climate.sun import solar_hour, zenith_deg
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import HourlyWeather
from wattpair_service.words.catalogue import english

SNAPSHOTS = "tmy_45.000_8.000_2005_2023.epw"  # its labels stand some 40 minutes before its irradiance
CORRECTED = "45 N 8 E, corrected"
TRUE_YEARS: dict[str, Callable[[], HourlyWeather]] = {
    "Amsterdam": lambda: files.from_text(amsterdam_epw(), file_format="epw"),
    "36 N 80 W": real_weather,
    "55 N 161 W": lambda: files.from_text(pvlib_bundled("703165TY.csv"), file_format="tmy3"),
    CORRECTED: lambda: files.from_text(pvlib_source(SNAPSHOTS), file_format="epw"),
}
WRONG_CLOCK = "the time zone, the interval label"
EVERY_YEAR = pytest.mark.parametrize("name", TRUE_YEARS)


@cache
def true_year(name: str) -> HourlyWeather:
    return TRUE_YEARS[name]()


def late(weather: HourlyWeather, minutes: float) -> HourlyWeather:
    """The same irradiance with labels that are some minutes late."""
    return replace(weather, middle_utc=weather.middle_utc + pd.Timedelta(minutes=minutes))


def without_beam(weather: HourlyWeather) -> HourlyWeather:
    return replace(weather, dni_w_m2=None, dhi_w_m2=None)


def refusal(weather: HourlyWeather) -> str:
    with pytest.raises(WeatherError) as error:
        require_plausible(with_right_clock(weather))
    assert error.value.fields == ("ghi_w_m2",)
    return str(error.value)


@EVERY_YEAR
def test_a_true_clock_is_left_alone(name: str) -> None:
    year = true_year(name)
    assert with_right_clock(year) is year
    assert ("times shifted" in english(year.source)) is (name == CORRECTED)


@EVERY_YEAR
@pytest.mark.parametrize("minutes", [-60, -20, 20, 60])
def test_a_shifted_clock_is_corrected(name: str, minutes: int) -> None:
    shifted = late(true_year(name), minutes)
    offset_min = clock_offset_min(shifted)
    assert offset_min == pytest.approx(-minutes, abs=5)
    corrected = with_right_clock(shifted)
    left = np.abs((corrected.middle_utc - true_year(name).middle_utc).total_seconds()).max() / 60.0
    assert left <= 5.0
    assert f"times shifted by {offset_min:+d} minutes" in english(corrected.source)
    require_plausible(corrected)


@EVERY_YEAR
@pytest.mark.parametrize("minutes", [-10, 10])
def test_a_shift_within_the_error_of_hourly_means_is_left_alone(name: str, minutes: int) -> None:
    assert clock_offset_min(late(true_year(name), minutes)) == 0


@EVERY_YEAR
@pytest.mark.parametrize("minutes", [-20, 0, 20])
def test_global_irradiance_alone_neither_moves_nor_refuses_a_year(name: str, minutes: int) -> None:
    year = without_beam(late(true_year(name), minutes))
    assert with_right_clock(year) is year
    require_plausible(year)
    overcast = replace(late(true_year(name), 45), dni_w_m2=np.zeros(8760), dhi_w_m2=year.ghi_w_m2)
    assert clock_offset_min(overcast) == 0


def test_a_year_of_snapshots_is_moved_to_its_noon() -> None:
    weather = true_year(CORRECTED)
    labelled = pd.date_range("2022-12-31 23:30", periods=8760, freq="h")
    moved_min = (weather.middle_utc - labelled).total_seconds().unique() / 60.0
    assert moved_min.tolist() == [pytest.approx(40.0, abs=5.0)]
    assert f"times shifted by {moved_min[0]:+.0f} minutes, where beam, diffuse and global irradiance agree" in english(
        weather.source
    )
    noon_min = 60.0 * float(weather.ghi_w_m2 @ solar_hour(weather)) / float(weather.ghi_w_m2.sum())
    assert abs(noon_min) < 5.0


def as_arrays(minutes: int) -> HourlyWeather:
    year = real_weather()
    names = ("latitude_deg", "longitude_deg", "elevation_m", "utc_offset_h", "temp_air_c", "wind_speed_m_s")
    arrays: dict[str, Any] = {name: getattr(year, name) for name in (*names, "ghi_w_m2", "dni_w_m2", "dhi_w_m2")}
    first_label = datetime(2023, 1, 1, 1) + timedelta(minutes=minutes)
    return from_arrays(**arrays, first_label=first_label, interval_label="end")


@pytest.mark.parametrize("minutes", [-40, 40])
def test_arrays_are_corrected_within_the_hour(minutes: int) -> None:
    weather = as_arrays(minutes)
    assert weather.clock_moved_min == -minutes
    assert weather.middle_utc[0] == real_weather().middle_utc[0]
    assert english(weather.source).endswith(
        f"shifted by {-minutes:+d} minutes, where beam, diffuse and global irradiance agree"
    )


@pytest.mark.parametrize("minutes", [-60, 45])
def test_arrays_that_contradict_their_own_labels_are_refused(minutes: int) -> None:
    with pytest.raises(WeatherError, match=rf"agree only \{-minutes:+d} minutes from the times given") as error:
        as_arrays(minutes)
    assert error.value.fields == ("ghi_w_m2",)


def test_beam_of_another_minute_is_no_wrong_clock() -> None:
    """Beam of the start of each hour fits there, but the middle of the global irradiance stands at noon already."""
    year = real_weather()
    assert year.dhi_w_m2 is not None
    there, here = (np.maximum(np.cos(np.radians(zenith_deg(year, shift_h))), 0.05) for shift_h in (-0.5, 0.0))
    beam_there = replace(year, dni_w_m2=np.clip((year.ghi_w_m2 - year.dhi_w_m2) / there, 0.0, 1300.0))
    closed = replace(year, dni_w_m2=np.clip((year.ghi_w_m2 - year.dhi_w_m2) / here, 0.0, 1300.0))
    assert clock_offset_min(closed) == 0
    assert clock_offset_min(beam_there) == 0


@EVERY_YEAR
@pytest.mark.parametrize("minutes", [-300, -150, -80, 80, 150, 300])
def test_a_clock_beyond_the_search_is_refused(name: str, minutes: int) -> None:
    shifted = late(true_year(name), minutes)
    assert clock_offset_min(shifted) == 0
    assert WRONG_CLOCK in refusal(shifted)


@EVERY_YEAR
@pytest.mark.parametrize(("minutes", "side"), [(-45, "before"), (45, "after")])
def test_noon_of_global_irradiance_shows_a_wrong_clock(name: str, minutes: int, side: str) -> None:
    problem = refusal(without_beam(late(true_year(name), minutes)))
    assert f"minutes {side} solar noon: {WRONG_CLOCK}, daylight saving or the coordinates" in problem
    assert float(problem.split(" minutes")[0].split()[-1]) == pytest.approx(abs(minutes), abs=8.0)


def test_daylight_saving_in_the_labels_is_refused() -> None:
    year = real_weather()
    summer = (year.middle_utc.dayofyear > 70) & (year.middle_utc.dayofyear < 309)
    ghi = np.where(summer, np.roll(year.ghi_w_m2, 1), year.ghi_w_m2)
    assert WRONG_CLOCK in refusal(replace(without_beam(year), ghi_w_m2=ghi))


@pytest.mark.parametrize("shift_h", [0.0, 0.75])
def test_the_fast_sun_position_is_within_a_quarter_of_a_degree(shift_h: float) -> None:
    weather = real_weather()
    times = weather.middle_utc + pd.Timedelta(hours=shift_h)
    full = pvlib.solarposition.spa_python(times, weather.latitude_deg, weather.longitude_deg)["zenith"].to_numpy()
    off = np.abs(zenith_deg(weather, shift_h) - full)
    assert off.max() < 0.25
    assert off.mean() < 0.1
