"""A folder of weather files: the nearest good one serves, the bad ones are named and stop nobody."""

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
from wattpair_service.engineering.conditions import HourlyWeather
from wattpair_service.engineering.findings import StationUsed

NEAR_AMSTERDAM = (52.31, 4.75)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two good stations and all sorts of bad ones."""
    return station_folder(tmp_path_factory.mktemp("stations"))


@pytest.fixture(scope="module")
def stations(folder: Path) -> StationFolder:
    """That folder as the service takes it in."""
    return read(folder)


def read(folder: Path) -> StationFolder:
    """A folder as the service takes it in."""
    return StationFolder.read(folder, distance_max_km=50.0)


def nearest(stations: StationFolder, latitude_deg: float, longitude_deg: float, elevation_m: float = 0.0) -> StationUsed | None:
    """Which station serves a place."""
    found = stations.nearest(latitude_deg=latitude_deg, longitude_deg=longitude_deg, elevation_m=elevation_m)
    return found[0] if found else None


def test_good_files_are_stations_and_bad_ones_are_named(stations: StationFolder) -> None:
    assert {station.path.name for station in stations.stations} == USABLE
    assert stations.broken.keys() == BROKEN.keys()
    for name, reason in BROKEN.items():
        assert reason in stations.broken[name], name
    assert stations.fault is None


def test_a_broken_file_is_logged_by_name(folder: Path, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING):
        read(folder)
    for name, reason in BROKEN.items():
        assert any(name in message and reason in message for message in caplog.messages), name
    assert not any(name in message for message in caplog.messages for name in USABLE)


def test_the_nearest_serves_with_its_distance_and_height(stations: StationFolder) -> None:
    here = nearest(stations, LATITUDE_DEG + 0.1, LONGITUDE_DEG, 200.0)
    assert here is not None
    assert here.name == GREENSBORO
    # A tenth of a degree of latitude on a sphere of 6371 km; the station stands at 273 m.
    assert here.distance_km == pytest.approx(11.119, abs=0.01)
    assert here.height_difference_m == pytest.approx(73.0)


def test_its_year_is_the_files(stations: StationFolder) -> None:
    found = stations.nearest(latitude_deg=LATITUDE_DEG, longitude_deg=LONGITUDE_DEG, elevation_m=0.0)
    assert found is not None
    near, weather = found
    assert near.distance_km == pytest.approx(0.0, abs=1e-6)
    assert near.height_difference_m == 273.0
    assert isinstance(weather, HourlyWeather)
    assert (weather.latitude_deg, weather.longitude_deg, weather.elevation_m) == (LATITUDE_DEG, LONGITUDE_DEG, 273.0)
    assert weather.source.startswith("TMY3 typical year")


def test_a_year_is_read_once(stations: StationFolder) -> None:
    first = stations.nearest(latitude_deg=52.3, longitude_deg=5.0, elevation_m=0.0)
    again = stations.nearest(latitude_deg=52.4, longitude_deg=4.6, elevation_m=9.0)
    assert first is not None
    assert again is not None
    assert first[0].name == again[0].name == AMSTERDAM
    assert first[1] is again[1]


def test_past_a_broken_file_the_next_nearest_serves(stations: StationFolder) -> None:
    used = nearest(stations, *NEAR_AMSTERDAM)
    assert used is not None
    assert used.name == AMSTERDAM
    assert used.distance_km == pytest.approx(1.755, abs=0.01)


def test_a_file_that_vanishes_is_logged_and_the_next_nearest_serves(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    for name, longitude in (("nearer.epw", 4.76), ("farther.epw", 4.8)):
        (tmp_path / name).write_text(with_place(amsterdam_epw(), 52.305, longitude))
    stations = read(tmp_path)
    (tmp_path / "nearer.epw").unlink()
    caplog.clear()
    used = nearest(stations, 52.305, 4.76)
    assert used is not None
    assert used.name == "farther.epw"
    assert any("nearer.epw cannot be read now" in message for message in caplog.messages)


def test_a_file_that_is_cut_meanwhile_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "x.epw"
    path.write_text(amsterdam_epw())
    stations = read(tmp_path)
    path.write_text(cut_short(amsterdam_epw()))
    assert nearest(stations, 52.3, 4.77) is None


@pytest.mark.parametrize(("limit_km", "served"), [(11.0, False), (11.2, True)])
def test_the_limit_is_kept(stations: StationFolder, limit_km: float, served: bool) -> None:
    found = nearest(replace(stations, distance_max_km=limit_km), LATITUDE_DEG + 0.1, LONGITUDE_DEG)
    assert (found is not None) == served


def test_the_date_line_does_not_part_neighbours(tmp_path: Path) -> None:
    (tmp_path / "west.epw").write_text(with_place(amsterdam_epw(), 52.3, -179.9, zone=-12.0))
    used = nearest(read(tmp_path), 52.3, 179.9)
    assert used is not None
    assert used.distance_km == pytest.approx(13.6, abs=0.1)


def test_equally_near_stations_go_by_name(tmp_path: Path) -> None:
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


def test_an_empty_folder_is_no_fault(tmp_path: Path) -> None:
    stations = read(tmp_path)
    assert (stations.stations, stations.broken, stations.fault) == ((), {}, None)
    assert nearest(stations, 52.3, 4.77) is None


def test_years_are_kept_by_file_not_by_name(tmp_path: Path) -> None:
    for name, latitude in (("one", 52.3), ("other", 52.4)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "x.epw").write_text(with_place(amsterdam_epw(), latitude, 4.77))
    one, other = (year_of(read(tmp_path / name).stations[0]) for name in ("one", "other"))
    assert (one.latitude_deg, other.latitude_deg) == (52.3, 52.4)


def test_a_cut_file_becomes_usable_when_it_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "x.epw"
    path.write_text(cut_short(amsterdam_epw()))
    assert read(tmp_path).broken
    path.write_text(amsterdam_epw())
    assert read(tmp_path).broken == {}
