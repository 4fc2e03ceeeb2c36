"""Base classes of all schemas, and the assumptions that follow from what a request leaves out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from marshmallow import EXCLUDE, RAISE, Schema, fields

from wattpair_service.api.schemas.choice import Choice
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
    """Each documented default that a valid body left to the service, once, named by its path without list indexes."""
    return tuple(dict(_walk(schema, body, "")).values())


Known = tuple[tuple[str, str], Assumption]
"""An assumption behind what tells it from others: its name and its value as text."""


@dataclass(frozen=True, slots=True)
class _LookedAt:
    """A field that may have been assumed or holds such ones: the path below it, what is assumed, what has the schemas below."""

    name: str
    field: fields.Field[Any]
    below: str
    known: Known | None
    holder: Choice | fields.Nested | None


def _walk(schema: Schema, body: Mapping[str, Any], path: str) -> Iterator[Known]:
    for each in _looked_at(schema, path):
        if each.name not in body:
            if each.known is not None:
                yield each.known
            if isinstance(each.field, Group):
                yield from _walk(each.field.schema, {}, each.below)
        elif each.holder is not None:
            value = body[each.name]
            for item in value if isinstance(each.field, fields.List) else [value]:
                nested = each.holder.schema_of(item) if isinstance(each.holder, Choice) else each.holder.schema
                yield from _walk(nested, item, each.below)


@cache
def _looked_at(schema: Schema, path: str) -> list[_LookedAt]:
    found = []
    for name, field in schema.fields.items():
        assumed, known = getattr(field, "assumed", None), None
        if assumed is not None:
            assumption = Assumption(path + name, assumed.value, field.metadata.get("x-unit"), assumed.source)
            known = ((assumption.name, repr(assumption.value)), assumption)
        inner = field.inner if isinstance(field, fields.List) else field
        holder = inner if isinstance(inner, Choice | fields.Nested) else None
        if known is not None or holder is not None:
            found.append(_LookedAt(name, field, f"{path}{name}.", known, holder))
    return found
