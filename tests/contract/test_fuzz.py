"""Valid bodies with random damage: refused or answered, never broken."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from typing import Any

from flask.testing import FlaskClient
from hypothesis import event, given, strategies as st

from tests.contract.bodies import DELETED, OPERATION_IDS, REQUESTS, WEATHER, Body, changed, full, post, strict_json
from tests.contract.random_requests import face_shades

INTERESTING: st.SearchStrategy[Any] = st.sampled_from(
    [0, -1, 1, 1e-300, 5e-324, 1e300, 10**30, 10**400, -0.0, 0.5, 90, 360, 8760, "", "0", "NaN", "hourly", "file", "epw",
     "climate", "monthly", "station", "united_states", "code_table", "landscape", "10 mm2",
     "\ud800", "\x00", "é" * 100, True, False, None, [], {}, [[]], [{}], float("inf"), float("nan")]
)  # fmt: skip
NESTED = st.recursive(
    INTERESTING, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
)
VALUES = (INTERESTING | st.integers() | st.floats() | st.text(max_size=20) | NESTED).map(copy.deepcopy)
FIELDS = st.sampled_from(
    ["region", "cold_voltage_method", "modules_per_input", "wiring", "bifaciality", "series_fuse_rating_a",
     "rear_irradiance_share", "transposition", "derating", "sandia_curve", "input_count",
     "efficiency_points", "european_efficiency_percent", "horizon", "mounting", "shading_share", "night_draw_w",
     "_schema", "start_power_w", "weather", "phase_count", "device_rating_a", "continuous_current_factor", "spare_share",
     "units_per_trunk_max", "albedo", "gateway_units_max", "modules_per_unit", "kind", "elevation_m", "ghi_kwh_m2_by_month",
     "temp_air_c_by_month", "origin",
     "temp_lowest_c", "temp_highest_c", "ac_peak_power_w", "region_rules", "price_book", "backup", "trunk_size", "circuits",
     "supply_length_m", "conductor_table", "busbar_rating_a", "row_module_counts", "area_m2", "width_m", "height_m", "layout",
     "obstructions", "orientation", "build", "materials", "module_count", "unit_spacing_m", "shade", "surroundings", "trees",
     "objects", "buildings", "module_places", "beam_survey", "corner", "left_out", "shade_tracker", "half_cut_cells",
     "bypass_group_count", "top", "top_slope_deg", "eaves_height_m", "eaves_up_m", "transmittance_by_month"]
) | st.text("ab_~0\x00\ud800", max_size=5)  # fmt: skip


def nodes(node: Any, pointer: str = "") -> Iterator[tuple[str, Any]]:
    """JSON pointer and value of everything in a body; of arrays the first items."""
    if pointer:
        yield pointer, node
    for key, inner in node.items() if isinstance(node, dict) else enumerate(node[:3]) if isinstance(node, list) else ():
        yield from nodes(inner, f"{pointer}/{key}")


@st.composite
def damaged(draw: st.DrawFn) -> tuple[str, Body]:
    """An operation and its body after one to three changes at random places."""
    operation_id = draw(st.sampled_from(OPERATION_IDS))
    body = full(operation_id, draw(st.sampled_from(["hourly", *WEATHER])))
    if "surroundings" in REQUESTS[operation_id]().fields and draw(st.booleans()):
        body = changed(body, {"/faces/1/shade": draw(face_shades(body["faces"][1]["module_count"]))})
    for _ in range(draw(st.sampled_from([1, 1, 2, 3]))):
        pointer, value = draw(st.sampled_from([*nodes(body)] or [("/site", None)]))
        way = draw(st.sampled_from(["near", "near", "near", "any", "delete", "add"]))
        if way == "add" and isinstance(value, dict):
            pointer, value = f"{pointer}/{draw(FIELDS)}", draw(VALUES)
        elif way == "add" and isinstance(value, list):
            value = [*value, draw(st.sampled_from(value[:3]) if value else VALUES)]
        elif way == "delete" and "/" in pointer[1:]:
            value = DELETED
        else:
            value = near(draw, value) if way == "near" else draw(VALUES)
        body = changed(body, {pointer: value})
    return operation_id, body


def near(draw: st.DrawFn, value: Any) -> Any:
    """Another value of the same kind, which a schema may accept."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e9:
        return draw(VALUES)
    if isinstance(value, int):
        return value + draw(st.integers(-3, 3))
    return value * draw(st.sampled_from([0.5, 0.9, 0.99, 1.01, 1.1, 2.0, -1.0]))


@given(damaged())
def test_a_damaged_body_is_refused_or_answered(client: FlaskClient, damage: tuple[str, Body]) -> None:
    operation_id, body = damage
    response = post(client, operation_id, json.dumps(body))
    answer = strict_json(response)
    event(f"{operation_id} {response.status_code}")
    assert response.status_code in (200, 400, 422), answer
    if response.status_code == 200:
        assert answer["cautions"]
    else:
        assert response.content_type == "application/problem+json"
        assert answer["errors"] or response.status_code == 400
        assert "Traceback" not in response.get_data(as_text=True)


@given(st.binary(max_size=60) | st.text(max_size=60).map(lambda text: text.encode("utf-8", "replace")))
def test_any_bytes_are_refused(client: FlaskClient, data: bytes) -> None:
    response = post(client, "list_materials", data)
    assert response.status_code in (400, 422)
    assert strict_json(response)["type"].startswith("urn:wattpair:problem:")


@given(st.dictionaries(st.text(max_size=8), VALUES, max_size=5), st.sampled_from(OPERATION_IDS))
def test_any_object_is_refused(client: FlaskClient, body: Body, operation_id: str) -> None:
    assert post(client, operation_id, json.dumps(body)).status_code in (400, 422)
