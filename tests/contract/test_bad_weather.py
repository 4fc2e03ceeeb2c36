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
HOURLY_FAULTS: dict[str, tuple[Any, ...]] = {
    "null": ({"/weather": None}, OF_KIND),
    "text": ({"/weather": "sunny"}, OF_KIND),
    "array": ({"/weather": []}, OF_KIND),
    "no kind": ({"/weather/kind": DELETED}, ONE_OF),
    "another kind": ({"/weather/kind": "guess"}, ONE_OF),
    "kind that is no text": ({"/weather/kind": ["hourly"]}, ONE_OF),
    "8,759 hours": ({"/weather/ghi_w_m2": [0] * 8759}, "an array of 8,760 or 8,784 numbers"),
    "8,759 hours of wind": ({"/weather/wind_speed_m_s": [1] * 8759}, "8,760 or 8,784"),
    "leap year in another": ({"/weather/temp_air_c": [1] * 8784}, "a year from 2023 has 8760"),
    "no global": ({"/weather/ghi_w_m2": DELETED}, "the field is required"),
    "no air": ({"/weather/temp_air_c": DELETED}, "the field is required"),
    "beam alone": ({"/weather/dhi_w_m2": DELETED}, "both or neither", "/weather/dni_w_m2 /weather/dhi_w_m2"),
    "unknown field": ({"/weather/snow_m": 1}, "only the fields kind, first_label"),
    "null among numbers": ({"/weather/ghi_w_m2/7": None}, "a finite number"),
    "text among numbers": ({"/weather/ghi_w_m2/8": "0"}, "a finite number"),
    "boolean among numbers": ({"/weather/temp_air_c/9": True}, "a finite number"),
    "huge number among numbers": ({"/weather/dni_w_m2/9": 10**400}, "a finite number"),
    "array among numbers": ({"/weather/dni_w_m2/0": []}, "a finite number"),
    "too bright": ({"/weather/ghi_w_m2/12": 2000}, "interval 12 is 2000 W/m2", "/weather/ghi_w_m2"),
    "negative": ({"/weather/dhi_w_m2/12": -5}, "interval 12 is -5 W/m2", "/weather/dhi_w_m2"),
    "another time zone": ({"/weather/utc_offset_h": 5}, "the time zone, the interval label", "/weather/ghi_w_m2"),
    "another place": ({"/site/longitude_deg": 80}, "the coordinates are not those", "/weather/ghi_w_m2"),
    "no beam and no diffuse": (
        {"/weather/dni_w_m2": [0] * 8760, "/weather/dhi_w_m2": [0] * 8760},
        "they must agree within 10%", "/weather/dni_w_m2 /weather/dhi_w_m2",
    ),
    "label": ({"/weather/interval_label": "beginning"}, 'one of "start", "middle", "end"'),
    "date alone": ({"/weather/first_label": "yesterday"}, "a date and time without zone"),
    "date with zone": ({"/weather/first_label": "2023-01-01T00:00Z"}, "without zone"),
    "no such day": ({"/weather/first_label": "2023-02-30T00:00"}, "a date and time"),
    "another age": ({"/weather/first_label": "0001-01-01T00:00"}, "in 1950 to 2100"),
    "number as a date": ({"/weather/first_label": 20230101}, "a date and time"),
}  # fmt: skip
MONTHS = "/weather/ghi_kwh_m2_by_month"
AIR = "/weather/temp_air_c_by_month"
MONTHLY_FAULTS: dict[str, tuple[Any, ...]] = {
    "eleven months": ({MONTHS: [100] * 11}, "an array of 12 numbers"),
    "thirteen months": ({MONTHS: [100] * 13}, "an array of 12 numbers"),
    "eleven temperatures": ({AIR: [10] * 11}, "an array of 12 numbers"),
    "no totals": ({MONTHS: DELETED}, "an array of 12 numbers; the field is required"),
    "one number": ({MONTHS: 1500}, "an array of 12 numbers"),
    "more than the sun gives in January": ({f"{MONTHS}/0": 175}, "month 1 has 175 kWh/m2, where 0 to 15", MONTHS),
    "more than the sun gives in June": ({f"{MONTHS}/5": 360}, "month 6 has 360 kWh/m2, where 0 to 34", MONTHS),
    "in megajoules": ({f"{MONTHS}/6": 700}, "a finite number from 0 to 400"),
    "negative": ({f"{MONTHS}/2": -1}, "a finite number from 0 to 400"),
    "in quotes": ({f"{MONTHS}/2": "100"}, "a finite number from 0 to 400"),
    "in kelvin": ({f"{AIR}/11": 280}, "a finite number from -70 to 50"),
    "unknown field": ({"/weather/wind_speed_m_s": 3}, "only the fields kind, ghi_kwh_m2_by_month"),
}


TEXT, FORMAT = "/weather/text", "/weather/file_format"


def cut(text: str, lines: int) -> str:
    """The first lines of a file."""
    return "\n".join(text.splitlines()[:lines])


FILE_FAULTS: dict[str, tuple[Any, ...]] = {
    "EPW cut short": ({TEXT: cut(amsterdam_epw(), 4000), FORMAT: "epw"}, "3992 hours; a typical year has 8760"),
    "TMY3 cut short": ({TEXT: cut(pvlib_bundled(TMY3), 4000), FORMAT: "tmy3"}, "3998 hours"),
    "TMY3 sent as EPW": ({TEXT: pvlib_bundled(TMY3), FORMAT: "epw"}, "not a readable EPW file"),
    "EPW sent as TMY3": ({TEXT: amsterdam_epw(), FORMAT: "tmy3"}, "not a readable TMY3 file"),
    "a text": ({TEXT: "sunny", FORMAT: "epw"}, "not a readable EPW file"),
    "one very long line": ({TEXT: "x" * 200_000, FORMAT: "epw"}, "not a readable EPW file"),
    "lone surrogate": ({TEXT: "\ud800,\udfff\n" * 9, FORMAT: "tmy3"}, "not a readable TMY3 file"),
    "missing columns": (
        {TEXT: pvlib_bundled(TMY3).replace("Wspd (m/s)", "Wspd"), FORMAT: "tmy3"}, "no column for wind_speed_m_s",
    ),
    "missing value": ({TEXT: amsterdam_epw().replace(",5.1,1.8,79,", ",99.9,1.8,79,"), FORMAT: "epw"}, "first in hour 1"),
    "empty": ({TEXT: "", FORMAT: "epw"}, "the file's text"),
    "too long": ({TEXT: "x" * 4_000_001, FORMAT: "epw"}, "4,000,000 characters"),
    "number": ({TEXT: 7, FORMAT: "epw"}, "the file's text"),
    "another format": ({FORMAT: "csv", TEXT: "x"}, 'one of "epw", "tmy3"'),
    "no format": ({FORMAT: None, TEXT: "x"}, 'one of "epw", "tmy3"'),
}  # fmt: skip


FAULTS = [
    pytest.param(kind, changes, allowed, *(named or [next(iter(changes))]), id=f"{kind}: {name}")
    for kind, faults in (("hourly", HOURLY_FAULTS), ("monthly", MONTHLY_FAULTS), ("file", FILE_FAULTS))
    for name, (changes, allowed, *named) in faults.items()
]


@pytest.mark.parametrize(("kind", "changes", "allowed", "named"), FAULTS)
def test_wrong_weather_is_named(client: FlaskClient, kind: str, changes: dict[str, Any], allowed: str, named: str) -> None:
    refused = refusal(client, "compute_clipping", changed(full("compute_clipping", kind), changes))
    assert pointers(refused) == set(named.split())
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
