"""Every cable is protected by its circuit breaker as it is installed, or the answer says fail.

The cases of the trade review, section A, with their clauses, and what holds for every request. No standard was opened: the
clauses are named as second-hand copies have them.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from math import floor
from typing import Any

import pytest
from hypothesis import assume, given, strategies as st

from tests.builders import numbers
from tests.contract.bodies import caution_codes
from tests.unit.circuits_api import (
    Body,
    bill_of,
    body_of,
    cable,
    check,
    circuits_of,
    device,
    order,
    plan,
    refused,
    specifications,
)
from wattpair_service.rules import region_data, regions

EVERY_REGION = pytest.mark.parametrize("region", regions())
RUNS = {"trunk": "trunk", "home run": "home_run", "system cable": "system_cable", "supply cable": "supply"}


@pytest.mark.parametrize(
    ("installation", "smallest", "clause"),
    [
        (None, "16 mm2", "BS 7671 433.1.1; Table 4D5, method 101: 46 A, assumed as the worst common one"),
        ("clipped_direct", "6 mm2", "BS 7671 433.1.1; Table 4D5, method C: 47 A"),
        ("surrounded_by_insulation", "16 mm2", "BS 7671 433.1.1; Table 4D5, method 103: 42.5 A"),
    ],
)
def test_a_cable_thinner_than_its_breaker_allows_fails_and_is_not_ordered(
    installation: str | None, smallest: str, clause: str
) -> None:
    # Trade review A1: Great Britain, 20 units of 1.6 A behind 40 A with 2.5 mm2 passed without a check.
    body = body_of(
        "great_britain", 20, device_rating_a=40, trunk_size="2.5 mm2", home_run_size="2.5 mm2", home_run_length_m=15.0
    )
    if installation is not None:
        body["home_run_installation"] = {"method": installation}
    answer = circuits_of(body)
    assert answer["verdict"] == "fail"
    trunk, home_run = cable(answer, "trunk"), cable(answer, "home run")
    # IEC 60364-5-52 Table B.52.12: 36 A for 2.5 mm2 times 0.71 at 60 degC; 63 A for 6 mm2 give 44.7 A.
    assert (trunk["capacity_a"], trunk["meets"], trunk["smallest_size"]) == (pytest.approx(25.56), False, "6 mm2")
    assert (home_run["meets"], home_run["smallest_size"]) == (False, smallest), clause
    assert (home_run["design_current_a"], home_run["device_rating_a"]) == (40.0, 40.0)
    assert f"{smallest} is protected" in home_run["explanation"]
    assert "cable_fails" in caution_codes(answer)
    assert any("assumed: trunk" in each["text"] for each in answer["cautions"])
    bill = bill_of(body)
    assert specifications(bill, "trunk_cable_section") == {"3 x 6 mm2, drops every 1.3 m, portrait"}
    assert specifications(bill, "home_run_cable") == {f"3 x {smallest}"}
    assert "cable_fails" in caution_codes(bill)


@pytest.mark.parametrize(
    ("installation", "smallest", "clause"),
    [
        ("clipped_direct", "16 mm2", "AS/NZS 3000 2.5.3; AS/NZS 3008.1.1 Table 10: 80 A, 10 mm2 has 60 A"),
        ("surrounded_by_insulation", "35 mm2", "AS/NZS 3000 2.5.3; AS/NZS 3008.1.1 Table 10: 65 A"),
    ],
)
def test_no_thin_cable_is_ordered_behind_63_a_in_australia(installation: str, smallest: str, clause: str) -> None:
    # Trade review A1: 63 A with 1.5 mm2 was ordered.
    fields: dict[str, Any] = {
        "device_rating_a": 63, "trunk_size": "1.5 mm2", "home_run_size": "1.5 mm2", "home_run_length_m": 10.0,
        "home_run_installation": {"method": installation},
    }  # fmt: skip
    answer = plan("australia", 31, **fields)
    assert answer["verdict"] == "fail"
    assert [(each["meets"], each["cable"]) for each in answer["cables"]] == [(False, "trunk"), (False, "home run")]
    assert cable(answer, "home run")["smallest_size"] == smallest, clause
    assert specifications(order("australia", 31, **fields), "home_run_cable") == {f"3 x {smallest}"}


@pytest.mark.parametrize(
    ("installation", "capacity_a", "smallest"),
    # BS 7671 Table 4D5, methods 101 and 103: 17 A and 13.5 A; 4 mm2 has 22 A, 6 mm2 23.5 A.
    [("above_ceiling_thick_insulation", 17.0, "4 mm2"), ("surrounded_by_insulation", 13.5, "6 mm2")],
)
def test_in_the_insulation_of_a_loft_20_a_is_too_much_for_2_5_mm2(installation: str, capacity_a: float, smallest: str) -> None:
    answer = plan(
        "great_britain", 10, home_run_size="2.5 mm2", home_run_length_m=10.0, home_run_installation={"method": installation}
    )
    home_run = cable(answer, "home run")
    assert (home_run["capacity_a"], home_run["meets"], home_run["smallest_size"]) == (capacity_a, False, smallest)
    assert installation.replace("_", " ") in home_run["installation"]
    assert answer["verdict"] == "fail"


def test_a_supply_cable_is_not_judged_without_its_device() -> None:
    answer = plan("great_britain", 9, supply_size="10 mm2", supply_length_m=5.0)
    supply = cable(answer, "supply cable")
    assert (supply["device_rating_a"], supply["meets"], supply["smallest_size"]) == (None, None, None)
    assert "give main_device_a" in supply["explanation"]
    assert answer["verdict"] == "caution"
    assert specifications(order("great_britain", 9, supply_size="10 mm2", supply_length_m=5.0), "supply_cable") == set()


def test_the_cables_of_the_system_are_protected_by_its_main_device_and_that_of_the_house() -> None:
    # Trade review A2: 14 AWG carrying 34.9 A passed, and no main device existed. NEC 240.4(D)(3): 15 A behind 14 AWG;
    # 705.28(A): 1.25 x 34.9 A = 43.6 A, so 45 A (240.6(A)); Table 310.16, 60 degC: 8 AWG has 40 A, 6 AWG 55 A.
    fields = {f"{name}_size": "14 AWG" for name in ("system_cable", "supply")} | {"system_cable_length_m": 5.0}
    answer = plan("united_states", 24, current_a=34.9 / 24, main_device_a=175, **fields)
    system, main = cable(answer, "system cable"), device(answer, "pv_main_breaker")
    assert system["design_current_a"] == pytest.approx(43.625)
    assert (main["rating_a"], main["quantity"], main["poles"], main["breaking_capacity_ka"]) == (45.0, 1, 2, 10.0)
    assert (system["device_rating_a"], system["meets"], system["smallest_size"]) == (45.0, False, "6 AWG")
    # The supply cable carries household load too: the main device of the house protects it; 2/0 AWG has 175 A at 75 degC.
    supply = cable(answer, "supply cable")
    assert (supply["device_rating_a"], supply["meets"], supply["smallest_size"]) == (175.0, False, "2/0 AWG")
    assert answer["verdict"] == "fail"
    bill = order("united_states", 24, current_a=34.9 / 24, main_device_a=175, **fields)
    assert specifications(bill, "system_cable") == {"3 x 6 AWG, single wires"}
    assert specifications(bill, "supply_cable") <= {"4 x 2/0 AWG, single wires"}
    assert specifications(bill, "system_circuit_breaker") == {"45 A, 2 poles, 10 kA, bidirectional"}
    assert {"sub_board", "ac_isolator"} <= {line["role"] for line in bill["lines"]}


def test_without_sizes_every_cable_is_the_smallest_that_is_protected() -> None:
    # NEC 310.15(B)(1) at 50 degC 0.82; two circuits 4 conductors, 0.80: 12 AWG 30 x 0.656 = 19.7 A, 10 AWG 26.2 A.
    answer = plan("united_states", 24, current_a=34.9 / 24, home_run_length_m=2.0, system_cable_length_m=2.0)
    assert len(answer["circuits"]) == 3
    assert all(each["meets"] for each in answer["cables"])
    assert {each["size"] for each in answer["cables"] if each["cable"] == "home run"} == {"10 AWG"}


@pytest.mark.parametrize(("size", "main_a"), [("16 mm2", 80), ("35 mm2", 100), ("95 mm2", 100)])
def test_thick_tails_can_be_entered(size: str, main_a: int) -> None:
    # Trade review B7: the tables ended at 10 mm2. BS 7671 Table 4D5 and 4D2A, method C: 85, 138 and 258 A.
    answer = plan("great_britain", 9, supply_size=size, supply_length_m=10.0, main_device_a=main_a)
    assert cable(answer, "supply cable")["meets"] is True


def test_thick_american_tails_can_be_entered() -> None:
    # NEC Table 310.16, 75 degC above 100 A: 4/0 AWG has 230 A.
    answer = plan("united_states", 9, supply_size="4/0 AWG", supply_length_m=10.0, busbar_rating_a=225, main_device_a=225)
    supply = cable(answer, "supply cable")
    assert (supply["device_rating_a"], supply["capacity_a"], supply["meets"]) == (225.0, 230.0, True)


@pytest.mark.parametrize(
    ("fields", "pointer", "says"),
    [
        (
            {"home_run_size": "4 mm2", "home_run_ampacity_a": 20, "home_run_installation": {"method": "free_air"}},
            "/home_run_installation",
            "either home_run_ampacity_a",
        ),
        (
            {"trunk_size": "2.5 mm2", "trunk_ampacity_a": 20, "trunk_installation": {"ambient_c": 40}},
            "/trunk_installation",
            "either trunk_ampacity_a",
        ),
        ({"supply_ampacity_a": 20}, "/supply_size", "required where supply_ampacity_a is given"),
        ({"trunk_ampacity_a": 20}, "/trunk_size", "required where trunk_ampacity_a is given"),
        ({"home_run_size": "1.5 mm2", "home_run_ampacity_a": 90}, "/home_run_ampacity_a", "the most that the table bs_7671_70"),
        (
            {"home_run_installation": {"method": "in_ground"}},
            "/home_run_installation/method",
            "the ways of installing in the table bs_7671_70",
        ),
        ({"home_run_installation": {"method": "buried"}}, "/home_run_installation/method", "free_air"),
        ({"home_run_installation": {"ambient_c": 81}}, "/home_run_installation/ambient_c", "80"),
        ({"home_run_installation": {"ambient_c": -20}}, "/home_run_installation/ambient_c", "10"),
        ({"home_run_installation": {"circuits_together": 0}}, "/home_run_installation/circuits_together", "1"),
        ({"home_run_size": "3 mm2"}, "/home_run_size", '"2.5 mm2", "4 mm2"'),
        ({"device_rating_a": 45}, "/device_rating_a", "50 A, the next that is made"),
        ({"device_rating_a": 35}, "/device_rating_a", "40 A, the next that is made"),
        ({"busbar_rating_a": 80, "main_device_a": 100}, "/busbar_rating_a", "at least the rating of the main device"),
        ({"existing_generation": [{"current_a": 5}, {"current_a": 5, "phase": 2}]}, "/existing_generation/1/phase", "1 to 1"),
        (
            {"phase_count": 3, "existing_generation": [{"current_a": 5, "phase": 4}]},
            "/existing_generation/0/phase",
            "3",
        ),
        ({"unit_phase_count": 3}, "/unit_phase_count", "1: the phases of the supply"),
        ({"trunk_phase_count": 3}, "/trunk_phase_count", "1: the phases of the supply"),
        ({"phase_count": 3, "unit_phase_count": 2}, "/unit_phase_count", "1 or 3: the phases of the supply"),
    ],
)
def test_a_contradictory_installation_is_refused_with_what_is_allowed(fields: dict[str, Any], pointer: str, says: str) -> None:
    allowed = refused("great_britain", 9, **fields)
    assert list(allowed) == [pointer]
    assert says in allowed[pointer]


@pytest.mark.parametrize(
    ("rating_a", "says"),
    # NEC 240.6(A): 32 A is not an American rating; 16 A neither.
    [(32, "35 A, the next that is made"), (16, "20 A, the next that is made")],
)
def test_a_rating_that_is_not_made_in_the_united_states_names_the_next(rating_a: int, says: str) -> None:
    assert says in refused("united_states", 5, device_rating_a=rating_a)["/device_rating_a"]


def test_a_factor_below_that_of_the_code_is_refused_where_it_is_code() -> None:
    # NEC 690.9(B) and 705.28: 125 % of the continuous output current; 80 % of a device is custom elsewhere.
    assert "at least 1.25" in refused("united_states", 5, continuous_current_factor=1.0)["/continuous_current_factor"]
    assert plan("great_britain", 5, continuous_current_factor=1.0)["unit_count"] == 5


@pytest.mark.parametrize(
    ("fields", "meets"),
    [({}, None), ({"branch_device_max_a": 32}, True), ({"branch_device_max_a": 25}, False)],
)
def test_a_breaker_above_20_a_is_checked_against_what_units_and_trunk_allow(fields: Body, meets: bool | None) -> None:
    answer = plan("great_britain", 9, device_rating_a=32, **fields)
    assert check(answer, "circuit breaker of a circuit")["meets"] is meets
    assert (answer["verdict"] == "fail") is (meets is False)
    assert "branch_device_max_a" in check(answer, "circuit breaker of a circuit")["explanation"] or meets is not None


@pytest.mark.parametrize(
    ("impedance_ohm", "length_m", "meets"),
    # BS 7671 Table 41.3: B20 2.19 ohm. 2.5 mm2 at 70 degC and 1.5 mm2 back: 8.87 + 14.48 mohm/m.
    [(0.35, 60.0, True), (0.35, 80.0, False), (2.0, 1.0, False), (1.8, 1.0, True)],
)
def test_disconnection_is_checked_where_the_loop_impedance_is_given(impedance_ohm: float, length_m: float, meets: bool) -> None:
    answer = plan(
        "great_britain", 9, current_a=1.0, supply_loop_impedance_ohm=impedance_ohm, home_run_length_m=length_m,
        home_run_size="2.5 mm2", trunk_size="2.5 mm2", home_run_installation={"method": "clipped_direct"},
    )  # fmt: skip
    found = check(answer, "loop impedance")
    assert found["limit"] == pytest.approx(2.185)
    # Nine units on 8 x 1.8 m of trunk.
    assert found["value"] == pytest.approx(impedance_ohm + (length_m + 14.4) * (7.41 + 12.1) * 1.1965 / 1000.0, rel=1e-4)
    assert found["meets"] is meets
    assert answer["verdict"] == ("fail" if not meets else answer["verdict"])


def test_the_cable_of_the_system_counts_in_a_fault() -> None:
    # IEC 60228, class 2: 10 mm2 out has 1.83 ohm/km at 20 degC, 6 mm2 back 3.08; at 70 degC 1.1965 times as much.
    fields: Body = {"supply_loop_impedance_ohm": 0.35, "home_run_size": "4 mm2", "home_run_length_m": 10.0}
    fields |= {"system_cable_ampacity_a": 50}
    beside, away = (
        check(plan("great_britain", 18, **fields, system_cable_size="10 mm2", system_cable_length_m=length_m), "loop impedance")
        for length_m in (0.0, 30.0)
    )
    assert away["value"] - beside["value"] == pytest.approx(30.0 * (1.83 + 3.08) * 1.1965 / 1000.0, rel=1e-3)


@pytest.mark.parametrize(("ohm", "meets"), [(1667.0, False), (1666.0, True), (200.0, True)])
def test_an_earth_electrode_is_checked_where_its_resistance_is_given(ohm: float, meets: bool) -> None:
    # BS 7671 Table 41.5: 50 V over 30 mA are 1667 ohm.
    answer = plan("great_britain", 9, earthing="tt", earth_electrode_ohm=ohm)
    assert check(answer, "earth electrode")["meets"] is meets


def test_a_system_for_which_no_breaker_is_made_fails() -> None:
    # IEC 60898-1 ends at 125 A: 70 units of 1.6 A times 1.25 are 140 A.
    answer = plan("great_britain", 70)
    assert device(answer, "pv_main_breaker")["rating_a"] is None
    assert check(answer, "device of the system")["meets"] is False
    assert answer["verdict"] == "fail"


def test_a_table_of_conductors_without_capacities_fails_rather_than_passes() -> None:
    answer = plan("great_britain", 9, conductor_table="nec_chapter_9_table_8_stranded", home_run_length_m=5.0)
    assert [(each["capacity_a"], each["meets"], each["smallest_size"]) for each in answer["cables"]] == [(0.0, False, None)] * 2
    assert answer["verdict"] == "fail"


# What holds for every request. The oracle below reads the rules' files by itself.


@cache
def tables(name: str) -> dict[str, Any]:
    text = resources.files("wattpair_service.rules").joinpath("conductors", name).read_text(encoding="utf-8")
    return tomllib.loads(text)


def factor_at(table: dict[str, list[float]], key: str, value: float) -> float | None:
    """The factor of the first place of a table that is not below a value; None beyond its end."""
    found = [factor for place, factor in zip(table[key], table["factor"], strict=True) if place >= value]
    return found[0] if found else None


def capacity_a(body: Body, run: str, size: str, *, loaded: int, circuits: int, device_a: float) -> float:
    """Carrying capacity of a run's conductor as the request or the region's file installs it [A]."""
    if body.get(f"{run}_ampacity_a") is not None and body.get(f"{run}_size") == size:
        return float(body[f"{run}_ampacity_a"])
    rules = region_data(body["region"])["cables"]
    table = tables("capacities.toml")[rules["trunk_capacity_table" if run == "trunk" else "capacity_table"]]
    given_ = body.get(f"{run}_installation") or {}
    usual = rules["home_run" if run == "system_cable" else run]
    name = given_.get("method") or usual["installation"]
    method = table["installations"][name]
    in_ground = method.get("in_ground", False)
    ambient_c = given_.get("ambient_c")
    if ambient_c is None:
        ambient_c = 20.0 if in_ground else max(usual["ambient_c"], table["reference_c"])
    together = given_.get("circuits_together") or (circuits if run == "home_run" else 1)
    by_size = dict(zip(table["sizes"], method["loaded_3" if loaded == 3 else "loaded_2"], strict=False))
    ambient = factor_at(table["ground" if in_ground else "ambient"], "temp_c", ambient_c) or 0.0
    grouping = factor_at(table["grouping"], "circuits", together) or min(table["grouping"]["factor"])
    found = by_size.get(size, 0.0) * ambient * grouping
    for up_to_a, limits in table.get("terminal_limits", []):
        if device_a <= up_to_a:
            return float(min(found, dict(zip(table["sizes"], limits, strict=True)).get(size, 0.0)))
    return float(found)


def device_max_a(body: Body, size: str) -> float:
    """Largest device that the code allows for a conductor by itself [A], NEC 240.4(D)."""
    table = tables("copper.toml")[region_data(body["region"])["conductors"]["table"]]
    (limit,) = [row.get("device_max_a", 1e9) for row in table["conductors"] if row["size"] == size]
    return float(limit)


def loaded_conductors(body: Body, run: str) -> int:
    phases = (
        body["phase_count"] if run in ("supply", "system_cable") else max(body["trunk_phase_count"], body["unit_phase_count"])
    )
    return 3 if phases > 1 else 2


def is_protected(body: Body, run: str, size: str, circuits: int, device_a: float) -> bool:
    capacity = capacity_a(body, run, size, loaded=loaded_conductors(body, run), circuits=circuits, device_a=device_a)
    return device_a <= capacity * (1.0 + 1e-9) and device_a <= device_max_a(body, size)


@st.composite
def installations(draw: st.DrawFn, region: str, run: str) -> Body | None:
    rules = region_data(region)["cables"]
    table = tables("capacities.toml")[rules["trunk_capacity_table" if run == "trunk" else "capacity_table"]]
    if not draw(st.booleans()):
        return None
    return {
        "method": draw(st.sampled_from(sorted(table["installations"]))),
        "ambient_c": draw(st.integers(10, 45) | st.integers(45, 80)),
        "circuits_together": draw(st.integers(1, 4) | st.integers(5, 25)),
    }


@st.composite
def bodies(draw: st.DrawFn, region: str) -> Body:
    """A request of 1 to 120 units; half of them leave sizes and installations to the service, so that many are sound."""
    rules = region_data(region)
    factor = rules["branch_circuit"]["continuous_current_factor"]
    phase_count = draw(st.sampled_from(rules["supply"]["phase_counts"]))
    trunk_phases = draw(st.sampled_from([1, phase_count]))
    current_a = draw(st.sampled_from([0.8, 1.27, 1.6, 2.4, 4.0, 6.0, 12.0]))
    modules_per_unit = draw(st.sampled_from([1, 2, 4]))
    faces = draw(st.lists(st.integers(1, 40), min_size=1, max_size=3))
    made = [rating for rating in rules["standard_devices"]["ratings_a"] if factor * current_a <= rating <= 125]
    sizes = [row["size"] for row in tables("copper.toml")[rules["conductors"]["table"]]["conductors"]]
    lengths = st.sampled_from([0.0, 0.5, 10.0, 40.0])
    boards = [(63, 40), (100, 63), (125, 100), (200, 63), (225, 200), (None, 25), (100, None)]
    board_a, main_a = draw(st.just((None, None)) | st.sampled_from(boards))
    body = {
        "region": region,
        "faces": [{"name": str(index), "module_count": count * modules_per_unit} for index, count in enumerate(faces)],
        "unit_ac_current_a": current_a,
        "modules_per_unit": modules_per_unit,
        "phase_count": phase_count,
        "trunk_phase_count": trunk_phases,
        "unit_phase_count": draw(st.sampled_from([1, trunk_phases])),
        "circuits_may_cross_faces": draw(st.booleans()),
        "trunk_feed": draw(st.sampled_from(["end", "centre"])),
        "device_rating_a": draw(st.sampled_from(made)),
        "home_run_length_m": draw(lengths),
        "system_cable_length_m": draw(lengths),
        "supply_length_m": draw(lengths),
        "busbar_fed_at_opposite_end": draw(st.booleans()),
        "units_coupled": draw(st.booleans()),
        "plug_in": draw(st.booleans()),
        "branch_device_max_a": draw(st.sampled_from([None, 20, 63, 125])),
        "main_device_a": main_a,
        "busbar_rating_a": board_a,
        "existing_generation": draw(st.just([]) | st.lists(generation(phase_count), max_size=2)),
        "residual_current_device_asked": draw(st.booleans()),
        "earthing": draw(st.sampled_from(["tn", "tt"])),
        "units_per_trunk_max": draw(st.sampled_from([None, 4, 9])),
    }
    if draw(st.booleans()):
        body |= {"existing_generation": draw(st.just([]) | st.lists(generation(phase_count), max_size=1))}
        body |= {"device_rating_a": draw(st.sampled_from(made[:4])), "branch_device_max_a": 125, "units_coupled": True}
        return {name: value for name, value in body.items() if value is not None}
    for run in RUNS.values():
        body[f"{run}_installation"] = draw(installations(region, run))
        body[f"{run}_size"] = draw(st.none() | st.none() | st.sampled_from(sizes))
        if body[f"{run}_installation"] is None and body[f"{run}_size"] is not None:
            most = largest_capacity_a(region, run, body[f"{run}_size"])
            body[f"{run}_ampacity_a"] = draw(st.none() | st.integers(1, min(80, floor(most))))
    return {name: value for name, value in body.items() if value is not None}


def largest_capacity_a(region: str, run: str, size: str) -> float:
    """The most that the run's table has for a size [A]: what a caller may declare."""
    rules = region_data(region)["cables"]
    table = tables("capacities.toml")[rules["trunk_capacity_table" if run == "trunk" else "capacity_table"]]
    place = table["sizes"].index(size)
    rows = [method["loaded_2"] for method in table["installations"].values() if len(method["loaded_2"]) > place]
    return float(max(row[place] for row in rows) * max(table["ambient"]["factor"]))


def generation(phase_count: int) -> st.SearchStrategy[Body]:
    phases = st.sampled_from([None, *range(1, phase_count + 1)])
    return st.builds(
        lambda current_a, phase: {"current_a": current_a} | ({} if phase is None else {"phase": phase}),
        st.sampled_from([3.0, 10.0, 16.0, 30.0]),
        phases,
    )


def currents_by_phase(body: Body, circuits: list[Body], *, existing: bool) -> list[float]:
    """Rated current of each phase [A], from the circuits and what is there already."""
    phases = range(body["phase_count"])
    found = [sum(each["units_by_phase"][phase] for each in circuits) * body["unit_ac_current_a"] for phase in phases]
    for each in body["existing_generation"] if existing else []:
        for phase in phases:
            found[phase] += each["current_a"] if each.get("phase", phase + 1) == phase + 1 else 0.0
    return found


def difference_a(currents: list[float]) -> float:
    return max(currents) - min(currents) if len(currents) > 1 else currents[0]


TOLERANCE = 1.0 + 1e-9


def assert_cables_and_devices_are_safe(body: Body, answer: Body) -> None:
    """Design current, device and capacity in this order, for every cable and device; reckoned from the rules' files."""
    circuits, device_a = answer["circuits"], body["device_rating_a"]
    factor = region_data(body["region"])["branch_circuit"]["continuous_current_factor"]
    for circuit in circuits:
        assert max(circuit["units_by_phase"]) * body["unit_ac_current_a"] * factor <= device_a * TOLERANCE
        assert circuit["unit_count"] <= body.get("units_per_trunk_max", 1000)
    known = {name for name, run in RUNS.items() if body.get(f"{run}_length_m", 0.0) > 0.0 or f"{run}_size" in body}
    if len(circuits) == 1:
        known -= {"system cable"}
    assert {each["cable"] for each in answer["cables"]} == known | {"trunk"}
    system_a = max(currents_by_phase(body, circuits, existing=False)) * factor
    through_a = {"system cable": system_a, "supply cable": max(currents_by_phase(body, circuits, existing=True)) * factor}
    for each in answer["cables"]:
        run, behind_a = RUNS[each["cable"]], each["device_rating_a"]
        if behind_a is None:
            assert (run, each["meets"], "main_device_a" in body) == ("supply", None, False)
            continue
        assert is_protected(body, run, each["size"], len(circuits), behind_a), each
        assert through_a.get(each["cable"], 0.0) <= behind_a * TOLERANCE
        devices = {"supply cable": body.get("main_device_a"), "system cable": behind_a}
        assert behind_a == devices.get(each["cable"], device_a)
    if body["home_run_length_m"] > 0.0:
        sizes = {rise["home_run_size"] for rise in answer["rises"]}
        assert all(is_protected(body, "home_run", size, len(circuits), device_a) for size in sizes)
    for kind in answer["devices"]:
        least_a = device_a if kind["role"] == "branch_breaker" else max(system_a, device_a)
        assert kind["rating_a"] is not None
        assert kind["rating_a"] * TOLERANCE >= least_a
    assert device_a <= body.get("branch_device_max_a", device_a)


def assert_phases_and_board_are_safe(body: Body, answer: Body) -> None:
    """Phases alike with any circuit or existing generation off, board and main device not overloaded."""
    rules, circuits = region_data(body["region"]), answer["circuits"]
    limit_va = rules["phase_balance"].get("difference_max_va")
    if limit_va is not None and (body["phase_count"] > 1 or rules["phase_balance"].get("counts_one_phase")):
        limit_a = limit_va / rules["supply"]["voltage_v"] * TOLERANCE
        off = circuits if body["phase_count"] > 1 else []
        for left in (circuits, *([each for each in circuits if each is not one] for one in off)):
            for existing in (True, False):
                assert difference_a(currents_by_phase(body, left, existing=existing)) <= limit_a
    board_a, main_a = body.get("busbar_rating_a"), body.get("main_device_a")
    currents = currents_by_phase(body, circuits, existing=True)
    fed_a = max(currents) * rules["busbar"]["continuous_current_factor"]
    if main_a is not None:
        assert fed_a <= main_a * TOLERANCE
    if board_a is not None and main_a is not None:
        needs_opposite_end = rules["busbar"].get("opposite_end") and not body["busbar_fed_at_opposite_end"]
        assert main_a + fed_a <= board_a * (1.0 if needs_opposite_end else rules["busbar"]["share"]) * TOLERANCE
    total_va = sum(currents) * rules["supply"]["voltage_v"]
    if "central_protection" in rules and total_va > rules["central_protection"]["above_va"] * TOLERANCE:
        assert answer["verdict"] == "caution"
    uncoupled_va = rules["phase_balance"].get("uncoupled_max_va")
    if uncoupled_va is not None and body["unit_phase_count"] == 1 and not body["units_coupled"]:
        assert total_va <= uncoupled_va * TOLERANCE


@EVERY_REGION
@given(st.data())
def test_whatever_is_not_answered_with_fail_is_within_every_limit(region: str, data: st.DataObject) -> None:
    body = data.draw(bodies(region))
    answer = circuits_of(body)
    if answer["verdict"] != "fail":
        assert_cables_and_devices_are_safe(body, answer)
        assert_phases_and_board_are_safe(body, answer)


@EVERY_REGION
@given(st.data())
def test_the_verdict_is_fail_exactly_where_a_check_fails(region: str, data: st.DataObject) -> None:
    answer = circuits_of(data.draw(bodies(region)))
    checks = [each["meets"] for each in (*answer["cables"], *answer["connection"]["checks"]) if each.get("is_binding", True)]
    assert (answer["verdict"] == "fail") is (False in checks)
    if answer["verdict"] == "ok":
        assert None not in checks
        assert all(rise["meets_limit"] is not False for rise in answer["rises"])


@EVERY_REGION
@given(st.data())
def test_warmer_more_crowded_longer_or_more_generation_never_turns_a_fail_into_a_pass(region: str, data: st.DataObject) -> None:
    body = data.draw(bodies(region))
    run = data.draw(st.sampled_from(list(RUNS.values())))
    body.pop(f"{run}_ampacity_a", None)
    rules = region_data(region)["cables"]
    method = rules["home_run" if run == "system_cable" else run]["installation"]
    usual = {"method": method, "ambient_c": 30, "circuits_together": 1}
    installed = usual | body.get(f"{run}_installation", {})
    body[f"{run}_installation"] = installed
    # A warmer trunk of which no size is given is a thicker one, with less voltage rise.
    answer = circuits_of(body)
    assume(
        False
        in [
            each["meets"] for each in (*answer["cables"], *answer["connection"]["checks"]) if each.get("name") != "voltage rise"
        ]
    )
    warmer_c = min(80, installed["ambient_c"] + data.draw(st.integers(1, 60)))
    together = installed["circuits_together"] + data.draw(st.integers(1, 20))
    times = data.draw(numbers(1.0, 5.0))
    more = data.draw(generation(body["phase_count"]))
    worse: dict[str, Body] = {
        "warmer": {f"{run}_installation": installed | {"ambient_c": warmer_c}},
        "more crowded": {f"{run}_installation": installed | {"circuits_together": together}},
        "a longer trunk": {"faces": [face | {"unit_spacing_m": 5.0} for face in body["faces"]]},
        "longer runs": {name: body[name] * times for name in ("home_run_length_m", "system_cable_length_m", "supply_length_m")},
        "more generation": {"existing_generation": [*body["existing_generation"], more]},
    }
    has_sub_board = len(circuits_of(body)["circuits"]) > 1
    for name, change in worse.items():
        answer = circuits_of(body | change)
        if has_sub_board and len(answer["circuits"]) == 1:
            # With one circuit left, on the phase that had less, there is no cable from a sub-board that could fail.
            continue
        assert answer["verdict"] == "fail", name


@pytest.mark.parametrize(
    ("region", "units", "current_a", "size", "existing_a", "phase"),
    [
        ("great_britain", 4, 4.0, "4 mm2", 12.0, 1),
        ("australia", 11, 2.4, "2.5 mm2", 12.0, 3),
        ("netherlands", 4, 2.4, "4 mm2", 8.0, 1),
    ],
)
def test_fewer_circuits_beside_existing_generation_do_not_make_home_runs_less_crowded(
    region: str, units: int, current_a: float, size: str, existing_a: float, phase: int
) -> None:
    body = body_of(
        region, units, current_a=current_a, phase_count=3, home_run_length_m=5.0, home_run_size=size,
        home_run_installation={"method": "insulated_wall"},
    )  # fmt: skip
    beside = body | {"existing_generation": [{"current_a": existing_a, "phase": phase}]}
    alone, answer = circuits_of(body), circuits_of(beside)
    assert len(answer["circuits"]) < len(alone["circuits"]) == 3
    for each in (alone, answer):
        assert "3 circuits together" in cable_installation(each, "home run")


def cable_installation(answer: Body, name: str) -> str:
    """How a cable is installed, which is the same for all of its name."""
    (found,) = {each["installation"] for each in answer["cables"] if each["cable"] == name}
    return str(found)


@EVERY_REGION
@given(st.data())
def test_a_bill_never_lists_a_conductor_that_is_not_protected(region: str, data: st.DataObject) -> None:
    body = data.draw(bodies(region))
    bill = bill_of(body)
    roles = {
        "trunk_cable_section": "trunk",
        "home_run_cable": "home run",
        "system_cable": "system cable",
        "supply_cable": "supply cable",
    }
    listed: dict[str, set[str]] = {name: set() for name in RUNS}
    for line in bill["lines"]:
        if line["role"] in roles:
            # The number of conductors stands before the size; single wires or a trunk's drop spacing after it.
            listed[roles[line["role"]]].add(line["specification"].split(" x ")[1].split(",")[0])
    for each in bill["cables"]:
        run, behind_a = RUNS[each["cable"]], each["device_rating_a"]
        wanted = each["size"] if each["meets"] else each["smallest_size"]
        length_m = body.get(f"{run}_length_m", 1.0)
        is_there_already = run == "supply" and "supply_size" in body and each["meets"]
        if wanted is not None and length_m > 0.0 and not is_there_already:
            assert wanted in listed[each["cable"]]
        for size in listed[each["cable"]]:
            assert is_protected(body, run, size, len(bill["circuits"]), behind_a), size
            assert each["design_current_a"] <= behind_a * TOLERANCE
