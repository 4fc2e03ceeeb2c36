"""The operator's station folder over HTTP: what it serves, what it refuses, and what readiness tells of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG
from tests.contract.bodies import WEATHER_USERS, Body, caution_codes, changed, full, post, refusal, strict_json
from tests.contract.test_contract import faults, require_as_described, response_schema
from tests.open_data import amsterdam_epw
from tests.station_folder import AMSTERDAM, BROKEN, GREENSBORO, USABLE, station_folder, with_place
from wattpair_service.app import create_app
from wattpair_service.climate import atlas
from wattpair_service.settings import Settings


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two good stations and all sorts of bad ones."""
    return station_folder(tmp_path_factory.mktemp("stations"))


@pytest.fixture(scope="module")
def stations(folder: Path) -> FlaskClient:
    """A client of a service with that folder."""
    return client_with(folder)


def client_with(folder: Path, distance_max_km: int = 50) -> FlaskClient:
    return create_app(Settings(station_folder=folder, station_distance_max_km=distance_max_km)).test_client()


def at(operation_id: str, latitude_deg: float, longitude_deg: float = LONGITUDE_DEG, **site: float) -> Body:
    """A request for the station nearest to a location."""
    site |= {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    return changed(full(operation_id, "station"), {f"/site/{name}": value for name, value in site.items()})


def climate(client: FlaskClient, *location: float, **site: float) -> Any:
    """The answer of POST /v1/site-climate."""
    return strict_json(post(client, "describe_climate", at("describe_climate", *location, **site)))


def readiness(client: FlaskClient, status: int = 200) -> Any:
    """The answer of /health/ready, which must be as described."""
    response = client.get("/health/ready")
    answer = strict_json(response)
    assert response.status_code == status, answer
    assert faults(answer, response_schema("check_ready", str(status))) == []
    return answer


@pytest.mark.parametrize("operation_id", ["describe_climate", "compute_clipping"])
def test_the_nearest_station_serves(stations: FlaskClient, operation_id: str) -> None:
    body = at(operation_id, LATITUDE_DEG + 0.1, elevation_m=200)
    used = require_as_described(post(stations, operation_id, body), operation_id)["climate"]
    assert used["kind"] == "station"
    distance_km, height_m = pytest.approx(11.119, abs=0.01), pytest.approx(73.0)
    assert used["station"] == {"name": GREENSBORO, "distance_km": distance_km, "height_difference_m": height_m}
    assert "11 km from the site" in used["source"]


def test_sizing_takes_the_extremes_of_the_station(stations: FlaskClient) -> None:
    body = at("size_pairings", LATITUDE_DEG)
    body["site"] = {name: value for name, value in body["site"].items() if not name.startswith("temp_")}
    temperatures = strict_json(post(stations, "size_pairings", body))["design_temperatures"]
    assert "the weather's own extreme is -" in temperatures["lowest_source"]


def test_a_station_gives_what_its_file_gives(stations: FlaskClient) -> None:
    station = climate(stations, LATITUDE_DEG)
    file = strict_json(post(stations, "describe_climate", full("describe_climate", "file")))
    assert (station["horizontal"], station["faces"]) == (file["horizontal"], file["faces"])


def test_the_nearest_station_is_named_beside_any_weather(stations: FlaskClient, client: FlaskClient) -> None:
    body = full("describe_climate", "climate")
    with_folder, without = (strict_json(post(each, "describe_climate", body)) for each in (stations, client))
    assert with_folder["nearest_station"]["name"] == GREENSBORO
    assert without["nearest_station"] is None
    assert with_folder | {"nearest_station": None} == without


def test_a_site_far_below_its_station_is_cautioned(stations: FlaskClient) -> None:
    far, near = (climate(stations, LATITUDE_DEG, elevation_m=height) for height in (-40, -20))
    assert far["climate"]["station"]["height_difference_m"] == pytest.approx(313.0)
    assert "differs from the site's by +313 m" in far["cautions"][caution_codes(far).index("station_height")]["text"]
    assert "station_height" not in caution_codes(near)


@pytest.mark.parametrize("operation_id", WEATHER_USERS)
def test_a_station_beyond_the_limit_and_none_at_all_are_refused(
    stations: FlaskClient, client: FlaskClient, operation_id: str
) -> None:
    body = at(operation_id, LATITUDE_DEG + 0.5)
    for service in (stations, client):
        (error,) = refusal(service, operation_id, body)["errors"]
        assert error["pointer"] == "/weather/kind"
    (error,) = refusal(stations, operation_id, body)["errors"]
    assert "no usable station lies within 50 km of the site" in error["allowed"]
    assert 'such as "climate"' in error["allowed"]


def test_the_limit_is_a_setting(folder: Path) -> None:
    answer = climate(client_with(folder, 60), LATITUDE_DEG + 0.5)
    assert answer["climate"]["station"]["distance_km"] == pytest.approx(55.6, abs=0.1)
    assert any("56 km from the site" in each["text"] for each in answer["cautions"])
    refused = refusal(client_with(folder, 55), "describe_climate", at("describe_climate", LATITUDE_DEG + 0.5))
    assert "within 55 km" in refused["errors"][0]["allowed"]


def test_readiness_counts_broken_stations_the_log_names_them_and_the_others_serve(
    folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    stations = client_with(folder)
    answer = readiness(stations)
    counts = {"station_count": len(USABLE), "broken_station_count": len(BROKEN)}
    assert answer == {"status": "ready", "faults": []} | counts, "the operator's files are nobody else's business"
    logged = {name for name, reason in BROKEN.items() if any(name in line and reason in line for line in caplog.messages)}
    assert logged == BROKEN.keys()
    assert climate(stations, LATITUDE_DEG)["climate"]["station"]["name"] == GREENSBORO


def test_past_a_broken_station_the_next_nearest_serves(stations: FlaskClient) -> None:
    assert climate(stations, 52.31, 4.75)["climate"]["station"]["name"] == AMSTERDAM


def test_a_station_that_vanishes_is_passed_over(tmp_path: Path) -> None:
    for name, latitude in (("farther.epw", 52.3), ("nearer.epw", 52.31)):
        (tmp_path / name).write_text(with_place(amsterdam_epw(), latitude, 4.77))
    stations = client_with(tmp_path)
    (tmp_path / "nearer.epw").unlink()
    assert climate(stations, 52.31, 4.77)["climate"]["station"]["name"] == "farther.epw"
    assert readiness(stations)["status"] == "ready"


@pytest.mark.parametrize("name", ["missing", "file"])
def test_a_folder_that_cannot_be_read(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("no folder")
    stations = client_with(tmp_path / name)
    answer = readiness(stations, 503)
    assert (answer["status"], answer["station_count"]) == ("not ready", 0)
    assert [fault.split(":")[0] for fault in answer["faults"]] == ["the station folder cannot be read"]
    assert str(tmp_path) not in str(answer), "the operator's paths are nobody else's business"
    assert stations.get("/health/live").status_code == 200
    assert post(stations, "describe_climate", full("describe_climate", "climate")).status_code == 200


def test_a_folder_that_vanishes_later(tmp_path: Path) -> None:
    folder = tmp_path / "stations"
    folder.mkdir()
    stations = client_with(folder)
    assert readiness(stations)["status"] == "ready"
    folder.rmdir()
    assert readiness(stations, 503)["faults"] == ["the station folder cannot be read any more: No such file or directory"]


def test_a_built_in_climate_that_cannot_be_read(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
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


def test_two_services_with_the_same_folder_give_the_same_bytes(folder: Path, stations: FlaskClient) -> None:
    body = at("compute_clipping", 52.31, 4.75)
    first, second = (post(each, "compute_clipping", body) for each in (stations, client_with(folder)))
    assert (first.status_code, first.data) == (200, second.data)
