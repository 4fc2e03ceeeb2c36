"""What a request says of shade: what is refused where it stands, and what is the same said in other ways."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.contract.bodies import DELETED, Body, caution_codes, changed, example, full, post, refusal, strict_json

GAP_M = 0.02
LENGTH_M, WIDTH_M = 1.74, 1.12
"""The example module's sides."""
SHADE = "/faces/0/shade"


def rectangle(x_m: float, y_m: float, width_m: float, height_m: float) -> list[Body]:
    """Corners of a rectangle from its lower left one."""
    right_m, top_m = x_m + width_m, y_m + height_m
    corners = ((x_m, y_m), (right_m, y_m), (right_m, top_m), (x_m, top_m))
    return [{"x_m": x, "y_m": y} for x, y in corners]


def places(count: int, columns: int = 20) -> Body:
    """Modules in rows, side by side in portrait from the face's corner."""
    corners = [
        {"x_m": (WIDTH_M + GAP_M) * (number % columns), "y_m": (LENGTH_M + GAP_M) * (number // columns)}
        for number in range(count)
    ]
    return {"orientation": "portrait", "corners": corners}


CHIMNEY: Body = {"name": "chimney", "outline": rectangle(4.0, 1.9, 0.6, 0.6), "height_m": 1.4}
DORMER: Body = {
    "name": "dormer", "outline": rectangle(10.0, 0.0, 2.0, 2.5), "height_m": 2.2, "top": "gabled", "eaves_height_m": 1.4,
    "ridge": "up_slope",
}  # fmt: skip
SHED_DORMER = {"outline": rectangle(-3.0, 0.0, 2.0, 2.5), "height_m": 1.2, "top": "sloped", "top_slope_deg": 10}
BARN: Body = {"name": "barn", "east_m": -9, "north_m": -12, "length_m": 12, "width_m": 6, "top_up_m": 3, "eaves_up_m": 1}
LIME: Body = {
    "name": "lime", "east_m": -4, "north_m": -9, "ground_up_m": -5, "height_m": 11, "crown_base_m": 3, "crown_diameter_m": 6,
    "transmittance_by_month": [0.6] * 4 + [0.2] * 6 + [0.6] * 2,
}  # fmt: skip
HILLS = [
    {"azimuth_deg": 90, "elevation_deg": 8},
    {"azimuth_deg": 180, "elevation_deg": 0},
    {"azimuth_deg": 270, "elevation_deg": 12},
]
CLEAR = [[1.0] * 24] * 12
AFTERNOONS_GONE = [[1.0] * 14 + [0.1] * 10] * 12
INSIDE = {"east_m": 3, "north_m": 0.5}
"""Over the modules of a face that looks south."""

KINDS: dict[str, tuple[str, Any]] = {
    "objects": ("objects", [CHIMNEY, DORMER, SHED_DORMER]),
    "buildings": ("buildings", [BARN]),
    "trees": ("trees", [LIME]),
    "a survey of the face": ("beam_survey", {"by_month_hour": AFTERNOONS_GONE}),
    "a survey of modules": ("beam_survey", {"by_module": [AFTERNOONS_GONE] * 4 + [CLEAR] * 4}),
}
EVERYTHING = {
    "objects": [CHIMNEY, DORMER], "buildings": [BARN], "trees": [LIME], "beam_survey": {"by_month_hour": AFTERNOONS_GONE},
}  # fmt: skip


def roof(**shade: Any) -> Body:
    """The example of clipping with its first face alone, eight modules in a row, and what shades them."""
    body = example("compute_clipping")
    return body | {"faces": [body["faces"][0] | {"azimuth_deg": 180, "shade": {"module_places": places(8), **shade}}]}


def balances(client: FlaskClient, body: Body) -> Body:
    """The answer to a request for clipping."""
    response = post(client, "compute_clipping", body)
    assert response.status_code == 200, response.get_data(as_text=True)
    answer: Body = strict_json(response)
    return answer


def face_of(client: FlaskClient, body: Body) -> Body:
    """The first face of the answer to a request for clipping."""
    face: Body = balances(client, body)["faces"][0]
    return face


CROSSED = [{"x_m": 4, "y_m": 2}, {"x_m": 6, "y_m": 4}, {"x_m": 5, "y_m": 2}, {"x_m": 4, "y_m": 3}]
REQUIRED_WITH = "where each module lies, as objects, buildings and trees shade each of them differently"
ONE_FOR_EACH = "an array of 8 items, one for each module of the face"

FAULTS: dict[str, tuple[Body, str, str]] = {
    "an object on a module": (
        {f"{SHADE}/objects": [CHIMNEY, CHIMNEY | {"outline": rectangle(2.0, 1.0, 0.6, 0.6)}]},
        f"{SHADE}/objects/1/outline", "an outline that covers no module; it covers part of module 2",
    ),
    "an object inside a module": (
        {f"{SHADE}/objects": [CHIMNEY | {"outline": rectangle(1.5, 1.0, 0.1, 0.1)}]},
        f"{SHADE}/objects/0/outline", "it covers part of module 2",
    ),
    "an object around all modules": (
        {f"{SHADE}/objects": [CHIMNEY | {"outline": rectangle(-1.0, -1.0, 20.0, 5.0)}]},
        f"{SHADE}/objects/0/outline", "it covers part of module 1",
    ),
    "a crown whose base lies at its top": ({f"{SHADE}/trees": [LIME | {"crown_base_m": 11}]},
        f"{SHADE}/trees/0/crown_base_m", "below height_m, which is 11 m"),
    "a tree that grows down": ({f"{SHADE}/trees": [LIME | {"height_m": -3}]}, f"{SHADE}/trees/0/height_m", "above 0"),
    "a crown below the ground": ({f"{SHADE}/trees": [LIME | {"crown_base_m": -1}]},
        f"{SHADE}/trees/0/crown_base_m", "at least 0"),
    "half a year of leaves": ({f"{SHADE}/trees": [LIME | {"transmittance_by_month": [0.5] * 6}]},
        f"{SHADE}/trees/0/transmittance_by_month", "an array of 12 items"),
    "a module in a crown": (
        {f"{SHADE}/trees": [LIME, LIME | INSIDE]}, f"{SHADE}/trees/1",
        'a tree whose crown has no module in it; module 1 of "garden side" lies there',
    ),
    "a module in a building": (
        {f"{SHADE}/buildings": [BARN | INSIDE]}, f"{SHADE}/buildings/0",
        'a building that has no module in it; module 1 of "garden side" lies there',
    ),
    "a module in a tree of the site": (
        {f"{SHADE}/trees": [LIME], "/surroundings": {"trees": [LIME, LIME | INSIDE]}}, "/surroundings/trees/1",
        'module 1 of "garden side" lies there',
    ),
    "a module in a building of the site": (
        {"/surroundings": {"buildings": [BARN | INSIDE], "trees": [LIME]}}, "/surroundings/buildings/0", "no module in it",
    ),
    "an outline that crosses itself": ({f"{SHADE}/objects": [CHIMNEY | {"outline": CROSSED}]},
        f"{SHADE}/objects/0/outline", "does not cross or touch itself"),
    "an outline without area": ({f"{SHADE}/objects": [CHIMNEY | {"outline": rectangle(4.0, 2.0, 1.0, 0.0)}]},
        f"{SHADE}/objects/0/outline", "corners that differ"),
    "an outline of two corners": ({f"{SHADE}/objects": [CHIMNEY | {"outline": CROSSED[:2]}]},
        f"{SHADE}/objects/0/outline", "an array of 3 to 24 items"),
    "a survey of 13 months": ({f"{SHADE}/beam_survey": {"by_month_hour": [[1] * 24] * 13}},
        f"{SHADE}/beam_survey/by_month_hour", "an array of 12 items"),
    "a month of 23 hours": ({f"{SHADE}/beam_survey": {"by_month_hour": [[1] * 24] * 11 + [[1] * 23]}},
        f"{SHADE}/beam_survey/by_month_hour/11", "an array of 24 items"),
    "more beam than there is": ({f"{SHADE}/beam_survey": {"by_month_hour": [[1] * 23 + [1.2]] + [[1] * 24] * 11}},
        f"{SHADE}/beam_survey/by_month_hour/0/23", "at least 0 and at most 1"),
    "two surveys": ({f"{SHADE}/beam_survey": {"by_month_hour": CLEAR, "by_module": [CLEAR] * 8}},
        f"{SHADE}/beam_survey/by_month_hour", "exactly one of by_month_hour and by_module"),
    "a survey of nothing": ({f"{SHADE}/beam_survey": {}},
        f"{SHADE}/beam_survey/by_month_hour", "exactly one of by_month_hour and by_module"),
    "a survey of other modules": ({f"{SHADE}/beam_survey": {"by_module": [CLEAR] * 3}},
        f"{SHADE}/beam_survey/by_module", ONE_FOR_EACH),
    "400 objects": ({f"{SHADE}/objects": [CHIMNEY] * 400}, f"{SHADE}/objects", "an array of 0 to 24 items"),
    "400 trees of the site": ({"/surroundings": {"trees": [LIME] * 400}}, "/surroundings/trees", "an array of 0 to 24 items"),
    "two heights in one direction": ({"/faces/0/horizon": [*HILLS, HILLS[0] | {"elevation_deg": 3}]},
        "/faces/0/horizon/3/azimuth_deg", "item 0 has the same: a horizon has one height in each direction"),
    "two heights of the site in one direction": ({"/surroundings": {"horizon": [*HILLS, HILLS[2]]}},
        "/surroundings/horizon/3/azimuth_deg", "item 2 has the same"),
    "objects without places": ({SHADE: {"objects": [CHIMNEY]}}, f"{SHADE}/module_places", REQUIRED_WITH),
    "trees without places": ({SHADE: {"trees": [LIME]}}, f"{SHADE}/module_places", REQUIRED_WITH),
    "buildings of the site without places": ({SHADE: DELETED, "/surroundings": {"buildings": [BARN]}},
        f"{SHADE}/module_places", REQUIRED_WITH),
    "places of fewer modules": ({f"{SHADE}/module_places": places(7)}, f"{SHADE}/module_places/corners", ONE_FOR_EACH),
    "places of 201 modules": ({f"{SHADE}/module_places": places(201), "/faces/0/module_count": 201},
        f"{SHADE}/module_places/corners", "an array of 1 to 200 items"),
    "modules one on another": ({f"{SHADE}/module_places/corners/3": {"x_m": 2.5, "y_m": 0.5}},
        f"{SHADE}/module_places/corners/3", "a module beside the others; it overlaps item 2"),
    "a chimney on a wall": ({"/faces/0/tilt_deg": 90, f"{SHADE}/objects": [CHIMNEY]},
        "/faces/0/tilt_deg", "at most 75 where things on the face throw shade"),
    "a face without light": ({"/faces/0/shading_share": 0.99999999, "/faces/0/horizon": HILLS}, "/faces", "gets none"),
    "a slope that is not given": ({f"{SHADE}/objects": [CHIMNEY | {"top": "sloped"}]},
        f"{SHADE}/objects/0/top_slope_deg", 'required where top is "sloped"'),
    "the slope of a flat top": ({f"{SHADE}/objects": [CHIMNEY | {"top_slope_deg": 5}]},
        f"{SHADE}/objects/0/top_slope_deg", 'nothing unless top is "sloped"'),
    "a gable without eaves": ({f"{SHADE}/objects": [CHIMNEY | {"top": "gabled"}]},
        f"{SHADE}/objects/0/eaves_height_m", 'required where top is "gabled"'),
    "eaves above the ridge": ({f"{SHADE}/objects": [DORMER | {"eaves_height_m": 2.3}]},
        f"{SHADE}/objects/0/eaves_height_m", "at most height_m, which is 2.2 m"),
    "a ridge of a flat top": ({f"{SHADE}/objects": [CHIMNEY | {"ridge": "up_slope"}]},
        f"{SHADE}/objects/0/ridge", 'nothing unless top is "gabled"'),
    "a building's eaves above its ridge": ({f"{SHADE}/buildings": [BARN | {"eaves_up_m": 4}]},
        f"{SHADE}/buildings/0/eaves_up_m", "at most top_up_m, which is 3 m"),
    "an object without height": ({f"{SHADE}/objects": [{"outline": CHIMNEY["outline"]}]},
        f"{SHADE}/objects/0/height_m", "the field is required"),
    "a colour of an object": ({f"{SHADE}/objects": [CHIMNEY | {"colour": "red"}]},
        f"{SHADE}/objects/0/colour", "only the fields outline, name, height_m"),
    "a kind of tree": ({f"{SHADE}/trees": [LIME | {"kind": "oak"}]}, f"{SHADE}/trees/0/kind", "only the fields name, east_m"),
    "the moon": ({f"{SHADE}/moon": 1}, f"{SHADE}/moon", "only the fields objects, buildings, trees"),
    "objects of the site": ({"/surroundings": {"objects": [CHIMNEY]}}, "/surroundings/objects",
        "only the fields horizon, buildings, trees"),
    "a corner without height": ({f"{SHADE}/corner": {"east_m": 1, "north_m": 2}}, f"{SHADE}/corner/up_m", "is required"),
    "a tolerance that leaves nothing": ({f"{SHADE}/tolerance_percent": 60}, f"{SHADE}/tolerance_percent", "at most 50 [%]"),
    "a tracker of another kind": ({"/microinverters/0/shade_tracker": "best"},
        "/microinverters/0/shade_tracker", 'one of "'),
    "no bypass diode": ({"/module/bypass_group_count": 0}, "/module/bypass_group_count", "at least 1"),
}  # fmt: skip
"""Changes of a roof with places alone, the pointer of the one error, and what `allowed` says."""


@pytest.mark.parametrize(("changes", "pointer", "allowed"), FAULTS.values(), ids=FAULTS)
def test_shade_that_cannot_be_is_refused_at_its_field(client: FlaskClient, changes: Body, pointer: str, allowed: str) -> None:
    (error,) = refusal(client, "compute_clipping", changed(roof(), changes))["errors"]
    assert error["pointer"] == pointer
    assert allowed in error["allowed"]


@pytest.mark.parametrize("operation_id", ["select_microinverters", "design_roof"])
def test_the_other_operations_refuse_it_likewise(client: FlaskClient, operation_id: str) -> None:
    body = example(operation_id)
    body["faces"] = [body["faces"][1] | {"shade": {"module_places": places(4), "trees": [LIME | {"height_m": 2}]}}]
    (error,) = refusal(client, operation_id, body)["errors"]
    assert (error["pointer"], error["allowed"]) == (f"{SHADE}/trees/0/crown_base_m", "below height_m, which is 2 m")
    body["faces"][0]["shade"]["trees"] = [LIME]
    body["modules"] = [body["modules"][0], changed(body["modules"][0], {"/module/name": "larger", "/module/width_m": 1.13})]
    (error,) = refusal(client, operation_id, body)["errors"]
    assert error["pointer"] == "/modules/1/module/width_m"
    assert error["allowed"] == "as of the first module, 1.12 m, where module_places are given"


def laid_out(obstructions: tuple[Body, ...] = (), **layout: Any) -> Body:
    """The example of a design with a face of two rows of seven by layout alone."""
    body = example("design_roof")
    size = {"width_m": 9.0, "height_m": 5.0, "orientation": "portrait", "obstructions": list(obstructions)}
    return body | {"faces": [body["faces"][0] | {"azimuth_deg": 180, "layout": size | layout}]}


STACK = {"outline": rectangle(4.0, 2.2, 0.6, 0.6)}

LAYOUT_FAULTS: dict[str, tuple[Body, str, str]] = {
    "a top without height": (laid_out((STACK | {"top": "flat"},)), "/faces/0/layout/obstructions/0/top",
        "nothing without height_m"),
    "no such module": (laid_out(left_out=[3, 15]), "/faces/0/layout/left_out",
        "numbers from 1 to 14, as that many modules fit; it has 15"),
    "the module numbered 0": (laid_out(left_out=[0]), "/faces/0/layout/left_out/0", "at least 1 and at most 1000"),
    "all modules left out": (laid_out(left_out=list(range(1, 15))), "/faces/0/layout/left_out",
        "fewer than all of the 14 modules that fit"),
    "places beside a layout": (changed(laid_out(), {SHADE: {"module_places": places(14)}}), f"{SHADE}/module_places",
        "nothing where layout is given"),
    "an object on a module that was laid out": (changed(laid_out(), {SHADE: {"objects": [CHIMNEY]}}),
        f"{SHADE}/objects/0/outline", "it covers part of module"),
    "an obstruction that crosses itself": (laid_out(({"outline": CROSSED, "height_m": 1},)), "/faces/0/layout/obstructions/0",
        "does not cross or touch itself"),
}  # fmt: skip


@pytest.mark.parametrize(("body", "pointer", "allowed"), LAYOUT_FAULTS.values(), ids=LAYOUT_FAULTS)
def test_a_layout_with_shade_that_cannot_be_is_refused(client: FlaskClient, body: Body, pointer: str, allowed: str) -> None:
    (error,) = refusal(client, "design_roof", body)["errors"]
    assert error["pointer"] == pointer
    assert allowed in error["allowed"]


def test_the_shaded_modules_of_a_roof_are_few_enough_for_an_answer_in_seconds(client: FlaskClient) -> None:
    """They are counted over all faces that what stands near shades; a horizon or a flat share takes any number."""
    wide = changed(laid_out(width_m=40.0, height_m=17.0), {SHADE: {"trees": [LIME]}})
    (error,) = refusal(client, "design_roof", wide)["errors"]
    assert error["pointer"] == "/faces/0"
    count = int(error["allowed"].partition("they have ")[2].partition(":")[0])
    assert count > 200
    assert error["allowed"].startswith("at most 200 modules in all on faces whose modules are shaded one by one")
    far = changed(wide, {SHADE: DELETED, "/surroundings": {"horizon": HILLS}})
    assert strict_json(post(client, "design_roof", far))["faces"][0]["module_count"] == count
    face = roof(trees=[LIME])["faces"][0] | {"module_count": 101}
    face["shade"]["module_places"] = places(101)
    two = roof() | {"faces": [face, face | {"name": "second"}]}
    errors = refusal(client, "compute_clipping", two)["errors"]
    assert [error["pointer"] for error in errors] == ["/faces/0", "/faces/1"]
    assert all("they have 202" in error["allowed"] for error in errors)


@pytest.mark.parametrize("count", [1, 200])
def test_one_module_and_the_most_are_answered(client: FlaskClient, count: int) -> None:
    # The twentieth module of each row is 19 x 1.14 m east of the first: the lime stands before the first.
    face = face_of(
        client, changed(roof(trees=[LIME]), {"/faces/0/module_count": count, f"{SHADE}/module_places": places(count)})
    )
    modules = face["shade"]["modules"]
    if count == 1:
        # Where all modules are shaded alike, as one is, there is nothing to tell apart.
        assert modules == []
        assert 0.02 < face["shade"]["loss_share"]["value"] < 0.6
    else:
        assert [each["module_number"] for each in modules] == list(range(1, count + 1))
        assert modules[0]["loss_kwh"] > 3.0 * modules[19]["loss_kwh"] > 0.0


@pytest.mark.parametrize(("field", "value"), KINDS.values(), ids=KINDS)
def test_each_kind_of_shade_takes_its_part(client: FlaskClient, field: str, value: Any) -> None:
    answer = balances(client, roof(**{field: value}))
    (face,), (total, _) = answer["faces"], answer["totals"]
    shade = face["shade"]
    assert 0.005 < shade["loss_share"]["value"] < 0.6
    assert sum(shade["loss_kwh_by_month"]) == pytest.approx(shade["unshaded_kwh"] * shade["loss_share"]["value"], rel=1e-9)
    if shade["modules"]:
        losses_kwh = [each["loss_kwh"] for each in shade["modules"]]
        assert len(losses_kwh) == 8
        assert sum(losses_kwh) == pytest.approx(sum(shade["loss_kwh_by_month"]), rel=1e-9)
        assert max(losses_kwh) > 1.01 * min(losses_kwh)
    else:
        assert field == "beam_survey"
    balance = total["balance"]
    assert balance["unshaded_kwh"] == pytest.approx(shade["unshaded_kwh"], rel=1e-9)
    taken_kwh = balance["shade_irradiance_kwh"] + balance["shade_mismatch_kwh"]
    assert balance["available_kwh"] == pytest.approx(balance["unshaded_kwh"] - taken_kwh, rel=1e-12)
    assert balance["available_kwh"] < 0.995 * balance["unshaded_kwh"]
    assert "shade" in caution_codes(answer)


def test_everything_together_takes_more_than_each_alone(client: FlaskClient) -> None:
    def loss_share(**shade: Any) -> float:
        return float(face_of(client, roof(**shade))["shade"]["loss_share"]["value"])

    alone = [loss_share(**{name: value}) for name, value in EVERYTHING.items()]
    together = loss_share(**EVERYTHING)
    assert max(alone) < together < sum(alone)
    hilly = face_of(client, changed(roof(**EVERYTHING), {"/faces/0/horizon": HILLS}))["shade"]["loss_share"]["value"]
    assert hilly > together


@pytest.mark.parametrize("kind", ["hourly", "monthly", "file"])
def test_every_weather_takes_shade(client: FlaskClient, kind: str) -> None:
    year = full("compute_clipping", kind)
    face = face_of(client, roof(**EVERYTHING) | {"site": year["site"], "weather": year["weather"]})
    assert 0.1 < face["shade"]["loss_share"]["value"] < 0.8


def test_nothing_that_shades_is_no_shade(client: FlaskClient) -> None:
    """Empty lists and places alone change no figure."""
    bare = roof()
    del bare["faces"][0]["shade"]
    empty = roof(objects=[], trees=[], buildings=[]) | {"surroundings": {"horizon": [], "buildings": [], "trees": []}}
    without, with_empty = face_of(client, bare), face_of(client, empty)
    assert with_empty == without
    assert without["shade"] is None
    for name in ("shade_irradiance_kwh", "shade_mismatch_kwh", "tracker_kwh"):
        assert without["pairings"][0]["per_module"]["year"][name] == 0.0


def test_surroundings_of_the_site_are_those_of_each_face(client: FlaskClient) -> None:
    own = roof(buildings=[BARN], trees=[LIME])
    own["faces"][0]["horizon"] = HILLS
    of_site = roof() | {"surroundings": {"horizon": HILLS, "buildings": [BARN], "trees": [LIME]}}
    assert face_of(client, of_site) == face_of(client, own)


def test_a_moved_corner_moves_nothing_but_the_point_to_measure_from(client: FlaskClient) -> None:
    east_m, north_m, up_m = 30.5, -12.25, 4.0
    barn = {"east_m": BARN["east_m"] + east_m, "north_m": BARN["north_m"] + north_m}
    barn |= {name: BARN[name] + up_m for name in ("top_up_m", "eaves_up_m")}
    lime = {"east_m": LIME["east_m"] + east_m, "north_m": LIME["north_m"] + north_m, "ground_up_m": LIME["ground_up_m"] + up_m}
    corner = {"east_m": east_m, "north_m": north_m, "up_m": up_m}
    of_site = roof(corner=corner) | {"surroundings": {"buildings": [BARN | barn], "trees": [LIME | lime]}}
    here, moved = face_of(client, roof(buildings=[BARN], trees=[LIME])), face_of(client, of_site)
    assert moved == here
    own = roof(corner=corner, buildings=[BARN], trees=[LIME])
    assert face_of(client, own) == here, "what a face has itself is measured from its own corner"


def test_a_face_with_a_horizon_keeps_it_in_surroundings(client: FlaskClient) -> None:
    own = [{"azimuth_deg": 180, "elevation_deg": 20}]
    alone = changed(roof(), {"/faces/0/horizon": own})
    assert face_of(client, alone | {"surroundings": {"horizon": HILLS}}) == face_of(client, alone)
    assert face_of(client, alone)["shade"] != face_of(client, roof() | {"surroundings": {"horizon": HILLS}})["shade"]


def test_an_obstruction_with_a_height_is_an_object_beside_modules_at_those_places(client: FlaskClient) -> None:
    stack = STACK | {"name": "stack", "height_m": 1.5}
    by_layout = changed(laid_out((stack,)), {SHADE: {"trees": [LIME]}})
    laid = strict_json(post(client, "design_roof", by_layout))
    corners = [{"x_m": each["x_m"], "y_m": each["y_m"]} for each in laid["faces"][0]["layout"]["arrangement"]["modules"]]
    given = {"objects": [stack], "trees": [LIME], "module_places": {"orientation": "portrait", "corners": corners}}
    face = {"layout": DELETED, "module_count": len(corners), "shade": given}
    placed = strict_json(
        post(client, "design_roof", changed(by_layout, {f"/faces/0/{name}": each for name, each in face.items()}))
    )
    assert placed["clipping"]["faces"] == laid["clipping"]["faces"]
    assert placed["faces"][0]["positions"] == laid["faces"][0]["positions"]
    flat = strict_json(post(client, "design_roof", laid_out((STACK,))))
    assert flat["clipping"]["faces"][0]["shade"] is None
    assert flat["faces"][0]["positions"] is None
    assert laid["clipping"]["faces"][0]["shade"]["loss_share"]["value"] > 0.02


def test_modules_that_are_left_out_leave_the_others_where_they_are(client: FlaskClient) -> None:
    stack = STACK | {"height_m": 1.5}
    whole, fewer = (strict_json(post(client, "design_roof", laid_out((stack,), left_out=each))) for each in ([], [1, 4]))
    kept = [
        each for number, each in enumerate(whole["faces"][0]["layout"]["arrangement"]["modules"], 1) if number not in (1, 4)
    ]
    assert fewer["faces"][0]["layout"]["arrangement"]["modules"] == kept
    losses_kwh, of_kept_kwh = (
        [each["loss_kwh"] for each in answer["clipping"]["faces"][0]["shade"]["modules"]] for answer in (whole, fewer)
    )
    # Modules that are shaded nearly alike are computed as one, so that what is near them counts a little.
    expected_kwh = [loss_kwh for number, loss_kwh in enumerate(losses_kwh, 1) if number not in (1, 4)]
    assert of_kept_kwh == pytest.approx(expected_kwh, rel=0.01)
    assert max(of_kept_kwh) > 3.0 * min(of_kept_kwh)


def test_what_is_left_out_can_be_given_back_again_and_again(client: FlaskClient) -> None:
    stack = STACK | {"height_m": 1.5}

    def designed(left_out: list[int]) -> Body:
        body = changed(laid_out((stack,), left_out=left_out), {"/modules/0/price": 890})
        found: Body = strict_json(post(client, "design_roof", body))["faces"][0]
        return found

    whole = designed([])
    numbers = [(each["x_m"], each["y_m"]) for each in whole["layout"]["arrangement"]["modules"]]
    for named in ([], [2, 9]):
        face = designed(named)
        kept = face["layout"]["arrangement"]["modules"]
        not_paying = [each["module_number"] for each in face["positions"]["modules"] if each["pays"] is False]
        places = {(kept[number - 1]["x_m"], kept[number - 1]["y_m"]) for number in not_paying}
        assert 0 < len(not_paying) < len(kept)
        assert {numbers[number - 1] for number in face["positions"]["left_out"]} == places | {
            numbers[number - 1] for number in named
        }


UNITS: dict[str, Body] = {
    "singles": {},
    "twins": {"/microinverters/0/input_count": 2, "/microinverters/0/ac_power_w": 690},
    "quads": {"/microinverters/0/input_count": 4, "/microinverters/0/ac_power_w": 1380},
    "pairs in series": {
        "/microinverters/0/modules_per_input_max": 2, "/modules_per_input": 2, "/microinverters/0/ac_power_w": 690,
        "/microinverters/0/dc_voltage_max_v": 100, "/microinverters/0/dc_operating_voltage_max_v": 96,
        "/microinverters/0/dc_full_power_voltage_max_v": 90,
    },
    "pairs in parallel": {
        "/microinverters/0/modules_per_input_max": 2, "/modules_per_input": 2, "/wiring": "parallel",
        "/microinverters/0/ac_power_w": 690, "/microinverters/0/dc_current_max_a": 28,
        "/microinverters/0/dc_short_circuit_current_max_a": 40,
    },
    "a tracker that stays where it is": {"/microinverters/0/shade_tracker": "local"},
    "full cells": {"/module/half_cut_cells": False},
    "one bypass diode": {"/module/bypass_group_count": 1},
}  # fmt: skip


@pytest.mark.parametrize("changes", UNITS.values(), ids=UNITS)
def test_every_unit_and_module_loses_to_shade_what_its_balance_says(client: FlaskClient, changes: Body) -> None:
    body = roof(objects=[CHIMNEY, DORMER], trees=[LIME])
    body["microinverters"] = body["microinverters"][:1]
    body = changed(body, changes)
    (pairing,) = face_of(client, body)["pairings"]
    unshaded = changed(body, {f"{SHADE}/{name}": DELETED for name in ("objects", "trees")})
    (free,) = face_of(client, unshaded)["pairings"]
    year, free_year = pairing["per_module"]["year"], free["per_module"]["year"]
    losses = [value for name, value in year.items() if name not in ("unshaded_kwh", "available_kwh", "delivered_kwh")]
    assert year["unshaded_kwh"] == pytest.approx(year["delivered_kwh"] + sum(losses), rel=1e-9)
    assert year["unshaded_kwh"] == pytest.approx(free_year["unshaded_kwh"], rel=1e-9)
    assert year["delivered_kwh"] < 0.98 * free_year["delivered_kwh"]
    assert year["shade_irradiance_kwh"] > 0.0
    assert (year["tracker_kwh"] > 0.0) == ("/microinverters/0/shade_tracker" in changes)


def test_a_module_alone_on_an_input_does_not_share_the_current_of_others(client: FlaskClient) -> None:
    """Of three modules two are in parallel on one input and have half of its 14 A each; the third has all."""
    pair = UNITS["pairs in parallel"] | {"/microinverters/0/input_count": 2, "/microinverters/0/dc_current_max_a": 14}
    dark, lost_kwh = [[0.0] * 24] * 12, []
    for number in range(3):
        survey = [dark if each == number else CLEAR for each in range(3)]
        body = roof(module_places=places(3), beam_survey={"by_module": survey})
        body = changed(body, pair | {"/faces/0/module_count": 3})
        body["microinverters"] = body["microinverters"][:1]
        lost_kwh.append(balances(client, body)["totals"][0]["balance"]["input_current_limit_kwh"])
    assert lost_kwh[0] == pytest.approx(lost_kwh[1], rel=1e-9)
    assert lost_kwh[2] == pytest.approx(2.0 * lost_kwh[0], rel=0.02)
    assert lost_kwh[0] > 10.0


@pytest.mark.parametrize("unit", [{}, UNITS["twins"], UNITS["pairs in series"], UNITS["a tracker that stays where it is"]])
def test_three_operations_agree_on_the_balance_of_a_shaded_face(client: FlaskClient, unit: Body) -> None:
    clipped = changed(roof(**EVERYTHING), unit)
    clipped["microinverters"] = clipped["microinverters"][:1]
    selected = example("select_microinverters")
    wiring: Body = {name: clipped[name] for name in ("modules_per_input", "wiring") if name in clipped}
    own: Body = {"site": clipped["site"], "faces": clipped["faces"], **wiring}
    selected |= own | {"candidates": [selected["candidates"][0] | {"microinverter": clipped["microinverters"][0]}]}
    designed: Body = example("design_roof") | {name: selected[name] for name in [*own, "candidates"]}
    for name in ("price_book", "circuits"):
        del designed[name]
    of_clipping = balances(client, clipped)["totals"][0]["balance"]
    selection = strict_json(post(client, "select_microinverters", selected))
    design = strict_json(post(client, "design_roof", designed))
    others = [
        selection["candidates"][0]["energy"]["first_year"],
        design["selection"]["candidates"][0]["energy"]["first_year"],
        design["clipping"]["totals"][0]["balance"],
    ]
    for other in others:
        assert other == pytest.approx(of_clipping, rel=1e-9, abs=1e-9)
    assert of_clipping["shade_mismatch_kwh"] > 0.0


@pytest.mark.parametrize("operation_id", ["compute_clipping", "design_roof"])
def test_the_same_shade_gives_the_same_bytes(client: FlaskClient, operation_id: str) -> None:
    body = roof(**EVERYTHING)
    if operation_id == "design_roof":
        body = changed(laid_out((STACK | {"height_m": 1.0},)), {SHADE: {"trees": [LIME]}, "/surroundings": {"horizon": HILLS}})
    first, second = (post(client, operation_id, copy.deepcopy(body)) for _ in range(2))
    other = post(client, operation_id, changed(body, {f"{SHADE}/tolerance_percent": 0}))
    assert first.status_code == other.status_code == 200
    assert first.get_data() == second.get_data() != other.get_data()
    assert json.loads(first.get_data()).keys() == json.loads(other.get_data()).keys()


def test_a_tolerance_widens_the_range_and_moves_no_value(client: FlaskClient) -> None:
    ranges = [face_of(client, roof(trees=[LIME], tolerance_percent=each))["shade"]["loss_share"] for each in (0, 10, 30)]
    assert len({each["value"] for each in ranges}) == 1
    assert ranges[0]["low"] == ranges[0]["value"] == ranges[0]["high"]
    assert ranges[2]["low"] < ranges[1]["low"] < ranges[0]["value"] < ranges[1]["high"] < ranges[2]["high"]
