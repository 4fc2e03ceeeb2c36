"""POST /v1/site-climate: parts that are left out, and the trade's figure for southern England."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import DELETED, caution_codes, changed, example, post, strict_json
from tests.contract.test_contract import require_as_described

ID = "describe_climate"


@pytest.mark.parametrize("left_out", [["microinverters"], ["module", "microinverters"], ["faces", "module", "microinverters"]])
def test_what_is_left_out_is_left_out_of_the_answer(client: FlaskClient, left_out: list[str]) -> None:
    whole = strict_json(post(client, ID, example(ID)))
    body = changed(example(ID), {f"/{name}": DELETED for name in left_out})
    answer = require_as_described(post(client, ID, body), ID)
    assert answer["horizontal"] == whole["horizontal"]
    assert len(answer["faces"]) == (0 if "faces" in left_out else 1)
    for face, complete in zip(answer["faces"], whole["faces"], strict=False):
        assert face["poa_kwh_m2"] == complete["poa_kwh_m2"]
        for season, other in zip(face["seasons"], complete["seasons"], strict=True):
            assert season["ratios"] == []
            assert season["module_power_w"] == (None if "module" in left_out else other["module_power_w"])


@pytest.mark.parametrize("location", [(51.0, -0.5), (50.9, -1.4), (51.5, 0.1)], ids=["Sussex", "Hampshire", "London"])
def test_the_irradiance_of_southern_england(client: FlaskClient, location: tuple[float, float]) -> None:
    """About 600 W/m2 in summer and 350 to 400 in winter on a south roof of 35 degrees: the trade's figure, no source."""
    site = {"latitude_deg": location[0], "longitude_deg": location[1]}
    face = example(ID)["faces"][0] | {"tilt_deg": 35, "azimuth_deg": 180}
    (found,) = strict_json(post(client, ID, example(ID) | {"site": site, "faces": [face]}))["faces"]
    irradiance = {season["season"]: season["irradiance_w_m2"] for season in found["seasons"]}
    assert 520.0 <= irradiance["june_to_august"] <= 650.0
    assert 330.0 <= irradiance["december_to_february"] <= 420.0


def test_the_callers_temperatures_and_height_win(client: FlaskClient) -> None:
    sent = {"/site/elevation_m": 30, "/site/temp_lowest_c": -12.5, "/site/temp_highest_c": 34}
    answer = strict_json(post(client, ID, changed(example(ID), sent)))
    assert answer["design_temperatures"] == {
        "lowest_c": -12.5, "lowest_source": "the request", "highest_c": 34.0, "highest_source": "the request",
        "lowest_estimated": False, "mean_yearly_lowest_c": None,
    }  # fmt: skip
    assert answer["climate"]["elevation_m"] == 30.0
    assert "site.elevation_m" not in {assumption["name"] for assumption in answer["assumptions"]}


@pytest.mark.parametrize("pointer", ["/faces/0/horizon", "/faces/0/shade"])
def test_it_says_that_horizon_and_shade_do_not_count(client: FlaskClient, pointer: str) -> None:
    survey = {"beam_survey": {"by_month_hour": [[0.5] * 24] * 12}}
    value = survey if pointer.endswith("shade") else [{"azimuth_deg": 180, "elevation_deg": 30}]
    free, given = (strict_json(post(client, ID, changed(example(ID), each))) for each in ({}, {pointer: value}))
    assert given["faces"] == free["faces"]
    assert set(caution_codes(given)) - set(caution_codes(free)) == {"without_shade"}
