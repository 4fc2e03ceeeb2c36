"""Conditions from monthly figures, without random numbers: representative days by month and daily clearness, hour by hour.

Each month has eight representative days, evenly over the month, each for an eighth of it. They get the month's distribution
of daily clearness in a fixed order that is uncorrelated with the sun's height, so that clear and cloudy days fall on early and
late days of the month alike. Within a day the hours follow the clear sky, and deviate from it alternately by the published
standard deviation of hourly clearness: an AC limit acts on the irradiance of an hour, not of a day.

Neglected: mornings and afternoons that differ through the year (fog, thunderstorms), correlation of air temperature with
clearness, differences from year to year, refraction and the width of the sun's disc at sunrise and sunset.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pvlib

from wattpair_service.climate.clearness import bendt_days
from wattpair_service.climate.plausibility import SOLAR_CONSTANT_W_M2
from wattpair_service.engineering.arrays import FloatArray, IntArray
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import Conditions

Twelve = tuple[float, ...]

MONTHS = 12
CACHED_SITES = 1
"""Locations whose sun and clear sky are cached: a location's climate and then its year need the same ones."""
DAYS_OF_MONTH = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], dtype=np.float64)
DAYS_A_MONTH = 8
"""Representative days of each month."""

# Rank of clearness of each of the eight days. It does not correlate with the day or its square, nor its square with the day.
RANK_OF_DAY = np.array([1, 5, 7, 3, 4, 0, 2, 6])

HOURLY_CAP = 1.08
"""Brightest hours over the clear-sky model: broken cloud, air cleaner than the map's. Observed in typical years, no source."""
HOURLY_MIN_SHARE = 0.15
"""Least irradiance of an hour over its mean on such a day: overcast skies are not black. Common practice, no source."""

TWILIGHT_KWH_M2 = 0.2
"""Tolerated excess of a month over the extraterrestrial total, from the sky with the sun below the horizon [kWh/m2]."""

DAYLIGHT_WIND_FACTOR = 1.18
"""Wind speed in daylight over the day's mean; mean of 36 typical years."""


@dataclass(frozen=True, slots=True)
class MonthlyFigures:
    """Monthly figures of a location, January first.

    Attributes
    ----------
    latitude_deg, longitude_deg, elevation_m : float
        North, east [deg]; above sea [m].
    ghi_kwh_m2_by_month : 12 values
        Global horizontal irradiation [kWh/m2].
    temp_mean_c_by_month : 12 values
        Air temperature, mean of day and night [degC].
    linke_turbidity_by_month : 12 values
        Of a clear day, at air mass 2; 2 is clean, 6 is hazy.
    wind_speed_m_s : float
        Yearly mean at 10 m [m/s].
    temp_range_k_by_month : 12 values, optional
        Warmest less coldest hour of the mean day [K]. Without it: Erbs, Klein and Beckman 1983 from the clearness.
    clearness_by_month : 12 times `DAYS_A_MONTH` values, optional
        Mean daily clearness index of each eighth of the month's days, rising. Only the ratios to their mean matter. Without it:
        Bendt, Collares-Pereira and Rabl 1981.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    ghi_kwh_m2_by_month: Twelve
    temp_mean_c_by_month: Twelve
    linke_turbidity_by_month: Twelve
    wind_speed_m_s: float
    temp_range_k_by_month: Twelve | None = None
    clearness_by_month: tuple[Twelve, ...] | None = None

    def __post_init__(self) -> None:
        for field in ("ghi_kwh_m2_by_month", "temp_mean_c_by_month", "linke_turbidity_by_month", "temp_range_k_by_month"):
            values = getattr(self, field)
            if values is not None and len(values) != MONTHS:
                raise WeatherError(f"{len(values)} values; a year has twelve months", (field,))
            if values is not None and not np.all(np.isfinite(values)):
                raise WeatherError("not a number in one of the months", (field,))
        if self.clearness_by_month is not None and np.shape(self.clearness_by_month) != (MONTHS, DAYS_A_MONTH):
            raise WeatherError(f"twelve months of {DAYS_A_MONTH} values", ("clearness_by_month",))


@dataclass(frozen=True, slots=True, eq=False)
class RepresentativeDays:
    """Sun of the representative days: arrays of shape (days,) or (days, 24), by hour of true solar time.

    `cosine` is the mean cosine of the zenith over the lit part of the hour, `lit_h` the length of that part, `hour_angle_deg`
    its middle. Dark hours have zeros.
    """

    month_index: IntArray
    declination_rad: FloatArray
    extra_w_m2: FloatArray
    hour_angle_deg: FloatArray
    cosine: FloatArray
    lit_h: FloatArray

    @property
    def extraterrestrial_wh_m2(self) -> FloatArray:
        """Horizontal irradiation of each day outside the atmosphere [Wh/m2]."""
        return np.asarray((self.cosine * self.lit_h).sum(axis=1) * self.extra_w_m2)

    @property
    def weight_days(self) -> FloatArray:
        """Days of the year that each representative day stands for."""
        return np.asarray(DAYS_OF_MONTH[self.month_index] / DAYS_A_MONTH)

    def month_sum(self, per_day: FloatArray) -> FloatArray:
        """Monthly sums of a daily quantity, shape (12,)."""
        return np.bincount(self.month_index, weights=per_day * self.weight_days, minlength=MONTHS).astype(np.float64)


@lru_cache(maxsize=CACHED_SITES)
def representative_days(latitude_deg: float) -> RepresentativeDays:
    """The sun on the representative days at a latitude; cached, so not to be written to.

    Declination and distance of the sun by Spencer 1971.
    """
    first = np.concatenate([[0.0], np.cumsum(DAYS_OF_MONTH)[:-1]])
    month_share = (np.arange(DAYS_A_MONTH) + 0.5) / DAYS_A_MONTH
    day_of_year = (first[:, None] + month_share * DAYS_OF_MONTH[:, None] + 0.5).ravel()
    declination = np.asarray(pvlib.solarposition.declination_spencer71(day_of_year))
    angle = 2.0 * np.pi * (day_of_year - 1.0) / 365.0
    distance = 1.00011 + 0.034221 * np.cos(angle) + 0.00128 * np.sin(angle)
    distance += 0.000719 * np.cos(2.0 * angle) + 0.000077 * np.sin(2.0 * angle)
    latitude = np.radians(np.clip(latitude_deg, -89.99, 89.99))
    sunset_deg = np.degrees(np.arccos(np.clip(-np.tan(latitude) * np.tan(declination), -1.0, 1.0)))[:, None]
    edges = -180.0 + 15.0 * np.arange(25.0)
    start, end = np.maximum(edges[:-1], -sunset_deg), np.minimum(edges[1:], sunset_deg)
    span = np.maximum(end - start, 0.0)
    lit = span > 1e-6
    sine_difference = np.sin(np.radians(end)) - np.sin(np.radians(start))
    mean_cosine = np.divide(sine_difference, np.radians(span), out=np.zeros_like(span), where=lit)
    cosine = (np.sin(latitude) * np.sin(declination))[:, None] + (np.cos(latitude) * np.cos(declination))[:, None] * mean_cosine
    return RepresentativeDays(
        month_index=np.repeat(np.arange(MONTHS), DAYS_A_MONTH),
        declination_rad=declination,
        extra_w_m2=SOLAR_CONSTANT_W_M2 * distance,
        hour_angle_deg=np.where(lit, (start + end) / 2.0, 0.0),
        cosine=np.where(lit, np.clip(cosine, 1e-4, 1.0), 0.0),
        lit_h=np.where(lit, span / 15.0, 0.0),
    )


@lru_cache(maxsize=CACHED_SITES)
def clear_sky_clearness(days: RepresentativeDays, *, elevation_m: float, linke_turbidity_by_month: Twelve) -> FloatArray:
    """Clearness index of a clear sky in each hour, shape (days, 24); 0 in the dark. Cached, so not to be written to.

    Ineichen and Perez 2002, 10.1016/S0038-092X(02)00045-2, with the month's Linke turbidity.
    """
    lit = days.lit_h > 0.0
    zenith = np.degrees(np.arccos(days.cosine[lit]))
    pressure = pvlib.atmosphere.alt2pres(elevation_m)
    airmass = pvlib.atmosphere.get_absolute_airmass(pvlib.atmosphere.get_relative_airmass(np.minimum(zenith, 89.5)), pressure)
    turbidity = np.asarray(linke_turbidity_by_month)[days.month_index]
    extra = np.broadcast_to(days.extra_w_m2[:, None], lit.shape)[lit]
    clear = pvlib.clearsky.ineichen(
        zenith, airmass, np.broadcast_to(turbidity[:, None], lit.shape)[lit], altitude=elevation_m, dni_extra=extra
    )
    result = np.zeros(lit.shape)
    result[lit] = np.clip(np.nan_to_num(np.asarray(clear["ghi"])) / (extra * days.cosine[lit]), 0.05, 0.95)
    return result


def month_clearness(days: RepresentativeDays, ghi_kwh_m2_by_month: Twelve) -> FloatArray:
    """Clearness index of each month, shape (12,); 0 where the sun does not rise.

    Raises
    ------
    WeatherError
        A negative total, or one above the extraterrestrial irradiation; it names the month.
    """
    totals = np.asarray(ghi_kwh_m2_by_month, dtype=np.float64)
    limits = days.month_sum(days.extraterrestrial_wh_m2) / 1000.0
    for month in np.flatnonzero((totals < 0.0) | (totals > limits + TWILIGHT_KWH_M2)):
        raise WeatherError(
            f"month {month + 1} has {totals[month]:g} kWh/m2, where 0 to {limits[month]:.1f} kWh/m2 is possible: that is the "
            "irradiation outside the atmosphere",
            ("ghi_kwh_m2_by_month",),
        )
    return np.divide(totals, limits, out=np.zeros(MONTHS), where=limits > 0.0)


def conditions(figures: MonthlyFigures) -> Conditions:
    """A year of weighted points whose monthly irradiation is that of the figures to rounding (1e-9 relative).

    Hour by hour in true solar time, at the middle of each hour's lit part, with one point for each day's night; days in order
    of the calendar, hours in order within them. `hour` is in the location's nautical time zone.

    Standard deviation of hourly clearness: Aguiar and Collares-Pereira 1992, 10.1016/0038-092X(92)90068-L. Diffuse share:
    Ridley, Boland and Lauret 2010, 10.1016/j.renene.2009.07.018. Daily cycle of air temperature: Erbs, Klein and Beckman 1983
    (ASHRAE Journal 25, 60-65), as in Duffie and Beckman; its range grows with the day's clearness.

    Raises
    ------
    WeatherError
        Not twelve months, or an impossible total.
    """
    days = representative_days(figures.latitude_deg)
    clearness = month_clearness(days, figures.ghi_kwh_m2_by_month)
    clear = clear_sky_clearness(
        days, elevation_m=figures.elevation_m, linke_turbidity_by_month=figures.linke_turbidity_by_month
    )
    day_clearness = _day_clearness(figures, days, clearness, clear)
    hourly = _hourly_clearness(days, day_clearness, clear)
    diffuse_share = _diffuse_share(days, day_clearness, hourly)
    return _assemble(figures, days, day_clearness, hourly, diffuse_share)


def clear_day_clearness(days: RepresentativeDays, clear: FloatArray) -> FloatArray:
    """Clearness index of each clear day, shape (days,)."""
    extraterrestrial_wh_m2 = days.extraterrestrial_wh_m2
    clear_wh_m2 = (clear * days.cosine * days.lit_h).sum(axis=1) * days.extra_w_m2
    result = np.zeros_like(extraterrestrial_wh_m2)
    return np.asarray(np.divide(clear_wh_m2, extraterrestrial_wh_m2, out=result, where=extraterrestrial_wh_m2 > 0.0))


def _day_clearness(figures: MonthlyFigures, days: RepresentativeDays, clearness: FloatArray, clear: FloatArray) -> FloatArray:
    """Clearness index of each representative day, scaled to the month's total."""
    if figures.clearness_by_month is None:
        clear_month = clear_day_clearness(days, clear).reshape(MONTHS, DAYS_A_MONTH).mean(axis=1)
        by_rank = bendt_days(clearness, clear_month, DAYS_A_MONTH)
    else:
        by_rank = np.asarray(figures.clearness_by_month, dtype=np.float64)
    values = np.maximum(by_rank[:, RANK_OF_DAY].ravel(), 1e-6)
    extraterrestrial_wh_m2 = days.extraterrestrial_wh_m2
    sum_wh_m2 = days.month_sum(values * extraterrestrial_wh_m2)
    target_wh_m2 = clearness * days.month_sum(extraterrestrial_wh_m2)
    factor = np.divide(target_wh_m2, sum_wh_m2, out=np.zeros(MONTHS), where=sum_wh_m2 > 0.0)
    return np.asarray(values * factor[days.month_index])


def _hourly_clearness(days: RepresentativeDays, day_clearness: FloatArray, clear: FloatArray) -> FloatArray:
    """Clearness index of each hour, shape (days, 24): the clear day's shape, plus or minus a standard deviation.

    The sign alternates from hour to hour and from day to day: each hour of a month has as many values above as below.
    """
    weight = days.cosine * days.lit_h
    day_sum = day_clearness * weight.sum(axis=1)

    def scaled_to_day(values: FloatArray) -> FloatArray:
        sums = (values * weight).sum(axis=1)
        return np.asarray(values * np.divide(day_sum, sums, out=np.zeros_like(sums), where=sums > 0.0)[:, None])

    mean = scaled_to_day(clear)
    k = np.clip(day_clearness, 0.02, 0.85)[:, None]
    sigma = 0.14 * np.exp(-20.0 * (k - 0.35) ** 2 + (3.0 * (k - 0.45) ** 2 + 16.0 * k**5) * (1.0 - days.cosine))
    sign = np.where((np.arange(len(k))[:, None] + np.arange(24)) % 2 == 0, 1.0, -1.0)
    cap = np.maximum(HOURLY_CAP * clear, day_clearness[:, None] * (clear > 0.0))
    hourly = np.clip(mean + sigma * sign, HOURLY_MIN_SHARE * mean, np.maximum(cap, HOURLY_MIN_SHARE * mean))
    for _ in range(3):
        hourly = np.minimum(scaled_to_day(hourly), cap)
    return np.asarray(scaled_to_day(hourly))


def _diffuse_share(days: RepresentativeDays, day_clearness: FloatArray, hourly: FloatArray) -> FloatArray:
    """Diffuse share of the global horizontal irradiance (0-1), shape (days, 24)."""
    lit = days.lit_h > 0.0
    padded = np.pad(np.where(lit, hourly, 0.0), ((0, 0), (1, 1)))
    padded_lit = np.pad(lit.astype(np.float64), ((0, 0), (1, 1)))
    lit_neighbours = padded_lit[:, :-2] + padded_lit[:, 2:]
    persistence = np.divide(padded[:, :-2] + padded[:, 2:], lit_neighbours, out=hourly.copy(), where=lit_neighbours > 0.0)
    solar_hour = 12.0 + days.hour_angle_deg / 15.0
    height_deg = np.degrees(np.arcsin(days.cosine))
    exponent = -5.38 + 6.63 * hourly + 0.006 * solar_hour - 0.007 * height_deg
    exponent += 1.75 * day_clearness[:, None] + 1.31 * persistence
    # A clearness above one is twilight or a rounded total: the beam must not exceed the extraterrestrial.
    return np.asarray(np.maximum(1.0 / (1.0 + np.exp(exponent)), 1.0 - 1.0 / np.maximum(hourly, 1.0)))


def _daily_cycle(solar_hour: FloatArray) -> FloatArray:
    """Deviation of the air temperature from the day's mean, in shares of the range (Erbs, Klein and Beckman 1983)."""
    t = 2.0 * np.pi * (solar_hour - 0.5) / 24.0
    cycle = 0.4632 * np.cos(t - 3.805) + 0.0984 * np.cos(2.0 * t - 0.360)
    return np.asarray(cycle + 0.0168 * np.cos(3.0 * t - 0.822) + 0.0138 * np.cos(4.0 * t - 3.513))


def _erbs_range_k(clearness: FloatArray) -> FloatArray:
    return np.maximum(25.8 * clearness - 5.21, 2.0)


def _assemble(
    figures: MonthlyFigures,
    days: RepresentativeDays,
    day_clearness: FloatArray,
    hourly: FloatArray,
    diffuse_share: FloatArray,
) -> Conditions:
    """Conditions: for each day its night as one point, then its lit hours."""
    totals = np.asarray(figures.ghi_kwh_m2_by_month, dtype=np.float64)
    lit_h, zenith, ghi = days.lit_h.copy(), np.degrees(np.arccos(days.cosine)), hourly * days.cosine * days.extra_w_m2[:, None]
    sunless = (days.month_sum(days.extraterrestrial_wh_m2) <= 0.0) & (totals > 0.0)
    noon = np.ix_(sunless[days.month_index], np.isin(np.arange(24), (11, 12)))
    lit_h[noon], ghi[noon] = 1.0, 1.0
    sums_kwh_m2 = days.month_sum((ghi * lit_h).sum(axis=1)) / 1000.0
    ghi *= np.divide(totals, sums_kwh_m2, out=np.zeros(MONTHS), where=sums_kwh_m2 > 0.0)[days.month_index][:, None]
    dhi = np.where(sunless[days.month_index][:, None], ghi, ghi * np.clip(diffuse_share, 0.0, 1.0))
    dni = np.divide(ghi - dhi, days.cosine, out=np.zeros_like(ghi), where=days.cosine > 0.0)
    day_h = lit_h.sum(axis=1)
    night_h = 24.0 - day_h
    solar_hour = np.where(days.lit_h > 0.0, 12.0 + days.hour_angle_deg / 15.0, np.arange(24) + 0.5)
    temp_air_c = _temperatures(figures, days, day_clearness, solar_hour)
    wind_day = np.minimum(DAYLIGHT_WIND_FACTOR, 24.0 / np.maximum(day_h, 1.0))
    wind_night = np.divide(24.0 - wind_day * day_h, night_h, out=np.ones_like(day_h), where=night_h > 1e-6)
    utc_offset_h = round(figures.longitude_deg / 15.0)
    zone_minus_solar_h = utc_offset_h - figures.longitude_deg / 15.0
    azimuth = _azimuth_deg(figures.latitude_deg, days)

    def with_night(night: FloatArray | float, hours: FloatArray) -> FloatArray:
        shape = (hours.shape[0], 1)
        return np.concatenate([np.broadcast_to(np.reshape(night, (-1, 1)), shape), hours], axis=1).ravel()

    weight = with_night(night_h, lit_h) * np.repeat(days.weight_days, 25)
    has_weight = weight > 1e-9

    def by_day(values: FloatArray) -> FloatArray:
        return np.repeat(values, 25)[has_weight]

    night_zenith = 90.0 + np.maximum(90.0 - zenith.max(axis=1), 15.0)
    return Conditions(
        zenith_deg=with_night(night_zenith, zenith)[has_weight],
        azimuth_deg=with_night(0.0, azimuth)[has_weight],
        ghi_w_m2=with_night(0.0, ghi)[has_weight],
        dni_w_m2=with_night(0.0, dni)[has_weight],
        dhi_w_m2=with_night(0.0, dhi)[has_weight],
        dni_extra_w_m2=by_day(days.extra_w_m2),
        temp_air_c=with_night(temp_air_c[:, [22, 23, 0, 1, 2, 3]].mean(axis=1), temp_air_c)[has_weight],
        wind_speed_m_s=with_night(wind_night, np.repeat(wind_day[:, None], 24, axis=1))[has_weight] * figures.wind_speed_m_s,
        weight_h=weight[has_weight],
        month=by_day(days.month_index.astype(np.float64)).astype(np.int64) + 1,
        hour=np.floor(np.mod(with_night(0.5, solar_hour) + zone_minus_solar_h, 24.0)).astype(np.int64)[has_weight] % 24,
        sequence=by_day(np.arange(len(days.month_index), dtype=np.float64)).astype(np.int64),
        utc_offset_h=float(utc_offset_h),
        latitude_deg=figures.latitude_deg,
        after_hour_h=(zone_minus_solar_h + 0.5) % 1.0 - 0.5,
    )


def _temperatures(
    figures: MonthlyFigures, days: RepresentativeDays, day_clearness: FloatArray, solar_hour: FloatArray
) -> FloatArray:
    """Air temperature of each hour [degC], shape (days, 24)."""
    range_k = _erbs_range_k(day_clearness)
    if figures.temp_range_k_by_month is not None:
        monthly_range_k = range_k.reshape(MONTHS, DAYS_A_MONTH).mean(axis=1)
        range_k = range_k * (np.asarray(figures.temp_range_k_by_month) / monthly_range_k)[days.month_index]
    mean_c = np.asarray(figures.temp_mean_c_by_month)[days.month_index]
    return np.asarray(mean_c[:, None] + range_k[:, None] * _daily_cycle(solar_hour))


def _azimuth_deg(latitude_deg: float, days: RepresentativeDays) -> FloatArray:
    """Azimuth at each hour's middle, clockwise from north [deg]."""
    latitude, angle = np.radians(latitude_deg), np.radians(days.hour_angle_deg)
    south = np.cos(angle) * np.sin(latitude) - np.tan(days.declination_rad)[:, None] * np.cos(latitude)
    return np.asarray(np.mod(np.degrees(np.arctan2(np.sin(angle), south)) + 180.0, 360.0))
