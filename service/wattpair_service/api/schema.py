"""Base classes of all schemas, and the assumptions that follow from what a request leaves out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from marshmallow import EXCLUDE, RAISE, Schema, fields

from wattpair_service.api.choice import Choice
from wattpair_service.api.fields import Group
from wattpair_service.engineering.findings import Assumption


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
    """Each documented default that a valid body left to the service, once, named by its path without list indexes."""
    found = {(a.name, repr(a.value)): a for a in _walk(schema, body, "")}
    return tuple(found.values())


def _walk(schema: Schema, body: Mapping[str, Any], path: str) -> Iterator[Assumption]:
    for name, field in schema.fields.items():
        assumed = getattr(field, "assumed", None)
        if name not in body:
            if assumed is not None:
                yield Assumption(path + name, assumed.value, field.metadata.get("x-unit"), assumed.source)
            if isinstance(field, Group):
                yield from _walk(field.schema, {}, f"{path}{name}.")
            continue
        inner = field.inner if isinstance(field, fields.List) else field
        items = body[name] if isinstance(field, fields.List) else [body[name]]
        for item in items:
            nested = _schema_of(inner, item)
            if nested is not None:
                yield from _walk(nested, item, f"{path}{name}.")


def _schema_of(field: Any, item: Any) -> Schema | None:
    if isinstance(field, Choice):
        return field.schema_of(item)
    return field.schema if isinstance(field, fields.Nested) else None
