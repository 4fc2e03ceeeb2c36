"""The committed contract as the tests of its client read it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).parents[2]
DOCUMENT: dict[str, Any] = yaml.safe_load((ROOT / "openapi" / "wattpair.v1.yaml").read_text(encoding="utf-8"))
SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]
CALCULATIONS = "pairing"
"""Tag of the operations that every client has; those of the service itself a client may leave out."""

Schema = Mapping[str, Any]


@dataclass(frozen=True)
class Operation:
    """One operation of the contract."""

    name: str
    verb: str
    path: str
    request: Schema | None
    answer: Schema
    is_calculation: bool
    examples: tuple[dict[str, Any], ...]


def operations() -> list[Operation]:
    return [
        _operation(path, verb, described)
        for path, item in DOCUMENT["paths"].items()
        for verb, described in item.items()
        if "operationId" in described
    ]


def _operation(path: str, verb: str, described: dict[str, Any]) -> Operation:
    content = described.get("requestBody", {}).get("content", {}).get("application/json", {})
    return Operation(
        name=described["operationId"],
        verb=verb.upper(),
        path=path,
        request=content.get("schema"),
        answer=described["responses"]["200"]["content"].get("application/json", {}).get("schema", {}),
        is_calculation=CALCULATIONS in described["tags"],
        examples=tuple(example["value"] for example in content.get("examples", {}).values()),
    )


def resolved(schema: Schema) -> Schema:
    """A schema with its reference followed."""
    while "$ref" in schema:
        schema = SCHEMAS[schema["$ref"].rsplit("/", 1)[1]]
    return schema


def types_of(schema: Schema) -> set[str]:
    """The types that a schema allows."""
    given = schema.get("type", [])
    return {given} if isinstance(given, str) else set(given)


def sample(schema: Schema, choice: int = 0) -> Any:
    """A value with every field of a schema; `choice` picks among alternatives. Its meaning is nobody's concern."""
    schema = resolved(schema)
    if "oneOf" in schema:
        return sample(schema["oneOf"][choice % len(schema["oneOf"])], choice)
    types = types_of(schema)
    if "object" in types:
        return {name: sample(inner, choice) for name, inner in schema.get("properties", {}).items()}
    if "array" in types:
        return [sample(schema["items"], choice)] * 2
    if "null" in types and choice % 2:
        return None
    if "enum" in schema:
        return schema["enum"][choice % len(schema["enum"])]
    plain = {"string": "some text", "number": 1.5 + choice, "integer": 3 + choice, "boolean": True}
    return next((value for kind, value in plain.items() if kind in types), {"any": ["value", None]})
