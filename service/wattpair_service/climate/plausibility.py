"""Refuses impossible weather series, and series whose times, coordinates or components contradict each other."""

from __future__ import annotations

import numpy as np

from wattpair_service.climate.sun import irradiation_middle_h, zenith_deg
from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import HourlyWeather

SOLAR_CONSTANT_W_M2 = 1361.0
# Irradiance while the sun is this far below the horizon for the whole interval comes from wrong times or coordinates.
NIGHT_ZENITH_DEG = 100.0
NIGHT_W_M2 = 20.0
NIGHT_HOURS_TOLERATED = 10
HALF_STEP_H = 0.5

# Fog and thunderstorms shift the middle of the irradiation by up to some 11 minutes in 37 typical years; more is a wrong clock.
NOON_TOLERANCE_H = 0.5
CLOSURE_TOLERANCE_SHARE = 0.10

TEMP_RANGE_C = (-90.0, 60.0)
WIND_RANGE_M_S = (0.0, 60.0)


def require_plausible(weather: HourlyWeather) -> None:
    """Raise WeatherError where a value is physically impossible or the times cannot be right.

    Upper limits of irradiance: the "physically possible" ones of the Baseline Surface Radiation Network (Long and Shi
    2008, 10.2174/1874282300802010023), with the highest sun within half an hour of the interval's middle.
    """
    _require_within("temp_air_c", weather.temp_air_c, TEMP_RANGE_C, "degC")
    _require_within("wind_speed_m_s", weather.wind_speed_m_s, WIND_RANGE_M_S, "m/s")
    cosine = _highest_cosine(weather)
    limits = {
        "ghi_w_m2": (weather.ghi_w_m2, 1.5 * SOLAR_CONSTANT_W_M2 * cosine**1.2 + 100.0),
        "dhi_w_m2": (weather.dhi_w_m2, 0.95 * SOLAR_CONSTANT_W_M2 * cosine**1.2 + 50.0),
        "dni_w_m2": (weather.dni_w_m2, np.full_like(cosine, SOLAR_CONSTANT_W_M2 * 1.034)),
    }
    # Times first: with wrong ones the limits below would report impossible values around sunrise.
    _require_clock(weather)
    _require_noon(weather)
    for field, (values, highest) in limits.items():
        if values is not None:
            _require_possible(field, values, highest)
    _require_closure(weather)


def _require_within(field: str, values: FloatArray, allowed: tuple[float, float], unit: str) -> None:
    outside = np.flatnonzero((values < allowed[0]) | (values > allowed[1]) | ~np.isfinite(values))
    if outside.size:
        first = int(outside[0])
        raise WeatherError(
            f"interval {first} is {values[first]:g} {unit}, and {outside.size} of {values.size} are outside "
            f"{allowed[0]:g} to {allowed[1]:g} {unit} or missing",
            (field,),
        )


def _require_possible(field: str, values: FloatArray, highest: FloatArray) -> None:
    outside = np.flatnonzero((values < 0.0) | (values > highest) | ~np.isfinite(values))
    if outside.size:
        first = int(outside[0])
        raise WeatherError(
            f"interval {first} is {values[first]:g} W/m2, where 0 to {highest[first]:.0f} W/m2 is possible; "
            f"{outside.size} of {values.size} are impossible or missing",
            (field,),
        )


def _highest_cosine(weather: HourlyWeather) -> FloatArray:
    """Cosine of the zenith at its smallest within the interval, 0 at night."""
    zenith = [zenith_deg(weather, shift_h) for shift_h in (-HALF_STEP_H, 0.0, HALF_STEP_H)]
    return np.asarray(np.maximum(np.cos(np.radians(np.min(zenith, axis=0))), 0.0))


def _require_clock(weather: HourlyWeather) -> None:
    night = zenith_deg(weather) > NIGHT_ZENITH_DEG
    lit = int(np.sum(weather.ghi_w_m2[night] > NIGHT_W_M2))
    if lit > NIGHT_HOURS_TOLERATED:
        raise WeatherError(
            f"{lit} intervals have irradiance while the sun is far below the horizon at {weather.latitude_deg:g}, "
            f"{weather.longitude_deg:g}: the time zone, the interval label or the coordinates are not those of the series",
            ("ghi_w_m2",),
        )


def _require_noon(weather: HourlyWeather) -> None:
    middle_h = irradiation_middle_h(weather)
    if abs(middle_h) > NOON_TOLERANCE_H:
        late = "after" if middle_h > 0 else "before"
        raise WeatherError(
            f"the year's irradiation has its middle {abs(middle_h) * 60.0:.0f} minutes {late} solar noon: the time zone, the "
            "interval label, daylight saving or the coordinates are not those of the series",
            ("ghi_w_m2",),
        )


def _require_closure(weather: HourlyWeather) -> None:
    if weather.dni_w_m2 is None or weather.dhi_w_m2 is None:
        return
    cosine = np.maximum(np.cos(np.radians(zenith_deg(weather))), 0.0)
    beam_and_diffuse = float(np.sum(weather.dni_w_m2 * cosine + weather.dhi_w_m2))
    ghi = float(weather.ghi_w_m2.sum())
    if abs(beam_and_diffuse - ghi) > CLOSURE_TOLERANCE_SHARE * max(beam_and_diffuse, ghi):
        raise WeatherError(
            f"beam and diffuse irradiation add up to {beam_and_diffuse / 1000.0:.0f} kWh/m2 on the horizontal, the global to "
            f"{ghi / 1000.0:.0f}: they must agree within {CLOSURE_TOLERANCE_SHARE:.0%} over the year",
            ("dni_w_m2", "dhi_w_m2"),
        )
