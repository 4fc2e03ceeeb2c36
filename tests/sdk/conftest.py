"""The demo equipment, a year of weather, and clients of the real service."""

from __future__ import annotations

import logging
import math
import threading
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from werkzeug.serving import make_server

from tests.sdk.contract import ROOT
from wattpair import Client, Face, HourlyWeather, Microinverter, Module
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

PLACE: dict[str, float] = {"latitude_deg": 52.1, "longitude_deg": 5.2}
SITE: dict[str, float] = {**PLACE, "temp_lowest_c": -16, "temp_highest_c": 36}

DEMO = tomllib.loads((ROOT / "service" / "wattpair_service" / "equipment" / "demo.toml").read_text(encoding="utf-8"))
MODULE = Module(**DEMO["module"])
UNITS: list[Microinverter] = [Microinverter(**unit) for unit in DEMO["microinverters"]]
FACES = [Face(**face) for face in DEMO["faces"]]


@contextmanager
def serving(settings: Settings) -> Iterator[str]:
    """The real service with settings of its own, in a thread; gives its address."""
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    server = make_server("127.0.0.1", 0, create_app(settings), threaded=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.port}"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(params=["waiting", "asynchronous"])
def kind(request: pytest.FixtureRequest) -> str:
    """Each of both clients in turn."""
    return str(request.param)


@pytest.fixture
def client(service_url: str) -> Iterator[Client]:
    with Client(service_url, retries=0) as opened:
        yield opened


@pytest.fixture(scope="session")
def weather() -> HourlyWeather:
    """A year without clouds at SITE: Haurwitz's clear sky, with the sun's place good to a degree."""
    return HourlyWeather(
        first_label="2023-01-01T00:00",
        utc_offset_h=1,
        interval_label="start",
        ghi_w_m2=[_clear_sky_w_m2(hour + 0.5) for hour in range(8760)],
        temp_air_c=[10.0 - 8.0 * math.cos(2 * math.pi * hour / 8760) for hour in range(8760)],
    )


def _clear_sky_w_m2(hour_of_year: float) -> float:
    latitude = math.radians(SITE["latitude_deg"])
    declination = math.radians(-23.44) * math.cos(2 * math.pi * (hour_of_year / 24 + 10) / 365)
    solar_hour = hour_of_year % 24 - 1 + SITE["longitude_deg"] / 15
    angle = math.radians(15 * (solar_hour - 12))
    cosine = math.sin(latitude) * math.sin(declination) + math.cos(latitude) * math.cos(declination) * math.cos(angle)
    return 1098.0 * cosine * math.exp(-0.057 / cosine) if cosine > 0.01 else 0.0
