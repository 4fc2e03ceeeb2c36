"""Weather that cannot be used is refused with the field and the reason."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.builders import TMY3
from tests.contract.bodies import DELETED, WEATHER, WEATHER_USERS, changed, full, pointers, post, refusal, strict_json
from tests.open_data import amsterdam_epw, pvlib_bundled

OF_KIND = "an object whose kind is " + " or ".join(f'"{kind}"' for kind in WEATHER)
ONE_OF = "one of " + ", ".join(f'"{kind}"' for kind in WEATHER)
HOURLY_FAULTS: dict[str, tuple[dict[str, Any], str, str]] = {
    "null": ({"/weather": None}, "/weather", OF_KIND),
    "text": ({"/weather": "sunny"}, "/weather", OF_KIND),
    "array": ({"/weather": []}, "/weather", OF_KIND),
    "no kind": ({"/weather/kind": DELETED}, "/weather/kind", ONE_OF),
    "another kind": ({"/weather/kind": "guess"}, "/weather/kind", ONE_OF),
    "kind that is no text": ({"/weather/kind": ["hourly"]}, "/weather/kind", ONE_OF),
    "8,759 hours": ({"/weather/ghi_w_m2": [0] * 8759}, "/weather/ghi_w_m2", "an array of 8,760 or 8,784 numbers"),
    "8,759 hours of wind": ({"/weather/wind_speed_m_s": [1] * 8759}, "/weather/wind_speed_m_s", "8,760 or 8,784"),
    "leap year in another": ({"/weather/temp_air_c": [1] * 8784}, "/weather/temp_air_c", "a year from 2023 has 8760"),
    "no global": ({"/weather/ghi_w_m2": DELETED}, "/weather/ghi_w_m2", "the field is required"),
    "no air": ({"/weather/temp_air_c": DELETED}, "/weather/temp_air_c", "the field is required"),
    "beam alone": ({"/weather/dhi_w_m2": DELETED}, "/weather/dni_w_m2 /weather/dhi_w_m2", "both or neither"),
    "unknown field": ({"/weather/snow_m": 1}, "/weather/snow_m", "only the fields kind, first_label"),
    "null among numbers": ({"/weather/ghi_w_m2/7": None}, "/weather/ghi_w_m2/7", "a finite number"),
    "text among numbers": ({"/weather/ghi_w_m2/8": "0"}, "/weather/ghi_w_m2/8", "a finite number"),
    "boolean among numbers": ({"/weather/temp_air_c/9": True}, "/weather/temp_air_c/9", "a finite number"),
    "huge number among numbers": ({"/weather/dni_w_m2/9": 10**400}, "/weather/dni_w_m2/9", "a finite number"),
    "array among numbers": ({"/weather/dni_w_m2/0": []}, "/weather/dni_w_m2/0", "a finite number"),
    "too bright": ({"/weather/ghi_w_m2/12": 2000}, "/weather/ghi_w_m2", "interval 12 is 2000 W/m2"),
    "negative": ({"/weather/dhi_w_m2/12": -5}, "/weather/dhi_w_m2", "interval 12 is -5 W/m2"),
    "another time zone": ({"/weather/utc_offset_h": 5}, "/weather/ghi_w_m2", "the time zone, the interval label"),
    "another place": ({"/site/longitude_deg": 80}, "/weather/ghi_w_m2", "the coordinates are not those"),
    "no beam and no diffuse": (
        {"/weather/dni_w_m2": [0] * 8760, "/weather/dhi_w_m2": [0] * 8760},
        "/weather/dni_w_m2 /weather/dhi_w_m2", "they must agree within 10%",
    ),
    "label": ({"/weather/interval_label": "beginning"}, "/weather/interval_label", 'one of "start", "middle", "end"'),
    "date alone": ({"/weather/first_label": "yesterday"}, "/weather/first_label", "a date and time without zone"),
    "date with zone": ({"/weather/first_label": "2023-01-01T00:00Z"}, "/weather/first_label", "without zone"),
    "no such day": ({"/weather/first_label": "2023-02-30T00:00"}, "/weather/first_label", "a date and time"),
    "another age": ({"/weather/first_label": "0001-01-01T00:00"}, "/weather/first_label", "in 1950 to 2100"),
    "number as a date": ({"/weather/first_label": 20230101}, "/weather/first_label", "a date and time"),
}  # fmt: skip
MONTHS = "/weather/ghi_kwh_m2_by_month"
AIR = "/weather/temp_air_c_by_month"
MONTHLY_FAULTS: dict[str, tuple[dict[str, Any], str, str]] = {
    "eleven months": ({MONTHS: [100] * 11}, MONTHS, "an array of 12 numbers"),
    "thirteen months": ({MONTHS: [100] * 13}, MONTHS, "an array of 12 numbers"),
    "eleven temperatures": ({AIR: [10] * 11}, AIR, "an array of 12 numbers"),
    "no totals": ({MONTHS: DELETED}, MONTHS, "an array of 12 numbers; the field is required"),
    "one number": ({MONTHS: 1500}, MONTHS, "an array of 12 numbers"),
    "more than the sun gives in January": ({f"{MONTHS}/0": 175}, MONTHS, "month 1 has 175 kWh/m2, where 0 to 15"),
    "more than the sun gives in June": ({f"{MONTHS}/5": 360}, MONTHS, "month 6 has 360 kWh/m2, where 0 to 34"),
    "in megajoules": ({f"{MONTHS}/6": 700}, f"{MONTHS}/6", "a finite number from 0 to 400"),
    "negative": ({f"{MONTHS}/2": -1}, f"{MONTHS}/2", "a finite number from 0 to 400"),
    "in quotes": ({f"{MONTHS}/2": "100"}, f"{MONTHS}/2", "a finite number from 0 to 400"),
    "in kelvin": ({f"{AIR}/11": 280}, f"{AIR}/11", "a finite number from -70 to 50"),
    "unknown field": ({"/weather/wind_speed_m_s": 3}, "/weather/wind_speed_m_s", "only the fields kind, ghi_kwh_m2_by_month"),
}


TEXT, FORMAT = "/weather/text", "/weather/file_format"


def cut(text: str, lines: int) -> str:
    """The first lines of a file."""
    return "\n".join(text.splitlines()[:lines])


FILE_FAULTS: dict[str, tuple[dict[str, Any], str, str]] = {
    "EPW cut short": ({FORMAT: "epw", TEXT: cut(amsterdam_epw(), 4000)}, TEXT, "3992 hours; a typical year has 8760"),
    "TMY3 cut short": ({FORMAT: "tmy3", TEXT: cut(pvlib_bundled(TMY3), 4000)}, TEXT, "3998 hours"),
    "TMY3 sent as EPW": ({FORMAT: "epw", TEXT: pvlib_bundled(TMY3)}, TEXT, "not a readable EPW file"),
    "EPW sent as TMY3": ({FORMAT: "tmy3", TEXT: amsterdam_epw()}, TEXT, "not a readable TMY3 file"),
    "a text": ({FORMAT: "epw", TEXT: "sunny"}, TEXT, "not a readable EPW file"),
    "one very long line": ({FORMAT: "epw", TEXT: "x" * 200_000}, TEXT, "not a readable EPW file"),
    "lone surrogate": ({FORMAT: "tmy3", TEXT: "\ud800,\udfff\n" * 9}, TEXT, "not a readable TMY3 file"),
    "missing columns": (
        {FORMAT: "tmy3", TEXT: pvlib_bundled(TMY3).replace("Wspd (m/s)", "Wspd")}, TEXT, "no column for wind_speed_m_s",
    ),
    "missing value": ({FORMAT: "epw", TEXT: amsterdam_epw().replace(",5.1,1.8,79,", ",99.9,1.8,79,")}, TEXT, "first in hour 1"),
    "empty": ({FORMAT: "epw", TEXT: ""}, TEXT, "the file's text"),
    "too long": ({FORMAT: "epw", TEXT: "x" * 4_000_001}, TEXT, "4,000,000 characters"),
    "number": ({FORMAT: "epw", TEXT: 7}, TEXT, "the file's text"),
    "another format": ({FORMAT: "csv", TEXT: "x"}, FORMAT, 'one of "epw", "tmy3"'),
    "no format": ({FORMAT: None, TEXT: "x"}, FORMAT, 'one of "epw", "tmy3"'),
}  # fmt: skip


FAULTS = [
    pytest.param(kind, *fault, id=f"{kind}: {name}")
    for kind, faults in (("hourly", HOURLY_FAULTS), ("monthly", MONTHLY_FAULTS), ("file", FILE_FAULTS))
    for name, fault in faults.items()
]


@pytest.mark.parametrize(("kind", "changes", "pointer", "allowed"), FAULTS)
def test_wrong_weather_is_named(client: FlaskClient, kind: str, changes: dict[str, Any], pointer: str, allowed: str) -> None:
    body = changed(full("compute_clipping", kind), changes)
    refused = refusal(client, "compute_clipping", body)
    assert pointers(refused) == set(pointer.split())
    assert all(allowed in error["allowed"] for error in refused["errors"])


@pytest.mark.parametrize("operation_id", WEATHER_USERS)
@pytest.mark.parametrize(
    ("kind", "changes"),
    [("climate", {"/weather/text": "x"}), ("station", {"/weather/text": "x"}), ("hourly", {"/weather/ghi_w_m2/7": None})],
)
def test_every_operation_checks_its_weather(client: FlaskClient, operation_id: str, kind: str, changes: dict[str, Any]) -> None:
    refused = refusal(client, operation_id, changed(full(operation_id, kind), changes))
    assert pointers(refused) == changes.keys()


def test_an_epw_file_is_taken(client: FlaskClient) -> None:
    body = changed(full("compute_clipping", "file"), {FORMAT: "epw", TEXT: amsterdam_epw()})
    assert post(client, "compute_clipping", body).status_code == 200


def test_weather_without_faces_gives_the_extremes(client: FlaskClient) -> None:
    body = changed(full("size_pairings"), {"/faces": DELETED, "/site/temp_lowest_c": DELETED, "/weather/temp_air_c/9": -44})
    temperatures = strict_json(post(client, "size_pairings", body))["design_temperatures"]
    assert temperatures["lowest_c"] == -44.0
    assert "the weather's own extreme" in temperatures["lowest_source"]


def test_only_the_first_wrong_hours_are_named(client: FlaskClient) -> None:
    body = changed(full("compute_clipping"), {"/weather/ghi_w_m2": ["0"] * 8760})
    refused = refusal(client, "compute_clipping", body)
    assert pointers(refused) == {f"/weather/ghi_w_m2/{hour}" for hour in range(10)}
