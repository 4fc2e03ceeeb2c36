"""Layout, circuits and bill of materials: rules of the caller's own region, prices and CSV."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import (
    DELETED,
    PATHS,
    Body,
    caution_codes,
    changed,
    example,
    pointers,
    post,
    problem,
    refusal,
    strict_json,
)
from wattpair_service.rules import region_data

REGION = region_data("germany")
BOTH = pytest.mark.parametrize("operation_id", ["plan_circuits", "list_materials"])

SECTIONS = ["branch_circuit", "supply", "standard_devices", "conductors", "voltage_rise", "phase_balance", "residual_current"]
SECTIONS += ["commissioning", "routes/0"]
REQUIRED = [f"/{section}/{field}" for section in SECTIONS for field in ("clause", "obtained")]
REQUIRED += ["/place", "/edition", "/routes", "/supply", "/routes/0/filings/0/when"]
BOTH_TYPES = [f"/residual_current/type_{field}" for field in ("without_declaration", "if_declared")]


@BOTH
@pytest.mark.parametrize(
    ("pointer", "allowed"),
    [(each, "required") for each in REQUIRED] + [(each, "both types or neither") for each in BOTH_TYPES],
)
def test_rules_of_a_region_that_lack_something_are_refused(
    client: FlaskClient, operation_id: str, pointer: str, allowed: str
) -> None:
    body = example(operation_id) | {"region_rules": changed(REGION, {pointer: DELETED})}
    (error,) = refusal(client, operation_id, body)["errors"]
    assert error["pointer"] == f"/region_rules{pointer}"
    assert allowed in error["allowed"]


@BOTH
def test_rules_of_a_region_whose_routes_do_not_end_are_refused(client: FlaskClient, operation_id: str) -> None:
    body = example(operation_id) | {"region_rules": REGION | {"routes": REGION["routes"][:1]}}
    assert pointers(refusal(client, operation_id, body)) == {"/region_rules/routes"}


def test_a_large_device_gets_a_trunk_that_it_may_protect(client: FlaskClient) -> None:
    body: Body = {"region": "united_states", "device_rating_a": 40, "home_run_length_m": 5, "unit_ac_current_a": 1.5}
    body |= {"faces": MINIMAL["faces"]}
    answer = strict_json(post(client, "plan_circuits", body))
    assert {rise["home_run_size"] for rise in answer["rises"]} == {"6 AWG"}


def test_rules_of_the_caller_apply(client: FlaskClient) -> None:
    body = example("plan_circuits")
    own = changed(REGION, {"/place": "an island", "/voltage_rise/limit_share": 0.03, "/branch_circuit/device_rating_a": 16})
    answer = strict_json(post(client, "plan_circuits", body | {"region_rules": own}))
    assert answer["connection"]["place"] == "an island"
    assert answer["rise_limit_share"] == 0.03
    assert {circuit["device_rating_a"] for circuit in answer["circuits"]} == {16.0}
    same = strict_json(post(client, "plan_circuits", body | {"region_rules": region_data("great_britain")}))
    assert same == strict_json(post(client, "plan_circuits", body))


def test_values_of_the_caller_apply_and_are_named_as_the_source(client: FlaskClient) -> None:
    changes = {"device_rating_a": 16, "continuous_current_factor": 1, "voltage_rise_limit_share": 0.01, "voltage_v": 240}
    answer = strict_json(post(client, "plan_circuits", example("plan_circuits") | changes))
    assert "from the request" in answer["circuit_rule"]
    assert (answer["rise_limit_share"], answer["rise_limit_source"]) == (0.01, "from the request")
    assert any(rise["meets_limit"] is False for rise in answer["rises"]) or answer["rise_highest_share"] <= 0.01


def test_a_layout_feeds_circuits_and_bill(client: FlaskClient) -> None:
    layout = strict_json(post(client, "lay_out_face", example("lay_out_face")))
    face = {each: layout["arrangement"][each] for each in ("module_count", "row_module_counts", "row_segment_counts")}
    face |= {"name": "south", "unit_spacing_m": layout["unit_spacing_m"]}
    answer = post(client, "list_materials", example("list_materials") | {"faces": [face]})
    assert {line["role"] for line in strict_json(answer)["lines"]} >= {"rail", "end_clamp", "mid_clamp"}


MINIMAL: Body = {
    "faces": [{"name": "roof", "module_count": 12}], "unit_ac_current_a": 1.5, "module_mass_kg": 21.3, "unit_mass_kg": 1.1,
}  # fmt: skip


def as_csv(client: FlaskClient, body: Body, accept: str = "text/csv") -> Any:
    return client.post(PATHS["list_materials"], json=body, headers={"Accept": accept})


@pytest.mark.parametrize("body", [MINIMAL, example("list_materials")], ids=["without prices", "with prices"])
def test_csv_holds_the_lines_of_the_json(client: FlaskClient, body: Body) -> None:
    body = changed(body, {"/faces/0/name": 'the "long", steep face'})
    response = as_csv(client, body)
    assert response.status_code == 200
    assert response.content_type == "text/csv; charset=utf-8; header=present"
    assert "Accept" in response.vary
    text = response.get_data(as_text=True)
    assert text.endswith("\r\n")
    assert text.count("\n") == text.count("\r\n")
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    answer = strict_json(post(client, "list_materials", body))
    assert (answer["prices"] is None) is ("price_book" not in body)
    assert len(rows) == len(answer["lines"])
    prices = answer["prices"] or {"lines": [{"part_number": None, "unit_price": None, "net": None}] * len(rows)}
    for row, line, price in zip(rows, answer["lines"], prices["lines"], strict=True):
        for name, value in (line | price).items():
            assert row[name] == ("" if value is None else str(value))
    assert as_csv(client, body).get_data() == response.get_data()


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_a_text_in_csv_is_never_a_formula(client: FlaskClient, start: str) -> None:
    body = changed(MINIMAL, {"/faces/0/name": f'{start}HYPERLINK("x";"y")'})
    text = as_csv(client, body).get_data(as_text=True)
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert rows[0]["belongs_to"] == f'\'{start}HYPERLINK("x";"y")'
    assert not any(cell.startswith(start) for row in rows for cell in row.values())


def test_a_problem_is_a_problem_also_for_those_who_want_csv(client: FlaskClient) -> None:
    problem(as_csv(client, MINIMAL | {"unit_ac_current_a": 17}), 422, "invalid-fields")


def test_money_is_text_in_decimals(client: FlaskClient) -> None:
    prices = strict_json(post(client, "list_materials", example("list_materials")))["prices"]
    amounts = [prices[name] for name in ("net", "tax", "total", "cost", "margin")]
    assert all(isinstance(amount, str) and amount.split(".")[1].isdigit() for amount in amounts)
    assert {part["role"] for part in prices["missing"]}.isdisjoint({"commissioning_document", "network_operator_document"})


CAUTIONS = {"height", "structure", "local_codes", "isolation", "connectors", "outage"}
"""Of every place and system; rapid shutdown and the residual-current device have theirs where they apply."""


@pytest.mark.parametrize("operation_id", ["lay_out_face", "plan_circuits", "list_materials"])
def test_every_result_carries_the_cautions(client: FlaskClient, operation_id: str) -> None:
    assert CAUTIONS - {*caution_codes(strict_json(post(client, operation_id, example(operation_id))))} == set()
