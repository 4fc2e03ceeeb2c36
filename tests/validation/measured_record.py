"""Measured intervals of a system: reading them, refusing what gives no valid answer, hourly means."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from tests.validation.minutes import FileRefusedError, Place, clock_shift_h
from wattpair_service.engineering.arrays import BoolArray, FloatArray
from wattpair_service.engineering.irradiance.conditions import Conditions, HourlyWeather, from_hourly
from wattpair_service.engineering.sentences import Cited

BEAM = ("ghi", "dni", "dhi")
DEFAULTS = {"temp_air": 20.0, "wind_speed": 2.0}
"""Air temperature [degC] and wind speed [m/s] where they are not measured. Common practice, no source."""
LABELS = ("start", "middle", "end")
COVERAGE_MIN = 0.6
NAMES = ("time_utc", "power", "poa", *BEAM, *DEFAULTS)


@dataclass(frozen=True, slots=True, eq=False)
class Record:
    """Equal intervals of whole hours, arrays of shape (n,).

    `series` has power [W], what was measured of poa, ghi, dni and dhi [W/m2], temp_air [degC] and wind_speed [m/s]; zeros or
    interpolated where an interval is not `there`. `conditions` has no irradiance where only `poa` was measured. `assumed` has
    the weather that was not measured, with its values.
    """

    place: Place
    step_min: int
    start_utc: pd.DatetimeIndex
    series: Mapping[str, FloatArray]
    there: BoolArray
    conditions: Conditions
    assumed: Mapping[str, float]

    @classmethod
    def of(
        cls,
        place: Place,
        step_min: int,
        start_utc: pd.DatetimeIndex,
        values: Mapping[str, FloatArray],
        there: BoolArray,
        assumed: Mapping[str, float],
    ) -> Record:
        """With the conditions of these values; beam and diffuse are split from `ghi` where they were not measured."""
        dark = np.zeros(there.size)
        weather = HourlyWeather(
            latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg, elevation_m=place.elevation_m, utc_offset_h=0.0,
            middle_utc=start_utc + pd.Timedelta(minutes=step_min / 2.0), ghi_w_m2=values.get("ghi", dark),
            dni_w_m2=values.get("dni"), dhi_w_m2=values.get("dhi"), temp_air_c=values["temp_air"],
            wind_speed_m_s=values["wind_speed"], source=Cited("measured"),
        )  # fmt: skip
        conditions = replace(from_hourly(weather), weight_h=np.full(there.size, step_min / 60.0))
        return cls(place, step_min, start_utc, values, there, conditions, assumed)

    @property
    def is_day(self) -> BoolArray:
        """Intervals with the sun up at their middle."""
        return np.asarray(self.conditions.zenith_deg < 90.0)

    @property
    def usable_hours(self) -> BoolArray:
        """Hours with all their daylight intervals, shape (hours,)."""
        return np.asarray((self.there | ~self.is_day).reshape(-1, 60 // self.step_min).all(axis=1))

    @property
    def counted(self) -> BoolArray:
        """Daylight intervals of usable hours: over these, energies are compared."""
        return np.asarray(self.there & self.is_day & np.repeat(self.usable_hours, 60 // self.step_min))

    @property
    def metered_w(self) -> float:
        """Sum of the counted powers [W]; refused where it is not above 0."""
        metered = float(self.series["power"][self.counted].sum())
        if not metered > 0.0:
            raise FileRefusedError(f"metered energy: {metered * self.step_min / 6e4:.1f} kWh; it must be above 0")
        return metered

    @property
    def day(self) -> pd.DatetimeIndex:
        """Day of each interval, in the mean solar time of the place."""
        return (self.start_utc + pd.Timedelta(hours=self.place.longitude_deg / 15.0)).floor("D")

    def hourly(self) -> Record:
        """Means of the hours; a mean of fewer than all daylight intervals is not `there`."""
        of_hour = (-1, 60 // self.step_min)
        values = {name: each.reshape(of_hour).mean(axis=1) for name, each in self.series.items()}
        return Record.of(self.place, 60, self.start_utc[:: 60 // self.step_min], values, self.usable_hours, self.assumed)


def read(path: Path, columns: Mapping[str, str]) -> pd.DataFrame:
    """A CSV file under the names of `record_of`, indexed by its times in UTC.

    Raises
    ------
    FileRefusedError
        Not a CSV file, columns missing or there twice, or times that are none.
    """
    if unknown := set(columns) - set(NAMES):
        raise FileRefusedError(f"unknown columns: {', '.join(sorted(unknown))}; known: {', '.join(NAMES)}")
    try:
        frame = pd.read_csv(path)
    except (OSError, EOFError, ValueError, zlib.error) as error:
        raise FileRefusedError(f"not a readable CSV file: {error}") from error
    if missing := [f"{ours} ({theirs})" for ours, theirs in columns.items() if theirs not in frame]:
        raise FileRefusedError(f"columns missing: {', '.join(missing)}")
    frame = frame.rename(columns={theirs: ours for ours, theirs in columns.items()})
    if frame.columns.has_duplicates or len(set(columns.values())) < len(columns):
        raise FileRefusedError(f"one name for two columns, or two for one: {dict(columns)}, beside the file's own names")
    missing = sorted({"time_utc", "power"} - set(frame.columns))
    if missing := missing + ([] if {"poa", "ghi"} & set(frame.columns) else ["poa or ghi"]):
        raise FileRefusedError(f"columns missing: {', '.join(missing)}")
    try:
        time = pd.to_datetime(frame["time_utc"], utc=True).dt.tz_localize(None)
    except (ValueError, TypeError) as error:
        raise FileRefusedError(f"time_utc has entries that are no times: {error}") from error
    return frame[[name for name in NAMES[1:] if name in frame]].set_index(pd.DatetimeIndex(time))


def record_of(frame: pd.DataFrame, place: Place, *, label: str = "start", plane: tuple[float, float] = (0.0, 0.0)) -> Record:
    """The intervals of a frame, from the first hour to the last.

    Parameters
    ----------
    frame : DataFrame
        Indexed by UTC; `power` [W], `poa` or `ghi`, where measured `dni`, `dhi`, `temp_air`, `wind_speed`.
    place : Place
    label : str
        Where in its interval a time stands: start, middle or end.
    plane : tuple of float
        Tilt and azimuth of `poa` [deg], to compare its clock with the sun's.

    Raises
    ------
    FileRefusedError
        Times that do not rise or do not divide the hour, no power, light or daylight, too many gaps (entries that are no
        finite numbers are gaps), or a clock that is not UTC.
    """
    if len(frame) < 2 or not frame.index.is_monotonic_increasing or frame.index.has_duplicates:
        raise FileRefusedError("times do not rise, or appear twice")
    numbers = frame.apply(pd.to_numeric, errors="coerce").replace([np.inf, -np.inf], np.nan)
    main_light = "poa" if "poa" in numbers else "ghi"
    for name in ("power", main_light):
        if not numbers[name].max() > 0.0:
            raise FileRefusedError(f"no {name}: the column is never above zero")
    step = float(np.median(np.diff(frame.index.to_numpy())) / np.timedelta64(1, "m"))
    if step < 1.0 or 60.0 % step:
        raise FileRefusedError(f"intervals of {step:g} min do not divide the hour")
    step_min = int(step)
    start = pd.DatetimeIndex(frame.index) - pd.Timedelta(minutes=step * LABELS.index(label) / 2.0)
    # Intervals need not start on the clock's own marks: their hours then start as much later.
    late = pd.Series(start - start.floor(f"{step_min}min")).median()
    numbers.index = (start - late).round(f"{step_min}min")
    first, last = (numbers.index[at].floor("h") for at in (0, -1))
    every = pd.date_range(first, last + pd.Timedelta(minutes=59), freq=f"{step_min}min")
    grid = numbers[~numbers.index.duplicated()].reindex(every)
    has_beam = all(name in grid for name in BEAM)
    light = [name for name in ("poa", *(BEAM if has_beam else BEAM[:1])) if name in grid]
    there = np.isfinite(grid[["power", *light]].to_numpy(dtype=np.float64)).all(axis=1)
    values = {name: np.maximum(grid[name].fillna(0.0).to_numpy(dtype=np.float64), 0.0) for name in light}
    values["power"] = np.where(there, grid["power"].fillna(0.0).to_numpy(dtype=np.float64), 0.0)
    for name, default in DEFAULTS.items():
        column = grid[name] if name in grid else pd.Series(default, index=every)
        values[name] = column.interpolate(limit_direction="both").to_numpy(dtype=np.float64)
    record = Record.of(
        place, step_min, every + late, values, there, {name: each for name, each in DEFAULTS.items() if name not in grid}
    )
    if not record.is_day.any():
        raise FileRefusedError("no daylight intervals: the sun is never up")
    complete = {"power and irradiance": there, **{name: grid[name].notna() for name in DEFAULTS if name in grid}}
    for name, each in complete.items():
        coverage = float(each[record.is_day].mean())
        if coverage < COVERAGE_MIN:
            raise FileRefusedError(f"{name}: there in {coverage:.1%} of the daylight intervals, {COVERAGE_MIN:.0%} are needed")
    measured = pd.DataFrame({"ghi": np.where(there, values[main_light], np.nan)}, index=record.start_utc)
    if shift_h := clock_shift_h(measured, place, plane if main_light == "poa" else (0.0, 0.0)):
        raise FileRefusedError(
            f"by the sun the clock is {shift_h:+g} h from UTC: time_utc may hold local time, or longitude or plane be wrong"
        )
    return record
