"""POST /v1/design: each part as its own operation gives it, what is built and why, prices, spares, voltage and cautions."""

from __future__ import annotations

import json
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
    post,
    strict_json,
)
from tests.contract.test_contract import require_as_described
from wattpair_service.rules import region_data

EXAMPLE = example("design_roof")
FINDINGS = ("assumptions", "cautions", "method")
FACE_FIELDS = ("name", "tilt_deg", "azimuth_deg", "mounting", "shading_share", "soiling_share", "albedo", "horizon")
ENERGY_FIELDS = ("site", "weather", "transposition", "modules_per_input")
ONE_PRICE = "The price book gives one part for every "

COUNTED = [
    {"name": "roof", "tilt_deg": 20, "azimuth_deg": 180, "module_count": 9, "row_module_counts": [5, 4], "area_m2": 30},
    {"name": "flat roof", "tilt_deg": 10, "azimuth_deg": 90, "module_count": 5, "mounting": "open_rack"},
]
RECTANGLE = {"layout": {"width_m": 8, "height_m": 4, "orientation": "landscape"}, "module_count": DELETED}
SMALLER = {"price": 80, "module": EXAMPLE["modules"][0]["module"] | {
    "name": "Module 400", "power_w": 400, "current_mp_a": 12.46, "current_sc_a": 13.2}}  # fmt: skip
TWIN = {"price": 190, "microinverter": EXAMPLE["candidates"][0]["microinverter"] | {
    "name": "Twin 690", "ac_power_w": 690, "input_count": 2}}  # fmt: skip
TOO_LOW = {
    f"/candidates/{index}/microinverter/dc_{name}_v": volts
    for index in (0, 1)
    for name, volts in (("voltage_max", 41), ("operating_voltage_max", 40), ("full_power_voltage_max", 40))
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
        {"role": "home_run_cable", "specification": "3 x 4 mm2", "part_number": "U-345"},
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
    body = changed(EXAMPLE, {pointer: value for pointer, value in CASES[name].items() if pointer != "/weather"})
    if "/weather" in CASES[name]:
        body["weather"] = hourly_weather()
        body["site"] |= {"latitude_deg": LATITUDE_DEG, "longitude_deg": LONGITUDE_DEG}
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
        self.units: list[Body] = [offer["microinverter"] for offer in body["candidates"]]
        self.modules = {offer["module"]["name"]: offer["module"] for offer in body["modules"]}
        self.module = self.modules[answer["clipping"]["module"] if answer["clipping"] else body["modules"][0]["module"]["name"]]

    def requests(self) -> list[tuple[str, Body, Body]]:
        """Operation, request and the part of the design that must equal its answer."""
        body, answer = self.body, self.answer
        parts = [
            ("describe_climate", self.climate(), answer["climate"]),
            ("select_microinverters", self.selection(), answer["selection"]),
        ]
        for module, part in zip(self.modules.values(), answer["sizing"], strict=True):
            parts.append(("size_pairings", self.sizing(module), part))
        for face, part in zip(body["faces"], answer["faces"], strict=True):
            if "layout" in face:
                sides = {"module_length_m": self.module["length_m"], "module_width_m": self.module["width_m"]}
                parts.append(("lay_out_face", face["layout"] | sides | some(body, ("region",)), part["layout"]))
        if answer["clipping"] is not None:
            parts.append(("compute_clipping", self.clipping(), answer["clipping"]))
        if answer["built"]["pairing"] is not None:
            parts.append(("plan_circuits", self.circuits(), answer["circuits"]))
            parts.append(("list_materials", self.materials(), answer["bill_of_materials"]))
        return parts

    def climate(self) -> Body:
        return some(self.energy, ENERGY_FIELDS[:3]) | {
            "faces": self.faces, "module": self.module, "microinverters": self.units,
        }  # fmt: skip

    def selection(self) -> Body:
        others = ("build", "circuits", "materials", "price_book", "region_rules", "faces", "sheet", "connection_costs")
        offers = {field: [self._priced(field, offer) for offer in self.body[field]] for field in ("modules", "candidates")}
        systems = {each["microinverter"]: each["system"] for each in self.answer["selection"]["candidates"]}
        for offer in offers["candidates"]:
            system = systems[offer["microinverter"]["name"]]
            offer["system"] = {name: value for name, value in system.items() if value is not None}
        return {name: value for name, value in self.body.items() if name not in others} | {"faces": self.faces} | offers

    def _priced(self, field: str, offer: Body) -> Body:
        """An offer with the sales price of its part where it has none of its own."""
        role = {"modules": "module", "candidates": "microinverter"}[field]
        if "price" in offer or "price_book" not in self.body:
            return dict(offer)
        book = self.body["price_book"]
        by_name = {each.get("specification"): each["part_number"] for each in book["part_numbers"] if each["role"] == role}
        item = next(
            each for each in book["items"] if each["part_number"] == by_name.get(offer[role]["name"], by_name.get(None))
        )
        price = Decimal(item["cost"]) * (1 + Decimal(book["markup_percent"]) / 100)
        return offer | {"price": float(item.get("price", price.quantize(Decimal("0.01"), ROUND_HALF_UP)))}

    def sizing(self, module: Body) -> Body:
        return self.energy | some(self.body, ("region",)) | {
            "module": module, "microinverters": self.units, "faces": self.faces,
            "mounting": self.faces[0].get("mounting", "close_roof"), "cold_voltage_method": "module_coefficient",
        }  # fmt: skip

    def clipping(self) -> Body:
        passing = {
            each["microinverter"]
            for each in self.answer["selection"]["candidates"]
            if each["module"] == self.module["name"] and each["verdict"] != "fail"
        }
        units = [unit for unit in self.units if unit["name"] in passing]
        return self.energy | {"module": self.module, "microinverters": units, "faces": self.faces}

    def circuits(self) -> Body:
        unit, faces = self._unit(), []
        modules = unit.get("input_count", 1)
        spacings = [each for each in self.answer["assumptions"] if each["name"] == "faces.unit_spacing_m"]
        assumed = {each["source"].split(": ")[0]: each["value"] for each in spacings}
        for face, part in zip(self.body["faces"], self.answer["faces"], strict=True):
            spacing = face.get("unit_spacing_m") or assumed[face["name"]]
            faces.append({"name": face["name"], "module_count": part["module_count"], "unit_spacing_m": spacing})
        voltage_v = 240.0 if self.body["region"] == "united_states" else 230.0
        current = max(unit.get("ac_current_a", 0.0), unit["ac_power_w"] / voltage_v)
        terms: Body = self.body.get("circuits", {}) | some(self.body, ("region", "region_rules"))
        phases = unit.get("ac_phase_count", 1)
        return terms | {
            "faces": faces, "unit_ac_current_a": current, "modules_per_unit": modules, "unit_phase_count": phases,
        }  # fmt: skip

    def materials(self) -> Body:
        wired, faces, unit = self.circuits(), [], self._unit()
        for count, face, part in zip(wired["faces"], self.body["faces"], self.answer["faces"], strict=True):
            names = ("row_module_counts", "row_segment_counts", "segment_module_counts")
            detail = some(face, (*names, "module_orientation", "area_m2"))
            if part["layout"] is not None:
                arrangement = part["layout"]["arrangement"]
                detail = some(arrangement, names) | {"module_orientation": arrangement["orientation"]}
                detail |= {"area_m2": part["layout"]["face_area_m2"]}
            if "unit_spacing_m" not in face:
                del count["unit_spacing_m"]
            faces.append(count | detail)
        offer = next(each for each in self.body["candidates"] if each["microinverter"] is unit)
        rate = some(self.body, ("failure_percent_per_year",)) | some(offer, ("failure_percent_per_year",))
        years = {
            "spare_horizon_years": self.body.get("horizon_years", 25),
            "spare_warranty_years": offer.get("warranty_years", 10),
        }
        terms: Body = years | rate | self.body.get("materials", {})
        return wired | terms | self._book() | {
            "faces": faces, "module_mass_kg": self.module["mass_kg"], "unit_mass_kg": unit["mass_kg"],
            "module_area_m2": self.module["length_m"] * self.module["width_m"],
            "module_length_m": self.module["length_m"], "module_width_m": self.module["width_m"],
        }  # fmt: skip

    def _unit(self) -> Body:
        name = self.answer["built"]["pairing"]["microinverter"]
        return next(unit for unit in self.units if unit["name"] == name)

    def _book(self) -> Body:
        """The book with the part numbers of what is built, for the role alone."""
        if "price_book" not in self.body:
            return {}
        unit, book = self._unit()["name"], self.body["price_book"]
        names = {"module": self.module["name"], "microinverter": unit, "microinverter_spare": unit}
        numbers = [each for each in book["part_numbers"] if each["role"] not in names]
        for role, name in names.items():
            by_name = {each.get("specification"): each["part_number"] for each in book["part_numbers"] if each["role"] == role}
            if number := by_name.get(name, by_name.get(None)):
                numbers.append({"role": role, "part_number": number})
        return {"price_book": book | {"part_numbers": numbers}}


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
        if operation_id == "list_materials":
            part, alone = (known_from_counts(each, answer["faces"]) for each in (part, alone))
        assert part == alone, operation_id
    said = [tuple(each.values()) for each in answer["cautions"]]
    assert len(set(said)) == len(said)
    assert {each for each in said if each[1] != "seller"} == {tuple(each.values()) for each in own["cautions"]}
    assert sorted(each["name"] for each in answer["method"]) == sorted({each["name"] for each in own["method"]})
    assert len({repr(each) for each in answer["assumptions"]}) == len(answer["assumptions"])
    assert in_short(own["assumptions"]) - SAID_OTHERWISE <= in_short(answer["assumptions"])


NAMED = ("module", "microinverter", "microinverter_spare")
BY_PLACE = (
    "dc_extension_leads", "trunk_cable_section", "trunk_spare_drop", "trunk_drop_cap", "trunk_joint", "trunk_extension_cable",
)  # fmt: skip


def known_from_counts(bill: Body, faces: list[Body]) -> Body:
    """A bill without what counts do not tell: the names of module and unit, and with layouts what follows from places."""
    left_out = BY_PLACE if any(face["layout"] for face in faces) else ()

    def known(lines: list[Body]) -> list[Body]:
        return [
            line | ({"specification": None} if line["role"] in NAMED else {}) for line in lines if line["role"] not in left_out
        ]

    found = bill | {"lines": known(bill["lines"])}
    if (prices := bill["prices"]) is not None:
        by_line = zip(bill["lines"], prices["lines"], strict=True)
        of_lines = [price for line, price in by_line if line["role"] not in left_out]
        found["prices"] = prices | {"lines": of_lines, "missing": known(prices["missing"])}
    return found


def in_short(assumptions: list[Body]) -> set[tuple[str, str, str]]:
    """Fields that were assumed, each with its value and source; their places differ from operation to operation."""
    return {(each["name"].split(".")[-1].split("/")[-1], repr(each["value"]), each["source"]) for each in assumptions}


SAID_OTHERWISE = {
    ("unit_spacing_m", "None", "1.8 m for each module of a unit, common practice, no source"),
    ("unit_spacing_m", "None", "drops of the trunk as they are made, for modules of a unit side by side"),
}
"""What an operation assumes by itself; a design says the same with the length, by face."""


def design(client: FlaskClient, changes: Body) -> Body:
    """The answer to the example with changes."""
    answer: Body = strict_json(post(client, "design_roof", changed(EXAMPLE, changes)))
    return answer


def test_the_recommended_is_built_and_the_ranking_says_why(client: FlaskClient) -> None:
    answer = design(client, {})
    best = answer["selection"]["recommendation"]
    assert answer["built"]["basis"] == "recommended"
    assert answer["built"]["pairing"] == {"module": best["module"], "microinverter": best["microinverter"]}
    (other,) = {each["microinverter"]["name"] for each in EXAMPLE["candidates"]} - {best["microinverter"]}
    named = design(client, {"/build": {"microinverter": other}})
    assert named["built"]["basis"] == "named"
    assert named["built"]["pairing"]["microinverter"] == other
    assert f"{best['microinverter']} on {best['module']} is recommended" in named["built"]["sentence"]
    assert named["selection"] == answer["selection"]
    number = "U-" + other.removeprefix("Unit ")
    assert {line["part_number"] for line in named["bill_of_materials"]["prices"]["lines"]} == {"M-425", number, "C-25", None}


def test_a_mixed_choice_stays_advice(client: FlaskClient) -> None:
    changes = {"/candidates/0/price": 100, "/candidates/0/microinverter/ac_power_w": 250}
    answer = design(client, changes)
    assert answer["selection"]["mixed_choices"][0]["worthwhile"]
    assert answer["built"]["pairing"]["microinverter"] == answer["selection"]["recommendation"]["microinverter"]
    assert "on some of the faces would be worth more: see selection.mixed_choices" in answer["built"]["sentence"]


def test_nothing_is_built_where_nothing_passes(client: FlaskClient) -> None:
    answer = design(client, TOO_LOW)
    assert answer["built"] == {
        "basis": "none_passes", "pairing": None,
        "sentence": "Nothing is built: no candidate passes its electrical checks.",
    }  # fmt: skip
    assert answer["clipping"] is answer["circuits"] is answer["bill_of_materials"] is None
    assert answer["selection"]["what_would_have_to_change"]
    groups, nothing = ({each["name"].split(".")[0] for each in made["assumptions"]} for made in (design(client, {}), answer))
    assert {"circuits", "materials", "price_book"} <= groups
    assert not {"circuits", "materials", "price_book"} & nothing


def test_what_is_asked_for_but_fails_is_not_built(client: FlaskClient) -> None:
    changes = {pointer: value for pointer, value in TOO_LOW.items() if "/0/" in pointer}
    answer = design(client, changes | {"/build": {"microinverter": "Unit 300"}})
    assert (answer["built"]["basis"], answer["built"]["pairing"]) == ("named_fails", None)
    assert "Unit 300" in answer["built"]["sentence"]
    assert answer["circuits"] is None
    assert answer["selection"]["recommendation"]["microinverter"] == "Unit 345"


TWO_PARTS = [{"role": "microinverter", "part_number": "U-345"}, {"role": "module", "part_number": "M-425"}]
ONE_PART = [{"role": "microinverter", "specification": "Unit 345", "part_number": "U-345"}]
UNPRICED = {"/price_book/part_numbers": ONE_PART, "/build": {"microinverter": "Unit 300"}}
ONE_CANDIDATE = {"/price_book/part_numbers": TWO_PARTS, "/candidates": EXAMPLE["candidates"][:1]}
TWO_MODULES = ONE_CANDIDATE | {"/modules": [*EXAMPLE["modules"], SMALLER]}
CAUTIONS: dict[str, tuple[Body, int, tuple[str, ...]]] = {
    "one price for two candidates": ({"/price_book/part_numbers": TWO_PARTS}, 1, (ONE_PRICE,)),
    "one price for one candidate": (ONE_CANDIDATE, 0, (ONE_PRICE,)),
    "one price for two modules": (TWO_MODULES, 1, (f"{ONE_PRICE}module, M-425",)),
    "no price at all is not one price": (UNPRICED, 0, (ONE_PRICE,)),
    "parts without a price": (UNPRICED, 1, ("Some parts have no price: the totals do not include them.",)),
    "no part left out": ({}, 0, ("is left out",)),
    "a part for nobody": (
        {"/price_book/part_numbers/2/specification": "Unit 354"},
        1, ("is left out", "U-345", '"Unit 354" is the name of no candidate'),
    ),
    "the price of the bill": ({}, 0, ("is ranked at",)),
    "two prices": (
        {"/candidates/1/price": 120},
        1, ("Unit 345 is ranked at 120 EUR, and its part U-345 on the bill is sold at 128.00 EUR",),
    ),
    "a check of the connection": (
        {"/circuits/phase_count": 1},
        1, ("A check of the connection fails: see the checks of the connection before ordering.",),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("changes", "count", "texts"), CAUTIONS.values(), ids=CAUTIONS)
def test_cautions_of_a_design(client: FlaskClient, changes: Body, count: int, texts: tuple[str, ...]) -> None:
    cautions = design(client, changes)["cautions"]
    assert len([each for each in cautions if all(text in each["text"] for text in texts)]) == count, cautions


def test_the_price_that_ranks_is_the_price_on_the_bill(client: FlaskClient) -> None:
    answer = design(client, CASES["prices from the book, failures of the candidate's own"])
    assert answer["selection"]["ranked_by"] != "energy"
    prices = {(each["value"], each["source"]) for each in answer["assumptions"] if each["name"] == "candidates.price"}
    assert (99.23, "Unit 300: sales price of its part U-300 in the price book") in prices
    assert (128.0, "Unit 345: sales price of its part U-345 in the price book") in prices


@pytest.mark.parametrize(("one", "other"), [("\u00e9", "e\u0301"), ("e\u0301", "\u00e9")], ids=["composed", "decomposed"])
def test_a_name_means_the_same_however_its_letters_are_composed(client: FlaskClient, one: str, other: str) -> None:
    def written(part: object, letter: str) -> Any:
        return json.loads(json.dumps(part).replace("Unit 3", f"Unit {letter}3").replace("U-3", f"U-{letter}3"))

    numbers, build = EXAMPLE["price_book"]["part_numbers"], {"module": "Module 425", "microinverter": "Unit 300"}
    body = written(EXAMPLE | {"build": build}, one)
    same = changed(body, {"/price_book/part_numbers": written(numbers, other), "/build": written(build, other)})
    answer = strict_json(post(client, "design_roof", same))
    assert answer["built"]["pairing"]["microinverter"] == f"Unit {one}300"
    assert f"U-{one}300" in {each["part_number"] for each in answer["bill_of_materials"]["prices"]["lines"]}
    assert answer == strict_json(post(client, "design_roof", body))


@pytest.mark.parametrize(
    ("materials", "derivation"),
    [
        ({}, "2 % a year over 20 years"),
        ({"failure_percent_per_year": 0.1, "spare_horizon_years": 5}, "0.1 % a year over 5 years"),
    ],
    ids=["those of the ranking", "those of the request"],
)
def test_spares_follow_from_the_failures(client: FlaskClient, materials: Body, derivation: str) -> None:
    changes = CASES["prices from the book, failures of the candidate's own"]
    answer = design(client, changes | {"/build": {"microinverter": "Unit 300"}, "/materials": materials})
    assert derivation in answer["bill_of_materials"]["spares"]["derivation"]


@pytest.mark.parametrize(
    ("field", "value", "reasons"),
    [
        ("ac_voltage_v", 120, ("its ac_voltage_v is 120 V, and its circuits are at 230 V", "207 to 253 V")),
        ("ac_current_a", 29.5, ("its current of 29.5 A", "allowed is at most")),
    ],
)
def test_a_microinverter_that_no_circuit_suits_is_answered_with_the_reason(
    client: FlaskClient, field: str, value: float, reasons: tuple[str, ...]
) -> None:
    first, second = ({f"/candidates/{index}/microinverter/{field}": value} for index in (0, 1))
    answer = require_as_described(post(client, "design_roof", changed(EXAMPLE, first | second)), "design_roof")
    assert (answer["built"]["basis"], answer["built"]["pairing"]) == ("unsuited", None)
    assert [words for words in reasons if words not in answer["built"]["sentence"]] == []
    assert answer["circuits"] is answer["bill_of_materials"] is None
    assert answer["selection"]["recommendation"]["microinverter"]
    other = design(client, first | {"/build": {"microinverter": "Unit 345"}})
    assert other["built"]["pairing"]["microinverter"] == "Unit 345"


BUILD_300: Body = {"/build": {"microinverter": "Unit 300"}}


def test_a_microinverter_for_the_voltage_of_the_circuits_is_built(client: FlaskClient) -> None:
    terms = {"/circuits": {"phase_count": 1, "voltage_v": 120}, "/region": "united_states"}
    answer = design(client, BUILD_300 | terms | {"/candidates/0/microinverter/ac_voltage_v": 120})
    assert answer["built"]["pairing"]["microinverter"] == "Unit 300"
    circuit = answer["circuits"]["circuits"][0]
    assert circuit["current_a"] == pytest.approx(2.5 * circuit["unit_count"])


@pytest.mark.parametrize(
    ("region", "datasheet"),
    [("great_britain", {"ac_voltage_v": 240}), ("united_states", {}), ("germany", {"ac_current_a": 1.25})],
)
def test_the_power_stands_whatever_voltage_the_datasheet_is_for(client: FlaskClient, region: str, datasheet: Body) -> None:
    changes = {f"/candidates/0/microinverter/{name}": value for name, value in datasheet.items()}
    answer = design(client, BUILD_300 | changes | {"/region": region, "/circuits": {}})
    assert answer["circuits"]["connection"]["power_total_va"] == pytest.approx(300 * answer["circuits"]["unit_count"])
    low = [each for each in answer["cautions"] if each["code"] == "low_rated_current"]
    assert len(low) == ("ac_current_a" in datasheet)


def test_a_layout_follows_the_access_rules_of_the_region_or_of_the_callers_own(client: FlaskClient) -> None:
    body = EXAMPLE | {
        "faces": [EXAMPLE["faces"][0] | {"layout": RECTANGLE["layout"]}],
        "region": "united_states",
        "circuits": {},
    }
    fire_code = strict_json(post(client, "design_roof", body))
    layout = fire_code["faces"][0]["layout"]
    assert [edge["distance_m"] for edge in layout["edges"]] == [0.3, 0.3, 0.914, 0.914]
    assert [path["side"] for path in layout["access_paths"]] == ["left"]
    assumed = {each["name"]: each["value"] for each in fire_code["assumptions"]}
    assert assumed["faces.layout.ridge_distance_m"] == assumed["faces.layout.access_path_width_m"] == 0.914
    own = changed(region_data("united_states"), {"/access": {"edge_distance_m": 0.7, "clause": "ours", "obtained": "measured"}})
    by_own = strict_json(post(client, "design_roof", body | {"region_rules": own}))
    edges = by_own["faces"][0]["layout"]["edges"]
    assert {(edge["distance_m"], edge["source"]) for edge in edges} == {(0.7, "ours (measured)")}
    without = strict_json(post(client, "design_roof", body | {"region_rules": changed(own, {"/access": DELETED})}))
    assert without["faces"][0]["layout"] == layout


def test_a_spacing_is_assumed_for_its_face_and_without_rounding(client: FlaskClient) -> None:
    answer = design(client, {})
    (spacing,) = [each for each in answer["assumptions"] if each["name"] == "faces.unit_spacing_m"]
    assert spacing["source"].startswith("garden side: ")
    assert len(repr(spacing["value"])) <= 4
    assert not [line for line in answer["bill_of_materials"]["lines"] if line["derivation"].startswith("as given")]


def test_the_sentence_tells_what_was_asked_for(client: FlaskClient) -> None:
    sentence = design(client, {"/build": {"module": "Module 425"}})["built"]["sentence"]
    assert "of which the request names Module 425; also recommended." in sentence


def test_a_handful_of_cautions_are_for_the_customer(client: FlaskClient) -> None:
    cautions = design(client, {})["cautions"]
    assert {each["code"] for each in cautions if each["reader"] == "customer"} == {"yield", "outage", "consent"}
    assert all(each["text"].endswith(".") for each in cautions)
