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
JSON = "application/json"
Change = Callable[[dict[str, Any]], Any]


def section(changelog: str, version: str | None = None) -> str:
    """The newest section, or that of a version."""
    sections = re.split(r"^## (?=\d)", changelog, flags=re.MULTILINE)[1:]
    return next(each for each in sections if version is None or each.split()[0] == version)


def is_released(changelog: str, version: str) -> bool:
    """Whether a version's section bears a date."""
    return re.match(r"\S+ - \d{4}-\d{2}-\d{2}$", section(changelog, version).splitlines()[0]) is not None


def declared(changelog: str, change: str) -> bool:
    """Whether the newest section declares a change by its place."""
    place = change.split(": ")[0]
    return any(line.startswith("- Breaking: ") and f"`{place}`" in line for line in section(changelog).splitlines())


def faults(before: dict[str, Any], after: dict[str, Any], changelog: str) -> list[str]:
    """What callers of the copy under released/ would not have been told of today's file.

    Until a first version is released nobody can rely on one: the copy is then today's file, and there is nothing to compare.
    """
    old, new = (each["info"]["version"] for each in (before, after))
    if not is_released(changelog, old):
        return [] if before == after else [f"{old} is not released yet: the copy under released/ must be today's file"]
    if before == after:
        return []
    changes = breaking_changes(before, after)
    found = [f"not declared: {change}" for change in changes if not declared(changelog, change)]
    was, now = (tuple(int(part) for part in version.split(".")) for version in (old, new))
    if now <= was:
        found.append(f"{old} is released, and the file differs: its version must be above it, unlike {new}")
    elif changes and now[0] == was[0]:
        found.append(f"a breaking change needs another major version than {old}, unlike {new}")
    if section(changelog).split()[0] != new:
        found.append(f"the newest section is not that of {new}")
    return found


def test_callers_of_the_released_contract_are_told_of_every_change() -> None:
    assert faults(RELEASED, TODAY, CHANGELOG) == []


def schemas(document: dict[str, Any]) -> Any:
    return document["components"]["schemas"]


def sizing(document: dict[str, Any]) -> Any:
    return document["paths"]["/v1/sizing"]["post"]


def regions(document: dict[str, Any]) -> Any:
    return document["paths"]["/v1/regions"]["get"]["responses"]


def content(described: dict[str, Any]) -> Any:
    return described["content"]


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
    (lambda new: new["x-limits"].update(body_bytes=1), "the file: x-limits/body_bytes"),
    (lambda new: sizing(new).update(security=[{"bearer": []}]), "POST /v1/sizing: security {'key': []} no longer enough"),
    (lambda new: sizing(new).update(security=[{"key": []}]), "POST /v1/sizing: security {} no longer enough"),
    (lambda new: new["security"].remove({}), "GET /v1/regions: security {} no longer enough"),
    (lambda new: new["security"].append({**new["security"].pop(), "other": []}), "security {'key': []} no longer enough"),
    (lambda new: new.pop("security"), "POST /v1/sizing: security {'key': []} no longer enough"),
    (lambda new: sizing(new).update(servers=[{"url": "/v3"}]), "POST /v1/sizing: servers"),
    (lambda new: new.update(servers=[{"url": "https://elsewhere.test"}]), "the file: servers"),
    (lambda new: new["components"].update(securitySchemes={}), "the file: securitySchemes key removed or changed"),
    (lambda new: new["components"]["securitySchemes"]["key"].update(scheme="basic"), "the file: securitySchemes key removed"),
    (lambda new: regions(new)["200"].pop("links"), "GET /v1/regions answer 200 link rules: removed or changed"),
    (lambda new: regions(new)["200"]["links"]["rules"].update(operationId="list_regions"), "answer 200 link rules: removed or"),
    (
        lambda new: regions(new)["200"]["links"]["rules"]["parameters"].update(name="ireland"),
        "answer 200 link rules: removed or",
    ),
    (
        lambda new: content(sizing(new)["requestBody"]).update({"text/json": content(sizing(new)["requestBody"]).pop(JSON)}),
        "POST /v1/sizing request: application/json removed",
    ),
    (
        lambda new: content(new["paths"]["/v1/design"]["post"]["responses"]["200"]).pop("application/pdf"),
        "POST /v1/design answer 200: application/pdf removed",
    ),
    (
        lambda new: content(new["components"]["responses"]["KeyNeeded"]).pop("application/problem+json"),
        "POST /v1/sizing answer 401: application/problem+json removed",
    ),
    (lambda new: module(new, "name").update(enum=["Module"]), "request /module/name: 'any value' no longer allowed"),
    (
        lambda new: schemas(new)["Check"]["properties"]["verdict"].pop("enum"),
        "answer 200 /pairings/0/checks/0/verdict: 'any value' may come",
    ),
    (
        lambda new: new["paths"]["/v1/sizing"].update(
            parameters=[{"in": "query", "name": "q", "required": True, "schema": {"type": "string"}}]
        ),
        "POST /v1/sizing query q: required",
    ),
    (
        lambda new: schemas(new)["SizingRequest"]["properties"]["weather"]["discriminator"].update(propertyName="sort"),
        "request /weather: discriminator",
    ),
    (
        lambda new: sizing(new)["responses"]["200"]["headers"].update({"X-Request-ID": {"schema": {"type": "integer"}}}),
        "answer 200 header X-Request-ID: type",
    ),
    (lambda new: module(new, "name").update(format="uuid"), "request /module/name: format None became 'uuid'"),
    (lambda new: module(new, "power_w").update(multipleOf=5), "request /module/power_w: multipleOf None became 5"),
    (lambda new: module(new, "power_w").update(const=400), "request /module/power_w: const None became 400"),
    (lambda new: module(new, "power_w").update(novel=1), "request /module/power_w: novel None became 1"),
    (
        lambda new: schemas(new)["SizingRequest"]["properties"]["microinverters"].update(uniqueItems=True),
        "request /microinverters: uniqueItems",
    ),
    (lambda new: schemas(new)["Module"].update(minProperties=20), "request /module: minProperties"),
    (lambda new: schemas(new)["Module"].update(allOf=[{"required": ["name"]}]), "request /module: allOf"),
    (lambda new: schemas(new)["Check"].update(additionalProperties={"type": "number"}), "checks/0: additionalProperties"),
    (
        lambda new: (module(new, "power_w").pop("type"), module(new, "power_w").update(anyOf=[{"type": "integer"}])),
        "request /module/power_w: anyOf",
    ),
]
HARMLESS: list[Change] = [
    lambda new: regions(new)["200"]["links"].update(more={"operationId": "list_regions"}),
    lambda new: regions(new)["200"]["links"]["rules"].update(description="Otherwise."),
    lambda new: new["security"].append({"more": []}),
    lambda new: sizing(new).update(security=[{"key": []}, {}]),
    lambda new: new["components"]["securitySchemes"].update(more={"type": "http", "scheme": "basic"}),
    lambda new: new["components"]["securitySchemes"]["key"].update(description="Otherwise."),
    lambda new: content(sizing(new)["requestBody"]).update({"text/json": content(sizing(new)["requestBody"])[JSON]}),
    lambda new: content(sizing(new)["responses"]["200"]).update({"text/csv": {"schema": {"type": "string"}}}),
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


DATED = "# Changes\n\n## 1.0.0 - 2030-01-31\n\n- New.\n"
DECLARED = "- Breaking: `POST /v1/sizing` for a reason.\n"


def changed(version: str, *, breaks: bool) -> dict[str, Any]:
    new = copy.deepcopy(RELEASED)
    new["info"] |= {"version": version, "description": "Otherwise."}
    if breaks:
        new["paths"].pop("/v1/sizing")
    return new


def newest(version: str, *lines: str) -> str:
    return DATED.replace("## 1", f"## {version} - unreleased\n\n{''.join(lines)}\n## 1", 1)


@pytest.mark.parametrize(
    ("version", "breaks", "changelog", "texts"),
    [
        ("1.0.0", True, DATED.replace("2030-01-31", "unreleased"), ["1.0.0 is not released yet: the copy"]),
        ("1.0.0", False, DATED, ["its version must be above it, unlike 1.0.0"]),
        ("0.9.0", False, newest("0.9.0"), ["its version must be above it, unlike 0.9.0"]),
        ("1.1.0", False, newest("1.1.0"), []),
        ("1.1.0", False, DATED, ["the newest section is not that of 1.1.0"]),
        ("1.1.0", True, newest("1.1.0", DECLARED), ["needs another major version than 1.0.0, unlike 1.1.0"]),
        ("1.0.0", True, DATED + DECLARED, ["its version must be above it"]),
        ("2.0.0", True, newest("2.0.0"), ["not declared: POST /v1/sizing: removed"]),
        ("2.0.0", True, newest("2.0.0", DECLARED), []),
    ],
)
def test_what_a_release_asks_of_the_next_version(version: str, breaks: bool, changelog: str, texts: list[str]) -> None:
    before = copy.deepcopy(RELEASED)
    before["info"]["version"] = "1.0.0"
    found = faults(before, changed(version, breaks=breaks), changelog)
    assert len(found) == len(texts), found
    assert all(text in each for text, each in zip(texts, found, strict=True)), found
    assert faults(before, before, changelog if "not released" in "".join(texts) else DATED) == []
