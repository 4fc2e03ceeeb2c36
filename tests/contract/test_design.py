"""POST /v1/design: each part as its own operation gives it, what is built and why, and faults where they stand."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG
from tests.contract.bodies import (
    DELETED,
    Body,
    changed,
    example,
    hourly_weather,
    pointers,
    post,
    strict_json,
)
from tests.contract.test_contract import require_as_described
from wattpair_service.engineering.spares import FAILURE_SHARE_SOURCE
from wattpair_service.rules import region_data

EXAMPLE = example("design_roof")
FINDINGS = ("assumptions", "cautions", "method")
FACE_FIELDS = ("name", "tilt_deg", "azimuth_deg", "mounting", "shading_share", "soiling_share", "albedo", "horizon")
ENERGY_FIELDS = ("site", "weather", "transposition", "modules_per_input")
ONE_PRICE = "The price book gives one part for every "
OWN = (ONE_PRICE, "is ranked at", "is left out: its specification")
"""What only a design says."""

COUNTED = [
    {"name": "roof", "tilt_deg": 20, "azimuth_deg": 180, "module_count": 9, "row_module_counts": [5, 4], "area_m2": 30},
    {"name": "flat roof", "tilt_deg": 10, "azimuth_deg": 90, "module_count": 5, "mounting": "open_rack"},
]
RECTANGLE = {"layout": {"width_m": 8, "height_m": 4, "orientation": "landscape"}, "module_count": DELETED}
SMALLER = {"price": 80, "module": EXAMPLE["modules"][0]["module"] | {
    "name": "Module 400", "power_w": 400, "current_mp_a": 12.46, "current_sc_a": 13.2}}  # fmt: skip
TWIN = EXAMPLE["candidates"][0] | {
    "price": 190,
    "microinverter": EXAMPLE["candidates"][0]["microinverter"] | {"name": "Twin 690", "ac_power_w": 690, "input_count": 2},
}
TOO_LOW = {f"/candidates/{index}/microinverter/dc_voltage_max_v": 41 for index in (0, 1)} | {
    f"/candidates/{index}/microinverter/{field}_v": volts
    for index in (0, 1)
    for field, volts in (("dc_operating_voltage_max", 40), ("dc_full_power_voltage_max", 40))
}
OWN_RULES = changed(region_data("great_britain"), {"/place": "an island", "/branch_circuit/device_rating_a": 16})

CASES: dict[str, dict[str, Any]] = {
    "the example": {},
    "one counted face, another region": {
        "/faces": COUNTED[:1], "/region": "united_states", "/circuits": DELETED, "/weather": 0,
    },
    "two counted faces, rules of the caller's own": {
        "/faces": COUNTED, "/region": "great_britain", "/region_rules": OWN_RULES,
        "/circuits": {"phase_count": 3, "supply_length_m": 8, "supply_size": "10 mm2", "circuits_may_cross_faces": True},
    },
    "two outlined faces and a unit for two modules": {
        "/faces": [EXAMPLE["faces"][0], changed(COUNTED[1], {f"/{name}": value for name, value in RECTANGLE.items()})],
        "/candidates": [TWIN, *EXAMPLE["candidates"]], "/build": {"microinverter": "Twin 690"},
    },
    "two modules, one of them asked for": {
        "/modules": [*EXAMPLE["modules"], SMALLER], "/build": {"module": "Module 400"}, "/faces": COUNTED,
    },
    "nothing passes": TOO_LOW,
    "a part for the role beside parts by name": {"/price_book/part_numbers": [
        {"role": "microinverter", "part_number": "U-345"},
        {"role": "microinverter", "specification": "Unit 300", "part_number": "U-300"},
        {"role": "microinverter_spare", "part_number": "U-345"},
        {"role": "home_run_cable", "part_number": "C-25"},
        {"role": "home_run_cable", "specification": "4 mm2", "part_number": "U-345"},
    ], "/build": {"microinverter": "Unit 300"}, "/faces": COUNTED[:1]},
    "prices from the book, failures of the candidate's own": {
        "/modules/0/price": DELETED, "/candidates/0/price": DELETED, "/candidates/1/price": DELETED,
        "/price_book/items/1/price": DELETED, "/candidates/0/failure_percent_per_year": 2, "/failure_percent_per_year": 1,
        "/horizon_years": 20, "/faces": COUNTED,
    },
    "a microinverter by its datasheet at 240 V": {
        "/faces": COUNTED[:1], "/region": "great_britain", "/candidates/0/microinverter/ac_voltage_v": 240,
        "/candidates/1/microinverter/ac_current_a": 1.6, "/circuits": DELETED,
    },
    "no money": {
        "/tariff": DELETED, "/price_book": DELETED, "/candidates/0/price": DELETED, "/materials": DELETED,
        "/transposition": "isotropic",
    },
}  # fmt: skip


def case(name: str) -> Body:
    """The body of a case."""
    body = changed(EXAMPLE, {pointer: value for pointer, value in CASES[name].items() if pointer != "/weather"})
    if "/weather" in CASES[name]:
        place = {"latitude_deg": LATITUDE_DEG, "longitude_deg": LONGITUDE_DEG}
        body |= {"weather": hourly_weather(), "site": body["site"] | place}
    return body


def some(body: Body, names: tuple[str, ...]) -> Body:
    """The fields of a body that it has."""
    return {name: body[name] for name in names if name in body}


class Parts:
    """Each part's own request, put together from the design's request and the names and counts in its answer."""

    def __init__(self, body: Body, answer: Body) -> None:
        self.body, self.answer = body, answer
        self.energy = some(body, ENERGY_FIELDS)
        counts = [face["module_count"] for face in answer["faces"]]
        self.faces = [some(face, FACE_FIELDS) | {"module_count": n} for face, n in zip(body["faces"], counts, strict=True)]
        self.units = [offer["microinverter"] for offer in body["candidates"]]
        self.modules = {offer["module"]["name"]: offer["module"] for offer in body["modules"]}
        self.module = self.modules[answer["clipping"]["module"] if answer["clipping"] else body["modules"][0]["module"]["name"]]

    def requests(self) -> list[tuple[str, Body, Body]]:
        """Operation, request and the part of the design that must equal its answer."""
        body, answer = self.body, self.answer
        found = [
            ("describe_climate", self.climate(), answer["climate"]),
            ("select_microinverters", self.selection(), answer["selection"]),
        ]
        for module, part in zip(self.modules.values(), answer["sizing"], strict=True):
            found.append(("size_pairings", self.sizing(module), part))
        for face, part in zip(body["faces"], answer["faces"], strict=True):
            if "layout" in face:
                sides = {"module_length_m": self.module["length_m"], "module_width_m": self.module["width_m"]}
                found.append(("lay_out_face", face["layout"] | sides, part["layout"]))
        if answer["clipping"] is not None:
            found.append(("compute_clipping", self.clipping(), answer["clipping"]))
        if answer["built"]["pairing"] is not None:
            found.append(("plan_circuits", self.circuits(), answer["circuits"]))
            found.append(("list_materials", self.materials(), answer["bill_of_materials"]))
        return found

    def climate(self) -> Body:
        """The request of POST /v1/site-climate."""
        return some(self.energy, ENERGY_FIELDS[:3]) | {
            "faces": self.faces, "module": self.module, "microinverters": self.units,
        }  # fmt: skip

    def selection(self) -> Body:
        """The request of POST /v1/selection."""
        others = ("build", "circuits", "materials", "price_book", "region_rules", "faces", "sheet")
        offers = {field: [self._priced(field, offer) for offer in self.body[field]] for field in ("modules", "candidates")}
        return {name: value for name, value in self.body.items() if name not in others} | {"faces": self.faces} | offers

    def _priced(self, field: str, offer: Body) -> Body:
        """An offer with the sales price of its part where it has none of its own."""
        role = {"modules": "module", "candidates": "microinverter"}[field]
        if "price" in offer or "price_book" not in self.body:
            return offer
        book = self.body["price_book"]
        by_name = {each.get("specification"): each["part_number"] for each in book["part_numbers"] if each["role"] == role}
        item = next(
            each for each in book["items"] if each["part_number"] == by_name.get(offer[role]["name"], by_name.get(None))
        )
        price = Decimal(item["cost"]) * (1 + Decimal(book["markup_percent"]) / 100)
        return offer | {"price": float(item.get("price", price.quantize(Decimal("0.01"), ROUND_HALF_UP)))}

    def sizing(self, module: Body) -> Body:
        """The request of POST /v1/sizing."""
        return self.energy | some(self.body, ("region",)) | {
            "module": module, "microinverters": self.units, "faces": self.faces,
            "mounting": self.faces[0].get("mounting", "close_roof"), "cold_voltage_method": "module_coefficient",
        }  # fmt: skip

    def clipping(self) -> Body:
        """The request of POST /v1/clipping."""
        passing = {
            each["microinverter"]
            for each in self.answer["selection"]["candidates"]
            if each["module"] == self.module["name"] and each["verdict"] != "fail"
        }
        units = [unit for unit in self.units if unit["name"] in passing]
        return self.energy | {"module": self.module, "microinverters": units, "faces": self.faces}

    def circuits(self) -> Body:
        """The request of POST /v1/circuits."""
        unit = self._unit()
        modules = unit.get("input_count", 1)
        faces = []
        for face, part in zip(self.body["faces"], self.answer["faces"], strict=True):
            laid = part["layout"]
            spacing = face.get("unit_spacing_m", 1.8 if laid is None else round(modules * laid["unit_spacing_m"], 9))
            faces.append({"name": face["name"], "module_count": part["module_count"], "unit_spacing_m": spacing})
        voltage_v = 240.0 if self.body["region"] == "united_states" else 230.0
        current = max(unit.get("ac_current_a", 0.0), unit["ac_power_w"] / voltage_v)
        terms: Body = self.body.get("circuits", {})
        return terms | some(self.body, ("region", "region_rules")) | {
            "faces": faces, "unit_ac_current_a": current, "modules_per_unit": modules,
        }  # fmt: skip

    def materials(self) -> Body:
        """The request of POST /v1/bill-of-materials."""
        wired, faces = self.circuits(), []
        for count, face, part in zip(wired["faces"], self.body["faces"], self.answer["faces"], strict=True):
            detail = some(face, ("row_module_counts", "row_segment_counts", "area_m2"))
            if part["layout"] is not None:
                rows = some(part["layout"]["arrangement"], ("row_module_counts", "row_segment_counts"))
                detail = rows | {"area_m2": part["layout"]["face_area_m2"]}
            faces.append(count | detail)
        offer = next(each for each in self.body["candidates"] if each["microinverter"] is self._unit())
        rates = [each["failure_percent_per_year"] for each in (offer, self.body) if "failure_percent_per_year" in each]
        rate = {"failure_percent_per_year": rates[0]} if rates else {}
        terms: Body = {"spare_horizon_years": self.body.get("horizon_years", 25)} | rate | self.body.get("materials", {})
        return wired | terms | self._book() | {
            "faces": faces,
            "module_mass_kg": self.module["mass_kg"],
            "unit_mass_kg": self._unit()["mass_kg"],
            "module_area_m2": self.module["length_m"] * self.module["width_m"],
        }  # fmt: skip

    def _unit(self) -> Body:
        name = self.answer["built"]["pairing"]["microinverter"]
        unit: Body = next(unit for unit in self.units if unit["name"] == name)
        return unit

    def _book(self) -> Body:
        """The book with the part numbers of what is built, for the role alone."""
        if "price_book" not in self.body:
            return {}
        unit = self._unit()["name"]
        names = {"module": self.module["name"], "microinverter": unit, "microinverter_spare": unit}
        numbers = []
        for each in self.body["price_book"]["part_numbers"]:
            role, specified = each["role"], each.get("specification")
            if role not in names:
                numbers.append(each)
                continue
            others = [other.get("specification") for other in self.body["price_book"]["part_numbers"] if other["role"] == role]
            if specified == names[role] or (specified is None and names[role] not in others):
                numbers.append({"role": role, "part_number": each["part_number"]})
        return {"price_book": self.body["price_book"] | {"part_numbers": numbers}}


@pytest.mark.parametrize("name", CASES)
def test_every_part_equals_what_its_own_operation_gives(client: FlaskClient, name: str) -> None:
    body = case(name)
    answer = require_as_described(post(client, "design_roof", body), "design_roof")
    own: dict[str, list[Any]] = {finding: [] for finding in FINDINGS}
    for operation_id, request, part in Parts(body, answer).requests():
        alone = strict_json(post(client, operation_id, request))
        for finding in FINDINGS:
            own[finding] += alone.pop(finding)
            assert part.pop(finding) == [], "said at the top alone"
        assert part == alone, operation_id
    said = [each for each in answer["cautions"] if not any(words in each for words in OWN)]
    assert len(set(answer["cautions"])) == len(answer["cautions"])
    assert set(said) == set(own["cautions"])
    assert sorted(each["name"] for each in answer["method"]) == sorted({each["name"] for each in own["method"]})
    assert len({repr(each) for each in answer["assumptions"]}) == len(answer["assumptions"])
    assert in_short(own["assumptions"]) - SAID_OTHERWISE <= in_short(answer["assumptions"])


def in_short(assumptions: list[Body]) -> set[tuple[str, str, str]]:
    """Fields that were assumed, each with its value and source; their places differ from operation to operation."""
    return {(each["name"].split(".")[-1].split("/")[-1], repr(each["value"]), each["source"]) for each in assumptions}


SAID_OTHERWISE = {("failure_percent_per_year", "0.5", FAILURE_SHARE_SOURCE)}
"""What an operation assumes by itself, and a design from what else it knows."""


def test_the_recommended_is_built_and_the_ranking_says_why(client: FlaskClient) -> None:
    answer = strict_json(post(client, "design_roof", EXAMPLE))
    best = answer["selection"]["recommendation"]
    assert answer["built"]["basis"] == "recommended"
    assert answer["built"]["pairing"] == {"module": best["module"], "microinverter": best["microinverter"]}
    other = next(each["microinverter"]["name"] for each in EXAMPLE["candidates"]
                 if each["microinverter"]["name"] != best["microinverter"])  # fmt: skip
    named = strict_json(post(client, "design_roof", EXAMPLE | {"build": {"microinverter": other}}))
    assert named["built"]["basis"] == "named"
    assert named["built"]["pairing"]["microinverter"] == other
    assert f"recommended is {best['microinverter']}" in named["built"]["sentence"]
    assert named["selection"] == answer["selection"]
    number = "U-" + other.removeprefix("Unit ")
    assert {line["part_number"] for line in named["bill_of_materials"]["prices"]["lines"]} == {"M-425", number, "C-25", None}


def test_a_mixed_choice_stays_advice(client: FlaskClient) -> None:
    changes = {"/candidates/0/price": 100, "/candidates/0/microinverter/ac_power_w": 250}
    answer = strict_json(post(client, "design_roof", changed(EXAMPLE, changes)))
    assert answer["selection"]["mixed_choices"][0]["worthwhile"]
    assert answer["built"]["pairing"]["microinverter"] == answer["selection"]["recommendation"]["microinverter"]
    assert "on some of the faces would be worth more: see selection.mixed_choices" in answer["built"]["sentence"]


def test_nothing_is_built_where_nothing_passes(client: FlaskClient) -> None:
    answer = strict_json(post(client, "design_roof", case("nothing passes")))
    assert answer["built"] == {
        "basis": "none_passes", "pairing": None,
        "sentence": "Nothing is built: no candidate passes its electrical checks.",
    }  # fmt: skip
    assert answer["clipping"] is answer["circuits"] is answer["bill_of_materials"] is None
    assert answer["selection"]["what_would_have_to_change"]


def test_what_is_asked_for_but_fails_is_not_built(client: FlaskClient) -> None:
    changes = {pointer: value for pointer, value in TOO_LOW.items() if "/0/" in pointer}
    body = changed(EXAMPLE, changes) | {"build": {"microinverter": "Unit 300"}}
    answer = strict_json(post(client, "design_roof", body))
    assert (answer["built"]["basis"], answer["built"]["pairing"]) == ("named_fails", None)
    assert "Unit 300" in answer["built"]["sentence"]
    assert answer["circuits"] is None
    assert answer["selection"]["recommendation"]["microinverter"] == "Unit 345"


FAULTS: dict[str, tuple[dict[str, Any], set[str]]] = {
    "neither count nor layout": ({"/faces/1/module_count": DELETED}, {"/faces/1/module_count"}),
    "count and layout": ({"/faces/0/module_count": 8, "/faces/0/area_m2": 9}, {"/faces/0/module_count", "/faces/0/area_m2"}),
    "rows of another count": ({"/faces/1/row_module_counts": [3, 2]}, {"/faces/1/row_module_counts"}),
    "a layout without a shape": ({"/faces/0/layout/outline": DELETED}, {"/faces/0/layout/outline"}),
    "a layout for no module": (
        {"/faces/0/layout/edge_distance_m": 3}, {"/faces/0/layout/outline"},
    ),
    "a rectangle for no module": (
        {"/faces/0/layout": {"width_m": 1, "height_m": 1}}, {"/faces/0/layout/width_m", "/faces/0/layout/height_m"},
    ),
    "faults of the offers beside those of fields": (
        {"/build": {"module": "Module 1"}, "/faces/1/tilt_deg": "steep", "/price_book/currency": "GBP",
         "/candidates/1/microinverter/name": "Unit 300", "/faces/1/name": "garden side"},
        {"/build/module", "/faces/1/tilt_deg", "/price_book/currency", "/candidates/1/microinverter/name", "/faces/1/name"},
    ),
    "a currency in words": ({"/currency": "Euro"}, {"/currency"}),
    "an obstruction that crosses itself": (
        {"/faces/0/layout/obstructions/0/outline/2": {"x_m": 6.9, "y_m": 3.8}}, {"/faces/0/layout/obstructions/0"},
    ),
    "a layout with modules of two sizes": (
        {"/modules": [*EXAMPLE["modules"], {"module": SMALLER["module"] | {"length_m": 1.7}}]}, {"/modules/1/module/length_m"},
    ),
    "nobody's name": (
        {"/build": {"module": "Module 1", "microinverter": "Unit 345"}}, {"/build/module"},
    ),
    "another currency in the price book": ({"/price_book/currency": "GBP"}, {"/price_book/currency"}),
    "a current too small for circuits": (
        {"/candidates/1/microinverter/ac_current_a": 5e-324}, {"/candidates/1/microinverter/ac_current_a"},
    ),
    "a size that no table has": ({"/circuits/trunk_size": "2.4 mm2"}, {"/circuits/trunk_size"}),
    "a trunk that its device does not protect": (
        {"/region": "united_states", "/circuits": {"device_rating_a": 40, "trunk_size": "12 AWG"}}, {"/circuits/trunk_size"},
    ),
    "a supply that the region does not know": ({"/region": "united_states"}, {"/circuits/phase_count"}),
    "a spare share in percent": ({"/materials/spare_share": 2}, {"/materials/spare_share"}),
    "an unknown term": ({"/circuits/unit_ac_current_a": 1.3}, {"/circuits/unit_ac_current_a"}),
    "a module that no diode has": (
        {"/modules/0/module/temp_coefficient_pmp_percent_per_k": -0.9},
        {f"/modules/0/module/temp_coefficient_{name}_percent_per_k" for name in ("voc", "isc", "pmp")},
    ),
    "the sea": ({"/site/latitude_deg": 0, "/site/longitude_deg": -30}, {"/site/latitude_deg", "/site/longitude_deg"}),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_named_where_it_stands(client: FlaskClient, name: str) -> None:
    changes, expected = FAULTS[name]
    said = refusal(client, "design_roof", changed(EXAMPLE, changes))
    assert pointers(said) == expected


def test_too_many_modules_are_refused(client: FlaskClient) -> None:
    faces = [COUNTED[1] | {"name": str(index), "module_count": 1000} for index in range(6)]
    said = refusal(client, "design_roof", EXAMPLE | {"faces": faces})
    assert pointers(said) == {"/faces"}
