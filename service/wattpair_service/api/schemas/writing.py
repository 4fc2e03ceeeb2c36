"""Turns result dataclasses into JSON objects, by a plan that is built once for each schema.

Gives what marshmallow's `dump` gives, in a quarter of the time. Field types that results do not use are left to marshmallow.
`tests/contract/test_writing.py` compares both for every result.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Any

from marshmallow import Schema, fields

from wattpair_service.api.schemas.results import Written
from wattpair_service.words.catalogue import english

Writer = Callable[[Any], Any]
Plan = list[tuple[str, Callable[[Any], Any], Callable[[Any, Any], Any]]]

SIMPLE: dict[type, Writer] = {
    fields.Float: float,
    fields.Integer: int,
    fields.String: str,
    Written: english,
    fields.Raw: lambda value: value,
}


def writer(schema: Schema) -> Writer:
    """A function that turns an object with the schema's attributes into a JSON object."""
    plan: Plan = [
        (field.data_key or name, attrgetter(field.attribute or name), _attribute_writer(field))
        for name, field in schema.dump_fields.items()
    ]

    def write(obj: Any) -> dict[str, Any]:
        return {key: convert(get(obj), obj) for key, get, convert in plan}

    return write


def _attribute_writer(field: fields.Field[Any]) -> Callable[[Any, Any], Any]:
    """A function of an attribute's value and of the object that has it."""
    inner = _value_writer(field)
    if inner is None:
        name = str(field.name)
        return lambda _, obj: field.serialize(name, obj)
    return lambda value, _: None if value is None else inner(value)


def _value_writer(field: fields.Field[Any]) -> Writer | None:
    """A function of a value that is not None; None where the field's type is left to marshmallow."""
    kind = type(field)
    if kind in SIMPLE:
        return SIMPLE[kind]
    if isinstance(field, fields.Nested):
        one = writer(field.schema)
        return (lambda values: [one(value) for value in values]) if field.schema.many else one
    if isinstance(field, fields.List) and (item := _value_writer(field.inner)) is not None:
        return lambda values: list(map(item, values))
    return None
