"""The whole AC path and its grid connection: devices, board, phases, existing generation and procedures, region by region.

The cases of the trade review, sections A, B and C, with their clauses. No standard was opened: the clauses are named as
second-hand copies have them.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.contract.bodies import caution_codes
from tests.unit.circuits_api import Body, body_of, check, circuits_of, device, fit, order, plan, specifications

ROUTE_G98, ROUTE_G99 = "EREC G98, single premises", "EREC G99"
FAST_TRACK = "EREC G99, fast track with an export limit"
OPERATOR = "set by the network operator"


def phases(answer: Body) -> list[int]:
    return [phase["unit_count"] for phase in answer["connection"]["phases"]]


def filings(answer: Body) -> str:
    return "; ".join(filing["document"] for filing in answer["connection"]["filings"])


# Existing generation, trade review A6.


@pytest.mark.parametrize(
    ("existing", "route", "total_a"),
    [
        ([], ROUTE_G98, 9.6),
        ([{"name": "battery", "current_a": 6.4}], ROUTE_G98, 16.0),
        ([{"name": "battery", "current_a": 6.5}], ROUTE_G99, 16.1),
        ([{"current_a": 3.2}, {"name": "older array", "current_a": 3.3, "phase": 1}], ROUTE_G99, 16.1),
    ],
)
def test_existing_generation_counts_for_the_procedure(existing: list[Body], route: str, total_a: float) -> None:
    # EREC G98: 16 A per phase, summed over all generation and storage of the premises.
    answer = plan("great_britain", 6, existing_generation=existing)
    assert answer["connection"]["route"] == route
    (phase,) = answer["connection"]["phases"]
    assert phase["current_a"] == pytest.approx(total_a)
    assert phase["existing_a"] == pytest.approx(total_a - 9.6)
    assert answer["connection"]["power_total_va"] == pytest.approx(total_a * 230.0)


def test_existing_generation_counts_for_the_board() -> None:
    # BS 7671 551.7.2: 80 A and 9.6 A on 100 A, with a battery of 16 A 105.6 A.
    board = {"busbar_rating_a": 100, "main_device_a": 80}
    assert check(plan("great_britain", 6, **board), "board")["meets"] is True
    answer = plan("great_britain", 6, existing_generation=[{"current_a": 16}], **board)
    found = check(answer, "board")
    assert (found["value"], found["limit"], found["meets"]) == (pytest.approx(25.6), 20.0, False)
    assert "at most 2 units in all (4 A)" in found["explanation"]
    assert answer["verdict"] == "fail"


def test_existing_generation_counts_for_the_balance_of_phases() -> None:
    # VDE-AR-N 4100, 5.5: 4.6 kVA are 20 A at 230 V.
    # The nine units go to the other phases; all of one circuit off, or of the battery, leaves the difference that counts.
    existing = [{"name": "battery", "current_a": 20.5, "phase": 1}]
    answer = plan("germany", 9, phase_count=3, existing_generation=existing)
    assert phases(answer) == [0, 5, 4]
    found = check(answer, "difference between phases")
    assert (found["value"], found["meets"]) == (pytest.approx((20.5 - 4 * 1.6) * 230.0), True)
    found = check(answer, "difference between phases after a fault")
    assert (found["value"], found["meets"]) == (pytest.approx(20.5 * 230.0), False)
    assert answer["verdict"] == "fail"


def test_generation_beyond_the_main_device_fails() -> None:
    # IEC 60364-4-43, 433.1: 16 A and 20 A feed back through a main fuse of 25 A.
    answer = plan("netherlands", 10, main_device_a=25, busbar_rating_a=63, existing_generation=[{"current_a": 20}])
    assert check(answer, "board")["meets"] is True
    assert check(answer, "main device")["meets"] is False
    assert answer["verdict"] == "fail"


# Board, trade review A7.


@pytest.mark.parametrize(
    ("region", "main_a", "board_a", "pv_a", "meets", "out"),
    [
        ("great_britain", 100, 100, 16.0, False, ["a main device of 80 A", "a board rated 125 A"]),
        ("great_britain", 80, 100, 16.0, True, []),
        ("great_britain", 80, 100, 20.8, False, ["a main device of 63 A", "a board rated 125 A", "at most 12 units"]),
        ("netherlands", 40, 40, 16.0, False, ["a main device of 20 A", "a board rated 63 A"]),
        ("netherlands", 25, 40, 16.0, False, ["a main device of 20 A", "a board rated 63 A", "at most 9 units"]),
        ("netherlands", 25, 40, 14.4, True, []),
        ("netherlands", 35, 63, 25.6, True, []),
        ("germany", 63, 63, 16.0, False, ["a main device of 40 A", "a board rated 80 A"]),
        ("ireland", 63, 63, 16.0, False, ["a board rated 80 A"]),
        ("australia", 63, 63, 16.0, False, ["a board rated 80 A"]),
        ("international", 63, 80, 16.0, True, []),
        ("international", 63, 63, 16.0, False, ["a board rated 80 A"]),
    ],
)
def test_a_board_bears_its_main_device_and_all_generation(
    region: str, main_a: int, board_a: int, pv_a: float, meets: bool, out: list[str]
) -> None:
    # BS 7671 551.7.2 and its sisters in HD 60364-5-551, NEN 1010, VDE 0100-551, I.S. 10101 and AS/NZS 3000: InA >= In + Ig.
    answer = plan(region, round(pv_a / 1.6), device_rating_a=32, main_device_a=main_a, busbar_rating_a=board_a)
    found = check(answer, "board")
    assert found["value"] == pytest.approx(pv_a)
    assert (found["limit"], found["meets"]) == (board_a - main_a, meets)
    assert ("Ways out" in found["explanation"]) is not meets
    for each in out:
        assert each in found["explanation"]
    assert " 0 units" not in found["explanation"]
    assert answer["verdict"] == "fail" or meets


def test_without_the_ratings_of_the_board_the_answer_is_not_ok() -> None:
    answer = plan("great_britain", 9)
    found = check(answer, "board")
    assert (found["limit"], found["meets"]) == (None, None)
    assert "give busbar_rating_a and main_device_a" in found["explanation"]
    assert answer["verdict"] == "caution"


def test_a_small_system_with_everything_given_is_ok() -> None:
    answer = plan(
        "great_britain",
        9,
        main_device_a=60,
        busbar_rating_a=100,
        home_run_length_m=6.0,
        supply_length_m=2.0,
        units_per_trunk_max=10,
    )
    assert answer["verdict"] == "ok"
    assert all(each["meets"] for each in (*answer["cables"], *answer["connection"]["checks"]))


OPPOSITE: Body = {"busbar_fed_at_opposite_end": True}


def test_a_busbar_that_fails_has_every_lawful_way_out_with_its_figures() -> None:
    # Trade review B12: 24 units of 34.9 A together on a 200 A busbar behind 200 A. NEC 2023, 705.12(B)(2): 1.2 x 200 - 200
    # leaves 40 A, 1.25 x 34.9 are 43.6 A. Sum of breakers 705.12(B)(3), supply side 705.11, power control 705.13.
    answer = plan("united_states", 24, current_a=34.9 / 24, busbar_rating_a=200, main_device_a=200)
    elsewhere = check(answer, "board")
    # 705.12(B)(1): where the feed is not at the opposite end, 125 % and the main device are within the busbar.
    assert (elsewhere["limit"], elsewhere["meets"]) == (0.0, False)
    assert "a main device of 150 A" in elsewhere["explanation"]
    assert "at most 0" not in elsewhere["explanation"], "nothing is no way out"
    answer = plan("united_states", 24, current_a=34.9 / 24, **OPPOSITE | {"busbar_rating_a": 200, "main_device_a": 200})
    found = check(answer, "board")
    assert (found["value"], found["limit"], found["meets"]) == (pytest.approx(43.625), pytest.approx(40.0), False)
    assert "705.12(B)(2)" in found["source"]
    for way in (
        "a main device of 175 A, if the load permits it",
        "at most 22 units in all (32 A)",
        "155 A beside the system's 45 A (NEC 2023, 705.12(B)(3))",
        "behind its own device of 45 A (NEC 2023, 705.11)",
        "set to at most 32 A (NEC 2023, 705.13)",
        "opposite the main device",
    ):
        assert way in found["explanation"]
    assert answer["verdict"] == "fail"


@pytest.mark.parametrize(("units", "main_a", "meets"), [(22, 200, True), (23, 200, False), (24, 175, True)])
def test_the_ways_out_of_a_busbar_pass(units: int, main_a: int, meets: bool) -> None:
    board = OPPOSITE | {"busbar_rating_a": 200, "main_device_a": main_a}
    assert check(plan("united_states", units, current_a=34.9 / 24, **board), "board")["meets"] is meets


def test_the_opposite_end_of_the_busbar_is_a_way_out() -> None:
    # NEC 2023, 705.12(B)(2): 22 units of 32 A together fit at the opposite end, with the label.
    board = {"busbar_rating_a": 200, "main_device_a": 200}
    found = check(plan("united_states", 22, current_a=34.9 / 24, **board), "board")
    assert found["meets"] is False
    assert (
        "the feed at the end of the busbar opposite the main device, with the label there (120 % of its rating)"
        in found["explanation"]
    )


# Balance of phases, trade review A8 and B3.


@pytest.mark.parametrize(
    ("units", "current_a", "fields", "meets"),
    [
        (20, 1.0, {}, True),
        (21, 1.0, {}, False),
        (60, 1.0, {"phase_count": 3}, True),
        # 14, 13 and 13 units of 4 A: a circuit of five off would leave 6 units, 24 A, of difference; so four make a circuit.
        (40, 4.0, {"phase_count": 3, "device_rating_a": 40}, True),
        (8, 12.0, {"phase_count": 3, "device_rating_a": 40, "trunk_phase_count": 3}, False),
        (3, 12.0, {"phase_count": 3, "trunk_phase_count": 3}, True),
        (30, 3.0, {"phase_count": 3, "trunk_phase_count": 3, "unit_phase_count": 3}, True),
    ],
)
def test_in_germany_4_6_kva_hold_with_a_circuit_or_a_unit_off(units: int, current_a: float, fields: Body, meets: bool) -> None:
    # VDE-AR-N 4100, 5.5: 4.6 kVA between phases, also with a unit failed.
    answer = plan("germany", units, current_a=current_a, **fields)
    checks = [each for each in answer["connection"]["checks"] if each["name"].startswith("difference between phases")]
    assert all(each["meets"] for each in checks) is meets
    assert len(checks) == (2 if "phase_count" in fields else 1)
    assert all(each["limit"] == 4600.0 for each in checks)


@pytest.mark.parametrize(("units", "meets"), [(65, True), (66, None)])
def test_above_30_kva_germany_asks_for_protection_in_one_place(units: int, meets: bool | None) -> None:
    # VDE-AR-N 4105, 6.1: 30 kVA; 66 units of 460 VA are 30.36 kVA.
    answer = plan("germany", units, current_a=2.0, phase_count=3, trunk_phase_count=3, unit_phase_count=1, units_coupled=True)
    found = check(answer, "protection in the units")
    assert (found["limit"], found["meets"]) == (30000.0, meets)
    assert "4105" in found["source"]
    assert ("must be added" in found["explanation"]) is True
    assert answer["verdict"] != "ok"


@pytest.mark.parametrize(("fields", "meets"), [({}, False), ({"units_coupled": True}, None)])
def test_in_germany_more_than_13_8_kva_of_single_phase_units_must_be_coupled(fields: Body, meets: bool | None) -> None:
    # VDE-AR-N 4105, 6.1: 3 x 4.6 kVA; 39 units of 368 VA are 14.4 kVA.
    answer = plan("germany", 39, phase_count=3, **fields)
    found = [each["meets"] for each in answer["connection"]["checks"] if each["name"] == "single-phase units"]
    assert found == ([] if meets is None else [meets])


@pytest.mark.parametrize(
    ("units", "fields", "by_phase", "circuits"),
    [
        (10, {}, [3, 3, 4], 3),
        (15, {"device_rating_a": 32}, [5, 5, 5], 3),
        (15, {"trunk_phase_count": 3}, [5, 5, 5], 1),
        (45, {"trunk_phase_count": 3}, [15, 15, 15], 2),
        (6, {"trunk_phase_count": 3, "unit_phase_count": 3}, [6, 6, 6], 1),
    ],
)
def test_three_phases_are_used(units: int, fields: Body, by_phase: list[int], circuits: int) -> None:
    # Trade review B3: all units were on phase 1, 15.9 A and 23.9 A, and so on the wrong procedure.
    answer = plan("great_britain", units, current_a=1.59, phase_count=3, **fields)
    assert sorted(phases(answer)) == by_phase
    assert len(answer["circuits"]) == circuits
    assert answer["connection"]["route"] == (ROUTE_G98 if max(by_phase) * 1.59 <= 16.0 else ROUTE_G99)


def test_a_three_phase_trunk_is_behind_one_device_with_a_pole_for_each_phase() -> None:
    answer = plan("great_britain", 15, phase_count=3, trunk_phase_count=3, home_run_length_m=10.0)
    breaker = device(answer, "branch_breaker")
    assert (breaker["quantity"], breaker["poles"], breaker["rating_a"]) == (1, 3, 20.0)
    (circuit,) = answer["circuits"]
    assert (circuit["phases"], circuit["units_by_phase"], circuit["current_a"]) == ([1, 2, 3], [5, 5, 5], 8.0)
    assert {each["loaded_conductors"] for each in answer["cables"]} == {3}
    assert {each["design_current_a"] for each in answer["cables"]} == {10.0}
    assert device(plan("netherlands", 15, phase_count=3, trunk_phase_count=3), "branch_breaker")["poles"] == 4


def test_a_split_phase_supply_has_two_pole_breakers() -> None:
    # NEC 240.83 and 705.30: 240 V between two lines.
    breaker = device(plan("united_states", 10, current_a=1.45), "branch_breaker")
    assert (breaker["poles"], breaker["rating_a"]) == (2, 20.0)


# Devices as one orders them, trade review A9.


@pytest.mark.parametrize(
    ("region", "curve", "breaking_ka", "direction"),
    [
        ("great_britain", "B", 6.0, "BS 7671 530.3.201"),
        ("ireland", "B", 6.0, "both directions"),
        ("germany", "B", 6.0, "both directions"),
        ("netherlands", "B", 6.0, "both directions"),
        ("australia", "C", 6.0, "both directions"),
        ("international", "B", 6.0, "both directions"),
        ("united_states", None, 10.0, "NEC 705.30(D)"),
    ],
)
def test_breakers_have_all_that_an_order_needs(region: str, curve: str | None, breaking_ka: float, direction: str) -> None:
    answer = plan(region, 20, current_a=1.2)
    found = device(answer, "branch_breaker")
    assert (found["quantity"], found["rating_a"], found["poles"]) == (len(answer["circuits"]), 20.0, 2)
    assert (found["curve"], found["breaking_capacity_ka"], found["is_bidirectional"]) == (curve, breaking_ka, True)
    assert direction in found["source"]
    main = device(answer, "pv_main_breaker")
    assert (main["quantity"], main["is_bidirectional"], main["curve"]) == (1, True, curve)
    assert main["rating_a"] >= 1.25 * 24.0
    words = "20 A, 2 poles, " + (f"curve {curve}, " if curve else "") + f"{breaking_ka:g} kA, bidirectional"
    assert specifications(order(region, 20, current_a=1.2), "branch_circuit_protective_device") == {words}


REGIONS_WITH_RESIDUAL_CURRENT = ("australia", "germany", "great_britain", "international", "ireland", "netherlands")


@pytest.mark.parametrize("region", REGIONS_WITH_RESIDUAL_CURRENT)
def test_a_residual_current_device_is_there_only_where_it_is_asked_for(region: str) -> None:
    # IET code of practice on PV 8.8: no fundamental need of one, and none shared with other circuits; TT: BS 7671 411.5.
    units = {"faces": body_of(region, 9, 9)["faces"]}
    assert "residual_current_device" not in {each["role"] for each in plan(region, **units)["devices"]}
    assert specifications(order(region, **units), "residual_current_device") == set()
    tt, asked_for = {"earthing": "tt"}, {"residual_current_device_asked": True}
    for asked in (tt, asked_for, tt | asked_for):
        answer = plan(region, **units, **asked)
        found = device(answer, "residual_current_device")
        assert found["quantity"] == 1, "one for all circuits of the system"
        assert len(answer["circuits"]) > 1
        assert "no other circuit" in found["protects"]
        assert ("(TT)" in found["protects"]) is ("earthing" in asked)
        assert (found["residual_current_ma"], found["poles"], found["is_bidirectional"]) == (30.0, 2, True)
        assert found["rating_a"] >= 1.25 * 28.8


@pytest.mark.parametrize(("declared", "kind"), [(False, "B"), (True, "A")])
def test_the_type_of_residual_current_follows_the_declaration(declared: bool, kind: str) -> None:
    # BS 7671 712.531.3.5.1: type B unless the unit separates, or its maker declares that no DC current can arise.
    bill = order("great_britain", 9, earthing="tt", no_dc_fault_current_declared=declared)
    assert specifications(bill, "residual_current_device") == {f"25 A, 2 poles, 30 mA, type {kind}, bidirectional"}
    three = order("great_britain", 9, earthing="tt", no_dc_fault_current_declared=declared, phase_count=3)
    assert specifications(three, "residual_current_device") == {f"25 A, 4 poles, 30 mA, type {kind}, bidirectional"}


def test_in_the_united_states_a_residual_current_device_is_there_only_where_the_maker_asks() -> None:
    assert "residual_current_device" not in {each["role"] for each in plan("united_states", 9)["devices"]}
    answer = plan("united_states", 9, residual_current_device_asked=True)
    # The code names no type: that which takes every residual current.
    assert device(answer, "residual_current_device")["residual_current_type"] == "B"


@pytest.mark.parametrize(
    ("region", "units", "rating_a"),
    # IEC 60947-3 makes 20, 32, 40 and 63 A, American safety switches 30, 60, 100 and 200 A; 45 A is none of them.
    [("great_britain", 9, 20.0), ("great_britain", 22, 63.0), ("united_states", 9, 30.0), ("united_states", 22, 60.0)],
)
def test_isolators_take_ratings_that_are_made(region: str, units: int, rating_a: float) -> None:
    assert device(plan(region, units), "isolator")["rating_a"] == rating_a


# Voltage rise and spacing, trade review B6 and B7.


@pytest.mark.parametrize(
    ("length_m", "share", "meets"),
    [(11, 0.0099, True), (12, 0.0107, False), (19, 0.016, False), (31, 0.0252, False), (36, 0.029, False)],
)
def test_a_voltage_rise_above_1_percent_is_marked(length_m: int, share: float, meets: bool) -> None:
    # Common practice inside a house; the limit was "set by the network operator", and 1.6 to 2.9 % passed without a mark.
    answer = plan(
        "netherlands", 9, current_a=1.1, home_run_length_m=length_m, home_run_size="2.5 mm2", trunk_feed="centre",
        home_run_installation={"method": "clipped_direct"}, main_device_a=25, busbar_rating_a=63,
    )  # fmt: skip
    (rise,) = answer["rises"]
    assert rise["total_share"] == pytest.approx(share, abs=0.0001)
    assert rise["meets_limit"] is meets
    assert answer["rise_limit_share"] == 0.01
    assert answer["rise_limit_source"].startswith("no published limit inside the house: 1 %")
    assert ("above_rise_limit" in caution_codes(answer)) is not meets
    assert answer["verdict"] == ("ok" if meets else "caution")


def test_the_australian_limit_on_the_voltage_rise_is_2_percent() -> None:
    answer = plan("australia", 9)
    assert (answer["rise_limit_share"], "AS/NZS 4777.1" in answer["rise_limit_source"]) == (0.02, True)


@pytest.mark.parametrize("modules_per_unit", [1, 2, 4])
def test_units_of_several_modules_are_that_much_further_apart(modules_per_unit: int) -> None:
    # Trade review B7: 1.8 m from unit to unit, whatever modules_per_unit.
    body = body_of("great_britain", 4 * modules_per_unit, modules_per_unit=modules_per_unit)
    (face,) = body["faces"]
    apart = body | {"faces": [face | {"unit_spacing_m": 1.8 * modules_per_unit}]}
    assert circuits_of(body)["rises"] == circuits_of(apart)["rises"]
    # Units at 0, 1, 2 and 3 spacings: 6 of them; 2.5 mm2 at 70 degC.
    expected = 2.0 * 1.6 * 6 * 1.8 * modules_per_unit * 7.41e-3 * (1.0 + 0.00393 * 50.0)
    assert circuits_of(body)["rises"][0]["trunk_end_fed_v"] == pytest.approx(expected)


# Procedures by region, trade review C.


def test_nine_units_stay_within_notify_only() -> None:
    answer = plan("great_britain", 12, current_a=1.7)
    found = fit(answer, ROUTE_G98)
    assert (found["units_most"], found["asks_nobody"], found["applies"]) == (9, True, False)
    assert "up to 9 units of 1.7 A stay within it" in found["explanation"]
    within = plan("great_britain", 9, current_a=1.7)
    assert fit(within, ROUTE_G98)["applies"] is True
    assert within["connection"]["route"] == ROUTE_G98


def test_great_britain_asks_for_the_register_of_type_tested_units() -> None:
    answer = plan("great_britain", 9)
    assert "register of type-tested equipment" in filings(answer)
    assert "28 days" in answer["connection"]["filings"][1]["when"]
    documents = {
        line["specification"] for line in order("great_britain", 9)["lines"] if line["role"] == "commissioning_document"
    }
    assert any("installer scheme" in (document or "") for document in documents)


@pytest.mark.parametrize(
    ("units", "export_a", "route"),
    [
        (20, 16, FAST_TRACK),
        (20, 0, FAST_TRACK),
        (20, 16.5, ROUTE_G99),
        (20, None, ROUTE_G99),
        (21, 16, ROUTE_G99),
        (10, 16, ROUTE_G98),
    ],
)
def test_an_export_limit_opens_the_british_fast_track(units: int, export_a: float | None, route: str) -> None:
    # EREC G99 fast track: at most 32 A per phase, of which at most 16 A are let out by a scheme of EREC G100.
    limit: Body = {} if export_a is None else {"export_limit_per_phase_a": export_a}
    answer = plan("great_britain", units, device_rating_a=50, **limit)
    assert answer["connection"]["route"] == route
    fast = fit(answer, FAST_TRACK)
    assert (fast["units_most"], fast["asks_nobody"]) == (20, False)
    assert "export limit of at most 16 A" in fast["explanation"]
    assert ("G100" in filings(answer)) is (route == FAST_TRACK)


@pytest.mark.parametrize(("units", "route"), [(2, "plug-in system up to 800 VA"), (3, "within 4.6 kVA on each phase")])
def test_two_modules_in_germany_are_a_plug_in_system(units: int, route: str) -> None:
    # Law of 2024 on plug-in systems: 800 VA; two modules got a connection request.
    answer = plan("germany", units, current_a=1.7, plug_in=True)
    assert answer["connection"]["route"] == route
    plug_in = fit(answer, "plug-in system up to 800 VA")
    assert (plug_in["units_most"], plug_in["asks_nobody"]) == (2, True)
    assert ("connection request" in filings(answer)) is (units > 2)
    assert "public register" in filings(answer)


@pytest.mark.parametrize("current_a", [1.0, 2.0])
def test_germany_says_that_three_phases_have_three_times_4_6_kva_and_that_feed_in_is_capped(current_a: float) -> None:
    # VDE-AR-N 4100, 5.5; law of 2025-02-25 on feed-in: 60 % of the modules' power without a control box.
    answer = plan("germany", 60, current_a=current_a, phase_count=3)
    allows = answer["connection"]["allows"]
    assert "at most 60 %" in allows
    assert "2025" in allows
    if current_a == 1.0:
        assert answer["connection"]["route"] == "within 4.6 kVA on each phase"
        assert "13.8 kVA on three" in allows
        assert fit(answer, "within 4.6 kVA on each phase")["units_most"] == 60
    else:
        assert answer["connection"]["route"] == "three-phase above 4.6 kVA per phase"
        assert fit(answer, "within 4.6 kVA on each phase")["units_most"] == 30


@pytest.mark.parametrize(
    ("region", "units", "fields", "route", "says"),
    [
        (
            "netherlands",
            9,
            {},
            "small connection up to 3 x 80 A: connect and register",
            ["ends after 2026", "group of its own"],
        ),
        ("ireland", 15, {}, "NC6, single-phase", ["25 A single-phase"]),
        ("ireland", 16, {}, "NC7, single-phase", ["17 kVA, 72 A"]),
        ("ireland", 31, {"phase_count": 3}, "NC7, three-phase", ["50 kVA"]),
        ("ireland", 136, {"phase_count": 3}, "application above NC7", []),
        ("australia", 13, {}, "small system within 5 kVA on each phase", ["5 kVA on each phase"]),
        ("australia", 14, {}, "larger small system, single-phase", ["10 kVA on one phase", "export"]),
        ("australia", 60, {"phase_count": 3}, "larger small system, three-phase", ["30 kVA on three phases"]),
        ("australia", 30, {}, OPERATOR, []),
        ("united_states", 26, {}, "simplified interconnection, level 1", ["10 kW", "UL 1741", "IEEE 1547"]),
        ("united_states", 27, {}, "fast track, level 2", ["screens"]),
        ("international", 9, {}, OPERATOR, []),
    ],
)
def test_procedures_by_region(region: str, units: int, fields: Any, route: str, says: list[str]) -> None:
    answer = plan(region, units, **fields)
    assert answer["connection"]["route"] == route
    assert answer["connection"]["edition"]
    for each in says:
        assert each in answer["connection"]["allows"]
    assert filings(answer)


@pytest.mark.parametrize(
    ("region", "document", "when"),
    [
        ("netherlands", "registration of the system", "before or at once after it feeds in"),
        ("australia", "public list of approved inverters", "before ordering"),
        ("united_states", "simplified interconnection application", "permission to operate"),
        ("ireland", "form NC6", "before installation"),
    ],
)
def test_documents_by_region(region: str, document: str, when: str) -> None:
    sent = {filing["document"]: filing["when"] for filing in plan(region, 9)["connection"]["filings"]}
    (found,) = [due for name, due in sent.items() if document in name]
    assert when in found


@pytest.mark.parametrize(
    ("region", "route", "most"),
    [
        ("great_britain", ROUTE_G98, 10),
        ("ireland", "NC6, single-phase", 15),
        ("ireland", "NC7, single-phase", 45),
        ("germany", "within 4.6 kVA on each phase", 12),
        ("netherlands", "small connection up to 3 x 80 A: connect and register", 50),
        ("australia", "small system within 5 kVA on each phase", 13),
        ("united_states", "simplified interconnection, level 1", 26),
    ],
)
def test_the_largest_design_within_a_procedure_is_the_largest(region: str, route: str, most: int) -> None:
    assert fit(plan(region, 9), route)["units_most"] == most
    assert plan(region, most, device_rating_a=100)["connection"]["route"] == route
    assert plan(region, most + 1, device_rating_a=100)["connection"]["route"] != route
