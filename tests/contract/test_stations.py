"""The operator's station folder over HTTP: what it serves, what it refuses, and what readiness says of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG
from tests.contract.bodies import WEATHER_USERS, Body, changed, full, pointers, post, problem, refusal, strict_json
from tests.contract.test_contract import OPERATIONS, faults, require_as_described
from tests.open_data import amsterdam_epw
from tests.station_folder import AMSTERDAM, BROKEN, GREENSBORO, USABLE, station_folder, with_place
from wattpair_service.app import create_app
from wattpair_service.climate import atlas
from wattpair_service.settings import Settings

EVERY_USER = pytest.mark.parametrize("operation_id", WEATHER_USERS)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two good stations and all sorts of bad ones."""
    return station_folder(tmp_path_factory.mktemp("stations"))


@pytest.fixture(scope="module")
def stations(folder: Path) -> FlaskClient:
    """A client of a service with that folder."""
    return client_with(folder)


def client_with(folder: Path | None, distance_max_km: int = 50) -> FlaskClient:
    """A client of a service with a station folder."""
    return create_app(Settings(station_folder=folder, station_distance_max_km=distance_max_km)).test_client()


def at(operation_id: str, latitude_deg: float, longitude_deg: float, **site: float) -> Body:
    """A request for the nearest station of a place."""
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg} | site
    return changed(full(operation_id, "station"), {f"/site/{name}": value for name, value in place.items()})


def readiness(client: FlaskClient, status: int = 200) -> Any:
    """The answer of /health/ready, which must be as described."""
    response = client.get("/health/ready")
    answer = strict_json(response)
    assert response.status_code == status, answer
    described = OPERATIONS["check_ready"][2]["responses"][str(status)]["content"]["application/json"]["schema"]
    assert faults(answer, described) == []
    return answer


@pytest.mark.parametrize("operation_id", ["describe_climate", "compute_clipping"])
def test_the_nearest_station_serves(stations: FlaskClient, operation_id: str) -> None:
    body = at(operation_id, LATITUDE_DEG + 0.1, LONGITUDE_DEG, elevation_m=200)
    answer = require_as_described(post(stations, operation_id, body), operation_id)
    assert answer["climate"]["kind"] == "station"
    used = answer["climate"]["station"]
    assert used == {
        "name": GREENSBORO,
        "distance_km": pytest.approx(11.119, abs=0.01),
        "height_difference_m": pytest.approx(73.0),
    }
    assert "11 km from the site" in answer["climate"]["source"]


def test_sizing_takes_the_extremes_of_the_station(stations: FlaskClient) -> None:
    body = at("size_pairings", LATITUDE_DEG, LONGITUDE_DEG)
    body["site"] = {name: value for name, value in body["site"].items() if not name.startswith("temp_")}
    design = strict_json(post(stations, "size_pairings", body))["design_temperatures"]
    assert "the weather's own extreme is -" in design["lowest_source"]


def test_a_station_gives_what_its_file_gives(stations: FlaskClient) -> None:
    from_station = strict_json(post(stations, "describe_climate", at("describe_climate", LATITUDE_DEG, LONGITUDE_DEG)))
    from_file = strict_json(post(stations, "describe_climate", full("describe_climate", "file")))
    assert from_station["horizontal"] == from_file["horizontal"]
    assert from_station["faces"] == from_file["faces"]


def test_the_nearest_station_is_named_beside_any_weather(stations: FlaskClient, client: FlaskClient) -> None:
    body = full("describe_climate", "climate")
    with_folder, without = (strict_json(post(each, "describe_climate", body)) for each in (stations, client))
    assert with_folder["nearest_station"]["name"] == GREENSBORO
    assert without["nearest_station"] is None
    assert with_folder | {"nearest_station": None} == without


def test_the_site_far_below_its_station_is_a_caution(stations: FlaskClient) -> None:
    far, near = (
        strict_json(post(stations, "describe_climate", at("describe_climate", LATITUDE_DEG, LONGITUDE_DEG, elevation_m=height)))
        for height in (-40, -20)
    )
    assert far["climate"]["station"]["height_difference_m"] == pytest.approx(313.0)
    assert any("stands +313 m against the site" in caution for caution in far["cautions"])
    assert not any("against the site" in caution for caution in near["cautions"])


@EVERY_USER
def test_beyond_the_limit_is_refused(stations: FlaskClient, operation_id: str) -> None:
    body = at(operation_id, LATITUDE_DEG + 0.5, LONGITUDE_DEG)
    said = refusal(stations, operation_id, body)
    assert pointers(said) == {"/weather/kind"}
    assert "no usable station lies within 50 km of the site" in said["errors"][0]["allowed"]
    assert 'such as "climate"' in said["errors"][0]["allowed"]


def test_the_limit_is_the_operators(folder: Path) -> None:
    body = at("describe_climate", LATITUDE_DEG + 0.5, LONGITUDE_DEG)
    answer = strict_json(post(client_with(folder, 60), "describe_climate", body))
    assert answer["climate"]["station"]["distance_km"] == pytest.approx(55.6, abs=0.1)
    assert any("56 km from the site" in caution for caution in answer["cautions"])
    said = problem(post(client_with(folder, 55), "describe_climate", body), 422, "invalid-fields")
    assert "within 55 km" in said["errors"][0]["allowed"]


@EVERY_USER
def test_without_a_folder_there_is_no_station(client: FlaskClient, operation_id: str) -> None:
    said = refusal(client, operation_id, full(operation_id, "station"))
    assert pointers(said) == {"/weather/kind"}


def test_readiness_counts_the_broken_ones_the_log_names_them_and_the_others_are_served(
    folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    stations = client_with(folder)
    answer = readiness(stations)
    assert (answer["status"], answer["faults"], answer["station_count"]) == ("ready", [], len(USABLE))
    assert answer["broken_station_count"] == len(BROKEN)
    assert not [name for name in BROKEN if name in str(answer)], "the operator's files are nobody else's business"
    for name, reason in BROKEN.items():
        assert any(name in line and reason in line for line in caplog.messages)
    assert post(stations, "describe_climate", at("describe_climate", LATITUDE_DEG, LONGITUDE_DEG)).status_code == 200


def test_past_a_broken_station_the_next_nearest_serves(stations: FlaskClient) -> None:
    answer = strict_json(post(stations, "describe_climate", at("describe_climate", 52.31, 4.75)))
    assert answer["climate"]["station"]["name"] == AMSTERDAM


def test_a_station_that_vanishes_is_passed_over(tmp_path: Path) -> None:
    for name, latitude in (("farther.epw", 52.3), ("nearer.epw", 52.31)):
        (tmp_path / name).write_text(with_place(amsterdam_epw(), latitude, 4.77))
    stations = client_with(tmp_path)
    (tmp_path / "nearer.epw").unlink()
    answer = strict_json(post(stations, "describe_climate", at("describe_climate", 52.31, 4.77)))
    assert answer["climate"]["station"]["name"] == "farther.epw"
    assert readiness(stations)["status"] == "ready"


@pytest.mark.parametrize("name", ["missing", "file"])
def test_a_folder_that_cannot_be_read(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("no folder")
    faulty = client_with(tmp_path / name)
    answer = readiness(faulty, 503)
    assert answer["status"] == "not ready"
    assert [fault.split(":")[0] for fault in answer["faults"]] == ["the station folder cannot be read"]
    assert answer["station_count"] == 0
    assert str(tmp_path) not in str(answer), "the operator's paths are nobody else's business"
    assert faulty.get("/health/live").status_code == 200
    assert post(faulty, "describe_climate", full("describe_climate", "climate")).status_code == 200


def test_a_folder_that_vanishes_later(tmp_path: Path) -> None:
    folder = tmp_path / "stations"
    folder.mkdir()
    stations = client_with(folder)
    assert readiness(stations)["status"] == "ready"
    folder.rmdir()
    assert readiness(stations, 503)["faults"] == ["the station folder cannot be read any more: No such file or directory"]


def test_a_climate_that_cannot_be_read(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(name: str, shape: object) -> None:
        raise OSError(2, "No such file or directory", "/srv/data/levels.npy")

    with monkeypatch.context() as patched:
        patched.setattr(atlas, "opened", fail)
        atlas._maps.cache_clear()
        answer = readiness(client, 503)
    atlas._maps.cache_clear()
    assert answer["status"] == "not ready"
    assert answer["faults"] == ["the built-in climate cannot be read: No such file or directory"]
    assert readiness(client)["faults"] == []


def test_two_services_with_the_same_folder_give_the_same_bytes(folder: Path) -> None:
    body = at("compute_clipping", 52.31, 4.75)
    first, other = (post(client_with(folder), "compute_clipping", body).get_data() for _ in range(2))
    assert first == other
