"""What is wrong is refused with the documented status, every fault of it named where it stands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from flask.testing import FlaskClient
from marshmallow import fields

from tests.contract.bodies import (
    DELETED,
    OPERATION_IDS,
    PATHS,
    REQUESTS,
    Body,
    changed,
    example,
    full,
    hourly_weather,
    leaves,
    pointers,
    post,
    problem,
)
from wattpair_service.api import operation, sizing
from wattpair_service.app import create_app
from wattpair_service.climate.stations import StationFolder
from wattpair_service.report.house import House
from wattpair_service.settings import Settings

EVERY_POST = pytest.mark.parametrize("operation_id", OPERATION_IDS)
HUGE = 10**400

NAMED_TWICE = [{"name": "roof", "tilt_deg": 30, "azimuth_deg": 180, "module_count": 1}] * 2
EFFICIENCY = "/microinverters/0/cec_efficiency_percent"
SANDIA = {
    "ac_power_w_ref": 300, "dc_power_w_ref": 311, "dc_voltage_v_ref": 35, "start_power_w": 2,
    "c0_per_w": -1e-5, "c1_per_v": 0, "c2_per_v": 0, "c3_per_v": 0,
}  # fmt: skip
FLAT = [{"load_share": share, "efficiency_percent": 96} for share in (0.1, 0.5)]

# What is changed in a valid body; which field must be named; what its `allowed` must say.
FAULTS: dict[str, tuple[dict[str, Any], str, str]] = {
    "negative voltage": ({"/module/voltage_oc_v": -38.5}, "/module/voltage_oc_v", "at least 5 and at most 200 [V]"),
    "Vmp above Voc": ({"/module/voltage_mp_v": 41}, "/module/voltage_mp_v", "below voltage_oc_v, which is 38.5 V"),
    "swapped voltages": (
        {"/module/voltage_mp_v": 38.5, "/module/voltage_oc_v": 32.1}, "/module/voltage_mp_v", "which is 32.1 V",
    ),
    "swapped currents": ({"/module/current_mp_a": 14.5}, "/module/current_mp_a", "below current_sc_a"),
    "power of another module": ({"/module/power_w": 300}, "/module/power_w", "3% of voltage_mp_v times current_mp_a"),
    "positive Voc coefficient": (
        {"/module/temp_coefficient_voc_percent_per_k": 0.26},
        "/module/temp_coefficient_voc_percent_per_k", "at most -0.1 [%/K]",
    ),
    "a share where percent is asked": (
        {"/module/temp_coefficient_voc_percent_per_k": -0.003},
        "/module/temp_coefficient_voc_percent_per_k", "at most -0.1 [%/K]",
    ),
    "sides swapped": ({"/module/length_m": 1.12, "/module/width_m": 1.74}, "/module/width_m", "the shorter side"),
    "coefficients no diode has": (
        {"/module/temp_coefficient_pmp_percent_per_k": -0.9}, "/module/temp_coefficient_pmp_percent_per_k", "no diode",
    ),
    "blank name": ({"/module/name": " \t"}, "/module/name", "a text of 1 to 100 characters"),
    "long name": ({"/module/name": "x" * 101}, "/module/name", "a text of 1 to 100 characters"),
    "control character": ({"/module/name": "a\x07b"}, "/module/name", "control characters"),
    "a name that shows nothing": ({"/module/name": "\u3164\u2800"}, "/module/name", "one of them visible"),
    "a zero-width space": ({"/module/name": "\u200b"}, "/module/name", "one of them visible"),
    "a joiner alone": ({"/module/name": "\u200d"}, "/module/name", "one of them visible"),
    "a text that turns round": ({"/module/name": "Module \u202e524"}, "/module/name", "format characters"),
    "an end of line in disguise": ({"/module/name": "Module\u2028425"}, "/module/name", "control characters"),
    "lone surrogate": ({"/module/name": "a\ud800b"}, "/module/name", "control characters"),
    "latitude 91": ({"/site/latitude_deg": 91}, "/site/latitude_deg", "at least -90 and at most 90 [deg]"),
    "east of the date line": ({"/site/longitude_deg": 181}, "/site/longitude_deg", "at most 180 [deg]"),
    "below the Dead Sea": ({"/site/elevation_m": -900}, "/site/elevation_m", "at least -450 and at most 6000 [m]"),
    "peak below the rating": (
        {"/microinverters/0/ac_peak_power_w": 290}, "/microinverters/0/ac_peak_power_w", "at least ac_power_w, which is 300",
    ),
    "extremes swapped": (
        {"/site/temp_lowest_c": 36, "/site/temp_highest_c": 20}, "/site/temp_lowest_c", "below temp_highest_c",
    ),
    "no efficiency": ({EFFICIENCY: DELETED}, EFFICIENCY, "exactly one of cec_efficiency_percent"),
    "two efficiencies": (
        {"/microinverters/0/european_efficiency_percent": 96},
        "/microinverters/0/european_efficiency_percent", "cec_efficiency_percent is given too",
    ),
    "efficiency as a share": ({EFFICIENCY: 0.966}, EFFICIENCY, "at least 70"),
    "two efficiency points": (
        {EFFICIENCY: DELETED, "/microinverters/0/efficiency_points": FLAT},
        "/microinverters/0/efficiency_points", "an array of 3 to 100 items",
    ),
    "points of one load": (
        {EFFICIENCY: DELETED, "/microinverters/0/efficiency_points": [FLAT[0]] * 3},
        "/microinverters/0/efficiency_points", "three different load shares",
    ),
    "more AC than DC": (
        {EFFICIENCY: DELETED, "/microinverters/0/sandia_curve": SANDIA | {"dc_power_w_ref": 290}},
        "/microinverters/0/sandia_curve/dc_power_w_ref", "above ac_power_w_ref",
    ),
    "a curve that never gives": (
        {EFFICIENCY: DELETED, "/microinverters/0/sandia_curve": SANDIA | {"c0_per_w": -0.01}},
        "/microinverters/0/sandia_curve", "rises with the input",
    ),
    "window upside down": (
        {"/microinverters/1/dc_operating_voltage_min_v": 59},
        "/microinverters/1/dc_operating_voltage_min_v", "at most dc_operating_voltage_max_v",
    ),
    "no microinverter": ({"/microinverters": []}, "/microinverters", "an array of 1 to 64 items"),
    "a unit that is none": ({"/microinverters/1": 7}, "/microinverters/1", "an object with the fields name"),
    "the same unit twice": (
        {"/microinverters/1/name": "Unit 300"}, "/microinverters/1/name", "a name of its own; item 0 has the same",
    ),
    "off before it derates": (
        {"/microinverters/0/derating": {"start_temp_c": 60, "percent_per_k": 2, "shutdown_temp_c": 50}},
        "/microinverters/0/derating/shutdown_temp_c", "at least start_temp_c",
    ),
    "tilt 91": ({"/faces/0/tilt_deg": 91}, "/faces/0/tilt_deg", "at most 90 [deg]"),
    "azimuth -1": ({"/faces/0/azimuth_deg": -1}, "/faces/0/azimuth_deg", "at least 0 and at most 360 [deg]"),
    "half a module": ({"/faces/0/module_count": 1.5}, "/faces/0/module_count", "a whole number"),
    "no modules": ({"/faces/1/module_count": 0}, "/faces/1/module_count", "at least 1 and at most 1000"),
    "faces as an object": ({"/faces": {"name": "roof"}}, "/faces", "an array of 1 to 16 items"),
    "a face that is none": ({"/faces/1": 7}, "/faces/1", "an object with the fields name"),
    "no face": ({"/faces": []}, "/faces", "an array of 1 to 16 items"),
    "too many faces": ({"/faces": [{"name": "x"}] * 17}, "/faces", "an array of 1 to 16 items"),
    "the same face twice": ({"/faces/1/name": "garden side"}, "/faces/1/name", "a name of its own"),
    "the same face written in two ways": (
        {"/faces/0/name": "H\u00f6fchen", "/faces/1/name": "Ho\u0308fchen"}, "/faces/1/name", "item 0 has the same",
    ),
    "the same unit written in two ways": (
        {"/microinverters/0/name": "Unit \u00e9", "/microinverters/1/name": "Unit e\u0301"},
        "/microinverters/1/name", "item 0 has the same",
    ),
    "all light shaded": ({"/faces/0/shading_share": 1}, "/faces/0/shading_share", "at least 0 and below 1"),
    "horizon below the ground": (
        {"/faces/0/horizon": [{"azimuth_deg": 0, "elevation_deg": -1}]},
        "/faces/0/horizon/0/elevation_deg", "at least 0 and at most 90 [deg]",
    ),
    "another mounting": ({"/faces/0/mounting": "on a pole"}, "/faces/0/mounting", 'one of "close_roof"'),
    "another model": ({"/transposition": "guess"}, "/transposition", 'one of "perez_1990"'),
    "another region": ({"/region": "atlantis"}, "/region", '"international"'),
    "no current": ({"/unit_ac_current_a": 0}, "/unit_ac_current_a", "at least 0.1"),
    "next to no current": ({"/unit_ac_current_a": 5e-324}, "/unit_ac_current_a", "at least 0.1"),
    "more than the device": ({"/unit_ac_current_a": 17}, "/unit_ac_current_a", "a larger device is needed"),
    "spares in percent": ({"/spare_share": 2}, "/spare_share", "at most 1"),
    "another trunk": ({"/trunk_feed": "both"}, "/trunk_feed", 'one of "end", "centre"'),
}  # fmt: skip


def knows(operation_id: str, pointer: str) -> bool:
    """Whether an operation's request has a field at a JSON pointer."""
    schema: Any = REQUESTS[operation_id]
    for step in pointer.split("/")[1:]:
        if step.isdigit():
            continue
        if schema is None or step not in schema().fields:
            return False
        field = schema().fields[step]
        nested = getattr(field, "inner", field)
        schema = type(nested.schema) if isinstance(nested, fields.Nested) else None
    return True


def where_it_applies(changes: dict[str, Any]) -> list[str]:
    """The operations that know every field of a change."""
    return [each for each in OPERATION_IDS if all(knows(each, pointer) for pointer in changes)]


CASES = [
    pytest.param(operation_id, *fault, id=f"{operation_id}: {name}")
    for name, fault in FAULTS.items()
    for operation_id in where_it_applies(fault[0])
]


@pytest.mark.parametrize(("operation_id", "changes", "pointer", "allowed"), CASES)
def test_a_fault_is_named(client: FlaskClient, operation_id: str, changes: dict[str, Any], pointer: str, allowed: str) -> None:
    said = problem(post(client, operation_id, changed(full(operation_id), changes)), 422, "invalid-fields")
    assert allowed in next(error["allowed"] for error in said["errors"] if error["pointer"] == pointer)
    assert pointers(said) == {pointer} or "diode" in allowed, "a single fault names a single field"


@EVERY_POST
def test_an_unknown_field_is_named_with_those_that_are_known(client: FlaskClient, operation_id: str) -> None:
    body = full(operation_id)
    inner = "faces" if "faces" in body else "outline"
    body |= {"colour": "black", "a/b~c": 1, "\udfff": 1, inner: [body[inner][0] | {"slope": 1}, *body[inner][1:]]}
    said = problem(post(client, operation_id, body), 422, "invalid-fields")
    assert pointers(said) == {"/colour", "/a~1b~0c", "/?", f"/{inner}/0/slope"}
    assert all(error["allowed"].startswith("only the fields ") for error in said["errors"])


def test_every_fault_of_the_table_is_tried() -> None:
    unused = [name for name, fault in FAULTS.items() if not where_it_applies(fault[0])]
    assert unused == []


WRONG_VALUES: dict[str, Any] = {
    "null": None, "true": True, "quotes": "1", "array": [1], "object": {"a": 1}, "huge": HUGE, "tiny": -HUGE,
}  # fmt: skip


@EVERY_POST
@pytest.mark.parametrize("kind", WRONG_VALUES)
def test_every_number_takes_numbers_only(client: FlaskClient, operation_id: str, kind: str) -> None:
    body, value = example(operation_id), WRONG_VALUES[kind]
    numbers = [pointer for pointer, leaf in leaves(body) if not isinstance(leaf, str)]
    assert len(numbers) >= 5
    for pointer in numbers:
        said = problem(post(client, operation_id, changed(body, {pointer: value})), 422, "invalid-fields")
        assert pointers(said) == {pointer}
        assert said["errors"][0]["allowed"].startswith(("a number", "a whole number"))


@EVERY_POST
@pytest.mark.parametrize("value", [None, 1, True, [], {}, ""], ids=repr)
def test_every_text_takes_texts_only(client: FlaskClient, operation_id: str, value: Any) -> None:
    body = example(operation_id)
    for pointer in (pointer for pointer, leaf in leaves(body) if isinstance(leaf, str)):
        said = problem(post(client, operation_id, changed(body, {pointer: value})), 422, "invalid-fields")
        assert pointers(said) == {pointer}


@EVERY_POST
def test_every_missing_field_is_named_or_assumed(client: FlaskClient, operation_id: str) -> None:
    body = full(operation_id)
    for pointer in (f"/{name}" for name in body):
        response = post(client, operation_id, changed(body, {pointer: DELETED}))
        if response.status_code != 200:
            said = problem(response, 422, "invalid-fields")
            assert pointer in pointers(said)
            assert said["errors"][0]["given"] == "nothing"


def test_several_faults_are_named_at_once(client: FlaskClient) -> None:
    faults = {
        "/colour": "black",
        "/site/latitude_deg": 100,
        "/site/altitude": 3,
        "/module/voltage_oc_v": "38.5",
        "/module/current_mp_a": 15,
        "/module/mass_kg": DELETED,
        "/microinverters/0/ac_power_w": True,
        "/microinverters/1/dc_operating_voltage_min_v": 59,
        "/faces/0/tilt_deg": 91,
        "/faces/1/azimuth_deg": None,
        "/transposition": "guess",
        "/weather/utc_offset_h": 15,
    }
    body = changed(full("compute_clipping"), faults)
    assert pointers(problem(post(client, "compute_clipping", body), 422, "invalid-fields")) == set(faults)


def test_what_was_given_and_what_is_allowed_read_as_a_sentence(client: FlaskClient) -> None:
    body = changed(example("list_materials"), {"/unit_mass_kg": "1.1"})
    (error,) = problem(post(client, "list_materials", body), 422, "invalid-fields")["errors"]
    assert error["given"] == '"1.1"'
    assert error["detail"] == ('/unit_mass_kg: "1.1" was given; allowed is a number at least 0.1 and at most 50 [kg]')


def test_a_fault_of_the_service_shows_nothing_of_its_inside() -> None:
    def fail(body: Body, stations: StationFolder) -> Body:
        raise RuntimeError("secret")

    app = create_app(Settings())
    failing = replace(sizing.OPERATION, path="/fails", operation_id="fails", handle=fail)
    operation.register(app, failing, StationFolder(), House())
    response = app.test_client().post("/fails", json=example("size_pairings"))
    problem(response, 500, "internal-fault")
    assert "secret" not in response.get_data(as_text=True)


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_an_answer_never_holds_what_is_not_json(value: float) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        create_app(Settings()).json.dumps({"a": [value]})


def test_the_year_is_not_changed_by_these_tests() -> None:
    assert all(len(hourly_weather()[name]) == 8760 for name in ("ghi_w_m2", "temp_air_c"))
    assert PATHS.keys() == set(OPERATION_IDS)


@pytest.mark.parametrize("name", ["Dach Süd", "屋根", "می\u200cخواهم", "क्\u200dष", "👩\u200d🔧 1", "+", "e\u0301"])
def test_a_name_in_any_script_is_taken(client: FlaskClient, name: str) -> None:
    body = changed(example("plan_circuits"), {"/faces/0/name": name})
    assert post(client, "plan_circuits", body).status_code == 200
