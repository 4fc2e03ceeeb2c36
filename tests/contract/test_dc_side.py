"""The DC side over HTTP: wiring, bifacial modules, the region's custom, and a pairing that waits for the site's record low."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import DELETED, PATHS, Body, changed, example, post, strict_json

PARALLEL = {"/modules_per_input": 2, "/wiring": "parallel"}
USERS = ("size_pairings", "compute_clipping", "select_microinverters", "design_roof")


def answer(client: FlaskClient, operation_id: str, changes: Body) -> Any:
    return strict_json(post(client, operation_id, changed(example(operation_id), changes)))


def checks(client: FlaskClient, changes: Body, unit: int = 0) -> dict[str, Any]:
    pairing = answer(client, "size_pairings", changes)["pairings"][unit]
    return {check["name"]: check for check in pairing["checks"]}


@pytest.mark.parametrize("operation_id", USERS)
def test_wiring_stands_beside_modules_per_input_everywhere(client: FlaskClient, operation_id: str) -> None:
    offers = {"size_pairings": "microinverters", "compute_clipping": "microinverters"}.get(operation_id, "candidates")
    found = answer(client, operation_id, PARALLEL)
    assert "wiring" not in {each["name"] for each in found["assumptions"]}
    assumed = answer(client, operation_id, {"/modules_per_input": 2})["assumptions"]
    assert [each["value"] for each in assumed if each["name"] == "wiring"] == ["series"]
    assert offers in example(operation_id)


def test_parallel_modules_and_irradiance_on_the_back_multiply_the_current(client: FlaskClient) -> None:
    """14.02 A times 1.25, and times 1.05 for a bifacial module close to the roof, 1.30 on a rack, twice that in parallel."""
    cases: list[tuple[Body, float]] = [
        ({"/module/bifaciality": 0}, 1.0),
        ({}, 1.05),
        ({"/mounting": "open_rack"}, 1.30),
        ({**PARALLEL}, 2.10),
        ({"/modules_per_input": 2}, 1.05),
    ]
    for changes, factor in cases:
        assert checks(client, changes)["short_circuit_current"]["value"] == pytest.approx(14.02 * 1.25 * factor)
    assert checks(client, PARALLEL)["module_series_fuse"]["verdict"] == "ok"
    assert "arc_fault_and_rapid_shutdown" not in checks(client, PARALLEL)
    american = checks(client, {"/modules_per_input": 2, "/region": "united_states"})["arc_fault_and_rapid_shutdown"]
    assert american["verdict"] == "caution"
    assert "690.12" in american["explanation"]


def test_the_back_gives_energy_where_the_face_is_open(client: FlaskClient) -> None:
    def available_kwh(changes: Body) -> float:
        total = answer(client, "compute_clipping", changes)["totals"][0]
        return float(total["balance"]["available_kwh"])

    plain = available_kwh({"/module/bifaciality": 0})
    assert available_kwh({"/module/bifaciality": 0.8}) == plain
    assert available_kwh({"/faces/0/rear_irradiance_share": 0.1}) == plain
    assert available_kwh({"/module/bifaciality": 0.8, "/faces/0/rear_irradiance_share": 0.1}) > 1.02 * plain


@pytest.mark.parametrize("operation_id", ["size_pairings", "select_microinverters"])
def test_the_regions_custom_counts_where_the_request_has_no_lowest(client: FlaskClient, operation_id: str) -> None:
    darwin = {"/site/latitude_deg": -12.46, "/site/longitude_deg": 130.84, "/site/temp_lowest_c": DELETED}
    found = [
        answer(client, operation_id, {**darwin, "/region": region})["design_temperatures"]
        for region in ("international", "australia")
    ]
    assert found[0]["lowest_c"] > found[1]["lowest_c"] == 0.0
    assert found[1]["lowest_source"].startswith("the region's custom")
    assert [each["lowest_estimated"] for each in found] == [True, True]


def one_candidate_near_its_limit(client: FlaskClient) -> list[Body]:
    """The example's first candidate, with an absolute voltage 1 % above the module's at the map's lowest temperature."""
    lowest_c = answer(client, "describe_climate", {})["design_temperatures"]["lowest_c"]
    candidate: Body = example("design_roof")["candidates"][0]
    candidate["microinverter"] |= {
        "dc_voltage_max_v": 38.5 * (1.0 - 0.0026 * (lowest_c - 25.0)) / 0.99,
        "dc_operating_voltage_max_v": 40.0,
        "dc_full_power_voltage_max_v": 38.0,
    }
    return [candidate]


def test_a_design_asks_for_the_sites_own_record_low(client: FlaskClient) -> None:
    changes = {"/site/temp_lowest_c": DELETED, "/candidates": one_candidate_near_its_limit(client)}
    found = answer(client, "design_roof", changes)
    assert found["built"]["pairing"] is None
    assert "record low as site.temp_lowest_c" in found["selection"]["recommendation"]["sentence"]
    assert {each["check"] for each in found["selection"]["what_would_have_to_change"]} == {"site_record_low"}
    assert found["sizing"][0]["pairings"][0]["verdict"] == "caution"
    assert answer(client, "design_roof", {**changes, "/site/temp_lowest_c": -19})["built"]["pairing"] is not None


@pytest.mark.parametrize(
    ("language", "alone", "words"),
    [
        ("en", True, "own record low."),
        ("de", True, "Nötig ist der Tiefstwert des Orts."),
        ("en", False, "must not be built before the site"),
        ("de", False, "ohne den Tiefstwert des Orts darf das nicht gebaut werden"),
    ],
)
def test_the_sheet_asks_for_it_too(client: FlaskClient, language: str, alone: bool, words: str) -> None:
    (near,) = one_candidate_near_its_limit(client)
    candidates = [near] if alone else [near, example("design_roof")["candidates"][1]]
    body = changed(example("design_roof"), {"/site/temp_lowest_c": DELETED, "/candidates": candidates})
    body |= {"sheet": {"language": language}} | ({} if alone else {"build": {"microinverter": near["microinverter"]["name"]}})
    sheet = client.post(PATHS["design_roof"], json=body, headers={"Accept": "text/html"})
    assert sheet.status_code == 200
    assert words in sheet.text


@pytest.mark.parametrize("wiring", ["series", "parallel"])
def test_the_climate_of_a_design_has_the_ratio_of_all_modules_on_an_input(client: FlaskClient, wiring: str) -> None:
    def ratio(changes: Body) -> float:
        faces = answer(client, "design_roof", changes)["climate"]["faces"]
        return float(faces[0]["seasons"][0]["ratios"][0]["dc_ac_ratio"])

    assert ratio({"/modules_per_input": 2, "/wiring": wiring}) == pytest.approx(2.0 * ratio({}))
