"""Temperatures to design for: whose they are and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, TMY3, numbers, real_weather
from tests.open_data import pvlib_bundled
from wattpair_service.climate import atlas
from wattpair_service.climate.site_year import MONTH_TO_DAY_K, TYPICAL_YEAR_MARGIN_K, design_temperatures, extremes, site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.climate.weather import BuiltInClimate, FileWeather, MonthlyTotals, Weather
from wattpair_service.engineering.electrical_checks import DesignTemperatures, Site
from wattpair_service.engineering.errors import WeatherError

HERE = Site(LATITUDE_DEG, LONGITUDE_DEG, 273.0, None, None)
AT_SEA = Site(30.0, -40.0, 0.0, None, None)
CLIMATE = atlas.at(LATITUDE_DEG, LONGITUDE_DEG, 273.0)
FILE = FileWeather("tmy3", pvlib_bundled(TMY3))
DARK = (40.0,) * 12
MONTHS_C = (4.0, 5.0, 7.0, 9.0, 13.0, 16.0, 18.0, 18.5, 15.0, 11.0, 7.0, 3.0)
BUILT_IN = "the built-in climate's extreme of 2010 to 2018 with a margin of 2 K or more; not a record"
OWN = "the weather's own extreme"
ENDS = pytest.mark.parametrize("end", ["lowest", "highest"])


def value(design: DesignTemperatures, end: str) -> float:
    """One of the two temperatures."""
    found: float = getattr(design, f"{end}_c")
    return found


def source(design: DesignTemperatures, end: str) -> str:
    """Why it is that."""
    found: str = getattr(design, f"{end}_source")
    return found


def given_by_caller(site: Site, **temps: float) -> Site:
    """The site with temperatures of the caller's own."""
    changes: dict[str, Any] = {f"temp_{end}_c": temp for end, temp in temps.items()}
    return replace(site, **changes)


def of_year(site: Site, weather: Weather) -> DesignTemperatures:
    """What the year at a site says."""
    return site_year(site, weather, StationFolder()).design


@pytest.mark.parametrize("site", [HERE, AT_SEA])
@pytest.mark.parametrize("hours_c", [None, (-60.0, 59.0), (0.0, 10.0)])
def test_the_callers_own_win_everywhere(site: Site, hours_c: tuple[float, float] | None) -> None:
    design = design_temperatures(given_by_caller(site, lowest=-7.5, highest=33.0), hours_c)
    assert design == DesignTemperatures(-7.5, "the request", 33.0, "the request")


@ENDS
@pytest.mark.parametrize("hours_c", [None, (-60.0, 59.0)])
def test_one_of_the_callers_leaves_the_other_alone(end: str, hours_c: tuple[float, float] | None) -> None:
    other = "highest" if end == "lowest" else "lowest"
    design = design_temperatures(given_by_caller(HERE, **{end: 12.0}), hours_c)
    assert (value(design, end), source(design, end)) == (12.0, "the request")
    without = design_temperatures(HERE, hours_c)
    assert (value(design, other), source(design, other)) == (value(without, other), source(without, other))


def test_else_the_atlas() -> None:
    for design in (design_temperatures(HERE), extremes(HERE), of_year(HERE, BuiltInClimate())):
        assert (design.lowest_c, design.highest_c) == (CLIMATE.temp_lowest_c, CLIMATE.temp_highest_c)
        for end in ("lowest", "highest"):
            assert source(design, end) == BUILT_IN


@ENDS
def test_the_weathers_own_hours_where_they_lie_beyond(end: str) -> None:
    built_in, outward = value(design_temperatures(HERE), end), 1.0 if end == "highest" else -1.0
    further, nearer = built_in + 3.0 * outward, built_in - 3.0 * outward
    for own, taken, says in (
        (
            further,
            further,
            f"the weather's own extreme, further out than the built-in climate's {built_in:.1f} degC; not a record",
        ),
        (nearer, built_in, f"{BUILT_IN}; the weather's own extreme is {nearer:.1f} degC"),
    ):
        hours = {"lowest": 5.0, "highest": 25.0} | {end: own}
        design = design_temperatures(HERE, (hours["lowest"], hours["highest"]))
        assert (value(design, end), source(design, end)) == (taken, says)


@given(st.none() | numbers(-60.0, 15.0), st.none() | numbers(25.0, 59.0))
def test_no_hour_of_the_weather_lies_beyond_what_is_designed_for(coldest: float | None, warmest: float | None) -> None:
    hours = (20.0 if coldest is None else coldest, 21.0 if warmest is None else warmest)
    for site in (HERE, AT_SEA):
        design = design_temperatures(site, hours)
        assert design.lowest_c <= hours[0] < hours[1] <= design.highest_c
        if site is HERE:
            assert design.lowest_c <= CLIMATE.temp_lowest_c < CLIMATE.temp_highest_c <= design.highest_c


def test_a_file_brings_its_own_extremes() -> None:
    air = real_weather().temp_air_c
    design = of_year(HERE, FILE)
    assert design == design_temperatures(HERE, (float(air.min()), float(air.max())))


@pytest.mark.parametrize(("climb_m", "ends"), [(1000.0, (-6.5, 0.0)), (-200.0, (0.0, 1.3)), (0.0, (0.0, 0.0))])
def test_the_files_hours_are_moved_to_the_sites_height_on_the_safe_side(climb_m: float, ends: tuple[float, float]) -> None:
    air = real_weather().temp_air_c
    site = replace(AT_SEA, elevation_m=273.0 + climb_m)
    design = of_year(site, FILE)
    assert design.lowest_c == pytest.approx(air.min() + ends[0] - TYPICAL_YEAR_MARGIN_K)
    assert design.highest_c == pytest.approx(air.max() + ends[1] + TYPICAL_YEAR_MARGIN_K)


def test_without_a_map_a_margin_beyond_the_hours() -> None:
    air = real_weather().temp_air_c
    design = of_year(replace(AT_SEA, elevation_m=273.0), FILE)
    assert design.lowest_c == pytest.approx(air.min() - TYPICAL_YEAR_MARGIN_K)
    assert design.highest_c == pytest.approx(air.max() + TYPICAL_YEAR_MARGIN_K)
    for end, own in (("lowest", air.min()), ("highest", air.max())):
        assert source(design, end).startswith(
            f"the weather's own extreme, {own:.1f} degC, and 5 K further: typical years leave"
        )


def test_without_a_map_a_wider_margin_beyond_the_months() -> None:
    design = of_year(AT_SEA, MonthlyTotals(DARK, MONTHS_C))
    assert design.lowest_c == pytest.approx(3.0 - MONTH_TO_DAY_K - TYPICAL_YEAR_MARGIN_K)
    assert design.highest_c == pytest.approx(18.5 + MONTH_TO_DAY_K + TYPICAL_YEAR_MARGIN_K)
    assert design.lowest_source.startswith("a day 15 K beyond the extreme month's mean, -12.0 degC, and 5 K further")
    assert design.highest_source.startswith("a day 15 K beyond the extreme month's mean, 33.5 degC, and 5 K further")


def test_warm_months_of_the_caller_widen_the_atlas() -> None:
    hot = of_year(HERE, MonthlyTotals(DARK, tuple(temp + 15.0 for temp in MONTHS_C)))
    assert hot.highest_c == pytest.approx(18.5 + 15.0 + MONTH_TO_DAY_K)
    assert hot.highest_source.startswith("a day 15 K beyond the extreme month's mean, further out than the built-in climate's")
    assert hot.lowest_c == CLIMATE.temp_lowest_c


@pytest.mark.parametrize(
    ("temps", "named"),
    [
        ({}, ("site/temp_lowest_c", "site/temp_highest_c")),
        ({"lowest": -3.0}, ("site/temp_highest_c",)),
        ({"highest": 30.0}, ("site/temp_lowest_c",)),
    ],
)
def test_what_nobody_knows_is_named(temps: dict[str, float], named: tuple[str, ...]) -> None:
    with pytest.raises(WeatherError, match="the built-in climate does not know this place") as error:
        extremes(given_by_caller(AT_SEA, **temps))
    assert error.value.fields == named


def test_the_sea_needs_no_map_where_both_are_given() -> None:
    assert extremes(given_by_caller(AT_SEA, lowest=5.0, highest=35.0)).lowest_c == 5.0


@pytest.mark.parametrize(("temps", "named"), [({"lowest": 40.0}, "temp_lowest_c"), ({"highest": -18.0}, "temp_highest_c")])
def test_a_callers_extreme_beyond_the_other_is_refused(temps: dict[str, float], named: str) -> None:
    site = given_by_caller(Site(52.1, 5.2, 0.0, None, None), **temps)
    asks: tuple[Callable[[], DesignTemperatures], ...] = (
        lambda: extremes(site),
        lambda: of_year(site, BuiltInClimate()),
        lambda: of_year(site, FILE),
    )
    for ask in asks:
        with pytest.raises(WeatherError, match="the built-in climate's") as error:
            ask()
        assert error.value.fields == (f"site/{named}",)


def test_a_high_site_is_designed_colder_and_a_low_one_hotter() -> None:
    high, low = (of_year(replace(HERE, elevation_m=height), BuiltInClimate()) for height in (1273.0, -27.0))
    assert high.lowest_c < CLIMATE.temp_lowest_c - 6.0
    assert low.highest_c > CLIMATE.temp_highest_c + 1.5
    np.testing.assert_allclose([high.highest_c, low.lowest_c], [CLIMATE.temp_highest_c, CLIMATE.temp_lowest_c], atol=0.2)
