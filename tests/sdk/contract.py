"""The contract as the client's tests read it: its operations, and samples of what they take and answer."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).parents[2]
DOCUMENT: dict[str, Any] = yaml.safe_load((ROOT / "openapi" / "wattpair.v1.yaml").read_text(encoding="utf-8"))
SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]
LEFT_OUT = shutil.ignore_patterns(".git", ".venv", "build", "*.egg-info", "__pycache__", ".*_cache", ".hypothesis", "tests")
"""What a copy of the sources to build or install leaves out."""
CALCULATIONS = "pairing"
"""Tag of the operations that every client has; those of the service itself a client may leave out."""

Schema = Mapping[str, Any]


@dataclass(frozen=True)
class Operation:
    """One operation of the contract."""

    name: str
    verb: str
    path: str
    request: Schema
    """Its arguments: the body, or the names in its path."""
    answer: Schema
    is_calculation: bool
    examples: tuple[dict[str, Any], ...]


def operations() -> list[Operation]:
    """What answers JSON; the metrics are for another client."""
    return [
        _operation(path, verb, described)
        for path, item in DOCUMENT["paths"].items()
        for verb, described in item.items()
        if "application/json" in described["responses"]["200"]["content"]
    ]


def _operation(path: str, verb: str, described: dict[str, Any]) -> Operation:
    content = described.get("requestBody", {}).get("content", {}).get("application/json", {})
    in_path = {each["name"]: each["schema"] for each in described.get("parameters", []) if each["in"] == "path"}
    return Operation(
        name=described["operationId"],
        verb=verb.upper(),
        path=path,
        request=content.get("schema")
        or {"type": "object", "properties": in_path, "required": list(in_path), "additionalProperties": False},
        answer=described["responses"]["200"]["content"]["application/json"].get("schema", {}),
        is_calculation=CALCULATIONS in described["tags"],
        examples=tuple(example["value"] for example in content.get("examples", {}).values()),
    )


def resolved(schema: Schema) -> Schema:
    """A schema with its reference followed; what may be an object or null becomes an object with null among its types."""
    if "anyOf" in schema:
        (described,) = (each for each in schema["anyOf"] if each != {"type": "null"})
        described = resolved(described)
        return {**described, "type": [*types_of(described), "null"]}
    while "$ref" in schema:
        schema = SCHEMAS[schema["$ref"].rsplit("/", 1)[1]]
    return schema


def types_of(schema: Schema) -> set[str]:
    """The types that a schema allows."""
    types = schema.get("type", [])
    return {types} if isinstance(types, str) else set(types)


def alternatives_most(schema: Schema) -> int:
    """How many samples it takes to go through all alternatives within a schema; two for what may be null."""
    schema = resolved(schema)
    inner = [
        *schema.get("properties", {}).values(),
        *schema.get("oneOf", ()),
        *([schema["items"]] if "items" in schema else []),
    ]
    return max([2, *(len(schema.get(key, ())) for key in ("oneOf", "enum")), *map(alternatives_most, inner)])


def sample(schema: Schema, choice: int = 0) -> Any:
    """A value with every field of a schema; `choice` picks among alternatives. Its meaning is nobody's concern.

    Texts are decimals, since only the client tells them apart from others.
    """
    schema = resolved(schema)
    if "oneOf" in schema:
        return sample(schema["oneOf"][choice % len(schema["oneOf"])], choice)
    types = types_of(schema)
    if "null" in types and choice % 2:
        return None
    if "object" in types:
        return {name: sample(inner, choice) for name, inner in schema.get("properties", {}).items()}
    if "array" in types:
        return [sample(schema["items"], choice)] * 2
    if "enum" in schema:
        return schema["enum"][choice % len(schema["enum"])]
    plain = {"string": "1.50", "number": 1.5 + choice, "integer": 3 + choice, "boolean": True}
    return next((value for kind, value in plain.items() if kind in types), {"any": ["value", None]})
