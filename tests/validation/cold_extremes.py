"""The lowest temperature of the built-in map beside the 20-year minimum that weather files publish in their headers.

Every weather file with extreme design conditions that was found in packages of the registry, and seven more headers that public
files quote. The figures stand here because two of the packages are large; the headers of the small ones are read again at each
run. What it can show: that the map's margin holds at 95 % of these stations. What it cannot: frost hollows, and the record of a
single night, which lies beyond a 20-year minimum about once in 20 years.
"""

from __future__ import annotations

import tarfile
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.open_data import amsterdam_epw, source_archive
from tests.validation.ledger import Check, Label, near, within
from wattpair_service.climate import atlas
from wattpair_service.climate.files import published_extremes
from wattpair_service.climate.site_year import locate
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.site import PublishedExtremes, Site
from wattpair_service.rules import electrical_rules

ACCIM, BUILDING, GYM, PVLIB = "accim-samples 0.8.2", "pyenergyplus-lbnl 26.1.0", "sinergym 3.5.1", "pvlib 0.16.1"
QUOTED = "header quoted in a public source file"
HEADER_BYTES = 10_000
HOLDING_SHARE = 0.95
WARMEST_K = 1.0
"""How much warmer than the published minimum the map may be at the stations outside the share."""


@dataclass(frozen=True, slots=True)
class Station:
    """A station with its location and what its file's header publishes: mean of yearly minima and 20-year minimum [degC]."""

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    mean_yearly_lowest_c: float
    lowest_of_20_years_c: float
    source: str


STATIONS = (
    Station("Seville", 37.42, -5.9, 31, -1.3, -4.7, ACCIM),
    Station("Sydney", -33.95, 151.18, 3, 4, 1.3, GYM),
    Station("Aberdeen", 57.2, -2.22, 65, -9.7, -17.5, ACCIM),
    Station("London Gatwick", 51.15, -0.18, 62, -7.6, -12.5, ACCIM),
    Station("Phoenix", 33.45, -111.98, 337, 1.3, -1.4, BUILDING),
    Station("Fresno", 36.78, -119.72, 102, -1.9, -6, BUILDING),
    Station("San Francisco", 37.62, -122.4, 2, 1.8, -0.9, BUILDING),
    Station("Colorado Springs", 38.82, -104.72, 1872, -22.6, -30.5, BUILDING),
    Station("Denver Buckley", 39.72, -104.75, 1726, -22.3, -29.2, GYM),
    Station("Golden", 39.74, -105.18, 1829, -22.9, -30.1, BUILDING),
    Station("Miami", 25.82, -80.3, 11, 5.1, -0.7, BUILDING),
    Station("Orlando", 28.43, -81.33, 29, -0.9, -6.8, BUILDING),
    Station("Tampa", 27.97, -82.53, 6, -0.7, -6.2, BUILDING),
    Station("Chicago", 41.98, -87.92, 201, -23.7, -32.2, GYM),
    Station("Bondville", 40.06, -88.37, 213, -23.1, -30.6, BUILDING),
    Station("Newark", 40.72, -74.18, 3, -14.7, -20.8, BUILDING),
    Station("Las Vegas", 36.08, -115.15, 648, -3.8, -9, BUILDING),
    Station("Oklahoma City", 35.38, -97.6, 398, -14.4, -20.5, BUILDING),
    Station("Washington Dulles", 38.98, -77.47, 82, -17.2, -25.7, BUILDING),
    Station("Bogota", 4.7, -74.13, 2548, -0.5, -4.2, GYM),
    Station("Granada", 37.18, -3.78, 559, -6.2, -11.3, GYM),
    Station("Helsinki", 60.32, 24.97, 56, -25.1, -33.3, GYM),
    Station("Hyakuri", 36.18, 140.42, 35, -9.5, -11.6, GYM),
    Station("Antananarivo", -18.8, 47.48, 1276, 4.3, 0.2, GYM),
    Station("Lisbon", 38.73, -9.15, 71, 1.9, -0.9, GYM),
    Station("Stockholm Arlanda", 59.65, 17.95, 61, -19.5, -27.8, GYM),
    Station("Tucson", 32.17, -110.88, 809, -2.5, -5, GYM),
    Station("New York Kennedy", 40.65, -73.8, 5, -13.7, -19.1, GYM),
    Station("Pittsburgh", 40.35, -79.92, 380, -19.5, -28.7, GYM),
    Station("Port Angeles", 48.12, -123.5, 91, -5.9, -10.6, GYM),
    Station("Amsterdam", 52.3, 4.77, -2, -8.7, -15.7, PVLIB),
    Station("Copenhagen", 55.63, 12.67, 5, -11, -17.6, QUOTED),
    Station("Santiago", -33.38, -70.78, 476, -3.5, -5.9, QUOTED),
    Station("Xian", 34.3, 108.93, 397.5, -9.9, -14.6, QUOTED),
    Station("Athens", 37.9, 23.73, 107, -3.9, -8.4, QUOTED),
    Station("Chongqing", 29.58, 106.47, 259.1, 1.1, -1.4, QUOTED),
    Station("California zone 1", 40.8, -124.2, 13, -2.5, -5.6, QUOTED),
    Station("Munich", 48.1632, 11.5429, 520, -13.4, -21.4, QUOTED),
)
REGIONS = {
    "Aberdeen": "great_britain", "London Gatwick": "great_britain", "Amsterdam": "netherlands", "Munich": "germany",
    "Sydney": "australia",
}  # fmt: skip
"""Stations in regions with a custom, whose design temperature is checked too."""


def checks() -> Iterator[Check]:
    """The table, the share of stations where the map holds, the regions' customs, and the headers read again."""
    warmer_k = []
    for station in STATIONS:
        map_c = _map_lowest_c(station)
        warmer_k.append(map_c - station.lowest_of_20_years_c)
        name = f"{station.name}: map {map_c:.1f}, published {station.lowest_of_20_years_c:.1f}: map over published [K]"
        yield within(name, -30.0, WARMEST_K, warmer_k[-1], _label(station), station.source)
    holds = float(np.mean(np.array(warmer_k) <= 0.0))
    name = f"share of {len(STATIONS)} stations where the map is not warmer than the published 20-year minimum"
    yield within(name, HOLDING_SHARE, 1.0, holds, "RUN", "headers of weather files, as above")
    for station in STATIONS:
        if station.name in REGIONS:
            lowest_c = _design_lowest_c(station, REGIONS[station.name])
            name = f"{station.name}: design temperature of the region over the published minimum [K]"
            yield within(name, -30.0, 0.0, lowest_c - station.lowest_of_20_years_c, _label(station), station.source)
    for name, found in _headers_again().items():
        station = next(each for each in STATIONS if each.name == name)
        source = f"{station.source}, header read again"
        got, expected = found.lowest_of_20_years_c, station.lowest_of_20_years_c
        yield near(f"{name}: 20-year minimum as the service reads it [degC]", expected, got, 1e-9, "READ", source)
        got, expected = found.mean_yearly_lowest_c, station.mean_yearly_lowest_c
        yield near(f"{name}: mean of yearly minima as the service reads it [degC]", expected, got, 1e-9, "READ", source)


def _label(station: Station) -> Label:
    return "READ-2" if station.source == QUOTED else "READ"


def _map_lowest_c(station: Station) -> float:
    return atlas.air(station.latitude_deg, station.longitude_deg, station.elevation_m).temp_lowest_c


def _design_lowest_c(station: Station, region: str) -> float:
    site = Site(station.latitude_deg, station.longitude_deg, station.elevation_m, None, None)
    return locate(site, StationFolder(), cold_floors=electrical_rules(region).cold_floors).design_temperatures().lowest_c


def _headers_again() -> dict[str, PublishedExtremes]:
    """What the service reads in the files of the small packages, by the station's name."""
    texts = [amsterdam_epw()]
    archive = source_archive("sinergym", "3.5.1", "53a28e6eec9da8fb0a771908809c7b8932c519068946090129b8a854c9f491e9")
    with tarfile.open(archive) as tar:
        files = [tar.extractfile(member) for member in tar if member.name.endswith(".epw")]
        texts += [file.read(HEADER_BYTES).decode("iso-8859-1") for file in files if file is not None]
    found = {}
    for text in texts:
        latitude, longitude = (float(field) for field in text.split("\n", 1)[0].split(",")[6:8])
        station = next(each for each in STATIONS if (each.latitude_deg, each.longitude_deg) == (latitude, longitude))
        published = published_extremes(text)
        assert published is not None, f"{station.name}: its file publishes extremes"
        found[station.name] = published
    return found
