"""What a request says of string inverters: what is refused where it stands, what gets a verdict, and what is answered."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import DELETED, Body, caution_codes, changed, example, pointers, post, refusal, strict_json
from wattpair_service.engineering.strings.comparison import CAUSES

GARDEN, STREET = "garden side", "street side"
"""The example's faces, of 8 and 4 modules."""
INVERTER: Body = {
    "name": "String 5", "ac_power_w": 5000, "dc_voltage_max_v": 600, "tracker_count": 2, "tracker_voltage_min_v": 80,
    "tracker_voltage_max_v": 550, "start_voltage_v": 100, "tracker_current_max_a": 16,
    "tracker_short_circuit_current_max_a": 22, "european_efficiency_percent": 97.2,
}  # fmt: skip
OPTIMISER: Body = {"name": "optimiser", "efficiency_percent": 98.8, "voltage_min_v": 12, "voltage_max_v": 80, "price": 45}
POINTS = [{"load_share": share, "efficiency_percent": 97.0} for share in (0.1, 0.3, 0.6, 1.0)]
AT = "/string_inverters/0"


def on(face: str, *modules: int) -> Body:
    """Modules of a string on a face."""
    return {"face": face, "modules": list(modules)}


BY_FACE = [[on(GARDEN, *range(1, 9))], [on(STREET, *range(1, 5))]]


def with_strings(*strings: Any, operation_id: str = "select_microinverters", **inverter: Any) -> Body:
    """The example with one string inverter, whose strings are given where there are any."""
    one: Body = {"inverter": INVERTER | inverter, "price": 900}
    return example(operation_id) | {"string_inverters": [one | ({"strings": list(strings)} if strings else {})]}


def answer(client: FlaskClient, body: Body, operation_id: str = "select_microinverters") -> Body:
    """The answer's string inverters are those of the request, in its order."""
    response = post(client, operation_id, body)
    assert response.status_code == 200, response.get_data(as_text=True)
    found: Body = strict_json(response)
    selection = found["selection"] if operation_id == "design_roof" else found
    assert [each["name"] for each in selection["string_inverters"]] == [
        each["inverter"]["name"] for each in body.get("string_inverters", [])
    ]
    return found


def first(client: FlaskClient, body: Body) -> Body:
    """The first string inverter of the answer."""
    found: Body = answer(client, body)["string_inverters"][0]
    return found


def test_a_comparison_is_whole(client: FlaskClient) -> None:
    body = with_strings()
    body["string_inverters"].append({"inverter": INVERTER | {"name": "with optimisers"}, "price": 900, "optimiser": OPTIMISER})
    whole = answer(client, body)
    plain, optimised = whole["string_inverters"]
    assert [len(each["on_faces"]) for each in plain["strings"]] == [8, 4]
    assert plain["strings"][1]["on_faces"][0] == {"face_number": 1, "module_number": 1}
    assert plain["verdict"] == "caution"
    assert [each["name"] for each in plain["strings"][0]["reasons"]] == ["arc_fault_and_rapid_shutdown"]
    for each in (plain, optimised):
        compared = each["comparison"]
        assert compared["microinverter"] == whole["recommendation"]["microinverter"]
        assert [row["cause"] for row in compared["causes"]] == list(CAUSES)
        difference_kwh = compared["microinverters_kwh"] - compared["string_inverter_kwh"]
        assert sum(row["difference_kwh"] for row in compared["causes"]) == pytest.approx(difference_kwh, abs=1e-6)
        assert compared["energy_share"]["value"] == pytest.approx(difference_kwh / compared["string_inverter_kwh"], rel=1e-9)
        money = compared["money"]
        assert money["net_gain"] == pytest.approx(money["extra_value"] - money["extra_cost"], abs=0.02)
        assert (compared["better"] == "microinverters") == (money["net_gain"] > 0.0)
        assert compared["replaced_in_years"] == [13]
        assert each["name"] in compared["sentence"]
        assert each["to_order"]
        assert each["to_order_for_units"]
    assert {"string_dc_side", "string_dc_faults"} <= set(caution_codes(whole))
    assert {"name": "string_inverters.expected_life_years", "value": 13.0, "unit": None} in [
        {name: each[name] for name in ("name", "value", "unit")} for each in whole["assumptions"]
    ]


def test_without_string_inverters_nothing_is_said_of_them(client: FlaskClient) -> None:
    for body in (example("select_microinverters"), example("select_microinverters") | {"string_inverters": []}):
        whole = answer(client, body)
        assert whole["string_inverters"] == []
        assert not {"string_dc_side", "string_dc_faults"} & set(caution_codes(whole))


ONCE = "each module once; module 1 of this face is named twice"
REFUSED: dict[str, tuple[Body, str, str]] = {
    "a face that is not there": ({f"{AT}/strings/1/0/face": "barn"}, f"{AT}/strings/1/0/face", '"garden side", "street side"'),
    "a module that is not there": ({f"{AT}/strings/1": [on(STREET, 1, 2, 3, 5)]}, f"{AT}/strings/1", "modules from 1 to 4"),
    "module 0": ({f"{AT}/strings/1": [on(STREET, 0, 1, 2, 3)]}, f"{AT}/strings/1/0/modules/0", "at least 1"),
    "a module twice in a string": ({f"{AT}/strings/0": [on(GARDEN, 1, 1, 3, 4, 5, 6, 7, 8)]}, f"{AT}/strings/0", ONCE),
    "a module in two strings": ({f"{AT}/strings/1": [on(STREET, 1, 2, 3, 4), on(GARDEN, 1)]}, f"{AT}/strings/1", ONCE),
    "a module in none": ({f"{AT}/strings/0": [on(GARDEN, 1, 2, 3, 4, 5, 6, 7)]}, f"{AT}/strings", "1 are in none"),
    "a face in none": ({f"{AT}/strings": BY_FACE[:1]}, f"{AT}/strings", "4 are in none"),
    "more strings than trackers": ({f"{AT}/inverter/tracker_count": 1}, f"{AT}/strings", "at most 1 strings, one on each"),
    "no strings": ({f"{AT}/strings": []}, f"{AT}/strings", "an array of 1 to 12 items"),
    "a string without modules": ({f"{AT}/strings/1": []}, f"{AT}/strings/1", "an array of 1 to 4 items"),
    "a number in quotes": ({f"{AT}/strings/0/0/modules/0": "1"}, f"{AT}/strings/0/0/modules/0", "a whole number"),
    "an unknown field": ({f"{AT}/inverter/mass_kg": 12}, f"{AT}/inverter/mass_kg", ""),
    "no efficiency": ({f"{AT}/inverter/european_efficiency_percent": DELETED}, f"{AT}/inverter/cec_efficiency_percent",
        "exactly one of"),
    "two efficiencies": ({f"{AT}/inverter/cec_efficiency_percent": 97}, f"{AT}/inverter/european_efficiency_percent",
        "cec_efficiency_percent is given too"),
    "an efficiency and points": ({f"{AT}/inverter/efficiency_points": POINTS}, f"{AT}/inverter/efficiency_points",
        "european_efficiency_percent is given too"),
    "a window from top to bottom": ({f"{AT}/inverter/tracker_voltage_min_v": 560}, f"{AT}/inverter/tracker_voltage_min_v",
        "at most tracker_voltage_max_v, which is 550 V"),
    "a window beyond the highest voltage": ({f"{AT}/inverter/tracker_voltage_max_v": 601},
        f"{AT}/inverter/tracker_voltage_max_v", "at most dc_voltage_max_v, which is 600 V"),
    "a start above the window": ({f"{AT}/inverter/start_voltage_v": 551}, f"{AT}/inverter/start_voltage_v",
        "at most tracker_voltage_max_v"),
    "two phases": ({f"{AT}/inverter/ac_phase_count": 2}, f"{AT}/inverter/ac_phase_count", "1 or 3"),
    "an optimiser without window": ({f"{AT}/optimiser": OPTIMISER | {"voltage_min_v": 80}}, f"{AT}/optimiser/voltage_min_v",
        "below voltage_max_v"),
    "an AC cable that takes all": ({f"{AT}/ac_cable_length_m": 200, f"{AT}/ac_cable_area_mm2": 1}, f"{AT}/ac_cable_length_m",
        "at most 20 % of the rated power"),
    "a face without light": ({"/faces/1/shading_share": 0.99999999}, "/faces", f'"{STREET}" gets none'),
    "no life": ({f"{AT}/expected_life_years": 0}, f"{AT}/expected_life_years", "at least 1"),
    "a price below zero": ({f"{AT}/price": -1}, f"{AT}/price", "at least 0"),
    "nine string inverters": ({"/string_inverters": [{"inverter": INVERTER}] * 9}, "/string_inverters", "8 items"),
    "a tracker of another kind": ({f"{AT}/inverter/shade_tracker": "best"}, f"{AT}/inverter/shade_tracker", "local"),
}  # fmt: skip


@pytest.mark.parametrize(("changes", "pointer", "allowed"), REFUSED.values(), ids=REFUSED)
def test_refused_where_it_stands(client: FlaskClient, changes: Body, pointer: str, allowed: str) -> None:
    body = with_strings(*copy.deepcopy(BY_FACE))
    assert first(client, body)["comparison"] is not None
    refused = refusal(client, "select_microinverters", changed(body, changes))
    assert pointers(refused) == {pointer}
    assert allowed in refused["errors"][0]["allowed"]


def test_all_problems_of_an_inverter_at_once(client: FlaskClient) -> None:
    body = with_strings(tracker_voltage_min_v=560, start_voltage_v=570, cec_efficiency_percent=97)
    names = ("tracker_voltage_min_v", "start_voltage_v", "european_efficiency_percent")
    assert pointers(refusal(client, "select_microinverters", body)) == {f"{AT}/inverter/{name}" for name in names}


def test_a_string_beyond_the_highest_voltage_fails_and_says_what_passes(client: FlaskClient) -> None:
    """38.5 V rise in the cold to some 42.6 V, of which 300 V hold seven."""
    found = first(client, with_strings(*BY_FACE, dc_voltage_max_v=300, tracker_voltage_max_v=300))
    assert found["verdict"] == "fail"
    assert found["longest_string"] == 7
    assert [each["verdict"] for each in found["strings"]] == ["fail", "caution"]
    failing = [each for each in found["strings"][0]["reasons"] if each["verdict"] == "fail"]
    assert [each["name"] for each in failing] == ["open_circuit_voltage_cold"]
    assert failing[0]["value"] > 300.0
    assert "7" in found["obstacle"]
    assert "8" in found["obstacle"]
    assert found["comparison"] is None


def test_a_module_beyond_its_optimiser_fails(client: FlaskClient) -> None:
    body = with_strings()
    body["string_inverters"][0]["optimiser"] = OPTIMISER | {"voltage_max_v": 40}
    found = first(client, body)
    assert (found["verdict"], found["comparison"]) == ("fail", None)
    assert "optimiser" in found["obstacle"]


def test_strings_lie_on_both_faces_only_where_trackers_are_too_few(client: FlaskClient) -> None:
    for trackers, faces in ((2, [{0}, {1}]), (1, [{0, 1}])):
        strings = first(client, with_strings(tracker_count=trackers))["strings"]
        assert [{each["face_number"] for each in string["on_faces"]} for string in strings] == faces


@pytest.mark.parametrize("operation_id", ["select_microinverters", "design_roof"])
def test_strings_are_judged_where_no_microinverter_passes(client: FlaskClient, operation_id: str) -> None:
    body = with_strings(operation_id=operation_id)
    for each in body["candidates"]:
        each["microinverter"]["dc_voltage_max_v"] = 40
        each["microinverter"]["dc_operating_voltage_max_v"] = 40
        each["microinverter"]["dc_full_power_voltage_max_v"] = 40
    found = answer(client, body, operation_id)
    selected = found["selection"] if operation_id == "design_roof" else found
    assert selected["recommendation"]["standing"] == "none_passes"
    (judged,) = selected["string_inverters"]
    assert [each["verdict"] for each in judged["strings"]] == ["caution", "caution"]
    assert (judged["verdict"], judged["comparison"]) == ("caution", None)
    if operation_id == "design_roof":
        sheet = client.post("/v1/design", json=body, headers={"Accept": "text/html"})
        assert sheet.status_code == 200
        assert INVERTER["name"] in sheet.get_data(as_text=True)


def test_optimisers_let_a_string_lie_on_both_faces(client: FlaskClient) -> None:
    body = with_strings(tracker_count=1)
    body["string_inverters"][0]["optimiser"] = OPTIMISER
    found = first(client, body)
    assert [len(each["on_faces"]) for each in found["strings"]] == [12]
    assert (found["shortest_string"], found["longest_string"]) == (None, None)
    assert "string_optimisers" in caution_codes(answer(client, body))


def test_a_string_below_the_start_voltage_fails(client: FlaskClient) -> None:
    found = first(client, with_strings(*BY_FACE, start_voltage_v=180))
    assert found["verdict"] == "fail"
    assert found["shortest_string"] == 6
    assert [each["verdict"] for each in found["strings"]] == ["caution", "fail"]
    assert found["comparison"] is None


def test_a_window_that_no_string_can_meet(client: FlaskClient) -> None:
    limits: dict[str, Any] = {
        "tracker_voltage_min_v": 545,
        "start_voltage_v": 548,
        "tracker_voltage_max_v": 550,
        "dc_voltage_max_v": 552,
    }
    for body in (with_strings(**limits), with_strings(*BY_FACE, **limits)):
        found = first(client, body)
        assert found["verdict"] == "fail"
        assert found["shortest_string"] is None
        assert found["longest_string"] is None
        assert "No number of modules" in found["obstacle"]
        assert found["comparison"] is None


def test_too_few_trackers_are_no_error(client: FlaskClient) -> None:
    """Of 12 modules, 300 V hold seven in a string."""
    found = first(client, with_strings(tracker_count=1, dc_voltage_max_v=300, tracker_voltage_max_v=300))
    assert found["strings"] == []
    assert "3 strings" in found["obstacle"]
    assert found["comparison"] is None


@pytest.mark.parametrize("strings", [(), BY_FACE])
def test_trackers_without_strings_are_fine(client: FlaskClient, strings: list[Any]) -> None:
    """Proposed strings take what trackers they can; given ones leave them as they are."""
    found = first(client, with_strings(*strings, tracker_count=12))
    assert found["obstacle"] is None
    assert [len(each["on_faces"]) for each in found["strings"]] == ([8, 4] if strings else [4, 4, 4])


def test_a_string_over_two_faces_costs_what_orientation_takes(client: FlaskClient) -> None:
    mixed = [[on(GARDEN, 1, 2, 3, 4), on(STREET, 2, 1)], [on(STREET, 3, 4), on(GARDEN, 8, 7, 6, 5)]]
    found = first(client, with_strings(*mixed, shade_tracker="local"))
    assert found["strings"][1]["on_faces"][:3] == [
        {"face_number": 1, "module_number": 3}, {"face_number": 1, "module_number": 4}, {"face_number": 0, "module_number": 8},
    ]  # fmt: skip
    by_cause = {each["cause"]: each for each in found["comparison"]["causes"]}
    assert by_cause["orientation"]["string_inverter_kwh"] > 50.0
    assert by_cause["orientation"]["microinverters_kwh"] == 0.0
    assert by_cause["shade"]["difference_kwh"] == pytest.approx(0.0, abs=1e-6)
    searching = first(client, with_strings(*mixed, shade_tracker="global"))
    assert searching["comparison"]["string_inverter_kwh"] > found["comparison"]["string_inverter_kwh"]


def test_a_string_holds_modules_of_one_kind_whatever_is_compared(client: FlaskClient) -> None:
    """All modules of a roof are of one kind: where several kinds are compared, each has the roof to itself.

    So no string can mix modules of unlike current, and strings are of the recommended pairing's modules.
    """
    body = with_strings(*BY_FACE)
    other = copy.deepcopy(body["modules"][0])
    other["module"] |= {"name": "Module 340", "power_w": 340, "current_mp_a": 10.59, "current_sc_a": 11.2}
    body["modules"] = [body["modules"][0] | {"price": 95}, other | {"price": 5}]
    whole = answer(client, body)
    assert whole["string_inverters"][0]["comparison"]["module"] == whole["recommendation"]["module"]
    names = {each["module"]["name"] for each in body["modules"]}
    assert len(names) == 2
    assert whole["string_inverters"][0]["comparison"]["module"] in names


def test_without_a_price_energy_is_compared(client: FlaskClient) -> None:
    body = changed(with_strings(), {f"{AT}/price": DELETED})
    compared = first(client, body)["comparison"]
    assert compared["money"] is None
    more = compared["microinverters_kwh"] > compared["string_inverter_kwh"]
    assert compared["better"] == ("microinverters" if more else "string_inverter")


@pytest.mark.parametrize(
    "changes",
    [
        {"/load_w": [400.0] * 24, "/export_limit_w": 2500, "/share_used_at_home": DELETED},
        {f"{AT}/inverter/ac_power_w": 2500, "/load_w": [400.0] * 24, "/share_used_at_home": DELETED},
        {f"{AT}/inverter/ac_phase_count": 3},
        {f"{AT}/inverter/european_efficiency_percent": DELETED, f"{AT}/inverter/efficiency_points": POINTS},
        {f"{AT}/optimiser": OPTIMISER},
        {f"{AT}/replacement_price": 700, f"{AT}/expected_life_years": 8.5, f"{AT}/warranty_years": 5, "/repair_days": 30},
        {"/repair_days": 0, f"{AT}/dc_cable_length_m": 0, f"{AT}/ac_cable_length_m": 0},
    ],
    ids=lambda changes: ", ".join(each.rsplit("/", 1)[-1] for each in changes),
)
def test_what_may_be_said_of_it_counts(client: FlaskClient, changes: Body) -> None:
    body = with_strings()
    plain, other = (first(client, changed(body, each))["comparison"] for each in ({}, changes))
    assert {name: plain[name] for name in ("string_inverter_kwh", "money")} != {
        name: other[name] for name in ("string_inverter_kwh", "money")
    }
    difference_kwh = other["microinverters_kwh"] - other["string_inverter_kwh"]
    assert sum(row["difference_kwh"] for row in other["causes"]) == pytest.approx(difference_kwh, abs=1e-6)


SHADE: Body = {"trees": [{
    "east_m": -4, "north_m": -8, "ground_up_m": -4.5, "height_m": 9, "crown_base_m": 2, "crown_diameter_m": 5,
}]}  # fmt: skip


def shaded_design() -> Body:
    """The example of a design with a tree before its larger face, and an inverter with trackers for all of it."""
    body = with_strings(operation_id="design_roof", tracker_count=4)
    body["faces"][0]["shade"] = SHADE
    return body


def test_a_design_compares_shaded_strings_and_repeats_itself(client: FlaskClient) -> None:
    body = shaded_design()
    whole = answer(client, body, "design_roof")
    assert answer(client, body, "design_roof") == whole
    (found,) = whole["selection"]["string_inverters"]
    causes = {each["cause"]: each for each in found["comparison"]["causes"]}
    assert causes["shade"]["difference_kwh"] > 5.0
    numbers = [each for string in found["strings"] for each in string["on_faces"]]
    assert len(numbers) == sum(face["module_count"] for face in whole["faces"])


def test_a_selection_gives_the_comparison_of_the_design(client: FlaskClient) -> None:
    """A design knows the circuits of the microinverters; without them and their parts it is the selection's comparison."""
    small = with_strings(*BY_FACE)
    names = ("site", "region", "currency", "modules", "faces", "string_inverters", "tariff", "share_used_at_home")
    shared: Body = {name: small[name] for name in names if name in small}
    shared |= {"candidates": small["candidates"][:1], "ac_cable_loss_share": 0.01, "horizon_years": 20}
    shared["region"] = "germany"
    of_selection = answer(client, shared)["string_inverters"][0]
    of_design = answer(client, shared, "design_roof")["selection"]["string_inverters"][0]
    assert of_design["strings"] == of_selection["strings"]
    assert of_design["comparison"]["energy_share"] == of_selection["comparison"]["energy_share"]
    assert of_design["comparison"]["causes"] == of_selection["comparison"]["causes"]
    assert of_design["comparison"]["money"] == of_selection["comparison"]["money"]


def test_answers_are_equal_on_repetition(client: FlaskClient) -> None:
    body = with_strings(*BY_FACE)
    one, other = (post(client, "select_microinverters", body).get_data() for _ in range(2))
    assert one == other
