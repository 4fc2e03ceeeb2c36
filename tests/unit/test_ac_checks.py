"""What the answer says of the voltage rise, replaced cables, the board, line conductors, fixings and cautions by place."""

from __future__ import annotations

from typing import Any

import pytest

from tests.contract.bodies import caution_codes
from tests.unit.circuits_api import Body, check, order, plan
from wattpair_service.engineering.sentences import LANGUAGES
from wattpair_service.rules import connection_rules, region_data, regions

RUN: Body = {"home_run_length_m": 36, "home_run_size": "2.5 mm2", "home_run_installation": {"method": "clipped_direct"}}


@pytest.mark.parametrize(
    ("region", "limit", "verdict", "is_binding"),
    [
        # Common practice, 1 %: a caution. AS/NZS 4777.1, 2 %, and a limit that the request sets: what is above it fails.
        ("netherlands", None, "caution", False),
        ("australia", None, "fail", True),
        ("netherlands", 0.02, "fail", True),
        ("netherlands", 0.05, "ok", True),
    ],
)
def test_the_highest_voltage_rise_is_a_check(region: str, limit: float | None, verdict: str, is_binding: bool) -> None:
    given = {} if limit is None else {"voltage_rise_limit_share": limit}
    answer = plan(region, 9, current_a=1.1, main_device_a=25, busbar_rating_a=63, **RUN, **given)
    found = check(answer, "voltage rise")
    assert (found["value"], found["unit"]) == (answer["rise_highest_share"], "share")
    assert (found["limit"], found["source"]) == (answer["rise_limit_share"], answer["rise_limit_source"])
    assert (found["is_binding"], found["meets"]) == (is_binding, verdict == "ok")
    assert found["explanation"] == f"circuit 1: {answer['rises'][0]['explanation']}"
    assert answer["verdict"] == verdict
    assert ("check_fails" in caution_codes(answer)) is (verdict == "fail")
    assert ("a home run of" in found["explanation"]) is (verdict != "ok")


def test_the_rise_is_that_of_the_conductors_that_are_ordered() -> None:
    # 1.5 mm2 carries 4.1 A so, and 25 mm2 is ordered: the electrician's case, with nine circuits together at 60 degC.
    run: Body = {
        "current_a": 3.4,
        "home_run_length_m": 20,
        "home_run_installation": {"method": "conduit_on_wall", "ambient_c": 60, "circuits_together": 9},
    }
    bill = order("great_britain", 3, home_run_size="1.5 mm2", **run)
    answer = plan("great_britain", 3, home_run_size="1.5 mm2", **run)
    (rise,) = answer["rises"]
    (ordered,) = (line["specification"] for line in bill["lines"] if line["role"] == "home_run_cable")
    assert ordered == "3 x 25 mm2, single wires"
    assert rise["home_run_size"] == "25 mm2"
    as_ordered = plan("great_britain", 3, home_run_size="25 mm2", **run)
    assert rise["total_v"] == as_ordered["rises"][0]["total_v"]
    assert rise["rated_loss_share"] == as_ordered["rises"][0]["rated_loss_share"]
    # Ohm: 1.5 mm2 has 12.1 ohm/km and 25 mm2 0.727 ohm/km at 20 degC (IEC 60228).
    trunk_share = rise["trunk_v"] / 230.0
    home_run_share = rise["home_run_v"] / 230.0
    assert rise["total_share_as_given"] == pytest.approx(trunk_share + home_run_share * 12.1 / 0.727, rel=1e-6)
    assert f"{100.0 * rise['total_share_as_given']:.2f} %" in rise["explanation"]
    assert as_ordered["rises"][0]["total_share_as_given"] is None


def test_a_replaced_trunk_and_supply_cable_count_as_ordered() -> None:
    thin: Body = {"trunk_size": "1.5 mm2", "trunk_installation": {"method": "free_air", "ambient_c": 80}, "main_device_a": 63,
            "supply_length_m": 10, "supply_size": "4 mm2"}  # fmt: skip
    answer = plan("germany", 9, **thin)
    sizes = {each["cable"]: each["smallest_size"] for each in answer["cables"]}
    as_ordered = plan("germany", 9, **thin | {"trunk_size": sizes["trunk"], "supply_size": sizes["supply cable"]})
    assert answer["rises"][0]["total_v"] == as_ordered["rises"][0]["total_v"]
    assert answer["rises"][0]["total_share_as_given"] > answer["rises"][0]["total_share"]


def test_the_american_board_names_the_opposite_end_with_what_it_allows() -> None:
    # NEC 705.12(B)(1) where the feed is not at the end; 705.12(B)(2) there: 1.2 x 200 - 200 = 40 A, / 1.25 = 32 A, 20 units.
    board = {"busbar_rating_a": 200, "main_device_a": 200}
    answer = plan("united_states", 45, **board)
    found = check(answer, "board")
    assert (
        "the main device, with the label there (120 % of its rating), with at most 20 units in all (32 A)"
        in found["explanation"]
    )
    assert "705.12(B)(1)" in found["source"]
    assert "705.12(B)(2)" in check(plan("united_states", 20, busbar_fed_at_opposite_end=True, **board), "board")["source"]
    alone = check(plan("united_states", 20, **board), "board")["explanation"]
    assert "(120 % of its rating);" in alone


def test_the_main_device_has_the_clause_of_its_place() -> None:
    board = {"busbar_rating_a": 200, "main_device_a": 100}
    clauses = {"united_states": "NEC 2023, 705.28", "great_britain": "BS 7671", "international": "IEC 60364-4-43"}
    assert [
        region for region, clause in clauses.items() if clause not in check(plan(region, 4, **board), "main device")["source"]
    ] == []


@pytest.mark.parametrize(
    ("region", "phase_count", "trunk_phases", "expected"),
    [
        ("united_states", 1, 1, ["L1-L2"]),
        ("great_britain", 1, 1, ["L1"]),
        ("germany", 3, 1, ["L1", "L2", "L3"]),
        ("germany", 3, 3, ["L1, L2, L3"]),
    ],
)
def test_line_conductors_are_named_as_the_supply_has_them(
    region: str, phase_count: int, trunk_phases: int, expected: list[str]
) -> None:
    answer = plan(region, 3 if trunk_phases > 1 else 6, phase_count=phase_count, trunk_phase_count=trunk_phases)
    assert sorted({each["line_conductors"] for each in answer["circuits"]}) == expected


@pytest.mark.parametrize(
    ("fields", "methods"),
    [
        ({}, None),
        ({"home_run_length_m": 10, "home_run_installation": {"method": "conduit_on_wall"}}, "conduit on wall"),
        ({"home_run_length_m": 10, "home_run_installation": {"method": "free_air"}}, None),
        ({"home_run_length_m": 10, "home_run_size": "4 mm2", "home_run_ampacity_a": 30}, None),
    ],
)
def test_conduit_and_clips_that_are_not_ordered_are_named(fields: Body, methods: str | None) -> None:
    for answer in (plan("germany", 6, **fields), order("germany", 6, **fields)):
        found = [each for each in answer["cautions"] if each["code"] == "cable_fixings"]
        assert [(each["reader"], each["task"]) for each in found] == ([("electrician", "order")] if methods else [])
        assert all(methods is not None and methods in each["text"] for each in found)


def test_rapid_shutdown_is_a_caution_only_where_the_rules_ask_for_it() -> None:
    assert [region for region in regions() if connection_rules(region).asks_rapid_shutdown] == ["united_states"]
    assert {region for region in regions() if "rapid_shutdown" in caution_codes(order(region, 6))} == {"united_states"}


def test_a_residual_current_device_has_its_caution_only_where_one_is_ordered() -> None:
    assert "residual_current" not in caution_codes(plan("germany", 6))
    assert "residual_current" in caution_codes(plan("germany", 6, earthing="tt"))


@pytest.mark.parametrize("region", regions())
def test_how_a_rule_was_obtained_is_said_in_every_language(region: str) -> None:
    def obtained(node: Any) -> list[Any]:
        if isinstance(node, list):
            return [each for inner in node for each in obtained(inner)]
        if not isinstance(node, dict):
            return []
        own = [node["obtained"]] if "obtained" in node else []
        return own + [each for inner in node.values() for each in obtained(inner)]

    found = obtained(region_data(region))
    assert found
    assert [each for each in found if not isinstance(each, dict) or set(each) != set(LANGUAGES)] == []
