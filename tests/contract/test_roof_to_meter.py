"""What is particular to layout, circuits and bill: bad input, regions of the caller's own, prices and CSV."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import DELETED, PATHS, Body, changed, example, pointers, post, problem, refusal, strict_json
from wattpair_service.rules import region_data

REGION = region_data("germany")
BOTH = pytest.mark.parametrize("operation_id", ["plan_circuits", "list_materials"])
ITEM = {"part_number": "M-425", "cost": "1"}

CASES: dict[str, tuple[str, dict[str, Any], str, str]] = {
    "no module fits": ("lay_out_face", {"/edge_distance_m": 5}, "/outline", "none does"),
    "a knot": (
        "lay_out_face", {"/outline/2": {"x_m": -1, "y_m": 3}, "/outline/3/y_m": -2}, "/outline", "cross or touch itself",
    ),
    "two descriptions": ("lay_out_face", {"/width_m": 5}, "/width_m", "nothing where outline is given"),
    "half a rectangle": ("lay_out_face", {"/outline": DELETED, "/width_m": 5}, "/height_m", "required with width_m"),
    "no face at all": ("lay_out_face", {"/outline": DELETED}, "/outline", "required without them"),
    "two corners": ("lay_out_face", {"/outline": [{"x_m": 0, "y_m": 0}] * 2}, "/outline", "an array of 3 to 60 items"),
    "sides swapped": ("lay_out_face", {"/module_width_m": 1.9}, "/module_width_m", "the shorter side"),
    "two phases in Great Britain": ("plan_circuits", {"/phase_count": 2}, "/phase_count", "1 or 3 phases"),
    "four phases": ("plan_circuits", {"/phase_count": 4}, "/phase_count", "at most 3"),
    "a trunk of 3 mm2": ("plan_circuits", {"/trunk_size": "3 mm2"}, "/trunk_size", '"1.5 mm2", "2.5 mm2"'),
    "a home run in gauge": ("plan_circuits", {"/home_run_size": "12 AWG"}, "/home_run_size", '"1.5 mm2", "2.5 mm2"'),
    "a supply of 25 mm2": ("plan_circuits", {"/supply_size": "25 mm2"}, "/supply_size", '"1.5 mm2", "2.5 mm2"'),
    "a supply without size": ("plan_circuits", {"/supply_size": DELETED}, "/supply_size", "required where supply_length_m"),
    "a face twice": ("plan_circuits", {"/faces/1/name": "garden side"}, "/faces/1/name", "a name of its own"),
    "a flag in quotes": ("plan_circuits", {"/several_premises": "true"}, "/several_premises", "true or false"),
    "a unit too large": ("plan_circuits", {"/unit_ac_current_a": 17}, "/unit_ac_current_a", "a larger device is needed"),
    "a negative price": ("list_materials", {"/price_book/items/0/cost": "-1"}, "/price_book/items/0/cost", "at least 0"),
    "a price as a number": ("list_materials", {"/price_book/items/0/cost": 81.4}, "/price_book/items/0/cost", "in quotes"),
    "an exponent": ("list_materials", {"/price_book/items/0/cost": "1e9"}, "/price_book/items/0/cost", "in quotes"),
    "a price in other digits": ("list_materials", {"/price_book/items/0/cost": "٣"}, "/price_book/items/0/cost", "in quotes"),
    "tax above all": ("list_materials", {"/price_book/tax_percent": "101"}, "/price_book/tax_percent", "at most 100"),
    "a part number twice": (
        "list_materials", {"/price_book/items/1": ITEM}, "/price_book/items/1/part_number", "item 0 has",
    ),
    "a role twice": (
        "list_materials", {"/price_book/part_numbers/1/role": "module"}, "/price_book/part_numbers/1/role", "item 0 has",
    ),
    "a part number written in two ways": (
        "list_materials",
        {"/price_book/items/0/part_number": "\u00e9", "/price_book/items/1/part_number": "e\u0301"},
        "/price_book/items/1/part_number", "item 0 has",
    ),
    "a specification written in two ways": (
        "list_materials",
        {
            "/price_book/part_numbers/0": {"role": "module", "specification": "\u00e9", "part_number": "PV-440"},
            "/price_book/part_numbers/1": {"role": "module", "specification": "e\u0301", "part_number": "PV-440"},
        },
        "/price_book/part_numbers/1/role", "item 0 has",
    ),
    "a role that is none": (
        "list_materials", {"/price_book/part_numbers/0/role": "panel"}, "/price_book/part_numbers/0/role", 'one of "module"',
    ),
    "a currency in words": ("list_materials", {"/price_book/currency": "euro"}, "/price_book/currency", "ISO 4217"),
    "a failure rate as a share of one": (
        "list_materials", {"/failure_rate_share_per_year": 0.005}, "/failure_rate_share_per_year", "failure_percent_per_year",
    ),
    "rows that hold others": (
        "list_materials", {"/faces/0/row_module_counts": [4, 5]}, "/faces/0/row_module_counts", "together, which is 8",
    ),
    "segments without rows": (
        "list_materials", {"/faces/1/row_segment_counts": [1]}, "/faces/1/row_segment_counts", "one number",
    ),
    "three phases between lines": (
        "plan_circuits", {"/region": "united_states", "/phase_count": 3}, "/phase_count", "not modelled",
    ),
    "backup of no kind": ("list_materials", {"/backup": {}}, "/backup/wanted", "true or false; the field is required"),
}  # fmt: skip


@pytest.mark.parametrize(("operation_id", "changes", "pointer", "allowed"), CASES.values(), ids=CASES)
def test_a_fault_is_named(client: FlaskClient, operation_id: str, changes: dict[str, Any], pointer: str, allowed: str) -> None:
    said = refusal(client, operation_id, changed(example(operation_id), changes))
    assert pointers(said) == {pointer}
    assert allowed in said["errors"][0]["allowed"]


SOURCED = [
    f"/{section}/{field}"
    for section in ("branch_circuit", "supply", "standard_devices", "conductors", "voltage_rise", "phase_balance",
                    "residual_current", "commissioning", "routes/0")
    for field in ("clause", "obtained")
]  # fmt: skip


@BOTH
@pytest.mark.parametrize("pointer", [*SOURCED, "/place", "/edition", "/routes", "/supply", "/routes/1/filings/0/when"])
def test_a_region_with_a_missing_clause_is_refused(client: FlaskClient, operation_id: str, pointer: str) -> None:
    body = example(operation_id) | {"region_rules": changed(REGION, {pointer: DELETED})}
    said = refusal(client, operation_id, body)
    assert pointers(said) == {f"/region_rules{pointer}"}
    assert "required" in said["errors"][0]["allowed"]


@BOTH
def test_a_region_whose_routes_do_not_end_is_refused(client: FlaskClient, operation_id: str) -> None:
    body = example(operation_id) | {"region_rules": REGION | {"routes": REGION["routes"][:1]}}
    said = refusal(client, operation_id, body)
    assert pointers(said) == {"/region_rules/routes"}


@BOTH
@pytest.mark.parametrize("field", ["type_without_declaration", "type_if_declared"])
def test_a_region_with_one_residual_current_type_is_refused(client: FlaskClient, operation_id: str, field: str) -> None:
    body = example(operation_id) | {"region_rules": changed(REGION, {f"/residual_current/{field}": DELETED})}
    said = refusal(client, operation_id, body)
    assert pointers(said) == {f"/region_rules/residual_current/{field}"}
    assert "both types or neither" in said["errors"][0]["allowed"]


def test_a_large_device_gets_a_trunk_that_it_may_protect(client: FlaskClient) -> None:
    body: Body = {"region": "united_states", "device_rating_a": 40, "home_run_length_m": 5} | {
        name: value for name, value in MINIMAL.items() if not name.endswith("mass_kg")
    }
    answer = strict_json(post(client, "plan_circuits", body))
    assert {rise["home_run_size"] for rise in answer["rises"]} == {"8 AWG"}


def test_a_region_of_the_callers_own_applies(client: FlaskClient) -> None:
    body = example("plan_circuits")
    own = changed(REGION, {"/place": "an island", "/voltage_rise/limit_share": 0.03, "/branch_circuit/device_rating_a": 16})
    answer = strict_json(post(client, "plan_circuits", body | {"region_rules": own}))
    assert answer["connection"]["place"] == "an island"
    assert answer["rise_limit_share"] == 0.03
    assert {circuit["device_rating_a"] for circuit in answer["circuits"]} == {16.0}
    same = strict_json(post(client, "plan_circuits", body | {"region_rules": region_data("great_britain")}))
    assert same == strict_json(post(client, "plan_circuits", body))


def test_a_value_of_the_callers_own_applies_and_says_so(client: FlaskClient) -> None:
    changes = {"device_rating_a": 16, "continuous_current_factor": 1, "voltage_rise_limit_share": 0.01, "voltage_v": 240}
    answer = strict_json(post(client, "plan_circuits", example("plan_circuits") | changes))
    assert "from the request" in answer["circuit_rule"]
    assert (answer["rise_limit_share"], answer["rise_limit_source"]) == (0.01, "from the request")
    assert any(rise["meets_limit"] is False for rise in answer["rises"]) or answer["rise_highest_share"] <= 0.01


def test_a_layout_feeds_circuits_and_bill(client: FlaskClient) -> None:
    laid = strict_json(post(client, "lay_out_face", example("lay_out_face")))
    face = {
        "name": "south",
        "module_count": laid["arrangement"]["module_count"],
        "unit_spacing_m": laid["unit_spacing_m"],
        "row_module_counts": laid["arrangement"]["row_module_counts"],
        "row_segment_counts": laid["arrangement"]["row_segment_counts"],
    }
    answer = post(client, "list_materials", example("list_materials") | {"faces": [face]})
    assert {line["role"] for line in strict_json(answer)["lines"]} >= {"rail", "end_clamp", "mid_clamp"}


MINIMAL: Body = {
    "faces": [{"name": "roof", "module_count": 12}], "unit_ac_current_a": 1.5, "module_mass_kg": 21.3, "unit_mass_kg": 1.1,
}  # fmt: skip


def as_csv(client: FlaskClient, body: Body, accept: str = "text/csv") -> Any:
    return client.post(PATHS["list_materials"], json=body, headers={"Accept": accept})


def test_the_first_request_still_works(client: FlaskClient) -> None:
    answer = strict_json(post(client, "list_materials", MINIMAL))
    assert answer["prices"] is None
    assert answer["unit_count"] == 12


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


@pytest.mark.parametrize("accept", ["", "*/*", "application/json", "application/json, text/csv;q=0.5"])
def test_everyone_else_gets_json(client: FlaskClient, accept: str) -> None:
    response = as_csv(client, MINIMAL, accept)
    assert response.content_type == "application/json"
    assert response.status_code == 200


def test_a_problem_is_a_problem_also_for_those_who_want_csv(client: FlaskClient) -> None:
    problem(as_csv(client, MINIMAL | {"unit_ac_current_a": 17}), 422, "invalid-fields")


def test_money_is_text_in_decimals(client: FlaskClient) -> None:
    prices = strict_json(post(client, "list_materials", example("list_materials")))["prices"]
    amounts = [prices[name] for name in ("net", "tax", "total", "cost", "margin")]
    assert all(isinstance(amount, str) and amount.split(".")[1].isdigit() for amount in amounts)
    assert len(json.dumps(prices["lines"])) > 0
    assert {part["role"] for part in prices["missing"]}.isdisjoint({"commissioning_document", "network_operator_document"})


@pytest.mark.parametrize("operation_id", ["lay_out_face", "plan_circuits", "list_materials"])
def test_the_cautions_travel_with_every_result(client: FlaskClient, operation_id: str) -> None:
    cautions = " ".join(strict_json(post(client, operation_id, example(operation_id)))["cautions"])
    words = ["height", "structural engineer", "licensed electrician"]
    words += [
        "isolate both",
        "under load",
        "no output in an outage",
        "residual-current",
        "network operator",
        "rapid shutdown",
    ]
    for word in words:
        assert word in cautions


def test_a_rectangle_at_fault_is_named_by_its_sides(client: FlaskClient) -> None:
    body = changed(example("lay_out_face"), {"/outline": DELETED, "/width_m": 1, "/height_m": 6})
    said = refusal(client, "lay_out_face", body)
    assert pointers(said) == {"/width_m", "/height_m"}
