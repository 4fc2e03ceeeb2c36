"""Callers of the last released contract are not surprised by today's."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.contract.breaking import breaking_changes
from wattpair_service.api import contract

FOLDER = Path(__file__).resolve().parents[2] / "openapi"
RELEASED: dict[str, Any] = yaml.safe_load((FOLDER / "released" / "wattpair.v1.yaml").read_text(encoding="utf-8"))
TODAY = contract.document()
CHANGELOG = (FOLDER / "CHANGELOG.md").read_text(encoding="utf-8")
Change = Callable[[dict[str, Any]], Any]


def declared(changelog: str, change: str) -> bool:
    """Whether the newest section declares a change by its place."""
    newest = re.split(r"^## (?=\d)", changelog, flags=re.MULTILINE)[1]
    place = change.split(": ")[0]
    return any(line.startswith("- Breaking: ") and f"`{place}`" in line for line in newest.splitlines())


def test_every_breaking_change_since_the_release_is_declared() -> None:
    assert [change for change in breaking_changes(RELEASED, TODAY) if not declared(CHANGELOG, change)] == []


def test_the_version_goes_up_only() -> None:
    before, after = ([int(part) for part in each["info"]["version"].split(".")] for each in (RELEASED, TODAY))
    assert after >= before


def schemas(document: dict[str, Any]) -> Any:
    return document["components"]["schemas"]


def sizing(document: dict[str, Any]) -> Any:
    return document["paths"]["/v1/sizing"]["post"]


def module(document: dict[str, Any], name: str) -> Any:
    return schemas(document)["Module"]["properties"][name]


BREAKING: list[tuple[Change, str]] = [
    (lambda new: new["paths"].pop("/v1/sizing"), "POST /v1/sizing: removed"),
    (lambda new: new["paths"]["/v1/sizing"].pop("post"), "POST /v1/sizing: removed"),
    (lambda new: sizing(new).update(operationId="size"), "POST /v1/sizing: operationId size_pairings became size"),
    (lambda new: sizing(new)["responses"].update({"202": {"description": "-"}}), "POST /v1/sizing answer 202: new status"),
    (lambda new: sizing(new)["responses"].pop("422"), "POST /v1/sizing answer 422: removed"),
    (lambda new: sizing(new)["responses"]["200"].pop("headers"), "POST /v1/sizing answer 200 header X-Request-ID: removed"),
    (lambda new: schemas(new)["SizingRequest"]["required"].append("region"), "POST /v1/sizing request /region: required"),
    (lambda new: schemas(new)["SizingRequest"]["properties"].pop("region"), "POST /v1/sizing request /region: removed"),
    (lambda new: module(new, "power_w").update(maximum=900), "request /module/power_w: maximum 1000 became 900"),
    (lambda new: module(new, "power_w").update(minimum=21), "request /module/power_w: minimum 20 became 21"),
    (
        lambda new: module(new, "power_w").update(type="integer"),
        "power_w: type ['integer', 'number'] became ['integer']",
    ),
    (lambda new: module(new, "power_w").update({"x-unit": "kW"}), "request /module/power_w: unit W became kW"),
    (lambda new: module(new, "name").update(maxLength=3), "request /module/name: maxLength 100 became 3"),
    (lambda new: module(new, "name").update(pattern="^a$"), "request /module/name: pattern None became '^a$'"),
    (
        lambda new: schemas(new)["SizingRequest"]["properties"]["microinverters"].update(maxItems=1),
        "request /microinverters: maxItems 64 became 1",
    ),
    (
        lambda new: schemas(new)["SizingRequest"]["properties"]["transposition"]["enum"].remove("isotropic"),
        "request /transposition: 'isotropic' no longer allowed",
    ),
    (
        lambda new: schemas(new)["SizingRequest"]["properties"]["weather"]["oneOf"].pop(0),
        "POST /v1/sizing request /weather: alternative",
    ),
    (
        lambda new: schemas(new)["SizingRequest"]["properties"]["region"].update(default="ireland"),
        "request /region: default 'international' became 'ireland'",
    ),
    (lambda new: schemas(new)["Check"]["properties"].pop("limit"), "answer 200 /pairings/0/checks/0/limit: removed"),
    (lambda new: schemas(new)["Check"]["required"].remove("limit"), "/pairings/0/checks/0/limit: no longer always there"),
    (
        lambda new: schemas(new)["Check"]["properties"]["verdict"]["enum"].append("maybe"),
        "answer 200 /pairings/0/checks/0/verdict: 'maybe' may come",
    ),
    (
        lambda new: schemas(new)["Check"]["properties"]["value"].update(type=["number", "null"]),
        "answer 200 /pairings/0/checks/0/value: type",
    ),
    (
        lambda new: new["paths"]["/v1/bill-of-materials"]["post"]["responses"]["200"]["content"].pop("text/csv"),
        "POST /v1/bill-of-materials answer 200: text/csv removed",
    ),
    (
        lambda new: new["paths"]["/v1/regions/{name}"]["get"]["parameters"][0]["schema"]["enum"].remove("ireland"),
        "GET /v1/regions/{name} path name: 'ireland' no longer allowed",
    ),
    (
        lambda new: new["paths"]["/v1/regions"]["get"]["parameters"][0].update(required=True),
        "GET /v1/regions header If-None-Match: required",
    ),
]
HARMLESS: list[Change] = [
    lambda new: new["paths"].update({"/v1/more": copy.deepcopy(new["paths"]["/v1/sizing"])}),
    lambda new: schemas(new)["Check"]["properties"].update(more={"type": "number"}),
    lambda new: schemas(new)["SizingRequest"]["properties"].update(more={"type": "number"}),
    lambda new: schemas(new)["Module"]["required"].remove("power_w"),
    lambda new: module(new, "power_w").update(maximum=2000, minimum=1, description="Otherwise"),
    lambda new: module(new, "power_w").pop("maximum"),
    lambda new: schemas(new)["SizingRequest"]["properties"]["transposition"]["enum"].append("another"),
    lambda new: schemas(new)["Check"]["properties"]["verdict"]["enum"].remove("caution"),
    lambda new: schemas(new)["Check"]["properties"]["value"].update(type="integer"),
    lambda new: sizing(new).update(deprecated=True, summary="Otherwise"),
    lambda new: new["info"].update(version="1.1.0"),
]


@pytest.mark.parametrize(("change", "text"), BREAKING, ids=[text for _, text in BREAKING])
def test_the_comparison_names_each_breaking_change(change: Change, text: str) -> None:
    new = copy.deepcopy(RELEASED)
    change(new)
    found = breaking_changes(RELEASED, new)
    assert any(text in each for each in found), found
    assert not declared(CHANGELOG, found[0])
    declaration = "".join(f"- Breaking: `{each.split(': ')[0]}` for a reason.\n" for each in found)
    assert all(declared(f"# Changes\n\n## 2.0.0 - unreleased\n\n{declaration}\n## 1.0.0\n", each) for each in found)
    assert not any(
        declared(f"# Changes\n\n## 2.0.0 - unreleased\n\n- New.\n\n## 1.0.0\n\n{declaration}", each) for each in found
    )


@pytest.mark.parametrize("change", HARMLESS, ids=range(len(HARMLESS)))
def test_the_comparison_lets_harmless_changes_pass(change: Change) -> None:
    new = copy.deepcopy(RELEASED)
    change(new)
    assert new != RELEASED
    assert breaking_changes(RELEASED, new) == []
