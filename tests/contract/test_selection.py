"""POST /v1/selection: unusual requests, missing prices, and what agrees with POST /v1/clipping."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import DELETED, caution_codes, changed, example, leaves, post, strict_json

OPERATION = "select_microinverters"


def answer(client: FlaskClient, changes: dict[str, Any]) -> Any:
    response = post(client, OPERATION, changed(example(OPERATION), changes))
    assert response.status_code == 200, response.get_data(as_text=True)
    return strict_json(response)


def test_no_candidate_that_passes_is_an_answer(client: FlaskClient) -> None:
    limits = {f"/candidates/{i}/microinverter/dc_short_circuit_current_max_a": 13 for i in (0, 1)}
    body = answer(client, limits)
    assert body["recommendation"]["standing"] == "none_passes"
    assert [each["check"] for each in body["what_would_have_to_change"]] == ["short_circuit_current"] * 2
    assert all(each["rank"] is None and each["energy"] is None for each in body["candidates"])


@pytest.mark.parametrize("missing", ["/candidates/0/price", "/tariff"])
def test_without_a_price_or_tariff_money_is_left_out(client: FlaskClient, missing: str) -> None:
    body = answer(client, {missing: DELETED})
    assert body["ranked_by"] == "energy"
    assert all(each["money"] is None for each in body["candidates"])
    assert "no_money" in caution_codes(body)


def test_a_load_and_an_export_limit_are_taken(client: FlaskClient) -> None:
    changes = {"/load_w": [350] * 8760, "/share_used_at_home": DELETED, "/export_limit_w": 1500}
    body = answer(client, changes)
    first = body["candidates"][0]["energy"]
    together = first["used_at_home_kwh"] + first["exported_kwh"] + first["cut_kwh"]
    assert together == pytest.approx(first["at_meter_kwh"], rel=1e-6)
    assert body["export_limit"]["candidates"][0]["cut_first_year_kwh"] > 0.0


def band(from_hour: int, to_hour: int, price: float, **others: Any) -> dict[str, Any]:
    return {"from_hour": from_hour, "to_hour": to_hour, "price_per_kwh": price, **others}


NIGHT_AND_DAY = [
    band(22, 6, 0.18), band(6, 22, 0.32, days="weekdays", months=[1, 2, 3, 10, 11, 12]), band(6, 22, 0.26, days="weekend"),
    band(6, 22, 0.29, days="weekdays", months=[4, 5, 6, 7, 8, 9]),
]  # fmt: skip


def test_prices_by_hour_are_taken(client: FlaskClient) -> None:
    changes = {
        "/tariff": {"import_price_bands": NIGHT_AND_DAY, "export_price_bands": [band(11, 15, -0.01), band(15, 11, 0.09)]},
        "/load_w": [350] * 8760, "/share_used_at_home": DELETED, "/first_weekday": "sunday", "/home_utc_offset_h": 1,
    }  # fmt: skip
    by_hour, flat = answer(client, changes), answer(client, changes | {"/tariff": example(OPERATION)["tariff"]})
    assert by_hour["ranked_by"] == "net present value"
    for name in ("used_at_home_kwh", "exported_kwh", "lifetime_kwh"):
        one, other = (body["candidates"][0]["energy"][name] for body in (by_hour, flat))
        assert one == pytest.approx(other, rel=1e-9), name
    worth = [body["candidates"][0]["money"]["net_present_value"] for body in (by_hour, flat)]
    assert worth[0] != pytest.approx(worth[1], rel=0.01)
    names = [each["name"] for each in by_hour["assumptions"]]
    assert not {"first_weekday", "home_utc_offset_h"} & set(names)


def test_bands_of_one_price_are_that_price(client: FlaskClient) -> None:
    same = {"import_price_bands": [band(0, 24, 0.28)], "export_price_bands": [band(7, 23, 0.07), band(23, 7, 0.07)]}
    assert answer(client, {"/tariff": same})["candidates"] == answer(client, {})["candidates"]


def test_shares_and_months_of_the_first_year(client: FlaskClient) -> None:
    load_w = [200 + 40 * (hour % 24) + 3 * (hour // 24) for hour in range(8760)]
    body = answer(client, {"/load_w": load_w, "/share_used_at_home": DELETED})
    for candidate in body["candidates"]:
        energy = candidate["energy"]
        home, imported = energy["used_at_home_kwh"], energy["imported_kwh"]
        assert home + imported == pytest.approx(sum(load_w) / 1000.0)
        assert energy["self_sufficiency_share"] == pytest.approx(home / (home + imported))
        assert energy["used_at_home_share"] == pytest.approx(home / energy["at_meter_kwh"], rel=1e-5)
        for name in ("used_at_home", "exported", "imported"):
            assert sum(energy[f"{name}_kwh_by_month"]) == pytest.approx(energy[f"{name}_kwh"], rel=1e-6)
    without = answer(client, {})["candidates"][0]["energy"]
    assert without["imported_kwh"] is without["imported_kwh_by_month"] is without["self_sufficiency_share"] is None


def test_money_is_rounded_to_hundredths(client: FlaskClient) -> None:
    body = answer(client, {})
    values = [candidate["money"]["net_present_value"] for candidate in body["candidates"]]
    assert values == [round(value, 2) for value in values]


def test_only_pairs_of_the_recommended_where_that_is_asked(client: FlaskClient) -> None:
    third = example(OPERATION)["candidates"][1]
    third = third | {"price": 400, "microinverter": third["microinverter"] | {"name": "Unit 380", "ac_power_w": 380}}
    candidates = [*example(OPERATION)["candidates"], third]
    every = answer(client, {"/candidates": candidates, "/break_even_pairs": "every"})
    some = answer(client, {"/candidates": candidates})
    assert len(every["break_evens"]) == 2
    # The sums are made of all candidates together: the last digits may differ.
    first, alone = (dict(leaves(body["break_evens"][:1])) for body in (every, some))
    assert list(first) == list(alone)
    for name, value in first.items():
        near = isinstance(value, float)
        assert alone[name] == (pytest.approx(value, rel=1e-9) if near else value), name


DARK = [face | {"shading_share": 0.99999999} for face in example(OPERATION)["faces"]]
ODD: dict[str, dict[str, Any]] = {
    "dark faces": {"/faces": DARK},
    "dark faces behind a limit": {"/faces": DARK, "/export_limit_w": 10},
    "one year": {"/horizon_years": 1},
    "one year with a load, and nothing let out": {
        "/horizon_years": 1, "/load_w": [300] * 288, "/share_used_at_home": DELETED, "/export_limit_w": 0,
    },
    "modules that do not age, with a leap year's load": {
        "/degradation_percent_per_year": 0, "/load_w": [300] * 8784, "/share_used_at_home": DELETED,
    },
    "a negative rate over many years": {"/horizon_years": 40, "/discount_rate_percent": -20},
    "units for nothing": {"/candidates/0/price": 0, "/candidates/1/price": 0},
    "energy for nothing": {"/tariff/import_price_per_kwh": 0, "/tariff/export_price_per_kwh": 0},
    "export that costs": {"/tariff/export_price_per_kwh": -0.05},
    "one candidate": {"/candidates": example(OPERATION)["candidates"][:1]},
}  # fmt: skip


@pytest.mark.parametrize("odd", ODD)
def test_what_is_odd_but_possible_is_answered(client: FlaskClient, odd: str) -> None:
    body = answer(client, ODD[odd])
    assert body["recommendation"]["standing"] in ("decided", "close", "depends")
    assert body["recommendation"]["sentence"]


def test_a_candidates_first_year_is_that_of_the_clipping_answer(client: FlaskClient) -> None:
    """The same roof asked of both operations gives the same energy with the same range."""
    selected = example(OPERATION)
    clipped = {"site": selected["site"], "faces": selected["faces"], "module": selected["modules"][0]["module"]}
    clipped["microinverters"] = [candidate["microinverter"] for candidate in selected["candidates"]]
    totals = {each["microinverter"]: each for each in strict_json(post(client, "compute_clipping", clipped))["totals"]}
    candidates = answer(client, {})["candidates"]
    compared = [each for each in candidates if each["energy"] is not None]
    assert compared
    for candidate in compared:
        total = totals[candidate["microinverter"]]
        assert candidate["energy"]["first_year"] == pytest.approx(total["balance"], rel=1e-9)
        given, found = total["delivered_range_kwh"], candidate["energy"]["delivered_range_kwh"]
        assert found.pop("covers") == given.pop("covers")
        assert found == pytest.approx(given, rel=1e-9)


@pytest.mark.parametrize(
    ("region", "offset_h"), [("germany", 1.0), ("netherlands", 1.0), ("great_britain", 0.0), ("ireland", 0.0)]
)
def test_load_and_tariff_are_in_the_countrys_standard_time(client: FlaskClient, region: str, offset_h: float) -> None:
    load_w = [150] * 16 + [1500] * 4 + [300] * 4
    own = changed(example(OPERATION), {"/share_used_at_home": DELETED, "/load_w": load_w, "/region": region})
    answer, told = (strict_json(post(client, OPERATION, body)) for body in (own, own | {"home_utc_offset_h": offset_h}))
    assert answer["candidates"] == told["candidates"]
    (assumed,) = (each for each in answer["assumptions"] if each["name"] == "home_utc_offset_h")
    assert assumed["value"] == offset_h
    assert "national law" in assumed["source"]
    assert "home_utc_offset_h" not in [each["name"] for each in told["assumptions"]]


def test_next_to_no_export_is_none(client: FlaskClient) -> None:
    """A limit near the smallest number that there is, with a load: no figure overflows."""
    load = {"/share_used_at_home": DELETED, "/load_w": [300] * 24}
    none, next_to_none = (answer(client, load | {"/export_limit_w": limit_w})["candidates"] for limit_w in (0, 2.3e-308))
    assert [each["energy"]["used_at_home_share"] for each in next_to_none] == [
        pytest.approx(each["energy"]["used_at_home_share"], rel=1e-12) for each in none
    ]
    assert [each["money"]["net_present_value"] for each in next_to_none] == [
        each["money"]["net_present_value"] for each in none
    ]
