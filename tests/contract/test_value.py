"""POST /v1/design: each candidate is ranked with the circuits, the parts and the grid connection that it needs."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, example as hypothesis_example, given, settings, strategies as st

from tests.contract.bodies import DELETED, Body, caution_codes, changed, example, post, strict_json
from tests.sheet_cases import too_low
from wattpair_service.engineering.materials.bill_lines import DOCUMENT_ROLES, ROLES

EXAMPLE = example("design_roof")
COUNTED_APART = ("module", "microinverter", "microinverter_spare", *DOCUMENT_ROLES)
PLANT_ROLES = tuple(role for role in ROLES if role not in COUNTED_APART)
OF_EVERY_CIRCUIT = ("branch_circuit_protective_device", "junction_box", "circuit_label", "trunk_end_cap")


def book(prices: Body) -> Body:
    """A price book with a price for each role; those of modules and units are never asked for."""
    items = [{"part_number": f"P-{role}", "cost": "0", "price": f"{price:.2f}"} for role, price in prices.items()]
    numbers = [{"role": role, "part_number": f"P-{role}"} for role in prices]
    return {"currency": "EUR", "tax_percent": "0", "markup_percent": "0", "items": items, "part_numbers": numbers}


FACES = [
    {"name": "front", "tilt_deg": 35, "azimuth_deg": 170, "module_count": 6},
    {"name": "back", "tilt_deg": 35, "azimuth_deg": 350, "module_count": 4},
]
SIMPLE = {
    "/region": "international", "/faces": FACES, "/circuits": {"home_run_length_m": 12, "home_run_size": "4 mm2",
    "home_run_installation": {"method": "clipped_direct"}}, "/materials": DELETED, "/sheet": DELETED, "/other_cost": 1000,
    "/ac_cable_loss_share": 0.01,
}  # fmt: skip


NO_CONNECTION_COST = {"/connection_costs": [{"procedure": "set_by_the_network_operator", "cost": 0}]}


def candidates_of(client: FlaskClient, changes: Body) -> tuple[Body, dict[str, Body]]:
    answer = strict_json(post(client, "design_roof", changed(EXAMPLE, SIMPLE | changes)))
    return answer, {each["microinverter"]: each for each in answer["selection"]["candidates"]}


PRICES = st.fixed_dictionaries({role: st.floats(0.0, 200.0) for role in PLANT_ROLES})


@settings(max_examples=settings().max_examples // 2, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(PRICES, st.floats(1.31, 8.0), st.floats(1.31, 8.0))
@hypothesis_example(dict.fromkeys(PLANT_ROLES, 10.0), 2.6, 2.8)
def test_one_more_circuit_never_makes_a_candidate_better(client: FlaskClient, prices: Body, one: float, other: float) -> None:
    """The unit's rated current decides how many circuits it needs, and nothing of its energy."""
    few_a, many_a = sorted((one, other))

    def result(current_a: float) -> tuple[Body, int]:
        changes = {"/candidates/0/microinverter/ac_current_a": current_a, "/price_book": book(prices)}
        answer, found = candidates_of(client, changes | {"/build": {"microinverter": "Unit 300"}})
        return found["Unit 300"], len(answer["circuits"]["circuits"])

    (few, few_circuits), (many, many_circuits) = result(few_a), result(many_a)
    assert many_circuits >= few_circuits
    assert many["energy"] == few["energy"]
    assert many["system"]["balance_of_plant"] >= few["system"]["balance_of_plant"]
    assert many["money"]["net_present_value"] <= few["money"]["net_present_value"]
    assert many["rank"] >= few["rank"]
    if many_circuits > few_circuits:
        # What every circuit has at least.
        own = sum(
            prices[role] for role in ("branch_circuit_protective_device", "junction_box", "circuit_label", "trunk_end_cap")
        )
        extra = many["system"]["balance_of_plant"] - few["system"]["balance_of_plant"]
        assert extra >= own * (many_circuits - few_circuits) - 0.05


def test_the_balance_of_plant_is_the_bill_without_modules_units_and_documents(client: FlaskClient) -> None:
    prices = {role: 3.0 + index for index, role in enumerate(PLANT_ROLES)}
    for unit in ("Unit 300", "Unit 345"):
        changes = NO_CONNECTION_COST | {"/price_book": book(prices), "/build": {"microinverter": unit}}
        answer, found = candidates_of(client, changes)
        bill = answer["bill_of_materials"]
        expected = sum(prices[line["role"]] * line["quantity"] for line in bill["lines"] if line["role"] in prices)
        system, money = found[unit]["system"], found[unit]["money"]
        assert system["balance_of_plant"] == money["balance_of_plant"] == pytest.approx(expected)
        assert system["unpriced_roles"] == money["whole_system"]["missing"] == []
        modules = sum(face["module_count"] for face in answer["faces"])
        units = money["units_price"] + modules * EXAMPLE["modules"][0]["price"]
        assert money["whole_system"]["price_today"] == pytest.approx(units + expected + 1000.0)
        assert system["connection_procedure"] == answer["circuits"]["connection"]["route"]


def test_a_part_without_a_price_for_one_candidate_counts_for_none(client: FlaskClient) -> None:
    role = "current_transformer_production"
    prices = dict.fromkeys(PLANT_ROLES, 5.0)
    # The second needs a transformer of another ratio, and the book knows that of the first alone.
    changes = NO_CONNECTION_COST | {"/candidates/1/microinverter/ac_current_a": 3.0, "/build": {"microinverter": "Unit 300"}}
    answer, whole = candidates_of(client, changes | {"/price_book": book(prices)})
    (ratio,) = {line["specification"] for line in answer["bill_of_materials"]["lines"] if line["role"] == role}
    partial = book(prices)
    (number,) = (each for each in partial["part_numbers"] if each["role"] == role)
    number["specification"] = ratio
    answer, found = candidates_of(client, changes | {"/price_book": partial})
    assert role not in {each["role"] for each in answer["bill_of_materials"]["prices"]["missing"]}
    recommended = answer["selection"]["recommendation"]
    assert recommended["standing"] == "depends"
    assert (
        "depends: parts without a price differ between the candidates: current transformer, production."
        in recommended["sentence"]
    )
    for name, each in found.items():
        assert each["system"]["unpriced_roles"] == each["system"]["differing_roles"] == [role]
        assert each["system"]["balance_of_plant"] == pytest.approx(whole[name]["system"]["balance_of_plant"] - 5.0)
        assert each["money"]["whole_system"]["missing"] == ["parts have no price: current transformer, production"]
        assert each["money"]["whole_system"]["simple_payback_years"] is None
        assert each["money"]["lifetime_cost_per_kwh"] is None
        assert whole[name]["money"]["whole_system"]["missing"] == []
    assert "plant_incomplete" in caution_codes(answer)
    (caution,) = (each["text"] for each in answer["cautions"] if each["code"] == "unpriced_differ")
    assert caution.endswith("may turn the order: current transformer, production.")
    # What all need alike turns nothing.
    unpriced, _ = candidates_of(client, changes | {"/price_book": book({"rail": 1.0})})
    (caution,) = (each["text"] for each in unpriced["cautions"] if each["code"] == "unpriced_differ")
    assert "current transformer, production" in caution
    assert "roof attachment" not in caution
    same, _ = candidates_of(client, {"/price_book": book({"rail": 1.0})})
    assert "unpriced_differ" not in caution_codes(same)


def test_a_candidate_that_fails_changes_no_money_of_the_others(client: FlaskClient) -> None:
    role = "current_transformer_production"
    partial = book(dict.fromkeys(PLANT_ROLES, 5.0))
    changes = NO_CONNECTION_COST | {"/candidates/1/microinverter/ac_current_a": 3.0, "/build": {"microinverter": "Unit 300"}}
    answer, _ = candidates_of(client, changes | {"/price_book": partial})
    (ratio,) = {line["specification"] for line in answer["bill_of_materials"]["lines"] if line["role"] == role}
    (number,) = (each for each in partial["part_numbers"] if each["role"] == role)
    number["specification"] = ratio
    alone, found_alone = candidates_of(client, NO_CONNECTION_COST | {"/price_book": partial, "/candidates/1": DELETED})
    for obstacle in (too_low(1), {"/candidates/1/microinverter/ac_voltage_v": 120}):
        answer, found = candidates_of(client, changes | {"/price_book": partial} | obstacle)
        assert found["Unit 300"]["system"] == found_alone["Unit 300"]["system"]
        assert found["Unit 300"]["money"] == found_alone["Unit 300"]["money"]
        assert {"plant_incomplete", "unpriced_differ"}.isdisjoint(caution_codes(answer))
    assert alone["selection"]["recommendation"]["standing"] == "decided"


def test_each_module_has_the_balance_of_plant_of_its_own_size(client: FlaskClient) -> None:
    module = EXAMPLE["modules"][0]
    larger = changed(module, {"/module/name": "Module 530", "/module/length_m": 2.2, "/module/width_m": 1.3})
    prices = {role: 3.0 + index for index, role in enumerate(PLANT_ROLES)}
    plants = []
    for name in (module["module"]["name"], "Module 530"):
        wish = {"module": name, "microinverter": "Unit 300"}
        changes = {"/modules": [module, larger], "/price_book": book(prices), "/build": wish}
        answer, _ = candidates_of(client, changes)
        lines = answer["bill_of_materials"]["lines"]
        candidates = answer["selection"]["candidates"]
        (system,) = (each["system"] for each in candidates if wish.items() <= each.items())
        expected = sum(prices[line["role"]] * line["quantity"] for line in lines if line["role"] in prices)
        assert system["balance_of_plant"] == pytest.approx(expected)
        plants.append(expected)
    assert plants[0] < plants[1]


def test_a_book_without_parts_gives_no_balance_of_plant(client: FlaskClient) -> None:
    answer, found = candidates_of(client, NO_CONNECTION_COST | {"/price_book": book({"module": 95.0})})
    for each in found.values():
        assert each["system"]["balance_of_plant"] is each["money"]["balance_of_plant"] is None
        assert each["system"]["unpriced_roles"] == each["money"]["whole_system"]["missing"] == []
    assert "system.balance_of_plant" in [each["name"] for each in answer["assumptions"]]


def test_the_whole_system_has_no_payback_without_the_work_and_the_agreement(client: FlaskClient) -> None:
    priced = SIMPLE | NO_CONNECTION_COST | {"/price_book": book(dict.fromkeys(PLANT_ROLES, 5.0))}
    missing = {
        "/other_cost": "the work of building has no price: give other_cost, 0 where other prices include it",
        "/connection_costs": "the network operator's agreement, which the grid connection procedure needs, has no price: give "
        "its connection_cost",
    }
    for left_out, words in missing.items():
        given = {field: value for field, value in priced.items() if field != left_out}
        answer = strict_json(post(client, "design_roof", changed(EXAMPLE, given)))
        for each in answer["selection"]["candidates"]:
            whole = each["money"]["whole_system"]
            assert whole["missing"] == [words]
            assert (whole["simple_payback_years"], whole["net_present_value"], whole["cash_flow"]) == (None, None, [])
        assert ("no_installation" in caution_codes(answer)) == (left_out == "/other_cost")
        assumed = [each["value"] for each in answer["assumptions"] if each["name"] == "other_cost"]
        assert assumed == ([0.0] if left_out == "/other_cost" else [])
    answer, found = candidates_of(client, priced | {"/other_cost": 0})
    assert [each["money"]["whole_system"]["missing"] for each in found.values()] == [[], []]
    assert "no_installation" not in caution_codes(answer)


def test_the_best_that_can_be_built_is_built(client: FlaskClient) -> None:
    best = {"/candidates/1/price": 20, "/candidates/1/microinverter/ac_voltage_v": 120}
    answer, found = candidates_of(client, best)
    assert found["Unit 345"]["system"]["obstacle"]["kind"] == "unsuited"
    assert "its ac_voltage_v is 120 V" in answer["selection"]["recommendation"]["sentence"]
    assert [found[name]["rank"] for name in ("Unit 300", "Unit 345")] == [1, 2]
    assert answer["built"] == {
        "basis": "recommended", "pairing": {"module": "Module 425", "microinverter": "Unit 300"},
        "sentence": "Unit 300 on Module 425, as recommended.",
    }  # fmt: skip
    assert answer["circuits"] is not None
    named, _ = candidates_of(client, best | {"/build": {"microinverter": "Unit 345"}})
    assert named["built"]["basis"] == "unsuited"


def test_the_callers_own_figures_stand_but_make_no_circuits_possible(client: FlaskClient) -> None:
    own = {
        "balance_of_plant": 321, "rated_cable_share": 0.05, "connection_procedure": "as agreed", "needs_agreement": True,
        "connection_cost": 12, "obstacle": {"kind": "fails", "reason": "the stairs are too narrow"},
    }  # fmt: skip
    systems = {f"/candidates/{index}/system": own for index in (0, 1)}
    _, found = candidates_of(client, systems)
    for each in found.values():
        assert each["system"] == own | {"unpriced_roles": [], "differing_roles": []}
    unsuited = {f"/candidates/{index}/microinverter/ac_voltage_v": 120 for index in (0, 1)}
    answer, found = candidates_of(client, systems | unsuited)
    assert answer["built"]["basis"] == "unsuited"
    assert {each["system"]["obstacle"]["kind"] for each in found.values()} == {"unsuited"}


def test_a_candidate_whose_circuits_fail_comes_behind_one_whose_circuits_do_not(client: FlaskClient) -> None:
    # 10 units of 6 A on a board that takes 25 A beside its main device.
    changes = {
        "/candidates/1/price": 20, "/candidates/1/microinverter/ac_current_a": 6.0,
        "/circuits/busbar_rating_a": 125, "/circuits/main_device_a": 100,
    }  # fmt: skip
    answer, found = candidates_of(client, changes)
    assert found["Unit 345"]["system"]["obstacle"]["kind"] == "fails"
    assert found["Unit 345"]["money"]["step_up"] is None
    assert answer["built"]["pairing"]["microinverter"] == "Unit 300"
    assert answer["verdict"] != "fail"
    named, _ = candidates_of(client, changes | {"/build": {"microinverter": "Unit 345"}})
    assert (named["built"]["basis"], named["verdict"]) == ("named", "fail")
    assert named["selection"] == answer["selection"]


def test_where_no_circuits_can_be_built_the_answer_does_not_read_as_if_they_could(client: FlaskClient) -> None:
    changes = {f"/candidates/{index}/microinverter/ac_current_a": 6.0 for index in (0, 1)}
    answer, _ = candidates_of(client, changes | {"/circuits/busbar_rating_a": 125, "/circuits/main_device_a": 100})
    recommended = answer["selection"]["recommendation"]
    assert recommended["standing"] == "none_can_be_built"
    reason = f"{recommended['microinverter']} is best, but must not be built as it stands: checks of its circuits fail: "
    assert recommended["sentence"].startswith(reason)
    assert "not to be built as it stands: checks of its circuits fail" in answer["built"]["sentence"]
    assert answer["verdict"] == "fail"


def test_a_cable_cannot_take_more_than_all(client: FlaskClient) -> None:
    answer = post(client, "design_roof", changed(EXAMPLE, {"/candidates/0/system": {"rated_cable_share": 1.5}}))
    assert [each["pointer"] for each in answer.get_json()["errors"]] == ["/candidates/0/system/rated_cable_share"]


TWIN: Body = {
    "price": 165, "warranty_years": 12,
    "microinverter": EXAMPLE["candidates"][0]["microinverter"] | {
        "name": "Twin 800", "ac_power_w": 800, "ac_current_a": 3.48, "input_count": 2, "dc_current_max_a": 14,
    },
}  # fmt: skip
SINGLE: Body = changed(
    EXAMPLE["candidates"][0], {"/microinverter/name": "Single 329", "/microinverter/ac_power_w": 329, "/price": 88,
    "/microinverter/ac_current_a": 1.43, "/microinverter/dc_current_max_a": 14}
)  # fmt: skip
BRITAIN = {
    "/region": "great_britain", "/currency": "GBP", "/price_book": DELETED, "/candidates": [SINGLE, TWIN], "/other_cost": 3000,
    "/site": {"latitude_deg": 51.8, "longitude_deg": -1.4, "temp_lowest_c": -16, "temp_highest_c": 34},
    "/circuits": {"home_run_length_m": 12, "main_device_a": 80, "busbar_rating_a": 100, "supply_size": "16 mm2"},
}  # fmt: skip


def test_in_britain_an_application_for_17_4_a_is_weighed_against_connect_and_notify_at_14_3_a(client: FlaskClient) -> None:
    answer, found = candidates_of(client, BRITAIN)
    twin, single = found["Twin 800"], found["Single 329"]
    assert (twin["system"]["connection_procedure"], twin["system"]["needs_agreement"]) == ("EREC G99", True)
    assert (single["system"]["connection_procedure"], single["system"]["needs_agreement"]) == (
        "EREC G98, single premises", False,
    )  # fmt: skip
    assert sum(phase["current_a"] for phase in answer["circuits"]["connection"]["phases"]) == pytest.approx(17.4)
    recommended = answer["selection"]["recommendation"]
    assert recommended["microinverter"] == "Twin 800"
    assert "Twin 800 needs the network operator's agreement first (EREC G99)" in recommended["sentence"]
    assert "Single 329 needs nobody's agreement first (EREC G98, single premises)" in recommended["sentence"]
    assert recommended["standing"] == "depends"
    assert recommended["depends_on"] == ["a year's wait for the network operator's agreement"]
    turns = {each["name"]: each for each in answer["selection"]["sensitivities"]}
    turn = turns["cost of the grid connection procedure of the recommended unit"]
    assert turn["then"] == pytest.approx(recommended["margin"])

    def with_cost(cost: float) -> Any:
        costs = [{"procedure": "erec_g99", "cost": cost}, {"procedure": "erec_g98_single_premises", "cost": 0}]
        return candidates_of(client, BRITAIN | {"/connection_costs": costs})[0]["selection"]

    assert with_cost(recommended["margin"] - 1.0)["recommendation"]["microinverter"] == "Twin 800"
    paid = with_cost(recommended["margin"] + 1.0)
    assert paid["recommendation"]["microinverter"] == "Single 329"
    assert "procedures_differ" not in caution_codes(paid)


def test_a_procedure_that_the_region_does_not_have_is_named(client: FlaskClient) -> None:
    for costs, index in (
        ([{"procedure": "EREC G98", "cost": 1}], 0),
        ([{"procedure": "erec_g99", "cost": 1}, {"procedure": "erec_g99", "cost": 2}], 1),
    ):
        body = changed(EXAMPLE, SIMPLE | BRITAIN | {"/connection_costs": costs})
        answer = post(client, "design_roof", body)
        assert answer.status_code == 422
        (error,) = answer.get_json()["errors"]
        assert error["pointer"] == f"/connection_costs/{index}/procedure"
        assert '"erec_g99"' in error["detail"]
