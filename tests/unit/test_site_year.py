"""The year at a site by each kind of weather, and what is assumed and reported."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, TMY3, UTC_OFFSET_H, real_weather, real_year
from tests.open_data import pvlib_bundled
from tests.unit.test_monthly import CLOUDY, MILD, SUNNY
from wattpair_service.climate import atlas
from wattpair_service.climate.site_year import FAR_WEATHER, SPLIT, locate, site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import (
    BuiltInClimate,
    FileWeather,
    HourlyArrays,
    MonthlyTotals,
    NearestStation,
    Weather,
)
from wattpair_service.engineering import cautions, methods
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.results import Assumption, Result
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.site import Site
from wattpair_service.engineering.site_year import SiteYear
from wattpair_service.words.catalogue import english

HERE = Site(LATITUDE_DEG, LONGITUDE_DEG, 273.0, None, None)
AT_SEA = Site(LATITUDE_DEG, -40.0, 0.0, None, None)
NOWHERE = StationFolder()
FILE = FileWeather("tmy3", pvlib_bundled(TMY3))
# A dark place at 64 degrees north: invented.
DARK = (5.0, 21.0, 60.0, 105.0, 150.0, 155.0, 150.0, 108.0, 60.0, 25.0, 7.0, 2.0)
MONTHLY = MonthlyTotals(CLOUDY, None)
Twelve = tuple[float, ...]


def arrays(count: int = 8760, offset_h: float = UTC_OFFSET_H) -> HourlyArrays:
    """The first hours of the real year."""
    year: Any = real_weather()
    sent = (year.ghi_w_m2, year.dni_w_m2, year.dhi_w_m2, year.temp_air_c, year.wind_speed_m_s)
    return HourlyArrays(datetime(2023, 1, 1, 1), offset_h, "end", *(values[:count] for values in sent))


@pytest.fixture(scope="module")
def stations(tmp_path_factory: pytest.TempPathFactory) -> StationFolder:
    folder: Path = tmp_path_factory.mktemp("stations")
    (folder / "here.csv").write_text(pvlib_bundled(TMY3), encoding="iso-8859-1")
    return StationFolder.read(folder, distance_max_km=100.0)


KINDS: dict[str, Callable[[], Weather]] = {
    "climate": BuiltInClimate,
    "monthly": lambda: MONTHLY,
    "station": NearestStation,
    "hourly": arrays,
    "file": lambda: FILE,
}
EVERY_KIND = pytest.mark.parametrize("kind", KINDS)


def month_sums(year: Conditions) -> FloatArray:
    return np.bincount(year.month - 1, weights=year.ghi_w_m2 * year.weight_h, minlength=12) / 1000.0


def of_kind(kind: str, stations: StationFolder, site: Site = HERE) -> SiteYear:
    return site_year(site, KINDS[kind](), stations)


def names(year: SiteYear) -> set[str]:
    return {assumption.name for assumption in year.assumptions}


@EVERY_KIND
def test_every_kind_of_weather_gives_conditions_of_a_whole_year(stations: StationFolder, kind: str) -> None:
    year = of_kind(kind, stations)
    hours = np.bincount(year.conditions.month - 1, weights=year.conditions.weight_h, minlength=12)
    np.testing.assert_allclose(hours, 24.0 * np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]), rtol=1e-12)
    for name, values in year.conditions.arrays().items():
        assert np.isfinite(values).all(), name
    assert year.conditions.ghi_kwh_m2 > 500.0
    assert (year.climate.kind, year.climate.elevation_m) == (kind, 273.0)
    assert (year.climate.station is not None) == (kind == "station")
    assert (year.climate.level_error_share is not None) == (kind == "climate")
    assert year.design_temperatures.lowest_c < year.design_temperatures.highest_c
    hourly = kind not in ("climate", "monthly")
    assert year.irradiance_origin == year.subhourly_states().origin == ("measured_hourly" if hourly else "representative_days")
    assert year.subhourly_states().variable_share.shape == year.conditions.ghi_w_m2.shape
    if hourly:
        for name, expected in real_year().arrays().items():
            np.testing.assert_array_equal(year.conditions.arrays()[name], expected, err_msg=name)


@pytest.mark.parametrize("temps", [None, MILD], ids=["atlas temperatures", "own temperatures"])
@pytest.mark.parametrize(
    ("place", "totals"),
    [((51.5, -0.5), CLOUDY), ((31.0, 9.0), SUNNY), ((-31.0, 20.0), SUNNY[6:] + SUNNY[:6]), ((64.0, 26.0), DARK)],
)
def test_monthly_totals_are_reproduced(place: tuple[float, float], totals: Twelve, temps: Twelve | None) -> None:
    year = site_year(Site(*place, None, None, None), MonthlyTotals(totals, temps), NOWHERE)
    np.testing.assert_allclose(month_sums(year.conditions), totals, rtol=1e-9)
    assert year.conditions.ghi_kwh_m2 == pytest.approx(sum(totals), rel=1e-9)


def test_a_months_temperatures_are_the_callers_else_the_atlas() -> None:
    site = Site(51.5, -0.5, None, None, None)
    theirs, ours = (site_year(site, MonthlyTotals(CLOUDY, temps), NOWHERE) for temps in (MILD, None))
    for year, means in ((theirs, MILD), (ours, atlas.at(51.5, -0.5).temp_mean_c_by_month)):
        hours = np.bincount(year.conditions.month - 1, weights=year.conditions.weight_h)
        found = np.bincount(year.conditions.month - 1, weights=year.conditions.weight_h * year.conditions.temp_air_c) / hours
        np.testing.assert_allclose(found, means, atol=1.0)
    assert names(ours) - names(theirs) == {"weather.temp_air_c_by_month"}
    assert {"weather.linke_turbidity_by_month", "weather.wind_speed_m_s", "site.elevation_m"} <= names(theirs)


def test_the_built_in_climate_is_the_atlas_and_cached() -> None:
    year, climate = of_kind("climate", NOWHERE), atlas.at(LATITUDE_DEG, LONGITUDE_DEG, 273.0)
    np.testing.assert_allclose(month_sums(year.conditions), climate.ghi_kwh_m2_by_month, rtol=1e-9)
    assert year.climate.source == climate.source
    assert year.climate.level_error_share == climate.ghi_error_share
    assert year.linke_turbidity_by_month == climate.linke_turbidity_by_month
    assert cautions.BUILT_IN_CLIMATE in year.cautions
    again = of_kind("climate", NOWHERE)
    assert again.conditions is year.conditions
    assert again.subhourly_states() is year.subhourly_states()


@EVERY_KIND
def test_a_missing_elevation_is_taken_from_the_map_and_reported(stations: StationFolder, kind: str) -> None:
    left_out = of_kind(kind, stations, replace(HERE, elevation_m=None))
    (assumed,) = (each for each in left_out.assumptions if each.name == "site.elevation_m")
    height = atlas.at(LATITUDE_DEG, LONGITUDE_DEG).map_elevation_m
    assert left_out.climate.elevation_m == height
    assert (assumed.value, assumed.unit) == (round(height, 1), "m")
    assert "built-in map" in english(assumed.source)
    assert "site.elevation_m" not in names(of_kind(kind, stations))


def test_what_the_arrays_leave_out_is_assumed() -> None:
    year = site_year(HERE, replace(arrays(), wind_speed_m_s=None, dni_w_m2=None, dhi_w_m2=None), NOWHERE)
    (assumed,) = year.assumptions
    assert (assumed.name, assumed.value) == ("weather.wind_speed_m_s", 1.0)
    assert set(year.conditions.wind_speed_m_s) == {1.0}
    assert year.irradiance_origin == "measured_global_only"
    assert SPLIT in year.method
    assert SPLIT not in of_kind("hourly", NOWHERE).method


@pytest.mark.parametrize("kind", ["hourly", "file"])
def test_the_callers_origin_is_kept(kind: str) -> None:
    weather = KINDS[kind]()
    assert isinstance(weather, HourlyArrays | FileWeather)
    assert site_year(HERE, replace(weather, origin="satellite_60_min"), NOWHERE).irradiance_origin == "satellite_60_min"


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "away_km"),
    [(LATITUDE_DEG, LONGITUDE_DEG, 0), (36.5, LONGITUDE_DEG, 44), (37.1, LONGITUDE_DEG, 111), (LATITUDE_DEG, -78.95, 90)],
)
def test_a_file_says_how_far_from_the_site_it_was_taken(latitude_deg: float, longitude_deg: float, away_km: int) -> None:
    year = site_year(Site(latitude_deg, longitude_deg, 0.0, None, None), FILE, NOWHERE)
    assert f", {away_km} km from the site" in english(year.climate.source)
    assert any(each.code == FAR_WEATHER.code for each in year.cautions) == (away_km > 50)


def test_the_nearest_station_is_reported(stations: StationFolder) -> None:
    used = of_kind("station", stations).climate.station
    assert used == of_kind("climate", stations).nearest_station
    assert used is not None
    assert (used.name, used.height_difference_m) == ("here.csv", 0.0)
    assert used.distance_km == pytest.approx(0.0, abs=1e-6)
    assert locate(AT_SEA, stations).station is None


def test_notes_are_joined_without_repeats() -> None:
    year = of_kind("climate", NOWHERE, replace(HERE, elevation_m=None))
    result = Result(
        assumptions=(Assumption("x", 1, None, Cited("a test")),),
        cautions=(cautions.YIELD, cautions.BUILT_IN_CLIMATE),
        method=(methods.REFLECTION, year.method[0]),
    )
    joined = year.with_notes(result)
    assert [assumption.name for assumption in joined.assumptions] == ["x", "site.elevation_m"]
    assert joined.cautions == (cautions.YIELD, cautions.BUILT_IN_CLIMATE)
    assert joined.method == (*year.method, methods.REFLECTION)


BAD: dict[str, tuple[Site, Weather, tuple[str, ...], str]] = {
    "sea": (AT_SEA, BuiltInClimate(), ("site/latitude_deg", "site/longitude_deg"), "send twelve monthly totals"),
    "pole": (Site(-90.0, 0.0, None, None, None), BuiltInClimate(), ("site/latitude_deg", "site/longitude_deg"), "pole"),
    "sea, by the month": (AT_SEA, MONTHLY, ("weather/temp_air_c_by_month",), "has no data for this location"),
    "eleven months": (HERE, MonthlyTotals(CLOUDY[:11], None), ("weather/ghi_kwh_m2_by_month",), "11 values; a year has twelve"),
    "too bright": (
        HERE, MonthlyTotals((*CLOUDY[:11], 200.0), None), ("weather/ghi_kwh_m2_by_month",), "month 12 has 200 kWh/m2",
    ),
    "no station": (HERE, NearestStation(), ("weather/kind",), "no usable station lies within 50 km"),
    "hours": (HERE, arrays(8000), ("weather/ghi_w_m2",), "8000 values; a year from 2023 has 8760 hours"),
    "file": (HERE, FileWeather("epw", "x"), ("weather/text",), "not a readable EPW file"),
}  # fmt: skip


@pytest.mark.parametrize(("site", "weather", "named", "says"), BAD.values(), ids=BAD)
def test_weather_that_cannot_be_used_is_refused(site: Site, weather: Weather, named: tuple[str, ...], says: str) -> None:
    with pytest.raises(WeatherError, match=says) as error:
        site_year(site, weather, NOWHERE)
    assert error.value.fields == named


SEA_OFFSET_H = UTC_OFFSET_H + (-40.0 - LONGITUDE_DEG) / 15.0
"""Moves the real year's clock to where the sun of 40 degrees west stands."""
WITHOUT_MAP: dict[str, Callable[[], Weather]] = {
    "monthly": lambda: MonthlyTotals(SUNNY, MILD),
    "hourly": lambda: arrays(offset_h=SEA_OFFSET_H),
    "file": lambda: FILE,
}


@pytest.mark.parametrize("kind", WITHOUT_MAP)
def test_the_callers_weather_serves_where_the_atlas_has_none(kind: str) -> None:
    year = site_year(replace(AT_SEA, elevation_m=None), WITHOUT_MAP[kind](), NOWHERE)
    assert year.conditions.weight_h.sum() == pytest.approx(8760.0)
    assert year.climate.elevation_m == 0.0
    assert any((a.name, english(a.source)) == ("site.elevation_m", "sea level") for a in year.assumptions)
    assert (year.linke_turbidity_by_month is None) == (kind != "monthly")
    assert np.isfinite(year.subhourly_states().linke_turbidity).all()
