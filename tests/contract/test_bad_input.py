"""What is wrong is refused with the documented status, every fault of it named where it stands."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import DELETED, OPERATION_IDS, Body, changed, example, full, leaves, pointers, post, problem, refusal
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

EVERY_POST = pytest.mark.parametrize("operation_id", OPERATION_IDS)
HUGE = 10**400
EFFICIENCY = "/microinverters/0/cec_efficiency_percent"
SANDIA = {
    "ac_power_w_ref": 300, "dc_power_w_ref": 311, "dc_voltage_v_ref": 35, "start_power_w": 2,
    "c0_per_w": -1e-5, "c1_per_v": 0, "c2_per_v": 0, "c3_per_v": 0,
}  # fmt: skip
FLAT = [{"load_share": share, "efficiency_percent": 96} for share in (0.1, 0.5)]

DESIGN = example("design_roof")
MODULE = DESIGN["modules"][0]["module"]
PART = {"role": "module", "part_number": "PV-440"}


def band(from_hour: int, to_hour: int, **others: object) -> dict[str, object]:
    """A price in some hours."""
    return {"from_hour": from_hour, "to_hour": to_hour, "price_per_kwh": 0.3, **others}


FAULTS: dict[str, dict[str, tuple[Any, ...]]] = {
    "compute_clipping": {
        "negative voltage": ({"/module/voltage_oc_v": -38.5}, "at least 5 and at most 200 [V]"),
        "Vmp above Voc": ({"/module/voltage_mp_v": 41}, "below voltage_oc_v, which is 38.5 V"),
        "swapped voltages": ({"/module/voltage_mp_v": 38.5, "/module/voltage_oc_v": 32.1}, "which is 32.1 V"),
        "swapped currents": ({"/module/current_mp_a": 14.5}, "below current_sc_a"),
        "power of another module": ({"/module/power_w": 300}, "3% of voltage_mp_v times current_mp_a"),
        "a share where percent is asked": ({"/module/temp_coefficient_voc_percent_per_k": -0.003}, "at most -0.1 [%/K]"),
        "sides swapped": ({"/module/width_m": 1.74, "/module/length_m": 1.12}, "the shorter side"),
        "coefficients no diode has": (
            {"/module/temp_coefficient_pmp_percent_per_k": -0.9}, "no diode",
            " ".join(f"/module/temp_coefficient_{name}_percent_per_k" for name in ("voc", "isc", "pmp")),
        ),
        "bifaciality in percent": ({"/module/bifaciality": 80}, "at least 0 and at most 1"),
        "a fuse below the module's current": ({"/module/series_fuse_rating_a": 10}, "at least current_sc_a, which is"),
        "a wiring that does not exist": ({"/wiring": "series-parallel"}, 'one of "series", "parallel"'),
        "five modules on an input": ({"/modules_per_input": 5, "/wiring": "parallel"}, "at least 1 and at most 4"),
        "irradiance on the back in W/m2": ({"/faces/0/rear_irradiance_share": 135}, "at least 0 and at most 1"),
        "blank name": ({"/module/name": " \t"}, "a text of 1 to 100 characters"),
        "long name": ({"/module/name": "x" * 101}, "a text of 1 to 100 characters"),
        "control character": ({"/module/name": "a\x07b"}, "control characters"),
        "a name that shows nothing": ({"/module/name": "\u3164\u2800"}, "one of them visible"),
        "a zero-width space": ({"/module/name": "\u200b"}, "one of them visible"),
        "a joiner alone": ({"/module/name": "\u200d"}, "one of them visible"),
        "a text that turns round": ({"/module/name": "Module \u202e524"}, "format characters"),
        "an end of line in disguise": ({"/module/name": "Module\u2028425"}, "control characters"),
        "lone surrogate": ({"/module/name": "a\ud800b"}, "control characters"),
        "latitude 91": ({"/site/latitude_deg": 91}, "at least -90 and at most 90 [deg]"),
        "peak below the rating": ({"/microinverters/0/ac_peak_power_w": 290}, "at least ac_power_w, which is 300"),
        "extremes swapped": ({"/site/temp_lowest_c": 36, "/site/temp_highest_c": 20}, "below temp_highest_c"),
        "no efficiency": ({EFFICIENCY: DELETED}, "exactly one of cec_efficiency_percent"),
        "two efficiencies": ({"/microinverters/0/european_efficiency_percent": 96}, "cec_efficiency_percent is given too"),
        "efficiency as a share": ({EFFICIENCY: 0.966}, "at least 70"),
        "two efficiency points": (
            {"/microinverters/0/efficiency_points": FLAT, EFFICIENCY: DELETED}, "an array of 3 to 100 items",
        ),
        "points of one load": (
            {"/microinverters/0/efficiency_points": [FLAT[0]] * 3, EFFICIENCY: DELETED}, "three different load shares",
        ),
        "more AC than DC": (
            {EFFICIENCY: DELETED, "/microinverters/0/sandia_curve": SANDIA | {"dc_power_w_ref": 290}},
            "above ac_power_w_ref", "/microinverters/0/sandia_curve/dc_power_w_ref",
        ),
        "a curve that never gives": (
            {"/microinverters/0/sandia_curve": SANDIA | {"c0_per_w": -0.01}, EFFICIENCY: DELETED}, "rises with the input",
        ),
        "window upside down": ({"/microinverters/1/dc_operating_voltage_min_v": 59}, "at most dc_operating_voltage_max_v"),
        "a unit that is none": ({"/microinverters/1": 7}, "an object with the fields name"),
        "the same unit twice": ({"/microinverters/1/name": "Unit 300"}, "a unique name; item 0 has the same"),
        "off before it derates": (
            {"/microinverters/0/derating": {"start_temp_c": 60, "percent_per_k": 2, "shutdown_temp_c": 50}},
            "at least start_temp_c", "/microinverters/0/derating/shutdown_temp_c",
        ),
        "tilt 91": ({"/faces/0/tilt_deg": 91}, "at most 90 [deg]"),
        "half a module": ({"/faces/0/module_count": 1.5}, "a whole number"),
        "no modules": ({"/faces/1/module_count": 0}, "at least 1 and at most 1000"),
        "faces as an object": ({"/faces": {"name": "roof"}}, "an array of 1 to 16 items"),
        "a face that is none": ({"/faces/1": 7}, "an object with the fields name"),
        "too many faces": ({"/faces": [{"name": "x"}] * 17}, "an array of 1 to 16 items"),
        "the same face twice": ({"/faces/1/name": "garden side"}, "a unique name"),
        "the same face written in two ways": (
            {"/faces/1/name": "Ho\u0308fchen", "/faces/0/name": "H\u00f6fchen"}, "item 0 has the same",
        ),
        "the same unit written in two ways": (
            {"/microinverters/1/name": "Unit e\u0301", "/microinverters/0/name": "Unit \u00e9"}, "item 0 has the same",
        ),
        "all light shaded": ({"/faces/0/shading_share": 1}, "at least 0 and below 1"),
        "horizon below the ground": (
            {"/faces/0/horizon": [{"azimuth_deg": 0, "elevation_deg": -1}]},
            "at least 0 and at most 90 [deg]", "/faces/0/horizon/0/elevation_deg",
        ),
        "another mounting": ({"/faces/0/mounting": "on a pole"}, 'one of "close_roof"'),
    },
    "plan_circuits": {
        "another region": ({"/region": "atlantis"}, '"international"'),
        "no current": ({"/unit_ac_current_a": 0}, "at least 0.1"),
        "next to no current": ({"/unit_ac_current_a": 5e-324}, "at least 0.1"),
        "more than the device": ({"/unit_ac_current_a": 17}, "a larger device is needed"),
        "another trunk": ({"/trunk_feed": "both"}, 'one of "end", "centre"'),
        "two phases in Great Britain": ({"/phase_count": 2}, "1 or 3 phases"),
        "four phases": ({"/phase_count": 4}, "at most 3"),
        "a trunk of 3 mm2": ({"/trunk_size": "3 mm2"}, '"1.5 mm2", "2.5 mm2"'),
        "a home run in gauge": ({"/home_run_size": "12 AWG"}, '"1.5 mm2", "2.5 mm2"'),
        "a supply of 24 mm2": ({"/supply_size": "24 mm2"}, '"1.5 mm2", "2.5 mm2"'),
        "a capacity without size": (
            {"/supply_size": DELETED, "/supply_ampacity_a": 40}, "required where supply_ampacity_a", "/supply_size",
        ),
        "a device that is not made": ({"/device_rating_a": 45}, "50 A, the next that is made", "/device_rating_a"),
        "a face twice": ({"/faces/1/name": "garden side"}, "a unique name"),
        "a flag in quotes": ({"/several_premises": "true"}, "true or false"),
        "three phases between lines": ({"/phase_count": 3, "/region": "united_states"}, "not modelled"),
    },
    "list_materials": {
        "spares in percent": ({"/spare_share": 2}, "at most 1"),
        "an unknown roof covering": ({"/mounting_system/roof_covering": "thatch"}, "one of"),
        "no made drop spacing": ({"/trunk_system/drop_spacings_portrait_m": []}, "an array of 1 to 20 items"),
        "a rail without length": ({"/mounting_system/rail_length_m": 0}, "at least 0.5"),
        "a unit with part of an input": ({"/modules_per_unit": 3, "/modules_per_input": 2}, "a divisor", "/modules_per_input"),
        "segments that do not fill their row": (
            {"/faces/1": {"name": "b", "module_count": 4, "row_module_counts": [4], "segment_module_counts": [3]}},
            "the modules of each segment", "/faces/1/segment_module_counts",
        ),
        "segments across rows": (
            {"/faces/1": {"name": "b", "module_count": 4, "row_module_counts": [2, 2], "segment_module_counts": [3, 1]}},
            "the modules of each segment", "/faces/1/segment_module_counts",
        ),
        "other segments than their number": (
            {
                "/faces/1": {
                    "name": "b", "module_count": 4, "row_module_counts": [4], "row_segment_counts": [2],
                    "segment_module_counts": [4],
                }
            },
            "the modules of each segment", "/faces/1/segment_module_counts",
        ),
        "a negative price": ({"/price_book/items/0/cost": "-1"}, "at least 0"),
        "a price as a number": ({"/price_book/items/0/cost": 81.4}, "in quotes"),
        "an exponent": ({"/price_book/items/0/cost": "1e9"}, "in quotes"),
        "a price in other digits": ({"/price_book/items/0/cost": "٣"}, "in quotes"),
        "tax above all": ({"/price_book/tax_percent": "101"}, "at most 100"),
        "a part number twice": (
            {"/price_book/items/1": {"part_number": "M-425", "cost": "1"}}, "item 0 has", "/price_book/items/1/part_number",
        ),
        "a role twice": ({"/price_book/part_numbers/1/role": "module"}, "item 0 has"),
        "a part number written in two ways": (
            {"/price_book/items/1/part_number": "e\u0301", "/price_book/items/0/part_number": "\u00e9"}, "item 0 has",
        ),
        "a specification written in two ways": (
            {f"/price_book/part_numbers/{i}": PART | {"specification": name} for i, name in enumerate(("\u00e9", "e\u0301"))},
            "item 0 has", "/price_book/part_numbers/1/role",
        ),
        "a role that is none": ({"/price_book/part_numbers/0/role": "panel"}, 'one of "module"'),
        "a currency in words": ({"/price_book/currency": "euro"}, "ISO 4217"),
        "a failure rate as a share of one": ({"/failure_rate_share_per_year": 0.005}, "failure_percent_per_year"),
        "rows that hold others": ({"/faces/0/row_module_counts": [4, 5]}, "together, which is 8"),
        "segments without rows": ({"/faces/1/row_segment_counts": [1]}, "one number"),
        "backup of no kind": ({"/backup": {}}, "true or false; the field is required", "/backup/wanted"),
    },
    "lay_out_face": {
        "no module fits": ({"/edge_distance_m": 5}, "none does", "/outline"),
        "a knot": ({"/outline/2": {"x_m": -1, "y_m": 3}, "/outline/3/y_m": -2}, "cross or touch itself", "/outline"),
        "two descriptions": ({"/width_m": 5}, "nothing where outline is given"),
        "half a rectangle": ({"/outline": DELETED, "/width_m": 5}, "required with width_m", "/height_m"),
        "no face at all": ({"/outline": DELETED}, "required without them"),
        "two corners": ({"/outline": [{"x_m": 0, "y_m": 0}] * 2}, "an array of 3 to 60 items"),
        "a kind of edge that is none": ({"/edge_kinds": ["eaves", "gable", "ridge", "hip"]}, 'one of "eaves"', "/edge_kinds/1"),
        "kinds of too few edges": ({"/edge_kinds": ["eaves", "hip", "hip"]}, "4 items, one for each edge of outline"),
        "kinds of a rectangle's edges": (
            {"/outline": DELETED, "/width_m": 8, "/height_m": 6, "/edge_kinds": ["eaves", "hip", "ridge", "hip"]},
            "give outline with it", "/edge_kinds",
        ),
        "a negative distance": ({"/ridge_distance_m": -0.1}, "at least 0"),
        "a path and none": ({"/access_path_side": "none", "/access_path_width_m": 1}, "nothing where", "/access_path_width_m"),
        "a side of a path without width": (
            {"/region": "germany", "/access_path_side": "left"}, "required with access_path_side", "/access_path_width_m",
        ),
        "a path of no side": ({"/access_path_side": "top"}, 'one of "none"'),
        "sides swapped": ({"/module_width_m": 1.9}, "the shorter side"),
        "a rectangle for no module": ({"/outline": DELETED, "/width_m": 1, "/height_m": 6}, "", "/width_m /height_m"),
    },
    "select_microinverters": {
        "a discount rate of -100 %": ({"/discount_rate_percent": -100}, "at least -20"),
        "mixed currencies": ({"/candidates/1/currency": "GBP"}, "one currency for the whole request"),
        "a tariff in another currency": ({"/tariff/currency": "GBP"}, "which is EUR"),
        "a negative price": ({"/candidates/0/price": -1}, "at least 0"),
        "a price in quotes": ({"/candidates/0/price": "105"}, "a number"),
        "half a year": ({"/horizon_years": 2.5}, "a whole number"),
        "the same name twice": ({"/candidates/1/microinverter/name": "Unit 300"}, "a unique name"),
        "the same name written in two ways": (
            {"/candidates/1/microinverter/name": "Unit e\u0301", "/candidates/0/microinverter/name": "Unit \u00e9"},
            "item 0 has the same",
        ),
        "a share and a load": ({"/load_w": [300] * 24}, "left out where load_w is given", "/share_used_at_home"),
        "no price of exported energy": (
            {"/tariff/export_price_per_kwh": DELETED}, "or give export_price_bands", "/tariff/export_price_per_kwh",
        ),
        "a price and bands": (
            {"/tariff/import_price_bands": [band(0, 24)]}, "left out where import_price_per_kwh is given",
            "/tariff/import_price_bands",
        ),
        "an hour without a price": (
            {"/tariff/import_price_per_kwh": DELETED, "/tariff/import_price_bands": [band(7, 23), band(23, 6)]},
            "6:00 to 7:00 on weekdays of month 1 is in none", "/tariff/import_price_bands",
        ),
        "an hour with two prices": (
            {
                "/tariff/export_price_per_kwh": DELETED,
                "/tariff/export_price_bands": [band(0, 24), band(10, 12, days="weekend", months=[7])],
            },
            "10:00 to 11:00 on weekends of month 7 is in 2", "/tariff/export_price_bands",
        ),
        "a band up to 25 o'clock": (
            {"/tariff/import_price_per_kwh": DELETED, "/tariff/import_price_bands": [band(0, 25)]}, "at most 24",
            "/tariff/import_price_bands/0/to_hour",
        ),
        "a weekday that is none": ({"/first_weekday": "sun"}, "sunday"),
        "a load of 25 hours": ({"/load_w": [300] * 25, "/share_used_at_home": DELETED}, "24 or 288"),
        "a module no diode has": (
            {"/modules/0/module/temp_coefficient_pmp_percent_per_k": -0.9}, "no diode",
            " ".join(f"/modules/0/module/temp_coefficient_{name}_percent_per_k" for name in ("voc", "isc", "pmp")),
        ),
    },
    "design_roof": {
        "neither count nor layout": ({"/faces/1/module_count": DELETED}, ""),
        "count and layout": ({"/faces/0/module_count": 8, "/faces/0/area_m2": 9}, "", "/faces/0/module_count /faces/0/area_m2"),
        "rows of another count": ({"/faces/1/row_module_counts": [3, 2]}, ""),
        "a layout without a shape": ({"/faces/0/layout/outline": DELETED}, ""),
        "a layout for no module": ({"/faces/0/layout/edge_distance_m": 3}, "", "/faces/0/layout/outline"),
        "a rectangle for no module": (
            {"/faces/0/layout": {"width_m": 1, "height_m": 1}}, "", "/faces/0/layout/width_m /faces/0/layout/height_m",
        ),
        "faults of the offers beside those of fields": (
            {"/build": {"module": "Module 1"}, "/faces/1/tilt_deg": "steep", "/price_book/currency": "GBP",
             "/candidates/1/microinverter/name": "Unit 300", "/faces/1/name": "garden side"},
            "", "/build/module /faces/1/tilt_deg /price_book/currency /candidates/1/microinverter/name /faces/1/name",
        ),
        "a currency in words": ({"/currency": "Euro"}, ""),
        "an obstruction that crosses itself": (
            {"/faces/0/layout/obstructions/0/outline/2": {"x_m": 6.9, "y_m": 3.8}}, "", "/faces/0/layout/obstructions/0",
        ),
        "a side of a path without width": (
            {"/faces/0/layout/access_path_side": "both"}, "", "/faces/0/layout/access_path_width_m",
        ),
        "a layout with modules of two sizes": (
            {"/modules": [*DESIGN["modules"], {"module": MODULE | {"name": "Module 400", "length_m": 1.7}}]},
            "", "/modules/1/module/length_m",
        ),
        "nobody's name": ({"/build": {"module": "Module 1", "microinverter": "Unit 345"}}, "", "/build/module"),
        "another currency in the price book": ({"/price_book/currency": "GBP"}, ""),
        "a current too small for circuits": ({"/candidates/1/microinverter/ac_current_a": 5e-324}, ""),
        "a size that no table has": ({"/circuits/trunk_size": "2.4 mm2"}, ""),
        "a capacity and an installation to find it by": (
            {"/region": "united_states", "/circuits": {"trunk_ampacity_a": 40, "trunk_installation": {"ambient_c": 50}}},
            "", "/circuits/trunk_installation",
        ),
        "a supply that the region does not know": ({"/region": "united_states"}, "", "/circuits/phase_count"),
        "a spare share in percent": ({"/materials/spare_share": 2}, ""),
        "an unknown term": ({"/circuits/unit_ac_current_a": 1.3}, ""),
        "a module that no diode has": (
            {"/modules/0/module/temp_coefficient_pmp_percent_per_k": -0.9},
            "", " ".join(f"/modules/0/module/temp_coefficient_{name}_percent_per_k" for name in ("voc", "isc", "pmp")),
        ),
        "too many modules": ({"/faces": [DESIGN["faces"][1] | {"name": str(n), "module_count": 1000} for n in range(6)]}, ""),
        "the sea": ({"/site/latitude_deg": 0, "/site/longitude_deg": -30}, "", "/site/latitude_deg /site/longitude_deg"),
    },
    "describe_climate": {
        "a module without a face": ({"/faces": DELETED}, "at least one face, where a module is given"),
        "a microinverter without a module": ({"/module": DELETED}, "a module, where microinverters are given"),
        "a microinverter alone": ({"/module": DELETED, "/faces": DELETED}, "a module, where microinverters are given"),
        "no site": ({"/site": DELETED}, "the field is required"),
        "a lowest above the built-in highest": ({"/site/temp_lowest_c": 39.5}, "below the highest air temperature"),
    },
}  # fmt: skip
"""By operation: changes of its example, what `allowed` says, and the pointers, where they are not that of the first change."""


CASES = [
    pytest.param(operation_id, changes, allowed, *(named or [next(iter(changes))]), id=f"{operation_id}: {name}")
    for operation_id, faults in FAULTS.items()
    for name, (changes, allowed, *named) in faults.items()
]


@pytest.mark.parametrize(("operation_id", "changes", "allowed", "named"), CASES)
def test_a_wrong_field_is_named(client: FlaskClient, operation_id: str, changes: Body, allowed: str, named: str) -> None:
    errors = refusal(client, operation_id, changed(example(operation_id), changes))["errors"]
    assert {error["pointer"] for error in errors} == set(named.split())
    assert {error["pointer"] for error in errors if allowed in error["allowed"]} == set(named.split())


@EVERY_POST
def test_an_unknown_field_is_named_with_those_that_are_known(client: FlaskClient, operation_id: str) -> None:
    body = full(operation_id)
    inner = "faces" if "faces" in body else "outline"
    body |= {"colour": "black", "a/b~c": 1, "\udfff": 1, inner: [body[inner][0] | {"slope": 1}, *body[inner][1:]]}
    refused = refusal(client, operation_id, body)
    assert pointers(refused) == {"/colour", "/a~1b~0c", "/?", f"/{inner}/0/slope"}
    assert all(error["allowed"].startswith("only the fields ") for error in refused["errors"])


NOT_NUMBERS: dict[str, Any] = {
    "null": None, "true": True, "quotes": "1", "array": [1], "object": {"a": 1}, "huge": HUGE, "tiny": -HUGE,
}  # fmt: skip


@EVERY_POST
@pytest.mark.parametrize("value", NOT_NUMBERS.values(), ids=NOT_NUMBERS)
def test_every_number_takes_numbers_only(client: FlaskClient, operation_id: str, value: Any) -> None:
    body = example(operation_id)
    numbers = {pointer: value for pointer, leaf in leaves(body) if not isinstance(leaf, str)}
    assert len(numbers) >= 5
    refused = refusal(client, operation_id, changed(body, numbers))
    assert pointers(refused) == numbers.keys()
    assert all(error["allowed"].startswith(("a number", "a whole number")) for error in refused["errors"])


@EVERY_POST
@pytest.mark.parametrize("value", [None, 1, True, [], {}, ""], ids=repr)
def test_every_text_takes_texts_only(client: FlaskClient, operation_id: str, value: Any) -> None:
    body = example(operation_id)
    texts = {pointer: value for pointer, leaf in leaves(body) if isinstance(leaf, str)}
    if texts:
        assert pointers(refusal(client, operation_id, changed(body, texts))) == texts.keys()


MISSING = [(operation_id, name) for operation_id in OPERATION_IDS for name in full(operation_id, "climate")]


@pytest.mark.parametrize(("operation_id", "name"), MISSING, ids=[f"{operation_id}: {name}" for operation_id, name in MISSING])
def test_a_missing_field_is_named_or_assumed(client: FlaskClient, operation_id: str, name: str) -> None:
    response = post(client, operation_id, changed(full(operation_id, "climate"), {f"/{name}": DELETED}))
    if response.status_code != 200:
        refused = problem(response, 422, "invalid-fields")
        assert f"/{name}" in pointers(refused)
        assert refused["errors"][0]["given"] == "nothing"


def test_several_wrong_fields_are_named_at_once(client: FlaskClient) -> None:
    wrong = {
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
    body = changed(full("compute_clipping"), wrong)
    assert pointers(refusal(client, "compute_clipping", body)) == set(wrong)


def test_the_detail_is_a_sentence(client: FlaskClient) -> None:
    body = changed(example("list_materials"), {"/unit_mass_kg": "1.1"})
    (error,) = refusal(client, "list_materials", body)["errors"]
    assert error["given"] == '"1.1"'
    assert error["detail"] == ('/unit_mass_kg: "1.1" was given; allowed is a number at least 0.1 and at most 50 [kg]')


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_an_answer_never_holds_what_is_not_json(value: float) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        create_app(Settings()).json.dumps({"a": [value]})


@pytest.mark.parametrize("name", ["Dach Süd", "屋根", "می\u200cخواهم", "क्\u200dष", "👩\u200d🔧 1", "+", "e\u0301"])
def test_a_name_in_any_script_is_taken(client: FlaskClient, name: str) -> None:
    body = changed(example("plan_circuits"), {"/faces/0/name": name})
    assert post(client, "plan_circuits", body).status_code == 200


def test_an_accent_makes_another_name(client: FlaskClient) -> None:
    body = changed(example("plan_circuits"), {"/faces/0/name": "\u00e9", "/faces/1/name": "e"})
    assert post(client, "plan_circuits", body).status_code == 200
