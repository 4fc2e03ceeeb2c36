"""The operator's folder of weather files, of which a site uses the nearest."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import numpy as np

from wattpair_service.climate import files
from wattpair_service.climate.geography import distance_km
from wattpair_service.engineering.errors import WeatherError
from wattpair_service.engineering.irradiance.conditions import HourlyWeather
from wattpair_service.engineering.site import StationUsed

LOG = logging.getLogger(__name__)

FORMATS: dict[str, files.FileFormat] = {".epw": "epw", ".csv": "tmy3"}
CACHED_YEARS = 32
FILE_BYTES_MAX = 8_000_000


@dataclass(frozen=True, slots=True)
class Station:
    """A weather file and its location."""

    path: Path
    latitude_deg: float
    longitude_deg: float
    elevation_m: float


@dataclass(frozen=True, slots=True)
class StationFolder:
    """The usable stations of a folder, and by file name the errors of the others (`broken`).

    `distance_max_km` is the largest distance of a station from a site. `fault` says why the folder itself cannot be read; None
    where it can, or where no folder is set.
    """

    stations: tuple[Station, ...] = ()
    broken: dict[str, str] = field(default_factory=dict)
    distance_max_km: float = 50.0
    fault: str | None = None
    folder: Path | None = None

    def fault_now(self) -> str | None:
        """Why the folder could not be read at start, or can no longer be read; None where it can."""
        if self.fault is None and self.folder is not None:
            try:
                next(self.folder.iterdir(), None)
            except OSError as error:
                return f"the station folder cannot be read any more: {error.strerror}"
        return self.fault

    @classmethod
    def read(cls, folder: Path, *, distance_max_km: float) -> StationFolder:
        """Read every file once; a broken one is logged and listed in `broken`."""
        try:
            paths = sorted(path for path in folder.iterdir() if path.suffix.lower() in FORMATS and path.is_file())
        except OSError as error:
            LOG.error("the station folder cannot be read: %s", error)
            return cls(distance_max_km=distance_max_km, fault=f"the station folder cannot be read: {error.strerror}")
        stations, broken = [], {}
        for path in paths:
            try:
                weather = _read(path)
            except WeatherError as error:
                broken[path.name] = str(error)
                LOG.warning("station file %s is left out: %s", path.name, error)
                continue
            stations.append(Station(path, weather.latitude_deg, weather.longitude_deg, weather.elevation_m))
        return cls(tuple(stations), broken, distance_max_km, folder=folder)

    def nearest(
        self, *, latitude_deg: float, longitude_deg: float, elevation_m: float
    ) -> tuple[StationUsed, HourlyWeather] | None:
        """The nearest usable station within the limit and its year; None where there is none."""
        for used, station in self._within_limit(latitude_deg, longitude_deg, elevation_m):
            try:
                return used, year_of(station)
            except WeatherError as error:
                # It was usable when the service started: use the next nearest until it is again.
                LOG.warning("station file %s cannot be read now: %s", used.name, error)
        return None

    def _within_limit(self, latitude_deg: float, longitude_deg: float, elevation_m: float) -> list[tuple[StationUsed, Station]]:
        distances = distance_km(
            latitude_deg,
            longitude_deg,
            [station.latitude_deg for station in self.stations],
            [station.longitude_deg for station in self.stations],
        )
        return [
            (
                StationUsed(self.stations[i].path.name, float(distances[i]), self.stations[i].elevation_m - elevation_m),
                self.stations[i],
            )
            for i in np.argsort(distances, kind="stable")
            if distances[i] <= self.distance_max_km
        ]


@lru_cache(maxsize=CACHED_YEARS)
def year_of(station: Station) -> HourlyWeather:
    """A station's year; WeatherError where its file cannot be used."""
    return _read(station.path)


def _read(path: Path) -> HourlyWeather:
    try:
        if path.stat().st_size > FILE_BYTES_MAX:
            raise WeatherError(f"the file has more than {FILE_BYTES_MAX:,} bytes; a typical year has about two million")
        text = path.read_text(encoding="iso-8859-1")
    except OSError as error:
        raise WeatherError(f"the file cannot be read: {error.strerror}") from error
    return files.from_text(text, file_format=FORMATS[path.suffix.lower()])
