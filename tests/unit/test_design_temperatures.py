"""Temperatures to design for, and where each comes from."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, strategies as st

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, TMY3, numbers, real_weather
from tests.open_data import pvlib_bundled
from wattpair_service.climate import atlas
from wattpair_service.climate.site_year import BUILT_IN_COLD, BUILT_IN_HOT, extremes, locate, site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate, FileWeather, MonthlyTotals, Weather
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.site import DesignTemperatures, Site

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


def extreme(design: DesignTemperatures, end: str) -> tuple[float, str]:
    return getattr(design, f"{end}_c"), getattr(design, f"{end}_source")


def file_hours_c() -> tuple[float, float]:
    return float(real_weather().temp_air_c.min()), float(real_weather().temp_air_c.max())


def of_year(site: Site, weather: Weather) -> DesignTemperatures:
    return site_year(site, weather, StationFolder()).design_temperatures


@pytest.mark.parametrize("site", [HERE, AT_SEA], ids=["here", "at sea"])
@pytest.mark.parametrize("hours_c", [None, (-60.0, 59.0), (0.0, 10.0)])
def test_the_callers_own_win(site: Site, hours_c: tuple[float, float] | None) -> None:
    own = replace(site, temp_lowest_c=-7.5, temp_highest_c=33.0)
    assert design_temperatures(own, hours_c) == DesignTemperatures(-7.5, "the request", 33.0, "the request")
    assert extremes(own, StationFolder()) == design_temperatures(own)


@pytest.mark.parametrize(("end", "other"), [ENDS, ENDS[::-1]])
@pytest.mark.parametrize("hours_c", [None, (-60.0, 59.0)])
def test_one_of_the_callers_leaves_the_other_alone(end: str, other: str, hours_c: tuple[float, float] | None) -> None:
    changes: dict[str, Any] = {f"temp_{end}_c": 12.0}
    design = design_temperatures(replace(HERE, **changes), hours_c)
    assert extreme(design, end) == (12.0, "the request")
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
    assert further[0] == built_in + outward_k
    assert further[1] == f"{OWN}, further out than the built-in climate's {built_in:.1f} degC; not a record"
    assert nearer == (built_in, f"{BUILT_IN[end]}; {OWN} is {built_in - outward_k:.1f} degC")


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
    assert design.lowest_source.startswith(f"{OWN}, {lowest_c:.1f} degC, and 5 K further: typical years leave")
    assert design.highest_source.startswith(f"{OWN}, {highest_c:.1f} degC, and 5 K further: typical years leave")


def test_without_a_map_a_wider_margin_beyond_the_months() -> None:
    design = of_year(AT_SEA, MonthlyTotals(DARK, MONTHS_C))
    assert (design.lowest_c, design.highest_c) == pytest.approx((3.0 - 15.0 - 5.0, 18.5 + 15.0 + 5.0))
    assert design.lowest_source.startswith("a day 15 K beyond the extreme month's mean, -12.0 degC, and 5 K further")
    assert design.highest_source.startswith("a day 15 K beyond the extreme month's mean, 33.5 degC, and 5 K further")


def test_warm_months_of_the_caller_widen_the_built_in_climate() -> None:
    hot = of_year(HERE, MonthlyTotals(DARK, tuple(temp + 15.0 for temp in MONTHS_C)))
    assert hot.highest_c == pytest.approx(18.5 + 15.0 + 15.0)
    assert hot.highest_source.startswith("a day 15 K beyond the extreme month's mean, further out than the built-in climate's")
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
    with pytest.raises(WeatherError, match="the built-in map's") as error:
        extremes(site, StationFolder()) if weather is None else of_year(site, weather)
    assert error.value.fields == (named,)
