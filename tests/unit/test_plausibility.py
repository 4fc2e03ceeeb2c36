"""Beam, diffuse and global light of a year must agree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.builders import real_weather
from wattpair_service.climate.plausibility import CLOSURE_TOLERANCE_SHARE, require_plausible
from wattpair_service.climate.sun import zenith_deg
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import HourlyWeather


def closed(beam: float = 1.0, diffuse: float = 1.0, whole: float = 1.0) -> HourlyWeather:
    """The real year with parts that close exactly by its sun, each then multiplied."""
    year = real_weather()
    assert year.dni_w_m2 is not None
    assert year.dhi_w_m2 is not None
    cosine = np.maximum(np.cos(np.radians(zenith_deg(year))), 0.0)
    ghi = year.dni_w_m2 * cosine + year.dhi_w_m2
    return replace(year, dni_w_m2=beam * year.dni_w_m2, dhi_w_m2=diffuse * year.dhi_w_m2, ghi_w_m2=whole * ghi)


def refusal(weather: HourlyWeather) -> WeatherError:
    with pytest.raises(WeatherError) as error:
        require_plausible(weather)
    return error.value


DARK = np.zeros(8760)
POSSIBLE = {
    "closed": closed,
    "as measured": real_weather,
    "global alone": lambda: replace(real_weather(), dni_w_m2=None, dhi_w_m2=None),
    "dark": lambda: replace(real_weather(), ghi_w_m2=DARK, dni_w_m2=DARK, dhi_w_m2=DARK),
}


@pytest.mark.parametrize("weather", POSSIBLE.values(), ids=POSSIBLE)
def test_possible_years_pass(weather: Callable[[], HourlyWeather]) -> None:
    require_plausible(weather())


@pytest.mark.parametrize("factors", [(0.0, 0.0, 1.0), (0.0, 1.0, 1.0), (1.0, 0.0, 1.0), (1.0, 1.0, 0.85), (0.8, 0.8, 1.0)])
def test_beam_and_diffuse_that_do_not_make_the_global_are_refused(factors: tuple[float, float, float]) -> None:
    error, whole = refusal(closed(*factors)), closed().ghi_w_m2.sum() / 1000.0 * factors[2]
    assert error.fields == ("dni_w_m2", "dhi_w_m2")
    assert "they must agree within 10% over the year" in str(error)
    if factors[:2] == (0.0, 0.0):
        assert f"add up to 0 kWh/m2 on the horizontal, the global to {whole:.0f}" in str(error)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_the_tolerance(side: float) -> None:
    limit = 1.0 - CLOSURE_TOLERANCE_SHARE
    require_plausible(closed(whole=(1.001 * limit) ** side))
    assert "they must agree" in str(refusal(closed(whole=(0.999 * limit) ** side)))


@pytest.mark.parametrize("value", [99990.0, -9999.0, np.nan, np.inf])
def test_impossible_hours_are_counted_and_not_taken_for_a_wrong_clock(value: float) -> None:
    year = replace(real_weather(), dni_w_m2=None, dhi_w_m2=None)
    ghi = year.ghi_w_m2.copy()
    ghi[8:6000:240] = value
    says = str(refusal(replace(year, ghi_w_m2=ghi)))
    assert says.startswith("interval 8 is")
    assert "25 of 8760 are impossible or missing" in says
