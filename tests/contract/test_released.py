"""Callers of the last released contract are not surprised by today's."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.contract.bodies import DELETED
from tests.contract.breaking import breaking_changes
from wattpair_service.api.contract import contract

FOLDER = Path(__file__).resolve().parents[2] / "openapi"
RELEASED: dict[str, Any] = yaml.safe_load((FOLDER / "released" / "wattpair.v1.yaml").read_text(encoding="utf-8"))
TODAY = contract.document()
CHANGELOG = (FOLDER / "CHANGELOG.md").read_text(encoding="utf-8")
JSON = "application/json"


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


Edit = Callable[[Any], Any]


def without(value: Any) -> Edit:
    """What a list or an object is without one of its items."""
    return lambda it: {k: v for k, v in it.items() if k != value} if isinstance(it, dict) else [v for v in it if v != value]


SHORT = {"sizing": "paths /v1/sizing post", "regions": "paths /v1/regions get"}
SHORT |= {name: f"components schemas {name} properties" for name in ("SizingRequest", "Module", "Check")}
ANSWER, LINK = "answer 200 /pairings/0/checks/0", "answer 200 link rules: removed or changed"
PARAMETER = {"in": "query", "name": "q", "required": True, "schema": {"type": "string"}}
BREAKING: list[tuple[str, Any, str]] = [
    ("paths /v1/sizing", DELETED, "POST /v1/sizing: removed"),
    ("sizing", DELETED, "POST /v1/sizing: removed"),
    ("sizing operationId", "size", "POST /v1/sizing: operationId size_pairings became size"),
    ("sizing responses 202", {"description": "-"}, "POST /v1/sizing answer 202: new status"),
    ("sizing responses 422", DELETED, "POST /v1/sizing answer 422: removed"),
    ("sizing responses 200 headers", DELETED, "POST /v1/sizing answer 200 header X-Request-ID: removed"),
    ("components schemas SizingRequest required", lambda it: [*it, "region"], "POST /v1/sizing request /region: required"),
    ("SizingRequest region", DELETED, "POST /v1/sizing request /region: removed"),
    ("Module power_w maximum", 900, "request /module/power_w: maximum 1000 became 900"),
    ("Module power_w minimum", 21, "request /module/power_w: minimum 20 became 21"),
    ("Module power_w type", "integer", "power_w: type ['integer', 'number'] became ['integer']"),
    ("Module power_w x-unit", "kW", "request /module/power_w: unit W became kW"),
    ("Module name maxLength", 3, "request /module/name: maxLength 100 became 3"),
    ("Module name pattern", "^a$", "request /module/name: pattern None became '^a$'"),
    ("SizingRequest microinverters maxItems", 1, "request /microinverters: maxItems 64 became 1"),
    ("SizingRequest transposition enum", without("isotropic"), "request /transposition: 'isotropic' no longer allowed"),
    ("SizingRequest weather oneOf", lambda it: it[1:], "POST /v1/sizing request /weather: alternative"),
    ("SizingRequest region default", "ireland", "request /region: default 'international' became 'ireland'"),
    ("Check limit", DELETED, f"{ANSWER}/limit: removed"),
    ("components schemas Check required", without("limit"), "/pairings/0/checks/0/limit: no longer always there"),
    ("Check verdict enum", lambda it: [*it, "maybe"], f"{ANSWER}/verdict: 'maybe' may come"),
    ("Check value type", ["number", "null"], f"{ANSWER}/value: type"),
    ("paths /v1/bill-of-materials post responses 200 content text/csv", DELETED, "materials answer 200: text/csv removed"),
    (
        "paths /v1/regions/{name} get parameters 0 schema enum", without("ireland"),
        "GET /v1/regions/{name} path name: 'ireland' no longer allowed",
    ),
    ("regions parameters 0 required", True, "GET /v1/regions header If-None-Match: required"),
    ("x-limits body_bytes", 1, "the file: x-limits/body_bytes"),
    ("sizing security", [{"bearer": []}], "POST /v1/sizing: security {'key': []} no longer enough"),
    ("sizing security", [{"key": []}], "POST /v1/sizing: security {} no longer enough"),
    ("security", without({}), "GET /v1/regions: security {} no longer enough"),
    ("security", lambda it: [*it[:-1], it[-1] | {"other": []}], "security {'key': []} no longer enough"),
    ("security", DELETED, "POST /v1/sizing: security {'key': []} no longer enough"),
    ("sizing servers", [{"url": "/v3"}], "POST /v1/sizing: servers"),
    ("servers", [{"url": "https://elsewhere.test"}], "the file: servers"),
    ("components securitySchemes", {}, "the file: securitySchemes key: removed or changed"),
    ("components securitySchemes key scheme", "basic", "the file: securitySchemes key: removed or changed"),
    ("regions responses 200 links", DELETED, f"GET /v1/regions {LINK}"),
    ("regions responses 200 links rules operationId", "list_regions", LINK),
    ("regions responses 200 links rules parameters name", "ireland", LINK),
    ("sizing requestBody content", lambda it: {"text/json": it[JSON]}, "POST /v1/sizing request: application/json removed"),
    ("paths /v1/design post responses 200 content application/pdf", DELETED, "/v1/design answer 200: application/pdf removed"),
    (
        "components responses KeyNeeded content application/problem+json", DELETED,
        "POST /v1/sizing answer 401: application/problem+json removed",
    ),
    ("Module name enum", ["Module"], "request /module/name: 'any value' no longer allowed"),
    ("Check verdict enum", DELETED, f"{ANSWER}/verdict: 'any value' may come"),
    ("paths /v1/sizing parameters", [PARAMETER], "POST /v1/sizing query q: required"),
    ("SizingRequest weather discriminator propertyName", "sort", "request /weather: discriminator"),
    ("sizing responses 200 headers X-Request-ID", {"schema": {"type": "integer"}}, "answer 200 header X-Request-ID: type"),
    ("Module name format", "uuid", "request /module/name: format None became 'uuid'"),
    ("Module power_w multipleOf", 5, "request /module/power_w: multipleOf None became 5"),
    ("Module power_w const", 400, "request /module/power_w: const None became 400"),
    ("Module power_w novel", 1, "request /module/power_w: novel None became 1"),
    ("SizingRequest microinverters uniqueItems", True, "request /microinverters: uniqueItems"),
    ("components schemas Module minProperties", 20, "request /module: minProperties"),
    ("components schemas Module allOf", [{"required": ["name"]}], "request /module: allOf"),
    ("components schemas Check additionalProperties", {"type": "number"}, "checks/0: additionalProperties"),
    ("Module power_w", lambda it: without("type")(it) | {"anyOf": [{"type": "integer"}]}, "request /module/power_w: anyOf"),
]  # fmt: skip
HARMLESS: list[tuple[str, Any]] = [
    ("regions responses 200 links more", {"operationId": "list_regions"}),
    ("regions responses 200 links rules description", "Otherwise."),
    ("security", lambda it: [*it, {"more": []}]),
    ("sizing security", [{"key": []}, {}]),
    ("components securitySchemes more", {"type": "http", "scheme": "basic"}),
    ("components securitySchemes key description", "Otherwise."),
    ("sizing requestBody content", lambda it: it | {"text/json": it[JSON]}),
    ("sizing responses 200 content text/csv", {"schema": {"type": "string"}}),
    ("paths /v1/more", RELEASED["paths"]["/v1/sizing"]),
    ("Check more", {"type": "number"}),
    ("SizingRequest more", {"type": "number"}),
    ("components schemas Module required", without("power_w")),
    ("Module power_w", lambda it: it | {"maximum": 2000, "minimum": 1, "description": "Otherwise"}),
    ("Module power_w maximum", DELETED),
    ("SizingRequest transposition enum", lambda it: [*it, "another"]),
    ("Check verdict enum", without("caution")),
    ("Check value type", "integer"),
    ("sizing", lambda it: it | {"deprecated": True, "summary": "Otherwise"}),
    ("info version", "1.1.0"),
]


def edited(path: str, value: Any) -> dict[str, Any]:
    """The released contract with another value at a path, or with what a function makes of the value there."""
    new = copy.deepcopy(RELEASED)
    first, *rest = path.split()
    *way, last = (*SHORT.get(first, first).split(), *rest)
    node: Any = new
    for step in way:
        node = node[int(step) if isinstance(node, list) else step]
    if value is DELETED:
        del node[last]
    else:
        node[last] = value(node[last]) if callable(value) else value
    return new


@pytest.mark.parametrize(("path", "value", "text"), BREAKING, ids=[f"{path}: {text}" for path, _, text in BREAKING])
def test_the_comparison_names_each_breaking_change(path: str, value: Any, text: str) -> None:
    found = breaking_changes(RELEASED, edited(path, value))
    assert any(text in each for each in found), found
    assert not declared(CHANGELOG, found[0])
    declaration = "".join(f"- Breaking: `{each.split(': ')[0]}` for a reason.\n" for each in found)
    newest, older = (f"# Changes\n\n## 2.0.0 - unreleased\n\n{lines}\n## 1.0.0\n" for lines in (declaration, "- New.\n"))
    assert all(declared(newest, each) for each in found)
    assert not any(declared(older + declaration, each) for each in found)


@pytest.mark.parametrize(("path", "value"), HARMLESS, ids=[path for path, _ in HARMLESS])
def test_the_comparison_lets_harmless_changes_pass(path: str, value: Any) -> None:
    new = edited(path, value)
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
