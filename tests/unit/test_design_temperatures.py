"""Temperatures to design for, and where each comes from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, strategies as st

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, TMY3, numbers, real_weather
from tests.open_data import amsterdam_epw, pvlib_bundled
from tests.station_folder import with_cells
from wattpair_service.climate import atlas
from wattpair_service.climate.site_year import (
    BESIDE,
    BUILT_IN_COLD,
    BUILT_IN_HOT,
    FURTHER_OUT,
    OWN_EXTREME,
    extremes,
    locate,
    site_year,
)
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate, FileWeather, MonthlyTotals, Weather
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.sentences import THE_REQUEST, Words
from wattpair_service.engineering.site import DesignTemperatures, Site
from wattpair_service.rules import electrical_rules, regions
from wattpair_service.words.catalogue import english

HERE = Site(LATITUDE_DEG, LONGITUDE_DEG, 273.0, None, None)
AT_SEA = Site(30.0, -40.0, 0.0, None, None)
CLIMATE = atlas.at(LATITUDE_DEG, LONGITUDE_DEG, 273.0)
FILE = FileWeather("tmy3", pvlib_bundled(TMY3))
DARK = (40.0,) * 12
MONTHS_C = (4.0, 5.0, 7.0, 9.0, 13.0, 16.0, 18.0, 18.5, 15.0, 11.0, 7.0, 3.0)
BUILT_IN = {"lowest": BUILT_IN_COLD, "highest": BUILT_IN_HOT}
OWN = "the weather's own extreme"
ENDS = ("lowest", "highest")


def design_temperatures(site: Site, hours_c: tuple[float, float] | None = None, **options: Any) -> DesignTemperatures:
    return locate(site, StationFolder()).design_temperatures(hours_c, **options)


def extreme(design: DesignTemperatures, end: str) -> tuple[float, Words]:
    return getattr(design, f"{end}_c"), getattr(design, f"{end}_source")


def file_hours_c() -> tuple[float, float]:
    return float(real_weather().temp_air_c.min()), float(real_weather().temp_air_c.max())


def of_year(site: Site, weather: Weather) -> DesignTemperatures:
    return site_year(site, weather, StationFolder()).design_temperatures


@pytest.mark.parametrize("site", [HERE, AT_SEA], ids=["here", "at sea"])
@pytest.mark.parametrize("hours_c", [None, (-60.0, 59.0), (0.0, 10.0)])
def test_the_callers_own_win(site: Site, hours_c: tuple[float, float] | None) -> None:
    own = replace(site, temp_lowest_c=-7.5, temp_highest_c=33.0)
    assert design_temperatures(own, hours_c) == DesignTemperatures(-7.5, THE_REQUEST, 33.0, THE_REQUEST)
    assert extremes(own, StationFolder()) == design_temperatures(own)


@pytest.mark.parametrize(("end", "other"), [ENDS, ENDS[::-1]])
@pytest.mark.parametrize("hours_c", [None, (-60.0, 59.0)])
def test_one_of_the_callers_leaves_the_other_alone(end: str, other: str, hours_c: tuple[float, float] | None) -> None:
    changes: dict[str, Any] = {f"temp_{end}_c": 12.0}
    design = design_temperatures(replace(HERE, **changes), hours_c)
    assert extreme(design, end) == (12.0, THE_REQUEST)
    assert extreme(design, other) == extreme(design_temperatures(HERE, hours_c), other)


def test_the_built_in_climate_is_the_default_and_a_file_brings_its_hours() -> None:
    design = DesignTemperatures(
        CLIMATE.temp_lowest_c, BUILT_IN_COLD, CLIMATE.temp_highest_c, BUILT_IN_HOT, lowest_estimated=True
    )
    assert design_temperatures(HERE) == extremes(HERE, StationFolder()) == of_year(HERE, BuiltInClimate()) == design
    assert of_year(HERE, FILE) == design_temperatures(HERE, file_hours_c())


@pytest.mark.parametrize("end", ENDS)
def test_the_weathers_own_hours_where_they_lie_beyond(end: str) -> None:
    built_in, _ = extreme(design_temperatures(HERE), end)
    outward_k = 3.0 if end == "highest" else -3.0
    further, nearer = (
        extreme(design_temperatures(HERE, (own, 25.0) if end == "lowest" else (5.0, own)), end)
        for own in (built_in + outward_k, built_in - outward_k)
    )
    assert further == (built_in + outward_k, FURTHER_OUT(own=OWN_EXTREME, temp_c=built_in))
    assert nearer == (built_in, BESIDE(built_in=BUILT_IN[end], own=OWN_EXTREME, temp_c=built_in - outward_k))


@pytest.mark.parametrize("site", [HERE, AT_SEA], ids=["here", "at sea"])
@given(coldest=st.just(20.0) | numbers(-60.0, 15.0), warmest=st.just(21.0) | numbers(25.0, 59.0))
def test_no_hour_of_the_weather_lies_beyond_the_design(site: Site, coldest: float, warmest: float) -> None:
    design = design_temperatures(site, (coldest, warmest))
    assert design.lowest_c <= coldest < warmest <= design.highest_c
    if site is HERE:
        assert design.lowest_c <= CLIMATE.temp_lowest_c < CLIMATE.temp_highest_c <= design.highest_c


@pytest.mark.parametrize(("climb_m", "cooler_k", "warmer_k"), [(1000.0, 6.5, 0.0), (-200.0, 0.0, 1.3), (0.0, 0.0, 0.0)])
def test_without_a_map_the_files_hours_at_the_sites_height_and_a_margin(
    climb_m: float, cooler_k: float, warmer_k: float
) -> None:
    design = of_year(replace(AT_SEA, elevation_m=273.0 + climb_m), FILE)
    coldest_c, warmest_c = file_hours_c()
    lowest_c, highest_c = coldest_c - cooler_k, warmest_c + warmer_k
    assert design.lowest_c == pytest.approx(lowest_c - 5.0)
    assert design.highest_c == pytest.approx(highest_c + 5.0)
    assert english(design.lowest_source).startswith(f"{OWN}, {lowest_c:.1f} degC, and 5 K further: typical years leave")
    assert english(design.highest_source).startswith(f"{OWN}, {highest_c:.1f} degC, and 5 K further: typical years leave")


def test_without_a_map_a_wider_margin_beyond_the_months() -> None:
    design = of_year(AT_SEA, MonthlyTotals(DARK, MONTHS_C))
    assert (design.lowest_c, design.highest_c) == pytest.approx((3.0 - 15.0 - 5.0, 18.5 + 15.0 + 5.0))
    assert english(design.lowest_source).startswith("a day 15 K beyond the extreme month's mean, -12.0 degC, and 5 K further")
    assert english(design.highest_source).startswith("a day 15 K beyond the extreme month's mean, 33.5 degC, and 5 K further")


def test_warm_months_of_the_caller_widen_the_built_in_climate() -> None:
    hot = of_year(HERE, MonthlyTotals(DARK, tuple(temp + 15.0 for temp in MONTHS_C)))
    assert hot.highest_c == pytest.approx(18.5 + 15.0 + 15.0)
    assert english(hot.highest_source).startswith(
        "a day 15 K beyond the extreme month's mean, further out than the built-in climate's"
    )
    assert hot.lowest_c == CLIMATE.temp_lowest_c


@pytest.mark.parametrize(
    ("lowest_c", "highest_c", "named"),
    [
        (None, None, ("site/temp_lowest_c", "site/temp_highest_c")),
        (-3.0, None, ("site/temp_highest_c",)),
        (None, 30.0, ("site/temp_lowest_c",)),
    ],
)
def test_unknown_extremes_are_named(lowest_c: float | None, highest_c: float | None, named: tuple[str, ...]) -> None:
    with pytest.raises(WeatherError, match="the built-in climate has no data for this location") as error:
        extremes(replace(AT_SEA, temp_lowest_c=lowest_c, temp_highest_c=highest_c), StationFolder())
    assert error.value.fields == named


@pytest.mark.parametrize("weather", [None, BuiltInClimate(), FILE], ids=["no weather", "built-in climate", "file"])
@pytest.mark.parametrize(
    ("lowest_c", "highest_c", "named"), [(40.0, None, "site/temp_lowest_c"), (None, -21.0, "site/temp_highest_c")]
)
def test_a_callers_extreme_beyond_the_other_is_refused(
    weather: Weather | None, lowest_c: float | None, highest_c: float | None, named: str
) -> None:
    site = Site(52.1, 5.2, 0.0, lowest_c, highest_c)
    with pytest.raises(WeatherError) as error:
        extremes(site, StationFolder()) if weather is None else of_year(site, weather)
    assert error.value.fields == (named,)
    assert "the built-in map's" in english(error.value.message)


AMSTERDAM = Site(52.3, 4.77, -2.0, None, None)
FLOORS = electrical_rules("netherlands").cold_floors


def shifted(lowest_of_20_years_c: float) -> FileWeather:
    """The file of Amsterdam with another 20-year minimum, and the colder one of 50 years."""
    at = amsterdam_epw().split("\n")[1].split(",").index("Extremes") + 13
    cells = {at: f"{lowest_of_20_years_c:g}", at + 2: f"{lowest_of_20_years_c - 3.0:g}"}
    return FileWeather("epw", with_cells(amsterdam_epw(), cells, line=1))


@pytest.mark.parametrize("site", [AMSTERDAM, replace(AMSTERDAM, elevation_m=998.0)], ids=["at the station", "1000 m above it"])
@pytest.mark.parametrize("published_c", [-45.0, -30.0, -15.7])
def test_the_lowest_is_never_warmer_than_the_files_20_year_minimum(site: Site, published_c: float) -> None:
    design = of_year(site, shifted(published_c))
    colder_k = 0.0065 * ((site.elevation_m or 0.0) + 2.0)
    assert design.lowest_c == pytest.approx(min(published_c - colder_k, design_temperatures(site).lowest_c))
    assert not design.lowest_estimated
    assert design.mean_yearly_lowest_c == pytest.approx(-8.7 - colder_k)
    if published_c < -30.0:
        assert (
            english(design.lowest_source)
            == "the 20-year minimum that the weather file publishes for its station, 0 km from the site"
        )


def test_a_station_far_away_counts_but_does_not_settle_the_sites_own() -> None:
    far = replace(AMSTERDAM, latitude_deg=53.3)
    design = of_year(far, shifted(-45.0))
    assert design.lowest_c == -45.0
    assert design.lowest_estimated
    assert "111 km from the site" in english(design.lowest_source)
    assert of_year(far, BuiltInClimate()).lowest_estimated


@pytest.mark.parametrize("weather", [None, BuiltInClimate(), FILE], ids=["no weather", "built-in climate", "file"])
def test_the_operators_nearest_station_counts_with_any_weather(weather: Weather | None, tmp_path: Path) -> None:
    (tmp_path / "near.epw").write_text(shifted(-45.0).text, encoding="iso-8859-1")
    stations = StationFolder.read(tmp_path, distance_max_km=50.0)
    site = replace(AMSTERDAM, latitude_deg=52.4)
    design = extremes(site, stations) if weather is None else site_year(site, weather, stations).design_temperatures
    assert design.lowest_c == -45.0
    assert not design.lowest_estimated
    assert design.highest_c >= 34.6


def test_the_caller_wins_over_station_and_custom() -> None:
    site = replace(AMSTERDAM, temp_lowest_c=-9.0)
    design = site_year(site, shifted(-45.0), StationFolder(), cold_floors=FLOORS).design_temperatures
    assert (design.lowest_c, english(design.lowest_source), design.lowest_estimated) == (-9.0, "the request", False)


@pytest.mark.parametrize(
    ("region", "latitude_deg", "longitude_deg", "elevation_m", "warmest_c"),
    [
        ("great_britain", 50.15, -5.07, 20.0, -15.0),
        ("ireland", 51.85, -8.5, 20.0, -15.0),
        ("netherlands", 51.45, 3.6, 0.0, -20.0),
        ("germany", 54.3, 8.6, 0.0, -15.0),
        ("germany", 54.3, 8.6, 501.0, -20.0),
        ("germany", 47.7, 9.2, 400.0, -20.0),
        ("australia", -12.46, 130.84, 30.0, 0.0),
    ],
)
def test_the_lowest_is_never_warmer_than_the_regions_custom(
    region: str, latitude_deg: float, longitude_deg: float, elevation_m: float, warmest_c: float
) -> None:
    site, floors = Site(latitude_deg, longitude_deg, elevation_m, None, None), electrical_rules(region).cold_floors
    design, without = (extremes(site, StationFolder(), cold_floors=each) for each in (floors, ()))
    assert design.lowest_c == min(warmest_c, without.lowest_c)
    assert design.lowest_estimated
    if without.lowest_c > warmest_c:
        assert english(design.lowest_source).startswith("the region's custom, colder than other sources: ")


def test_regions_without_a_custom_have_none() -> None:
    assert [name for name in regions() if not electrical_rules(name).cold_floors] == ["international", "united_states"]
