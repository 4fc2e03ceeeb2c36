"""A folder of weather files: the nearest usable station serves; broken files are named."""

from __future__ import annotations

import logging
from dataclasses import replace
from pathlib import Path

import pytest

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG
from tests.open_data import amsterdam_epw
from tests.station_folder import (
    AMSTERDAM,
    BROKEN,
    GREENSBORO,
    USABLE,
    cut_short,
    station_folder,
    with_place,
)
from wattpair_service.climate.stations import StationFolder, year_of
from wattpair_service.engineering.site import StationUsed


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return station_folder(tmp_path_factory.mktemp("stations"))


@pytest.fixture(scope="module")
def stations(folder: Path) -> StationFolder:
    return read(folder)


def read(folder: Path) -> StationFolder:
    return StationFolder.read(folder, distance_max_km=50.0)


def nearest(stations: StationFolder, latitude_deg: float, longitude_deg: float, elevation_m: float = 0.0) -> StationUsed | None:
    found = stations.nearest(latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=elevation_m)
    return found[0] if found else None


def test_good_files_are_stations_and_bad_ones_are_named_and_logged(folder: Path, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING):
        stations = read(folder)
    assert {station.path.name for station in stations.stations} == USABLE
    assert stations.broken.keys() == BROKEN.keys()
    assert stations.fault is None
    for name, reason in BROKEN.items():
        assert reason in stations.broken[name], name
        assert any(name in message and reason in message for message in caplog.messages), name
    assert not any(name in message for message in caplog.messages for name in USABLE)


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "name", "distance_km", "height_m"),
    [
        # A tenth of a degree of latitude on a sphere of 6371 km.
        (LATITUDE_DEG + 0.1, LONGITUDE_DEG, GREENSBORO, 11.119, 273.0),
        (LATITUDE_DEG, LONGITUDE_DEG, GREENSBORO, 0.0, 273.0),
        (52.31, 4.75, AMSTERDAM, 1.755, -2.0),
    ],
    ids=["11 km away", "at the station", "past a broken station"],
)
def test_the_nearest_station_serves(
    stations: StationFolder, latitude_deg: float, longitude_deg: float, name: str, distance_km: float, height_m: float
) -> None:
    found = stations.nearest(latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=0.0)
    assert found is not None
    used, weather = found
    assert used.name == name
    assert used.distance_km == pytest.approx(distance_km, abs=0.01)
    assert used.height_difference_m == weather.elevation_m == height_m
    again = stations.nearest(latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=200.0)
    assert again is not None
    assert again[0].height_difference_m == pytest.approx(height_m - 200.0)
    assert again[1] is weather, "a year is read once"


def test_a_deleted_file_is_logged_and_the_next_nearest_serves(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    for name, longitude in (("nearer.epw", 4.76), ("farther.epw", 4.8)):
        (tmp_path / name).write_text(with_place(amsterdam_epw(), 52.305, longitude))
    stations = read(tmp_path)
    (tmp_path / "nearer.epw").unlink()
    caplog.clear()
    used = nearest(stations, 52.305, 4.76)
    assert used is not None
    assert used.name == "farther.epw"
    assert any("nearer.epw cannot be read now" in message for message in caplog.messages)


def test_a_file_serves_only_while_it_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "x.epw"
    path.write_text(amsterdam_epw())
    stations = read(tmp_path)
    path.write_text(cut_short(amsterdam_epw()))
    assert nearest(stations, 52.3, 4.77) is None
    assert read(tmp_path).broken
    path.write_text(amsterdam_epw())
    assert read(tmp_path).broken == {}


@pytest.mark.parametrize(("limit_km", "served"), [(11.0, False), (11.2, True)])
def test_the_distance_limit(stations: StationFolder, limit_km: float, served: bool) -> None:
    found = nearest(replace(stations, distance_max_km=limit_km), LATITUDE_DEG + 0.1, LONGITUDE_DEG)
    assert (found is not None) == served


def test_stations_across_the_date_line_are_near(tmp_path: Path) -> None:
    (tmp_path / "west.epw").write_text(with_place(amsterdam_epw(), 52.3, -179.9, zone=-12.0))
    used = nearest(read(tmp_path), 52.3, 179.9)
    assert used is not None
    assert used.distance_km == pytest.approx(13.6, abs=0.1)


def test_equally_near_stations_go_by_name_and_an_empty_folder_has_none(tmp_path: Path) -> None:
    stations = read(tmp_path)
    assert (stations.stations, stations.broken, stations.fault) == ((), {}, None)
    assert nearest(stations, 52.3, 4.77) is None
    for name in ("b.epw", "a.epw"):
        (tmp_path / name).write_text(amsterdam_epw())
    used = nearest(read(tmp_path), 52.3, 4.77)
    assert used is not None
    assert used.name == "a.epw"


@pytest.mark.parametrize("name", ["missing", "file"])
def test_a_folder_that_cannot_be_read_is_a_fault(tmp_path: Path, name: str, caplog: pytest.LogCaptureFixture) -> None:
    (tmp_path / "file").write_text("no folder")
    stations = read(tmp_path / name)
    assert stations.fault is not None
    assert stations.fault.startswith("the station folder cannot be read: ")
    assert any("station folder cannot be read" in message for message in caplog.messages)
    assert nearest(stations, 52.3, 4.77) is None


def test_years_are_cached_by_path(tmp_path: Path) -> None:
    for name, latitude in (("one", 52.3), ("other", 52.4)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "x.epw").write_text(with_place(amsterdam_epw(), latitude, 4.77))
    one, other = (year_of(read(tmp_path / name).stations[0]) for name in ("one", "other"))
    assert (one.latitude_deg, other.latitude_deg) == (52.3, 52.4)
