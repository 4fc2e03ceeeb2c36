"""Measured minutes: reading, gaps, the clock, and the hourly means that the service would be given.

Columns of a file: time_utc (start of the minute), ghi, dni, dhi [W/m2], temp_air [degC]. One missing component is what the
other two leave. Global irradiance is beam plus diffuse, which a tilted or dirty pyranometer does not change. Minutes beyond the
limits of Long and Dutton 2002 (BSRN Global Network recommended QC tests, V2.0) count as missing, hours with too few minutes as
dark: an empty hour is not a cloud.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib

from wattpair_service.engineering.arrays import BoolArray, FloatArray
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.subhourly import SubhourlyStates, subhourly_states

MINUTES = 60
COVERAGE_MIN = 0.9
HOUR_COVERAGE_MIN = 0.9
GAPS_NAMED = 10
WIND_M_S = 2.0
SHIFTS_H = np.arange(-14.0, 14.5, 0.5)
DARK_DEG = 95.0
"""Zenith of an hour that does not count."""
SHIFT_GAIN = 0.02  # of correlation, before a shifted clock is believed


class FileRefusedError(Exception):
    """A file that gives no valid answer, with the reason."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the station stands."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Minutes:
    """Whole hours of minutes: arrays of shape (hours, 60), and which are there."""

    start_utc: pd.DatetimeIndex
    zenith_deg: FloatArray
    azimuth_deg: FloatArray
    dni_extra_w_m2: FloatArray
    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    temp_air_c: FloatArray
    there: BoolArray

    @property
    def daylight(self) -> BoolArray:
        """Minutes with the sun up."""
        return self.zenith_deg < 90.0

    @property
    def coverage(self) -> float:
        """Share of the daylight minutes that are there."""
        return float(self.there[self.daylight].mean())

    @property
    def usable(self) -> BoolArray:
        """Hours that are nearly whole."""
        return np.asarray((self.there | ~self.daylight).mean(axis=1) >= HOUR_COVERAGE_MIN)

    def hourly(self, values: FloatArray) -> FloatArray:
        """Mean of the minutes that are there."""
        count = np.maximum(self.there.sum(axis=1), 1)
        return np.asarray(np.where(self.there, values, 0.0).sum(axis=1) / count)


@dataclass(frozen=True, slots=True, eq=False)
class Station:
    """A station's minutes, their hourly means and the spread found from these."""

    minutes: Minutes
    elevation_m: float
    conditions: Conditions
    spread: SubhourlyStates


def read(path: Path) -> pd.DataFrame:
    """The file as it stands, indexed by time.

    Raises
    ------
    FileRefusedError
        Columns missing, times out of order, or seconds in them.
    """
    frame = pd.read_csv(path)
    missing = {"time_utc", "ghi", "dni", "dhi", "temp_air"} - set(frame.columns)
    if missing:
        raise FileRefusedError(f"columns missing: {', '.join(sorted(missing))}")
    time = pd.to_datetime(frame["time_utc"], utc=True).dt.tz_localize(None)
    frame = frame.drop(columns="time_utc").set_index(pd.DatetimeIndex(time))
    if not frame.index.is_monotonic_increasing or frame.index.has_duplicates:
        raise FileRefusedError("times do not rise, or appear twice")
    if (time != time.dt.floor("min")).any():
        raise FileRefusedError("times must be the starts of whole minutes")
    return frame


def minutes_of(frame: pd.DataFrame, place: Place) -> Minutes:
    """Every minute from the first whole hour to the last."""
    first, last = (pd.Timestamp(frame.index[at]).floor("h") for at in (0, -1))
    frame = frame.reindex(pd.date_range(first, last + pd.Timedelta(minutes=59), freq="min"))
    middle = pd.DatetimeIndex(frame.index) + pd.Timedelta(seconds=30)
    sun = pvlib.solarposition.get_solarposition(middle, place.latitude_deg, place.longitude_deg, altitude=place.elevation_m)
    zenith, extra = sun["apparent_zenith"].to_numpy(), pvlib.irradiance.get_extra_radiation(middle).to_numpy()
    cosine = np.maximum(np.cos(np.radians(zenith)), 0.0)
    measured = (frame[name].to_numpy(dtype=np.float64) for name in ("ghi", "dni", "dhi"))
    ghi, dni, dhi = _completed(*measured, cosine=cosine)
    there = np.isfinite(dni) & np.isfinite(dhi) & (ghi <= 1.5 * extra * cosine**1.2 + 100.0)
    there &= (dhi <= 0.75 * extra * cosine**1.2 + 30.0) & (dni <= 0.95 * extra * cosine**0.2 + 10.0)
    dni = np.where(there & (zenith < 90.0), np.maximum(np.nan_to_num(dni), 0.0), 0.0)
    dhi = np.where(there & (zenith < 93.0), np.maximum(np.nan_to_num(dhi), 0.0), 0.0)
    shape = (-1, MINUTES)
    return Minutes(
        start_utc=pd.DatetimeIndex(frame.index),
        zenith_deg=zenith.reshape(shape),
        azimuth_deg=sun["azimuth"].to_numpy().reshape(shape),
        dni_extra_w_m2=extra.reshape(shape),
        ghi_w_m2=(dni * cosine + dhi).reshape(shape),
        dni_w_m2=dni.reshape(shape),
        dhi_w_m2=dhi.reshape(shape),
        temp_air_c=frame["temp_air"].interpolate(limit_direction="both").to_numpy(dtype=np.float64).reshape(shape),
        there=there.reshape(shape),
    )


def _completed(
    ghi: FloatArray, dni: FloatArray, dhi: FloatArray, *, cosine: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The components, a single missing one from the other two; beam only where the sun is 3 degrees up."""
    missing_beam = np.where(cosine > 0.05, (ghi - dhi) / np.maximum(cosine, 0.05), 0.0)
    beam = np.where(np.isfinite(dni), dni, missing_beam)
    diffuse = np.where(np.isfinite(dhi), dhi, ghi - dni * cosine)
    return np.where(np.isfinite(ghi), ghi, beam * cosine + diffuse), beam, diffuse


def means_of_snapshots(frame: pd.DataFrame) -> pd.DataFrame:
    """Means of the minutes from readings at their starts: a quarter of the next reading where the clouds pass in minutes.

    Readings that go from sun to shade without a value between (70 % of such passages at Lyngby, 21 to 36 % elsewhere) are
    snapshots; the weights leave about as many values between as means have (common practice, no source).
    """
    light = frame[["ghi", "dni", "dhi"]]
    following = light.shift(-1).where(light.index.to_series().diff().shift(-1) == pd.Timedelta(minutes=1), light)
    return frame.assign(**(0.75 * light + 0.25 * following))


def clock_shift_h(frame: pd.DataFrame, place: Place, plane: tuple[float, float] = (0.0, 0.0)) -> float:
    """Hours by which the file's clock runs ahead of UTC, from the sun; 0 unless another clock fits clearly better.

    `plane` has tilt and azimuth of the plane in which `ghi` was measured [deg].
    """
    hourly = frame["ghi"].resample("h", origin="start").mean().dropna()
    middle = pd.DatetimeIndex(hourly.index) + pd.Timedelta(minutes=30)
    fits = []
    for shift in SHIFTS_H:
        sun = pvlib.solarposition.ephemeris(middle - pd.Timedelta(hours=float(shift)), place.latitude_deg, place.longitude_deg)
        height, azimuth = sun["elevation"].to_numpy(), sun["azimuth"].to_numpy()
        cosine = np.where(height > 0.0, pvlib.irradiance.aoi_projection(*plane, 90.0 - height, azimuth), 0.0)
        fits.append(np.corrcoef(np.maximum(cosine, 0.0), hourly.to_numpy())[0, 1])
    best = int(np.argmax(fits))
    unshifted = fits[int(np.flatnonzero(SHIFTS_H == 0.0)[0])]
    return float(SHIFTS_H[best]) if fits[best] > unshifted + SHIFT_GAIN else 0.0


def gaps(minutes: Minutes) -> list[tuple[str, int]]:
    """Daylight gaps, the longest first: start and length in minutes."""
    missing = (~minutes.there & minutes.daylight).ravel()
    edges = np.flatnonzero(np.diff(np.concatenate([[False], missing, [False]]).astype(np.int8)))
    found = [(str(minutes.start_utc[start]), int(end - start)) for start, end in zip(edges[::2], edges[1::2], strict=True)]
    return sorted(found, key=lambda gap: -gap[1])


def station(frame: pd.DataFrame, place: Place) -> Station:
    """Minutes, hourly means and spread; refused where too much is missing or the clock is wrong.

    Raises
    ------
    FileRefusedError
        Less than 90 % of the daylight minutes, or a clock that is not UTC.
    """
    shift = clock_shift_h(frame, place)
    if shift:
        raise FileRefusedError(
            f"by the sun the clock is {shift:+g} h from UTC: time_utc seems to hold local time, or the longitude is wrong"
        )
    minutes = minutes_of(frame, place)
    if minutes.coverage < COVERAGE_MIN:
        raise FileRefusedError(
            f"{minutes.coverage:.1%} of the daylight minutes are there, 90 % are needed; longest gaps (minutes): "
            + "; ".join(f"{start} {length}" for start, length in gaps(minutes)[:GAPS_NAMED])
        )
    middle = minutes.start_utc[::MINUTES] + pd.Timedelta(minutes=30)
    sun = pvlib.solarposition.get_solarposition(middle, place.latitude_deg, place.longitude_deg, altitude=place.elevation_m)
    zenith, extra = sun["apparent_zenith"].to_numpy(), pvlib.irradiance.get_extra_radiation(middle).to_numpy()
    zenith = np.where(minutes.usable, zenith, DARK_DEG)
    ghi, dni, dhi = (
        np.where(minutes.usable, minutes.hourly(values), 0.0)
        for values in (minutes.ghi_w_m2, minutes.dni_w_m2, minutes.dhi_w_m2)
    )
    beam, temp_air = np.where(zenith < 90.0, dni, 0.0), minutes.hourly(minutes.temp_air_c)
    conditions = conditions_of(zenith, sun["azimuth"].to_numpy(), ghi, beam, dhi, extra, temp_air)
    conditions = replace(conditions, weight_h=minutes.usable.astype(np.float64))
    spread = subhourly_states(
        conditions, origin="measured_hourly", elevation_m=place.elevation_m, linke_turbidity_by_month=None
    )
    return Station(minutes, place.elevation_m, conditions, spread)


def conditions_of(
    zenith: FloatArray, azimuth: FloatArray, ghi: FloatArray, dni: FloatArray, dhi: FloatArray, extra: FloatArray,
    temp_air: FloatArray,
) -> Conditions:  # fmt: skip
    """Points of one hour each with the same wind; their month and hour do not matter."""
    whole = np.zeros(zenith.size, dtype=np.int64)
    return Conditions(
        zenith_deg=zenith, azimuth_deg=azimuth, ghi_w_m2=ghi, dni_w_m2=dni, dhi_w_m2=dhi, dni_extra_w_m2=extra,
        temp_air_c=temp_air, wind_speed_m_s=np.full(zenith.size, WIND_M_S), weight_h=np.ones(zenith.size), month=whole + 1,
        hour=whole, sequence=whole,
    )  # fmt: skip
