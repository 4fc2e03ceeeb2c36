"""Base classes of all schemas, and the defaults that a request relies on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from marshmallow import EXCLUDE, RAISE, Schema, fields

from wattpair_service.api.schemas.choice import KIND, Choice
from wattpair_service.api.schemas.fields import Group
from wattpair_service.engineering.results import Assumption


class InputSchema(Schema):
    """Refuses unknown fields; its messages say what is allowed."""

    class Meta:
        """Unknown fields are errors."""

        unknown = RAISE

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.error_messages = dict(self.error_messages) | {
            "unknown": "only the fields " + ", ".join(self.fields),
            "type": "an object with the fields " + ", ".join(self.fields),
        }

    def on_bind_field(self, field_name: str, field_obj: fields.Field[Any]) -> None:
        """Make a missing or null field say what is allowed."""
        allowed = getattr(field_obj, "allowed", "an object")
        field_obj.error_messages |= {"required": f"{allowed}; the field is required", "null": allowed}


class OutputSchema(Schema):
    """May gain fields in later versions: clients must ignore what they do not know."""

    class Meta:
        """Unknown fields are ignored."""

        unknown = EXCLUDE


def assumptions_of(schema: Schema, body: Mapping[str, Any]) -> tuple[Assumption, ...]:
    """Each default used for a field that a valid body leaves out, once; named by its path without list indexes."""
    return tuple(dict(_walk(schema, body, "")).values())


KeyedAssumption = tuple[tuple[str, str], Assumption]
"""An assumption after its key: its name and its value as text."""


@dataclass(frozen=True, slots=True)
class _Defaulted:
    """A field that has a default or contains fields that may have one.

    `inner_path` is the path of the fields in it, `assumption` its own default, `nested` the field that has the inner schema.
    """

    name: str
    field: fields.Field[Any]
    inner_path: str
    assumption: KeyedAssumption | None
    nested: Choice | fields.Nested | None


def _walk(schema: Schema, body: Mapping[str, Any], path: str) -> Iterator[KeyedAssumption]:
    for each in _defaulted_fields(schema, path):
        if each.name not in body:
            if each.assumption is not None:
                yield each.assumption
            if isinstance(each.field, Group):
                yield from _walk(each.field.schema, {}, each.inner_path)
        elif each.nested is not None:
            value = body[each.name]
            for item in value if isinstance(each.field, fields.List) else [value]:
                inner_schema = each.nested.schema_of(item) if isinstance(each.nested, Choice) else each.nested.schema
                yield from _walk(inner_schema, item, each.inner_path)


@cache
def _defaulted_fields(schema: Schema, path: str) -> list[_Defaulted]:
    found = []
    for name, field in schema.fields.items():
        assumed, keyed = getattr(field, "assumed", None), None
        if assumed is not None:
            assumption = Assumption(path + name, assumed.value, field.metadata.get("x-unit"), assumed.source)
            keyed = ((assumption.name, repr(assumption.value)), assumption)
        inner = field.inner if isinstance(field, fields.List) else field
        nested = inner if isinstance(inner, Choice | fields.Nested) else None
        if keyed is not None or nested is not None:
            found.append(_Defaulted(name, field, f"{path}{name}.", keyed, nested))
    return found


def assumed_words(schema: Schema) -> Iterator[str]:
    """Codes of the names and values that the sheet shows of every default in a schema."""
    for each in _defaulted_fields(schema, ""):
        if each.assumption is not None:
            yield f"name.{each.name}"
            yield from _value_words(each.assumption[1].value)
        if isinstance(each.nested, Choice):
            for kind in each.nested.kinds.values():
                yield from assumed_words(kind)
        elif each.nested is not None:
            yield from assumed_words(each.nested.schema)


def _value_words(value: object) -> Iterator[str]:
    """The code of a default that is a word or a kind; a number needs none."""
    word = value.get(KIND) if isinstance(value, dict) else value
    if isinstance(word, str) and not word.isdigit():
        yield f"value.{word}"
