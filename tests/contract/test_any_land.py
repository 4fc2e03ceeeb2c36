"""Any land is answered from the built-in climate, within what is physically possible."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from flask.testing import FlaskClient
from hypothesis import given, settings, strategies as st

from tests.builders import numbers
from tests.contract.bodies import Body, example, pointers, post, refusal, strict_json
from tests.contract.test_contract import require_as_described
from wattpair_service.climate.atlas.grid import LEVELS, opened

NORTHERN_END_DEG = 75.0
"""North of it the map of daily irradiation has gaps: there a request may be refused."""
KERGUELEN_DEG = (-49.3, 69.4)
"""Too far from other land for the map of daily irradiation."""
EVERY_NTH_CELL = 97
HALF = settings(max_examples=settings().max_examples // 2)


def land() -> list[tuple[float, float]]:
    """Centres of every 97th land cell of the atlas."""
    cells = np.asarray(opened("levels", LEVELS).cells)[::EVERY_NTH_CELL]
    latitude = LEVELS.south_deg + LEVELS.step_deg * (cells // LEVELS.columns)
    longitude = LEVELS.west_deg + LEVELS.step_deg * (cells % LEVELS.columns)
    inside = [(lat, lon) for lat, lon in zip(latitude.tolist(), longitude.tolist(), strict=True) if lat < NORTHERN_END_DEG]
    return [each for each in inside if math.dist(each, KERGUELEN_DEG) > 5.0]


LAND = st.sampled_from(land())
SEA = {"mid-Atlantic": (30.0, -40.0), "North Sea": (56.0, 3.0), "South Pole": (-90.0, 0.0), "North Pole": (90.0, 0.0)}


def at(operation_id: str, latitude_deg: float, longitude_deg: float, **site: float) -> Body:
    """An example at another location."""
    return example(operation_id) | {"site": {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg} | site}


def require_possible(answer: Any, latitude_deg: float) -> None:
    """What holds for any year on land."""
    horizontal, design = answer["horizontal"], answer["design_temperatures"]
    months = horizontal["ghi_kwh_m2_by_month"]
    assert 500.0 < horizontal["ghi_kwh_m2"]["value"] < 2700.0
    assert 0.0 < horizontal["ghi_kwh_m2"]["low"] < horizontal["ghi_kwh_m2"]["value"] < horizontal["ghi_kwh_m2"]["high"]
    # The most is a month without clouds in dry mountain air under a high sun.
    assert all(0.0 <= month < 310.0 for month in months)
    assert sum(months) == pytest.approx(horizontal["ghi_kwh_m2"]["value"], rel=1e-9)
    assert 0.1 < horizontal["diffuse_share"] < 0.9
    assert -75.0 < design["lowest_c"] < min(horizontal["temp_air_c_by_month"])
    assert max(horizontal["temp_air_c_by_month"]) < design["highest_c"] < 60.0
    assert all(1.5 < turbidity < 10.0 for turbidity in answer["linke_turbidity_by_month"])
    (face,) = answer["faces"]
    # Towards the equator a pitched roof gets more than the horizontal, but for the tropics and the darkest skies.
    gain = face["poa_kwh_m2"]["value"] / horizontal["ghi_kwh_m2"]["value"]
    assert (1.0 if abs(latitude_deg) > 35.0 else 0.85) < gain < 1.8
    assert sum(face["energy_share_by_level"]) == pytest.approx(1.0, rel=1e-9)
    assert min(face["energy_share_by_level"]) >= 0.0
    year, *seasons = face["seasons"]
    assert 250.0 < year["irradiance_w_m2"] < 900.0
    assert sum(season["poa_kwh_m2"] for season in seasons) == pytest.approx(year["poa_kwh_m2"], rel=1e-9)
    for season in seasons:
        if season["module_power_w"] is not None:
            assert 0.0 < season["module_power_w"] < 425.0
            assert season["ratios"][0]["dc_ac_ratio"] == pytest.approx(season["module_power_w"] / 300.0, rel=1e-9)


@HALF
@given(LAND, numbers(-0.12, 0.12), numbers(-0.12, 0.12))
def test_any_land_is_answered(client: FlaskClient, cell: tuple[float, float], north: float, east: float) -> None:
    latitude_deg, longitude_deg = cell[0] + north, max(min(cell[1] + east, 180.0), -180.0)
    body = at("describe_climate", latitude_deg, longitude_deg)
    body["faces"][0]["azimuth_deg"] = 180 if latitude_deg >= 0.0 else 0
    require_possible(require_as_described(post(client, "describe_climate", body), "describe_climate"), latitude_deg)


@HALF
@given(LAND, numbers(-450.0, 6000.0))
def test_any_elevation_is_answered(client: FlaskClient, cell: tuple[float, float], elevation_m: float) -> None:
    answer = strict_json(post(client, "describe_climate", at("describe_climate", *cell, elevation_m=elevation_m)))
    assert answer["climate"]["elevation_m"] == elevation_m
    assert 500.0 < answer["horizontal"]["ghi_kwh_m2"]["value"] < 2700.0
    assert answer["design_temperatures"]["lowest_c"] < answer["design_temperatures"]["highest_c"]


@settings(max_examples=settings().max_examples // 4)
@given(LAND, st.sampled_from(["size_pairings", "compute_clipping"]))
def test_any_land_can_be_sized_and_clipped(client: FlaskClient, cell: tuple[float, float], operation_id: str) -> None:
    assert post(client, operation_id, at(operation_id, *cell)).status_code == 200


@pytest.mark.parametrize("location", SEA.values(), ids=SEA)
@pytest.mark.parametrize("operation_id", ["describe_climate", "compute_clipping"])
def test_at_sea_and_poles_the_refusal_says_what_to_send(
    client: FlaskClient, operation_id: str, location: tuple[float, float]
) -> None:
    refused = refusal(client, operation_id, at(operation_id, *location))
    assert pointers(refused) == {"/site/latitude_deg", "/site/longitude_deg"}
    for error in refused["errors"]:
        assert all(f'kind "{kind}"' in error["allowed"] for kind in ("monthly", "file", "hourly")), error


def test_at_sea_the_electrical_checks_need_two_temperatures_and_no_irradiance(client: FlaskClient) -> None:
    body = at("size_pairings", 30.0, -40.0)
    refused = refusal(client, "size_pairings", body)
    assert pointers(refused) == {"/site/temp_lowest_c", "/site/temp_highest_c"}
    body["site"] |= {"temp_lowest_c": 5, "temp_highest_c": 35}
    assert post(client, "size_pairings", body).status_code == 200
