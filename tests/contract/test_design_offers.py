"""POST /v1/design: what its parts share, prices, failures, voltage, and what it says of that."""

from __future__ import annotations

import json
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import Body, changed, post, strict_json
from tests.contract.test_contract import require_as_described
from tests.contract.test_design import EXAMPLE, ONE_PRICE, SMALLER, case


def cautions(client: FlaskClient, body: Body) -> list[str]:
    """The cautions of a design."""
    found: list[str] = strict_json(post(client, "design_roof", body))["cautions"]
    return found


def test_one_price_for_every_candidate_is_cautioned(client: FlaskClient) -> None:
    numbers = [{"role": "microinverter", "part_number": "U-345"}, {"role": "module", "part_number": "M-425"}]
    body = changed(EXAMPLE, {"/price_book/part_numbers": numbers})
    for candidates, expected in ((2, True), (1, False)):
        said = cautions(client, body | {"candidates": body["candidates"][:candidates]})
        assert any(each.startswith(ONE_PRICE) for each in said) == expected
    two = body | {"candidates": body["candidates"][:1], "modules": [*body["modules"], SMALLER]}
    assert any(each.startswith(f"{ONE_PRICE}module, M-425") for each in cautions(client, two))


def test_no_price_at_all_is_not_one_price(client: FlaskClient) -> None:
    numbers = [{"role": "microinverter", "specification": "Unit 345", "part_number": "U-345"}]
    said = cautions(client, changed(EXAMPLE, {"/price_book/part_numbers": numbers, "/build": {"microinverter": "Unit 300"}}))
    assert not any(each.startswith(ONE_PRICE) for each in said)
    assert "Some parts have no price: the totals leave them out." in said


def test_a_part_for_nobody_is_named(client: FlaskClient) -> None:
    assert not any("is left out" in each for each in cautions(client, EXAMPLE))
    (said,) = [each for each in cautions(client, changed(EXAMPLE, {"/price_book/part_numbers/2/specification": "Unit 354"}))
               if "is left out" in each]  # fmt: skip
    assert "U-345" in said
    assert '"Unit 354" is the name of no candidate' in said


def test_two_prices_for_one_thing_are_both_named(client: FlaskClient) -> None:
    assert not any("is ranked at" in each for each in cautions(client, EXAMPLE))
    (said,) = [each for each in cautions(client, changed(EXAMPLE, {"/candidates/1/price": 120}))
               if "is ranked at" in each]  # fmt: skip
    assert said.startswith("Unit 345 is ranked at 120 EUR, and its part U-345 on the bill is sold at 128.00 EUR")


def test_the_price_that_ranks_is_the_price_on_the_bill(client: FlaskClient) -> None:
    body = case("prices from the book, failures of the candidate's own")
    answer = strict_json(post(client, "design_roof", body))
    assert answer["selection"]["ranked_by"] != "energy"
    taken = {(each["value"], each["source"]) for each in answer["assumptions"] if each["name"] == "candidates.price"}
    assert (99.23, "Unit 300: sales price of its part U-300 in the price book") in taken
    assert (128.0, "Unit 345: sales price of its part U-345 in the price book") in taken


@pytest.mark.parametrize("composed", ["\u00e9", "e\u0301"])
def test_a_name_means_the_same_however_its_letters_are_composed(client: FlaskClient, composed: str) -> None:
    def written(part: object, letter: str) -> Any:
        return json.loads(json.dumps(part).replace("Unit 3", f"Unit {letter}3").replace("U-3", f"U-{letter}3"))

    body = written(EXAMPLE | {"build": {"module": "Module 425", "microinverter": "Unit 300"}}, composed)
    other = "e\u0301" if composed == "\u00e9" else "\u00e9"
    numbers, build = EXAMPLE["price_book"]["part_numbers"], {"module": "Module 425", "microinverter": "Unit 300"}
    same = changed(body, {"/price_book/part_numbers": written(numbers, other), "/build": written(build, other)})
    answer = strict_json(post(client, "design_roof", same))
    assert answer["built"]["pairing"]["microinverter"] == f"Unit {composed}300"
    assert f"U-{composed}300" in {each["part_number"] for each in answer["bill_of_materials"]["prices"]["lines"]}
    assert answer == strict_json(post(client, "design_roof", body))


def test_spares_follow_from_the_failures_of_the_ranking(client: FlaskClient) -> None:
    body = case("prices from the book, failures of the candidate's own") | {"build": {"microinverter": "Unit 300"}}
    spares = strict_json(post(client, "design_roof", body))["bill_of_materials"]["spares"]
    assert "2 % a year over 20 years" in spares["derivation"]
    own = body | {"materials": {"failure_percent_per_year": 0.1, "spare_horizon_years": 5}}
    spares = strict_json(post(client, "design_roof", own))["bill_of_materials"]["spares"]
    assert "0.1 % a year over 5 years" in spares["derivation"]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"ac_voltage_v": 120}, ("its ac_voltage_v is 120 V, and its circuits are at 230 V", "207 to 253 V")),
        ({"ac_current_a": 29.5}, ("its current of 29.5 A", "allowed is at most")),
    ],
)
def test_a_microinverter_that_no_circuit_suits_is_answered_with_the_reason(
    client: FlaskClient, changes: Body, said: tuple[str, ...]
) -> None:
    body = changed(EXAMPLE, {f"/candidates/{i}/microinverter/{name}": value for i in (0, 1) for name, value in changes.items()})
    answer = require_as_described(post(client, "design_roof", body), "design_roof")
    assert (answer["built"]["basis"], answer["built"]["pairing"]) == ("unsuited", None)
    assert all(words in answer["built"]["sentence"] for words in said), answer["built"]
    assert answer["circuits"] is answer["bill_of_materials"] is None
    assert answer["selection"]["recommendation"]["microinverter"]
    other = strict_json(post(client, "design_roof", changed(EXAMPLE, {
        f"/candidates/0/microinverter/{name}": value for name, value in changes.items()} | {
        "/build": {"microinverter": "Unit 345"}})))  # fmt: skip
    assert other["built"]["pairing"]["microinverter"] == "Unit 345"


def test_a_voltage_of_the_circuits_own_suits_a_unit_for_it(client: FlaskClient) -> None:
    terms = {"phase_count": 1, "voltage_v": 120}
    body = changed(EXAMPLE, {"/candidates/0/microinverter/ac_voltage_v": 120, "/circuits": terms, "/region": "united_states"})
    answer = strict_json(post(client, "design_roof", body | {"build": {"microinverter": "Unit 300"}}))
    assert answer["built"]["pairing"]["microinverter"] == "Unit 300"
    assert answer["circuits"]["circuits"][0]["current_a"] == pytest.approx(
        2.5 * answer["circuits"]["circuits"][0]["unit_count"]
    )


def test_power_stands_whatever_voltage_the_datasheet_is_for(client: FlaskClient) -> None:
    usual: Body = {"/build": {"microinverter": "Unit 300"}}
    for region, datasheet in (
        ("great_britain", {"ac_voltage_v": 240}),
        ("united_states", {}),
        ("germany", {"ac_current_a": 1.25}),
    ):
        changes = usual | {f"/candidates/0/microinverter/{name}": value for name, value in datasheet.items()}
        answer = strict_json(post(client, "design_roof", changed(EXAMPLE, changes | {"/region": region, "/circuits": {}})))
        units = answer["circuits"]["unit_count"]
        assert answer["circuits"]["connection"]["power_total_va"] == pytest.approx(300 * units)
        low = [each for each in answer["cautions"] if "ac_current_a of 1.25 A is less than" in each]
        assert len(low) == ("ac_current_a" in datasheet)


def test_where_nothing_is_built_nothing_is_assumed_of_it(client: FlaskClient) -> None:
    groups = {each["name"].split(".")[0] for each in strict_json(post(client, "design_roof", EXAMPLE))["assumptions"]}
    assert {"circuits", "materials", "price_book"} <= groups
    nothing = strict_json(post(client, "design_roof", case("nothing passes")))["assumptions"]
    assert not {"circuits", "materials", "price_book"} & {each["name"].split(".")[0] for each in nothing}


def test_a_spacing_is_said_of_its_face_and_without_rounding(client: FlaskClient) -> None:
    answer = strict_json(post(client, "design_roof", EXAMPLE))
    (said,) = [each for each in answer["assumptions"] if each["name"] == "faces.unit_spacing_m"]
    assert said["source"].startswith("garden side: ")
    assert len(repr(said["value"])) <= 4
    assert not [line for line in answer["bill_of_materials"]["lines"] if line["derivation"].startswith("as given")]


def test_a_check_that_fails_is_told_of_in_words_that_fit_a_design(client: FlaskClient) -> None:
    said = cautions(client, changed(EXAMPLE, {"/circuits/phase_count": 1}))
    assert "A check of the connection fails: see the checks of the connection before ordering." in said


def test_what_was_asked_for_and_what_was_not(client: FlaskClient) -> None:
    said = strict_json(post(client, "design_roof", EXAMPLE | {"build": {"module": "Module 425"}}))["built"]["sentence"]
    assert "of which Module 425 is asked for in the request; as recommended too." in said
